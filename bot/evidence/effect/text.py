"""What reviewing did as one line, natural frequencies first (Gigerenzer & Hoffrage 1995)."""

from __future__ import annotations

from bot.evidence.effect.numbers import ReviewEffect
from bot.evidence.shared.figures import IntervalEstimate
from bot.words import Words
from bot.words.rich import Rich

CLASS, OWN, NAMED = "class", "own", "named"
"""Whom a line speaks of: a typical student of the class, whoever reads it, somebody by name."""


def effect_line(effect: ReviewEffect | None, words: Words, who: str = CLASS, name: str = "") -> Rich | None:
    """Write what is known today with the reviews and without any; None where no topic was met yet.

    Parameters
    ----------
    effect : ReviewEffect or None
        The numbers.
    words : Words
        The reader's language.
    who : str
        `CLASS`, `OWN` or `NAMED`.
    name : str
        Whom a `NAMED` line is about.
    """
    if effect is None:
        return None
    if effect.too_early:
        return words.say("effect.too_early")
    return words.say(
        f"effect.{who}",
        name=name,
        known=effect.counted(effect.known)[0],
        n=effect.topics,
        bounds=bounds(effect, effect.known),
        without=effect.counted(effect.without)[0],
        without_bounds=bounds(effect, effect.without),
    )


def bounds(effect: ReviewEffect, share: IntervalEstimate) -> str:
    """Write the interval of a share in topics: ``6–12``."""
    _, low, high = effect.counted(share)
    return f"{low}–{high}"
