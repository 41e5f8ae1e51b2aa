"""English: the data dictionary of the record export, and the simulation picture."""

from __future__ import annotations

from collections.abc import Mapping

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    "records.heading.column": "column",
    "records.heading.type": "type",
    "records.heading.meaning": "meaning",
    "records.answer": "Number of the question as it was asked of this student; unique.",
    "records.student": "Pseudonym of the student; the name where that was asked for.",
    "records.topic": "Topic that the question belongs to.",
    "records.question_id": "Number of the question; its text is in the table of questions.",
    "records.kind": "How the question is answered.",
    "records.asked_at": "When the nudge with the question was sent.",
    "records.answered_at": "When the answer came; empty without one.",
    "records.verdict": "What became of the answer; unsure means that the student said not to know. Empty without one.",
    "records.on_time": "Whether the answer came on the day of its nudge.",
    "records.asked_for": "Whether the student asked for the question; otherwise it was sent by plan.",
    "records.seconds": "Time from question to answer.",
    "records.chance": "Probability of a right answer without any knowledge.",
    "records.predicted": "Predicted retention when the question was planned; empty where it was not planned.",
    "records.option": "Place of the chosen option in the question, from 0; 0 is the right one.",
    "records.given": "What the student typed or chose; empty unless it was asked for, since it may hold anything.",
    "records.as_asked": "The question as the student saw it, where its numbers were drawn; else empty.",
    # simulation
    "simulation.title": "Simulated classes: what each way of reviewing comes to",
    "simulation.subtitle": (
        "mark and bar: gain over “{policy}” in the same classes, in points, with its 95 % interval; right: the mean"
    ),
    "simulation.line": "{measure}: {values}.",
    "simulation.value": "{policy} {mean}",
    "simulation.gain": "{policy} {mean} ({gain}, from {low} to {high})",
    "simulation.how": "A bar clear of 0 is more than chance: all were run on the same classes.",
}
