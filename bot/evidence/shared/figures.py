"""Figures that carry their uncertainty: shares of counts, estimates, and when either says enough.

One level for everything a teacher reads: 80 % ("in four cases of five the true value lies inside"), the
same as the intervals of the retention model, so that a dot with a bar means one thing throughout. Claims
("fewer than last week") ask for more: 95 %.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import atan, cos, pi, sin

import numpy as np
from numpy.typing import NDArray

from scheduler.model import means
from scheduler.model.means import ALIKE, Alike
from scheduler.statistics.items import wilson

LEVEL = 0.80
"""Central probability of every interval shown."""

Z80 = 1.2815515655446004
"""Standard normal quantile of .90: half an 80 % interval in standard deviations."""

Z95 = 1.959963984540054
"""Standard normal quantile of .975."""

ENOUGH = means.ENOUGH
"""Answers below which no percentage is shown."""


@dataclass(frozen=True)
class IntervalEstimate:
    """A value with the bounds of its 80 % interval."""

    mean: float
    low: float
    high: float

    @property
    def width(self) -> float:
        """Length of the interval."""
        return self.high - self.low


@dataclass(frozen=True)
class Proportion:
    """A count out of a count, with the 80 % interval of the share behind it; `of` may be 0.

    Attributes
    ----------
    count, of : int
        For example right answers, and all answers.
    low, high : float
        Wilson score interval. [0..1]; 0 and 1 when `of` is 0.
    """

    count: int
    of: int
    low: float
    high: float

    @property
    def value(self) -> float | None:
        """The share itself, None when there is nothing to divide by. [0..1]."""
        return self.count / self.of if self.of else None

    @property
    def enough(self) -> bool:
        """Whether there are enough answers to speak of a percentage."""
        return self.of >= ENOUGH

    @property
    def estimate(self) -> IntervalEstimate | None:
        """The share as an estimate, None when there are too few answers to tell."""
        return IntervalEstimate(self.count / self.of, self.low, self.high) if self.enough else None


def share(count: int, of: int, level: float = LEVEL) -> Proportion:
    """Return a share of independent answers with its Wilson score interval.

    Parameters
    ----------
    count, of : int
        0 <= count <= of.
    level : float
        Central probability of the interval. (0..1)

    Returns
    -------
    Proportion

    Raises
    ------
    ValueError
        When the counts are impossible.

    References
    ----------
    E. B. Wilson, "Probable inference, the law of succession, and statistical inference", JASA 22 (1927);
    R. G. Newcombe, Statistics in Medicine 17 (1998) 857-872, method 3.

    Examples
    --------
    >>> both = share(2, 3)
    >>> round(both.low, 2), round(both.high, 2), both.enough
    (0.32, 0.89, False)
    """
    if not 0 <= count <= of:
        raise ValueError(f"A share needs 0 <= count <= of, not {count} of {of}.")
    if of == 0:
        return Proportion(0, 0, 0.0, 1.0)
    low, high = wilson(count, of, level)
    return Proportion(count, of, float(low), float(high))


def pooled_share(counts: Sequence[int], ofs: Sequence[int], level: float = LEVEL) -> Proportion:
    """Return a share over several students whose own answers resemble each other.

    Answers of one student are no independent draws: the variance is that of a ratio of cluster totals, and
    the Wilson interval is taken at the sample size that would have this variance.

    Parameters
    ----------
    counts, ofs : sequence of int, shape (n_students,)
        Per student, 0 <= count <= of.
    level : float
        Central probability of the interval. (0..1)

    Returns
    -------
    Proportion
        Its counts are the totals.

    References
    ----------
    W. G. Cochran, "Sampling Techniques", 3rd ed. (1977), eq. 2.39 (variance of a ratio); E. L. Korn and
    B. I. Graubard, Survey Methodology 24 (1998) 193-201 (interval at the effective sample size).

    Examples
    --------
    >>> alike = pooled_share([5, 5, 0, 0], [5, 5, 5, 5])
    >>> single = share(10, 20)
    >>> alike.high - alike.low > single.high - single.low
    True
    """
    total = share(sum(counts), sum(ofs), level)
    effective = _effective_size(np.asarray(counts, dtype=float), np.asarray(ofs, dtype=float))
    if total.of == 0 or effective >= total.of:
        return total
    low, high = wilson(total.count / total.of * effective, effective, level)
    return Proportion(total.count, total.of, float(low), float(high))


def _effective_size(counts: NDArray[np.float64], ofs: NDArray[np.float64]) -> float:
    """Return the number of independent answers that would tell as much; infinite when it cannot be told."""
    clusters = int(np.count_nonzero(ofs))
    total = float(ofs.sum())
    if clusters < 2 or total == 0:
        return float("inf")
    p = float(counts.sum()) / total
    variance = _ratio_variance(counts - p * ofs, total, clusters)
    if variance <= 0.0 or p in (0.0, 1.0):
        return float("inf")
    return max(p * (1.0 - p) / variance, 1.0)


def _ratio_variance(residuals: NDArray[np.float64], total: float, clusters: int) -> float:
    """Return the variance of a ratio of cluster totals from its residuals (Cochran 1977, eq. 2.39)."""
    return clusters / (clusters - 1) * float(np.sum(residuals**2)) / total**2


def paired_change(
    before: Sequence[tuple[int, int]], after: Sequence[tuple[int, int]], z: float = Z95
) -> IntervalEstimate | None:
    """Return by how much a pooled share moved between two weeks of the same students.

    Parameters
    ----------
    before, after : sequence of (count, of)
        One pair per student, in the same order.
    z : float
        Half width of the interval in standard errors; 95 % unless told.

    Returns
    -------
    IntervalEstimate or None
        After minus before. [-1..1]; None when either week has no answers or there are under two students.

    Examples
    --------
    >>> moved = paired_change([(1, 2)] * 10, [(2, 2)] * 10)
    >>> moved.mean
    0.5
    """
    old, new = np.asarray(before, dtype=float).reshape(-1, 2), np.asarray(after, dtype=float).reshape(-1, 2)
    old_total, new_total, students = float(old[:, 1].sum()), float(new[:, 1].sum()), len(new)
    if len(old) != students:
        raise ValueError(f"Two weeks of different students: {len(old)} and {students}.")
    if old_total == 0 or new_total == 0 or students < 2:
        return None
    p_old, p_new = old[:, 0].sum() / old_total, new[:, 0].sum() / new_total
    residuals = (new[:, 0] - p_new * new[:, 1]) / new_total - (old[:, 0] - p_old * old[:, 1]) / old_total
    half = z * _ratio_variance(residuals, 1.0, students) ** 0.5
    mean = float(p_new - p_old)
    return IntervalEstimate(mean, max(-1.0, mean - half), min(1.0, mean + half))


def paired_mean(differences: Sequence[float], level: float = 0.95) -> IntervalEstimate | None:
    """Return the mean of differences within pairs, with Student's interval.

    What the two of a pair have in common (the same class, the same weeks) falls out, so that a difference that every
    pair shows is sure although the pairs themselves lie far apart.

    Parameters
    ----------
    differences : sequence of float, shape (n_pairs,)
        One of each pair.
    level : float
        Central probability of the interval. (0..1)

    Returns
    -------
    IntervalEstimate or None
        None with fewer than two pairs.

    References
    ----------
    Student, "The probable error of a mean", Biometrika 6 (1908) 1-25.

    Examples
    --------
    >>> gain = paired_mean([1.0, 1.2, 1.1])
    >>> gain.low > 0.8
    True
    """
    pairs = np.asarray(differences, dtype=float)
    if pairs.size < 2:
        return None
    mean = float(pairs.mean())
    half = student_quantile((1.0 + level) / 2.0, pairs.size - 1) * float(pairs.std(ddof=1)) / pairs.size**0.5
    return IntervalEstimate(mean, mean - half, mean + half)


def student_quantile(probability: float, freedom: int) -> float:
    """Return the quantile of Student's t for a whole number of degrees of freedom, by halving.

    References
    ----------
    M. Abramowitz and I. A. Stegun, "Handbook of Mathematical Functions" (1964), 26.7.3 and 26.7.4.

    Examples
    --------
    >>> round(student_quantile(0.975, 10), 3)
    2.228
    """
    low, high = 0.0, 1e7
    for _ in range(100):
        middle = (low + high) / 2.0
        below = (1.0 + _inside(middle, freedom)) / 2.0 < probability
        low, high = (middle, high) if below else (low, middle)
    return (low + high) / 2.0


def _inside(t: float, freedom: int) -> float:
    """Return the probability between -t and t (Abramowitz & Stegun 26.7.3 and 26.7.4)."""
    angle = atan(t / freedom**0.5)
    odd = freedom % 2
    term = total = 0.0 if freedom == 1 else cos(angle) if odd else 1.0
    for k in range(3 if odd else 2, freedom - 1, 2):
        term *= cos(angle) ** 2 * (k - 1) / k
        total += term
    return 2.0 / pi * (angle + sin(angle) * total) if odd else sin(angle) * total


def mean_estimate(
    mean: NDArray[np.float64],
    low: NDArray[np.float64],
    high: NDArray[np.float64],
    chosen: NDArray[np.bool_] | None = None,
    alike: Alike = ALIKE,
) -> IntervalEstimate | None:
    """Return the mean of several predictions, its interval widened for what they have in common.

    Parameters
    ----------
    mean, low, high : ndarray of float, shape (n_students, n_topics)
        Predictions with 80 % intervals. [0..1]
    chosen : ndarray of bool, same shape, optional
        Which of them; all without it.

    Returns
    -------
    IntervalEstimate or None
        Clipped to 0..1; None when nothing is chosen.
    """
    keep = np.ones(mean.shape, dtype=bool) if chosen is None else chosen
    found = means.mean_with_interval(mean, low, high, keep, alike, LEVEL)
    return IntervalEstimate(*found) if found is not None else None


class Standing(StrEnum):
    """Where an estimate stands against a line, and how sure that is."""

    BELOW = "below"
    PERHAPS_BELOW = "perhaps below"
    PERHAPS_ABOVE = "perhaps above"
    ABOVE = "above"
    TOO_FEW = "too few answers to tell"

    @property
    def under(self) -> bool:
        """Whether the best guess lies below the line."""
        return self in (Standing.BELOW, Standing.PERHAPS_BELOW)


def standing(estimate: IntervalEstimate | None, answers: int, line: float = 0.5) -> Standing:
    """Say where an estimate stands against a line.

    Parameters
    ----------
    estimate : IntervalEstimate or None
        None counts as too few.
    answers : int
        Answers behind it; under `ENOUGH` nothing is claimed.
    line : float
        The value to compare with. [0..1]

    Examples
    --------
    >>> str(standing(IntervalEstimate(0.45, 0.35, 0.55), 20))
    'perhaps below'
    """
    if estimate is None or answers < ENOUGH:
        return Standing.TOO_FEW
    if estimate.high < line:
        return Standing.BELOW
    if estimate.low >= line:
        return Standing.ABOVE
    return Standing.PERHAPS_BELOW if estimate.mean < line else Standing.PERHAPS_ABOVE


def rank_sum_z(sample: Sequence[float], usual: Sequence[float]) -> float:
    """Return how far a sample lies above another one, in standard errors of the rank sum (ties averaged).

    References
    ----------
    H. B. Mann and D. R. Whitney, Annals of Mathematical Statistics 18 (1947) 50-60; normal approximation
    with the correction for ties.

    Examples
    --------
    >>> rank_sum_z([1.0, 2.0], [1.0, 2.0])
    0.0
    """
    first, both = len(sample), np.concatenate([np.asarray(sample, float), np.asarray(usual, float)])
    count = len(both)
    _, inverse, ties = np.unique(both, return_inverse=True, return_counts=True)
    ranks = (np.cumsum(ties) - (ties - 1) / 2.0)[inverse]
    spread = first * (count - first) / 12.0 * ((count + 1) - np.sum(ties**3 - ties) / (count * (count - 1)))
    if spread <= 0:
        return 0.0
    return float((ranks[:first].sum() - first * (count + 1) / 2.0) / spread**0.5)
