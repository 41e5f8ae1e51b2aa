"""How often the 80 % interval holds the true retention, over simulated classes of all families."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np

from scheduler.model.fitting import fit
from scheduler.model.memory import ClassMemory
from scheduler.simulation.learners import FAMILIES, SimulatedClass

MONDAY = datetime(2026, 9, 7, 9, 0, tzinfo=UTC)
STUDENTS = [f"s{number}" for number in range(20)]
TOPICS = [f"t{number}" for number in range(16)]
DAYS = 70
AHEAD = (0, 7, 28)  # days


def term_of(family: str, seed: int) -> tuple[SimulatedClass, ClassMemory]:
    """Return a class after ten weeks: a lesson every four days, every second evening one random topic each."""
    room, memory = SimulatedClass(family, STUDENTS, TOPICS, seed), ClassMemory(STUDENTS, TOPICS)
    learners, rng = room.learners(), np.random.default_rng(seed)
    lessons = np.linspace(0, DAYS - 7, len(TOPICS)).round().astype(int)
    for day in range(DAYS):
        at = MONDAY + timedelta(days=day)
        for topic in np.flatnonzero(lessons == day):
            for student in STUDENTS:
                learners[student].attend(TOPICS[topic], at)
            memory.taught(TOPICS[topic], at)
        for student in STUDENTS if day % 2 else []:
            topic, evening = TOPICS[rng.integers((lessons <= day).sum())], at + timedelta(hours=9)
            memory.answered(student, topic, evening, learners[student].answer(topic, evening, 0.2), 0.2)
    return room, memory


def covered(family: str, seed: int) -> list[float]:
    """Return the share of pairs whose true retention lies inside, at each of the moments ahead."""
    room, memory = term_of(family, seed)
    fit(memory)
    shares = []
    for ahead in AHEAD:
        at = MONDAY + timedelta(days=DAYS + ahead)
        interval, truth = memory.retention(at), room.retention(at)
        shares.append(float(((interval.low <= truth) & (truth <= interval.high)).mean()))
    return shares


def test_80_percent_intervals_hold_75_to_85_percent_over_the_families():
    shares = np.array([covered(family, 101 + number) for number, family in enumerate(FAMILIES)])
    assert 0.75 <= shares.mean() <= 0.85
    assert (shares.mean(axis=0) >= 0.75).all(), "now, in a week, in four weeks"
    assert (shares.mean(axis=0) <= 0.85).all(), "now, in a week, in four weeks"
    # The mean is what is promised. Single families differ: recall in the context family jumps to 1 or stays low, and
    # no interval of a smooth law holds that.
    others = [
        share for share, family in zip(shares.mean(axis=1), FAMILIES, strict=True) if family != "context"
    ]
    assert min(others) >= 0.65
