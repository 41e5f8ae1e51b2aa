"""What to ask whom today, why, and what it leads to. Deterministic: same data, same plan."""

from __future__ import annotations

from dataclasses import asdict
from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scheduler.model.history import Ints
from scheduler.model.memory import ClassMemory, days, moment
from scheduler.plan.allocation import IMPROVEMENTS, Courses, Schedule, plan_ahead, planning_laws, retention_on
from scheduler.plan.outlook import FINE_DAYS, LONG_RUN_DAYS, outlook
from scheduler.values import Dates, DayPlan, Floats, PlannedReview, Retention


def plan_day(
    memory: ClassMemory,
    dates: Dates,
    now: datetime,
    *,
    per_student_cap: int | Ints,
    allowance_left: Floats | None = None,
    target: float | None = None,
) -> DayPlan:
    """Choose the topics to ask each student today.

    A whole plan for the rest of the term is made, and its reviews of today are returned: those that gain
    more today than on any later evening that has room.

    Parameters
    ----------
    memory : ClassMemory
        What the class has learned and how it forgets.
    dates : Dates
        Lessons, quizzes and exams of the term.
    now : datetime
        The present moment, aware.
    per_student_cap : int or ndarray of int, shape (n_students,)
        Most prompts today; 0 for a student who must not be asked.
    allowance_left : ndarray, shape (n_students,), optional
        Most prompts from now to the end of the term.
    target : float, optional
        Share to be known on the dates that count [0..1]: as few reviews as reach it, student by student; who is
        expected to know as much without any is not asked. Without it, and when no date counts any more, every
        evening is used.

    Returns
    -------
    DayPlan
        For each student the reviews of today, the one with the largest gain first.
    """
    schedule = _schedule(memory, dates, now, per_student_cap, allowance_left, target=target)
    students, topics = np.nonzero(schedule.planned[:, :, 0])
    found = _reviews(memory, schedule, now, students, topics)
    return DayPlan(
        {
            student: tuple(
                sorted((one for one in found if one.student == student), key=lambda one: -one.gain)
            )
            for student in memory.students
        }
    )


def topics_today(
    memory: ClassMemory,
    dates: Dates,
    now: datetime,
    *,
    per_student_cap: int | Ints,
    allowance_left: Floats | None = None,
    target: float | None = None,
) -> dict[str, list[str]]:
    """Return the topics of `plan_day`, in the same order, without the numbers behind them.

    Parameters
    ----------
    memory : ClassMemory
        What the class has learned and how it forgets.
    dates : Dates
        Lessons, quizzes and exams of the term.
    now : datetime
        The present moment, aware.
    per_student_cap : int or ndarray of int, shape (n_students,)
        Most prompts a day; 0 for a student who must not be asked.
    allowance_left : ndarray, shape (n_students,), optional
        Most prompts from now to the end of the term; no limit by default.
    target : float, optional
        Share to be known on the dates that count [0..1]; every evening is used without it.
    """
    schedule = _schedule(memory, dates, now, per_student_cap, allowance_left, target=target)
    today, gain = schedule.planned[:, :, 0], schedule.accepted[:, :, 0]
    order = np.argsort(-np.where(today, gain, -np.inf), axis=1, kind="stable")
    return {
        student: [memory.topics[topic] for topic in order[row, : int(today[row].sum())]]
        for row, student in enumerate(memory.students)
    }


def explain(review: PlannedReview) -> dict[str, Any]:
    """Return the numbers that a sentence about this review needs, under the names of `PlannedReview`."""
    return asdict(review)


def next_moments(
    memory: ClassMemory,
    dates: Dates,
    now: datetime,
    *,
    per_student_cap: int | Ints = 2,
    allowance_left: Floats | None = None,
    target: float | None = None,
) -> NDArray[np.datetime64]:
    """Return when each topic is expected to come back to each student, shape (n_students, n_topics).

    UTC, to the second; NaT where no review is planned. Only reviews after today count. The plan is not improved after
    it is made: every evening makes it anew, and students are told a day, not an hour.

    Parameters
    ----------
    memory : ClassMemory
        What the class has learned and how it forgets.
    dates : Dates
        Lessons, quizzes and exams of the term.
    now : datetime
        The present moment, aware.
    per_student_cap : int or ndarray of int, shape (n_students,)
        Most prompts a day; 0 for a student who must not be asked.
    allowance_left : ndarray, shape (n_students,), optional
        Most prompts from now to the end of the term; no limit by default.
    target : float, optional
        Share to be known on the dates that count [0..1]; every evening is used without it.
    """
    schedule = _schedule(memory, dates, now, per_student_cap, allowance_left, improvements=0, target=target)
    planned = schedule.planned.copy()
    planned[:, :, 0] = False
    first = np.where(planned.any(axis=2), schedule.outlook.slots[planned.argmax(axis=2)], np.nan)
    return _as_moments(first + schedule.outlook.origin)


def forecast(
    memory: ClassMemory,
    dates: Dates,
    now: datetime,
    at: datetime,
    *,
    planned: bool,
    per_student_cap: int | Ints = 2,
    allowance_left: Floats | None = None,
    level: float = 0.8,
    target: float | None = None,
) -> Retention:
    """Return expected retention on a date, with or without the reviews that are still planned.

    With them, every planned review happens with the student's own answering rate. Topics that the
    timetable teaches before `at` are included.

    Parameters
    ----------
    memory : ClassMemory
        What the class has learned and how it forgets.
    dates : Dates
        Lessons, quizzes and exams of the term.
    now : datetime
        The present moment, aware.
    at : datetime
        The date of the forecast, aware.
    planned : bool
        Whether the reviews that are still planned happen.
    per_student_cap : int or ndarray of int, shape (n_students,)
        Most prompts a day; 0 for a student who must not be asked.
    allowance_left : ndarray, shape (n_students,), optional
        Most prompts from now to the end of the term; no limit by default.
    level : float
        Probability that the interval shall hold. (0..1)
    target : float, optional
        Share to be known on the dates that count [0..1]; every evening is used without it.
    """
    ahead = memory.retention(at, level)
    if not planned:
        return ahead
    schedule = _schedule(memory, dates, now, per_student_cap, allowance_left, target=target, fine=True)
    more = lift(memory, schedule, days(at))
    return Retention(*(np.clip(part + more, 0.0, 1.0) for part in (ahead.mean, ahead.low, ahead.high)))


def starter(memory: ClassMemory, dates: Dates, now: datetime, count: int) -> list[tuple[str, float]]:
    """Return the topics that would gain the whole class most if asked now, with the mean gain per student.

    Parameters
    ----------
    memory : ClassMemory
        What the class has learned and how it forgets.
    dates : Dates
        Lessons, quizzes and exams of the term.
    now : datetime
        The present moment, aware.
    count : int
        How many topics, at most.
    """
    ahead = outlook(memory.topics, memory.counts()[2], dates, now)
    laws = planning_laws(memory.views())
    nobody = np.zeros(len(memory.students), dtype=np.int64)
    schedule = plan_ahead(laws, ahead, nobody, np.full(len(nobody), np.inf))
    gain = np.where(np.isfinite(schedule.gain[:, :, 0]), schedule.gain[:, :, 0], 0.0).mean(axis=0)
    order = np.argsort(-gain, kind="stable")[:count]
    return [(memory.topics[topic], float(gain[topic])) for topic in order if gain[topic] > 0.0]


def _limits(memory: ClassMemory, cap: int | Ints, allowance: Floats | None) -> tuple[Ints, Floats]:
    n_students = len(memory.students)
    caps = np.broadcast_to(np.asarray(cap, dtype=np.int64), (n_students,))
    if (caps < 0).any():
        raise ValueError("A daily cap is negative; give 0 for a student who must not be asked.")
    return caps, np.full(n_students, np.inf) if allowance is None else np.asarray(allowance, dtype=float)


def _schedule(
    memory: ClassMemory,
    dates: Dates,
    now: datetime,
    cap: int | Ints,
    allowance: Floats | None,
    *,
    improvements: int = IMPROVEMENTS,
    target: float | None = None,
    fine: bool = False,
) -> Schedule:
    caps, left = _limits(memory, cap, allowance)
    if not any(at > now for at, _ in (*dates.quizzes, *dates.exams)):
        target = None  # the long run would be put off from day to day
    longest = FINE_DAYS if fine or target is not None else np.inf
    ahead = outlook(memory.topics, memory.counts()[2], dates, now, longest=longest)
    laws = planning_laws(memory.views())
    return plan_ahead(
        laws, ahead, caps, left, memory.response_rate(), improvements=improvements, target=target
    )


def _reviews(
    memory: ClassMemory, schedule: Schedule, now: datetime, students: Ints, topics: Ints
) -> list[PlannedReview]:
    """Return the reviews of today with the numbers behind them."""
    retention = memory.retention(now)
    right, asked, last = memory.counts()
    without, lifted = _on_test_day(schedule, students, topics)
    ahead = schedule.outlook
    return [
        PlannedReview(
            student=memory.students[student],
            topic=memory.topics[topic],
            now=float(retention.mean[student, topic]),
            now_low=float(retention.low[student, topic]),
            now_high=float(retention.high[student, topic]),
            days_since=max(days(now) - float(last[student, topic]), 0.0),
            times_right=int(right[student, topic]),
            times_asked=int(asked[student, topic]),
            target=moment(float(ahead.test[topic]) + ahead.origin)
            if np.isfinite(ahead.test[topic])
            else None,
            without=float(without[number]),
            with_review=float(lifted[number]),
            gain=float(schedule.accepted[student, topic, 0]),
        )
        for number, (student, topic) in enumerate(zip(students, topics, strict=True))
    ]


def _on_test_day(schedule: Schedule, students: Ints, topics: Ints) -> tuple[Floats, Floats]:
    """Return retention on each topic's next test without and with a review now, and nothing else."""
    ahead = schedule.outlook
    dates = np.concatenate([np.unique(ahead.test[np.isfinite(ahead.test)]), LONG_RUN_DAYS])
    test = ahead.test[topics][:, None]
    wanted = np.where(np.isfinite(test), dates == test, np.isin(dates, LONG_RUN_DAYS))
    pairs, known = students * ahead.known_from.shape[1] + topics, ahead.known_from[students, topics]
    reviews = np.repeat([[np.inf], [0.0]], len(pairs), axis=0)
    courses = Courses(np.tile(pairs, 2), np.tile(known, 2), reviews)
    expected = retention_on(schedule.laws, courses, dates, np.tile(wanted, (2, 1))).sum(axis=1)
    without, lifted = np.split(expected / np.tile(wanted.sum(axis=1), 2), 2)
    return without, lifted


def lift(memory: ClassMemory, schedule: Schedule, at: float) -> Floats:
    """Return what the planned reviews add on a date, shape (n_students, n_topics).

    Later evenings hold only reviews that happen (`plan_ahead`); those of today happen with the student's own
    answering rate.

    Parameters
    ----------
    memory : ClassMemory
        What the class has learned and how it forgets.
    schedule : Schedule
        The reviews that are planned.
    at : float
        The date. [days since 1970]
    """
    ahead = schedule.outlook
    date = np.array([at - ahead.origin])
    pairs = np.flatnonzero(schedule.planned.any(axis=2).ravel())
    student, topic = np.divmod(pairs, ahead.known_from.shape[1])
    planned = schedule.planned[student, topic] & (ahead.slots < date)
    moments = np.where(planned, ahead.slots, np.inf)
    later = moments.copy()
    later[:, 0] = np.inf
    known, wanted = ahead.known_from[student, topic], np.ones((len(pairs), 1), dtype=bool)
    without, skipped, lifted = (
        retention_on(schedule.laws, Courses(pairs, known, np.sort(reviews, axis=1)), date, wanted)[:, 0]
        for reviews in (moments[:, :0], later, moments)
    )
    rate = memory.response_rate()[student]
    more = np.zeros(ahead.known_from.shape)
    more[student, topic] = rate * lifted + (1.0 - rate) * skipped - without
    return more


def _as_moments(at_days: Floats) -> NDArray[np.datetime64]:
    known = np.isfinite(at_days)
    seconds = np.where(known, np.nan_to_num(at_days) * 86_400.0, 0.0).round().astype(np.int64)
    moments = seconds.astype("datetime64[s]")
    moments[~known] = np.datetime64("NaT", "s")
    return np.asarray(moments)
