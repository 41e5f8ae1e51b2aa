"""Values that leave the scheduler: frozen, plain, without behaviour of their own.

Storage may import this module, and of the calendar the time zones and the quiet hours.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Retention:
    """Probability of answering without help, with its uncertainty.

    Attributes
    ----------
    mean, low, high : ndarray of float, shape (n_students, n_topics)
        Posterior mean and the bounds of the central interval. [0..1], 0 for a topic not yet taught.
    """

    mean: Floats
    low: Floats
    high: Floats


@dataclass(frozen=True)
class LawParameters:
    """What a class has taught us about one memory law.

    Attributes
    ----------
    theta : tuple of float
        Parameters on the law's own unbounded scale, in the order of ``laws.Law.names``.
    theta_sd : tuple of float
        Standard deviation of each, as a prior for the next fit.
    student_sd, topic_sd, pair_sd : float
        Spread of the student, topic and student-by-topic effects, on the law's trait scale.
    weight : float
        Share of this law in the mixture. [0..1]
    theta_covariance : tuple of tuple of float
        Posterior covariance of the parameters; empty for a prior, whose parameters are independent.
    """

    theta: tuple[float, ...]
    theta_sd: tuple[float, ...]
    student_sd: float
    topic_sd: float
    pair_sd: float
    weight: float
    theta_covariance: tuple[tuple[float, ...], ...] = ()


@dataclass(frozen=True)
class Parameters:
    """Class-wide parameters of the retention model; a prior before a fit, a posterior after it.

    Attributes
    ----------
    laws : mapping of str to LawParameters
        One entry per memory law of the mixture; the weights add up to 1.
    slip : float
        Probability of a wrong answer although the topic is recalled. [0..1)
    response_mean, response_size : float
        Prior of the answering rate of a student: mean [0..1] and the number of prompts it is worth.
    question_sd : float
        Spread of the difficulty of questions around that of their topic. [logits]
    answers : int
        Number of answers that the parameters were learned from; 0 for the built-in prior.
    questions : mapping of str to float
        Easiness of each question that was answered, beside the others of its topic. [logits]
    """

    laws: Mapping[str, LawParameters]
    slip: float
    response_mean: float
    response_size: float
    question_sd: float
    answers: int = 0
    questions: Mapping[str, float] = field(default_factory=dict)

    def to_dict(self) -> dict[str, Any]:
        """Return plain numbers, lists and dictionaries that JSON can hold."""
        laws = {
            name: {
                **vars(law),
                "theta": list(law.theta),
                "theta_sd": list(law.theta_sd),
                "theta_covariance": [list(row) for row in law.theta_covariance],
            }
            for name, law in self.laws.items()
        }
        return {**vars(self), "laws": laws, "questions": dict(self.questions)}

    @classmethod
    def from_dict(cls, stored: Mapping[str, Any]) -> Parameters:
        """Rebuild parameters from `to_dict`.

        Raises
        ------
        ValueError
            When a field is missing, unknown or not a number.
        """
        try:
            laws = {name: _law_from_dict(law) for name, law in stored["laws"].items()}
            return cls(**{**stored, "laws": laws})
        except (KeyError, TypeError, AttributeError) as problem:
            raise ValueError(
                f"Stored model parameters are damaged ({problem}); fit the class again."
            ) from problem


def _law_from_dict(stored: Mapping[str, Any]) -> LawParameters:
    rows = tuple(tuple(map(float, row)) for row in stored.get("theta_covariance", ()))
    theta, theta_sd = tuple(map(float, stored["theta"])), tuple(map(float, stored["theta_sd"]))
    return LawParameters(**{**stored, "theta": theta, "theta_sd": theta_sd, "theta_covariance": rows})


@dataclass(frozen=True)
class Dates:
    """The dates of a term that the planner works towards.

    Attributes
    ----------
    quizzes, exams : tuple of (datetime, tuple of str)
        Moment of the test and the topics it covers; aware datetimes.
    lessons : tuple of (datetime, str)
        Lessons, past and to come: when which topic is taught.
    evenings : tuple of datetime
        Allowed review moments from now on, in order, one per day on which a student can be asked. When
        empty, every day at the hour of ``now`` is taken.
    """

    quizzes: tuple[tuple[datetime, tuple[str, ...]], ...] = ()
    exams: tuple[tuple[datetime, tuple[str, ...]], ...] = ()
    lessons: tuple[tuple[datetime, str], ...] = ()
    evenings: tuple[datetime, ...] = ()


@dataclass(frozen=True)
class PlannedReview:
    """One topic to ask one student today, and the numbers that speak for it.

    Attributes
    ----------
    student, topic : str
    now : float
        Predicted retention now. [0..1]
    now_low, now_high : float
        80 % interval of it.
    days_since : float
        Days since the student last met the topic.
    times_right, times_asked : int
        Answers so far.
    target : datetime or None
        The next date that counts for the topic: quiz or exam.
    without, with_review : float
        Expected retention on that date without and with a review today; when there is no such date,
        averaged over the coming half year.
    gain : float
        What the plan expects from asking today, over all dates that count. [retention-dates]
    """

    student: str
    topic: str
    now: float
    now_low: float
    now_high: float
    days_since: float
    times_right: int
    times_asked: int
    target: datetime | None
    without: float
    with_review: float
    gain: float


@dataclass(frozen=True)
class DayPlan:
    """The day's choice for a whole class, best first for each student."""

    reviews: Mapping[str, tuple[PlannedReview, ...]] = field(default_factory=dict)

    def topics(self) -> dict[str, list[str]]:
        """Return the topics to ask each student who is asked anything."""
        return {
            student: [review.topic for review in planned]
            for student, planned in self.reviews.items()
            if planned
        }
