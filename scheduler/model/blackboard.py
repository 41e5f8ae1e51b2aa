"""The teacher's blackboard: points kept of a topic from day to day, as a rule of thumb.

This is what a teacher draws to show a class why to review, not the prediction: a topic stands at 100 on the day it
is taught; each day costs a fixed number of points down to a floor; a review brings it back to 100, where it still
stands the next day, and leaves a slower loss and a higher floor behind. Weekend days count like any other.

Common practice, no source: 25 points a day to a floor of 20 without a review; with one review on the lesson's own
day 15 points a day to a floor of 40; floors of 60 and 90 after two and three reviews. Chosen here: losses of 10 and
5 points a day after two and three reviews, made on the 3rd and the 10th day after the lesson, so that the gaps grow.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

FULL = 100.0


@dataclass(frozen=True)
class Blackboard:
    """The rule of thumb.

    Attributes
    ----------
    losses : tuple of float
        Points lost per day after 0, 1, 2, … reviews. [points of 100]
    floors : tuple of float
        Where the loss stops. [points of 100]
    reviews : tuple of int
        Days after the lesson of the first, second, … review; 0 is the lesson's own day.

    Raises
    ------
    ValueError
        When the lengths do not fit, a number is outside 0..100, or review days do not rise.
    """

    losses: tuple[float, ...] = (25.0, 15.0, 10.0, 5.0)
    floors: tuple[float, ...] = (20.0, 40.0, 60.0, 90.0)
    reviews: tuple[int, ...] = (0, 3, 10)

    def __post_init__(self) -> None:
        if not len(self.losses) == len(self.floors) == len(self.reviews) + 1:
            raise ValueError("A rule of thumb needs one loss and one floor more than it has reviews.")
        for name, values in (("losses", self.losses), ("floors", self.floors)):
            if not all(0 <= value <= FULL for value in values):
                raise ValueError(f"The {name} of a rule of thumb lie between 0 and 100; got {values}.")
        if list(self.reviews) != sorted(set(self.reviews)) or min(self.reviews, default=0) < 0:
            raise ValueError(f"Review days must rise from 0 on; got {self.reviews}.")


RULE_OF_THUMB = Blackboard()


def level(age_days: ArrayLike, reviews: int, rule: Blackboard = RULE_OF_THUMB) -> Floats:
    """Return what is kept of a topic by the rule of thumb.

    Parameters
    ----------
    age_days : array_like of int
        Days since the lesson. [days], negative: not yet taught.
    reviews : int
        How many of the rule's reviews are made, each on its day.
    rule : Blackboard

    Returns
    -------
    ndarray of float, same shape
        [points of 100]; NaN where not yet taught.

    Raises
    ------
    ValueError
        When the rule has no such number of reviews.

    Examples
    --------
    >>> level([6, 4, 2], 0).tolist(), level([6, 4, 2], 1).tolist()
    ([20.0, 20.0, 50.0], [40.0, 55.0, 85.0])
    """
    if not 0 <= reviews <= len(rule.reviews):
        raise ValueError(f"The rule of thumb knows 0 to {len(rule.reviews)} reviews, not {reviews}.")
    return level_after(age_days, np.array(rule.reviews[:reviews], dtype=np.float64), rule)


def level_after(age_days: ArrayLike, review_days: ArrayLike, rule: Blackboard = RULE_OF_THUMB) -> Floats:
    """Return what is kept when reviews fall on days of their own.

    Parameters
    ----------
    age_days : array_like of float
        Days since the lesson. [days], negative: not yet taught.
    review_days : array_like of float, shape (n_reviews,)
        Days from the lesson to each review, in any order; NaN for a review left out. Those beyond the last of
        the rule act like the last.
    rule : Blackboard

    Returns
    -------
    ndarray of float, same shape as age_days
        [points of 100]; NaN where not yet taught.

    Raises
    ------
    ValueError
        When a review lies before the lesson.
    """
    age = np.asarray(age_days, dtype=np.float64)
    days = np.sort(np.asarray(review_days, dtype=np.float64).ravel())
    days = days[~np.isnan(days)]
    if days.size and days[0] < 0:
        raise ValueError(f"A review cannot come before its lesson; one lies at {days[0]:g} days.")
    kept = np.maximum(FULL - rule.losses[0] * age, rule.floors[0])
    for done, day in enumerate(days, start=1):
        number = min(done, len(rule.reviews))
        # Still 100 the day after a review; the loss starts then.
        since = np.maximum(age - day - 1, 0)
        fading = np.maximum(FULL - rule.losses[number] * since, rule.floors[number])
        kept = np.where(age >= day, fading, kept)
    return np.where(age < 0, np.nan, kept)


def class_level(
    lesson_days: ArrayLike, at_days: ArrayLike, reviews: int, rule: Blackboard = RULE_OF_THUMB
) -> Floats:
    """Return the mean level of the topics taught so far, drawn from a timetable.

    Parameters
    ----------
    lesson_days : array_like of int, shape (n_topics,)
        Day of each topic's lesson, counted from any day. [days]
    at_days : array_like of int, shape (n_days,)
        Days to look at, on the same count. [days]
    reviews : int
        How many of the rule's reviews each topic gets.
    rule : Blackboard

    Returns
    -------
    ndarray of float, shape (n_days,)
        [points of 100]; NaN before the first lesson.

    Examples
    --------
    >>> class_level([1, 3, 5], [0, 7], 0).tolist(), class_level([1, 3, 5], [7], 1).tolist()
    ([nan, 30.0], [60.0])
    """
    ages = np.asarray(at_days)[:, None] - np.asarray(lesson_days)[None, :]
    levels = level(ages, reviews, rule)
    taught = (ages >= 0).sum(axis=1)
    mean = np.full(len(ages), np.nan)
    np.divide(np.nansum(levels, axis=1), taught, out=mean, where=taught > 0)
    return mean
