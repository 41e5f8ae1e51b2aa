"""Writing a drawn or computed number: figures, fractions, powers of ten, the decimal sign of the language.

Without a wish, whole numbers and short decimals are written in full, others to three significant figures, but
never without a decimal: 6.67, 0.0333, 1234.6. A wish is one of

========================  =====================================================
``0``, ``0.0``, ``0.00``  so many decimals (``0,00`` too)
``3``                     so many significant figures
``fraction``, ``Bruch``   a fraction in lowest terms: 3/4
``mixed``, ``gemischt``   a mixed number: 1 3/4
``power``, ``Potenz``     a power of ten: 3.2×10⁻⁴
========================  =====================================================
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from bot.grading.drawn import exact
from bot.grading.drawn.errors import Undefined
from bot.grading.drawn.exact import Value
from bot.grading.signs import raised

Language = Literal["en", "de"]
Style = Literal["default", "decimals", "figures", "fraction", "mixed", "power"]

FIGURES = 3
"""Significant figures without a wish: what measured values of a lesson are worth (common practice, no source)."""
SHORT = 5
"""A decimal with so few figures is written in full."""
POWER_FROM, POWER_BELOW = 1e7, 1e-4
MAX_DENOMINATOR = 10_000
MAX_NUMERATOR = 1_000_000_000

_DECIMALS = re.compile(r"0(?:[.,](0{1,8}))?")
_STYLES: dict[str, Style] = {
    "fraction": "fraction", "Bruch": "fraction", "mixed": "mixed", "gemischt": "mixed",
    "power": "power", "Potenz": "power",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Wish:
    """How a number is to be written."""

    style: Style = "default"
    count: int = 0


PLAIN = Wish()


@dataclass(frozen=True, slots=True)
class Figure:
    """A number as written, without its sign.

    Attributes
    ----------
    text : str
        The figures of the absolute value.
    negative : bool
    rounded : bool
        Whether the text says less than the value.
    value : Value
        The value that the text says, with its sign.
    figures, place : int or None
        Significant figures and the power of ten of the last one; None for a fraction.
    is_fraction : bool
    """

    text: str
    negative: bool
    rounded: bool
    value: Value
    figures: int | None = None
    place: int | None = None
    is_fraction: bool = False

    @property
    def signed(self) -> str:
        """The text with a minus where there is one."""
        return f"−{self.text}" if self.negative else self.text


def read_wish(text: str) -> Wish | None:
    """Read how a number is to be written; None when it is no such wish."""
    text = text.strip()
    if not text:
        return PLAIN
    if match := _DECIMALS.fullmatch(text):
        return Wish("decimals", len(match[1] or ""))
    if re.fullmatch("[1-9]", text):
        return Wish("figures", int(text))
    return Wish(_STYLES[text]) if text in _STYLES else None


def write(value: Value, wish: Wish, language: Language) -> Figure:
    """Write a number.

    Raises
    ------
    Undefined
        ``no_fraction`` when a fraction is wished and the value has none that fits a school book.

    Examples
    --------
    >>> write(Fraction(20, 3), PLAIN, "de").text, write(Fraction(-7, 4), Wish("mixed"), "en").signed
    ('6,67', '−1 3/4')
    """
    if wish.style in ("fraction", "mixed"):
        return _fraction(value, wish.style == "mixed")
    style, count = wish.style, wish.count
    if style == "default":
        style, count = _choose(value)
    if style == "power":
        return _power(value, count or _own_figures(value), language)
    if style == "figures":
        count = count - 1 - _magnitude(value, count)
        if count < 0:
            return _left_of_ones(value, wish.count, language)
    return _decimals(value, count, language)


def _left_of_ones(value: Value, count: int, language: Language) -> Figure:
    """Write 1234.5 to three figures as 1230; very large numbers as a power of ten."""
    if exact.size_of(value) >= POWER_FROM:
        return _power(value, count, language)
    rounded = _to_figures(value, count)
    place = _magnitude(value, count) - count + 1
    inexact = not exact.near(rounded, value)
    return Figure(str(abs(int(rounded))), rounded < 0, inexact, rounded, count, place)


def _choose(value: Value) -> tuple[Style, int]:
    size = exact.size_of(value)
    if size and not POWER_BELOW <= size < POWER_FROM:
        return "power", _own_figures(value)
    decimals = decimals_of(value)
    if decimals is not None and (decimals == 0 or _magnitude(value, 12) + 1 + decimals <= SHORT):
        return "decimals", decimals
    return "decimals", max(1, FIGURES - 1 - _magnitude(value, FIGURES))


def _own_figures(value: Value) -> int:
    """Figures of a power of ten: its own where they are few, else three."""
    for count in range(1, SHORT + 1):
        if exact.near(_to_figures(value, count), value):
            return count
    return FIGURES


def decimals_of(value: Value) -> int | None:
    """Return how many decimals a value has, None when they do not end (or after more than 12)."""
    if not isinstance(value, Fraction):
        value = Fraction(f"{value:.12g}")
    for decimals in range(13):
        if (value * 10**decimals).denominator == 1:
            return decimals
    return None


def _magnitude(value: Value, figures: int) -> int:
    """Power of ten of the first figure after rounding to so many figures."""
    return 0 if value == 0 else int(f"{abs(float(value)):.{max(figures, 1) - 1}e}".partition("e")[2])


def _to_figures(value: Value, count: int) -> Fraction:
    return exact.round_half_up(value, count - 1 - _magnitude(value, count)) if value else Fraction(0)


def _sign_of_decimal(language: Language) -> str:
    return "," if language == "de" else "."


def _decimals(value: Value, count: int, language: Language) -> Figure:
    rounded = exact.round_half_up(value, count)
    scaled = abs(int(rounded * 10**count))
    digits = str(scaled).rjust(count + 1, "0")
    text = digits if count == 0 else f"{digits[:-count]}{_sign_of_decimal(language)}{digits[-count:]}"
    figures = max(len(digits.lstrip("0")), 1)
    return Figure(text, rounded < 0, not exact.near(rounded, value), rounded, figures, -count)


def _power(value: Value, count: int, language: Language) -> Figure:
    count = max(count, 1)
    magnitude = _magnitude(value, count)
    rounded = _to_figures(value, count)
    mantissa = _decimals(abs(rounded) / Fraction(10) ** magnitude, count - 1, language)
    times = "·" if language == "de" else "×"
    text = f"{mantissa.text}{times}10{raised(magnitude)}" if magnitude else mantissa.text
    place = magnitude - count + 1
    return Figure(text, rounded < 0, not exact.near(rounded, value), rounded, count, place)


def _fraction(value: Value, mixed: bool) -> Figure:
    number = _as_school_fraction(value)
    whole, rest = divmod(abs(number), 1)
    if rest == 0:
        text = str(whole)
    elif mixed and whole:
        text = f"{whole} {rest.numerator}/{rest.denominator}"
    else:
        text = f"{abs(number).numerator}/{abs(number).denominator}"
    return Figure(text, number < 0, False, number, is_fraction=rest != 0)


def _as_school_fraction(value: Value) -> Fraction:
    number = value if isinstance(value, Fraction) else Fraction(value).limit_denominator(MAX_DENOMINATOR)
    fits = number.denominator <= MAX_DENOMINATOR and abs(number.numerator) < MAX_NUMERATOR
    if not fits or not exact.near(float(number), float(value)):
        raise Undefined("no_fraction")
    return number


def is_sensible(figure: Figure, most: int) -> bool:
    """Whether a number has so few figures that a student can type it."""
    if figure.is_fraction or figure.figures is None:
        return sum(sign.isdigit() for sign in figure.text) <= 2 * most
    if "10" in figure.text and ("×" in figure.text or "·" in figure.text):
        return figure.figures <= most
    return sum(sign.isdigit() for sign in figure.text.strip("0.,")) <= most and math.isfinite(figure.value)
