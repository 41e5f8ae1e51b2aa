"""Forgetting curves of the literature as formulas, and a fit to published data.

These are the yardsticks beside the model: the model's laws (``laws.py``) say how a curve changes with reviews and
students; here stand single curves as their authors printed them, with which data from papers can be reproduced.

References
----------
Ebbinghaus 1885, *Memory* (tr. Ruger & Bussenius 1913), ch. VII, sec. 29: savings. Wickelgren 1974, Mem Cogn 2,
775-780, and Wixted & Carpenter 2007, Psychol Sci 18, 133-134: power. Rubin & Wenzel 1996, Psychol Rev 103,
734-760: logarithm. Rubin, Hinton & Wenzel 1999, J Exp Psychol: LMC 25, 1161-1176: two exponentials and a rest.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Curve = Callable[[Floats, Floats], Floats]

MAX_STEPS = 500


def savings(minutes: ArrayLike, k: float = 1.84, c: float = 1.25) -> Floats:
    """Ebbinghaus's savings in relearning: b = 100 k / ((log10 t)^c + k).

    Parameters
    ----------
    minutes : array_like of float
        Time since one minute before the end of learning, at least 1. [minutes]
    k, c : float
        His constants.

    Returns
    -------
    ndarray of float
        Work saved in relearning. [percent]

    Raises
    ------
    ValueError
        When a time is under one minute: the formula is 100 there and has no meaning before.

    Examples
    --------
    >>> savings([1, 20, 1440]).round(1).tolist()
    [100.0, 57.0, 30.4]
    """
    t = np.asarray(minutes, dtype=np.float64)
    if np.any(~(t >= 1)):
        raise ValueError("The savings formula starts at one minute; an earlier time was given.")
    return np.asarray(100.0 * k / (np.log10(t) ** c + k))


def power(t: Floats, p: Floats) -> Floats:
    """Return m (1 + h t)^-f for p = (m, h, f)."""
    return np.asarray(p[0] * (1.0 + p[1] * t) ** -p[2])


def logarithm(t: Floats, p: Floats) -> Floats:
    """Return a - b ln t for p = (a, b)."""
    return np.asarray(p[0] - p[1] * np.log(t))


def exponential(t: Floats, p: Floats) -> Floats:
    """Return a exp(-t / tau) for p = (a, tau)."""
    return np.asarray(p[0] * np.exp(-t / p[1]))


def two_exponentials(t: Floats, p: Floats) -> Floats:
    """Return a1 exp(-t / T1) + a2 exp(-t / T2) + a3 for p = (a1, T1, a2, T2, a3)."""
    return np.asarray(p[0] * np.exp(-t / p[1]) + p[2] * np.exp(-t / p[3]) + p[4])


@dataclass(frozen=True, eq=False)
class Fit:
    """A least-squares fit.

    Attributes
    ----------
    parameters : ndarray of float, shape (n_parameters,)
    sse : float
        Sum of squared residuals.
    r2 : float
        Share of the variance explained.
    """

    parameters: Floats
    sse: float
    r2: float


def fit(curve: Curve, t: ArrayLike, y: ArrayLike, start: ArrayLike) -> Fit:
    """Fit a curve by least squares: Levenberg-Marquardt with numerical derivatives.

    Parameters
    ----------
    curve : callable
        ``curve(t, parameters) -> y``.
    t, y : array_like of float, shape (n_points,)
        At least as many points as parameters.
    start : array_like of float, shape (n_parameters,)
        Where to begin.

    Returns
    -------
    Fit

    Raises
    ------
    ValueError
        When there are too few points, or the curve is not finite at the start.

    References
    ----------
    Marquardt, J Soc Indust Appl Math 11 (1963), 431-441.
    """
    times, values = np.asarray(t, dtype=np.float64), np.asarray(y, dtype=np.float64)
    p = np.array(start, dtype=np.float64)
    if times.size < p.size or times.shape != values.shape:
        raise ValueError(f"{times.size} times and {values.size} values cannot fix {p.size} parameters.")
    sse = _sse(curve, times, values, p)
    if not np.isfinite(sse):
        raise ValueError(f"The curve has no value at the start {p.tolist()}. Start elsewhere.")
    damping = 1e-3
    for _ in range(MAX_STEPS):
        step = _step(curve, times, values, p, damping)
        moved = _sse(curve, times, values, p + step)
        if moved < sse:
            p, damping, gain, sse = p + step, damping / 3.0, sse - moved, moved
            if gain <= 1e-15 * sse:
                break
        elif damping > 1e12:
            break
        else:
            damping *= 4.0
    return Fit(p, sse, 1.0 - sse / float(((values - values.mean()) ** 2).sum()))


def _sse(curve: Curve, t: Floats, y: Floats, p: Floats) -> float:
    with np.errstate(all="ignore"):
        sse = float(((y - curve(t, p)) ** 2).sum())
    return sse if np.isfinite(sse) else np.inf


def _step(curve: Curve, t: Floats, y: Floats, p: Floats, damping: float) -> Floats:
    jacobian = _jacobian(curve, t, p)
    normal = jacobian.T @ jacobian
    # Marquardt's scaling by the diagonal makes the step independent of the parameters' units.
    damped = normal + damping * np.diag(np.maximum(np.diag(normal), 1e-12))
    return np.asarray(np.linalg.solve(damped, jacobian.T @ (y - curve(t, p))))


def _jacobian(curve: Curve, t: Floats, p: Floats) -> Floats:
    columns = []
    for i in range(p.size):
        # Central differences: the best step for doubles is the cube root of their spacing.
        h = np.zeros_like(p)
        h[i] = np.finfo(np.float64).eps ** (1 / 3) * max(abs(p[i]), 1e-3)
        columns.append((curve(t, p + h) - curve(t, p - h)) / (2.0 * h[i]))
    return np.stack(columns, axis=1)
