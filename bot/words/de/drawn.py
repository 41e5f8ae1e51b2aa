"""Fragen mit gezogenen Werten, und der Vorrat an Fragen."""

from __future__ import annotations

from collections.abc import Mapping

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    "command.bank": "fertige Fragen zu Ihren Themen",
    "bank.hint": {
        "one": "In unserem Vorrat gibt es fertige Fragen zu *1 Thema* davon. Sie können sie vorher ansehen.",
        "other": "In unserem Vorrat gibt es fertige Fragen zu *{n} Themen* davon. Sie können sie vorher ansehen.",
    },
    "bank.topics": {
        "one": "Fertige Fragen: {questions} zu *1 Thema* dieser Klasse. Tippen Sie darauf, um sie anzusehen.",
        "other": "Fertige Fragen: {questions} zu *{n} Themen* dieser Klasse. Tippen Sie auf eines, um sie anzusehen.",
    },
    "bank.nothing": (
        "Im Vorrat ist nichts weiter zu den Themen dieser Klasse. Er enthält Mathematik und Physik der Mittelstufe."
    ),
    "bank.topic": {
        "one": "*{topic}*: 1 Frage. Alle bekommen eigene Zahlen, zum Beispiel:",
        "other": "*{topic}*: {n} Fragen. Alle bekommen eigene Zahlen, zum Beispiel:",
    },
    "bank.taken": {
        "one": "Hinzugefügt: 1 Frage zu {topics}. Mit *undo* nehmen Sie sie zurück.",
        "other": "Hinzugefügt: {n} Fragen zu {topics}. Mit *undo* nehmen Sie sie zurück.",
    },
    "bank.taken_before": "Die haben Sie schon.",
    "bank.enough": "Gut. Mit *bank* können Sie jederzeit wieder nachsehen.",
    "bank.button.look": "Ansehen",
    "bank.button.take": {"one": "Übernehmen", "other": "Diese {n} übernehmen"},
    "bank.button.take_all": "Alle übernehmen",
    "bank.button.skip": "Weiter: {topic}",
    "bank.button.enough": "Genug",
    "teacher.kept.bank": "Fragen aus dem Vorrat, ab {value}",
    "drawn.examples": "*Wird für alle einzeln neu gezogen, zum Beispiel:*",
    "drawn.unexplained": {
        "one": (
            "Ohne Erklärung: 1 falsche Antwort. Spalte „warum falsch“: was gesagt wird, wenn jemand sie gibt."
        ),
        "other": (
            "Ohne Erklärung: {n} falsche Antworten. Spalte „warum falsch“: was gesagt wird, wenn jemand eine gibt."
        ),
    },
    "drawn.steps": "Schritt für Schritt:",
}
