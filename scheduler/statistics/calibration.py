"""How good predictions of right and wrong were: Brier score, log loss, AUC, calibration.

References
----------
Brier, Mon Weather Rev 78 (1950), 1-3. Log loss: Good, J R Stat Soc B 14 (1952), 107-114. AUC as the share of
ordered pairs: Hanley & McNeil, Radiology 143 (1982), 29-36. Expected calibration error: Guo, Pleiss, Sun &
Weinberger, ICML (2017), equal-width bins (a, b].
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from scheduler.statistics.items import wilson

Floats = NDArray[np.float64]


def outcomes_and_predictions(right: ArrayLike, predicted: ArrayLike) -> tuple[Floats, Floats]:
    """Check outcomes and predictions and return them flat.

    Parameters
    ----------
    right : array_like of 0 or 1
        Outcomes; 1 for a right answer.
    predicted : array_like, as long as `right`
        Probability of a right answer that was predicted. [0..1]

    Raises
    ------
    ValueError
        When they are empty or differ in length, an outcome is not 0 or 1, a prediction not in 0..1.
    """
    y, p = (np.asarray(values, dtype=np.float64).ravel() for values in (right, predicted))
    if y.size == 0 or y.size != p.size:
        raise ValueError(f"{y.size} outcomes and {p.size} predictions: there must be as many, at least one.")
    if not np.all((y == 0) | (y == 1)):
        raise ValueError("Outcomes must be 1 (right) or 0 (wrong).")
    if not np.all((p >= 0) & (p <= 1)):
        raise ValueError("Predictions must be probabilities from 0 to 1.")
    return y, p


def brier(right: ArrayLike, predicted: ArrayLike) -> float:
    """Mean squared difference of outcome and prediction, 0 (perfect) to 1.

    Parameters
    ----------
    right : array_like of 0 or 1
        Outcomes; 1 for a right answer.
    predicted : array_like, as long as `right`
        Probability of a right answer that was predicted. [0..1]

    Examples
    --------
    >>> round(brier([0, 1, 1, 0], [0.1, 0.9, 0.8, 0.3]), 6)
    0.0375
    """
    y, p = outcomes_and_predictions(right, predicted)
    return float(np.mean((y - p) ** 2))


def log_loss(right: ArrayLike, predicted: ArrayLike) -> float:
    """Mean negative natural logarithm of the probability given to what happened.

    A prediction of 0 or 1 is moved by the spacing of doubles, so that one certain mistake stays finite.

    Parameters
    ----------
    right : array_like of 0 or 1
        Outcomes; 1 for a right answer.
    predicted : array_like, as long as `right`
        Probability of a right answer that was predicted. [0..1]
    """
    y, p = outcomes_and_predictions(right, predicted)
    tiny = np.finfo(np.float64).eps
    p = np.clip(p, tiny, 1 - tiny)
    return float(-np.mean(y * np.log(p) + (1 - y) * np.log1p(-p)))


def auc(right: ArrayLike, predicted: ArrayLike) -> float:
    """Share of pairs (one right, one wrong) in which the right one had the higher prediction; ties count half.

    Parameters
    ----------
    right : array_like of 0 or 1
        Outcomes; 1 for a right answer.
    predicted : array_like, as long as `right`
        Probability of a right answer that was predicted. [0..1]

    Returns
    -------
    float
        NaN when all outcomes are alike.
    """
    y, p = outcomes_and_predictions(right, predicted)
    n_right = int(y.sum())
    n_wrong = y.size - n_right
    if n_right == 0 or n_wrong == 0:
        return float("nan")
    _, index, counts = np.unique(p, return_inverse=True, return_counts=True)
    # The mean rank of equal predictions.
    ranks = (np.cumsum(counts) - (counts - 1) / 2.0)[index]
    return float((ranks[y == 1].sum() - n_right * (n_right + 1) / 2) / (n_right * n_wrong))


@dataclass(frozen=True)
class Reliability:
    """Answers gathered by what was predicted, empty bins left out.

    Attributes
    ----------
    counts : ndarray of int, shape (n_bins_used,)
    predicted : ndarray of float, shape (n_bins_used,)
        Mean prediction.
    observed : ndarray of float, shape (n_bins_used,)
        Share right.
    low, high : ndarray of float, shape (n_bins_used,)
        Wilson 95 % interval of the share right.
    """

    counts: NDArray[np.int64]
    predicted: Floats
    observed: Floats
    low: Floats
    high: Floats

    @property
    def error(self) -> float:
        """Expected calibration error: mean distance of prediction and share, weighted by the answers."""
        return float(np.average(np.abs(self.observed - self.predicted), weights=self.counts))


def reliability(right: ArrayLike, predicted: ArrayLike, bins: int = 10) -> Reliability:
    """Gather answers into equal-width bins (a, b] of the prediction; 0 belongs to the first.

    Parameters
    ----------
    right : array_like of 0 or 1
        Outcomes; 1 for a right answer.
    predicted : array_like, as long as `right`
        Probability of a right answer that was predicted. [0..1]
    bins : int
        Number of bins of equal width.

    Raises
    ------
    ValueError
        As for :func:`outcomes_and_predictions`, or with fewer than one bin.
    """
    if bins < 1:
        raise ValueError(f"At least one bin is needed; {bins} was given.")
    y, p = outcomes_and_predictions(right, predicted)
    place = np.searchsorted(np.linspace(0.0, 1.0, bins + 1)[1:-1], p, side="left")
    counts = np.bincount(place, minlength=bins)
    used = counts > 0
    n = counts[used]
    right_in = np.bincount(place, weights=y, minlength=bins)[used]
    sum_p = np.bincount(place, weights=p, minlength=bins)[used]
    low, high = wilson(right_in, n)
    return Reliability(n.astype(np.int64), sum_p / n, right_in / n, low, high)


def calibration_error(right: ArrayLike, predicted: ArrayLike, bins: int = 10) -> float:
    """Return the expected calibration error (Guo et al. 2017); see :class:`Reliability`.

    Parameters
    ----------
    right : array_like of 0 or 1
        Outcomes; 1 for a right answer.
    predicted : array_like, as long as `right`
        Probability of a right answer that was predicted. [0..1]
    bins : int
        Number of bins of equal width.
    """
    return reliability(right, predicted, bins).error
