"""German: the data dictionary of the record export, and the simulation picture."""

from __future__ import annotations

from collections.abc import Mapping

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    "records.heading.column": "Spalte",
    "records.heading.type": "Art",
    "records.heading.meaning": "Bedeutung",
    "records.answer": "Nummer der Frage, wie sie dieser Person gestellt wurde; eindeutig.",
    "records.student": "Pseudonym; der Name, wo er verlangt wurde.",
    "records.topic": "Thema, zu dem die Frage gehört.",
    "records.question_id": "Nummer der Frage; ihr Text steht in der Tabelle der Fragen.",
    "records.kind": "Wie die Frage beantwortet wird.",
    "records.asked_at": "Wann die Nachricht mit der Frage geschickt wurde.",
    "records.answered_at": "Wann die Antwort kam; leer ohne Antwort.",
    "records.verdict": (
        "Was aus der Antwort wurde; unsure heißt, dass die Person sagte, sie wisse es nicht. Leer ohne Antwort."
    ),
    "records.on_time": "Ob die Antwort am selben Tag kam.",
    "records.asked_for": "Ob die Frage verlangt wurde; sonst kam sie nach Plan.",
    "records.seconds": "Zeit von der Frage bis zur Antwort.",
    "records.chance": "Wahrscheinlichkeit einer richtigen Antwort ohne jedes Wissen.",
    "records.predicted": "Vorhergesagtes Behalten bei der Planung der Frage; leer, wo sie nicht geplant war.",
    "records.option": "Platz der gewählten Möglichkeit in der Frage, ab 0; 0 ist die richtige.",
    "records.given": "Was getippt oder gewählt wurde; leer, wenn nicht verlangt, denn es kann alles enthalten.",
    "records.as_asked": "Die Frage, wie sie dastand, wo ihre Zahlen gezogen wurden; sonst leer.",
    # simulation
    "simulation.title": "Simulierte Klassen: was jede Art zu wiederholen bringt",
    "simulation.subtitle": (
        "Zeichen und Balken: Gewinn gegenüber „{policy}“ in denselben Klassen, in Punkten, mit 95-%-Bereich; rechts: "
        "das Mittel"
    ),
    "simulation.line": "{measure}: {values}.",
    "simulation.value": "{policy} {mean}",
    "simulation.gain": "{policy} {mean} ({gain}, von {low} bis {high})",
    "simulation.how": "Ein Balken neben der 0 ist mehr als Zufall: Alle liefen mit denselben Klassen.",
}
