"""English: the dose of a class, and its target."""

from __future__ import annotations

from collections.abc import Mapping

from bot.words.en.evidence.bounds import bounded

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    "command.target": "what should be known, and what that takes",
    "typed.target": "target",
    "dose.topics": {"one": "{n} topic", "other": "{n} topics"},
    "dose.evenings": {"one": "{n} school evening", "other": "{n} school evenings"},
    "dose.questions": {"one": "{n} question an evening", "other": "{n} questions an evening"},
    "dose.timetable": (
        "*{topics} in {evenings}:* {questions} make about four answers a topic. That many keep it until a test a "
        "month away."
    ),
    "dose.timetable_too_much": (
        "*{topics} in {evenings}:* even {questions}, the most that is allowed, make only about {answers} answers a "
        "topic. About four keep it until a test a month away."
    ),
    "dose.as_set": "That is how it is set.",
    "dose.set_to": {"one": "It is set to {n}.", "other": "It is set to {n}."},
    "dose.choose": "Choose a number",
    "dose.ask": {"one": "Ask {n}", "other": "Ask {n}"},
    "dose.ask_days": {"one": "Ask {questions} on {n} day", "other": "Ask {questions} on {n} days"},
    "dose.title": "What another number of questions would lead to:",
    "dose.line": "{dose}: {known}",
    "dose.none": "no more reviews",
    "dose.now": "as now ({asked}, {n} a week)",
    "dose.more": "one more each time ({asked}, {n} a week)",
    "dose.all_days": "on all school days ({asked}, {n} a week)",
    "dose.too_small": (
        "{so_far} answers a topic so far. As it is set, topics come to about {ahead} before their test; about four "
        "are needed: {advice}."
    ),
    "target.ask": (
        "What part of its topics should the class know on quiz and exam days? Type a number from {low} to {most}, for"
        " example *75*, or *none*. Now: {now}."
    ),
    "target.unread": "A target is a number from {low} to {most}, for example *75*, or *none*. Now: {now}.",
    "target.out_of_range": (
        "A target is between {low} and {most} percent: less needs nearly no reviews, and more cannot be reached. Now:"
        " {now}."
    ),
    "target.none": "none",
    "target.set": "{target} %",
    "target.button": "Target",
    "target.take": "Take {target} %, {n} at a time",
    "target.takes": {
        "one": "*{target} %* known on quiz and exam days takes about {n} question at a time, which comes to {known}.",
        "other": "*{target} %* known on quiz and exam days takes about {n} questions at a time, which comes "
        "to {known}.",
    },
    "target.out_of_reach": {
        "one": (
            "*{target} %* cannot be reached on quiz and exam days. The best that can be had is {known}, with {n} "
            "question at a time."
        ),
        "other": (
            "*{target} %* cannot be reached on quiz and exam days. The best that can be had is {known}, with {n} "
            "questions at a time."
        ),
    },
    "target.now": {"one": "With {n}, as now: {known}.", "other": "With {n}, as now: {known}."},
    "target.fewer": "Each student is asked as few as reach it; who knows enough is left in peace.",
    "target.no_timetable": (
        "There is no timetable yet, so it cannot be said what a target takes. Send one first; *upload* says how."
    ),
    "target.no_date": (
        "No quiz or exam is to come, so there is no day on which something should be known. Put one into the "
        "timetable first."
    ),
    "target.no_questions": (
        "No topic of the coming quizzes and exams has a question yet, so nothing can be asked. Send questions first; "
        "*upload* says how."
    ),
    "teacher.pulling.target": "I am working out what that takes. This can take a moment.",
    "teacher.made.target": "What a target takes",
    "table.forecast_doses": "Doses",
    "column.dose": "Dose",
    "column.dose.note": "Which questions are asked from now on.",
    "column.dose_questions": "Questions",
    "column.dose_questions.note": "Of each student, on an evening on which students are asked.",
    "column.dose_days": "Evenings a week",
    "column.dose_days.note": "Evenings in a week on which students are asked.",
    "column.known": "Known",
    "column.known.note": "Mean prediction of the class for that date with this dose.",
    **bounded("known"),
}
