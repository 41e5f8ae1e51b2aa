"""Bayesian estimation of one memory law from the answers of one class.

The unknowns are the law's parameters, one effect per student, one per topic and one per student-topic
pair, all with Gaussian priors. `estimate` climbs to the posterior mode by Fisher scoring and describes the
posterior there by a Gaussian (Laplace's approximation).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from scheduler.model.history import Ints, Sequences, recall_before
from scheduler.model.laws import Law
from scheduler.values import Floats, LawParameters

NUDGE = 0.02  # step of the numerical derivatives, on unbounded scales where 1 is a large change
LARGEST_STEP = 1.0  # in prior standard deviations; keeps the first steps inside sensible territory
EDGE = 1e-4  # probabilities stay this far from 0 and 1


@dataclass(frozen=True, eq=False)
class InferenceProblem:
    """What is to be explained: events, who they belong to, and the prior."""

    law: Law
    prior: LawParameters
    slip: float
    events: Sequences
    student: Ints  # of each column of `events`
    topic: Ints
    n_students: int
    n_topics: int
    question_logit: Floats  # easiness of the question of each piece of evidence; 0 is average
    weight: Floats  # of each piece of evidence: the questions that it stands for, less when it is old


@dataclass(frozen=True, eq=False)
class Posterior:
    """Posterior of one law: modes, and the Gaussian around them.

    `covariance` has shape (k, k) with k = n_parameters + n_students + n_topics, in this order. `pair` and
    `pair_variance` are per column of the events, whose pairs are numbered in `pairs`.
    """

    theta: Floats
    student: Floats
    topic: Floats
    pairs: Ints
    pair: Floats
    covariance: Floats
    pair_variance: Floats
    own_prior: float  # variance of the own effect of a pair without events
    log_evidence: float

    def trait(self, student: Ints, topic: Ints) -> Floats:
        """Return the modal trait of pairs without an effect of their own.

        Parameters
        ----------
        student : ndarray of int
            Numbers of students.
        topic : ndarray of int, same shape
            Numbers of topics.
        """
        return np.asarray(self.student[student] + self.topic[topic])

    def own(self, pairs: Ints) -> tuple[Floats, Floats]:
        """Return the own effects of pairs and their variances; the prior's for pairs without events."""
        if not len(self.pairs):
            return np.zeros(len(pairs)), np.full(len(pairs), self.own_prior)
        order = np.argsort(self.pairs)
        place = order[np.minimum(np.searchsorted(self.pairs, pairs, sorter=order), len(order) - 1)]
        found = self.pairs[place] == pairs
        own, variance = self.pair[place], self.pair_variance[place]
        return np.where(found, own, 0.0), np.where(found, variance, self.own_prior)


def initial(problem: InferenceProblem) -> Posterior:
    """Return the prior as an estimate: where `estimate` starts without a better idea."""
    spread = _prior_sd(problem)
    n = len(problem.student)
    return Posterior(
        np.array(problem.prior.theta),
        np.zeros(problem.n_students),
        np.zeros(problem.n_topics),
        problem.events.pairs,
        np.zeros(n),
        np.diag(spread**2),
        np.full(n, problem.prior.pair_sd**2),
        problem.prior.pair_sd**2,
        0.0,
    )


def estimate(problem: InferenceProblem, start: Posterior, *, steps: int, free_law: bool = True) -> Posterior:
    """Climb `steps` Fisher scoring steps from `start`.

    Parameters
    ----------
    problem : InferenceProblem
        The answers of a class, and the prior.
    start : Posterior
        Where to begin.
    steps : int
        How many steps.
    free_law : bool
        Whether the law's parameters move; otherwise only the effects of students, topics and pairs do.
    """
    current = start
    for _ in range(steps):
        current = _step(problem, current, free_law)
    return current


def answer_probability(recall: Floats, chance: Floats, slip: float, question_logit: Floats) -> Floats:
    """Return the probability of a right answer: guessing when not recalled, slipping when recalled.

    Parameters
    ----------
    recall : ndarray
        Probability of recall. [0..1]
    chance : ndarray
        Probability of a right answer without knowing anything. [0..1)
    slip : float
        Probability of a wrong answer although it was recalled. [0..1)
    question_logit : ndarray
        Easiness of the question. [logits]
    """
    kept = np.clip(recall, EDGE, 1.0 - EDGE)
    shifted = kept / (kept + (1.0 - kept) * np.exp(-question_logit))
    return np.asarray(chance + np.maximum(1.0 - slip - chance, EDGE) * shifted)


def _prior_sd(problem: InferenceProblem) -> Floats:
    prior = problem.prior
    return np.concatenate(
        [
            prior.theta_sd,
            np.full(problem.n_students, prior.student_sd),
            np.full(problem.n_topics, prior.topic_sd),
        ]
    )


def _probabilities(problem: InferenceProblem, theta: Floats, trait: Floats) -> Floats:
    """Return the probability of a right answer, shape (n_evidence, n_variants)."""
    events = problem.events
    met_again = events.length[1] if len(events.length) > 1 else 0
    before = recall_before(problem.law, theta.T[:, :, None], trait[:, :met_again], events)
    recall = before[events.step, :, events.column]
    return answer_probability(recall, events.chance[:, None], problem.slip, problem.question_logit[:, None])


def _derivatives(
    problem: InferenceProblem, theta: Floats, trait: Floats, free_law: bool
) -> tuple[Floats, Floats, Floats]:
    """Return the probabilities and their derivatives by the parameters (0 unless free) and by the trait."""
    size = len(theta)
    moved = size if free_law else 0
    thetas = np.tile(theta, (moved + 2, 1))
    thetas[1 + np.arange(moved), np.arange(moved)] += NUDGE
    traits = np.tile(trait, (moved + 2, 1))
    traits[-1] += NUDGE
    probability = _probabilities(problem, thetas, traits)
    slope = (probability[:, 1:] - probability[:, :1]) / NUDGE
    by_theta = np.zeros((len(slope), size))
    by_theta[:, :moved] = slope[:, :moved]
    return probability[:, 0], by_theta, slope[:, -1]


def trait_evidence(problem: InferenceProblem, learned: Posterior) -> tuple[Floats, Floats, Floats]:
    """Return the derivative of each answer's probability by its pair's trait, its precision and its residual.

    The residual is standardised: precision times what was observed beyond what was expected. Shape (n_evidence,) each.

    Parameters
    ----------
    problem : InferenceProblem
        The answers of a class, and the prior.
    learned : Posterior
        Posterior of one law: modes and covariance of its parameters and effects.
    """
    trait = learned.trait(problem.student, problem.topic) + learned.pair
    probability, _, by_trait = _derivatives(problem, learned.theta, trait, free_law=False)
    precision = problem.weight / (probability * (1.0 - probability))
    return by_trait, precision, precision * (problem.events.observed - probability)


def _step(problem: InferenceProblem, current: Posterior, free_law: bool) -> Posterior:
    events, sd = problem.events, _prior_sd(problem)
    trait = current.trait(problem.student, problem.topic) + current.pair
    probability, by_theta, by_trait = _derivatives(problem, current.theta, trait, free_law)
    precision = problem.weight / (probability * (1.0 - probability))
    residual = precision * (events.observed - probability)
    offset = np.concatenate([current.theta - np.array(problem.prior.theta), current.student, current.topic])
    hessian = _information(problem, by_theta, by_trait, precision) + np.diag(sd**-2.0)
    covariance = np.asarray(np.linalg.inv(hessian), dtype=np.float64)
    move = covariance @ (_slope(problem, by_theta, by_trait, residual) - offset / sd**2)
    pair_move, pair_variance = _pair_move(problem, current, by_trait, precision, residual)
    best = _longest_good_step(problem, current, probability, move, pair_move)
    own = np.log(pair_variance / problem.prior.pair_sd**2).sum()
    evidence = best.log_evidence - 0.5 * np.linalg.slogdet(hessian * np.outer(sd, sd))[1] + 0.5 * own
    return replace(best, covariance=covariance, pair_variance=pair_variance, log_evidence=float(evidence))


def _information(problem: InferenceProblem, by_theta: Floats, by_trait: Floats, precision: Floats) -> Floats:
    """Return what the answers say of each two unknowns together: JᵀWJ, shape (k, k).

    Each answer is of one student and one topic only, so that their part is counted up, not multiplied out.
    """
    weighted = by_theta * precision[:, None]
    own = by_trait**2 * precision
    crossed = [_of_effects(problem, column * by_trait) for column in weighted.T]
    size, n_students, n_topics = len(crossed), problem.n_students, problem.n_topics
    pair = problem.student * n_topics + problem.topic
    together = np.bincount(pair[problem.events.column], own, n_students * n_topics)
    information = np.diag(np.concatenate([np.zeros(size), _of_effects(problem, own)]))
    information[:size, :size] = weighted.T @ by_theta
    information[:size, size:] = crossed
    information[size:, :size] = information[:size, size:].T
    information[size : size + n_students, size + n_students :] = together.reshape(n_students, n_topics)
    information[size + n_students :, size : size + n_students] = together.reshape(n_students, n_topics).T
    return information


def _slope(problem: InferenceProblem, by_theta: Floats, by_trait: Floats, residual: Floats) -> Floats:
    """Return how the fit to the answers rises with each unknown: JᵀW(y - P), shape (k,)."""
    return np.concatenate([by_theta.T @ residual, _of_effects(problem, by_trait * residual)])


def _of_effects(problem: InferenceProblem, values: Floats) -> Floats:
    """Return the sum over the evidence of each student and of each topic, shape (n_students + n_topics,)."""
    student, topic = problem.student[problem.events.column], problem.topic[problem.events.column]
    sums = np.bincount(student, values, problem.n_students), np.bincount(topic, values, problem.n_topics)
    return np.concatenate(sums)


def _pair_move(
    problem: InferenceProblem, current: Posterior, by_trait: Floats, precision: Floats, residual: Floats
) -> tuple[Floats, Floats]:
    n, column = len(current.pair), problem.events.column
    curvature = np.bincount(column, by_trait**2 * precision, n) + problem.prior.pair_sd**-2.0
    slope = np.bincount(column, by_trait * residual, n) - current.pair * problem.prior.pair_sd**-2.0
    return np.clip(0.5 * slope / curvature, -0.5, 0.5), 1.0 / curvature


def _longest_good_step(
    problem: InferenceProblem, current: Posterior, probability: Floats, move: Floats, pair_move: Floats
) -> Posterior:
    """Try the full step and shorter ones at once; keep the one with the highest posterior, or stay.

    `probability` is what `current` says of each piece of evidence.
    """
    sd = _prior_sd(problem)
    move = move / max(1.0, float(np.max(np.abs(move) / (LARGEST_STEP * sd), initial=0.0)))
    shares = np.array([1.0, 0.4, 0.1, 0.0])
    size, n_students = len(current.theta), problem.n_students
    vector = np.concatenate([current.theta, current.student, current.topic]) + shares[:, None] * move
    pair = current.pair + shares[:, None] * pair_move
    trait = vector[:, size + problem.student] + vector[:, size + n_students + problem.topic] + pair
    moved = _probabilities(problem, vector[:-1, :size], trait[:-1])
    height = _log_posterior(problem, vector, pair, np.column_stack([moved, probability]))
    best = int(np.argmax(height))
    theta, student, topic = np.split(vector[best], [size, size + n_students])
    return replace(
        current, theta=theta, student=student, topic=topic, pair=pair[best], log_evidence=float(height[best])
    )


def _log_posterior(problem: InferenceProblem, vector: Floats, pair: Floats, probability: Floats) -> Floats:
    observed = problem.events.observed[:, None]
    fit = observed * np.log(probability) + (1.0 - observed) * np.log(1.0 - probability)
    offset = vector.copy()
    offset[:, : len(problem.prior.theta)] -= np.array(problem.prior.theta)
    penalty = (offset / _prior_sd(problem)) ** 2
    own = (pair / problem.prior.pair_sd) ** 2
    return np.asarray(problem.weight @ fit - 0.5 * penalty.sum(axis=1) - 0.5 * own.sum(axis=1))
