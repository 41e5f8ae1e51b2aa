"""The allocation: which reviews, on which evenings, gain most at the dates that count."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from scheduler.history import Ints
from scheduler.laws import SHORTEST_DAYS
from scheduler.memory import LawView
from scheduler.outlook import Outlook
from scheduler.values import Floats

LEAST_WEIGHT = 0.05  # laws that weigh less are left out of planning; they cost time and change nothing
LESSON_TO_REVIEW_DAYS = 0.1  # a topic taught this morning can be asked this evening
TOPICS_PER_ROUND = 4
LEAST_GAIN = 1e-4


@dataclass(frozen=True, eq=False)
class PairLaw:
    """How pairs forget and learn, for planning: one law of the mixture, or the truth in a simulation.

    Attributes
    ----------
    weight : float
        Share in the mixture.
    state : ndarray, shape (size, n_pairs)
    recall : callable (pairs, state, elapsed) -> probability
    expose : callable (pairs, state, elapsed, right) -> state
        `right` is the probability that the review is answered right. State, elapsed and right have the
        shape (..., n, n_variants) for n pairs.
    """

    weight: float
    state: Floats
    recall: Callable[[Ints, Floats, Floats], Floats]
    expose: Callable[[Ints, Floats, Floats, Floats], Floats]

    def value(
        self, pairs: Ints, known_from: Floats, reviews: Floats, outlook: Outlook, weight: Floats
    ) -> Floats:
        """Return weighted retention at the dates that count.

        Parameters
        ----------
        pairs : ndarray of int, shape (n,)
        known_from : ndarray, shape (n,)
        reviews : ndarray, shape (n, n_variants, n_reviews)
            Moments of planned reviews in order, inf for none.
        weight : ndarray, shape (n, n_dates)

        Returns
        -------
        ndarray, shape (n, n_variants)
        """
        states, lasts = self._states(pairs, known_from, reviews)
        total = np.zeros(reviews.shape[:2])
        for column, date in enumerate(outlook.dates):
            reached = (reviews <= date).sum(axis=2)
            state = np.take_along_axis(states, reached[None, None], axis=0)[0]
            elapsed = date - np.take_along_axis(lasts, reached[None], axis=0)[0]
            recall = self.recall(pairs, state, np.maximum(elapsed, SHORTEST_DAYS))
            total += weight[:, column, None] * np.where(elapsed > 0.0, recall, 0.0)
        return total

    def _states(self, pairs: Ints, known_from: Floats, reviews: Floats) -> tuple[Floats, Floats]:
        """Return the state and moment after each number of reviews, that number on the first axis."""
        shape = reviews.shape[:2]
        state = np.broadcast_to(self.state[:, pairs, None], (len(self.state), *shape))
        last = np.broadcast_to(known_from[:, None], shape)
        states, lasts = [state], [last]
        for number in range(reviews.shape[2]):
            at = reviews[:, :, number]
            happens = np.isfinite(at)
            elapsed = np.where(happens, np.maximum(at - last, SHORTEST_DAYS), 1.0)
            changed = self.expose(pairs, state, elapsed, self.recall(pairs, state, elapsed))
            state, last = np.where(happens, changed, state), np.where(happens, at, last)
            states.append(state)
            lasts.append(last)
        return np.stack(states), np.stack(lasts)


@dataclass(eq=False)
class Schedule:
    """A plan under construction for a whole class.

    Attributes
    ----------
    planned : ndarray of bool, shape (n_students, n_topics, n_slots)
    gain : ndarray, shape (n_students, n_topics, n_slots)
        What one more review there would add; -inf where it is not possible.
    accepted : ndarray, shape (n_students, n_topics, n_slots)
        The gain with which a planned review was accepted, 0 elsewhere.
    """

    laws: list[PairLaw]
    outlook: Outlook
    planned: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]
    gain: Floats
    accepted: Floats


def planning_laws(views: Sequence[LawView]) -> list[PairLaw]:
    """Return the laws that weigh enough to matter, with weights that add up to 1."""
    kept = [view for view in views if view.weight >= LEAST_WEIGHT]
    total = sum(view.weight for view in kept)
    return [_planning_law(view, view.weight / total) for view in kept]


def _planning_law(view: LawView, weight: float) -> PairLaw:
    law, theta, trait = view.law, view.theta, view.trait[1]
    wrong = np.exp(theta[-2])

    def recall(pairs: Ints, state: Floats, elapsed: Floats) -> Floats:
        return law.recall(theta, trait[pairs, None], state, elapsed)

    def expose(pairs: Ints, state: Floats, elapsed: Floats, right: Floats) -> Floats:
        return law.expose(theta, trait[pairs, None], state, elapsed, right + (1.0 - right) * wrong)

    return PairLaw(weight, view.state[:, 1], recall, expose)


def sum_values(
    laws: Sequence[PairLaw],
    pairs: Ints,
    known_from: Floats,
    reviews: Floats,
    outlook: Outlook,
    weight: Floats,
) -> Floats:
    """Return `PairLaw.value` averaged over the laws."""
    total = np.zeros(reviews.shape[:2])
    for law in laws:
        total += law.weight * law.value(pairs, known_from, reviews, outlook, weight)
    return total


def plan_ahead(laws: list[PairLaw], outlook: Outlook, cap: Ints, allowance: Floats) -> Schedule:
    """Fill the evenings greedily: always the review with the largest gain that still fits.

    Parameters
    ----------
    cap : ndarray of int, shape (n_students,)
        Prompts a day.
    allowance : ndarray, shape (n_students,)
        Prompts left in the term, inf for no limit.
    """
    n_students, n_topics = outlook.known_from.shape
    shape = (n_students, n_topics, len(outlook.slots))
    schedule = Schedule(laws, outlook, np.zeros(shape, dtype=bool), np.full(shape, -np.inf), np.zeros(shape))
    _refresh(schedule, np.flatnonzero(np.isfinite(outlook.known_from).ravel()))
    room = cap[:, None] * outlook.room
    left = np.minimum(allowance, room.sum(axis=1))
    while True:
        chosen = _best_round(schedule, room, left)
        if not len(chosen):
            return schedule
        _refresh(schedule, np.unique(chosen))


def _best_round(schedule: Schedule, room: Floats, left: Floats) -> Ints:
    """Accept for every student the best slot of some topics; return the pairs that changed."""
    n_students, n_topics, _ = schedule.gain.shape
    open_gain = np.where((room > 0)[:, None, :], schedule.gain, -np.inf)
    slot = open_gain.argmax(axis=2)
    best = np.take_along_axis(open_gain, slot[..., None], axis=2)[..., 0]
    order = np.argsort(-best, axis=1, kind="stable")[:, :TOPICS_PER_ROUND]
    changed = []
    students = np.arange(n_students)
    for rank in range(order.shape[1]):
        topic = order[:, rank]
        at = slot[students, topic]
        fits = (best[students, topic] > LEAST_GAIN) & (left > 0) & (room[students, at] > 0)
        who = students[fits]
        schedule.planned[who, topic[fits], at[fits]] = True
        schedule.accepted[who, topic[fits], at[fits]] = best[who, topic[fits]]
        room[who, at[fits]] -= 1
        left[who] -= 1
        changed.append(who * n_topics + topic[fits])
    return np.concatenate(changed)


def _refresh(schedule: Schedule, pairs: Ints) -> None:
    """Compute anew what one more review would add, for some pairs and every slot."""
    outlook = schedule.outlook
    student, topic = np.divmod(pairs, outlook.known_from.shape[1])
    planned = schedule.planned[student, topic]
    known_from, weight = outlook.known_from[student, topic], outlook.weight[topic]
    most = int(planned.sum(axis=1).max(initial=0))
    taken = np.sort(np.where(planned, outlook.slots, np.inf), axis=1)[:, :most]
    n_slots = len(outlook.slots)
    reviews = np.full((len(pairs), n_slots + 1, most + 1), np.inf)
    reviews[:, :, :most] = taken[:, None, :]
    reviews[:, :n_slots, most] = outlook.slots
    reviews.sort(axis=2)
    value = sum_values(schedule.laws, pairs, known_from, reviews, outlook, weight)
    possible = ~planned & (outlook.slots >= known_from[:, None] + LESSON_TO_REVIEW_DAYS)
    schedule.gain[student, topic] = np.where(possible, value[:, :n_slots] - value[:, n_slots:], -np.inf)
