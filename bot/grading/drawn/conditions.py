"""Conditions on a draw in plain words: ``s/t < 20``, ``0 < a < b``, ``s/t is whole``, ``a ≠ b``.

The words are read in English and German; several conditions are joined by "and" or "und".
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from bot.grading.drawn import exact, expressions
from bot.grading.drawn.errors import Unread, quoted
from bot.grading.drawn.exact import Value
from bot.grading.drawn.expressions import Expression

MAX_PARTS = 8

_AND = re.compile(r"\s+(?:and|und)\s+")
_SIGNS = re.compile(r"<=|>=|!=|<|>|=|≤|≥|≠")
_IS = re.compile(r"^(?P<what>.+?)\s+(?:is|ist)\s+(?P<no>not\s+|nicht\s+|kein\s+|keine\s+)?(?P<property>.+)$")
_DECIMALS = re.compile(
    r"^(?P<what>.+?)\s+(?:has at most|hat höchstens)\s+(?P<most>\d)\s+(?:decimals?|Nachkommastellen?)$"
)

_PROPERTIES: Mapping[str, str] = {
    "whole": "whole", "a whole number": "whole", "ganz": "whole", "ganzzahlig": "whole",
    "positive": "positive", "positiv": "positive", "negative": "negative", "negativ": "negative",
    "even": "even", "gerade": "even", "odd": "odd", "ungerade": "odd",
    "a square": "square", "square": "square", "eine Quadratzahl": "square", "Quadratzahl": "square",
    "prime": "prime", "prim": "prime", "eine Primzahl": "prime", "Primzahl": "prime",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Comparison:
    """Formulas with signs between them: all must hold."""

    signs: tuple[str, ...]
    sides: tuple[Expression, ...]


@dataclass(frozen=True, slots=True)
class Property:
    """A formula whose value must have a property, or must not."""

    name: str
    of: Expression
    negated: bool = False
    most: int = 0


Condition = Comparison | Property


def read(text: str, names: Iterable[str]) -> tuple[Condition, ...]:
    """Read conditions joined by "and".

    Raises
    ------
    Unread
        ``condition`` when a part is none, else as :func:`expressions.read`.
    """
    parts = _AND.split(text.strip())
    if len(parts) > MAX_PARTS:
        raise Unread("too_big", found=quoted(text))
    known = frozenset(names)
    return tuple(_part(part.strip(), known) for part in parts)


def _part(text: str, names: frozenset[str]) -> Condition:
    if match := _DECIMALS.match(text):
        return Property("decimals", expressions.read(match["what"], names), most=int(match["most"]))
    match = _IS.match(text)
    if match and (name := _PROPERTIES.get(match["property"])):
        return Property(name, expressions.read(match["what"], names), bool(match["no"]))
    if match and match["no"]:
        # "a is not b"
        sides = (expressions.read(match["what"], names), expressions.read(match["property"], names))
        return Comparison(("≠",), sides)
    signs = tuple(_SIGNS.findall(text))
    if not 1 <= len(signs) <= 3:
        raise Unread("condition", found=quoted(text))
    return Comparison(signs, tuple(expressions.read(side, names) for side in _SIGNS.split(text)))


def formulas_of(condition: Condition) -> tuple[Expression, ...]:
    """Return the formulas of a condition."""
    return condition.sides if isinstance(condition, Comparison) else (condition.of,)


def holds(condition: Condition, values: Mapping[str, Value | str]) -> bool:
    """Whether a draw fulfils a condition.

    Raises
    ------
    Undefined
        When a formula in it has no value.
    """
    if isinstance(condition, Property):
        value = expressions.evaluate(condition.of, values)
        return _has(condition, value) != condition.negated
    sides = [expressions.evaluate(side, values) for side in condition.sides]
    pairs = zip(condition.signs, sides[:-1], sides[1:], strict=True)
    return all(_COMPARE[sign](left, right) for sign, left, right in pairs)


_COMPARE: Mapping[str, Callable[[Value, Value], bool]] = {
    "<": lambda a, b: a < b and not exact.near(a, b),
    ">": lambda a, b: a > b and not exact.near(a, b),
    "=": exact.near,
    "≠": lambda a, b: not exact.near(a, b),
    "!=": lambda a, b: not exact.near(a, b),
    "≤": lambda a, b: a < b or exact.near(a, b),
    "<=": lambda a, b: a < b or exact.near(a, b),
    "≥": lambda a, b: a > b or exact.near(a, b),
    ">=": lambda a, b: a > b or exact.near(a, b),
}


def _has(condition: Property, value: Value) -> bool:
    if condition.name == "positive":
        return value > 0
    if condition.name == "negative":
        return value < 0
    if condition.name == "decimals":
        return exact.is_whole(exact.combine("*", value, exact.from_float(10.0**condition.most)))
    if not exact.is_whole(value):
        return False
    number = exact.whole(value)
    return _WHOLE[condition.name](number)


def _is_square(number: int) -> bool:
    return number >= 0 and exact.is_whole(exact.apply("sqrt", exact.from_float(float(number))))


def _is_prime(number: int) -> bool:
    # School primes are small; a larger one would take long to tell.
    return 2 <= number < 1_000_000 and all(number % n for n in range(2, int(number**0.5) + 1))


_WHOLE: Mapping[str, Callable[[int], bool]] = {
    "whole": lambda number: True,
    "even": lambda number: number % 2 == 0,
    "odd": lambda number: number % 2 == 1,
    "square": _is_square,
    "prime": _is_prime,
}
