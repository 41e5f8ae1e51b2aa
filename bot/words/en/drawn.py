"""Questions with drawn values, and the bank of questions."""

from __future__ import annotations

from collections.abc import Mapping

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    "command.bank": "ready-made questions for your topics",
    "bank.hint": {
        "one": "Our bank has ready-made questions for *1 topic* of these. You can look at them before you take any.",
        "other": (
            "Our bank has ready-made questions for *{n} topics* of these. You can look at them before you take any."
        ),
    },
    "bank.topics": {
        "one": "Ready-made questions: {questions} for *1 topic* of this class. Tap it to look at them.",
        "other": "Ready-made questions: {questions} for *{n} topics* of this class. Tap one to look at its questions.",
    },
    "bank.nothing": (
        "The bank has nothing more for the topics of this class. It holds lower-secondary mathematics and physics."
    ),
    "bank.topic": {
        "one": "*{topic}*: 1 question. Every student gets numbers of their own, for example:",
        "other": "*{topic}*: {n} questions. Every student gets numbers of their own, for example:",
    },
    "bank.taken": {
        "one": "Added: 1 question on {topics}. Type *undo* to take it back.",
        "other": "Added: {n} questions on {topics}. Type *undo* to take them back.",
    },
    "bank.taken_before": "You have them already.",
    "bank.enough": "All right. Type *bank* whenever you want to look again.",
    "bank.button.look": "Look at them",
    "bank.button.take": {"one": "Take it", "other": "Take these {n}"},
    "bank.button.take_all": "Take all",
    "bank.button.skip": "Next: {topic}",
    "bank.button.enough": "Enough",
    "teacher.kept.bank": "questions from the bank, from {value} on",
    "drawn.examples": "*Drawn anew for every student, for example:*",
    "drawn.unexplained": {
        "one": (
            "Without an explanation: 1 wrong answer. Column “why wrong”: what to say to whoever gives it."
        ),
        "other": (
            "Without an explanation: {n} wrong answers. Column “why wrong”: what to say to whoever gives one."
        ),
    },
    "drawn.steps": "Step by step:",
}
