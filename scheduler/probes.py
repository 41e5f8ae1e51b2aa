"""Probes: one prompt of a class's evening goes where its answers have told the model next to nothing yet.

A plan asks where it expects to gain most, and so learns nothing of the times at which it asks nobody. One prompt of an
evening is moved to a topic that was last met as long ago as few answers of the class tell of, where that costs least.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from scheduler.history import ANSWERED, History, Ints
from scheduler.memory import ClassMemory, days
from scheduler.schedule import Schedule, gains_today
from scheduler.values import Floats

FEW_ANSWERS = 15  # a span with fewer answers is probed; chosen, because by then another one says little more
SPANS_DAYS = (1.0, 2.0, 4.0, 8.0, 16.0, 32.0, 64.0)  # their bounds; doubled, as forgetting is steep at first
# That an evening may hold; chosen, because one of 60 costs no more at tests than noise, and one of 30 half a point.
FEWEST_PROMPTS = 50


@dataclass(frozen=True)
class Probe:
    """A prompt that was moved.

    Attributes
    ----------
    student, topic : int
        Who is asked, and about what.
    answers : int
        Answers of the class that tell of so long a time.
    """

    student: int
    topic: int
    answers: int


def move_to_probe(memory: ClassMemory, schedule: Schedule, now: datetime) -> Probe | None:
    """Put a probe into the plan of today in the place of its student's least review; return it, None without any.

    Among all pairs that were last met as long ago as few answers tell of, it is the one that gains most beside the
    review that it replaces. Nobody is asked more than was planned.
    """
    today = schedule.planned[:, :, 0]
    since = days(now) - memory.counts()[2]
    answers = answers_by_span(memory.history)[_span(since)]
    open_to = np.isfinite(since) & (since >= 0.0) & (answers < FEW_ANSWERS) & ~today
    if not (open_to & today.any(axis=1, keepdims=True)).any():
        return None
    accepted = np.where(today, schedule.accepted[:, :, 0], np.inf)
    gain = gains_today(schedule)
    costs = np.where(open_to & (gain > 0.0), accepted.min(axis=1)[:, None] - gain, np.inf)
    student, topic = (int(place) for place in np.unravel_index(costs.argmin(), costs.shape))
    if not np.isfinite(costs[student, topic]):
        return None
    replaced = int(accepted[student].argmin())
    schedule.planned[student, [replaced, topic], 0] = False, True
    schedule.accepted[student, [replaced, topic], 0] = 0.0, gain[student, topic]
    schedule.changed[student, [replaced, topic]] = True
    return Probe(student, topic, int(answers[student, topic]))


def answers_by_span(history: History) -> Ints:
    """Return how many answers came how long after the topic was last met, one number for each span."""
    met = np.maximum.accumulate(history.exposures(), axis=1)[:, :-1]
    answered = (history.kind[:, 1:] == ANSWERED) & np.isfinite(history.time[:, 1:]) & np.isfinite(met)
    return np.bincount(_span(history.time[:, 1:][answered] - met[answered]), minlength=len(SPANS_DAYS) + 1)


def _span(since: Floats) -> Ints:
    return np.asarray(np.digitize(np.where(np.isfinite(since), since, 0.0), SPANS_DAYS))
