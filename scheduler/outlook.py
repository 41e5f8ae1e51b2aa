"""What lies ahead: the evenings on which students can be asked, and the dates that count."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from scheduler.memory import days
from scheduler.values import Dates, Floats

EVERY_EVENING = 7  # evenings that are planned one by one; later ones are planned in growing groups
LONG_RUN_DAYS = (14.0, 45.0, 120.0)  # where retention counts when no test is in sight
LONG_RUN_WEIGHT = 0.10  # of the long run, relative to the tests
TERM_WEIGHT = 0.6  # of the average over the term, relative to one test
TERM_POINTS = 6


@dataclass(frozen=True, eq=False)
class Outlook:
    """The future as arrays, all moments in days since 1970.

    Attributes
    ----------
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
    """

    slots: Floats
    room: Floats
    dates: Floats
    weight: Floats
    known_from: Floats
    test: Floats


def outlook(topics: Sequence[str], last: Floats, dates: Dates, now: datetime) -> Outlook:
    """Arrange what lies ahead of `now` for the planner.

    Parameters
    ----------
    last : ndarray, shape (n_students, n_topics)
        Last exposure [days since 1970], -inf for a topic not yet met.
    """
    slots, room = _slots(_evenings(dates, now), days(now))
    points, weight, test = _points(topics, dates, now)
    return Outlook(slots, room, points, weight, _known_from(topics, last, dates, now), test)


def _evenings(dates: Dates, now: datetime) -> Floats:
    """Return today and the later evenings."""
    later = [days(evening) for evening in dates.evenings if evening > now + timedelta(hours=1)]
    if not dates.evenings:
        last = max((at for at, _ in (*dates.quizzes, *dates.exams, *dates.lessons)), default=now)
        count = int(min(max((last - now).days, 28), 200))
        later = [days(now) + step for step in range(1, count + 1)]
    return np.array([days(now), *later])


def _slots(evenings: Floats, today: float) -> tuple[Floats, Floats]:
    """Group evenings that are far away: 2 at a time in the second week, then 3, then 4."""
    starts, at = [], 0
    while at < len(evenings):
        starts.append(at)
        ahead = at - EVERY_EVENING
        at += 1 if ahead < 0 else 2 if ahead < 10 else 3 if ahead < 30 else 4
    groups = np.split(evenings, starts[1:])
    return np.array([group[len(group) // 2] for group in groups]), np.array(
        [len(group) for group in groups], float
    )


def _points(topics: Sequence[str], dates: Dates, now: datetime) -> tuple[Floats, Floats, Floats]:
    number = {topic: column for column, topic in enumerate(topics)}
    tests = [(days(at), covered) for at, covered in (*dates.quizzes, *dates.exams) if at > now]
    test = np.full(len(topics), np.inf)
    rows: list[tuple[float, Floats]] = []
    for at, covered in sorted(tests, key=lambda one: one[0]):
        columns = [number[topic] for topic in covered if topic in number]
        row = np.zeros(len(topics))
        row[columns] = 1.0
        test[columns] = np.minimum(test[columns], at)
        rows.append((at, row))
    rows += _term_points(dates, now, len(topics))
    rows += [(days(now) + ahead, np.full(len(topics), LONG_RUN_WEIGHT)) for ahead in LONG_RUN_DAYS]
    rows.sort(key=lambda one: one[0])
    return np.array([at for at, _ in rows]), np.stack([row for _, row in rows], axis=1), test


def _term_points(dates: Dates, now: datetime, n_topics: int) -> list[tuple[float, Floats]]:
    """Return evenly spread moments until the end of term; together they weigh TERM_WEIGHT."""
    end = max((days(at) for at, _ in (*dates.quizzes, *dates.lessons)), default=days(now))
    start = min((days(at) for at, _ in dates.lessons), default=days(now))
    if end <= days(now) + 1.0:
        return []
    share = (end - days(now)) / max(end - start, 1.0)
    moments = days(now) + (end - days(now)) * (np.arange(TERM_POINTS) + 0.5) / TERM_POINTS
    return [(float(at), np.full(n_topics, TERM_WEIGHT * share / TERM_POINTS)) for at in moments]


def _known_from(topics: Sequence[str], last: Floats, dates: Dates, now: datetime) -> Floats:
    known = np.where(np.isfinite(last), last, np.inf)
    number = {topic: column for column, topic in enumerate(topics)}
    for at, topic in sorted(dates.lessons, reverse=True):
        if at > now and topic in number:
            column = known[:, number[topic]]
            known[:, number[topic]] = np.where(np.isfinite(last[:, number[topic]]), column, days(at))
    return np.asarray(known)
