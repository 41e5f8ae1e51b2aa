"""Doses as text: the lines of a forecast, the line of a report, what a target takes."""

from __future__ import annotations

from collections.abc import Sequence

from bot.evidence.doses.numbers import DoseKind, DoseLine, TargetTakes
from bot.evidence.shared.phrases import about, never_certain
from bot.teaching.doses import Needed
from bot.words import Words
from bot.words.offers import dose_label
from bot.words.rich import Rich


def doses_text(lines: Sequence[DoseLine], words: Words) -> Rich | None:
    """Write one line for each dose; None where there is none to compare."""
    if len(lines) < 3:  # without reviews and as now stand in the forecast already
        return None
    text = words.say("dose.title")
    for line in lines:
        text = (
            text
            + Rich.of("\n")
            + words.say(
                "dose.line", dose=dose_name(line, words), known=about(words, never_certain(line.known))
            )
        )
    return text


def dose_name(line: DoseLine, words: Words) -> str:
    """Write a dose: ``As now (3 questions on five days)``."""
    if line.kind is DoseKind.NONE:
        return words.text("dose.none")
    asked = words.text("dose.questions", n=line.questions)
    return words.text(f"dose.{line.kind.value}", asked=asked, n=line.days)


def too_small(needed: Needed, words: Words) -> Rich:
    """Write that a class's dose is too small, and what it needs."""
    return words.say(
        "dose.too_small",
        so_far=words.figure(f"{needed.so_far:.1f}"),
        ahead=words.figure(f"{needed.set_to.answers:.1f}"),
        advice=words.either([dose_label(one, words) for one in needed.offers()]),
    )


def target_text(takes: TargetTakes, words: Words) -> Rich:
    """Write what a target takes, and what the present number leads to."""
    best = takes.best
    key = "target.takes" if takes.reached else "target.out_of_reach"
    text = words.say(
        key, target=takes.target, n=best.questions, known=about(words, never_certain(best.known))
    )
    if takes.now is not None:
        text = (
            text
            + Rich.of(" ")
            + words.say(
                "target.now", n=takes.now.questions, known=about(words, never_certain(takes.now.known))
            )
        )
    if takes.reached:
        text = text + Rich.of("\n") + words.say("target.fewer")
    return text
