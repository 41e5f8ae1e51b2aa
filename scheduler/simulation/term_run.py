"""One term, run day by day: lessons, evenings with prompts, quizzes; any learners under any policy."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Protocol
from zoneinfo import ZoneInfo

import numpy as np

from scheduler.simulation.learners import SimulatedStudent
from scheduler.simulation.policies import Oracle, Policy, make_policy
from scheduler.simulation.term import EVENING, Term
from scheduler.values import Floats

CHANCE = 0.2  # five choices
BETWEEN_QUESTIONS = timedelta(seconds=40)


class Learner(Protocol):
    """A student whose true memory is known to the simulation only."""

    responsiveness: float

    def attend(self, topic: str, at: datetime) -> None:
        """Be taught a topic.

        Parameters
        ----------
        topic : str
            Name of a topic.
        at : datetime
            An aware moment.
        """

    def answer(self, topic: str, at: datetime, chance: float) -> bool:
        """Answer one self-check, then see the explanation.

        Parameters
        ----------
        topic : str
            Name of a topic.
        at : datetime
            An aware moment.
        chance : float
            Probability of a right answer without knowing anything. [0..1)
        """

    def recall(self, topic: str, at: datetime) -> float:
        """Return the true probability of unaided recall now, without side effect.

        Parameters
        ----------
        topic : str
            Name of a topic.
        at : datetime
            An aware moment.
        """


@dataclass(frozen=True)
class PromptRecord:
    """One prompt: what was predicted and what came of it (None: not answered)."""

    student: str
    topic: str
    at: datetime
    predicted: float
    correct: bool | None


@dataclass(frozen=True, eq=False)
class TermRun:
    """What happened in one term.

    Attributes
    ----------
    asked : list of PromptRecord
        In order of time.
    forecast : callable
        Predicted retention at a moment, shape (n_students, n_topics), from all that happened.
    tests : list of (datetime, tuple of str, ndarray)
        Each quiz and exam with the true recall of its topics, shape (n_students, n_topics tested).
    daily : list of (datetime, ndarray, ndarray)
        Watched evenings, before the prompts: true and predicted recall, each (n_students, n_topics).
    """

    asked: list[PromptRecord]
    forecast: Callable[[datetime], Floats]
    tests: list[tuple[datetime, tuple[str, ...], Floats]] = field(default_factory=list)
    daily: list[tuple[datetime, Floats, Floats]] = field(default_factory=list)


def run_term(
    term: Term,
    learners: Mapping[str, Learner],
    policy: str | Policy,
    *,
    prompts_per_day: int,
    seed: int,
    prompts_per_term: int | None = None,
    watch: int = 0,
    predict: bool = True,
) -> TermRun:
    """Run one term: lessons by day, one round of prompts every evening.

    Parameters
    ----------
    term : Term
        Lessons, quizzes and exam.
    learners : mapping of str to Learner
        Who is taught, by name.
    policy : str or Policy
        A name for `make_policy`, or anything with its methods.
    prompts_per_day : int
        Most prompts for each student and evening.
    seed : int
        Seed of everything that is drawn: the same seed gives the same run.
    prompts_per_term : int, optional
        Most prompts for each student; by default every evening may be used to the full.
    watch : int
        Every how many evenings true and predicted recall of all pairs are kept; 0 for never.
    predict : bool
        Whether each prompt is noted with its prediction; without, NaN stands there and the run is faster.
    """
    allowance = prompts_per_day * len(term.days()) if prompts_per_term is None else prompts_per_term
    if isinstance(policy, str):
        policy = make_policy(
            policy,
            term,
            students=list(learners),
            prompts_per_day=prompts_per_day,
            prompts_per_term=allowance,
            seed=seed,
        )
    _show_truth(policy, learners)
    return _Runner(term, learners, policy, seed, watch, predict).run()


def _show_truth(policy: Policy, learners: Mapping[str, Learner]) -> None:
    first = next(iter(learners.values()))
    if isinstance(policy, Oracle) and isinstance(first, SimulatedStudent):
        policy.truth = first.room


class _Runner:
    def __init__(
        self,
        term: Term,
        learners: Mapping[str, Learner],
        policy: Policy,
        seed: int,
        watch: int,
        predict: bool,
    ) -> None:
        self.term, self.learners, self.policy = term, learners, policy
        self.watch, self.predict, self.evening = watch, predict, 0
        self.rng = np.random.default_rng(seed)
        self.asked: list[PromptRecord] = []
        self.daily: list[tuple[datetime, Floats, Floats]] = []
        self.tests: list[tuple[datetime, tuple[str, ...], Floats]] = []
        self.column = {topic: number for number, topic in enumerate(term.topics)}

    def run(self) -> TermRun:
        zone = ZoneInfo(self.term.timezone)
        waiting = sorted(
            [(at, 0, topic) for at, topic in self.term.dates.lessons]
            + [(at, 1, topics) for at, topics in (*self.term.dates.quizzes, *self.term.dates.exams)]
            + [(datetime.combine(day, EVENING, zone).astimezone(UTC), 2, None) for day in self.term.days()],
            key=lambda event: event[:2],
        )
        for at, kind, what in waiting:
            (self._lesson, self._test, self._evening)[kind](at, what)  # type: ignore[arg-type]
        return TermRun(self.asked, self.policy.predict, self.tests, self.daily)

    def _lesson(self, at: datetime, topic: str) -> None:
        for learner in self.learners.values():
            learner.attend(topic, at)
        self.policy.lesson(topic, at)

    def _test(self, at: datetime, topics: tuple[str, ...]) -> None:
        self.tests.append((at, topics, self._truth(at, topics)))

    def _truth(self, at: datetime, topics: tuple[str, ...]) -> Floats:
        first = next(iter(self.learners.values()))
        if isinstance(first, SimulatedStudent):
            return first.room.retention(at)[:, [self.column[topic] for topic in topics]]
        return np.array([[one.recall(topic, at) for topic in topics] for one in self.learners.values()])

    def _evening(self, at: datetime, _: None) -> None:
        self.evening += 1
        if self.watch and self.evening % self.watch == 0:
            predicted = self.policy.predict(at) if self.predict else np.array(np.nan)
            self.daily.append((at, self._truth(at, self.term.topics), predicted))
        chosen = self.policy.choose(at)
        if not any(chosen.values()):
            return
        shape = (len(self.learners), len(self.column))
        predicted = self.policy.predict(at) if self.predict else np.full(shape, np.nan)
        for row, (student, learner) in enumerate(self.learners.items()):
            answers = self.rng.random() < learner.responsiveness
            for number, topic in enumerate(chosen.get(student, ())):
                when = at + number * BETWEEN_QUESTIONS
                correct = learner.answer(topic, when, CHANCE) if answers else None
                self.asked.append(
                    PromptRecord(student, topic, when, float(predicted[row, self.column[topic]]), correct)
                )
                self.policy.observe(student, topic, when, correct, CHANCE)
