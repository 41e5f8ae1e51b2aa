"""What lies ahead: the evenings on which students can be asked, and the dates that count."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

import numpy as np

from scheduler.model.memory import days
from scheduler.values import Dates, Floats

GROUPING = 0.5  # later evenings are planned in groups that span this share of their distance
FINE_DAYS = 4.0
"""Most days that a group spans where a plan is looked at as a whole: what it leads to, or whether it reaches a target.

Chosen: a class of an average student and thirty topics then comes to 76 % at 3 questions on five days, with groups
half as long too; with groups that grow without bound to 53 %, as later topics find too few groups to be asked in.
"""
LONG_RUN_DAYS = (30.0, 120.0)  # where retention counts when no test is in sight
LONG_RUN_WEIGHT = 0.10  # of the long run, relative to the tests
TERM_WEIGHT = 2.0  # of the average over a term with the usual tests, relative to the mean of one test
EARLY_WEIGHT = 4.0  # the same in the first weeks: early reviews are also what the class is learned from
EARLY_DAYS = 21.0
TERM_BOUNDS = (0.1, 2.0, 5.0, 10.0, 20.0, 40.0, 80.0, 400.0)  # days from now; between them it is sampled once
TEST_SHARING = 0.5  # 1: each test counts alike; 0: each student-topic pair of a test counts alike
USUAL_TESTS = 2.7  # what three quizzes on a third of the topics each and an exam on all weigh together


@dataclass(frozen=True, eq=False)
class Outlook:
    """The future as arrays, all moments in days since `origin` (small numbers keep their digits).

    Attributes
    ----------
    origin : float
        Now, in days since 1970.
    slots : ndarray, shape (n_slots,)
        Evenings, or the middle of a group of later evenings, in order; the first is today.
    room : ndarray of int, shape (n_slots,)
        Evenings in each slot.
    dates : ndarray, shape (n_dates,)
        Moments at which retention counts, in order.
    weight : ndarray, shape (n_topics, n_dates)
        What retention of a topic is worth at each of them.
    known_from : ndarray, shape (n_students, n_topics)
        Last exposure, or the coming lesson of a topic that is still to be taught; inf for neither.
    test : ndarray, shape (n_topics,)
        The next quiz or exam of each topic, inf for none.
    counted : ndarray, shape (n_topics, n_dates)
        Share of each topic on each date in "what is known on the dates that count": the coming quizzes and exams,
        each date alike, each of its topics alike. Adds up to 1; 0 everywhere without any.
    """

    origin: float
    slots: Floats
    room: Floats
    dates: Floats
    weight: Floats
    known_from: Floats
    test: Floats
    counted: Floats


def outlook(
    topics: Sequence[str],
    last: Floats,
    dates: Dates,
    now: datetime,
    term_weight: float | None = None,
    *,
    longest: float = np.inf,
) -> Outlook:
    """Arrange what lies ahead of `now` for the planner.

    Parameters
    ----------
    topics : sequence of str
        Names of the topics, in the order of the columns.
    last : ndarray, shape (n_students, n_topics)
        Last exposure [days since 1970], -inf for a topic not yet met.
    dates : Dates
        Lessons, quizzes and exams of the term.
    now : datetime
        The present moment, aware.
    term_weight : float, optional
        What the average over the term is worth, relative to the mean of one test; more early in a term by default.
    longest : float
        Most days that a group of later evenings spans: a topic is reviewed once in each group.
    """
    origin = days(now)
    tests = np.array([days(at) for at, _ in (*dates.quizzes, *dates.exams)])
    slots, room = _slots(_evenings(dates, now) - origin, tests - origin, longest)
    points, weight, counted, test = _points(topics, dates, now, term_weight)
    known_from = _known_from(topics, last, dates, now) - origin
    return Outlook(origin, slots, room, points - origin, weight, known_from, test - origin, counted)


def _evenings(dates: Dates, now: datetime) -> Floats:
    """Return today and the later evenings."""
    later = [days(evening) for evening in dates.evenings if evening > now + timedelta(hours=1)]
    if not dates.evenings:
        last = max((at for at, _ in (*dates.quizzes, *dates.exams, *dates.lessons)), default=now)
        count = int(min(max((last - now).days, 28), 200))
        later = [days(now) + step for step in range(1, count + 1)]
    return np.array([days(now), *later])


def _slots(evenings: Floats, tests: Floats, longest: float) -> tuple[Floats, Floats]:
    """Group evenings that are far away, the farther the larger the group; no group crosses a test."""
    starts = [0]
    for number in range(1, len(evenings)):
        day, first = evenings[number], evenings[starts[-1]]
        crossed = ((tests > evenings[number - 1]) & (tests <= day)).any()
        # Today stands alone: its reviews are this evening's choice, however soon the next evening comes.
        if number == 1 or crossed or day - first >= min(max(1.0, (first - evenings[0]) * GROUPING), longest):
            starts.append(number)
    groups = np.split(evenings, starts[1:])
    return np.array([group[len(group) // 2] for group in groups]), np.array(
        [len(group) for group in groups], float
    )


def _points(
    topics: Sequence[str], dates: Dates, now: datetime, term_weight: float | None
) -> tuple[Floats, Floats, Floats, Floats]:
    number = {topic: column for column, topic in enumerate(topics)}
    tests = [(days(at), covered) for at, covered in (*dates.quizzes, *dates.exams) if at > now]
    test, nothing = np.full(len(topics), np.inf), np.zeros(len(topics))
    rows: list[tuple[float, Floats, Floats]] = []
    for at, covered in sorted(tests, key=lambda one: one[0]):
        columns = [number[topic] for topic in covered if topic in number]
        row = np.zeros(len(topics))
        row[columns] = 1.0
        test[columns] = np.minimum(test[columns], at)
        rows.append((at, row * _share(len(columns), len(topics)), row / max(len(columns), 1)))
    rows += [(at, row, nothing) for at, row in _term_points(dates, now, len(topics), term_weight)]
    # A term without any test is planned as if the long run were its exam.
    long_run = LONG_RUN_WEIGHT if dates.quizzes or dates.exams else 1.0 / len(LONG_RUN_DAYS)
    alike = np.full(len(topics), long_run / len(topics))
    rows += [(days(now) + ahead, alike, nothing) for ahead in LONG_RUN_DAYS]
    rows.sort(key=lambda one: one[0])
    counted = np.stack([row for _, _, row in rows], axis=1)
    weight = np.stack([row for _, row, _ in rows], axis=1)
    return np.array([at for at, _, _ in rows]), weight, counted / max(len(tests), 1), test


def _term_points(
    dates: Dates, now: datetime, n_topics: int, term_weight: float | None
) -> list[tuple[float, Floats]]:
    """Return moments that stand for the rest of the term, dense at first.

    Each evening counts alike, and at each evening each topic that is taught by then.
    """
    lessons = np.array(sorted(days(at) for at, _ in dates.lessons))
    end = max((days(at) for at, _ in (*dates.quizzes, *dates.lessons)), default=days(now))
    first = min(lessons, default=end)
    length = max(end - first, 1.0)
    if term_weight is None:
        term_weight = EARLY_WEIGHT if days(now) - first < EARLY_DAYS else TERM_WEIGHT
        term_weight *= min(1.0, max(_tested(dates, n_topics), 1.0) / USUAL_TESTS)
    bounds = np.minimum(np.array(TERM_BOUNDS) + days(now), end)
    points = []
    for start, stop in pairwise(bounds):
        if stop > start:
            middle = 0.5 * (start + stop)
            taught = max(int((lessons <= middle).sum()), 1)
            share = term_weight * (stop - start) / length / taught
            points.append((float(middle), np.full(n_topics, share)))
    return points


def _tested(dates: Dates, n_topics: int) -> float:
    """Return what the tests of a term weigh in all, past ones too."""
    covered = [len(topics) for _, topics in (*dates.quizzes, *dates.exams)]
    return float(sum(number * _share(number, n_topics) for number in covered))


def _share(covered: int, n_topics: int) -> float:
    """Return what each topic of a test is worth."""
    return float(1.0 / max(covered, 1) ** TEST_SHARING / n_topics ** (1.0 - TEST_SHARING))


def _known_from(topics: Sequence[str], last: Floats, dates: Dates, now: datetime) -> Floats:
    known = np.where(np.isfinite(last), last, np.inf)
    number = {topic: column for column, topic in enumerate(topics)}
    for at, topic in sorted(dates.lessons, reverse=True):
        if at > now and topic in number:
            column = known[:, number[topic]]
            known[:, number[topic]] = np.where(np.isfinite(last[:, number[topic]]), column, days(at))
    return np.asarray(known)
