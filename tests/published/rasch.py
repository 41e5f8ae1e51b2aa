"""The Rasch model of a test: how hard each question is, whoever takes it.

The yardstick beside the retention model: with no history to tell of, retention reduces to this model, and
question difficulties can be checked against published fits. A right answer has the probability
1 / (1 + exp(-(ability - difficulty))).

References
----------
Rasch 1960, *Probabilistic Models for Some Intelligence and Attainment Tests*. Conditional likelihood: Andersen
1972, J R Stat Soc B 34, 42-54. Marginal likelihood: Bock & Aitkin 1981, Psychometrika 46, 443-459.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from scheduler.model.laws import logistic
from scheduler.values import Floats

STEPS = 60
NODES = 61  # Gauss-Hermite nodes, as many as the published marginal fits need for three decimals


@dataclass(frozen=True, eq=False)
class RaschFit:
    """Difficulties of the questions [logits], the common slope, and the log-likelihood at the maximum."""

    difficulty: Floats
    slope: float
    log_likelihood: float


def probability(ability: ArrayLike, difficulty: ArrayLike) -> Floats:
    """Return the probability of a right answer.

    Examples
    --------
    >>> float(probability(1.0, 0.0).round(4))
    0.7311
    """
    return logistic(np.asarray(ability, dtype=float) - np.asarray(difficulty, dtype=float))


def fit_conditional(answers: ArrayLike) -> RaschFit:
    """Fit difficulties by the likelihood of the answers given each student's total; they add up to 0.

    Parameters
    ----------
    answers : array_like of int, shape (n_students, n_questions)
        1 for right, 0 for wrong.

    Raises
    ------
    ValueError
        When a question was answered alike by everybody who had neither none nor all right.
    """
    x = _checked(answers)
    total = x.sum(axis=1).astype(int)
    x = x[(total > 0) & (total < x.shape[1])]
    counts = np.bincount(x.sum(axis=1).astype(int), minlength=x.shape[1] + 1).astype(float)
    right = x.sum(axis=0)
    if ((right == 0) | (right == len(x))).any():
        raise ValueError(
            "A question was answered alike by all; its difficulty has no estimate. Leave it out."
        )
    easiness = np.log(right / (len(x) - right))
    for _ in range(STEPS):
        expected, information = _given_totals(easiness, counts)
        move = np.linalg.pinv(information) @ (right - expected)
        easiness = easiness + move - (easiness + move).mean()
        if np.abs(move).max() < 1e-10:
            break
    likelihood = right @ easiness - counts @ np.log(_symmetric(np.exp(easiness)))
    return RaschFit(-easiness, 1.0, float(likelihood))


def fit_marginal(answers: ArrayLike) -> RaschFit:
    """Fit difficulties and a common slope with abilities from a standard normal distribution."""
    x = _checked(answers)
    patterns, counts = np.unique(x, axis=0, return_counts=True)
    nodes, weights = np.polynomial.hermite_e.hermegauss(NODES)
    share = x.mean(axis=0)
    point = np.append(np.log(share / (1.0 - share)), 1.0)  # easiness times slope, and the slope
    for _ in range(STEPS):
        _, gradient, information = _marginal(point, patterns, counts, nodes, weights)
        move = np.linalg.solve(information, gradient)
        point = point + move / max(1.0, float(np.abs(move).max()))
        if np.abs(move).max() < 1e-10:
            break
    likelihood, _, _ = _marginal(point, patterns, counts, nodes, weights)
    return RaschFit(-point[:-1] / point[-1], float(point[-1]), likelihood)


def _checked(answers: ArrayLike) -> Floats:
    x = np.asarray(answers, dtype=float)
    if x.ndim != 2 or not np.isin(x, (0.0, 1.0)).all():
        raise ValueError("Answers must be a table of students by questions that holds only 0 and 1.")
    return x


def _symmetric(odds: Floats) -> Floats:
    """Return the elementary symmetric functions of the odds, order 0 to all."""
    result = np.ones(1)
    for one in odds:
        result = np.append(result, 0.0) + one * np.insert(result, 0, 0.0)
    return result


def _given_totals(easiness: Floats, counts: Floats) -> tuple[Floats, Floats]:
    """Return expected right answers per question and their covariance, given everybody's total."""
    odds, n = np.exp(easiness), len(easiness)
    share = counts / _symmetric(odds)
    single, joint = np.zeros((n, n + 1)), np.zeros((n, n))
    for i in range(n):
        single[i, 1:] = odds[i] * _symmetric(np.delete(odds, i))
        for j in range(i):
            both = odds[i] * odds[j] * _symmetric(np.delete(odds, (i, j)))
            joint[i, j] = joint[j, i] = share[2:] @ both
    expected = single @ share
    joint[np.diag_indices(n)] = expected
    by_total = single / _symmetric(odds)
    return expected, joint - (by_total * counts) @ by_total.T


def _marginal(
    point: Floats, patterns: Floats, counts: NDArray[np.int64], nodes: Floats, weights: Floats
) -> tuple[float, Floats, Floats]:
    """Return the log-likelihood, its gradient and the outer-product information, over answer patterns."""
    log_odds = point[:-1] + point[-1] * nodes[:, None]
    p = logistic(log_odds)
    given = patterns @ np.log(p).T + (1.0 - patterns) @ np.log1p(-p).T
    joint = np.exp(given) * weights / weights.sum()
    chance = joint.sum(axis=1)
    posterior = joint / chance[:, None]
    by_question = patterns - posterior @ p
    by_slope = (posterior * ((patterns @ np.ones(p.shape[1]))[:, None] - p.sum(axis=1)) * nodes).sum(axis=1)
    score = np.column_stack([by_question, by_slope])
    information = score.T @ (score * counts[:, None])
    gradient: Floats = (score * counts[:, None]).sum(axis=0)
    return float(counts @ np.log(chance)), gradient, np.asarray(information, dtype=np.float64)
