"""A question whose answer is a number, with a unit or without."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from bot.grading import numbers, units
from bot.grading.amounts import Amount, NumberKey, grade_number
from bot.grading.kinds.formula import looks_like_formula
from bot.grading.kinds.recipe import (
    Column,
    DrawnAnswer,
    Given,
    KeyFault,
    Recipe,
    WrittenKey,
    quoted,
    stored_list,
    stored_text,
)
from bot.grading.latex import inside_dollars, plain_formula
from bot.grading.signs import plain
from bot.grading.verdict import Detail, GradingResult
from storage.files.values import Tolerance

CHANCE = 0.02
"""Chosen: nobody can read a typed answer off the screen, yet a number of the prompt can be guessed. No published value
fits all classes; the model corrects the level of a question by its own answers."""


class NumberKind(Recipe[NumberKey]):
    """A number to type."""

    kind = "number"
    key_type = NumberKey
    is_figure = True
    drawn_answer = "formula"
    drawn_unit = "known"

    def fits(self, written: WrittenKey) -> bool:
        """Whether the answer reads as a number, or a unit is given."""
        inner = inside_dollars(written.answer)
        if inner is not None:
            return _looks_like_number(plain_formula(inner), written.question)
        return _looks_like_number(written.answer, written.question) or bool(plain(written.unit))

    def make(self, written: WrittenKey, fault: KeyFault) -> NumberKey | None:
        """Make a key of numbers whose units are known."""
        default = _known_unit(written.unit, "unit", fault)
        found = [_amount(written.answer, "answer", default, fault)]
        found += [_amount(text, "alternatives", default, fault) for text in written.alternatives]
        _check_tolerance(written.tolerance, fault)
        accepted = tuple(amount for amount in found if amount is not None)
        return NumberKey(accepted, written.tolerance) if accepted else None

    def read(self, stored: Mapping[str, Any]) -> NumberKey:
        """Read a stored key."""
        accepted = tuple(_stored_amount(row) for row in stored_list(stored["accepted"]))
        return NumberKey(accepted, _stored_tolerance(stored["tolerance"]))

    def written(self, key: NumberKey) -> WrittenKey:
        """Return the amounts, the unit of the first apart."""
        first, *more = key.accepted
        others = tuple(f"{self._figure(one)} {one.unit}".strip() for one in more)
        return WrittenKey(self._figure(first), others, tolerance=key.tolerance, unit=first.unit)

    def _figure(self, amount: Amount) -> str:
        """Write a number so that it is read as the same one, with as many figures as the teacher gave it."""
        bare = NumberKey((replace(amount, unit=""),))
        power = "" if amount.figures is None else f"{amount.value:.{amount.figures - 1}e}"
        texts = (self.shown(bare)[0], power)
        return next((text for text in texts if text and self._reads_as(text, bare)), repr(amount.value))

    def _reads_as(self, text: str, key: NumberKey) -> bool:
        faults: list[str] = []

        def fault(column: Column, found: str, code: str, /, **values: Any) -> None:
            del column, found, values
            faults.append(code)

        return self.make(WrittenKey(text), fault) == key and not faults

    def fits_drawn(self, is_computed: bool, example: str) -> bool:
        """Whether the answer is computed."""
        del example
        return is_computed

    def make_drawn(
        self,
        right: DrawnAnswer,
        more: Sequence[DrawnAnswer],
        wrong: Sequence[DrawnAnswer],
        tolerance: Tolerance | None,
    ) -> NumberKey:
        """Make the key of the amounts of one draw. Raises `TypeError` where an answer was not computed."""
        del wrong
        if not all(answer.amounts for answer in (right, *more)):
            raise TypeError("the answer of a number question was not computed")
        return NumberKey(tuple(one for answer in (right, *more) for one in answer.amounts), tolerance)

    def make_listed(self, written: WrittenKey) -> NumberKey:
        """Show the formula in the place of the number."""
        return NumberKey((Amount(0.0, written.unit, written=written.answer),), written.tolerance)

    def is_error(self, error: NumberKey, given: Given) -> bool:
        """Compare without units too: whoever made the error wrote some unit or none, and the number alone tells it."""
        bare = NumberKey(tuple(replace(amount, unit="") for amount in error.accepted), error.tolerance)
        verdicts = [self.grade(key, given) for key in (error, bare)]
        return any(one.right or one.detail is Detail.UNIT_MISSING for one in verdicts)

    def grade(self, key: NumberKey, given: Given) -> GradingResult:
        """Compare amounts, whatever their units."""
        return grade_number(key, given.text, given.question)

    def chance(self, key: NumberKey) -> float:
        """Return what is chosen for numbers."""
        del key
        return CHANCE

    def shown(self, key: NumberKey) -> tuple[str, ...]:
        """Write every accepted amount."""
        return tuple(map(_amount_shown, key.accepted))

    def hint(self, key: NumberKey) -> str:
        """Ask for the unit where there is one."""
        return "unit" if key.accepted[0].unit else self.kind

    def typed_lines(self, key: NumberKey) -> tuple[str, ...]:
        """Return the line of a tolerance."""
        tolerance = key.tolerance
        if tolerance is None:
            return ()
        amount = f"{tolerance.amount:.6g}" if not tolerance.relative else f"{tolerance.amount * 100:.6g} %"
        return (f"tolerance: {amount}",)

    def interaction(self, key: NumberKey, language: str) -> dict[str, Any]:
        """Describe a short text, since it carries a unit.

        Other spellings of the number, and other units, are right too: a pattern would not be exhaustive.
        """
        del key, language
        return {"interactionType": "fill-in"}


def _amount_shown(amount: Amount) -> str:
    written = amount.written or numbers.shown(amount.value)
    if amount.place is not None and -10 < amount.place < 0 and "×" not in written:
        # The teacher's own precision: 2.70 stays 2.70.
        written = f"{amount.value:.{-amount.place}f}".replace("-", "−")
    return f"{written}{'' if amount.unit in ('', '°') else ' '}{amount.unit}"


# --- stored -----------------------------------------------------------------------------------------------


def _stored_amount(row: Mapping[str, Any]) -> Amount:
    value = float(row["value"])
    if not math.isfinite(value):
        raise ValueError("a number that is not finite")
    figures, place = (None if row[name] is None else int(row[name]) for name in ("figures", "place"))
    # Keys stored before ratios were known have no such entry.
    return Amount(value, stored_text(row["unit"]), figures, place, stored_text(row.get("written", "")))


def _stored_tolerance(row: Mapping[str, Any] | None) -> Tolerance | None:
    return None if row is None else Tolerance(float(row["amount"]), bool(row["relative"]))


# --- at upload --------------------------------------------------------------------------------------------


def _known_unit(text: str, column: Column, fault: KeyFault) -> str:
    if not text:
        return ""
    meant = units.read(units.spaced(text))
    if len(meant) == 1:
        return meant[0].shown
    code = "unit_two_ways" if meant else "unit_unknown"
    fault(column, text, code, unit=quoted(text))
    return ""


def _amount(text: str, column: Column, default: str, fault: KeyFault) -> Amount | None:
    text = plain_formula(text) if inside_dollars(text) else text
    written = numbers.read(text)
    if written is None:
        fault(column, text, "number", found=quoted(text))
        return None
    if len(written.readings) > 1 and "," in text:
        first, second = (f"{numeral.value:.12g}" for numeral in written.readings[:2])
        fault(column, text, "number_two_ways", found=quoted(text), first=first, second=second)
        return None
    own = _known_unit(written.rest, column, fault)
    if own and default and not units.same_dimension(units.read(own)[0], units.read(default)[0]):
        fault("unit", default, "units_differ", own=own, unit=default)
    numeral = written.readings[0]
    exact = _exact(text, written.rest) if numeral.place is None else ""
    return Amount(numeral.value, own or default, numeral.figures, numeral.place, exact)


def _exact(text: str, rest: str) -> str:
    """Return a fraction or a ratio as it is shown again: ``2:1``, ``1 3/4``."""
    found = re.search(
        r"[+-]?(?:\d+ )?\d[\d.,]*(?: ?[:/] ?| to | zu )\d[\d.,]*", plain(text).removesuffix(rest)
    )
    return re.sub(r" ?[:/] ?| to | zu ", lambda m: "/" if "/" in m[0] else ":", found[0]) if found else ""


def _check_tolerance(tolerance: Tolerance | None, fault: KeyFault) -> None:
    if tolerance is None:
        return
    amount = tolerance.amount
    if not 0 <= amount < float("inf") or (tolerance.relative and amount >= 1):
        shown = f"{amount:.0%}" if tolerance.relative else f"{amount:g}"
        fault("tolerance", shown, "tolerance", found=shown)


def _looks_like_number(answer: str, question: str) -> bool:
    written = None if _is_clock(answer, question) else numbers.read(answer)
    if written is None or (written.rest and not units.read(written.rest)):
        return False
    return not (_multiplies_quantities(answer, written) and looks_like_formula(answer))


def _multiplies_quantities(answer: str, written: numbers.Written) -> bool:
    """Whether what follows the number is a product of quantities that could be taken for units: ``1/2*m*v^2``."""
    names = re.findall(r"[^\W\d_]+", written.rest)
    if len(names) < 2:
        return False
    if re.search(r"\d ?[*·⋅×] ?[^\W\d]", answer) and plain(written.rest)[:1] == "·":
        return "*" in answer or "=" in answer
    # No unit is written with a small v: a single letter that is a unit only with another capital is a quantity.
    strange = [name for name in names if len(name) == 1 and not units.is_spelled_well(name)]
    return bool(strange) and ("=" in answer or written.readings[0].place is None)


_CLOCK = re.compile(r"(?:[01]?\d|2[0-4]):[0-5]\d(?!\d)")
_ASKS_RATIO = re.compile(
    r"\b(?:ratios?|scale|proportions?|odds|aspect|gear\w*|verhältnis\w*|maßstab\w*|übersetzung\w*)\b",
    re.IGNORECASE,
)


def _is_clock(answer: str, question: str) -> bool:
    """Whether ``10:15`` is meant: a time of day is a text, unless the question asks for a ratio."""
    return _CLOCK.match(plain(answer)) is not None and _ASKS_RATIO.search(question) is None
