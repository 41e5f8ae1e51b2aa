"""Simulated students, from published theories of memory; the program's model does not know which.

Every family is written from its paper, with differences between students and topics, and keeps the true
state of a whole class in arrays. `SimulatedStudent` is the view of one student through the seam
`simulation.Learner`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from scheduler.model.laws import SHORTEST_DAYS, logistic
from scheduler.model.memory import days
from scheduler.values import Floats

Parameters = dict[str, Floats]


@dataclass(frozen=True)
class Family:
    """A theory of memory as three functions over arrays of pairs, and how its students differ.

    `draw(rng, n_students, n_topics)` gives parameters of shape (n_students, n_topics). States have their
    own axis first. `knew` is whether the attempt succeeded, or a probability of it.
    """

    name: str
    draw: Callable[[np.random.Generator, int, int], Parameters]
    start: Callable[[Parameters], Floats]
    expose: Callable[[Parameters, Floats, Floats, Floats], Floats]
    recall: Callable[[Parameters, Floats, Floats], Floats]


def _spread(
    rng: np.random.Generator, n_students: int, n_topics: int, student: float, topic: float, pair: float
) -> Floats:
    """Return student plus topic plus pair effects, normal with these standard deviations."""
    return np.asarray(
        rng.normal(0.0, student, (n_students, 1))
        + rng.normal(0.0, topic, (1, n_topics))
        + rng.normal(0.0, pair, (n_students, n_topics))
    )


def _same(like: Floats, value: float) -> Floats:
    return np.full_like(like, value)


# --- power law of forgetting; spaced reviews make it flatter (Wickelgren 1974; Wixted & Carpenter 2007) -----


def _power_draw(rng: np.random.Generator, n_students: int, n_topics: int) -> Parameters:
    u = _spread(rng, n_students, n_topics, 0.35, 0.3, 0.15)
    return {
        "m": _same(u, 0.96),
        "h": rng.uniform(0.8, 2.5) * np.exp(_spread(rng, n_students, n_topics, 0.3, 0.3, 0.0)),
        "f": rng.uniform(0.42, 0.6) * np.exp(u),
        "saving": _same(u, rng.uniform(0.45, 0.65)),
    }


def _power_start(p: Parameters) -> Floats:
    return np.log(p["f"])[None]


def _power_recall(p: Parameters, state: Floats, elapsed: Floats) -> Floats:
    return np.asarray(p["m"] * np.exp(-np.exp(state[0]) * np.log1p(p["h"] * elapsed)))


def _power_expose(p: Parameters, state: Floats, elapsed: Floats, knew: Floats) -> Floats:
    lost = 1.0 - _power_recall(p, state, elapsed) / p["m"]
    gain = np.log(p["saving"]) * np.sqrt(np.maximum(lost, 0.0)) * np.where(knew > 0.5, 1.0, 0.75)
    return np.asarray(state[0] + gain)[None]


# --- activation with spacing-dependent decay (Pavlik & Anderson 2005, eq. 3-5) -------------------------------

_TRACES = 24


def _activation_draw(rng: np.random.Generator, n_students: int, n_topics: int) -> Parameters:
    u = _spread(rng, n_students, n_topics, 0.25, 0.25, 0.1)
    return {
        "a": _same(u, 0.177),
        "c": _same(u, rng.uniform(0.18, 0.26)),
        "tau": rng.uniform(-1.35, -1.0) - u,
        "s": _same(u, rng.uniform(0.25, 0.4)),
        "units": _same(u, rng.uniform(40.0, 160.0)),
    }


def _activation_start(p: Parameters) -> Floats:
    state = np.full((2 * _TRACES, *p["a"].shape), np.inf)
    state[0], state[_TRACES] = 0.0, p["a"]
    return state


def _activation_strength(p: Parameters, state: Floats, elapsed: Floats) -> Floats:
    laid = np.isfinite(state[:_TRACES])
    ages = np.maximum(np.where(laid, state[:_TRACES] + elapsed, 1.0) * p["units"], 0.05)
    decay = np.where(laid, state[_TRACES:], 0.0)
    traces = np.where(laid, np.exp(-decay * np.log(ages)), 0.0)
    return np.asarray(np.log(traces.sum(axis=0)))


def _activation_expose(p: Parameters, state: Floats, elapsed: Floats, knew: Floats) -> Floats:
    decay = p["c"] * np.exp(_activation_strength(p, state, elapsed)) + p["a"]
    ages = np.concatenate([np.zeros_like(state[:1]), state[: _TRACES - 1] + elapsed])
    return np.concatenate([ages, decay[None], state[_TRACES:-1]])


def _activation_recall(p: Parameters, state: Floats, elapsed: Floats) -> Floats:
    return logistic((_activation_strength(p, state, elapsed) - p["tau"]) / p["s"])


# --- multiscale context (Mozer, Pashler, Cepeda, Lindsey & Vul 2009, NIPS 22) ---------------------------------

_INTEGRATORS = 40


def _context_draw(rng: np.random.Generator, n_students: int, n_topics: int) -> Parameters:
    u = _spread(rng, n_students, n_topics, 0.5, 0.5, 0.2)
    return {
        "mu": rng.uniform(0.01, 0.04) * np.exp(u),
        "nu": _same(u, rng.uniform(1.27, 1.34)),
        "xi": _same(u, rng.uniform(0.95, 0.985)),
    }


def _context_scales(p: Parameters) -> tuple[Floats, Floats]:
    steps = np.arange(_INTEGRATORS, dtype=float).reshape((-1,) + (1,) * p["mu"].ndim)
    weights = p["xi"] ** steps
    return p["mu"] * p["nu"] ** steps, weights / weights.sum(axis=0)


def _context_start(p: Parameters) -> Floats:
    return np.ones((_INTEGRATORS, *p["mu"].shape))


def _context_expose(p: Parameters, state: Floats, elapsed: Floats, knew: Floats) -> Floats:
    scales, weights = _context_scales(p)
    left = state * np.exp(-elapsed / scales)
    context = np.cumsum(weights * left, axis=0) / np.cumsum(weights, axis=0)
    rate = 1.0 + 8.0 * knew
    return np.asarray(left + rate * np.maximum(1.0 - context, 0.0))


def _context_recall(p: Parameters, state: Floats, elapsed: Floats) -> Floats:
    scales, weights = _context_scales(p)
    return np.asarray(np.minimum((weights * state * np.exp(-elapsed / scales)).sum(axis=0), 1.0))


# --- stepped floors: every spaced review brings all back and lifts what stays (common practice, no source) ----


def _steps_draw(rng: np.random.Generator, n_students: int, n_topics: int) -> Parameters:
    u = _spread(rng, n_students, n_topics, 0.35, 0.35, 0.15)
    return {
        "u": u,
        "days": rng.uniform(1.5, 3.5) * np.exp(_spread(rng, n_students, n_topics, 0.2, 0.2, 0.0)),
        "slower": _same(u, rng.uniform(1.2, 1.7)),
        "apart": _same(u, rng.uniform(0.8, 1.2)),
    }


def _steps_start(p: Parameters) -> Floats:
    return np.zeros((1, *p["u"].shape))


def _steps_floor(p: Parameters, reviews: Floats) -> Floats:
    levels = np.array([0.2, 0.4, 0.6, 0.9, 0.93, 0.95])
    level = np.interp(np.minimum(reviews, 5.0), np.arange(6.0), levels)
    return logistic(np.log(level / (1.0 - level)) + p["u"])


def _steps_recall(p: Parameters, state: Floats, elapsed: Floats) -> Floats:
    floor = _steps_floor(p, state[0])
    return np.asarray(floor + (1.0 - floor) * np.exp(-elapsed / (p["days"] * p["slower"] ** state[0])))


def _steps_expose(p: Parameters, state: Floats, elapsed: Floats, knew: Floats) -> Floats:
    return state + np.where(elapsed > p["apart"], 1.0, 0.0)


# --- half-life that grows with spaced success (exponential forgetting; Settles & Meeder 2016) -----------------


def _halving_draw(rng: np.random.Generator, n_students: int, n_topics: int) -> Parameters:
    u = _spread(rng, n_students, n_topics, 0.4, 0.4, 0.2)
    return {
        "days": rng.uniform(3.0, 5.5) * np.exp(u),
        "right": _same(u, rng.uniform(2.2, 3.2)),
        "wrong": _same(u, rng.uniform(1.2, 1.6)),
    }


def _halving_start(p: Parameters) -> Floats:
    return np.log(p["days"])[None]


def _halving_recall(p: Parameters, state: Floats, elapsed: Floats) -> Floats:
    return np.asarray(np.exp2(-elapsed * np.exp(-state[0])))


def _halving_expose(p: Parameters, state: Floats, elapsed: Floats, knew: Floats) -> Floats:
    spaced = -np.expm1(-elapsed * np.exp(-state[0]) * 2.0)
    factor = np.log(p["wrong"]) + knew * (np.log(p["right"]) - np.log(p["wrong"]))
    return np.asarray(state[0] + factor * spaced)[None]


# --- three stores with their own rates; a review refills the slower ones more when the fast ones are empty ----
# (sum of exponentials: Rubin, Hinton & Wenzel 1999; consolidation while fast traces fade: Wickelgren 1974)

_RATES = np.array([0.6, 8.0, 150.0])


def _stores_draw(rng: np.random.Generator, n_students: int, n_topics: int) -> Parameters:
    u = _spread(rng, n_students, n_topics, 0.35, 0.35, 0.15)
    return {
        "speed": np.exp(-u),
        "first": logistic(_same(u, rng.normal(-0.6, 0.2)) + u),
        "middle": _same(u, rng.uniform(0.45, 0.6)),
        "step": logistic(_same(u, rng.normal(-0.4, 0.2)) + 0.5 * u),
    }


def _stores_start(p: Parameters) -> Floats:
    return np.stack([_same(p["speed"], 0.9), p["middle"], 0.5 * p["first"]])


def _stores_left(p: Parameters, state: Floats, elapsed: Floats) -> Floats:
    rates = _RATES.reshape((3,) + (1,) * p["speed"].ndim)
    return np.asarray(state * np.exp(-elapsed * p["speed"] / rates))


def _stores_recall(p: Parameters, state: Floats, elapsed: Floats) -> Floats:
    return np.asarray(1.0 - np.prod(1.0 - _stores_left(p, state, elapsed), axis=0))


def _stores_expose(p: Parameters, state: Floats, elapsed: Floats, knew: Floats) -> Floats:
    left = _stores_left(p, state, elapsed)
    empty = 1.0 - left[0] / 0.9
    effort = np.where(knew > 0.5, 1.0, 0.7) * empty
    middle = left[1] + (0.9 - left[1]) * np.minimum(1.0, 0.8 * effort)
    slow = left[2] + (0.97 - left[2]) * p["step"] * effort
    return np.stack([_same(p["speed"], 0.9), np.maximum(middle, left[1]), np.maximum(slow, left[2])])


# --- ability, difficulty and practice in time windows (Lindsey, Shroyer, Pashler & Mozer 2014) ----------------

_WINDOWS = np.array([0.2434, 1.9739, 16.0090, 129.8426])  # decay constants of the exponential variant [days]


def _windows_draw(rng: np.random.Generator, n_students: int, n_topics: int) -> Parameters:
    u = _spread(rng, n_students, n_topics, 0.6, 0.6, 0.2)
    return {"u": u - rng.uniform(2.2, 2.6), "gain": _same(u, rng.uniform(0.85, 1.15))}


def _windows_start(p: Parameters) -> Floats:
    state = np.zeros((8, *p["u"].shape))
    state[:4], state[4:] = 1.0, 1.0
    return state


def _windows_left(state: Floats, elapsed: Floats) -> Floats:
    rates = np.concatenate([_WINDOWS, _WINDOWS]).reshape((8,) + (1,) * (state.ndim - 1))
    return np.asarray(state * np.exp(-elapsed / rates))


def windows_probability(
    base: float | Floats, right: Floats, tries: Floats, correct: Floats, attempts: Floats
) -> Floats:
    """Return logistic(ability - difficulty + sum_w [right_w ln(1 + correct_w) - tries_w ln(1 + attempts_w)]).

    `base` is ability minus difficulty; the windows stand on the first axis of everything else.

    Parameters
    ----------
    base : float or ndarray
        Ability minus difficulty. [logits]
    right : ndarray, shape (n_windows, ...)
        Weight of right answers in each window of time.
    tries : ndarray, shape (n_windows, ...)
        Weight of attempts in each window.
    correct : ndarray, shape (n_windows, ...)
        Right answers in each window, those long ago counting less.
    attempts : ndarray, shape (n_windows, ...)
        Attempts in each window, likewise.
    """
    gained = (right * np.log1p(correct)).sum(axis=0) - (tries * np.log1p(attempts)).sum(axis=0)
    return logistic(np.asarray(base + gained))


def _windows_recall(p: Parameters, state: Floats, elapsed: Floats) -> Floats:
    left = _windows_left(state, elapsed)
    weights = p["gain"] * np.array([1.2, 1.6, 2.0, 2.2]).reshape((4,) + (1,) * p["gain"].ndim)
    return windows_probability(p["u"], weights, 0.35 * weights, left[:4], left[4:])


def _windows_expose(p: Parameters, state: Floats, elapsed: Floats, knew: Floats) -> Floats:
    left = _windows_left(state, elapsed)
    success = 0.75 + 0.25 * knew  # the explanation that follows counts nearly as much as knowing
    return np.concatenate([left[:4] + success, left[4:] + 1.0])


FAMILIES: dict[str, Family] = {
    family.name: family
    for family in (
        Family("power", _power_draw, _power_start, _power_expose, _power_recall),
        Family("activation", _activation_draw, _activation_start, _activation_expose, _activation_recall),
        Family("context", _context_draw, _context_start, _context_expose, _context_recall),
        Family("steps", _steps_draw, _steps_start, _steps_expose, _steps_recall),
        Family("halving", _halving_draw, _halving_start, _halving_expose, _halving_recall),
        Family("stores", _stores_draw, _stores_start, _stores_expose, _stores_recall),
        Family("windows", _windows_draw, _windows_start, _windows_expose, _windows_recall),
    )
}


class SimulatedClass:
    """True memory of a class: who knows what, and what an exposure does.

    Parameters
    ----------
    family : str
        One of `FAMILIES`.
    seed : int
        Decides the students, the topics and every later answer.
    slip : float
        Probability of a wrong answer although the topic is recalled.
    changing : float
        Share of the students who change on `changes_on`: from then on each of them learns and forgets as another
        of them did until then; what was learned stays. [0..1]
    changes_on : datetime, optional
        Moments are asked about in order of time, so that what lies before the change is as it was.
    """

    def __init__(
        self,
        family: str,
        students: Sequence[str],
        topics: Sequence[str],
        seed: int,
        slip: float = 0.03,
        *,
        changing: float = 0.0,
        changes_on: datetime | None = None,
    ) -> None:
        if family not in FAMILIES:
            raise ValueError(f"There is no family of learners {family!r}; choose from {', '.join(FAMILIES)}.")
        rng = np.random.default_rng(seed)
        self.family, self.slip = FAMILIES[family], slip
        self.students, self.topics = tuple(students), tuple(topics)
        self.parameters = self.family.draw(rng, len(students), len(topics))
        self.state = self.family.start(self.parameters)
        self.last = np.full((len(students), len(topics)), np.nan)
        self.responsiveness = np.where(
            rng.random(len(students)) < 0.5,
            rng.uniform(0.4, 0.8, len(students)),
            rng.uniform(0.8, 1.0, len(students)),
        )
        self._rng = np.random.default_rng([seed, 1])
        self._changes_on = np.inf if changes_on is None else days(changes_on)
        among = np.random.default_rng([seed, 2]).permutation(len(students))
        self.changed = among[: round(changing * len(students))]

    def learners(self) -> dict[str, SimulatedStudent]:
        """Return the students by name."""
        return {name: SimulatedStudent(self, number) for number, name in enumerate(self.students)}

    def retention(self, at: datetime) -> Floats:
        """Return the true probability of recall of everyone, shape (n_students, n_topics)."""
        self._change(days(at))
        elapsed = days(at) - self.last
        recall = self.family.recall(
            self.parameters, self.state, np.maximum(np.nan_to_num(elapsed), SHORTEST_DAYS)
        )
        return np.where(elapsed >= 0.0, recall, 0.0)

    def recall(self, student: int, topic: int, at: float) -> float:
        """Return the true probability of recall of one pair.

        Parameters
        ----------
        student : int
            Number of the student.
        topic : int
            Number of the topic.
        at : float
            When. [days since 1970]
        """
        self._change(at)
        if not at >= self.last[student, topic]:
            return 0.0
        own, state = self._pair(student, topic)
        elapsed = np.maximum(at - self.last[student, topic], SHORTEST_DAYS)
        return float(self.family.recall(own, state, np.asarray(elapsed)))

    def expose(self, student: int, topic: int, at: float, knew: bool) -> None:
        """Let one student meet one topic.

        Parameters
        ----------
        student : int
            Number of the student.
        topic : int
            Number of the topic.
        at : float
            When. [days since 1970]
        knew : bool
            Whether it was recalled just before.
        """
        self._change(at)
        own, state = self._pair(student, topic)
        if np.isnan(self.last[student, topic]):
            self.state[:, student, topic] = self.family.start(own)
        else:
            elapsed = np.asarray(max(at - self.last[student, topic], SHORTEST_DAYS))
            self.state[:, student, topic] = self.family.expose(own, state, elapsed, np.asarray(float(knew)))
        self.last[student, topic] = at

    def draw(self) -> float:
        """Return the next random number of the class."""
        return float(self._rng.random())

    def _change(self, at: float) -> None:
        """Let students change when their day has come."""
        if at < self._changes_on:
            return
        self._changes_on = np.inf
        order = np.arange(len(self.students))
        order[self.changed] = np.roll(self.changed, 1)
        self.parameters = {name: value[order] for name, value in self.parameters.items()}

    def _pair(self, student: int, topic: int) -> tuple[Parameters, Floats]:
        own = {name: np.asarray(value[student, topic]) for name, value in self.parameters.items()}
        return own, self.state[:, student, topic]


class SimulatedStudent:
    """One student of a `SimulatedClass`, as the seam wants a learner."""

    def __init__(self, room: SimulatedClass, number: int) -> None:
        self.room, self._number = room, number
        self._topic = {topic: column for column, topic in enumerate(room.topics)}
        self.responsiveness = float(room.responsiveness[number])

    def attend(self, topic: str, at: datetime) -> None:
        """Be taught a topic, or meet it again in class or homework.

        Parameters
        ----------
        topic : str
            Name of a topic.
        at : datetime
            An aware moment.
        """
        knew = self.room.draw() < self.recall(topic, at)
        self.room.expose(self._number, self._topic[topic], days(at), knew)

    def answer(self, topic: str, at: datetime, chance: float) -> bool:
        """Answer one self-check and then see the explanation.

        Parameters
        ----------
        topic : str
            Name of a topic.
        at : datetime
            An aware moment.
        chance : float
            Probability of a right answer without knowing anything. [0..1)
        """
        knew = self.room.draw() < self.recall(topic, at)
        right = self.room.draw() >= self.room.slip if knew else self.room.draw() < chance
        self.room.expose(self._number, self._topic[topic], days(at), knew)
        return right

    def recall(self, topic: str, at: datetime) -> float:
        """Return the true probability of recall at this moment.

        Parameters
        ----------
        topic : str
            Name of a topic.
        at : datetime
            An aware moment.
        """
        return self.room.recall(self._number, self._topic[topic], days(at))
