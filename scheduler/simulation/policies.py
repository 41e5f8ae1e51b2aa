"""Policies that decide whom to ask what: ours, and those that it is compared with."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date, datetime
from typing import Protocol

import numpy as np

from scheduler.model.fitting import fit
from scheduler.model.history import Ints
from scheduler.model.memory import ClassMemory, days
from scheduler.model.prior import PRIOR
from scheduler.plan.allocation import PairLaw, plan_ahead
from scheduler.plan.outlook import outlook
from scheduler.plan.planner import topics_today
from scheduler.simulation.learners import SimulatedClass
from scheduler.simulation.term import Term
from scheduler.values import Floats

Choice = dict[str, list[str]]
FIXED_GAPS = (1.0, 3.0, 7.0, 14.0, 28.0)  # days between reviews when a fixed list is asked for without one


class Policy(Protocol):
    """Decides once a day, from what a real bot would see."""

    def lesson(self, topic: str, at: datetime) -> None:
        """Hear that a topic was taught to the class.

        Parameters
        ----------
        topic : str
            Name of a topic.
        at : datetime
            An aware moment.
        """

    def choose(self, now: datetime) -> Choice:
        """Return the topics to ask each student today; none for who is not in it. The same all day long."""

    def observe(
        self, student: str, topic: str, at: datetime, correct: bool | None, chance: float = 0.2
    ) -> None:
        """Hear what came of a prompt; None when it was not answered.

        Parameters
        ----------
        student : str
            Name of a student.
        topic : str
            Name of a topic.
        at : datetime
            An aware moment.
        correct : bool or None
            Whether the answer was right; None when there was none.
        chance : float
            Probability of a right answer without knowing anything. [0..1)
        """

    def predict(self, at: datetime) -> Floats:
        """Return predicted unaided recall, shape (n_students, n_topics); 0 for topics not yet taught."""


class _Base:
    """What all policies share: the class model that predicts, the cap and the allowance."""

    def __init__(
        self, term: Term, students: Sequence[str], prompts_per_day: int, prompts_per_term: int, seed: int
    ) -> None:
        self.term, self.students, self.seed = term, tuple(students), seed
        self.cap = prompts_per_day
        self.left = dict.fromkeys(self.students, prompts_per_term)
        self.memory = ClassMemory(self.students, term.topics)
        self._chosen: dict[date, Choice] = {}

    def lesson(self, topic: str, at: datetime) -> None:
        """Hear that a topic was taught."""
        self.memory.taught(topic, at)

    def observe(
        self, student: str, topic: str, at: datetime, correct: bool | None, chance: float = 0.2
    ) -> None:
        """Hear what came of a prompt."""
        self.memory.answered(student, topic, at, correct, chance)

    def predict(self, at: datetime) -> Floats:
        """Return predicted retention."""
        return self.memory.expected(at)

    def choose(self, now: datetime) -> Choice:
        """Return the topics wanted today, within the cap and the allowance.

        Asked again on the same local day it gives the same topics: the cap is one of a day, not of a call. A day on
        which nothing was chosen yet is looked at anew, as a lesson may have come.
        """
        today = self.term.day(now)
        if not self._chosen.get(today):
            self._chosen[today] = self._choose_anew(now)
        return defaultdict(list, {student: list(topics) for student, topics in self._chosen[today].items()})

    def _choose_anew(self, now: datetime) -> Choice:
        if self.term.is_holiday(now):
            return {}
        chosen = {}
        for student, topics in self._wanted(now).items():
            kept = topics[: min(self.cap, self.left[student])]
            if kept:
                self.left[student] -= len(kept)
                chosen[student] = kept
        return chosen

    def _wanted(self, now: datetime) -> Choice:
        raise NotImplementedError


class NoReviews(_Base):
    """Nobody is asked anything."""

    def _wanted(self, now: datetime) -> Choice:
        return {}


class DueList(_Base):
    """Asks each topic a fixed number of days after it was taught or last answered; what waits longest first.

    A prompt that stays unanswered is asked again the next day.
    """

    def __init__(self, gaps: Sequence[float], *settings: object) -> None:
        super().__init__(*settings)  # type: ignore[arg-type]  # passed through unchanged
        self.gaps = tuple(gaps)
        self._due: dict[str, dict[str, tuple[float, int]]] = {student: {} for student in self.students}

    def lesson(self, topic: str, at: datetime) -> None:
        """Hear that a topic was taught, and note it."""
        super().lesson(topic, at)
        for student in self.students:
            self._due[student].setdefault(topic, (self._after(at, 0), 0))

    def observe(
        self, student: str, topic: str, at: datetime, correct: bool | None, chance: float = 0.2
    ) -> None:
        """Hear what came of a prompt; an answer moves the topic to its next gap."""
        super().observe(student, topic, at, correct, chance)
        if correct is not None and topic in self._due[student]:
            number = self._due[student].pop(topic)[1] + 1
            if number < len(self.gaps):
                self._due[student][topic] = (self._after(at, number), number)

    def _after(self, at: datetime, number: int) -> float:
        return float(np.floor(days(at))) + self.gaps[number]

    def _wanted(self, now: datetime) -> Choice:
        today = days(now)
        return {
            student: [
                topic
                for due, topic in sorted((due, topic) for topic, (due, _) in waiting.items())
                if due <= today
            ]
            for student, waiting in self._due.items()
        }


class Massed(_Base):
    """Asks the topics of the next quiz on the days just before it, as many days as they need."""

    def _wanted(self, now: datetime) -> Choice:
        ahead = [(at, topics) for at, topics in self.term.dates.quizzes if at > now]
        if not ahead:
            return {}
        at, topics = ahead[0]
        needed = -(-len(topics) // self.cap)
        before = (self.term.day(at) - self.term.day(now)).days
        if before > needed:
            return {}
        first = (needed - before) * self.cap
        return {student: list(topics[first : first + self.cap]) for student in self.students}


class Random(_Base):
    """Asks random topics among those taught, the allowance spread evenly over the days."""

    def __init__(self, *settings: object) -> None:
        super().__init__(*settings)  # type: ignore[arg-type]  # passed through unchanged
        self._rng = np.random.default_rng(self.seed)
        self._taught: list[str] = []

    def lesson(self, topic: str, at: datetime) -> None:
        """Hear that a topic was taught, and note it."""
        super().lesson(topic, at)
        if topic not in self._taught:
            self._taught.append(topic)

    def _wanted(self, now: datetime) -> Choice:
        remaining = max(len(self.term.evenings(now)), 1)
        wanted = {}
        for student in self.students:
            share = min(self.left[student] / remaining, float(self.cap))
            number = int(share) + int(self._rng.random() < share % 1.0)
            number = min(number, len(self._taught))
            wanted[student] = self._rng.permutation(self._taught)[:number].tolist() if number else []
        return wanted


class LearningPolicy(_Base):
    """What the policies share that choose by what the class has taught the model so far."""

    def __init__(self, *settings: object) -> None:
        super().__init__(*settings)  # type: ignore[arg-type]  # passed through unchanged
        self._fitted = 0

    def _learn(self) -> None:
        """Fit when there is something new to learn: often in the first weeks, seldom later."""
        answers = int(self.memory.counts()[1].sum())
        if answers > self._fitted * 1.1:
            fit(self.memory, PRIOR, steps=3 if self._fitted else 6)
            self._fitted = answers


class Threshold(LearningPolicy):
    """Asks when predicted retention has fallen below a level, the lowest first; learns as ours does."""

    def __init__(self, level: float, *settings: object) -> None:
        super().__init__(*settings)
        self.level = level

    def _wanted(self, now: datetime) -> Choice:
        self._learn()
        now_known = self.memory.expected(now)
        waiting = np.where((now_known > 0.0) & (now_known < self.level), now_known, np.inf)
        order = np.argsort(waiting, axis=1, kind="stable")
        return {
            student: [self.term.topics[topic] for topic in order[row] if np.isfinite(waiting[row, topic])]
            for row, student in enumerate(self.students)
        }


class Personal(LearningPolicy):
    """Ours: learns the class every night and plans for the dates that count."""

    def _wanted(self, now: datetime) -> Choice:
        self._learn()
        left = np.array([float(self.left[student]) for student in self.students])
        dates = replace(self.term.dates, evenings=self.term.evenings(now))
        return topics_today(self.memory, dates, now, per_student_cap=self.cap, allowance_left=left)


class Oracle(_Base):
    """The same planner with the true state of every simulated student: the room there is."""

    def __init__(self, *settings: object) -> None:
        super().__init__(*settings)  # type: ignore[arg-type]  # passed through unchanged
        self.truth: SimulatedClass | None = None

    def predict(self, at: datetime) -> Floats:
        """Return true retention."""
        return self._known().retention(at)

    def _known(self) -> SimulatedClass:
        if self.truth is None:
            raise ValueError(
                "The oracle needs a simulated class; run it through run_term with learners of one."
            )
        return self.truth

    def _wanted(self, now: datetime) -> Choice:
        room = self._known()
        last = np.where(np.isnan(room.last), -np.inf, room.last)
        dates = replace(self.term.dates, evenings=self.term.evenings(now))
        ahead = outlook(self.term.topics, last, dates, now)
        left = np.array([float(self.left[student]) for student in self.students])
        caps = np.full(len(self.students), self.cap)
        schedule = plan_ahead([_true_law(room)], ahead, caps, left, room.responsiveness)
        return {
            student: [self.term.topics[topic] for topic in np.flatnonzero(schedule.planned[row, :, 0])]
            for row, student in enumerate(self.students)
        }


def _true_law(room: SimulatedClass) -> PairLaw:
    flat = {name: value.reshape(-1) for name, value in room.parameters.items()}
    family = room.family

    def of(pairs: Ints) -> dict[str, Floats]:
        return {name: value[pairs] for name, value in flat.items()}

    def recall(pairs: Ints, state: Floats, elapsed: Floats) -> Floats:
        return family.recall(of(pairs), state, elapsed)

    def review(pairs: Ints, state: Floats, elapsed: Floats) -> Floats:
        own = of(pairs)
        return family.expose(own, state, elapsed, family.recall(own, state, elapsed))

    return PairLaw(1.0, room.state.reshape(len(room.state), -1), recall, review)


POLICIES: dict[str, Callable[..., Policy]] = {
    "none": NoReviews,
    "homework": lambda *settings: DueList((1.0,), *settings),
    "massed": Massed,
    "fixed": lambda *settings: DueList(FIXED_GAPS, *settings),
    "random": Random,
    "threshold": lambda *settings: Threshold(0.7, *settings),
    "personal": Personal,
    "oracle": Oracle,
}


def make_policy(
    name: str,
    term: Term,
    *,
    students: Sequence[str],
    prompts_per_day: int,
    prompts_per_term: int,
    seed: int,
    gaps: Sequence[float] = FIXED_GAPS,
    level: float = 0.7,
) -> Policy:
    """Return a policy by name.

    Parameters
    ----------
    name : str
        none, homework (once, the day after), massed (the days before the quiz), fixed (a list of day gaps),
        random, threshold, personal (ours) or oracle.
    term : Term
        Lessons, quizzes and exam.
    students : sequence of str
        Names of the students.
    prompts_per_day, prompts_per_term : int
        Most prompts for each student.
    seed : int
        Seed of everything that is drawn: the same seed gives the same run.
    gaps : sequence of float
        For "fixed": days from the lesson to the first review, from there to the second, and so on.
    level : float
        For "threshold": predicted retention under which a topic is asked. [0..1]

    Raises
    ------
    ValueError
        For an unknown name, or a negative number of prompts.
    """
    if name not in POLICIES:
        raise ValueError(f"There is no policy {name!r}; choose from {', '.join(POLICIES)}.")
    if prompts_per_day < 0 or prompts_per_term < 0:
        raise ValueError("prompts_per_day and prompts_per_term must not be negative.")
    settings = (term, students, prompts_per_day, prompts_per_term, seed)
    if name == "fixed":
        return DueList(gaps, *settings)
    if name == "threshold":
        return Threshold(level, *settings)
    return POLICIES[name](*settings)
