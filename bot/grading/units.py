"""Reading a unit, and converting between vetted units.

The student's text is read here, by a grammar of a few lines over the list in :mod:`bot.grading.unitnames`; the
conversion library (pint, imported when the first conversion is asked for) sees only names of that list with
whole powers. Reasons, each seen with pint 0.25: ``3,5 m`` becomes 35 metre, ``10**10**10`` does not end, "5 Kg"
and "20 °C" raise.

Grammar::

    product := factor { ["·" | " "] factor | "/" factor }
    factor  := ( name | "1" | "(" product ")" ) [ "^" ] [ whole number ]

``J/kg K`` is written for J/(kg K) as often as it is meant literally: both readings are given.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import product as combinations
from typing import TYPE_CHECKING

from bot.grading.signs import plain, raised
from bot.grading.unitnames import COMPOUNDS, Product, meanings, symbols, words

if TYPE_CHECKING:
    import pint

MAX_UNIT_CHARS = 60
MAX_READINGS = 16
MAX_NESTING = 4
MAX_UNIT_POWER = 12

_PHRASES = (
    (re.compile(r"\bper ?cent\b", re.I), "%"),
    (re.compile(r"(?<=\w)\.(?=[^\W\d])"), "·"),
    (re.compile(r"\b(?:per|pro)\b", re.I), "/"),
    (re.compile(r"\b(?:degrees?|deg|grad)\.? ?(?:c|celsius|centigrade)\b", re.I), "°C"),
    (re.compile(r"\b(?:degrees?|deg|grad)\.? ?(?:f|fahrenheit)\b", re.I), "°F"),
    (re.compile(r"° (?=[CFcf]\b)"), "°"),
    (re.compile(r"\blight[ -]years?\b", re.I), "ly"),
    (re.compile(r"\bmm ?Hg\b"), "mmHg"),
    (re.compile(r"\bsquare[d]? ([^\W\d]+)", re.I), r"\1^2"),
    (re.compile(r"\bcubic ([^\W\d]+)", re.I), r"\1^3"),
    (re.compile(r"([^\W\d]+) squared\b", re.I), r"\1^2"),
    (re.compile(r"([^\W\d]+) cubed\b", re.I), r"\1^3"),
    # German
    (re.compile(r"\bquadrat([^\W\d]+)", re.I), r"\1^2"),
    (re.compile(r"\bkubik([^\W\d]+)", re.I), r"\1^3"),
    (re.compile(r"([^\W\d]+) (?:zum|im) quadrat\b", re.I), r"\1^2"),
    (re.compile(r"([^\W\d]+) hoch (?:(minus) |)(\d)", re.I), lambda m: f"{m[1]}^{'-' if m[2] else ''}{m[3]}"),
)
_POWER = r"[+-]?\d{1,2}(?!\d)|\( ?[+-]?\d{1,2} ?\)|\{[+-]?\d{1,2}\}"
# A bare number is a power ("cm3", "s-1"); in brackets only after a "^", else the bracket is a product's.
_TOKEN = re.compile(rf" ?\^ ?({_POWER})|([+-]?\d{{1,2}}(?!\d))| ?([/·()]) ?|( )|([^\W\d_]+|°[^\W\d_]*|[%Å])")
# "ms⁻²", as courses write m s⁻²: a power below a name that is several.
_RUN = re.compile(r"([^\W\d_]{2,6})(?= ?\^ ?[({]?-| ?-\d)")
_OFFSET = ("degree_Celsius", "degree_Fahrenheit")


@dataclass(frozen=True, slots=True)
class Unit:
    """A vetted unit: names with powers, in alphabetical order, and how to show it."""

    factors: Product
    shown: str

    @property
    def is_offset(self) -> bool:
        """Whether it is a temperature whose zero is not that of the kelvin."""
        return len(self.factors) == 1 and self.factors[0][1] == 1 and self.factors[0][0] in _OFFSET


class _NotAUnit(ValueError):
    """The text is no unit; never leaves this module."""


def read(text: str) -> tuple[Unit, ...]:
    """Return every reading of a unit's text, the strict one first; empty when it is no unit of the list.

    Examples
    --------
    >>> [unit.factors for unit in read("m/s²")]
    [(('meter', 1), ('second', -2))]
    >>> len(read("J/kg K")), read("qwerty")
    (2, ())
    """
    if len(text) > MAX_UNIT_CHARS:
        return ()
    return _read(plain(text).strip(" .·"))


@lru_cache(maxsize=2048)
def _read(text: str) -> tuple[Unit, ...]:
    if not text:
        return ()
    shown = _shown(text)
    for pattern, replacement in _PHRASES:
        text = pattern.sub(replacement, text)
    text = f"1{text}" if text.lstrip().startswith("/") else text
    found: dict[Product, Unit] = {}
    # "KM/H" was typed with the capitals locked; single capitals have their own meaning.
    spellings = [text, text.lower()] if text.isupper() and ("/" in text or "·" in text) else [text]
    for spelling in (*spellings, *_spaced(text)):
        for factors in _products(spelling):
            found.setdefault(factors, Unit(factors, shown))
    return tuple(found.values())[:MAX_READINGS]


def is_spelled_well(name: str) -> bool:
    """Whether a name is a unit as it stands, with its capitals; ``v`` is none, ``V`` is the volt."""
    return name in symbols() or name.casefold() in words()


def spaced(text: str) -> str:
    """Write a unit of a course apart, to be shown and read in one way: ``ms⁻²`` is m s⁻².

    Examples
    --------
    >>> spaced("ms^-2"), spaced("J kg^-1"), spaced("mol^-1")
    ('m s^-2', 'J kg^-1', 'mol^-1')
    """
    return next(iter(_spaced(plain(text))), text)


def _spaced(text: str) -> list[str]:
    """Return the ways to write the names before a negative power apart; none where there is nothing to part."""
    found = [""]
    at = 0
    for run in _RUN.finditer(text):
        # A name of its own is left whole, but for millisecond: "ms⁻¹" is written for metres per second.
        apart = [] if meanings(run[1]) and run[1] != "ms" and run[1] not in COMPOUNDS else _split(run[1])
        found = [head + text[at : run.start()] + way for head in found for way in (apart or [run[1]])][
            :MAX_READINGS
        ]
        at = run.end()
    return [way for head in found if (way := head + text[at:]) != text]


def _split(run: str, most: int = 3) -> list[str]:
    ways = []
    for cut in range(1, len(run)):
        first, rest = run[:cut], run[cut:]
        if first in symbols() and first not in COMPOUNDS:
            ways += [f"{first} {rest}"] if rest in symbols() and rest not in COMPOUNDS else []
            ways += [f"{first} {more}" for more in _split(rest, most - 1)] if most > 2 else []
    return ways


_DEGREES = re.compile(r"^(?:°|degrees?|deg[.]?|grad)$", re.I)


def short_temperature(text: str, asked: Unit) -> Unit | None:
    """Read ``C``, ``F`` and a bare degree sign where a temperature is asked for; None where that is not so.

    Examples
    --------
    >>> short_temperature("C", read("°C")[0]).shown, short_temperature("°", read("°F")[0]).shown
    ('°C', '°F')
    >>> short_temperature("C", read("A s")[0]) is None
    True
    """
    if not asked.is_offset:
        return None
    text = plain(text)
    if _DEGREES.match(text):
        return asked
    return read(f"°{text.upper()}")[0] if text.upper() in ("C", "F") else None


def _products(text: str) -> list[Product]:
    try:
        tokens = list(_tokens(text))
        return [factors for after_slash in (False, True) for factors in _parse(tokens, after_slash)]
    except _NotAUnit:
        return []


def _shown(text: str) -> str:
    """Write powers raised and products with a dot: kg·m/s²."""
    text = re.sub(r"\^ ?(?:\((.{1,3})\)|\{(.{1,3})\})", r"^\1\2", text)
    powers = re.sub(r"\^ ?([+-]?\d{1,2})", lambda m: raised(int(m[1])), text)
    return re.sub(r"(?<=[A-Za-zΩμ])(-?\d{1,2})\b", lambda m: raised(int(m[1])), powers)


def _tokens(text: str) -> Iterator[str]:
    position = 0
    while position < len(text):
        match = _TOKEN.match(text, position)
        if match is None:
            raise _NotAUnit
        power, bare, sign, blank, name = match.groups()
        number = power or bare
        yield "^" + number.strip("({ )}") if number else sign or ("·" if blank else "") or name
        position = match.end()


class _UnitParser:
    """One pass over the tokens; `after_slash` makes a slash govern everything after it."""

    def __init__(self, tokens: list[str], after_slash: bool) -> None:
        self.tokens = tokens
        self.at = 0
        self.after_slash = after_slash

    def peek(self) -> str:
        return self.tokens[self.at] if self.at < len(self.tokens) else ""

    def product(self, depth: int = 0) -> list[Product]:
        if depth > MAX_NESTING:
            raise _NotAUnit
        found = self.factor(depth)
        below = False
        while self.peek() not in ("", ")"):
            sign = self.peek() if self.peek() in "·/" else "·"
            self.at += self.peek() in ("·", "/")
            inverse = sign == "/" or (below and self.after_slash)
            below = below or sign == "/"
            found = _times(found, _power(self.factor(depth), -1 if inverse else 1))
        return found

    def factor(self, depth: int) -> list[Product]:
        part = self.peek()
        self.at += 1
        if part == "(":
            inner = self.product(depth + 1)
            if self.peek() != ")":
                raise _NotAUnit
            self.at += 1
        elif part == "^1":
            # The 1 of "1/s".
            return [()]
        else:
            inner = list(meanings(part))
        if not inner:
            raise _NotAUnit
        if self.peek().startswith("^"):
            inner = _power(inner, int(self.peek()[1:]))
            self.at += 1
        return inner


def _parse(tokens: list[str], after_slash: bool) -> list[Product]:
    parser = _UnitParser(tokens, after_slash)
    found = parser.product()
    if parser.peek():
        raise _NotAUnit
    return [_ordered(factors) for factors in found]


def _ordered(factors: Product) -> Product:
    powers: Counter[str] = Counter()
    for name, power in factors:
        powers[name] += power
    if any(abs(power) > MAX_UNIT_POWER for power in powers.values()):
        raise _NotAUnit
    return tuple(sorted((name, power) for name, power in powers.items() if power))


def _times(left: list[Product], right: list[Product]) -> list[Product]:
    return [a + b for a, b in combinations(left, right)][:MAX_READINGS]


def _power(products: list[Product], power: int) -> list[Product]:
    return [tuple((name, p * power) for name, p in factors) for factors in products]


# --- conversion -------------------------------------------------------------------------------------------


@lru_cache(maxsize=1)
def _registry() -> pint.UnitRegistry[float]:
    import pint

    return pint.UnitRegistry(cache_folder=None)


def _pint_unit(unit: Unit) -> pint.Unit:
    registry = _registry()
    names = dict(unit.factors)
    if not unit.is_offset:
        # J/(kg °C): inside a product a degree is a step on the scale, not a temperature.
        names = {("delta_" + name if name in _OFFSET else name): power for name, power in names.items()}
    return registry.Unit(registry.UnitsContainer(names))


def same_dimension(left: Unit, right: Unit) -> bool:
    """Whether the one can be converted to the other."""
    return _factor(left, right) is not None


@lru_cache(maxsize=4096)
def _factor(source: Unit, target: Unit) -> float | None:
    """Size of the source in target units, None when dimensions differ; 1 for temperatures (see convert)."""
    registry, first, second = _registry(), _pint_unit(source), _pint_unit(target)
    if first.dimensionality != second.dimensionality:
        return None
    if source.is_offset or target.is_offset:
        # "°C rad" has the dimension of a temperature, but is a step on the scale, not a place on it.
        return (
            1.0 if all(len(one.factors) == 1 and one.factors[0][1] == 1 for one in (source, target)) else None
        )
    return float(registry.Quantity(1.0, first).to(second).magnitude)


def convert(value: float, source: Unit, target: Unit) -> float | None:
    """Convert a value; None when the dimensions differ.

    Examples
    --------
    >>> round(convert(72, read("km/h")[0], read("m/s")[0]), 9)
    20.0
    >>> convert(5, read("kg")[0], read("m")[0]) is None
    True
    """
    if source.factors == target.factors:
        return value
    factor = _factor(source, target)
    if factor is None:
        return None
    if not (source.is_offset or target.is_offset):
        return value * factor
    moved = _registry().Quantity(value, _pint_unit(source)).to(_pint_unit(target))
    return float(moved.magnitude)


# Units that a class meets side by side; the first two of a row that fit are offered as buttons.
_SIDE_BY_SIDE = (
    "m cm km mm", "kg g t", "s min h", "m/s km/h", "kg/m³ g/cm³", "N kN mN", "Pa kPa bar", "J kJ kWh", "W kW MW",
    "°C K", "A mA", "V mV kV", "Ω kΩ", "Hz kHz MHz", "m² cm²", "m³ L cm³", "mol mmol", "° rad", "C mC", "F μF",
    "mol/L mmol/L", "N/m N/cm", "m/s² km/h²", "kg·m/s g·m/s", "T mT", "J/(kg·K) kJ/(kg·K)", "Bq kBq", "Sv mSv",
    "g/mol kg/mol", "bit B",
)  # fmt: skip


def offered(unit: Unit, count: int = 2) -> tuple[str, ...]:
    """Return units to choose from when one was left out: the asked one and others of its kind, in fixed order.

    The order does not tell which one is asked: it is that of the list, not "the right one first". Empty when
    we know no second unit of the kind; then the unit has to be typed.
    """
    for row in _SIDE_BY_SIDE:
        names = row.split()
        known = [read(name)[0] for name in names]
        if not same_dimension(known[0], unit):
            continue
        own = [n for n, k in zip(names, known, strict=True) if k.factors == unit.factors]
        others = [n for n in names if n not in own]
        chosen = {*(own or [unit.shown]), *others[: count - 1]}
        return tuple(n for n in dict.fromkeys([*names, unit.shown]) if n in chosen)
    return ()
