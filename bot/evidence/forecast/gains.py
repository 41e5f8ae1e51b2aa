"""What one more exposure would do: the predictions behind "teach again", the starter and the student's picture.

A planned review moves only its own pair; nothing is learned here. All arrays have students in rows and topics in
columns, in the order of the model.
"""

from __future__ import annotations

from datetime import datetime

import numpy as np

from bot.evidence.shared.snapshot import Snapshot
from scheduler.model.memory import ClassMemory, days
from scheduler.plan.allocation import Courses, planning_laws, retention_on
from scheduler.values import Floats, Retention


def snapshot(memory: ClassMemory, at: datetime, retention: Retention | None = None) -> Snapshot:
    """Return what the model says of a moment, `retention` instead of its own where given.

    Only what a student has met by now counts as taught: a topic that is still to come counts in no mean.
    """
    _, asked, last = memory.counts()
    return Snapshot(
        at=at,
        students=tuple(int(student) for student in memory.students),
        topics=tuple(int(topic) for topic in memory.topics),
        retention=memory.retention(at) if retention is None else retention,
        answers=asked,
        taught=np.isfinite(last) & (last <= days(at)),
    )


def review_gain(memory: ClassMemory, review_at: datetime, on: datetime) -> Floats:
    """Return what one review of every pair at a moment adds to retention on a later one.

    The review is right as often as the model expects, and counts accordingly.

    Returns
    -------
    ndarray, shape (n_students, n_topics)
        [-1..1]; 0 for topics that the student has not met by the review, and when `on` is not later.
    """
    last = memory.counts()[2]
    met = np.isfinite(last) & (last < days(review_at))
    gain = np.zeros(last.shape)
    pairs = np.flatnonzero(met.ravel())
    if not len(pairs) or on <= review_at:
        return gain
    known = last.ravel()[pairs] - days(review_at)
    date, wanted = np.array([days(on) - days(review_at)]), np.ones((len(pairs), 1), dtype=bool)
    laws = planning_laws(memory.views())
    without = retention_on(laws, Courses(pairs, known, np.full((len(pairs), 1), np.inf)), date, wanted)
    lifted = retention_on(laws, Courses(pairs, known, np.zeros((len(pairs), 1))), date, wanted)
    gain.ravel()[pairs] = (lifted - without)[:, 0]
    return gain


def taught_again(memory: ClassMemory, lesson_at: datetime, on: datetime, planned: Retention) -> Retention:
    """Return retention on a date if every topic were taught once more in one lesson, beside the planned reviews.

    A lesson is taken to be worth one review of everybody who has met the topic, a cautious guess. Without other
    reviews it closes some share of what is missing on the date; it is taken to close the same share of what the
    planned reviews leave missing. Each topic is looked at by itself: no lesson could repeat them all.
    """
    stands = memory.retention(on).mean
    missing = np.clip(1.0 - stands, 1e-9, 1.0)
    closed = np.clip(review_gain(memory, lesson_at, on) / missing, 0.0, 1.0)
    return Retention(*(part + (1.0 - part) * closed for part in (planned.mean, planned.low, planned.high)))


def shifted(retention: Retention, gain: Floats) -> Retention:
    """Return a prediction moved by a gain, within 0..1."""
    return Retention(
        *(np.clip(part + gain, 0.0, 1.0) for part in (retention.mean, retention.low, retention.high))
    )
