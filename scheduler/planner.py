"""What to ask whom today, why, and what it leads to. Deterministic: same data, same plan."""

from __future__ import annotations

from dataclasses import asdict
from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scheduler.history import Ints
from scheduler.memory import ClassMemory, days, moment
from scheduler.outlook import LONG_RUN_DAYS, Outlook, outlook
from scheduler.schedule import PairLaw, Schedule, plan_ahead, planning_laws, sum_values
from scheduler.values import Dates, DayPlan, Floats, PlannedReview, Retention


def plan_day(
    memory: ClassMemory,
    dates: Dates,
    now: datetime,
    *,
    per_student_cap: int | Ints,
    allowance_left: Floats | None = None,
) -> DayPlan:
    """Choose the topics to ask each student today.

    A whole plan for the rest of the term is made, and its reviews of today are returned: those that gain
    more today than on any later evening that has room.

    Parameters
    ----------
    per_student_cap : int or ndarray of int, shape (n_students,)
        Most prompts today; 0 for a student who must not be asked.
    allowance_left : ndarray, shape (n_students,), optional
        Most prompts from now to the end of the term.

    Returns
    -------
    DayPlan
        For each student the reviews of today, the one with the largest gain first.
    """
    schedule = _schedule(memory, dates, now, per_student_cap, allowance_left)
    reasons = _Reasons(memory, schedule, now)
    chosen = {}
    for number, student in enumerate(memory.students):
        topics = np.flatnonzero(schedule.planned[number, :, 0])
        found = [reasons.of(number, int(topic)) for topic in topics]
        chosen[student] = tuple(sorted(found, key=lambda review: -review.gain))
    return DayPlan(chosen)


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
) -> NDArray[np.datetime64]:
    """Return when each topic is expected to come back to each student, shape (n_students, n_topics).

    UTC, to the second; NaT where no review is planned. Only reviews after today count.
    """
    schedule = _schedule(memory, dates, now, per_student_cap, allowance_left)
    planned = schedule.planned.copy()
    planned[:, :, 0] = False
    first = np.where(planned.any(axis=2), schedule.outlook.slots[planned.argmax(axis=2)], np.nan)
    return _as_moments(first)


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
) -> Retention:
    """Return expected retention on a date, with or without the reviews that are still planned.

    With them, every planned review happens with the student's own answering rate. Topics that the
    timetable teaches before `at` are included.
    """
    ahead = memory.retention(at, level)
    if not planned:
        return ahead
    schedule = _schedule(memory, dates, now, per_student_cap, allowance_left)
    lift = _lift(memory, schedule, days(at))
    return Retention(*(np.clip(part + lift, 0.0, 1.0) for part in (ahead.mean, ahead.low, ahead.high)))


def starter(memory: ClassMemory, dates: Dates, now: datetime, count: int) -> list[tuple[str, float]]:
    """Return the topics that would gain the whole class most if asked now, with the mean gain per student."""
    ahead = outlook(memory.topics, memory.counts()[2], dates, now)
    laws = planning_laws(memory.views())
    nobody = np.zeros(len(memory.students), dtype=np.int64)
    schedule = plan_ahead(laws, ahead, nobody, np.full(len(nobody), np.inf))
    gain = np.where(np.isfinite(schedule.gain[:, :, 0]), schedule.gain[:, :, 0], 0.0).mean(axis=0)
    order = np.argsort(-gain, kind="stable")[:count]
    return [(memory.topics[topic], float(gain[topic])) for topic in order if gain[topic] > 0.0]


def _schedule(
    memory: ClassMemory, dates: Dates, now: datetime, cap: int | Ints, allowance: Floats | None
) -> Schedule:
    n_students = len(memory.students)
    caps = np.broadcast_to(np.asarray(cap, dtype=np.int64), (n_students,))
    if (caps < 0).any():
        raise ValueError("A daily cap is negative; give 0 for a student who must not be asked.")
    left = np.full(n_students, np.inf) if allowance is None else np.asarray(allowance, dtype=float)
    return plan_ahead(
        planning_laws(memory.views()), outlook(memory.topics, memory.counts()[2], dates, now), caps, left
    )


class _Reasons:
    """Looks up the numbers behind the reviews of one day."""

    def __init__(self, memory: ClassMemory, schedule: Schedule, now: datetime) -> None:
        self.memory, self.schedule, self.now = memory, schedule, now
        self.retention = memory.retention(now)
        self.right, self.asked, self.last = memory.counts()

    def of(self, student: int, topic: int) -> PlannedReview:
        ahead = self.schedule.outlook
        test = ahead.test[topic]
        without, lifted = _on_test_day(self.schedule.laws, ahead, student, topic)
        return PlannedReview(
            student=self.memory.students[student],
            topic=self.memory.topics[topic],
            now=float(self.retention.mean[student, topic]),
            now_low=float(self.retention.low[student, topic]),
            now_high=float(self.retention.high[student, topic]),
            days_since=max(days(self.now) - float(self.last[student, topic]), 0.0),
            times_right=int(self.right[student, topic]),
            times_asked=int(self.asked[student, topic]),
            target=moment(float(test)) if np.isfinite(test) else None,
            without=without,
            with_review=lifted,
            gain=float(self.schedule.accepted[student, topic, 0]),
        )


def _on_test_day(laws: list[PairLaw], ahead: Outlook, student: int, topic: int) -> tuple[float, float]:
    """Return retention on the topic's next test without and with a review now, and nothing else."""
    n_topics = ahead.known_from.shape[1]
    test = ahead.test[topic]
    dates = np.array([test]) if np.isfinite(test) else ahead.slots[0] + np.array(LONG_RUN_DAYS)
    only = Outlook(ahead.slots, ahead.room, dates, ahead.weight, ahead.known_from, ahead.test)
    reviews = np.array([[[np.inf], [ahead.slots[0]]]])
    pair, known = np.array([student * n_topics + topic]), ahead.known_from[[student], [topic]]
    weight = np.full((1, len(dates)), 1.0 / len(dates))
    values = sum_values(laws, pair, known, reviews, only, weight)
    return float(values[0, 0]), float(values[0, 1])


def _lift(memory: ClassMemory, schedule: Schedule, at: float) -> Floats:
    """Return what the planned reviews add on a date, shape (n_students, n_topics)."""
    ahead = schedule.outlook
    shape = ahead.known_from.shape
    pairs = np.flatnonzero(schedule.planned.any(axis=2).ravel() & np.isfinite(ahead.known_from).ravel())
    student, topic = np.divmod(pairs, shape[1])
    planned = schedule.planned[student, topic] & (ahead.slots < at)
    moments = np.sort(np.where(planned, ahead.slots, np.inf), axis=1)
    reviews = np.stack([np.full_like(moments, np.inf), moments], axis=1)
    only = Outlook(ahead.slots, ahead.room, np.array([at]), ahead.weight, ahead.known_from, ahead.test)
    known = np.maximum(ahead.known_from[student, topic], 0.0)
    values = sum_values(schedule.laws, pairs, known, reviews, only, np.ones((len(pairs), 1)))
    lift = np.zeros(shape)
    lift[student, topic] = (values[:, 1] - values[:, 0]) * memory.response_rate()[student]
    return lift


def _as_moments(at_days: Floats) -> NDArray[np.datetime64]:
    known = np.isfinite(at_days)
    seconds = np.where(known, np.nan_to_num(at_days) * 86_400.0, 0.0).round().astype(np.int64)
    moments = seconds.astype("datetime64[s]")
    moments[~known] = np.datetime64("NaT")
    return np.asarray(moments)
