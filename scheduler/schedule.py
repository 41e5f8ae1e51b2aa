"""The allocation: which reviews, on which evenings, gain most at the dates that count."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import cast

import numpy as np
from numpy.typing import NDArray

from scheduler.history import Ints
from scheduler.laws import SHORTEST_DAYS
from scheduler.outlook import Outlook
from scheduler.values import Floats
from scheduler.views import LawView

LEAST_WEIGHT = 0.2  # laws that weigh less than this share of the heaviest are left out of planning
LESSON_TO_REVIEW_DAYS = 0.1  # a topic taught this morning can be asked this evening
TOPICS_PER_ROUND = (
    6  # topics of one student that are planned at once; their gains do not depend on each other
)
IMPROVEMENTS = 2  # times that reviews are taken back and placed anew, now that the others stand
HALF_FULL = 0.5  # an evening takes one more review while at least half a prompt fits
LEAST_GAIN = 1e-5


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
        `right` is the probability that the review is answered right. For n pairs the state has shape
        (size, n), everything else (n,).
    """

    weight: float
    state: Floats
    recall: Callable[[Ints, Floats, Floats], Floats]
    expose: Callable[[Ints, Floats, Floats, Floats], Floats]


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
    dates : ndarray, shape (n_dates,)
    wanted : ndarray of bool, shape (n, n_dates)
        Where it is needed; 0 elsewhere.

    Returns
    -------
    ndarray, shape (n, n_dates)
    """
    total = np.zeros(wanted.shape)
    row, column = np.nonzero(wanted & (courses.known_from[:, None] < dates))
    passed = (courses.reviews[row] <= dates[column, None]).sum(axis=1)
    place = passed * len(courses.pair) + row
    moments = np.concatenate([courses.known_from, *courses.reviews.T])
    elapsed = np.maximum(dates[column] - moments[place], SHORTEST_DAYS)
    pair = courses.pair[row]
    expected = np.zeros(len(row))
    for law in laws:
        state = np.take(_along(law, courses), place, axis=1)
        expected += law.weight * law.recall(pair, state, elapsed)
    total[row, column] = expected
    return total


def _along(law: PairLaw, courses: Courses) -> Floats:
    """Return the state after no review, one, two, ... of each course, shape (size, (n_reviews + 1) * n)."""
    state, last = law.state[:, courses.pair], courses.known_from
    states = [state]
    for at in courses.reviews.T:
        rows = np.flatnonzero(np.isfinite(at))
        pair, before = courses.pair[rows], state[:, rows]
        elapsed = np.maximum(at[rows] - last[rows], SHORTEST_DAYS)
        exposed = law.expose(pair, before, elapsed, law.recall(pair, before, elapsed))
        if len(rows) < len(at):
            state = state.copy()
            state[:, rows] = exposed
        else:
            state = exposed
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
        What one more review there would add; -inf where it is not possible.
    accepted : ndarray, shape (n_students, n_topics, n_slots)
        The gain with which a planned review was accepted, 0 elsewhere.
    """

    laws: list[PairLaw]
    outlook: Outlook
    planned: NDArray[np.bool_]
    gain: Floats
    accepted: Floats


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
    wrong = np.exp(theta[-2])

    def recall(pairs: Ints, state: Floats, elapsed: Floats) -> Floats:
        return law.recall(theta, trait[pairs], state, _single(elapsed))

    def expose(pairs: Ints, state: Floats, elapsed: Floats, right: Floats) -> Floats:
        return law.expose(theta, trait[pairs], state, _single(elapsed), right + (1.0 - right) * wrong)

    return PairLaw(weight, _single(view.state[:, 1]), recall, expose)


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
) -> Schedule:
    """Fill the evenings greedily: always the review with the largest gain that still fits.

    Parameters
    ----------
    cap : ndarray of int, shape (n_students,)
        Prompts a day.
    allowance : ndarray, shape (n_students,)
        Prompts left in the term, inf for no limit.
    answering : ndarray, shape (n_students,), optional
        Expected share of prompts answered [0..1]; 1 by default. A plan holds reviews that happen: later
        evenings have room for this share of the cap only, and the allowance for this share of its prompts.
    improvements : int
        Times that reviews are taken back and placed anew.
    """
    n_students, n_topics = outlook.known_from.shape
    shape = (n_students, n_topics, len(outlook.slots))
    schedule = Schedule(laws, outlook, np.zeros(shape, dtype=bool), np.full(shape, -np.inf), np.zeros(shape))
    _refresh(schedule, np.flatnonzero(np.isfinite(outlook.known_from).ravel()))
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
    while len(chosen := _best_round(schedule, room, left)):
        _refresh(schedule, np.unique(chosen))


def _remove(schedule: Schedule, room: Floats, left: Floats, number: int) -> None:
    """Take back each pair's first (0), second (1), ... planned review: the others were added without it."""
    order = np.cumsum(schedule.planned, axis=2)
    taken = schedule.planned & (order == number + 1) & (order[:, :, -1:] > 1)
    schedule.planned &= ~taken
    schedule.accepted[taken] = 0.0
    room += taken.sum(axis=1)
    left += taken.sum(axis=(1, 2))
    _refresh(schedule, np.flatnonzero(taken.any(axis=2).ravel()))


def _best_round(schedule: Schedule, room: Floats, left: Floats) -> Ints:
    """Accept for every student the best slot of some topics; return the pairs that changed."""
    n_students, n_topics, _ = schedule.gain.shape
    open_gain = np.where((room >= HALF_FULL)[:, None, :], schedule.gain, -np.inf)
    slot = open_gain.argmax(axis=2)
    best = np.take_along_axis(open_gain, slot[..., None], axis=2)[..., 0]
    order = np.argsort(-best, axis=1, kind="stable")[:, :TOPICS_PER_ROUND]
    changed = []
    students = np.arange(n_students)
    for rank in range(order.shape[1]):
        topic = order[:, rank]
        at = slot[students, topic]
        fits = (best[students, topic] > LEAST_GAIN) & (left > 0) & (room[students, at] >= HALF_FULL)
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
    planned, known_from = schedule.planned[student, topic], outlook.known_from[student, topic]
    weight, slots, dates = outlook.weight[topic], outlook.slots, outlook.dates
    most = int(planned.sum(axis=1).max(initial=0))
    taken = np.sort(np.where(planned, slots, np.inf), axis=1)[:, :most]
    row, slot = np.nonzero(~planned & (slots >= known_from[:, None] + LESSON_TO_REVIEW_DAYS))
    one_more = np.sort(np.concatenate([taken[row], slots[slot, None]], axis=1), axis=1)
    as_it_is = np.concatenate([taken, np.full((len(pairs), 1), np.inf)], axis=1)
    whose = np.concatenate([np.arange(len(pairs)), row])
    courses = Courses(pairs[whose], known_from[whose], np.concatenate([as_it_is, one_more]))
    after = np.concatenate([np.full(len(pairs), -np.inf), slots[slot]])
    wanted = (weight[whose] > 0.0) & (after[:, None] < dates)
    expected = retention_on(schedule.laws, courses, dates, wanted)
    base, lifted = expected[: len(pairs)], expected[len(pairs) :]
    gain = np.full(planned.shape, -np.inf)
    difference = np.where(wanted[len(pairs) :], lifted - base[row], 0.0)
    gain[row, slot] = (weight[row] * difference).sum(axis=1)
    schedule.gain[student, topic] = gain
