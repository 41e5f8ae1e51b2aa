"""German: the forecast, as text and as picture."""

from __future__ import annotations

from collections.abc import Mapping

from bot.words.de.evidence.bounds import bounded

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    "forecast.title": "*{title} · {what}, Prognose*",
    "forecast.quiz": "Test am {day}",
    "forecast.exam": "Prüfung am {day}",
    "forecast.date": "{day}",
    "forecast.overall": "{planned} mit den noch geplanten Wiederholungen, {stands} ohne sie.",
    "forecast.unknown": "Davon wurde noch kein Thema unterrichtet, also gibt es nichts vorherzusagen.",
    "forecast.thin": {
        "one": "Das beruht auf nur {n} Antwort: zu wenig für eine Aussage.",
        "other": "Das beruht auf nur {n} Antworten: zu wenig für eine Aussage.",
    },
    "forecast.teach": "Noch einmal unterrichten: {topics}.",
    "forecast.teach_none": "Kein Thema würde durch eine weitere Stunde viel gewinnen.",
    "forecast.teach_unknown": (
        "Zu früh für eine Aussage, was noch einmal zu unterrichten ist: Noch kein Thema hat {enough} Antworten. "
        "Erinnern Sie die Klasse an die Fragen am Abend."
    ),
    "forecast.topic": "*{topic}* ({figure}; +{gain} Punkte; {why})",
    "forecast.why.below_half": "unter der Hälfte",
    "forecast.why.many_below": "{below} von {of} Lernenden unter der Hälfte",
    "forecast.why.fades": "verblasst bis dahin",
    "forecast.talk_to": "Ansprechen: {names}.",
    "forecast.talk_none": "Niemand steht sicher unter der Hälfte.",
    "forecast.talk_unknown": "Zu früh, um jemanden zu nennen.",
    "forecast.low_student": "{name} ({figure})",
    "forecast.few_student": "{name} (zu wenige Antworten für eine Aussage)",
    "forecast.unknown_students": {
        "one": "Für {n} Person gibt es zu wenige Antworten für eine Aussage.",
        "other": "Für {n} Lernende gibt es zu wenige Antworten für eine Aussage.",
    },
    "forecast.not_yet": {
        "one": "{n} Thema kommt erst noch und ist nicht enthalten.",
        "other": "{n} Themen kommen erst noch und sind nicht enthalten.",
    },
    # picture
    "forecast.picture.title": "{what}: Prognose",
    "forecast.picture.planned": "mit geplantem Wiederholen",
    "forecast.picture.stands": "ohne weiteres Wiederholen",
    "forecast.picture.again": "Noch einmal unterrichten: {names}",
    "forecast.picture.again_none": "Noch einmal unterrichten: Nichts würde viel gewinnen",
    "forecast.picture.again_unknown": (
        "Zu früh: Kein Thema hat {enough} Antworten. Erinnern Sie die Klasse."
    ),
    "forecast.picture.then": "+ Punkte: Gewinn daraus",
    "forecast.picture.topics": "Themen, niedrigste zuerst",
    "forecast.picture.teach": "+{gain} Punkte",
    "forecast.picture.legend": "Ring: ohne weitere Wiederholungen",
    "forecast.picture.students": "Ansprechen",
    "forecast.picture.rest": {
        "one": "{n} weitere Person: nicht sicher unter der Hälfte",
        "other": "{n} weitere: nicht sicher unter der Hälfte",
    },
    "forecast.picture.unknown": "Zu wenige Antworten: {names}",
    "forecast.picture.unknown_students": {
        "one": "{n} Person: zu wenige Antworten",
        "other": "{n} Lernende: zu wenige Antworten",
    },
    "forecast.picture.more_topics": {
        "one": "{n} weiteres Thema darüber",
        "other": "{n} weitere Themen darüber",
    },
    "forecast.picture.class": "Klasse",
    # workbook
    "table.forecast_students": "Lernende",
    "table.forecast_topics": "Themen",
    "table.forecast_pairs": "Lernende nach Themen",
    "table.forecast_each": "Einzeln mit Bereichen",
    "readme.forecast": (
        "Vorhergesagtes Behalten am {day}: die Wahrscheinlichkeit, eine Frage zum Thema ohne Hilfe zu beantworten. "
        "Erstellt {moment}."
    ),
    "column.planned": "Mit Wiederholungen",
    "column.planned.note": (
        "Mittlere Vorhersage für diesen Tag, wenn die noch geplanten Wiederholungen wie üblich gemacht werden."
    ),
    "column.stands": "Ohne",
    "column.stands.note": "Mittlere Vorhersage für diesen Tag, wenn niemand mehr wiederholt.",
    "column.gain": "Gewinn durch eine Stunde",
    "column.gain.note": (
        "Was eine weitere Stunde zum Thema dem Mittel der Klasse an diesem Tag bringt, über die geplanten "
        "Wiederholungen hinaus."
    ),
    "column.below": "Unter der Hälfte",
    "column.below.note": (
        "Lernende, deren Vorhersage zum Thema unter der Hälfte liegt, mit den geplanten Wiederholungen."
    ),
    "column.taught_to": "Von Lernenden",
    "column.taught_to.note": "Lernende, denen das Thema unterrichtet wurde.",
    "column.why": "Warum",
    "column.why.note": "Was am meisten dafür spricht, es noch einmal zu unterrichten.",
    "column.weak_topics": "Themen unter der Hälfte",
    "column.weak_topics.note": "Themen, deren Vorhersage unter der Hälfte liegt, schwächste zuerst.",
    "column.pair": "Themen",
    "column.pair.note": (
        "Eine Spalte je Thema: vorhergesagtes Behalten an diesem Tag mit den geplanten Wiederholungen. Leer: noch "
        "nicht unterrichtet."
    ),
    **bounded("planned", "stands"),
}
