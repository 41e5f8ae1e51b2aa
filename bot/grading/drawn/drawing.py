"""One draw of a template: its values, small enough to be stored beside the review that asked it."""

from __future__ import annotations

import random
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from bot.grading.drawn import domains
from bot.grading.drawn.domains import Stored
from bot.grading.drawn.errors import BadDraw, Undefined
from bot.grading.drawn.template import Ready, Template, ready

MAX_TRIES = 2000
"""With one draw in 25 that fulfils the conditions, the chance to find none is below 10⁻³⁵."""
OTHER_TRIES = 400
"""Draws looked at for values that were not asked yet: one of ten is missed less than once in 10¹⁸ times."""


@dataclass(frozen=True, slots=True)
class Draw:
    """The values of one asking.

    Attributes
    ----------
    seed : str
        What the draw was made from; to look into a complaint, the values are what counts.
    values : mapping of str to (str or int)
        Numbers as text ("20", "3/4"), words as the row of their list (from 0).
    """

    seed: str
    values: Mapping[str, Stored] = field(default_factory=dict)

    def to_dict(self) -> dict[str, Any]:
        """Return the draw as values that JSON can hold; :meth:`from_dict` gives an equal draw back."""
        return {"seed": self.seed, "values": dict(self.values)}

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Draw:
        """Read a stored draw.

        Raises
        ------
        BadDraw
            When it is damaged.
        """
        try:
            seed, values = data["seed"], dict(data["values"])
        except (KeyError, TypeError, ValueError) as error:
            raise BadDraw(f"A stored draw is damaged ({error}). Draw the question anew.") from error
        fits = isinstance(seed, str) and all(
            isinstance(name, str) and isinstance(value, str | int) and not isinstance(value, bool)
            for name, value in values.items()
        )
        if not fits:
            raise BadDraw(
                "A stored draw holds something else than texts and whole numbers. Draw the question anew."
            )
        return cls(seed, values)


def draw(template: Template, seed: int | str, avoiding: Iterable[Draw] = ()) -> Draw:
    """Draw the values of a question.

    Parameters
    ----------
    template : Template
    seed : int or str
        The same seed gives the same draw, in every process.
    avoiding : iterable of Draw
        Draws that were asked already: other values are taken where there are any.

    Returns
    -------
    Draw

    Raises
    ------
    Refused
        When the template cannot be read.
    Undefined
        When no draw fulfils the conditions; a checked template has one.

    Examples
    --------
    >>> draw(Template("number", "{a} + {b} = ?", "a = 1..9; b = 1..9", "a + b"), 7).values
    {'a': '7', 'b': '8'}
    """
    used = {identity(other.values) for other in avoiding}
    # The text of a seed is hashed the same way in every process.
    rng = random.Random(f"{seed}")  # noqa: S311 - values of a question, no secret
    parts = ready(template)
    found, _ = one(parts, rng)
    for _ in range(OTHER_TRIES if used else 0):
        if identity(found) not in used:
            break
        found, _ = one(parts, rng)
    return Draw(f"{seed}", found)


def variety_of(template: Template, draws: int = 200) -> int:
    """Return how many different draws are among so many: a lower bound of how many there are."""
    parts, rng = ready(template), random.Random("check")  # noqa: S311
    return len({identity(one(parts, rng)[0]) for _ in range(draws)})


def one(parts: Ready, rng: random.Random, tries: int = MAX_TRIES) -> tuple[dict[str, Stored], int]:
    """Draw until the conditions hold.

    Returns
    -------
    dict, int
        The values, and how many tries they took.

    Raises
    ------
    Undefined
        ``too_rare`` when the conditions never hold, else what the values lack.
    """
    lack = Undefined("too_rare")
    for tried in range(1, tries + 1):
        try:
            stored = domains.pick(parts.domains, rng)
            if domains.accepts(parts.domains, domains.resolve(parts.domains, stored)):
                return stored, tried
        except Undefined as error:
            # A condition may exclude what has no value, so one such draw says nothing.
            lack = error
            if not parts.domains.conditions:
                raise
    raise lack


def identity(values: Mapping[str, Stored]) -> tuple[tuple[str, Stored], ...]:
    """Return what two draws of the same values have in common."""
    return tuple(sorted(values.items()))
