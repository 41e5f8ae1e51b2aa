"""The retention model of one class: events in, retention of every student and topic at any moment out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from scheduler import laws
from scheduler.history import ANSWERED, HOMEWORK, SCORED, TAUGHT, History, Ints, Sequences, sequences, unroll
from scheduler.inference import NUDGE, Estimate, Problem, estimate, initial
from scheduler.laws import LAWS, SHORTEST_DAYS, logistic
from scheduler.prior import PRIOR
from scheduler.values import Floats, LawParameters, Parameters, Retention

DAY_S = 86_400.0
NODES = np.array([-np.sqrt(3.0), 0.0, np.sqrt(3.0)])  # Gauss-Hermite, three points: exact to degree five
NODE_WEIGHTS = np.array([1.0, 4.0, 1.0]) / 6.0
MODEL_ERROR = (
    0.35  # [logits] what no law of the mixture gets right; chosen, because 80 % intervals then hold 80 %
)
LEAST_WEIGHT_IN_INTERVALS = 0.02  # laws that weigh less cannot widen an interval visibly
EFFECT_STEPS = 2  # Fisher scoring steps per look; each starts where the last one ended


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


@dataclass(frozen=True, eq=False)
class LawView:
    """One law as the class stands now: everything that a look into the future needs.

    Attributes
    ----------
    weight : float
        Share of the law in the mixture.
    theta : ndarray, shape (n_parameters, 1, 1)
    trait : ndarray, shape (n_nodes, n_pairs)
        Trait of each pair at the nodes of its posterior.
    state : ndarray, shape (law.size, n_nodes, n_pairs)
        State since the last exposure; of a pair not yet taught, the state that teaching will give.
    """

    law: laws.Law
    weight: float
    theta: Floats
    trait: Floats
    state: Floats

    def recall(self, elapsed: Floats) -> Floats:
        """Return recall `elapsed` days after the last exposure, shape (n_nodes, ..., n_pairs)."""
        return self.law.recall(self.theta, self.trait, self.state, np.maximum(elapsed, SHORTEST_DAYS))


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
        self._estimates: dict[str, Estimate] = {}
        self._views: tuple[LawView, ...] | None = None

    # --- events ---------------------------------------------------------------------------------------

    def taught(self, topic: str, at: datetime, present: NDArray[np.bool_] | None = None) -> None:
        """Record a lesson for the whole class, or for those `present`, shape (n_students,)."""
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
        """Record homework on a topic: an exposure whose strength the model learns."""
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
        """Record a quiz result: the share right of `items` questions. Evidence, not an exposure."""
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
        mean, _, _ = self._moments(days(at))
        return self._matrix(np.where(self._taught_by(days(at)), mean, 0.0))

    def response_rate(self) -> Floats:
        """Return the expected share [0..1] of prompts that each student answers, shape (n_students,)."""
        size = self.parameters.response_size
        return np.asarray(
            (self._prompts[:, 1] + size * self.parameters.response_mean) / (self._prompts[:, 0] + size)
        )

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
            self._views = tuple(self._view(name) for name in self.parameters.laws)
        return self._views

    def problem(self, name: str, parameters: Parameters) -> Problem:
        """Return the answers of the class as an estimation problem for one law."""
        events = sequences(self.history)
        student, topic = np.divmod(events.pairs, len(self.topics))
        return Problem(
            LAWS[name],
            parameters.laws[name],
            parameters.slip,
            events,
            student,
            topic,
            len(self.students),
            len(self.topics),
            np.zeros(len(events.observed)),
            events.items.copy(),
        )

    def counts(self) -> tuple[Ints, Ints, Floats]:
        """Return answers right, answers in all, and the last exposure [days], each (n_students, n_topics)."""
        answers = (self.history.kind == ANSWERED) & np.isfinite(self.history.share)
        right = np.where(answers, np.nan_to_num(self.history.share), 0.0).sum(axis=1).astype(np.int64)
        shape = (len(self.students), len(self.topics))
        asked = answers.sum(axis=1).astype(np.int64)
        return right.reshape(shape), asked.reshape(shape), self._matrix(self.history.last_exposure())

    # --- inside ---------------------------------------------------------------------------------------

    def adopt(self, parameters: Parameters, estimates: Mapping[str, Estimate]) -> None:
        """Take over a class-wide fit."""
        self.parameters, self._estimates, self._views = parameters, dict(estimates), None

    def start(self, name: str, problem: Problem) -> Estimate:
        """Return where estimation of a law best starts: the last estimate, or the prior."""
        last = self._estimates.get(name)
        return initial(problem) if last is None else _same_pairs(last, problem)

    def _view(self, name: str) -> LawView:
        problem = self.problem(name, self.parameters)
        start = self.start(name, problem)
        learned = (
            estimate(problem, start, steps=EFFECT_STEPS, free_law=False) if len(problem.weight) else start
        )
        self._estimates[name] = learned
        parameters = self.parameters.laws[name]
        theta = np.array(parameters.theta)[:, None, None]
        law, n_pairs = LAWS[name], len(self.history.count)
        student, topic = np.divmod(np.arange(n_pairs), len(self.topics))
        trait = learned.trait(student, topic)
        spread = _trait_variance(learned, len(parameters.theta), len(self.students), student, topic)
        own, own_variance = np.zeros(n_pairs), np.full(n_pairs, parameters.pair_sd**2)
        own[problem.events.pairs], own_variance[problem.events.pairs] = learned.pair, learned.pair_variance
        nodes = trait + own + NODES[:, None] * np.sqrt(spread + own_variance)
        state = law.start(theta[..., 0][:, None], nodes)
        _, after = unroll(law, theta, nodes[:, problem.events.pairs], problem.events)
        state[..., problem.events.pairs] = after
        return LawView(law, parameters.weight, theta, nodes, state)

    def _moments(self, at_days: float) -> tuple[Floats, Floats, Floats]:
        """Return mean retention, and mean and variance of its logit, per pair."""
        elapsed = self._elapsed(at_days)
        mean, first, second = (np.zeros(len(elapsed)) for _ in range(3))
        for view in self.views():
            recall = view.recall(elapsed)
            logit = _logit(recall)
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
        self.history.add(pair, kind, days(at), share, chance, items, question)
        self._views = None

    def _pair(self, student: str, topic: str) -> int:
        number = self._index(self._student, "student", student) * len(self.topics)
        return number + self._index(self._topic, "topic", topic)

    def _index(self, numbers: Mapping[str, int], what: str, name: str) -> int:
        if name not in numbers:
            raise KeyError(f"This class has no {what} {name!r}.")
        return numbers[name]

    def _matrix(self, pairs: Floats) -> Floats:
        return pairs.reshape(len(self.students), len(self.topics))


def days_until(views: Sequence[LawView], level: float, horizon: float = 36_525.0) -> Floats:
    """Return the days until the mixture of `views` falls to `level`, by bisection in log time."""
    low, high = (
        np.full(views[0].trait.shape[1], bound) for bound in (np.log(SHORTEST_DAYS), np.log(horizon))
    )
    above_at_end = _mixture(views, np.exp(high)) > level
    below_at_start = _mixture(views, np.exp(low)) <= level
    for _ in range(40):
        middle = 0.5 * (low + high)
        above = _mixture(views, np.exp(middle)) > level
        low, high = np.where(above, middle, low), np.where(above, high, middle)
    return np.where(below_at_start, 0.0, np.where(above_at_end, np.inf, np.exp(0.5 * (low + high))))


def _logit(recall: Floats) -> Floats:
    kept = np.clip(recall, 1e-6, 1.0 - 1e-6)
    return np.asarray(np.log(kept) - np.log1p(-kept))


def _parameter_slopes(view: LawView, events: Sequences, elapsed: Floats) -> Floats:
    """Return the derivatives of logit retention by the law's parameters, shape (n_parameters, n_pairs)."""
    size = len(view.theta)
    thetas = np.tile(view.theta[:, 0], (1, size + 1))
    thetas[np.arange(size), 1 + np.arange(size)] += NUDGE
    theta, trait = thetas[..., None], np.tile(view.trait[1], (size + 1, 1))
    state = view.law.start(theta, trait)
    _, state[..., events.pairs] = unroll(view.law, theta, trait[:, events.pairs], events)
    logit = _logit(view.law.recall(theta, trait, state, np.maximum(elapsed, SHORTEST_DAYS)))
    return np.asarray((logit[1:] - logit[0]) / NUDGE)


def _law_covariance(law: LawParameters) -> Floats:
    if law.theta_covariance:
        return np.array(law.theta_covariance)
    return np.diag(np.array(law.theta_sd) ** 2)


def _mixture(views: Sequence[LawView], elapsed: Floats) -> Floats:
    return np.asarray(sum(view.weight * (NODE_WEIGHTS @ view.recall(elapsed)) for view in views))


def _trait_variance(learned: Estimate, size: int, n_students: int, student: Ints, topic: Ints) -> Floats:
    rows, columns = size + student, size + n_students + topic
    variance = np.diag(learned.covariance)
    return np.asarray(variance[rows] + variance[columns] + 2.0 * learned.covariance[rows, columns])


def _same_pairs(last: Estimate, problem: Problem) -> Estimate:
    """Bring an earlier estimate to the present order of pairs; new ones start without an effect of their own."""
    pairs = problem.events.pairs
    if not len(last.pairs):  # nothing was answered before
        return replace(
            last,
            pairs=pairs,
            pair=np.zeros(len(pairs)),
            pair_variance=np.full(len(pairs), problem.prior.pair_sd**2),
        )
    order = np.argsort(last.pairs)
    place = np.minimum(np.searchsorted(last.pairs, pairs, sorter=order), len(order) - 1)
    found = last.pairs[order[place]] == pairs
    own = np.where(found, last.pair[order[place]], 0.0)
    variance = np.where(found, last.pair_variance[order[place]], problem.prior.pair_sd**2)
    return replace(last, pairs=pairs, pair=own, pair_variance=variance)


def _numbered(what: str, names: Sequence[str]) -> dict[str, int]:
    numbers = {name: number for number, name in enumerate(names)}
    if len(numbers) != len(names):
        raise ValueError(f"A {what} stands twice among {len(names)}; identifiers must differ.")
    return numbers
