"""Arithmetic that is exact where it can be: fractions of whole numbers, else floats, both bounded.

A drawn value is a fraction, and so are sums, products, quotients, whole powers and the roots of squares. What has
no exact value (sin 20°, √2) is a float. Numbers with more than 256 bits become floats; beyond 10⁴⁰ there is no
value, for no school question needs it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from fractions import Fraction

from bot.grading.drawn.errors import Undefined

Value = Fraction | float

LARGEST = 1e40
_LARGEST = 10**40
MAX_BITS = 256
MAX_POWER = 64
# Values closer than this (as a share) are the same: what floats lose in some dozen steps.
NEARNESS = 1e-9
_SNAP = 1e-14
_SNAPPED = ("sin", "cos", "lg", "log2")


def bounded(value: Value) -> Value:
    """Return the value if it can be used.

    Raises
    ------
    Undefined
        When it is not finite, beyond 10⁴⁰, or nearer to zero than 10⁻⁴⁰.
    """
    if isinstance(value, Fraction):
        # In whole numbers: comparing a fraction with a float costs ten times as much.
        if _bits(value) <= MAX_BITS and abs(value.numerator) <= _LARGEST * value.denominator:
            return value
        try:
            value = float(value)
        except OverflowError:
            raise Undefined("too_large") from None
    if math.isnan(value):
        raise Undefined("no_value")
    if abs(value) > LARGEST:
        raise Undefined("too_large")
    if value and abs(value) < 1 / LARGEST:
        raise Undefined("too_small")
    return value


def _bits(value: Fraction) -> int:
    return max(value.numerator.bit_length(), value.denominator.bit_length())


def from_float(value: float) -> Fraction:
    """Return a written number exactly: 0.1 is one tenth."""
    if not math.isfinite(value):
        raise Undefined("too_large")
    return Fraction(repr(value))


def combine(sign: str, left: Value, right: Value) -> Value:
    """Apply plus, minus, times, over or power.

    Raises
    ------
    Undefined
        At a division by zero, a power without real value, or beyond the bounds.
    """
    if sign == "^":
        return bounded(_power(left, right))
    if sign == "/" and right == 0:
        raise Undefined("divided_by_zero")
    if not (isinstance(left, Fraction) and isinstance(right, Fraction)):
        left, right = float(left), float(right)
    return bounded(_ARITHMETIC[sign](left, right))


_ARITHMETIC: Mapping[str, Callable[[Value, Value], Value]] = {
    "+": lambda a, b: a + b,
    "-": lambda a, b: a - b,
    "*": lambda a, b: a * b,
    "/": lambda a, b: a / b,
}


def _power(base: Value, exponent: Value) -> Value:
    if base == 0 and exponent <= 0:
        raise Undefined("no_value")
    if isinstance(base, Fraction) and isinstance(exponent, Fraction) and abs(exponent) <= MAX_POWER:
        root = _exact_root(base, exponent.denominator)
        if root is not None and _bits(root) * abs(exponent.numerator) <= 4 * MAX_BITS:
            return root**exponent.numerator
    try:
        return math.pow(base, exponent)
    except OverflowError:
        raise Undefined("too_large") from None
    except ValueError:
        raise Undefined("no_value") from None


def _exact_root(value: Fraction, degree: int) -> Fraction | None:
    if degree == 1:
        return value
    if degree > 3 or value < 0:
        return None
    top, bottom = (_whole_root(part, degree) for part in (value.numerator, value.denominator))
    return None if top is None or bottom is None else Fraction(top, bottom)


def _whole_root(number: int, degree: int) -> int | None:
    # A float is exact enough for a first guess below 10⁴⁰; the neighbours settle it.
    guess = math.isqrt(number) if degree == 2 else round(number ** (1 / 3))
    return next((n for n in (guess - 1, guess, guess + 1) if n >= 0 and n**degree == number), None)


# --- functions of one argument ----------------------------------------------------------------------------

_FLOATS: Mapping[str, Callable[[float], float]] = {
    "sin": math.sin, "cos": math.cos, "exp": math.exp, "ln": math.log, "log2": math.log2,
    "sinh": math.sinh, "cosh": math.cosh, "tanh": math.tanh,
    "asin": math.asin, "acos": math.acos, "atan": math.atan,
    "arcsin": math.asin, "arccos": math.acos, "arctan": math.atan, "lg": math.log10,
}  # fmt: skip


def apply(function: str, argument: Value) -> Value:
    """Apply a function that the grader's parser knows; angles in radians.

    Raises
    ------
    Undefined
        Outside the function's domain.
    """
    if function == "abs":
        return size_of(argument)
    if function == "sqrt":
        return bounded(_power(argument, Fraction(1, 2)) if argument != 0 else argument)
    if function in ("tan", "cot"):
        sine, cosine = apply("sin", argument), apply("cos", argument)
        ratio = combine("/", sine, cosine) if function == "tan" else combine("/", cosine, sine)
        return ratio if isinstance(ratio, Fraction) else _snapped(ratio)
    try:
        value = _FLOATS[function](float(argument))
    except OverflowError:
        raise Undefined("too_large") from None
    except ValueError:
        raise Undefined("no_value") from None
    return bounded(_snapped(value) if function in _SNAPPED else value)


def _snapped(value: float) -> Value:
    """Return halves and wholes exactly, so that sin 30° is one half and tan 90° has no value."""
    if abs(value) > 1e6:
        return value
    half = Fraction(round(value * 2), 2)
    return half if abs(value - half) < _SNAP * max(1.0, abs(value)) else value


# --- functions of several arguments -----------------------------------------------------------------------


def whole(value: Value) -> int:
    """Return a whole number.

    Raises
    ------
    Undefined
        When it is none.
    """
    if not is_whole(value):
        raise Undefined("not_whole")
    return round(value)


def _rounded(value: Value, places: Value = Fraction(0)) -> Value:
    digits = whole(places)
    if not -12 <= digits <= 12:
        raise Undefined("too_large")
    return round_half_up(value, digits)


def round_half_up(value: Value, places: int) -> Fraction:
    """Round as at school: half goes away from zero."""
    # A float a hair below a half was meant as the half.
    number = value if isinstance(value, Fraction) else Fraction(f"{value:.15g}")
    scaled = abs(number) * Fraction(10) ** places
    rounded = Fraction(math.floor(scaled + Fraction(1, 2))) / Fraction(10) ** places
    return rounded if number >= 0 else -rounded


def _floor(value: Value) -> Value:
    return Fraction(whole(value) if is_whole(value) else math.floor(value))


def _ceil(value: Value) -> Value:
    return Fraction(whole(value) if is_whole(value) else math.ceil(value))


def _gcd(*values: Value) -> Value:
    return Fraction(math.gcd(*(whole(value) for value in values)))


def _lcm(*values: Value) -> Value:
    return Fraction(math.lcm(*(whole(value) for value in values)))


def _mod(left: Value, right: Value) -> Value:
    if right == 0:
        raise Undefined("divided_by_zero")
    return left % right


# name: (function, least and most arguments). The German names are those of German schoolbooks.
SEVERAL: Mapping[str, tuple[Callable[..., Value], int, int]] = {
    "gcd": (_gcd, 2, 4), "ggT": (_gcd, 2, 4), "lcm": (_lcm, 2, 4), "kgV": (_lcm, 2, 4),
    "min": (min, 2, 6), "max": (max, 2, 6), "mod": (_mod, 2, 2),
    "round": (_rounded, 1, 2), "runde": (_rounded, 1, 2),
    "floor": (_floor, 1, 1), "ceil": (_ceil, 1, 1),
}  # fmt: skip


# --- comparing --------------------------------------------------------------------------------------------


def size_of(value: Value) -> Value:
    """Return the absolute value, exact where the value is."""
    return -value if value < 0 else value


def is_whole(value: Value) -> bool:
    """Whether a value is a whole number, floats up to rounding."""
    if isinstance(value, Fraction):
        return value.denominator == 1
    return math.isfinite(value) and abs(value) < 1e15 and near(value, float(round(value)))


def near(left: Value, right: Value) -> bool:
    """Whether two values are the same, floats up to a share of 10⁻⁹."""
    if isinstance(left, Fraction) and isinstance(right, Fraction):
        return left == right
    return math.isclose(left, right, rel_tol=NEARNESS, abs_tol=1e-12)
