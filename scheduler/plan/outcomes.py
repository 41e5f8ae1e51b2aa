"""What a dose leads to: retention on the dates that count, for a number of questions an evening or a target."""

from __future__ import annotations

from collections.abc import Sequence
from copy import deepcopy
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from scheduler.model.history import Ints
from scheduler.model.memory import ClassMemory, days
from scheduler.model.parts import ModelPart
from scheduler.plan.allocation import Schedule, plan_ahead, planning_laws
from scheduler.plan.outlook import FINE_DAYS, Outlook, outlook
from scheduler.plan.planner import lift
from scheduler.values import Dates, Floats, Retention

CLOSE = 0.02
"""A target is reached where so little is missing. Chosen: no forecast of a class is more exact."""


@dataclass(frozen=True, eq=False)
class OnDate:
    """A class on one date that counts.

    Attributes
    ----------
    at : datetime
    retention : Retention
        Shape (n_students, n_topics).
    counted : ndarray of bool, shape (n_students, n_topics)
        The pairs that count: topics of the test that can be asked about and will have been taught by then.
    """

    at: datetime
    retention: Retention
    counted: NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class DoseOutcome:
    """What a dose leads to.

    Attributes
    ----------
    questions : int
        Asked of a student at most, an evening.
    asked : float
        Questions that the plan really asks of a student, a mean over students and evenings.
    dates : tuple of OnDate
        The coming quizzes and exams, in order.
    """

    questions: int
    asked: float
    dates: tuple[OnDate, ...]

    @property
    def known(self) -> float:
        """Share known on the dates that count, each date alike. [0..1]; NaN where nothing counts."""
        shares = [one.retention.mean[one.counted].mean() for one in self.dates if one.counted.any()]
        return float(np.mean(shares)) if shares else float("nan")


class Prospects:
    """A class and its dates, from which any dose can be looked at.

    Parameters
    ----------
    memory : ClassMemory
        The class's model. It is not changed.
    dates : Dates
        Its `evenings` are those on which students are asked under the rules that are looked at.
    now : datetime
    askable : ndarray of bool, shape (n_students, n_topics), optional
        Pairs that can be asked about; all by default. The others count neither in plans nor in outcomes.
    level : float
        Probability that an interval shall hold. (0..1)
    """

    def __init__(
        self,
        memory: ClassMemory,
        dates: Dates,
        now: datetime,
        *,
        askable: NDArray[np.bool_] | None = None,
        level: float = 0.8,
    ) -> None:
        told = _after_lessons(memory, dates, now)
        shape = (len(told.students), len(told.topics))
        self._memory = ModelPart(told, np.ones(shape, dtype=bool) if askable is None else askable)
        self._dates, self._now = dates, now
        self._laws = planning_laws(self._memory.views())
        self._tests = sorted((at, topics) for at, topics in (*dates.quizzes, *dates.exams) if at > now)
        last = self._memory.counts()[2]
        self._bare = [
            OnDate(at, self._memory.retention(at, level), self._counted(last, at, topics))
            for at, topics in self._tests
        ]

    def of(
        self,
        questions: int,
        caps: Ints | None = None,
        *,
        target: float | None = None,
        left: Floats | None = None,
    ) -> DoseOutcome:
        """Return what at most so many questions an evening lead to.

        Parameters
        ----------
        questions : int
            0 for no more reviews.
        caps : ndarray of int, shape (n_students,), optional
            The same student by student, 0 for those who are not asked.
        target : float, optional
            Share to be known [0..1]: no more questions than reach it.
        left : ndarray, shape (n_students,), optional
            Questions left of the term's allowance.
        """
        n_students = len(self._memory.students)
        most = np.full(n_students, questions) if caps is None else caps
        ahead = self._outlook()
        allowance = np.full(n_students, np.inf) if left is None else left
        rate = self._memory.response_rate()
        schedule = plan_ahead(self._laws, ahead, most, allowance, rate, improvements=0, target=target)
        dates = tuple(self._with(schedule, one) for one in self._bare)
        return DoseOutcome(questions, _asked(schedule, ahead, rate, most), dates)

    def reaching(self, target: float, most: int, left: Floats | None = None) -> DoseOutcome:
        """Return the smallest allowed number of questions that reaches a target, or the largest one.

        Parameters
        ----------
        target : float
            Share to be known on the dates that count. [0..1]
        most : int
            Questions an evening that are allowed.
        left : ndarray, shape (n_students,), optional
            Most questions from now to the end of the term; no limit by default.
        """
        low, high = 0, most
        best = self.of(most, target=target, left=left)
        if not reaches(best, target):
            return best
        while high - low > 1:
            middle = (low + high) // 2
            tried = self.of(middle, target=target, left=left)
            if reaches(tried, target):
                high, best = middle, tried
            else:
                low = middle
        return best

    def _outlook(self) -> Outlook:
        return outlook(
            self._memory.topics, self._memory.counts()[2], self._dates, self._now, longest=FINE_DAYS
        )

    def _counted(self, last: Floats, at: datetime, topics: Sequence[str]) -> NDArray[np.bool_]:
        named = np.isin(np.array(self._memory.topics, dtype=object), list(topics))
        return np.asarray(named[None, :] & np.isfinite(last) & (last < days(at)))

    def _with(self, schedule: Schedule, bare: OnDate) -> OnDate:
        more = lift(self._memory, schedule, days(bare.at))
        parts = (bare.retention.mean, bare.retention.low, bare.retention.high)
        return replace(bare, retention=Retention(*(np.clip(part + more, 0.0, 1.0) for part in parts)))


def reaches(outcome: DoseOutcome, target: float) -> bool:
    """Return whether an outcome comes up to a target [0..1].

    Parameters
    ----------
    outcome : DoseOutcome
        What a number of questions comes to.
    target : float
        Share to be known on the dates that count. [0..1]
    """
    return outcome.known >= target - CLOSE


def _after_lessons(memory: ClassMemory, dates: Dates, now: datetime) -> ClassMemory:
    """Return a copy of the model in which the lessons to come have been given, to those who lack the topic."""
    told = deepcopy(memory)
    met = np.isfinite(told.counts()[2])
    for at, topic in sorted(dates.lessons):
        if at > now and topic in told.topics:
            column = told.topics.index(topic)
            told.taught(topic, at, ~met[:, column])
            met[:, column] = True
    return told


def _asked(schedule: Schedule, ahead: Outlook, rate: Floats, caps: Ints) -> float:
    """Return the questions asked of a student, a mean over students who are asked and evenings."""
    asked = caps > 0
    if not asked.any():
        return 0.0
    of_slot = schedule.planned.sum(axis=1).astype(float)
    of_slot[:, 1:] /= rate[:, None]  # a plan holds later reviews that happen: more are asked for them
    return float(of_slot[asked].sum() / asked.sum() / ahead.room.sum())
