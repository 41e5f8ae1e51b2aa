"""German: headings and notes of the tables that workbooks and CSV files are made of."""

from __future__ import annotations

from collections.abc import Mapping

from bot.words.de.evidence.bounds import bounded

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    "evidence.yes": "ja",
    "evidence.no": "nein",
    "state.waiting": "wartet auf Erlaubnis",
    "state.active": "aktiv",
    "state.paused": "Pause",
    "state.left": "gegangen",
    "table.students": "Lernende",
    "table.topics": "Themen",
    "table.class": "Klasse",
    "table.readme": "Lies mich",
    "readme.week": (
        "Eine Frage gehört zu der Woche, in der sie gestellt wurde, Montag bis Sonntag ({span}, {zone}). Erstellt "
        "{moment}."
    ),
    "readme.order": "Die Namen stehen alphabetisch. Nichts hier ist eine Rangfolge, und nichts hier ist eine Note.",
    "readme.private": (
        "Diese Datei enthält Daten über Lernende, die meisten minderjährig: Bewahren Sie sie so auf, wie Ihre Schule "
        "es verlangt."
    ),
    "column.student": "Name",
    "column.student.note": "Der selbst gewählte Name, in alphabetischer Reihenfolge.",
    "column.state": "Stand",
    "column.state.note": "Ob zurzeit gefragt wird.",
    "column.asked": "Gefragt",
    "column.asked.note": "Fragen, die in dieser Woche nach Plan geschickt wurden.",
    "column.answered": "Beantwortet",
    "column.answered.note": "Davon bis zum Moment dieses Berichts beantwortet, rechtzeitig oder später.",
    "column.on_time": "Rechtzeitig",
    "column.on_time.note": "Beantwortet, bevor die nächsten Fragen fällig waren.",
    "column.late": "Später",
    "column.late.note": "Danach beantwortet.",
    "column.waiting": "Noch offen",
    "column.waiting.note": "Noch nicht beantwortet, aber es ist noch Zeit.",
    "column.unanswered": "Unbeantwortet",
    "column.unanswered.note": "Nicht beantwortet, und die Zeit ist um.",
    "column.extra": "Zusätzlich",
    "column.extra.note": "Antworten auf selbst verlangte Fragen; nicht Teil der Spalten davor.",
    "column.right": "Richtig",
    "column.right.note": "Richtige Antworten der Woche, auch zusätzliche. „Weiß nicht“ zählt als nicht richtig.",
    "column.answers": "Von Antworten",
    "column.answers.note": "Alle Antworten der Woche, auch zusätzliche.",
    "column.right_share": "Richtig, %",
    "column.right_share.note": "Anteil richtiger Antworten; leer unter 5 Antworten, weil er nichts sagen würde.",
    "column.due": "Fällig",
    "column.due.note": "Wiederholungen, die im Moment dieses Berichts geplant oder offen sind.",
    "column.retention_now": "Behalten jetzt",
    "column.retention_now.note": (
        "Vorhergesagte Wahrscheinlichkeit, im Moment dieses Berichts ohne Hilfe zu antworten, Mittel über alles "
        "bisher Unterrichtete. Eine Vorhersage, keine Note."
    ),
    "column.retention_quiz": "Am Tag des Tests",
    "column.retention_quiz.note": (
        "Dasselbe für die Themen des nächsten Tests an seinem Tag, nach jetzigem Stand: ohne jede weitere "
        "Wiederholung."
    ),
    "column.answers_ever": "Antworten bisher",
    "column.answers_ever.note": "Antworten, auf denen die Vorhersagen beruhen. Unter 5 ist es zu wenig.",
    "column.delay": "Stunden bis zur Antwort",
    "column.delay.note": "Median der Zeit von der Nachricht bis zur Antwort in dieser Woche, in Stunden.",
    "column.usual_delay": "Sonst",
    "column.usual_delay.note": "Dasselbe über die vier Wochen davor.",
    "column.last_answer": "Letzte Antwort",
    "column.last_answer.note": "Wann zuletzt irgendetwas beantwortet wurde, nach der Uhr der Klasse.",
    "column.talk_to": "Ansprechen, weil",
    "column.talk_to.note": (
        "Warum ein Gespräch helfen kann: seit einer Woche still, langsamer als sonst, sicher unter der Hälfte."
    ),
    "column.good_word": "Ein gutes Wort, weil",
    "column.good_word.note": (
        "Was ein Wort unter vier Augen verdient. Verglichen nur mit den eigenen Wochen und Vorhersagen."
    ),
    "column.topic": "Thema",
    "column.topic.note": "In der Reihenfolge, in der unterrichtet wurde.",
    "column.taught_on": "Unterrichtet am",
    "column.taught_on.note": "Tag der ersten Stunde.",
    "column.in_quiz": "Im Test",
    "column.in_quiz.note": "Ob der nächste Test es umfasst.",
    "column.standing": "Gegen die Hälfte",
    "column.standing.note": "Wo die Vorhersage für den Test zur Hälfte steht, und wie sicher das ist.",
    "column.students": "Lernende",
    "column.students.note": "Lernende, die dabei sind.",
    "column.active": "Aktiv",
    "column.active.note": "Davon die, die zurzeit gefragt werden.",
    "column.answered_once": "Einmal geantwortet",
    "column.answered_once.note": "Lernende mit mindestens einer Antwort in der Woche.",
    "column.completion": "Beantwortet, %",
    "column.completion.note": (
        "Beantwortet von gefragt. Die Grenzen berücksichtigen, dass Antworten einer Person sich ähneln."
    ),
    "column.completion_before": "Woche davor, %",
    "column.completion_before.note": "Dasselbe für die Woche davor.",
    "column.change": "Änderung",
    "column.change.note": "Anteil dieser Woche minus den der Woche davor, in Punkten von 100.",
    **bounded("right_share", "retention_now", "retention_quiz", "completion", "completion_before", "change"),
}
