"""Whether a number, with its unit, is the one asked for.

With a tolerance of the teacher's: the difference, in the key's unit, is at most that amount or share.

Without one, an answer is right when it is the key

- to half a unit of the last figure that the teacher wrote after the decimal sign (or with a power of ten), but at
  most 5 % of it: 2.7 takes 2.65 to 2.75. A whole number is meant exactly: 8 electrons are 8;
- or rounded by the student to two figures or more, if that is within 1 % of it: 27.8 and 28 m/s for 100 km/h, 0.33
  for 1/3, 9.8 for 9.81, but not 3.1 for 3.14.

These defaults are chosen: two or three figures are what school physics asks for, and 1 % is what two figures are
worth on average. A tolerance of the teacher's replaces them.

A number that may be read in two ways (``1,234``), or a unit (``J/kg K``), is right when one of the readings is.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import ClassVar

from bot.grading import numbers, units
from bot.grading.courtesy import bare, counted_words
from bot.grading.latex import plain_formula
from bot.grading.numbers import Numeral, Written
from bot.grading.numberwords import in_figures
from bot.grading.units import Unit
from bot.grading.verdict import Detail, GradingResult, judged, unreadable
from storage.files.values import QuestionKind, Tolerance

RELATIVE_ROUNDING = 1e-9
# Rounding errors of a temperature are relative to its distance from absolute zero, not from 0 °C.
OFFSET_ROUNDING = 1e-6
MAX_DEFAULT_SHARE = 0.05
STUDENT_FIGURES = 2
MAX_ROUNDED_SHARE = 0.01

PERCENT = (("percent", 1),)


_ADJECTIVES = (
    "long|high|wide|deep|tall|thick|far|away|fast|heavy|old|warm|hot|cold|each|altogether|in total|"
    "lang|hoch|breit|tief|dick|weit|schnell|schwer|alt|heiß|kalt|jeweils|insgesamt"
)
_ADJECTIVE = re.compile(rf"(?:^| )(?:{_ADJECTIVES})$", re.IGNORECASE)


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


def grade_number(key: NumberKey, given: str, question: str = "") -> GradingResult:
    """Grade a typed number.

    Parameters
    ----------
    key : NumberKey
    given : str
    question : str
        What was asked: "8 electrons" answers "How many electrons …?".

    Returns
    -------
    GradingResult
        UNIT_MISSING (unreadable) only when the number is right in some unit that could be meant; a number that
        is wrong in all of them is wrong.
    """
    given = plain_formula(given)
    written = numbers.read(given) or numbers.read(in_figures(bare(given)))
    if written is None:
        return unreadable(Detail.NOT_A_NUMBER)
    written = Written(written.readings, _unit_text(written.rest))
    if not written.rest or _is_counted(key, written.rest, question):
        return _without_unit(key, written)
    meant = units.read(written.rest)
    if not meant:
        return unreadable(Detail.UNKNOWN_UNIT, written.rest[:40])
    if _measures_a_count(key, meant[0], question):
        return judged(False, Detail.WRONG_DIMENSION, _shown(written, meant[0].shown))
    return _with_unit(key, written, meant)


def _unit_text(rest: str) -> str:
    """Drop the adjective of "5 cm long"."""
    return rest if units.read(rest) else _ADJECTIVE.sub("", rest)


def _is_counted(key: NumberKey, rest: str, question: str) -> bool:
    """Whether what follows the number is only what the question counts."""
    return not key.accepted[0].unit and rest.casefold() in counted_words(question)


def _measures_a_count(key: NumberKey, unit: Unit, question: str) -> bool:
    """Whether something is counted, and the answer has a unit of measure: 8 kg are no 8 electrons."""
    counted = counted_words(question)[:1]
    if not counted or key.accepted[0].unit or unit.factors == PERCENT:
        return False
    asked = units.read(counted[0])
    return not asked or not units.same_dimension(asked[0], unit)


@lru_cache(maxsize=1024)
def _unit(text: str) -> Unit | None:
    return units.read(text)[0] if text else None


def _shown(written: Written, unit: str = "") -> str:
    return f"{numbers.shown(written.readings[0].value)} {unit}".strip()


def _without_unit(key: NumberKey, written: Written) -> GradingResult:
    for amount in key.accepted:
        unit = _unit(amount.unit)
        bare = unit is None or unit.factors == PERCENT
        if bare and any(_fits(key, amount, x, n) for n in written.readings for x in _bare(amount, n)):
            return judged(True, read_as=_shown(written))
        if not bare and unit is not None and _fits_some_unit(key, amount, written, unit):
            return _ask_unit(written, unit)
    return judged(False, read_as=_shown(written))


def _bare(amount: Amount, numeral: Numeral) -> tuple[float, ...]:
    # "75" and "0.75" both answer a question for a percentage.
    return (numeral.value, numeral.value * 100.0) if amount.unit else (numeral.value,)


def _fits_some_unit(key: NumberKey, amount: Amount, written: Written, unit: Unit) -> bool:
    candidates = [unit, *(units.read(name)[0] for name in units.offered(unit))]
    return any(_fits_in(key, amount, n, u, unit) for n in written.readings for u in candidates)


def _ask_unit(written: Written, unit: Unit) -> GradingResult:
    number = numbers.shown(written.readings[0].value)
    asked = unreadable(Detail.UNIT_MISSING, number)
    return GradingResult(asked.outcome, asked.detail, number, units.offered(unit), number)


def _with_unit(key: NumberKey, written: Written, meant: tuple[Unit, ...]) -> GradingResult:
    shown = _shown(written, meant[0].shown)
    converted = False
    for amount in key.accepted:
        unit = _unit(amount.unit)
        if unit is None:
            extra = _unit_not_asked(key, amount, written, meant)
            if extra:
                return judged(True, Detail.UNIT_NOT_ASKED, shown)
            converted = True
            continue
        short = units.short_temperature(written.rest, unit)
        fitting = [u for u in (*meant, *([short] if short else [])) if units.same_dimension(u, unit)]
        converted = converted or bool(fitting)
        if any(_fits_in(key, amount, n, u, unit) for n in written.readings for u in fitting):
            return judged(True, read_as=shown)
    return judged(False, None if converted else Detail.WRONG_DIMENSION, shown)


def _unit_not_asked(key: NumberKey, amount: Amount, written: Written, meant: tuple[Unit, ...]) -> bool:
    share = meant[0].factors == PERCENT
    values = ((n, x) for n in written.readings for x in ((n.value, n.value / 100.0) if share else (n.value,)))
    return any(_fits(key, amount, x, n) for n, x in values)


def _fits_in(key: NumberKey, amount: Amount, numeral: Numeral, unit: Unit, target: Unit) -> bool:
    """Whether a number in one unit is the amount, which is in the target unit."""
    value = units.convert(numeral.value, unit, target)
    if value is None:
        return False
    moved = units.convert(numeral.value + numeral.rounding, unit, target)
    rounding = abs((moved if moved is not None else value) - value)
    offset = OFFSET_ROUNDING if unit.is_offset or target.is_offset else 0.0
    return _is_near(key, amount, value, _own_rounding(numeral, rounding), offset)


def _fits(key: NumberKey, amount: Amount, value: float, numeral: Numeral) -> bool:
    scale = abs(value / numeral.value) if numeral.value else 1.0
    return _is_near(key, amount, value, _own_rounding(numeral, numeral.rounding * scale))


def _own_rounding(numeral: Numeral, rounding: float) -> float:
    return rounding if (numeral.figures or 0) >= STUDENT_FIGURES else 0.0


def _is_near(key: NumberKey, amount: Amount, value: float, rounding: float, offset: float = 0.0) -> bool:
    allowed = max(_allowed(key, amount, rounding)) * (1.0 + RELATIVE_ROUNDING)
    noise = RELATIVE_ROUNDING * max(abs(value), abs(amount.value)) + offset
    return abs(value - amount.value) <= allowed + noise


def _allowed(key: NumberKey, amount: Amount, rounding: float) -> Iterator[float]:
    if key.tolerance is not None:
        yield key.tolerance.amount * (abs(amount.value) if key.tolerance.relative else 1.0)
        return
    # A whole number (last figure at the ones) and a fraction are exact.
    if amount.place not in (None, 0):
        half = Numeral(amount.value, amount.figures, amount.place).rounding
        yield min(half, MAX_DEFAULT_SHARE * abs(amount.value))
    yield min(rounding, MAX_ROUNDED_SHARE * abs(amount.value))
