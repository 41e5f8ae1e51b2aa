"""German: the illustration that a class is shown."""

from __future__ import annotations

from collections.abc import Mapping

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    "illustration.title": "Was vom Gelernten bleibt",
    "illustration.lead": (
        "*{title}: was von dem bleibt, was wir lernen.* Eine Faustregel an unserem eigenen Unterrichtsplan, keine "
        "Vorhersage."
    ),
    "illustration.subtitle": "{title} · eine Faustregel, nach unserem Plan",
    "illustration.axis": "von 100, Mittel über die Themen bisher",
    "illustration.quiz": "Beim Test am {day} bleiben von 100:",
    "illustration.end": "Am {day} bleiben von 100:",
    "illustration.levels": ("{none} ohne Wiederholung, {one} mit einer, {two} mit zwei, {three} mit drei."),
    "illustration.reviews.0": "keine Wiederholung",
    "illustration.reviews.1": "1 Wiederholung",
    "illustration.reviews.2": "2 Wiederholungen",
    "illustration.reviews.3": "3 Wiederholungen",
    "illustration.reviews.many": "3 oder mehr",
    "illustration.quiz_mark": "Test",
    "illustration.measured": "Was unsere eigenen Antworten zeigen",
    "illustration.measured_axis": "Tage, seit wir das Thema zuletzt hatten",
    "illustration.measured_line": "Unsere eigenen Antworten, {reviews} vorher: {points}.",
    "illustration.measured_point": "{days}: {figure}",
    "illustration.days": {"one": "nach {n} Tag", "other": "nach {n} Tagen"},
    "illustration.day_range": "nach {first}–{last} Tagen",
    "illustration.not_measured": "Unsere eigene Kurve kommt, sobald es genug Antworten gibt.",
    "illustration.how": "Wiederholt: am Tag der Stunde selbst, nach 3 und 10 Tagen.",
}
