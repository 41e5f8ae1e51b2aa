"""Judging many things at once on few data: pulling estimates together, exact tails, and false discoveries held down.

References
----------
Y. Benjamini & Y. Hochberg, J. R. Stat. Soc. B 57 (1995), 289-300. R. DerSimonian & N. Laird, Controlled Clinical
Trials 7 (1986), 177-188 (moment estimator of the spread between). C. N. Morris, JASA 78 (1983), 47-55 (empirical
Bayes intervals). Poisson binomial tail: by convolution, exact.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


def benjamini_hochberg(p_values: ArrayLike, rate: float = 0.05) -> NDArray[np.bool_]:
    """Return which of many tests are discoveries when at most `rate` of these shall be false in the long run.

    Where nothing is to be found at all, something is found in at most `rate` of the cases.

    Parameters
    ----------
    p_values : array_like, shape (n,)
        0..1.
    rate : float
        False discovery rate. (0..1)

    Raises
    ------
    ValueError
        When a value does not lie between 0 and 1.

    Examples
    --------
    >>> benjamini_hochberg([0.01, 0.04, 0.03, 0.9]).tolist()
    [True, False, False, False]
    """
    p = np.asarray(p_values, dtype=np.float64)
    if np.any(~((p >= 0.0) & (p <= 1.0))):
        raise ValueError("A p-value lies between 0 and 1.")
    order = np.argsort(p, kind="stable")
    passed = np.flatnonzero(p[order] <= rate * np.arange(1, p.size + 1) / max(p.size, 1))
    found = np.zeros(p.size, dtype=bool)
    if passed.size:
        found[order[: passed[-1] + 1]] = True
    return found


@dataclass(frozen=True)
class Shrunken:
    """Estimates pulled towards what they have in common.

    Attributes
    ----------
    mean, variance : ndarray of float, shape (n,)
        Of each after pulling; the variance knows that the common mean is estimated too.
    others : ndarray of float, shape (n,)
        The weighted mean of all but each; NaN where there is no other.
    """

    mean: Floats
    variance: Floats
    others: Floats


def shrink(values: ArrayLike, variances: ArrayLike) -> Shrunken:
    """Pull estimates towards their weighted mean, the more the less they are known and the more they are alike.

    The spread between them is that of DerSimonian & Laird (1986); without any, all are given the mean.

    Parameters
    ----------
    values, variances : array_like, shape (n,)
        Estimates, and the variance of each. (> 0)

    Examples
    --------
    >>> shrink([0.1, 0.3], [1.0, 1.0]).mean.tolist()
    [0.2, 0.2]
    """
    y, v = np.asarray(values, dtype=np.float64), np.asarray(variances, dtype=np.float64)
    weight = 1.0 / v
    between = _between(y, weight)
    pull = 1.0 / (v + between)
    middle = float((pull * y).sum() / pull.sum())
    kept = between / (v + between)
    variance = kept * v + (1.0 - kept) ** 2 / pull.sum()
    left = weight.sum() - weight
    others = np.full(y.shape, np.nan)
    np.divide((weight * y).sum() - weight * y, left, out=others, where=left > 1e-12)
    return Shrunken(
        middle + kept * (y - middle), variance, others if y.size > 1 else np.full(y.shape, np.nan)
    )


def _between(y: Floats, weight: Floats) -> float:
    """Return the variance between the true values (DerSimonian & Laird 1986, eq. 8)."""
    total = weight.sum()
    q = float((weight * (y - (weight * y).sum() / total) ** 2).sum())
    scale = float(total - (weight**2).sum() / total)
    return max(0.0, (q - (y.size - 1)) / scale) if scale > 0.0 else 0.0


def right_tails(right: int, chances: ArrayLike) -> tuple[float, float]:
    """Return how likely at most, and at least, so many right answers are when each has its own chance.

    Half of the exact number itself counts on either side (mid-p, Lancaster 1961), so that few answers are not judged
    too mildly.

    Parameters
    ----------
    right : int
        Right answers.
    chances : array_like, shape (n_answers,)
        0..1.

    Examples
    --------
    >>> right_tails(1, [0.5, 0.5])
    (0.5, 0.5)
    """
    mass = np.ones(1)
    for chance in np.asarray(chances, dtype=np.float64):
        mass = np.convolve(mass, [1.0 - chance, chance])
    half = float(mass[right]) / 2.0
    low = float(mass[:right].sum()) + half
    return min(1.0, max(0.0, low)), min(1.0, max(0.0, float(mass[right + 1 :].sum()) + half))
