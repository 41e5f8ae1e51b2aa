"""English: the forecast, as text and as picture."""

from __future__ import annotations

from collections.abc import Mapping

from bot.words.en.evidence.bounds import bounded

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    "forecast.title": "*{title} · {what}, forecast*",
    "forecast.quiz": "Quiz {day}",
    "forecast.exam": "Exam {day}",
    "forecast.date": "{day}",
    "forecast.overall": "{planned} with the reviews still planned, {stands} without them.",
    "forecast.unknown": "No topic of it has been taught yet, so there is nothing to forecast.",
    "forecast.thin": {
        "one": "It rests on {n} answer only: too little to tell.",
        "other": "It rests on {n} answers only: too little to tell.",
    },
    "forecast.teach": "Teach again: {topics}.",
    "forecast.teach_none": "No topic would gain much from being taught again.",
    "forecast.teach_unknown": (
        "Too early to tell what to teach again: no topic has {enough} answers yet. Remind the class of the evening "
        "questions."
    ),
    "forecast.topic": "*{topic}* ({figure}; +{gain} points; {why})",
    "forecast.why.below_half": "below half",
    "forecast.why.many_below": "{below} of {of} students below half",
    "forecast.why.fades": "fades by then",
    "forecast.talk_to": "Talk to: {names}.",
    "forecast.talk_none": "Nobody stands surely below half.",
    "forecast.talk_unknown": "Too early to tell whom to talk to.",
    "forecast.low_student": "{name} ({figure})",
    "forecast.few_student": "{name} (too few answers to tell)",
    "forecast.unknown_students": {
        "one": "For {n} student there are too few answers to tell.",
        "other": "For {n} students there are too few answers to tell.",
    },
    "forecast.not_yet": {
        "one": "{n} topic is still to be taught and is not in it.",
        "other": "{n} topics are still to be taught and are not in it.",
    },
    # picture
    "forecast.picture.title": "{what}: forecast",
    "forecast.picture.planned": "with the planned reviews",
    "forecast.picture.stands": "without any more reviews",
    "forecast.picture.again": "Teach again: {names}",
    "forecast.picture.again_none": "Teach again: nothing would gain much",
    "forecast.picture.again_unknown": (
        "Too early to tell: no topic has {enough} answers yet. Remind the class."
    ),
    "forecast.picture.then": "+ points: what that gains",
    "forecast.picture.topics": "topics, lowest first",
    "forecast.picture.teach": "+{gain} points",
    "forecast.picture.legend": "ring: without more reviews",
    "forecast.picture.students": "Talk to",
    "forecast.picture.rest": {
        "one": "{n} other student: not surely below half",
        "other": "{n} other students: not surely below half",
    },
    "forecast.picture.unknown": "Too few answers to tell: {names}",
    "forecast.picture.unknown_students": {
        "one": "{n} student: too few answers to tell",
        "other": "{n} students: too few answers to tell",
    },
    "forecast.picture.more_topics": {
        "one": "{n} more topic above these",
        "other": "{n} more topics above these",
    },
    "forecast.picture.class": "Class",
    # workbook
    "table.forecast_students": "Students",
    "table.forecast_topics": "Topics",
    "table.forecast_pairs": "Students by topic",
    "table.forecast_each": "Each with intervals",
    "readme.forecast": (
        "Predicted retention on {day}: the probability that a student answers a question on the topic without "
        "help. Drawn up {moment}."
    ),
    "column.planned": "With reviews",
    "column.planned.note": "Mean prediction for that date if the reviews still planned are done as usual.",
    "column.stands": "Without",
    "column.stands.note": "Mean prediction for that date if nobody reviews any more.",
    "column.gain": "Gain if taught again",
    "column.gain.note": (
        "What one more lesson on the topic adds to the class's mean on that date, on top of the planned reviews."
    ),
    "column.below": "Below half",
    "column.below.note": "Students whose prediction for the topic lies under half, with the planned reviews.",
    "column.taught_to": "Of students",
    "column.taught_to.note": "Students who have been taught the topic.",
    "column.why": "Why",
    "column.why.note": "What speaks most for teaching it again.",
    "column.weak_topics": "Topics below half",
    "column.weak_topics.note": "Topics whose prediction for the student lies under half, weakest first.",
    "column.pair": "Topics",
    "column.pair.note": (
        "One column per topic: predicted retention on that date with the planned reviews. Empty: not taught to "
        "the student yet."
    ),
    **bounded("planned", "stands"),
}
