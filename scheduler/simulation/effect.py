"""Whether "with reviews" and "without" are true: both lines beside what is true of simulated classes.

``python -m scheduler.simulation.effect`` prints the table of scheduler/RESULTS.md, "With and without reviews". The
truth without is the same invented students, taught the same lessons, asked nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

import numpy as np

from scheduler.model.fitting import fit
from scheduler.model.means import ALIKE, ALIKE_WITHOUT, Alike, mean_with_interval
from scheduler.model.memory import ClassMemory
from scheduler.simulation.coverage import CHANCE, DAYS, MONDAY
from scheduler.simulation.learners import FAMILIES, SimulatedClass
from scheduler.values import Retention

N_CLASSES = 56
EVENINGS = 2
"""Students are asked every so many days."""


@dataclass(frozen=True)
class Line:
    """A class's mean as predicted, with its 80 % interval, beside the true one [0..1]."""

    predicted: float
    low: float
    high: float
    truth: float

    @property
    def error(self) -> float:
        """Predicted minus true; below 0 is too low."""
        return self.predicted - self.truth

    @property
    def held(self) -> bool:
        """Whether the interval holds the truth."""
        return self.low <= self.truth <= self.high


@dataclass(frozen=True)
class Both:
    """A class at the end of its term, with the reviews it had and without any."""

    family: str
    known: Line
    without: Line


def both_lines(family: str, seed: int, *, n_students: int = 24, n_topics: int = 16) -> Both:
    """Run one class that is asked at random, and the same one that is asked nothing.

    Parameters
    ----------
    family : str
        Memory law of the simulated students.
    seed : int
        Seed of everything that is drawn.
    n_students, n_topics : int
        Size of the class.
    """
    students, topics = [f"s{n}" for n in range(n_students)], [f"t{n}" for n in range(n_topics)]
    room, bare = (SimulatedClass(family, students, topics, seed) for _ in range(2))
    memory, rng = ClassMemory(students, topics), np.random.default_rng(seed)
    asked, untouched = room.learners(), bare.learners()
    lessons = np.linspace(0, DAYS - 7, n_topics).round().astype(int)
    for day in range(DAYS):
        at = MONDAY + timedelta(days=day)
        for topic in np.flatnonzero(lessons == day):
            memory.taught(topics[topic], at)
            for student in students:
                asked[student].attend(topics[topic], at)
                untouched[student].attend(topics[topic], at)
        for student in students if day % EVENINGS else []:
            topic, evening = topics[rng.integers((lessons <= day).sum())], at + timedelta(hours=9)
            memory.answered(student, topic, evening, asked[student].answer(topic, evening, CHANCE), CHANCE)
    fit(memory)
    end = MONDAY + timedelta(days=DAYS)
    return Both(
        family,
        _line(memory.retention(end), float(room.retention(end).mean()), ALIKE),
        _line(memory.without_reviews().retention(end), float(bare.retention(end).mean()), ALIKE_WITHOUT),
    )


def _line(predicted: Retention, truth: float, alike: Alike) -> Line:
    keep = np.ones(predicted.mean.shape, dtype=bool)
    found = mean_with_interval(predicted.mean, predicted.low, predicted.high, keep, alike)
    if found is None:
        raise ValueError("A mean needs at least one student and one topic.")
    return Line(*found, truth)


def table(classes: Sequence[Both]) -> str:
    """Return both lines by family as text: predicted, true, mean error, share of intervals that hold."""
    families = list(dict.fromkeys(one.family for one in classes))
    lines = [f"{'family':14s} {'with: predicted true held':28s} {'without: predicted true held'}"]
    for family in [*families, "all"]:
        rows = [one for one in classes if family in (one.family, "all")]
        lines.append(
            f"{family:14s} {_row([one.known for one in rows]):28s} {_row([one.without for one in rows])}"
        )
    return "\n".join(lines)


def _row(rows: Sequence[Line]) -> str:
    predicted, truth = (float(np.mean([getattr(row, key) for row in rows])) for key in ("predicted", "truth"))
    return f"{predicted:6.1%} {truth:6.1%} {np.mean([row.held for row in rows]):6.1%}"


def simulate(n_classes: int = N_CLASSES, first_seed: int = 4000) -> list[Both]:
    """Return both lines of classes of all families in turn.

    Parameters
    ----------
    n_classes : int
        Classes to run.
    first_seed : int
        Seed of the first class; each next one has the next number.
    """
    families = list(FAMILIES)
    return [both_lines(families[number % len(families)], first_seed + number) for number in range(n_classes)]


if __name__ == "__main__":
    print(table(simulate()))  # noqa: T201 - a command
