"""The illustration for the class: what is kept of the term's topics with no review, one, two and three.

This is a teacher's blackboard model (:mod:`scheduler.model.blackboard`), a rule of thumb, not the prediction, drawn
from the class's own timetable. Beside it stands what the class's own answers show, where there are enough of them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

import numpy as np

from bot.evidence.shared.figures import Proportion, pooled_share
from scheduler.model.blackboard import RULE_OF_THUMB, Blackboard, level
from scheduler.values import Floats
from storage.history.evidence_rows import AskedRecord, ClassRecord

DAY = timedelta(days=1)

FEWEST_STUDENTS = 5
"""No figure from fewer students is shown to a class."""

FEWEST_POINTS = 3
"""Points below which a curve of one's own is no curve yet. Chosen."""

FEWEST_ANSWERS = 15
"""Answers a point of the measured curve rests on at least. Chosen."""

DELAYS = ((1, 1), (2, 3), (4, 7), (8, 14), (15, 28))
"""Days since the topic was last met, first and last included, that make one point of the measured curve."""


@dataclass(frozen=True)
class Measured:
    """One point of the class's own curve: answers this long after the topic was last met."""

    first_day: int
    last_day: int
    right: Proportion
    students: int


@dataclass(frozen=True)
class MeasuredCurve:
    """The points for one number of earlier reviews (`reviews`; the last curve means that many or more)."""

    reviews: int
    points: tuple[Measured, ...]


@dataclass(frozen=True, eq=False)
class Illustration:
    """What the class is shown.

    Attributes
    ----------
    days : tuple of date
        From the first lesson on.
    curves : ndarray, shape (4, n_days)
        Mean over the topics taught so far with 0, 1, 2, 3 reviews. [points of 100]
    on_quiz_days : tuple of (date, tuple of float)
        The four levels of the topics of each quiz on its day.
    today : date
        Decides which quiz is shown.
    measured : tuple of MeasuredCurve
        Only points with enough answers of enough students.
    """

    school_class: ClassRecord
    rule: Blackboard
    days: tuple[date, ...]
    curves: Floats
    on_quiz_days: tuple[tuple[date, tuple[float, ...]], ...]
    today: date
    measured: tuple[MeasuredCurve, ...]

    @property
    def quiz(self) -> tuple[date, tuple[float, ...]] | None:
        """The next quiz with its four levels, or the last one; None when no quiz covers a taught topic."""
        known = [found for found in self.on_quiz_days if found[1]]
        return next((found for found in known if found[0] >= self.today), known[-1] if known else None)


def illustration(
    school_class: ClassRecord,
    lessons: Sequence[tuple[date, int]],
    quizzes: Sequence[tuple[date, Sequence[int]]] = (),
    exposures: Sequence[Exposure] = (),
    *,
    today: date | None = None,
    until: date | None = None,
    rule: Blackboard = RULE_OF_THUMB,
) -> Illustration:
    """Draw up the illustration from a timetable.

    Parameters
    ----------
    lessons : sequence of (date, int)
        Day and topic; the first lesson of a topic counts.
    quizzes : sequence of (date, topics)
        Quiz days and the topics they cover.
    exposures : sequence of Exposure
        What the class's own answers tell (`exposures_of`).
    today : date, optional
        Which quiz is the next one; by default the first day of the timetable.
    until : date, optional
        Last day drawn; by default the last quiz, or two weeks after the last lesson.

    Raises
    ------
    ValueError
        When the timetable has no lesson.
    """
    first_taught: dict[int, date] = {}
    for day, topic in sorted(lessons):
        first_taught.setdefault(topic, day)
    if not first_taught:
        raise ValueError("An illustration needs at least one lesson in the timetable.")
    start = min(first_taught.values())
    end = until or max([day for day, _ in quizzes] + [max(first_taught.values()) + 14 * DAY])
    days = tuple(start + DAY * step for step in range((end - start).days + 1))
    curves = np.stack([_mean_level(first_taught, days, reviews, rule) for reviews in range(len(rule.floors))])
    return Illustration(
        school_class=school_class,
        rule=rule,
        days=days,
        curves=curves,
        on_quiz_days=tuple(_quiz_levels(day, topics, first_taught, rule) for day, topics in sorted(quizzes)),
        today=today or start,
        measured=_worth_showing(measured_curves(exposures)),
    )


def _worth_showing(curves: tuple[MeasuredCurve, ...]) -> tuple[MeasuredCurve, ...]:
    return curves if sum(len(curve.points) for curve in curves) >= FEWEST_POINTS else ()


def _mean_level(taught: dict[int, date], days: Sequence[date], reviews: int, rule: Blackboard) -> Floats:
    lessons = np.array([day.toordinal() for day in taught.values()])
    ages = np.array([day.toordinal() for day in days])[:, None] - lessons[None, :]
    return np.asarray(np.nanmean(level(ages, reviews, rule), axis=1))


def _quiz_levels(
    day: date, topics: Sequence[int], taught: dict[int, date], rule: Blackboard
) -> tuple[date, tuple[float, ...]]:
    ages = np.array(
        [(day - taught[topic]).days for topic in topics if topic in taught and taught[topic] <= day]
    )
    if not len(ages):
        return day, ()
    return day, tuple(float(level(ages, reviews, rule).mean()) for reviews in range(len(rule.floors)))


# ---------------------------------------------------------------- what the class's own answers show


@dataclass(frozen=True)
class Exposure:
    """One answer: how long after the topic was last met, after how many reviews, and whether it was right."""

    student_id: int
    days: int
    reviews: int
    right: bool


def exposures_of(
    asked: Sequence[AskedRecord], lessons: Sequence[tuple[datetime, int]], most_reviews: int = 3
) -> tuple[Exposure, ...]:
    """Turn answers and lessons into delays since a topic was last met.

    A topic is met in its lessons and whenever the student answers a question on it. Answers on the day the
    topic was met are left out: they say nothing about forgetting.

    Parameters
    ----------
    asked : sequence of AskedRecord
        All questions asked of the class.
    lessons : sequence of (datetime, int)
        Moment and topic of each lesson.
    most_reviews : int
        Higher numbers of reviews are counted as this one.
    """
    met_in_class: dict[int, list[datetime]] = {}
    for at, topic in sorted(lessons):
        met_in_class.setdefault(topic, []).append(at)
    pairs: dict[tuple[int, int], list[AskedRecord]] = {}
    for row in asked:
        if row.answered_at is not None and row.topic_id in met_in_class:
            pairs.setdefault((row.student_id, row.topic_id), []).append(row)
    return tuple(
        found
        for (_, topic), rows in sorted(pairs.items())
        for found in _pair_exposures(rows, met_in_class[topic], most_reviews)
    )


def _pair_exposures(
    rows: list[AskedRecord], lessons: Sequence[datetime], most_reviews: int
) -> list[Exposure]:
    found: list[Exposure] = []
    reviewed: list[datetime] = []
    for row in sorted(rows, key=lambda row: (row.answered_at or row.asked_at, row.review_id)):
        at = row.answered_at or row.asked_at
        met = [moment for moment in (*lessons, *reviewed) if moment < at]
        if met:
            gap = round((at - max(met)).total_seconds() / 86400.0)
            if gap >= 1:
                found.append(Exposure(row.student_id, gap, min(len(reviewed), most_reviews), row.right))
        reviewed.append(at)
    return found


def measured_curves(exposures: Sequence[Exposure]) -> tuple[MeasuredCurve, ...]:
    """Gather exposures into points; a point needs `FEWEST_ANSWERS` answers of `FEWEST_STUDENTS` students."""
    curves: list[MeasuredCurve] = []
    for reviews in sorted({row.reviews for row in exposures}):
        own = [row for row in exposures if row.reviews == reviews]
        points = [_point([row for row in own if low <= row.days <= high], low, high) for low, high in DELAYS]
        enough = tuple(point for point in points if point is not None)
        if enough:
            curves.append(MeasuredCurve(reviews, enough))
    return tuple(curves)


def _point(rows: Sequence[Exposure], low: int, high: int) -> Measured | None:
    students = sorted({row.student_id for row in rows})
    if len(rows) < FEWEST_ANSWERS or len(students) < FEWEST_STUDENTS:
        return None
    right = [sum(row.right for row in rows if row.student_id == student) for student in students]
    asked = [sum(row.student_id == student for row in rows) for student in students]
    return Measured(low, high, pooled_share(right, asked), len(students))
