"""What happened to every student-topic pair, as arrays that grow; and a law run along it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scheduler.model.laws import SHORTEST_DAYS, Law
from scheduler.values import Floats

TAUGHT, ANSWERED, HOMEWORK, SCORED = range(4)
SLIP = (
    0.03  # probability that what is known is answered wrong; chosen, because mistyping and misreading happen
)
Ints = NDArray[np.int64]


class History:
    """Events of each pair in order of time: what, when, with which result.

    Attributes
    ----------
    count : ndarray of int, shape (n_pairs,)
        Events of each pair.
    time, share, chance, items : ndarray of float, shape (n_pairs, capacity)
        Moment [days since 1970, UTC]; share right [0..1], NaN where the event is no evidence; chance level
        [0..1]; number of questions that the share stands for.
    kind, question : ndarray of int, shape (n_pairs, capacity)
        TAUGHT, ANSWERED, HOMEWORK or SCORED; number of the question, -1 when not told.
    arranged : Sequences or None
        What `sequences` made of all events, kept for the next law until something happens.
    """

    def __init__(self, n_pairs: int, capacity: int = 8) -> None:
        self.count = np.zeros(n_pairs, dtype=np.int64)
        self.time = np.full((n_pairs, capacity), np.inf)
        self.share = np.full((n_pairs, capacity), np.nan)
        self.chance = np.zeros((n_pairs, capacity))
        self.items = np.ones((n_pairs, capacity))
        self.kind = np.zeros((n_pairs, capacity), dtype=np.int64)
        self.question = np.full((n_pairs, capacity), -1, dtype=np.int64)
        self.arranged: Sequences | None = None

    def add(
        self,
        pair: int,
        kind: int,
        time: float,
        share: float = np.nan,
        chance: float = 0.0,
        items: float = 1.0,
        question: int = -1,
    ) -> None:
        """Insert one event at its place in time; events may arrive out of order.

        Parameters
        ----------
        pair : int
            Number of the pair of student and topic.
        kind : int
            `TAUGHT`, `ANSWERED`, `HOMEWORK` or `SCORED`.
        time : float
            When it was. [days since 1970]
        share : float
            Share that was right [0..1]; NaN where nothing was observed.
        chance : float
            Probability of a right answer without knowing anything. [0..1)
        items : float
            Questions that the share is of.
        question : int
            Number of the question, -1 when it is not known.
        """
        if self.count[pair] == self.time.shape[1]:
            self._grow()
        end = int(self.count[pair])
        place = int(np.searchsorted(self.time[pair, :end], time, side="right"))
        for column, value in zip(self._columns(), (time, share, chance, items, kind, question), strict=True):
            column[pair, place + 1 : end + 1] = column[pair, place:end]
            column[pair, place] = value
        self.count[pair] += 1
        self.arranged = None

    def last_exposure(self) -> Floats:
        """Return the moment of each pair's last exposure [days], -inf when never taught."""
        exposures = np.where((self.kind != SCORED) & np.isfinite(self.time), self.time, -np.inf)
        return np.asarray(exposures.max(axis=1))

    def of_kind(self, kind: int) -> History:
        """Return what is left of the history when only events of one kind had happened.

        Parameters
        ----------
        kind : int
            `TAUGHT`, `ANSWERED`, `HOMEWORK` or `SCORED`.
        """
        happened = np.arange(self.time.shape[1]) < self.count[:, None]
        pair, place = np.nonzero(happened & (self.kind == kind))
        count = np.bincount(pair, minlength=len(self.count))
        kept = History(len(self.count), max(self.time.shape[1], 1))
        kept.count = count.astype(np.int64)
        first = np.cumsum(count) - count
        column = np.arange(len(pair)) - first[pair]
        for new, old in zip(kept._columns(), self._columns(), strict=True):
            new[pair, column] = old[pair, place]
        return kept

    def _columns(self) -> tuple[NDArray[np.generic], ...]:
        return (self.time, self.share, self.chance, self.items, self.kind, self.question)

    def _grow(self) -> None:
        for name, blank in (
            ("time", np.inf),
            ("share", np.nan),
            ("chance", 0.0),
            ("items", 1.0),
            ("kind", 0),
            ("question", -1),
        ):
            old = getattr(self, name)
            setattr(self, name, np.concatenate([old, np.full_like(old, blank)], axis=1))


@dataclass(frozen=True, eq=False)
class Sequences:
    """Events of some pairs, longest first, time on the first axis: ready to run a law along them.

    Attributes
    ----------
    pairs : ndarray of int, shape (n,)
        Numbers of the pairs, in the order of the columns.
    length : ndarray of int, shape (n_steps,)
        Number of pairs that have a k-th event: the first `length[k]` columns.
    time, kind : ndarray, shape (n_steps, n)
    elapsed : ndarray, shape (n_steps, n)
        Days from the last exposure to each event, 0 for the first.
    if_known, if_not : ndarray, shape (n_steps, n)
        Probability of what was observed if the topic was recalled, and if it was not; 1 and 0 for a lesson.
    step, column : ndarray of int, shape (n_evidence,)
        Where the evidence stands: events with a result that are not a pair's first.
    observed, chance, items : ndarray of float, shape (n_evidence,)
    question : ndarray of int, shape (n_evidence,)
    """

    pairs: Ints
    length: Ints
    time: Floats
    kind: Ints
    elapsed: Floats
    if_known: Floats
    if_not: Floats
    step: Ints
    column: Ints
    observed: Floats
    chance: Floats
    items: Floats
    question: Ints


def sequences(history: History, pairs: Ints | None = None) -> Sequences:
    """Arrange the events of `pairs` (default: every pair with events), longest first.

    Parameters
    ----------
    history : History
        Everything that happened to the pairs of the class.
    pairs : ndarray of int, shape (n,), optional
        Numbers of the pairs; every pair with events by default.
    """
    if pairs is not None:
        return _arrange(history, pairs[history.count[pairs] > 0])
    if history.arranged is None:
        history.arranged = _arrange(history, np.flatnonzero(history.count))
    return history.arranged


def _arrange(history: History, chosen: Ints) -> Sequences:
    chosen = chosen[np.argsort(-history.count[chosen], kind="stable")]
    steps = int(history.count[chosen].max(initial=0))
    # The events of a step lie side by side in memory, as laws are run along step by step.
    time, share, chance, items, kind, question = (
        np.ascontiguousarray(getattr(history, name)[chosen, :steps].T)
        for name in ("time", "share", "chance", "items", "kind", "question")
    )
    length = (history.count[chosen][None] > np.arange(steps)[:, None]).sum(axis=1)
    step, column = np.nonzero(np.isfinite(share) & (np.arange(steps)[:, None] > 0))
    return Sequences(
        chosen,
        length,
        time,
        kind,
        _elapsed(time, kind),
        *_likelihoods(kind, share, chance),
        step,
        column,
        share[step, column],
        chance[step, column],
        items[step, column],
        question[step, column],
    )


def _elapsed(time: Floats, kind: Ints) -> Floats:
    """Return the days from the last exposure to each event; a pair's first event counts as one."""
    exposed = np.where((kind == SCORED) & (np.arange(len(time))[:, None] > 0), -np.inf, time)
    last, elapsed = np.maximum.accumulate(exposed, axis=0), np.zeros(time.shape)
    np.subtract(time[1:], last[:-1], out=elapsed[1:], where=np.isfinite(time[1:]))
    elapsed[1:] = np.maximum(elapsed[1:], SHORTEST_DAYS)
    return elapsed


def _likelihoods(kind: Ints, share: Floats, chance: Floats) -> tuple[Floats, Floats]:
    """Return how likely each result is when the topic is recalled, and when it is not."""
    answered = (kind == ANSWERED) & np.isfinite(share)
    right = np.where(answered, share, 1.0)
    if_known = np.where(answered, right * (1.0 - SLIP) + (1.0 - right) * SLIP, 1.0)
    if_not = np.where(answered, right * chance + (1.0 - right) * (1.0 - chance), 0.0)
    return if_known, if_not


def exposure_amount(theta: Floats, recall: Floats, events: Sequences, step: int, n: int) -> Floats:
    """Return the strength of an exposure: 1 for taught or recalled, less where the explanation was needed.

    A right answer may be a guess, a wrong one a slip: by Bayes' rule, from recall just before.

    Parameters
    ----------
    theta : ndarray, shape (n_parameters, ...)
        Parameters of the law; the last two are the logarithms of what a wrong answer and homework are worth.
    recall : ndarray, shape (n_variants, n)
        Recall just before. [0..1]
    events : Sequences
        Events of pairs, longest first.
    step : int
        Which event of each pair.
    n : int
        How many pairs, the first ones of `events`.
    """
    amount = np.maximum(recall, 1e-9) * events.if_known[step, :n]
    amount /= amount + (1.0 - recall) * events.if_not[step, :n]  # the probability that it was known
    wrong = np.exp(theta[-2])
    amount *= 1.0 - wrong
    amount += wrong
    practised = events.kind[step, :n] == HOMEWORK
    return np.asarray(np.where(practised, np.exp(theta[-1]), amount) if practised.any() else amount)


def recall_before(law: Law, theta: Floats, trait: Floats, events: Sequences) -> Floats:
    """Return recall just before each event, as `unroll` does, without what would come after a pair's last event.

    Parameters
    ----------
    law : Law
        The memory law.
    theta : ndarray, shape (n_parameters, n_variants, 1)
        Parameters of the law, on the scale on which they are estimated.
    trait : ndarray, shape (n_variants, n)
        Traits of the pairs. [logits of the law]
    events : Sequences
        Events of pairs, longest first.
    """
    return unroll(law, theta, trait, events, to_the_end=False)[0]


def unroll(
    law: Law, theta: Floats, trait: Floats, events: Sequences, *, to_the_end: bool = True
) -> tuple[Floats, Floats]:
    """Run a law along the events.

    Parameters
    ----------
    law : Law
        The memory law.
    theta : ndarray, shape (n_parameters, n_variants, 1)
    trait : ndarray, shape (n_variants, n)
        Of the first n pairs of the events; all that have a second event, at least.
    events : Sequences
        Events of pairs, longest first.
    to_the_end : bool
        Whether the state after each pair's last event is wanted; without, it is the state before that event.

    Returns
    -------
    before : ndarray, shape (n_steps, n_variants, n)
        Recall just before each event; 0 before the first. [0..1]
    state : ndarray, shape (law.size, n_variants, n)
        State after the last event, counted from the last exposure.
    """
    state, natural = law.start(theta, trait), law.natural(theta)
    before = np.zeros((len(events.length), *trait.shape))
    scored = events.kind == SCORED  # a quiz tells, and teaches nothing
    some_scored = scored.any(axis=1)
    for step, n in enumerate(events.length[1:], start=1):
        elapsed = events.elapsed[step, :n]
        strength = law.strength(natural, trait[:, :n], state[..., :n])(elapsed)
        before[step, :, :n] = law.shown(natural, trait[:, :n], strength, elapsed)
        if not to_the_end:
            n = events.length[step + 1] if step + 1 < len(events.length) else 0
        amount = exposure_amount(theta, before[step, :, :n], events, step, n)
        exposed = law.exposed(natural, state[..., :n], elapsed[:n], strength[..., :n], amount)
        if some_scored[step]:
            exposed = np.where(scored[step, :n], state[..., :n], exposed)
        state[..., :n] = exposed
    return before, state
