"""What the right answer of a question is: one frozen value per kind, kept as JSON beside the question.

A key is made and checked once, at upload (:mod:`bot.grading.upload`), and read back for every answer.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any, ClassVar

from bot.grading import numbers
from storage.files.values import QuestionKind, Tolerance


class BadKey(ValueError):
    """A stored key is damaged; the message says how."""


@dataclass(frozen=True, slots=True)
class ChoiceKey:
    """One right option and the wrong ones. Option 0 is the right one wherever options have numbers."""

    kind: ClassVar[QuestionKind] = "choice"
    right: str
    wrong: tuple[str, ...]

    @property
    def options(self) -> tuple[str, ...]:
        """All options, the right one first; each review shows them in an order of its own."""
        return (self.right, *self.wrong)


@dataclass(frozen=True, slots=True)
class Amount:
    """A number with its unit ("" for none), and how precisely it was written (see ``numbers.Numeral``).

    `written` is how a ratio or a fraction is shown ("2:1"); empty for what is shown by its value.
    """

    value: float
    unit: str = ""
    figures: int | None = None
    place: int | None = None
    written: str = ""


@dataclass(frozen=True, slots=True)
class NumberKey:
    """Accepted amounts, the first is shown; a tolerance, or None for the default of ``grade``."""

    kind: ClassVar[QuestionKind] = "number"
    accepted: tuple[Amount, ...]
    tolerance: Tolerance | None = None


@dataclass(frozen=True, slots=True)
class TextKey:
    """Accepted texts, the first is shown; texts that are wrong however near; whether typos are forgiven."""

    kind: ClassVar[QuestionKind] = "text"
    answers: tuple[str, ...]
    wrong: tuple[str, ...] = ()
    typos: bool = True


@dataclass(frozen=True, slots=True)
class FormulaKey:
    """Accepted formulas, the first is shown."""

    kind: ClassVar[QuestionKind] = "formula"
    answers: tuple[str, ...]


AnswerKey = ChoiceKey | NumberKey | TextKey | FormulaKey

# Chosen, because nobody can read a typed answer off the screen, yet some are guessable: a number of the prompt,
# a term of the lesson's title. A formula needs several symbols in the right places. No published value fits all
# classes; the model corrects the level of a question by its own answers.
TYPED_CHANCE: Mapping[QuestionKind, float] = {"number": 0.02, "text": 0.02, "formula": 0.01}


def chance_of(key: AnswerKey) -> float:
    """Probability of a right answer without any knowledge: 1/n for n options, small for typed kinds."""
    return 1.0 / len(key.options) if isinstance(key, ChoiceKey) else TYPED_CHANCE[key.kind]


def shown(key: AnswerKey) -> str:
    """Write the right answer for a student to read.

    Examples
    --------
    >>> shown(NumberKey((Amount(2.70, "g/cm³", 3, -2),)))
    '2.70 g/cm³'
    """
    if isinstance(key, ChoiceKey):
        return key.right
    return _amount_shown(key.accepted[0]) if isinstance(key, NumberKey) else key.answers[0]


def all_shown(key: AnswerKey) -> tuple[str, ...]:
    """Write every right answer for people to read, the one that is shown to students first."""
    if isinstance(key, ChoiceKey):
        return (key.right,)
    return tuple(map(_amount_shown, key.accepted)) if isinstance(key, NumberKey) else key.answers


def _amount_shown(amount: Amount) -> str:
    written = amount.written or numbers.shown(amount.value)
    if amount.place is not None and -10 < amount.place < 0 and "×" not in written:
        # The teacher's own precision: 2.70 stays 2.70.
        written = f"{amount.value:.{-amount.place}f}".replace("-", "−")
    return f"{written}{'' if amount.unit in ('', '°') else ' '}{amount.unit}"


# --- JSON -------------------------------------------------------------------------------------------------


def to_dict(key: AnswerKey) -> dict[str, Any]:
    """Return the key as values that JSON can hold; :func:`from_dict` gives an equal key back."""
    values = {name: list(v) if isinstance(v, tuple) else v for name, v in asdict(key).items()}
    return {"kind": key.kind, **values}


def from_dict(data: Mapping[str, Any]) -> AnswerKey:
    """Read a stored key.

    Raises
    ------
    BadKey
        When the values are not those that :func:`to_dict` writes.
    """
    try:
        return _read(data)
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise BadKey(f"A stored answer key is damaged ({error}). Upload the question again.") from error


def _read(data: Mapping[str, Any]) -> AnswerKey:
    kind = data["kind"]
    if kind == "choice":
        return ChoiceKey(_text(data["right"]), _texts(data["wrong"]))
    if kind == "number":
        return NumberKey(
            tuple(_amount(row) for row in _some(data["accepted"])), _tolerance(data["tolerance"])
        )
    if kind == "text":
        return TextKey(_texts(data["answers"]), _texts(data["wrong"], least=0), bool(data["typos"]))
    if kind == "formula":
        return FormulaKey(_texts(data["answers"]))
    raise ValueError(f"unknown kind {kind!r:.40}")


def _some(values: Any) -> list[Any]:
    if not isinstance(values, list | tuple) or not values:
        raise ValueError("an empty list")
    return list(values)


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise TypeError(f"{value!r:.40} is no text")
    return value


def _texts(values: Any, least: int = 1) -> tuple[str, ...]:
    found = tuple(_text(value) for value in (_some(values) if least else values))
    if len(found) < least:
        raise ValueError("too few texts")
    return found


def _amount(row: Mapping[str, Any]) -> Amount:
    value = float(row["value"])
    if not math.isfinite(value):
        raise ValueError("a number that is not finite")
    figures, place = (None if row[name] is None else int(row[name]) for name in ("figures", "place"))
    # Keys stored before ratios were known have no such entry.
    return Amount(value, _text(row["unit"]), figures, place, _text(row.get("written", "")))


def _tolerance(row: Mapping[str, Any] | None) -> Tolerance | None:
    return None if row is None else Tolerance(float(row["amount"]), bool(row["relative"]))
