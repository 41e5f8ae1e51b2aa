"""The retention model of one class: events in, retention of every student and topic at any moment out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from scheduler.model.drift import settle_students
from scheduler.model.history import (
    ANSWERED,
    HOMEWORK,
    SCORED,
    TAUGHT,
    History,
    Ints,
    Sequences,
    sequences,
    unroll,
)
from scheduler.model.inference import NUDGE, InferenceProblem, Posterior, estimate, initial
from scheduler.model.laws import LAWS, SHORTEST_DAYS, logistic
from scheduler.model.online import absorb, can_absorb
from scheduler.model.prior import PRIOR
from scheduler.model.views import NODE_WEIGHTS as NODE_WEIGHTS
from scheduler.model.views import LawView as LawView
from scheduler.model.views import days_until, law_view, log_odds, mixture, view_along
from scheduler.values import Floats, LawParameters, Parameters, Retention

DAY_S = 86_400.0
MODEL_ERROR = 0.6  # [logits] what no law gets right; chosen, because 80 % intervals then hold 80 %
LEAST_WEIGHT_IN_INTERVALS = 0.02  # laws that weigh less cannot widen an interval visibly
LEAST_WEIGHT = 1e-3  # laws that weigh less are not followed until a fit finds them likelier
ONLINE_ANSWERS = 6  # up to so many new answers are taken in one by one; more are learned together
COLD_STEPS, WARM_STEPS = 6, 1  # Fisher scoring steps: from the prior, and from where the last look ended


def days(at: datetime) -> float:
    """Return an aware moment as days since 1970-01-01 UTC.

    Raises
    ------
    ValueError
        When the moment has no time zone.
    """
    if at.tzinfo is None:
        raise ValueError(f"The moment {at.isoformat()} has no time zone; give an aware datetime.")
    return at.timestamp() / DAY_S


def moment(at_days: float) -> datetime:
    """Return days since 1970-01-01 UTC as an aware moment."""
    return datetime.fromtimestamp(at_days * DAY_S, UTC)


class ClassMemory:
    """What the students of a class hold of each topic, learned from what happened.

    Parameters
    ----------
    students, topics : sequence of str
        Identifiers; their order is the order of every array that comes out.
    parameters : Parameters
        Class-wide parameters, from `fitting.fit` or the built-in prior.

    Raises
    ------
    ValueError
        When an identifier stands twice.
    """

    def __init__(
        self, students: Sequence[str], topics: Sequence[str], parameters: Parameters = PRIOR
    ) -> None:
        self.students, self.topics = tuple(students), tuple(topics)
        self._student = _numbered("student", self.students)
        self._topic = _numbered("topic", self.topics)
        self.parameters = parameters
        self.history = History(len(self.students) * len(self.topics))
        self._questions: dict[str, int] = {}
        self._prompts = np.zeros((len(self.students), 2))  # sent, answered
        self._estimates: dict[str, Posterior] = {}
        self._views: tuple[LawView, ...] | None = None
        self._stale: tuple[LawView, ...] | None = None  # the views before the events of `_fresh`
        self._fresh: list[int] = []

    # --- events ---------------------------------------------------------------------------------------

    def taught(self, topic: str, at: datetime, present: NDArray[np.bool_] | None = None) -> None:
        """Record a lesson for the whole class, or for those `present`, shape (n_students,).

        Parameters
        ----------
        topic : str
            Name of a topic.
        at : datetime
            An aware moment.
        present : ndarray of bool, shape (n_students,), optional
            Who was there; everybody by default.
        """
        there = (
            np.ones(len(self.students), dtype=bool) if present is None else np.asarray(present, dtype=bool)
        )
        if there.shape != (len(self.students),):
            raise ValueError(
                f"present has shape {there.shape}; give one value for each of {len(self.students)}."
            )
        number = self._index(self._topic, "topic", topic)
        for student in np.flatnonzero(there):
            self._add(int(student) * len(self.topics) + number, TAUGHT, at)

    def homework(self, student: str, topic: str, at: datetime) -> None:
        """Record homework on a topic: an exposure whose strength the model learns.

        Parameters
        ----------
        student : str
            Name of a student of the class.
        topic : str
            Name of a topic.
        at : datetime
            An aware moment.
        """
        self._add(self._pair(student, topic), HOMEWORK, at)

    def answered(
        self,
        student: str,
        topic: str,
        at: datetime,
        correct: bool | None,
        chance: float,
        question: str | None = None,
    ) -> None:
        """Record a prompt: right, wrong, or None when it was not answered.

        Parameters
        ----------
        student : str
            Name of a student of the class.
        topic : str
            Name of a topic.
        at : datetime
            An aware moment.
        correct : bool or None
            Whether the answer was right; None when there was none.
        chance : float
            Probability of a right answer without knowing anything. [0..1)
        question : str or None
            Identifier of the question, to learn how hard it is.
        """
        if not 0.0 <= chance < 1.0:
            raise ValueError(f"The chance level {chance} is not in 0..1 (1 excluded).")
        pair = self._pair(student, topic)
        self._prompts[self._student[student]] += (1.0, correct is not None)
        if correct is not None:
            number = -1 if question is None else self._questions.setdefault(question, len(self._questions))
            self._add(pair, ANSWERED, at, float(correct), chance, 1.0, number)

    def scored(self, student: str, topic: str, at: datetime, share: float, items: float) -> None:
        """Record a quiz result: the share right of `items` questions. Evidence, not an exposure.

        Parameters
        ----------
        student : str
            Name of a student of the class.
        topic : str
            Name of a topic.
        at : datetime
            An aware moment.
        share : float
            Share that was right. [0..1]
        items : float
            Questions that the share is of.
        """
        if not 0.0 <= share <= 1.0 or items <= 0.0:
            raise ValueError(f"A score needs a share in 0..1 and items above 0; got {share} of {items}.")
        pair = self._pair(student, topic)
        if self.history.count[pair]:
            self._add(pair, SCORED, at, share, 0.0, items)

    # --- what comes out -------------------------------------------------------------------------------

    def retention(self, at: datetime, level: float = 0.8) -> Retention:
        """Return predicted retention at a moment, with its central interval.

        Parameters
        ----------
        at : datetime
            An aware moment.
        level : float
            Probability that the interval shall hold. (0..1)

        Returns
        -------
        Retention
            Arrays of shape (n_students, n_topics); 0 for topics not yet taught at that moment.
        """
        mean, logit, variance = self._moments(days(at))
        reach = NormalDist().inv_cdf(0.5 + level / 2.0) * np.sqrt(
            variance + self._class_variance(days(at)) + MODEL_ERROR**2
        )
        bounds = (mean, np.minimum(logistic(logit - reach), mean), np.maximum(logistic(logit + reach), mean))
        taught = self._taught_by(days(at))
        return Retention(*(self._matrix(np.where(taught, bound, 0.0)) for bound in bounds))

    def expected(self, at: datetime) -> Floats:
        """Return the mean of `retention` alone, which costs less."""
        mean = mixture(self.views())(np.maximum(self._elapsed(days(at)), SHORTEST_DAYS))
        return self._matrix(np.where(self._taught_by(days(at)), mean, 0.0))

    def without_reviews(self) -> ClassMemory:
        """Return the same class as it would be had it met every topic in its lessons alone.

        Laws, traits and their uncertainty are those learned from everything that did happen; only questions and
        homework, which are exposures, are taken out. What the twin says is a prediction of what nobody observed.
        """
        twin = ClassMemory(self.students, self.topics, self.parameters)
        twin.history = self.history.of_kind(TAUGHT)
        lessons = sequences(twin.history)
        twin._views = tuple(view_along(view, lessons) for view in self.views())
        twin._estimates = dict(self._estimates)
        return twin

    def response_rate(self) -> Floats:
        """Return the expected share [0..1] of prompts that each student answers, shape (n_students,)."""
        size = self.parameters.response_size
        return np.asarray(
            (self._prompts[:, 1] + size * self.parameters.response_mean) / (self._prompts[:, 0] + size)
        )

    def sent(self) -> Floats:
        """Return the number of prompts that each student was sent, shape (n_students,)."""
        return self._prompts[:, 0].copy()

    def falls_to(self, level: float) -> Floats:
        """Return after how many days from the last exposure retention falls to `level`.

        Returns
        -------
        ndarray, shape (n_students, n_topics)
            [days]; 0 where retention starts below, inf where it stays above for a hundred years.
        """
        return self._matrix(days_until(self.views(), level))

    def views(self) -> tuple[LawView, ...]:
        """Return every law as the class stands now; learned anew when something happened since."""
        if self._views is None:
            few = 0 < len(self._fresh) <= ONLINE_ANSWERS
            absorbed = self._absorbed(self._fresh) if few else None
            self._views = absorbed or self._looked_at()
            self._fresh.clear()
        return self._views

    def problem(self, name: str, parameters: Parameters) -> InferenceProblem:
        """Return the answers of the class as an estimation problem for one law.

        Parameters
        ----------
        name : str
            Name of a memory law.
        parameters : Parameters
            Parameters of all laws, which hold the prior.
        """
        events = sequences(self.history)
        student, topic = np.divmod(events.pairs, len(self.topics))
        return InferenceProblem(
            LAWS[name],
            parameters.laws[name],
            parameters.slip,
            events,
            student,
            topic,
            len(self.students),
            len(self.topics),
            self._easiness(parameters)[events.question],
            events.items.copy(),
        )

    @property
    def questions(self) -> tuple[str, ...]:
        """Identifiers of the questions that were answered, by their numbers in the history."""
        return tuple(self._questions)

    def _easiness(self, parameters: Parameters) -> Floats:
        """Return the easiness of every question by its number [logits]; the last, 0, is of those not told (-1)."""
        return np.array([*(parameters.questions.get(name, 0.0) for name in self._questions), 0.0])

    def counts(self) -> tuple[Ints, Ints, Floats]:
        """Return answers right, answers in all, and the last exposure [days], each (n_students, n_topics)."""
        answers = (self.history.kind == ANSWERED) & np.isfinite(self.history.share)
        right = np.where(answers, np.nan_to_num(self.history.share), 0.0).sum(axis=1).astype(np.int64)
        shape = (len(self.students), len(self.topics))
        asked = answers.sum(axis=1).astype(np.int64)
        return right.reshape(shape), asked.reshape(shape), self._matrix(self.history.last_exposure())

    # --- inside ---------------------------------------------------------------------------------------

    def adopt(self, parameters: Parameters, estimates: Mapping[str, Posterior]) -> None:
        """Take over a class-wide fit.

        Parameters
        ----------
        parameters : Parameters
            Parameters of all laws.
        estimates : mapping of str to Posterior
            The estimate of each law, by its name.
        """
        self.parameters, self._estimates = parameters, dict(estimates)
        self._views = self._stale = None

    def start(self, name: str, problem: InferenceProblem) -> Posterior:
        """Return where estimation of a law best starts: the last estimate, or the prior.

        Parameters
        ----------
        name : str
            Name of a memory law.
        problem : InferenceProblem
            The answers of a class, and the prior.
        """
        last = self._estimates.get(name)
        return initial(problem) if last is None else _same_pairs(last, problem)

    def _looked_at(self) -> tuple[LawView, ...]:
        """Return the laws that are likely enough to matter, with weights that add up to 1."""
        laws = self.parameters.laws
        heaviest = max(law.weight for law in laws.values())
        names = [name for name, law in laws.items() if law.weight >= LEAST_WEIGHT * heaviest]
        total = sum(laws[name].weight for name in names)
        return tuple(replace(self._view(name), weight=laws[name].weight / total) for name in names)

    def _view(self, name: str) -> LawView:
        problem = self.problem(name, self.parameters)
        start = self.start(name, problem)
        steps = WARM_STEPS if name in self._estimates else COLD_STEPS
        learned = estimate(problem, start, steps=steps, free_law=False) if len(problem.weight) else start
        learned = settle_students(problem, learned)
        self._estimates[name] = learned
        return law_view(LAWS[name], self.parameters.laws[name], learned, self.history, len(self.topics))

    def _absorbed(self, pairs: Sequence[int]) -> tuple[LawView, ...] | None:
        """Return the views after a few answers, each taken in alone; None when that cannot be done."""
        views = self._stale
        for pair in pairs:
            if views is None:
                return None
            learned = [self._estimates[view.law.name] for view in views]
            if not can_absorb(self.history, pair, learned):
                return None
            taken = [
                absorb(
                    view,
                    self._estimates[view.law.name],
                    self.history,
                    len(self.topics),
                    pair,
                    self.parameters.slip,
                    self._easiness(self.parameters),
                )
                for view in views
            ]
            views = tuple(view for view, _ in taken)
            self._estimates.update({view.law.name: estimate for view, estimate in taken})
        return views

    def _moments(self, at_days: float) -> tuple[Floats, Floats, Floats]:
        """Return mean retention, and mean and variance of its logit, per pair."""
        elapsed = self._elapsed(at_days)
        mean, first, second = (np.zeros(len(elapsed)) for _ in range(3))
        for view in self.views():
            recall = view.recall(elapsed)
            logit = log_odds(recall)
            share = view.weight * NODE_WEIGHTS
            mean, first, second = mean + share @ recall, first + share @ logit, second + share @ logit**2
        return mean, first, np.maximum(second - first**2, 0.0)

    def _class_variance(self, at_days: float) -> Floats:
        """Return the variance of logit retention that comes from not knowing the laws' parameters."""
        elapsed, total = self._elapsed(at_days), np.zeros(len(self.history.count))
        events = sequences(self.history)
        for view in self.views():
            if view.weight >= LEAST_WEIGHT_IN_INTERVALS:
                slope = _parameter_slopes(view, events, elapsed)
                covariance = _law_covariance(self.parameters.laws[view.law.name])
                total += view.weight * np.einsum("ip,ij,jp->p", slope, covariance, slope)
        return total

    def _elapsed(self, at_days: float) -> Floats:
        """Return the days since each pair's last exposure, 0 where there was none yet."""
        elapsed = np.maximum(at_days - self.history.last_exposure(), 0.0)
        return np.where(np.isfinite(elapsed), elapsed, 0.0)

    def _taught_by(self, at_days: float) -> NDArray[np.bool_]:
        return np.asarray(self.history.time[:, 0] <= at_days)

    def _add(
        self,
        pair: int,
        kind: int,
        at: datetime,
        share: float = np.nan,
        chance: float = 0.0,
        items: float = 1.0,
        question: int = -1,
    ) -> None:
        latest = (
            not self.history.count[pair]
            or days(at) >= self.history.time[pair, : self.history.count[pair]].max()
        )
        self.history.add(pair, kind, days(at), share, chance, items, question)
        if self._views is not None:
            self._stale, self._views = self._views, None
        if not latest:
            self._stale = None  # told late: everything is learned anew
        self._fresh.append(pair)

    def _pair(self, student: str, topic: str) -> int:
        number = self._index(self._student, "student", student) * len(self.topics)
        return number + self._index(self._topic, "topic", topic)

    def _index(self, numbers: Mapping[str, int], what: str, name: str) -> int:
        if name not in numbers:
            raise KeyError(f"This class has no {what} {name!r}.")
        return numbers[name]

    def _matrix(self, pairs: Floats) -> Floats:
        return pairs.reshape(len(self.students), len(self.topics))


def _parameter_slopes(view: LawView, events: Sequences, elapsed: Floats) -> Floats:
    """Return the derivatives of logit retention by the law's parameters, shape (n_parameters, n_pairs)."""
    size = len(view.theta)
    thetas = np.tile(view.theta[:, 0], (1, size + 1))
    thetas[np.arange(size), 1 + np.arange(size)] += NUDGE
    theta, trait = thetas[..., None], np.tile(view.trait[1], (size + 1, 1))
    state = view.law.start(theta, trait)
    _, state[..., events.pairs] = unroll(view.law, theta, trait[:, events.pairs], events)
    logit = log_odds(view.law.recall(theta, trait, state, np.maximum(elapsed, SHORTEST_DAYS)))
    return np.asarray((logit[1:] - logit[0]) / NUDGE)


def _law_covariance(law: LawParameters) -> Floats:
    if law.theta_covariance:
        return np.array(law.theta_covariance)
    return np.diag(np.array(law.theta_sd) ** 2)


def _same_pairs(last: Posterior, problem: InferenceProblem) -> Posterior:
    """Bring an earlier estimate to the present order of pairs; new ones start without an effect of their own."""
    own, variance = last.own(problem.events.pairs)
    return replace(last, pairs=problem.events.pairs, pair=own, pair_variance=variance)


def _numbered(what: str, names: Sequence[str]) -> dict[str, int]:
    numbers = {name: number for number, name in enumerate(names)}
    if len(numbers) != len(names):
        raise ValueError(f"A {what} stands twice among {len(names)}; identifiers must differ.")
    return numbers
