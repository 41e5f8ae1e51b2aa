"""Memory laws: how recall fades after an exposure, and what an exposure changes.

Every law is three pure functions over arrays: the state after being taught, the state after one more exposure,
and the curve along which recall falls from a state. A *state* is an array of shape (size, ...) for as many
student-topic pairs as wanted; `theta` holds the law's parameters on its first axis and broadcasts against
the pairs; `trait` is the effect of this student and topic (0 is average, positive remembers longer);
`elapsed` is the time since the last exposure [days]; `amount` is the strength of an exposure (1 for a
self-check answered right). Equations and sources stand in MODEL.md.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from scheduler.values import Floats

SHORTEST_DAYS = 1e-4  # nine seconds: no answer comes sooner, and powers of zero are avoided

Curve: TypeAlias = Callable[[Floats], Floats]
"""Recall so many days after the last exposure. What does not change with time is worked out before."""


@dataclass(frozen=True)
class Law:
    """One memory law: names and prior of its parameters, and its three functions."""

    name: str
    names: tuple[str, ...]
    mean: tuple[float, ...]
    sd: tuple[float, ...]
    trait_sd: tuple[float, float, float]  # prior spread of student, topic and pair effects
    size: int
    start: Callable[[Floats, Floats], Floats]
    expose: Callable[[Floats, Floats, Floats, Floats, Floats], Floats]
    curve: Callable[[Floats, Floats, Floats], Curve]

    def recall(self, theta: Floats, trait: Floats, state: Floats, elapsed: Floats) -> Floats:
        """Return recall `elapsed` days after the last exposure."""
        return self.curve(theta, trait, state)(elapsed)


def logistic(x: Floats) -> Floats:
    """Return 1 / (1 + exp(-x)), safe for any finite x."""
    return np.asarray(0.5 * (1.0 + np.tanh(0.5 * x)))


def _slow_decay(log_slow_days: Floats) -> Curve:
    """Return what a slow decay, common to all that was learned, leaves."""
    rate = -np.exp(-log_slow_days)
    return lambda elapsed: np.asarray(np.exp(elapsed * rate))


def _log1p(x: Floats) -> Floats:
    """Return log(1 + x): several times faster than numpy's log1p, which is exact for tiny x; none is needed here."""
    return np.asarray(np.log(x + 1.0))


def _spaced(elapsed: Floats, log_scale: Floats) -> Floats:
    """Return how much of a full review a repeat after `elapsed` days is: near 0 within hours, 1 after days."""
    return np.asarray(1.0 - np.exp(-elapsed * np.exp(-log_scale)))


# --- power law whose time scale grows with every review that comes after some forgetting -----------------


def _power_start(theta: Floats, trait: Floats) -> Floats:
    return np.asarray(theta[0] + trait)[None]


def _power_left(theta: Floats, state: Floats) -> Curve:
    shape = np.exp(theta[1])
    rate = np.exp(-state[0]) / shape
    return lambda elapsed: np.asarray(np.exp(-shape * _log1p(elapsed * rate)))


def _power_expose(theta: Floats, trait: Floats, state: Floats, elapsed: Floats, amount: Floats) -> Floats:
    forgotten = np.maximum(1.0 - _power_left(theta, state)(elapsed), 1e-9)
    growth = np.exp(theta[2]) * amount * np.exp(np.exp(theta[3]) * np.log(forgotten))
    return np.asarray(state[0] + growth)[None]


def _power_curve(theta: Floats, trait: Floats, state: Floats) -> Curve:
    encoded, left, slow = logistic(theta[4]), _power_left(theta, state), _slow_decay(theta[5])
    return lambda elapsed: np.asarray(left(elapsed) * (encoded * slow(elapsed)))


# --- two stores: a fast part fades, the part that stays rises with every spaced review ---------------------


def _stores_start(theta: Floats, trait: Floats) -> Floats:
    return np.zeros((1, *np.broadcast_shapes(theta[0].shape, trait.shape)))


def _stores_expose(theta: Floats, trait: Floats, state: Floats, elapsed: Floats, amount: Floats) -> Floats:
    return state + amount * _spaced(elapsed, theta[5])


def _stores_curve(theta: Floats, trait: Floats, state: Floats) -> Curve:
    reviews = state[0]
    stays = logistic(theta[0] + np.exp(theta[1]) * reviews + trait)
    fades, rate = 1.0 - stays, -np.exp(-(theta[2] + theta[3] * reviews + 0.5 * trait))
    slow = _slow_decay(theta[4])
    return lambda elapsed: np.asarray(stays * slow(elapsed) + fades * np.exp(elapsed * rate))


# --- activation: every exposure leaves a trace; traces laid while memory is strong fade faster -------------

TRACES = 6  # newest exposures kept one by one; older ones are merged into the oldest kept


def _activation(theta: Floats, state: Floats) -> Curve:
    """Return the logarithm of what all traces add up to."""
    laid = state[2 * TRACES :].reshape(TRACES, -1).max(axis=1, initial=0.0)
    used = max(
        int(np.count_nonzero(laid)), 1
    )  # newest first, so the unused ones stand at the end and cost no time
    ages, weights = _same_for_all_nodes(state[:used]), state[2 * TRACES : 2 * TRACES + used]
    rates = -state[TRACES : TRACES + used]
    logs = rates * theta[2] + np.log(np.maximum(weights, 1e-30))

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


def _activation_start(theta: Floats, trait: Floats) -> Floats:
    state = np.zeros((3 * TRACES, *np.broadcast_shapes(theta[0].shape, trait.shape)))
    state[TRACES] = np.exp(theta[0])
    state[2 * TRACES] = 1.0
    return state


def _activation_expose(
    theta: Floats, trait: Floats, state: Floats, elapsed: Floats, amount: Floats
) -> Floats:
    strength = _activation(theta, state)(elapsed)
    new = np.empty_like(state)
    for block in range(3):
        new[block * TRACES + 1 : (block + 1) * TRACES] = state[block * TRACES : (block + 1) * TRACES - 1]
    new[1:TRACES] += elapsed
    new[3 * TRACES - 1] += state[3 * TRACES - 1]
    new[0] = 0.0
    new[TRACES] = np.exp(theta[0]) + np.exp(theta[1] + np.minimum(strength, 3.0))
    new[2 * TRACES] = amount
    return new


def _activation_curve(theta: Floats, trait: Floats, state: Floats) -> Curve:
    total, slow, sharpness = _activation(theta, state), _slow_decay(theta[5]), np.exp(-theta[4])
    offset = trait - theta[3] * sharpness
    return lambda elapsed: np.asarray(logistic(total(elapsed) * sharpness + offset) * slow(elapsed))


# --- logistic: log-odds are linear in log time and in the logarithm of the number of spaced reviews --------


def _odds_start(theta: Floats, trait: Floats) -> Floats:
    return np.zeros((1, *np.broadcast_shapes(theta[0].shape, trait.shape)))


def _odds_expose(theta: Floats, trait: Floats, state: Floats, elapsed: Floats, amount: Floats) -> Floats:
    return state + amount * _spaced(elapsed, theta[5])


def _odds_curve(theta: Floats, trait: Floats, state: Floats) -> Curve:
    reviews, slow, rate = state[0], _slow_decay(theta[6]), np.exp(-theta[4])
    learned = theta[0] + trait + theta[1] * _log1p(reviews)
    fading = np.exp(theta[2] - np.exp(theta[3]) * reviews)
    return lambda elapsed: np.asarray(logistic(learned - fading * _log1p(elapsed * rate)) * slow(elapsed))


# --- the four, with priors ("chosen, because" stands in MODEL.md) -------------------------------------------

_EXPOSURES = {"log_amount_wrong": (-0.4, 0.5), "log_amount_homework": (-0.4, 0.4)}
_SLOW = (5.5, 0.8)
_TRAIT_SD = (0.5, 0.5, 0.4)


def _law(
    name: str,
    parameters: dict[str, tuple[float, float]],
    size: int,
    functions: tuple[Callable[..., Floats], Callable[..., Floats], Callable[..., Curve]],
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
    (_power_start, _power_expose, _power_curve),
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
    (_stores_start, _stores_expose, _stores_curve),
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
    (_activation_start, _activation_expose, _activation_curve),
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
    (_odds_start, _odds_expose, _odds_curve),
)
LAWS: dict[str, Law] = {law.name: law for law in (POWER, STORES, ACTIVATION, ODDS)}
