"""German: what a teacher pulls. Pictures and workbooks take their wording from here too."""

from __future__ import annotations

from collections.abc import Mapping

from bot.words.de.evidence import (
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
    "evidence.too_few": "zu wenige Antworten für eine Aussage",
    "evidence.about": "etwa {value} ({bounds})",
    "evidence.counts": "{count} von {of}",
    "evidence.counts_about": "{count} von {of}: {about}",
    "evidence.no_grade": "Eine Prognose ist keine Note.",
    "evidence.how_sure": "Balken: In 4 von 5 Fällen liegt der wahre Wert darin. Keine Note.",
    "evidence.how_to_read": (
        "Zahlen in Klammern: In vier von fünf Fällen liegt der wahre Wert dazwischen. Eine Prognose ist keine Note."
    ),
    "evidence.standing.below": "sicher unter der Hälfte",
    "evidence.standing.perhaps_below": "vielleicht unter der Hälfte",
    "evidence.standing.perhaps_above": "vielleicht über der Hälfte",
    "evidence.standing.above": "über der Hälfte",
    "evidence.standing.too_few": "zu wenige Antworten für eine Aussage",
    "evidence.no_student": "In {group} heißt niemand „{name}“.",
    "evidence.two_students": "In {group} heißen mehrere „{name}“.",
    "evidence.nothing_taught": (
        "Es wurde noch nichts unterrichtet, also gibt es nichts vorherzusagen. Ergänzen Sie Stunden im "
        "Unterrichtsplan."
    ),
    "evidence.nobody_joined": (
        "Es ist noch niemand in der Klasse, also gibt es nichts vorherzusagen. Beitreten kann man mit dem Code der "
        "Klasse."
    ),
    "evidence.no_quiz": "Es ist kein Test geplant. Ergänzen Sie einen im Unterrichtsplan, oder nennen Sie ein Datum.",
    "evidence.day_over": "{day} ist vorbei. Eine Prognose gilt einem kommenden Tag.",
    "evidence.no_lesson": (
        "Im Unterrichtsplan steht noch keine Stunde, also gibt es nichts zu zeichnen. Schicken Sie zuerst einen "
        "Unterrichtsplan."
    ),
    "evidence.half": "Hälfte",
    "evidence.more": {
        "one": "und {n} weitere, siehe Arbeitsmappe",
        "other": "und {n} weitere, siehe Arbeitsmappe",
    },
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
