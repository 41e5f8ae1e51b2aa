"""English: a student's own picture, and the letter for a parents' evening."""

from __future__ import annotations

from collections.abc import Mapping

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    "own.title": "*{title}: your topics*",
    "own.nothing": "Nothing has been taught yet, so there is nothing to show.",
    "own.now": {
        "one": "Today you would answer {now} of the questions on your one topic without help, as far as I can tell.",
        "other": "Today you would answer {now} of the questions on your {n} topics without help, as far as I can tell.",
    },
    "own.later": "By {target} it would be {later} if you do nothing more.",
    "own.tonight": "By {target} one review tonight helps most with {topics}.",
    "own.tonight_topic": "{topic} (from {before} to {after})",
    "own.tonight_none": "Nothing needs you tonight.",
    "own.tonight_no_questions": (
        "There are no questions yet on what is still missing, so there is nothing to do here tonight."
    ),
    "own.tonight_little": (
        "One review tonight alone would change little by {target}. The questions of the next evenings build it up, "
        "a few at a time."
    ),
    "own.stays": "What stays: {topics}.",
    "own.on_the_way": "On the way: {topics}.",
    "own.more": {"one": "and {n} more", "other": "and {n} more"},
    "own.too_early": "It is too early for a figure: there are too few answers yet.",
    "own.target.quiz": "the quiz on {day}",
    "own.target.exam": "the exam on {day}",
    "own.target.date": "{day}",
    "own.thin": "It rests on few answers, so take it with care.",
    "own.picture.title": "Your topics",
    "own.picture.subtitle": "{title} · until {target}",
    "own.picture.legend_now": "now",
    "own.picture.legend_later": "{target}, as things stand",
    "own.picture.legend_reviewed": "with one review tonight",
    "own.picture.more": {
        "one": "and {n} more topic",
        "other": "and {n} more topics",
    },
    # letter
    "letter.title": "{name} in {class_title}",
    "letter.date": "{day}",
    "letter.from": "{teacher} · {class_title}",
    "letter.lead": (
        "In {class_title}, students get a few short questions about what was taught, on school days, at the "
        "moment when answering helps the memory most. This page says how that went for {name}."
    ),
    "letter.done": "What was done",
    "letter.done.answered": (
        "{name} answered {answered} of {asked} questions since {since}, {on_time} of them on the same day."
    ),
    "letter.done.none": "No question has reached {name} yet.",
    "letter.done.extra": {
        "one": "{n} more question was asked for and answered.",
        "other": "{n} more questions were asked for and answered.",
    },
    "letter.done.homework": "Homework: {done} of {reported} done, as reported.",
    "letter.done.score": "{quiz}: {reached} of {out_of}.",
    "letter.done.earlier": {"one": "{n} earlier test, and then:", "other": "{n} earlier tests, and then:"},
    "letter.solid": "What is solid",
    "letter.solid.none": "So far no topic is certain enough to be called solid.",
    "letter.between": "What is on the way",
    "letter.work": "What needs work",
    "letter.work.none": "No topic stands out as needing work.",
    "letter.unknown": "Too few answers to tell: {topics}.",
    "letter.more": {"one": "and {n} more", "other": "and {n} more"},
    "letter.figure": "about {value}",
    "letter.read": "How to read the figures",
    "letter.read.text": (
        "A figure such as “about 60 % (45–75)” is a prediction: so likely {name} would answer a question on the topic "
        "today without help; in four cases out of five the true value lies between the numbers in brackets. It is no "
        "grade and says nothing about other students. Topics fade without review and come back with it: a few minutes "
        "on several evenings keep more than one long evening before a test."
    ),
    "letter.notes": "Notes from the conversation",
    "letter.file": "{slug}-letter-{name}.{ending}",
    "letter.file_all": "{slug}-letters.{ending}",
}
