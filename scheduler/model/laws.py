"""Memory laws: how recall fades after an exposure, and what an exposure changes.

Every law is a few pure functions over arrays: the state after being taught, the strength that is left of a state
after some days, the recall that a strength shows as, and the state after one more exposure. A *state* is an array
of shape (size, ...) for as many student-topic pairs as wanted; `theta` holds the law's parameters on its first axis
and broadcasts against the pairs; `trait` is the effect of this student and topic (0 is average, positive remembers
longer); `elapsed` is the time since the last exposure [days]; `amount` is the size of an exposure (1 for a
self-check answered right). What depends on the parameters alone is worked out once, by `natural`, and handed on as
`natural`. Equations and sources stand in MODEL.md.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from scheduler.values import Floats

SHORTEST_DAYS = 1e-4  # nine seconds: no answer comes sooner, and powers of zero are avoided

Natural: TypeAlias = tuple[Floats, ...]
"""Parameters as a law's equations use them, in an order of its own."""
Curve: TypeAlias = Callable[[Floats], Floats]
"""Recall or strength so many days after the last exposure. What does not change with time is worked out before."""


@dataclass(frozen=True)
class Law:
    """One memory law: names and prior of its parameters, and its functions.

    Attributes
    ----------
    start : callable (theta, trait) -> state
    natural : callable (theta) -> natural parameters
    strength : callable (natural, trait, state) -> curve of strength
    shown : callable (natural, trait, strength, elapsed) -> recall
    exposed : callable (natural, state, elapsed, strength, amount) -> state
    """

    name: str
    names: tuple[str, ...]
    mean: tuple[float, ...]
    sd: tuple[float, ...]
    trait_sd: tuple[float, float, float]  # prior spread of student, topic and pair effects
    size: int
    start: Callable[[Floats, Floats], Floats]
    natural: Callable[[Floats], Natural]
    strength: Callable[[Natural, Floats, Floats], Curve]
    shown: Callable[[Natural, Floats, Floats, Floats], Floats]
    exposed: Callable[[Natural, Floats, Floats, Floats, Floats], Floats]

    def recall(self, theta: Floats, trait: Floats, state: Floats, elapsed: Floats) -> Floats:
        """Return recall `elapsed` days after the last exposure.

        Parameters
        ----------
        theta : ndarray, shape (n_parameters, n_variants, 1)
            Parameters of the law, on the scale on which they are estimated.
        trait : ndarray, shape (n_variants, n)
            Traits of the pairs. [logits of the law]
        state : ndarray, shape (size, n_variants, n)
            State of the law after the last exposure.
        elapsed : ndarray
            Time since the last exposure; broadcast against the pairs. [days]
        """
        return self.curve(theta, trait, state)(elapsed)

    def expose(self, theta: Floats, trait: Floats, state: Floats, elapsed: Floats, amount: Floats) -> Floats:
        """Return the state after one more exposure, `elapsed` days after the last.

        Parameters
        ----------
        theta : ndarray, shape (n_parameters, n_variants, 1)
            Parameters of the law, on the scale on which they are estimated.
        trait : ndarray, shape (n_variants, n)
            Traits of the pairs. [logits of the law]
        state : ndarray, shape (size, n_variants, n)
            State of the law after the last exposure.
        elapsed : ndarray
            Time since the last exposure; broadcast against the pairs. [days]
        amount : ndarray
            Strength of the exposure: 1 for a lesson. [0..]
        """
        natural = self.natural(theta)
        strength = self.strength(natural, trait, state)(elapsed)
        return self.exposed(natural, state, elapsed, strength, amount)

    def curve(self, theta: Floats, trait: Floats, state: Floats) -> Curve:
        """Return the curve along which recall falls from a state.

        Parameters
        ----------
        theta : ndarray, shape (n_parameters, n_variants, 1)
            Parameters of the law, on the scale on which they are estimated.
        trait : ndarray, shape (n_variants, n)
            Traits of the pairs. [logits of the law]
        state : ndarray, shape (size, n_variants, n)
            State of the law after the last exposure.
        """
        natural = self.natural(theta)
        strength = self.strength(natural, trait, state)
        return lambda elapsed: self.shown(natural, trait, strength(elapsed), elapsed)


def logistic(x: Floats) -> Floats:
    """Return 1 / (1 + exp(-x)), safe for any finite x."""
    return np.asarray(0.5 * (1.0 + np.tanh(0.5 * x)))


def _log1p(x: Floats) -> Floats:
    """Return log(1 + x): several times faster than numpy's log1p, which is exact for tiny x; none is needed here."""
    return np.asarray(np.log(x + 1.0))


def _rate(log_days: Floats) -> Floats:
    """Return the rate of an exponential that falls to 1/e in so many days, negative."""
    return np.asarray(-np.exp(-log_days))


def _spaced(elapsed: Floats, rate: Floats) -> Floats:
    """Return how much of a full review a repeat after `elapsed` days is: near 0 within hours, 1 after days."""
    return np.asarray(1.0 - np.exp(elapsed * rate))


# --- power law whose time scale grows with every review that comes after some forgetting -----------------


def _power_start(theta: Floats, trait: Floats) -> Floats:
    return np.asarray(theta[0] + trait)[None]


def _power_natural(theta: Floats) -> Natural:
    shape, growth, sensitivity = np.exp(theta[1]), np.exp(theta[2]), np.exp(theta[3])
    return -shape, 1.0 / shape, growth, sensitivity, logistic(theta[4]), _rate(theta[5])


def _power_strength(natural: Natural, trait: Floats, state: Floats) -> Curve:
    falls, scale, *_ = natural
    rate = np.exp(-state[0]) * scale
    return lambda elapsed: np.asarray(np.exp(falls * _log1p(elapsed * rate)))


def _power_shown(natural: Natural, trait: Floats, strength: Floats, elapsed: Floats) -> Floats:
    *_, encoded, slow = natural
    return np.asarray(strength * (encoded * np.exp(elapsed * slow)))


def _power_exposed(
    natural: Natural, state: Floats, elapsed: Floats, strength: Floats, amount: Floats
) -> Floats:
    _, _, growth, sensitivity, *_ = natural
    forgotten = np.maximum(1.0 - strength, 1e-9)
    return state + growth * amount * np.exp(sensitivity * np.log(forgotten))


# --- two stores: a fast part fades, the part that stays rises with every spaced review ---------------------


def _no_reviews(theta: Floats, trait: Floats) -> Floats:
    return np.zeros((1, *np.broadcast_shapes(theta[0].shape, trait.shape)))


def _stores_natural(theta: Floats) -> Natural:
    return theta[0], np.exp(theta[1]), theta[2], theta[3], _rate(theta[4]), _rate(theta[5])


def _stores_strength(natural: Natural, trait: Floats, state: Floats) -> Curve:
    level, rise, fast, growth, slow, _ = natural
    stays = logistic(level + rise * state[0] + trait)
    fades, rate = 1.0 - stays, _rate(fast + growth * state[0] + 0.5 * trait)
    return lambda elapsed: np.asarray(stays * np.exp(elapsed * slow) + fades * np.exp(elapsed * rate))


def _stores_shown(natural: Natural, trait: Floats, strength: Floats, elapsed: Floats) -> Floats:
    return strength


def _one_more_review(
    natural: Natural, state: Floats, elapsed: Floats, strength: Floats, amount: Floats
) -> Floats:
    *_, spacing = natural
    return state + amount * _spaced(elapsed, spacing)


# --- activation: every exposure leaves a trace; traces laid while memory is strong fade faster -------------

TRACES = 6  # newest exposures kept one by one; older ones are merged into the oldest kept


def _activation_start(theta: Floats, trait: Floats) -> Floats:
    state = np.zeros((3 * TRACES, *np.broadcast_shapes(theta[0].shape, trait.shape)))
    state[TRACES] = np.exp(theta[0])
    state[2 * TRACES] = 1.0
    return state


def _activation_natural(theta: Floats) -> Natural:
    sharpness = np.exp(-theta[4])
    return np.exp(theta[0]), theta[1], theta[2], -theta[3] * sharpness, sharpness, _rate(theta[5])


def _activation_strength(natural: Natural, trait: Floats, state: Floats) -> Curve:
    """Return the logarithm of what all traces add up to."""
    laid = state[2 * TRACES :].reshape(TRACES, -1).max(axis=1, initial=0.0)
    used = max(
        int(np.count_nonzero(laid)), 1
    )  # newest first, so the unused ones stand at the end and cost no time
    ages, weights = _same_for_all_nodes(state[:used]), state[2 * TRACES : 2 * TRACES + used]
    rates = -state[TRACES : TRACES + used]
    logs = rates * natural[2] + np.log(np.maximum(weights, 1e-30))

    def total(elapsed: Floats) -> Floats:
        traces = rates * np.log(np.maximum(ages + elapsed, SHORTEST_DAYS))
        traces += logs
        return np.asarray(np.log(np.maximum(np.exp(traces, out=traces).sum(axis=0), 1e-12)))

    return total


def _same_for_all_nodes(ages: Floats) -> Floats:
    """Return ages of traces once instead of at every node of the trait, where they stand as nodes, pairs.

    Traces are laid at the same moments whatever the trait; their logarithms are what costs most.
    """
    once = ages[:, :1]
    return once if ages.ndim == 3 and np.array_equal(np.broadcast_to(once, ages.shape), ages) else ages


def _activation_shown(natural: Natural, trait: Floats, strength: Floats, elapsed: Floats) -> Floats:
    *_, threshold, sharpness, slow = natural
    return np.asarray(logistic(strength * sharpness + (trait + threshold)) * np.exp(elapsed * slow))


def _activation_exposed(
    natural: Natural, state: Floats, elapsed: Floats, strength: Floats, amount: Floats
) -> Floats:
    least, rise, *_ = natural
    new = np.empty_like(state)
    for block in range(3):
        new[block * TRACES + 1 : (block + 1) * TRACES] = state[block * TRACES : (block + 1) * TRACES - 1]
    new[1:TRACES] += elapsed
    new[3 * TRACES - 1] += state[3 * TRACES - 1]
    new[0] = 0.0
    new[TRACES] = least + np.exp(rise + np.minimum(strength, 3.0))
    new[2 * TRACES] = amount
    return new


# --- logistic: log-odds are linear in log time and in the logarithm of the number of spaced reviews --------


def _odds_natural(theta: Floats) -> Natural:
    flattening, rate = -np.exp(theta[3]), np.exp(-theta[4])
    return theta[0], theta[1], theta[2], flattening, rate, _rate(theta[6]), _rate(theta[5])


def _odds_strength(natural: Natural, trait: Floats, state: Floats) -> Curve:
    """Return the log-odds of recall."""
    level, gain, fades, flattening, rate, *_ = natural
    learned = level + trait + gain * _log1p(state[0])
    fading = np.exp(fades + flattening * state[0])
    return lambda elapsed: np.asarray(learned - fading * _log1p(elapsed * rate))


def _odds_shown(natural: Natural, trait: Floats, strength: Floats, elapsed: Floats) -> Floats:
    *_, slow, _ = natural
    return np.asarray(logistic(strength) * np.exp(elapsed * slow))


# --- the four, with priors ("chosen, because" stands in MODEL.md) -------------------------------------------

_EXPOSURES = {"log_amount_wrong": (-0.4, 0.5), "log_amount_homework": (-0.4, 0.4)}
_SLOW = (5.5, 0.8)
_TRAIT_SD = (0.5, 0.5, 0.4)


def _law(
    name: str,
    parameters: dict[str, tuple[float, float]],
    size: int,
    functions: tuple[
        Callable[[Floats, Floats], Floats],
        Callable[[Floats], Natural],
        Callable[[Natural, Floats, Floats], Curve],
        Callable[[Natural, Floats, Floats, Floats], Floats],
        Callable[[Natural, Floats, Floats, Floats, Floats], Floats],
    ],
) -> Law:
    """Put a law together; `parameters` holds prior mean and standard deviation of each."""
    everything = parameters | _EXPOSURES
    mean, sd = zip(*everything.values(), strict=True)
    return Law(name, tuple(everything), mean, sd, _TRAIT_SD, size, *functions)


POWER = _law(
    "power",
    {
        "log_scale_days": (1.0, 1.2),
        "log_shape": (-0.2, 1.1),
        "log_growth": (0.0, 0.6),
        "log_lag_sensitivity": (-2.0, 0.7),
        "logit_encoding": (3.0, 0.8),
        "log_slow_days": _SLOW,
    },
    1,
    (_power_start, _power_natural, _power_strength, _power_shown, _power_exposed),
)
STORES = _law(
    "stores",
    {
        "logit_stays": (-0.7, 0.6),
        "log_rise": (-0.4, 0.7),
        "log_fast_days": (0.3, 1.0),
        "fast_growth": (0.3, 0.3),
        "log_slow_days": _SLOW,
        "log_spacing_days": (-1.0, 1.0),
    },
    1,
    (_no_reviews, _stores_natural, _stores_strength, _stores_shown, _one_more_review),
)
ACTIVATION = _law(
    "activation",
    {
        "log_decay": (-1.4, 0.5),
        "log_decay_rise": (-1.6, 0.9),
        "log_units_per_day": (5.2, 1.8),
        "threshold": (-1.7, 0.8),
        "log_noise": (-0.8, 0.35),
        "log_slow_days": _SLOW,
    },
    3 * TRACES,
    (_activation_start, _activation_natural, _activation_strength, _activation_shown, _activation_exposed),
)
ODDS = _law(
    "odds",
    {
        "log_odds": (2.0, 1.2),
        "reviews": (1.0, 0.8),
        "log_fading": (-0.4, 0.5),
        "log_flattening": (-2.4, 0.9),
        "log_unit_days": (-1.3, 1.6),
        "log_spacing_days": (-1.0, 1.0),
        "log_slow_days": _SLOW,
    },
    1,
    (_no_reviews, _odds_natural, _odds_strength, _odds_shown, _one_more_review),
)
LAWS: dict[str, Law] = {law.name: law for law in (POWER, STORES, ACTIVATION, ODDS)}
