"""Whether two formulas have the same value: a test at eight fixed points.

Two formulas are called equal when they agree to a relative 1e-9 at every one of eight points, drawn once from a
fixed seed. Agreement at random points of two different analytic functions has probability zero, so this is a
probabilistic identity test in the manner of Schwartz (J. ACM 27, 1980, 701-717) and Zippel (1979), carried over
from polynomials to school formulas.

The points are complex numbers near the positive real axis (modulus 0.6 to 1.9, argument within ±0.25): quantities
in school formulas are positive, and there roots and logarithms stay on their principal branch, so that
sqrt(l/g) = sqrt(l)/sqrt(g), sqrt(x²) = x and ln(ab) = ln a + ln b hold, as in class. A formula with a modulus
|x|, which is not analytic, is compared at real points of both signs instead.

What this does not see: a required form ("factorised"), domains, units.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from bot.grading.formulas import Call, Formula, Name, Node, Number, Operation

POINTS = 8
SEED = 20_261_125
RELATIVE = 1e-9
# Some hundred times the spacing of doubles: what a long sum may lose.
ROUNDING = 1e-13
# Fewer points at which both sides exist prove nothing.
MIN_USABLE = 4

Values = NDArray[np.complex128]
Sizes = NDArray[np.float64]

_CONSTANTS = {"π": np.pi, "e": np.e}
_FUNCTIONS = {
    "sqrt": np.sqrt, "sin": np.sin, "cos": np.cos, "tan": np.tan, "ln": np.log, "lg": np.log10, "log2": np.log2,
    "exp": np.exp, "sinh": np.sinh, "cosh": np.cosh, "tanh": np.tanh,
    "asin": np.arcsin, "acos": np.arccos, "atan": np.arctan,
    "arcsin": np.arcsin, "arccos": np.arccos, "arctan": np.arctan,
}  # fmt: skip


def constants() -> frozenset[str]:
    """Names that stand for a number, not for a quantity."""
    return frozenset(_CONSTANTS)


@lru_cache(maxsize=64)
def _points(count: int, real: bool) -> Values:
    """Values of up to `count` quantities, shape (count, 8)."""
    rng = np.random.default_rng(SEED)
    sizes = rng.uniform(0.6, 1.9, (count, POINTS))
    angles = rng.uniform(-0.25, 0.25, (count, POINTS))
    signs = rng.choice([-1.0, 1.0], (count, POINTS))
    return np.asarray(sizes * (signs if real else np.exp(1j * angles)), dtype=np.complex128)


def evaluate(formula: Formula, order: tuple[str, ...], *, real: bool = False) -> tuple[Values, Sizes]:
    """Evaluate a formula at the eight points.

    Parameters
    ----------
    formula : Formula
    order : tuple of str
        The quantities, each with its row of points; the same for both formulas compared.
    real : bool
        Real points of both signs instead of complex ones.

    Returns
    -------
    values : ndarray of complex, shape (8,)
        Not finite where the formula has no value.
    scales : ndarray of float, shape (8,)
        Size of the parts that were added up: what the rounding error is relative to.
    """
    rows = _points(max(len(order), 1), real)
    values = dict(zip(order, rows, strict=False))
    with np.errstate(all="ignore"):
        value, scale = _value(formula.tree, values)
    return np.broadcast_to(value, (POINTS,)), np.broadcast_to(scale, (POINTS,))


def _value(node: Node, values: dict[str, Values]) -> tuple[Values, Sizes]:
    if isinstance(node, Number):
        value = np.asarray(node.value, dtype=np.complex128)
    elif isinstance(node, Name):
        constant = _CONSTANTS.get(node.name)
        value = values[node.name] if constant is None else np.asarray(constant, dtype=np.complex128)
    elif isinstance(node, Call):
        value = _apply(node.function, _value(node.argument, values)[0])
    else:
        return _combine(node, _value(node.left, values), _value(node.right, values))
    return value, np.abs(value)


def _combine(
    node: Operation, left: tuple[Values, Sizes], right: tuple[Values, Sizes]
) -> tuple[Values, Sizes]:
    (a, size_a), (b, size_b) = left, right
    if node.sign == "+":
        return a + b, size_a + size_b
    if node.sign == "-":
        return a - b, size_a + size_b
    if node.sign == "*":
        return a * b, size_a * size_b
    if node.sign == "/":
        return a / b, size_a / np.abs(b)
    power = np.power(a, b)
    return power, np.abs(power)


def _apply(function: str, argument: Values) -> Values:
    if function == "abs":
        return np.abs(argument).astype(np.complex128)
    if function == "cot":
        return np.asarray(1.0 / np.tan(argument))
    return np.asarray(_FUNCTIONS[function](argument))


def same_value(one: Formula, other: Formula) -> bool:
    """Whether two formulas agree at the points, whatever quantities they name."""
    order = tuple(sorted((one.names | other.names) - constants()))
    real = has_modulus(one) or has_modulus(other)
    (left, size_l), (right, size_r) = (evaluate(formula, order, real=real) for formula in (one, other))
    usable = np.isfinite(left) & np.isfinite(right)
    if usable.sum() < MIN_USABLE:
        return False
    size = np.maximum(np.abs(left), np.abs(right))
    with np.errstate(all="ignore"):
        # What should vanish leaves a rounding error of its parts: (x+1)² - x² - 2x - 1 is not exactly 0.
        allowed = np.maximum(RELATIVE * size, ROUNDING * np.maximum(size_l, size_r))
        return bool(np.all((np.abs(left - right) <= allowed)[usable]))


def has_value(formula: Formula) -> bool:
    """Whether the formula has a value at enough points to compare it with anything."""
    order = tuple(sorted(formula.names - constants()))
    values, _ = evaluate(formula, order, real=has_modulus(formula))
    return int(np.isfinite(values).sum()) >= MIN_USABLE


def has_modulus(formula: Formula) -> bool:
    """Whether a modulus |x| occurs in the formula."""
    waiting: list[Node] = [formula.tree]
    while waiting:
        node = waiting.pop()
        if isinstance(node, Call):
            if node.function == "abs":
                return True
            waiting.append(node.argument)
        elif isinstance(node, Operation):
            waiting += [node.left, node.right]
    return False
