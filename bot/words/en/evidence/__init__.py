"""English: what a teacher pulls. Pictures and workbooks take their wording from here too."""

from __future__ import annotations

from collections.abc import Mapping

from bot.words.en.evidence import (
    columns,
    forecast,
    illustration,
    questions,
    quiz,
    records,
    starter,
    student,
    week,
)

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    "evidence.too_few": "too few answers to tell",
    "evidence.about": "about {value} ({bounds})",
    "evidence.counts": "{count} of {of}",
    "evidence.counts_about": "{count} of {of}: {about}",
    "evidence.no_grade": "A forecast is not a grade.",
    "evidence.how_sure": "Bar: in 4 of 5 cases the true value lies inside. No grade.",
    "evidence.how_to_read": (
        "Figures in brackets: in four cases out of five the true value lies between them. A forecast is not a "
        "grade."
    ),
    "evidence.standing.below": "surely below half",
    "evidence.standing.perhaps_below": "perhaps below half",
    "evidence.standing.perhaps_above": "perhaps above half",
    "evidence.standing.above": "above half",
    "evidence.standing.too_few": "too few answers to tell",
    "evidence.no_student": "Nobody in {group} is called “{name}”.",
    "evidence.two_students": "Several students of {group} are called “{name}”.",
    "evidence.nothing_taught": (
        "Nothing has been taught yet, so there is nothing to forecast. Add lessons to the timetable."
    ),
    "evidence.nobody_joined": (
        "Nobody is in the class yet, so there is nothing to forecast. Students join with the class code."
    ),
    "evidence.no_quiz": "No quiz is planned. Add one to the timetable, or ask for a date.",
    "evidence.day_over": "{day} is over. A forecast is for a day to come.",
    "evidence.no_lesson": (
        "The timetable has no lesson yet, so there is nothing to draw. Upload a timetable first."
    ),
    "evidence.half": "half",
    "evidence.more": {"one": "and {n} more, see the workbook", "other": "and {n} more, see the workbook"},
    **week.TEXTS,
    **forecast.TEXTS,
    **illustration.TEXTS,
    **starter.TEXTS,
    **questions.TEXTS,
    **quiz.TEXTS,
    **records.TEXTS,
    **student.TEXTS,
    **columns.TEXTS,
}
