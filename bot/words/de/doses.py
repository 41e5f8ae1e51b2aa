"""German: the dose of a class, and its target."""

from __future__ import annotations

from collections.abc import Mapping

from bot.words.de.evidence.bounds import bounded

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    "command.target": "was sitzen soll, und was das braucht",
    "typed.target": "ziel|zielwert",
    "dose.topics": {"one": "{n} Thema", "other": "{n} Themen"},
    "dose.evenings": {"one": "{n} Schulabend", "other": "{n} Schulabenden"},
    "dose.questions": {"one": "{n} Frage am Abend", "other": "{n} Fragen am Abend"},
    "dose.timetable": (
        "*{topics} an {evenings}:* Mit {questions} kommen auf jedes Thema etwa vier Antworten. So viele halten es bis"
        " zu einem Test einen Monat später."
    ),
    "dose.timetable_too_much": (
        "*{topics} an {evenings}:* Selbst mit {questions}, mehr ist nicht erlaubt, kommen auf jedes Thema nur etwa "
        "{answers} Antworten. Etwa vier halten es bis zu einem Test einen Monat später."
    ),
    "dose.as_set": "So ist es eingestellt.",
    "dose.set_to": {"one": "Eingestellt ist {n}.", "other": "Eingestellt sind {n}."},
    "dose.choose": "Anzahl wählen",
    "dose.ask": {"one": "{n} Frage stellen", "other": "{n} Fragen stellen"},
    "dose.ask_days": {"one": "{questions} an {n} Tag stellen", "other": "{questions} an {n} Tagen stellen"},
    "dose.title": "Wohin eine andere Zahl von Fragen führen würde:",
    "dose.line": "{dose}: {known}",
    "dose.none": "keine Wiederholung mehr",
    "dose.now": "wie jetzt ({asked}, {n}-mal in der Woche)",
    "dose.more": "jedes Mal eine mehr ({asked}, {n}-mal in der Woche)",
    "dose.all_days": "an allen Schultagen ({asked}, {n}-mal in der Woche)",
    "dose.too_small": (
        "Bisher {so_far} Antworten je Thema. So wie es eingestellt ist, werden es bis zum Test etwa {ahead}; etwa "
        "vier braucht es: {advice}."
    ),
    "target.ask": (
        "Welchen Teil ihrer Themen soll die Klasse an Test- und Prüfungstagen können? Schreiben Sie eine Zahl von "
        "{low} bis {most}, zum Beispiel *75*, oder *keine*. Jetzt: {now}."
    ),
    "target.unread": "Ein Ziel ist eine Zahl von {low} bis {most}, zum Beispiel *75*, oder *keine*. Jetzt: {now}.",
    "target.out_of_range": (
        "Ein Ziel liegt zwischen {low} und {most} Prozent: Weniger braucht fast keine Wiederholung, mehr lässt sich "
        "nicht erreichen. Jetzt: {now}."
    ),
    "target.none": "keines",
    "target.set": "{target} %",
    "target.button": "Ziel",
    "target.take": "{target} % nehmen, je {n}",
    "target.takes": {
        "one": "*{target} %* an Test- und Prüfungstagen brauchen etwa {n} Frage auf einmal; damit werden es {known}.",
        "other": "*{target} %* an Test- und Prüfungstagen brauchen etwa {n} Fragen auf einmal; damit werden "
        "es {known}.",
    },
    "target.out_of_reach": {
        "one": (
            "*{target} %* lassen sich an Test- und Prüfungstagen nicht erreichen. Das Beste ist {known}, mit {n} Frage"
            " auf einmal."
        ),
        "other": (
            "*{target} %* lassen sich an Test- und Prüfungstagen nicht erreichen. Das Beste ist {known}, mit {n} "
            "Fragen auf einmal."
        ),
    },
    "target.now": {"one": "Mit {n} wie jetzt: {known}.", "other": "Mit {n} wie jetzt: {known}."},
    "target.fewer": "Alle werden nur so viel gefragt, wie es dafür braucht; wer genug kann, bleibt in Ruhe.",
    "target.no_timetable": (
        "Es gibt noch keinen Stundenplan, darum lässt sich nicht sagen, was ein Ziel braucht. Schicken Sie zuerst "
        "einen; *upload* sagt, wie."
    ),
    "target.no_date": (
        "Es steht kein Test und keine Prüfung mehr bevor, also kein Tag, an dem etwas sitzen soll. Tragen Sie zuerst "
        "einen in den Stundenplan ein."
    ),
    "target.no_questions": (
        "Kein Thema der kommenden Tests und Prüfungen hat schon eine Frage, also kann nichts gefragt werden. Schicken"
        " Sie zuerst Fragen; *upload* sagt, wie."
    ),
    "teacher.pulling.target": "Ich rechne aus, was das braucht. Das kann einen Moment dauern.",
    "teacher.made.target": "Was ein Ziel braucht",
    "table.forecast_doses": "Fragen",
    "column.dose": "Fragen",
    "column.dose.note": "Welche Fragen von jetzt an gestellt werden.",
    "column.dose_questions": "Je Abend",
    "column.dose_questions.note": "Fragen je Person an einem Abend, an dem gefragt wird.",
    "column.dose_days": "Abende je Woche",
    "column.dose_days.note": "Abende in der Woche, an denen gefragt wird.",
    "column.known": "Gekonnt",
    "column.known.note": "Mittlere Vorhersage der Klasse für diesen Tag mit diesen Fragen.",
    **bounded("known"),
}
