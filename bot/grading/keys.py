"""What the right answer of a question is: one frozen value per kind, kept as JSON beside the question.

A key is made and checked once, at upload (:mod:`bot.grading.upload`), and read back when it is needed. The keys are in
the modules of their kinds (:mod:`bot.grading.kinds`).
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict
from functools import lru_cache
from typing import Any

from bot.grading.amounts import Amount, NumberKey
from bot.grading.kinds import KINDS, AnswerKey, recipe_of
from bot.grading.kinds.choice import ChoiceKey
from bot.grading.kinds.formula import FormulaKey
from bot.grading.kinds.text import TextKey

__all__ = [
    "Amount",
    "AnswerKey",
    "BadKey",
    "ChoiceKey",
    "FormulaKey",
    "NumberKey",
    "TextKey",
    "all_shown",
    "chance_of",
    "from_dict",
    "shown",
    "to_dict",
]

KEYS_KEPT = 4096
"""So many keys are kept as they were read: those of the questions that are being asked, many times over."""


class BadKey(ValueError):
    """A stored key is damaged; the message says how."""


def chance_of(key: AnswerKey) -> float:
    """Probability of a right answer without any knowledge: 1/n for n options, small for typed kinds."""
    return recipe_of(key).chance(key)


def shown(key: AnswerKey) -> str:
    """Write the right answer for a student to read.

    Examples
    --------
    >>> shown(NumberKey((Amount(2.70, "g/cm³", 3, -2),)))
    '2.70 g/cm³'
    """
    return all_shown(key)[0]


def all_shown(key: AnswerKey) -> tuple[str, ...]:
    """Write every right answer for people to read, the one that is shown to students first."""
    return recipe_of(key).shown(key)


# --- JSON -------------------------------------------------------------------------------------------------


def to_dict(key: AnswerKey) -> dict[str, Any]:
    """Return the key as values that JSON can hold; :func:`from_dict` gives an equal key back."""
    values = {name: list(v) if isinstance(v, tuple) else v for name, v in asdict(key).items()}
    return {"kind": key.kind, **values}


def from_dict(data: Mapping[str, Any]) -> AnswerKey:
    """Read a stored key; the same values are read once, and the same key is given back.

    Raises
    ------
    BadKey
        When the values are not those that :func:`to_dict` writes.
    """
    try:
        return _read(json.dumps(data))
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise BadKey(f"A stored answer key is damaged ({error}). Upload the question again.") from error


@lru_cache(maxsize=KEYS_KEPT)
def _read(stored: str) -> AnswerKey:
    data = json.loads(stored)
    kind = data["kind"]
    if kind not in KINDS:
        raise ValueError(f"unknown kind {kind!r:.40}")
    key: AnswerKey = KINDS[kind].read(data)
    return key
