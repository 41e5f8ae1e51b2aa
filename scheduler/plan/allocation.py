"""The allocation: which reviews, on which evenings, gain most at the dates that count."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import cast

import numpy as np
from numpy.typing import NDArray

from scheduler.model.history import Ints
from scheduler.model.laws import SHORTEST_DAYS
from scheduler.model.views import LawView
from scheduler.plan.outlook import Outlook
from scheduler.values import Floats

LEAST_WEIGHT = 0.2  # laws that weigh less than this share of the heaviest are left out of planning
LESSON_TO_REVIEW_DAYS = 0.1  # a topic taught this morning can be asked this evening
TOPICS_PER_ROUND = (
    6  # topics of one student that are planned at once; their gains do not depend on each other
)
IMPROVEMENTS = 2  # times that reviews are taken back and placed anew, now that the others stand
HALF_FULL = 0.5  # an evening takes one more review while at least half a prompt fits
LEAST_GAIN = 1e-5
NEAR_TARGET = 0.1  # nearer than this to the target, reviews are added one by one, so that none is too many


@dataclass(frozen=True, eq=False)
class PairLaw:
    """How pairs forget and learn, for planning: one law of the mixture, or the truth in a simulation.

    Attributes
    ----------
    weight : float
        Share in the mixture.
    state : ndarray, shape (size, n_pairs)
    recall : callable (pairs, state, elapsed) -> probability
    review : callable (pairs, state, elapsed) -> state
        After a review whose outcome is as expected: right with the probability of recall. For n pairs the state
        has shape (size, n), everything else (n,).
    """

    weight: float
    state: Floats
    recall: Callable[[Ints, Floats, Floats], Floats]
    review: Callable[[Ints, Floats, Floats], Floats]


@dataclass(frozen=True, eq=False)
class Courses:
    """Possible futures of pairs: each a pair with the moments of its reviews to come.

    Attributes
    ----------
    pair : ndarray of int, shape (n,)
    known_from : ndarray, shape (n,)
        Last exposure so far, or the coming lesson. [days since the outlook's origin]
    reviews : ndarray, shape (n, n_reviews)
        In order, inf for none.
    """

    pair: Ints
    known_from: Floats
    reviews: Floats


def retention_on(
    laws: Sequence[PairLaw], courses: Courses, dates: Floats, wanted: NDArray[np.bool_]
) -> Floats:
    """Return retention of each course on each date, averaged over the laws.

    Parameters
    ----------
    laws : sequence of PairLaw
        Memory laws with the weights and states of the pairs.
    courses : Courses
        Possible futures: pairs with the moments of their reviews.
    dates : ndarray, shape (n_dates,)
    wanted : ndarray of bool, shape (n, n_dates)
        Where it is needed; 0 elsewhere.

    Returns
    -------
    ndarray, shape (n, n_dates)
    """
    wanted = wanted & (courses.known_from[:, None] < dates)
    cell = np.flatnonzero(wanted)
    row = cell // len(dates)
    date = dates[cell - row * len(dates)]
    place = row.copy()
    for at in courses.reviews.T:
        place += len(wanted) * (at[row] <= date)
    moments = np.concatenate([courses.known_from, *courses.reviews.T])
    elapsed = np.maximum(date - moments[place], SHORTEST_DAYS)
    pair = courses.pair[row]
    expected = np.zeros(len(row))
    for law in laws:
        state = np.take(_along(law, courses), place, axis=1)
        expected += law.weight * law.recall(pair, state, elapsed)
    total = np.zeros(wanted.shape)
    np.put(total, cell, expected)
    return total


def _along(law: PairLaw, courses: Courses) -> Floats:
    """Return the state after no review, one, two, ... of each course, shape (size, (n_reviews + 1) * n)."""
    state, last = law.state[:, courses.pair], courses.known_from
    states = [state]
    for at in courses.reviews.T:
        rows = np.flatnonzero(np.isfinite(at))
        pair, before = courses.pair[rows], state[:, rows]
        elapsed = np.maximum(at[rows] - last[rows], SHORTEST_DAYS)
        reviewed = law.review(pair, before, elapsed)
        if len(rows) < len(at):
            state = state.copy()
            state[:, rows] = reviewed
        else:
            state = reviewed
        states.append(state)
        last = at
    return np.concatenate(states, axis=1)


@dataclass(eq=False)
class Schedule:
    """A plan under construction for a whole class.

    Attributes
    ----------
    planned : ndarray of bool, shape (n_students, n_topics, n_slots)
    gain : ndarray, shape (n_students, n_topics, n_slots)
        What one more review there would add; -inf where it is not possible. Once a student's allowance is planned, the
        gains of pairs that changed are left as they were.
    accepted : ndarray, shape (n_students, n_topics, n_slots)
        The gain with which a planned review was accepted, 0 elsewhere.
    changed : ndarray of bool, shape (n_students, n_topics)
        Pairs whose gains are to be computed anew before they are looked at again.
    counted : ndarray, shape (n_students, n_topics)
        What each pair adds to "known on the dates that count" as planned so far (`Outlook.counted`).
    target : float or None
        Share known on the dates that count at which a student is asked no more. [0..1]
    """

    laws: list[PairLaw]
    outlook: Outlook
    planned: NDArray[np.bool_]
    gain: Floats
    accepted: Floats
    changed: NDArray[np.bool_]
    counted: Floats
    target: float | None = None

    def reached(self) -> Floats:
        """Return the share known on the dates that count, shape (n_students,); NaN where nothing counts."""
        counts = self.outlook.counted.sum(axis=1) * np.isfinite(self.outlook.known_from)
        of = counts.sum(axis=1)
        known = self.counted.sum(axis=1)
        return np.asarray(np.divide(known, of, out=np.full(len(of), np.nan), where=of > 0.0))

    def lacking(self) -> Floats:
        """Return how far each student is from the target, shape (n_students,): 0 once there, inf without a target."""
        if self.target is None:
            return np.full(len(self.planned), np.inf)
        return np.maximum(self.target - np.nan_to_num(self.reached(), nan=np.inf), 0.0)


def planning_laws(views: Sequence[LawView]) -> list[PairLaw]:
    """Return the laws that weigh enough to matter, with weights that add up to 1."""
    heaviest = max(view.weight for view in views)
    kept = [view for view in views if view.weight >= LEAST_WEIGHT * heaviest]
    total = sum(view.weight for view in kept)
    return [_planning_law(view, view.weight / total) for view in kept]


def _planning_law(view: LawView, weight: float) -> PairLaw:
    """Return the law at the centre of its posterior, in single precision: plans need no more digits."""
    law = view.law
    theta, trait = _single(view.theta[:, 0]), _single(view.trait[1])
    natural, wrong = law.natural(theta), np.exp(theta[-2])

    def recall(pairs: Ints, state: Floats, elapsed: Floats) -> Floats:
        own, elapsed = trait[pairs], _single(elapsed)
        return law.shown(natural, own, law.strength(natural, own, state)(elapsed), elapsed)

    def review(pairs: Ints, state: Floats, elapsed: Floats) -> Floats:
        own, elapsed = trait[pairs], _single(elapsed)
        strength = law.strength(natural, own, state)(elapsed)
        right = law.shown(natural, own, strength, elapsed)
        return law.exposed(natural, state, elapsed, strength, right + (1.0 - right) * wrong)

    return PairLaw(weight, _single(view.state[:, 1]), recall, review)


def _single(values: Floats) -> Floats:
    return cast(Floats, values.astype(np.float32))


def plan_ahead(
    laws: list[PairLaw],
    outlook: Outlook,
    cap: Ints,
    allowance: Floats,
    answering: Floats | None = None,
    *,
    improvements: int = IMPROVEMENTS,
    target: float | None = None,
) -> Schedule:
    """Fill the evenings greedily: always the review with the largest gain that still fits.

    Parameters
    ----------
    laws : sequence of PairLaw
        Memory laws with the weights and states of the pairs.
    outlook : Outlook
        Topics, evenings and tests ahead.
    cap : ndarray of int, shape (n_students,)
        Prompts a day.
    allowance : ndarray, shape (n_students,)
        Prompts left in the term, inf for no limit.
    answering : ndarray, shape (n_students,), optional
        Expected share of prompts answered [0..1]; 1 by default. A plan holds reviews that happen: later
        evenings have room for this share of the cap only, and the allowance for this share of its prompts.
    improvements : int
        Times that reviews are taken back and placed anew.
    target : float, optional
        Share known on the dates that count [0..1]: who is expected to know as much is asked no more.
    """
    n_students, n_topics = outlook.known_from.shape
    shape = (n_students, n_topics, len(outlook.slots))
    known = np.isfinite(outlook.known_from)
    planned, gain, accepted = np.zeros(shape, dtype=bool), np.full(shape, -np.inf), np.zeros(shape)
    schedule = Schedule(laws, outlook, planned, gain, accepted, known, np.zeros(shape[:2]), target)
    _refresh(schedule, np.ones(n_students, dtype=bool))
    share = np.ones(n_students) if answering is None else answering
    room = cap[:, None] * outlook.room * share[:, None]
    room[:, 0] = cap
    left = np.minimum(np.ceil(allowance * share), room.sum(axis=1))
    _fill(schedule, room, left)
    for number in range(improvements):
        _remove(schedule, room, left, number)
        _fill(schedule, room, left)
    return schedule


def _fill(schedule: Schedule, room: Floats, left: Floats) -> None:
    _refresh(schedule, left > 0)
    while _best_round(schedule, room, left):
        _refresh(schedule, left > 0)


def _remove(schedule: Schedule, room: Floats, left: Floats, number: int) -> None:
    """Take back each pair's first (0), second (1), ... planned review: the others were added without it."""
    order = np.cumsum(schedule.planned, axis=2)
    taken = schedule.planned & (order == number + 1) & (order[:, :, -1:] > 1)
    schedule.planned &= ~taken
    schedule.accepted[taken] = 0.0
    room += taken.sum(axis=1)
    left += taken.sum(axis=(1, 2))
    schedule.changed |= taken.any(axis=2)


def _best_round(schedule: Schedule, room: Floats, left: Floats) -> bool:
    """Accept for every student the best slot of some topics; return whether there was any."""
    wanting = schedule.lacking() > 0.0
    open_gain = np.where((room >= HALF_FULL)[:, None, :] & wanting[:, None, None], schedule.gain, -np.inf)
    slot = open_gain.argmax(axis=2)
    best = np.take_along_axis(open_gain, slot[..., None], axis=2)[..., 0]
    if not ((best > LEAST_GAIN) & (left > 0)[:, None]).any():
        return False
    order = np.argsort(-best, axis=1, kind="stable")[:, :TOPICS_PER_ROUND]
    students, lacking = np.arange(len(order)), schedule.lacking()
    for number, topic in enumerate(order.T):
        at = slot[students, topic]
        fits = (best[students, topic] > LEAST_GAIN) & (left > 0) & (room[students, at] >= HALF_FULL)
        fits &= lacking > (NEAR_TARGET if number else 0.0)
        who = students[fits]
        schedule.planned[who, topic[fits], at[fits]] = True
        schedule.accepted[who, topic[fits], at[fits]] = best[who, topic[fits]]
        room[who, at[fits]] -= 1
        left[who] -= 1
        schedule.changed[who, topic[fits]] = True
    return True


def _refresh(schedule: Schedule, whose: NDArray[np.bool_]) -> None:
    """Compute anew what one more review would add in every slot, for the pairs of some students that changed."""
    outlook = schedule.outlook
    student, topic = np.nonzero(schedule.changed & whose[:, None])
    if not len(student):
        return
    schedule.changed[whose] = False
    pairs = student * outlook.known_from.shape[1] + topic
    planned, known_from = schedule.planned[student, topic], outlook.known_from[student, topic]
    slots, dates = outlook.slots, outlook.dates
    taken = _moments(planned, slots)
    row, slot = np.nonzero(~planned & (slots >= known_from[:, None] + LESSON_TO_REVIEW_DAYS))
    place = np.concatenate([np.arange(len(pairs)), row])
    one_more = np.concatenate([np.full(len(pairs), np.inf), slots[slot]])
    courses = Courses(pairs[place], known_from[place], _with(taken[place], one_more))
    wanted = (outlook.weight > 0.0)[topic[place]]
    wanted[len(pairs) :] &= (slots[:, None] < dates)[slot]
    expected = retention_on(schedule.laws, courses, dates, wanted)
    base, lifted = expected[: len(pairs)], expected[len(pairs) :]
    gain = np.full(planned.shape, -np.inf)
    difference = np.where(wanted[len(pairs) :], lifted - base[row], 0.0)
    gain[row, slot] = (outlook.weight[topic[row]] * difference).sum(axis=1)
    schedule.gain[student, topic] = gain
    schedule.counted[student, topic] = (outlook.counted[topic] * base).sum(axis=1)


def _moments(planned: NDArray[np.bool_], slots: Floats) -> Floats:
    """Return the moments of the planned reviews of each pair in order, inf for none, shape (n, most of a pair)."""
    row, slot = np.nonzero(planned)
    number = np.cumsum(planned, axis=1)[row, slot] - 1
    moments = np.full((len(planned), int(number.max(initial=-1)) + 1), np.inf)
    moments[row, number] = slots[slot]
    return moments


def _with(taken: Floats, one_more: Floats) -> Floats:
    """Return moments in order with one more among them, shape (n, n_taken + 1)."""
    edge = np.full((len(taken), 1), np.inf)
    before, after = np.concatenate([-edge, taken], axis=1), np.concatenate([taken, edge], axis=1)
    return np.asarray(np.clip(one_more[:, None], before, after))
