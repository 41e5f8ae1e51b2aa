"""Means over many predictions of one class: their uncertainty when the predictions err alike."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from scheduler.values import Floats

ENOUGH = 5
"""Answers below which nothing is claimed. Chosen: at 4 answers an 80 % Wilson interval spans over 50 points."""


@dataclass(frozen=True)
class Alike:
    """Correlation assumed between the errors of two predictions of one class.

    Chosen so that 80 % intervals of means hold their level: on 49 classes of seven families of simulated learners
    who are asked at random, checked on 49 others and on classes that the planner asks (RESULTS.md, "Intervals").
    """

    same_topic: float = 0.25
    same_student: float = 0.17
    neither: float = 0.05


ALIKE = Alike()

ALIKE_WITHOUT = Alike(neither=0.12)
"""The same for a class as it would be without its reviews.

What nobody observed rests on the laws alone, so all of it errs together more. Chosen on 84 classes of seven families,
checked on 56 others (RESULTS.md, "With and without reviews").
"""


def mean_with_interval(
    mean: Floats,
    low: Floats,
    high: Floats,
    keep: NDArray[np.bool_],
    alike: Alike = ALIKE,
    level: float = 0.8,
) -> tuple[float, float, float] | None:
    """Return the mean of several predictions and its interval, widened for what they have in common.

    The variance of the mean is the mean of ``r sd sd'`` over all pairs of predictions, where r is 1 for a
    prediction with itself and as in `alike` otherwise.

    Parameters
    ----------
    mean, low, high : ndarray of float, shape (n_students, n_topics)
        Predictions with central intervals of probability `level`. [0..1]
    keep : ndarray of bool, same shape
        Which of them.
    alike : Alike
        Correlations of their errors.
    level : float
        Central probability of the intervals, of those given and of the one returned. (0..1)

    Returns
    -------
    tuple of float (mean, low, high), or None
        Clipped to 0..1; None when nothing is kept.
    """
    count = int(np.count_nonzero(keep))
    if count == 0:
        return None
    z = NormalDist().inv_cdf((1.0 + level) / 2.0)
    sd = np.where(keep, (high - low) / (2.0 * z), 0.0)
    topics, students = float(np.sum(sd.sum(axis=0) ** 2)), float(np.sum(sd.sum(axis=1) ** 2))
    total = (
        alike.neither * float(sd.sum()) ** 2
        + (alike.same_topic - alike.neither) * topics
        + (alike.same_student - alike.neither) * students
        + (1.0 - alike.same_topic - alike.same_student + alike.neither) * float(np.sum(sd**2))
    )
    middle, half = float(np.mean(mean[keep])), z * total**0.5 / count
    return middle, max(0.0, middle - half), min(1.0, middle + half)
