"""Whether intervals hold and claims are right: predictions of simulated classes beside what is true of them.

``python -m scheduler.simulation.coverage`` prints the table of scheduler/RESULTS.md, "Intervals".
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np

from scheduler.model.fitting import fit
from scheduler.model.history import Ints
from scheduler.model.means import ALIKE, ENOUGH, Alike, mean_with_interval
from scheduler.model.memory import ClassMemory
from scheduler.model.parts import Bools
from scheduler.simulation.learners import FAMILIES, SimulatedClass
from scheduler.values import Floats, Retention

MONDAY = datetime(2026, 9, 7, 9, 0, tzinfo=UTC)
DAYS = 70
DAYS_AHEAD = (0, 7, 28)
CHANCE = 0.2
HALF = 0.5
N_CLASSES = 98


@dataclass(frozen=True, eq=False)
class Look:
    """One class at one moment.

    Attributes
    ----------
    predicted : Retention
        Arrays of shape (n_students, n_topics).
    truth : ndarray of float, same shape
        True retention. [0..1]
    answers : ndarray of int, same shape
        Answers behind each prediction.
    """

    family: str
    days_ahead: int
    predicted: Retention
    truth: Floats
    answers: Ints


@dataclass(frozen=True)
class Coverage:
    """How often the intervals of one kind hold, and what is said of those below half.

    Attributes
    ----------
    held : float
        Share whose truth lies inside the interval. [0..1]
    found : float
        Share of those truly below half whose interval lies below half; NaN where there are none. [0..1]
    wrong : float
        Share of those with an interval below half that are truly not; NaN where there are none. [0..1]
    """

    held: float
    found: float
    wrong: float


def asked_at_random(family: str, seed: int, n_students: int = 24, n_topics: int = 16) -> list[Look]:
    """Return looks at a class after ten weeks: a lesson every four days, every second evening one random topic each.

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
    room, memory = SimulatedClass(family, students, topics, seed), ClassMemory(students, topics)
    learners, rng = room.learners(), np.random.default_rng(seed)
    lessons = np.linspace(0, DAYS - 7, n_topics).round().astype(int)
    for day in range(DAYS):
        at = MONDAY + timedelta(days=day)
        for topic in np.flatnonzero(lessons == day):
            for student in students:
                learners[student].attend(topics[topic], at)
            memory.taught(topics[topic], at)
        for student in students if day % 2 else []:
            topic, evening = topics[rng.integers((lessons <= day).sum())], at + timedelta(hours=9)
            memory.answered(student, topic, evening, learners[student].answer(topic, evening, CHANCE), CHANCE)
    fit(memory)
    moments = [(ahead, MONDAY + timedelta(days=DAYS + ahead)) for ahead in DAYS_AHEAD]
    return [
        Look(family, ahead, memory.retention(at), room.retention(at), memory.counts()[1])
        for ahead, at in moments
    ]


def coverage_of_pairs(looks: Sequence[Look]) -> float:
    """Return the share of student-topic pairs whose true retention lies inside their interval [0..1]."""
    inside = [((one.predicted.low <= one.truth) & (one.truth <= one.predicted.high)).mean() for one in looks]
    return float(np.mean(inside))


def coverage_of_means(looks: Sequence[Look], kind: str, alike: Alike = ALIKE) -> Coverage:
    """Return how often the intervals of means hold.

    Parameters
    ----------
    looks : sequence of Look
        Classes at moments.
    kind : {"students", "topics", "classes"}
        What the means are of.
    alike : Alike
        Correlations of the errors of predictions.

    Raises
    ------
    KeyError
        When `kind` is another word.
    """
    masks = {"students": _students, "topics": _topics, "classes": _class}[kind]
    rows = [_held(look, keep, alike) for look in looks for keep in masks(look.truth.shape)]
    held, low, said = np.array(rows).T
    return Coverage(float(held.mean()), _share(said, low), _share(~low, said))


def _held(look: Look, keep: Bools, alike: Alike) -> tuple[bool, bool, bool]:
    """Say whether the truth lies inside, whether it is low, and whether that is claimed."""
    one = look.predicted
    found = mean_with_interval(one.mean, one.low, one.high, keep, alike)
    if found is None:
        raise ValueError("A mean needs at least one student and one topic.")
    _, low, high = found
    truth = float(look.truth[keep].mean())
    claimed = high < HALF and int(look.answers[keep].sum()) >= ENOUGH
    return low <= truth <= high, truth < HALF, claimed


def _share(what: Bools, among: Bools) -> float:
    return float(what[among].mean()) if among.any() else float("nan")


def _students(shape: tuple[int, ...]) -> Iterator[Bools]:
    for student in range(shape[0]):
        yield np.broadcast_to((np.arange(shape[0]) == student)[:, None], shape)


def _topics(shape: tuple[int, ...]) -> Iterator[Bools]:
    for topic in range(shape[1]):
        yield np.broadcast_to(np.arange(shape[1]) == topic, shape)


def _class(shape: tuple[int, ...]) -> Iterator[Bools]:
    yield np.ones(shape, dtype=bool)


def table(looks: Sequence[Look]) -> str:
    """Return coverage and claims as text, one line for each kind of mean."""
    lines = [f"pairs     inside {coverage_of_pairs(looks):5.1%}"]
    for kind in ("students", "topics", "classes"):
        one = coverage_of_means(looks, kind)
        lines.append(
            f"{kind:9s} inside {one.held:5.1%}  truly below half, found {one.found:5.1%}  said, wrong {one.wrong:5.1%}"
        )
    return "\n".join(lines)


def simulate(n_classes: int = N_CLASSES, first_seed: int = 1000) -> list[Look]:
    """Return looks at classes of all families in turn.

    Parameters
    ----------
    n_classes : int
        Classes to run.
    first_seed : int
        Seed of the first class; each next one has the next number.
    """
    families = list(FAMILIES)
    numbered = [(families[number % len(families)], first_seed + number) for number in range(n_classes)]
    return [look for family, seed in numbered for look in asked_at_random(family, seed)]


if __name__ == "__main__":
    print(table(simulate()))  # noqa: T201 - a command
