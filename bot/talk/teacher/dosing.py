"""The dose of a class: what its timetable needs, and the buttons that change the rules."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from bot.chat.port import Button
from bot.talk.core import State, Step
from bot.talk.facts import Facts
from bot.talk.teacher.common import Pressed, do, foreign, labelled, number, of_class, rows_of
from bot.talk.teacher.effects import ChangeRules
from bot.talk.teacher_facts import TeachingFacts
from bot.teaching.offers import DoseOffer, TimetableDose
from bot.words.offers import dose_label
from bot.words.rich import Rich

LEFT = "-"
"""An argument of a button that leaves a rule as it is."""


def offer_buttons(offers: Sequence[DoseOffer], class_id: int, facts: Facts) -> list[Button]:
    """Return a button for each change of the dose."""
    return [
        labelled(
            dose_label(one, facts.words),
            "dose",
            class_id,
            one.questions,
            LEFT if one.days is None else "".join(map(str, one.days)),
            LEFT if one.target is None else one.target,
        )
        for one in offers
    ]


def taken(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Change the rules as a button offered."""
    questions = number(args[0]) if args else None
    days, target = (args[1], args[2]) if len(args) > 2 else (LEFT, LEFT)
    changes: dict[str, Any] = {"questions_per_nudge": questions}
    if days != LEFT:
        changes["school_weekdays"] = [int(day) for day in days if day in "0123456"]
    if target != LEFT:
        changes["target"] = number(target)
    if questions is None or None in changes.values():
        return foreign(facts, state)
    return do(facts, state, ChangeRules(teaching.class_id, changes))


def timetable_dose(dose: TimetableDose, facts: Facts) -> tuple[Rich, tuple[tuple[Button, ...], ...]]:
    """Write what a stored timetable needs, with buttons to take it or to choose."""
    words = facts.words
    text = words.say(
        "dose.timetable" if dose.enough else "dose.timetable_too_much",
        topics=words.text("dose.topics", n=dose.topics),
        evenings=words.text("dose.evenings", n=dose.evenings),
        questions=words.text("dose.questions", n=dose.questions),
        answers=words.figure(f"{dose.answers:.1f}"),
    )
    if dose.set_to == dose.questions:
        text = text + Rich.of(" ") + words.say("dose.as_set")
    else:
        text = text + Rich.of(" ") + words.say("dose.set_to", n=dose.set_to)
    class_id = facts.teaching.class_id if facts.teaching else 0
    choose = labelled(words.text("dose.choose"), "rule", class_id, "questions")
    return text, tuple(rows_of([*offer_buttons(dose.offers, class_id, facts), choose], 1))


BUTTONS: Mapping[str, Pressed] = {"dose": of_class(taken)}
