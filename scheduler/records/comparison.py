"""How well each method predicted: log loss, AUC, Brier score and calibration, each with an interval over learners."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from scheduler.records.log import AnswerLog, Ints
from scheduler.statistics.calibration import auc, calibration_error
from scheduler.values import Floats

EDGE = 1e-6
DRAWS = 200
MOST_RANKED = 100_000  # an interval of the AUC is drawn from at most so many answers


@dataclass(frozen=True)
class ScoreEstimate:
    """A figure with its interval of 95 %, from drawing learners anew (bootstrap; Efron & Tibshirani 1993)."""

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class MethodScore:
    """What one method reached.

    Attributes
    ----------
    log_loss : ScoreEstimate
        Mean negative log-likelihood. [nats]
    auc : ScoreEstimate
        Area under the ROC curve. [0..1]
    brier : ScoreEstimate
        Mean squared error. [0..1]
    calibration : float
        Calibration error in ten bins. [0..1]
    """

    log_loss: ScoreEstimate
    auc: ScoreEstimate
    brier: ScoreEstimate
    calibration: float


@dataclass(frozen=True)
class MethodComparison:
    """The scores of all methods on the same answers."""

    answers: int
    learners: int
    scores: Mapping[str, MethodScore]


def compare(log: AnswerLog, predicted: Mapping[str, Floats], seed: int = 0) -> MethodComparison:
    """MethodScore every method on the answers that all of them predicted.

    Parameters
    ----------
    log : AnswerLog
    predicted : mapping of str to ndarray, shape (n_events,)
        Probabilities of right answers; NaN where a method predicted nothing.
    seed : int
        Of the draws for the intervals.

    Raises
    ------
    ValueError
        When no answer was predicted by all methods.
    """
    both = log.scored & np.all([np.isfinite(one) for one in predicted.values()], axis=0)
    events = np.flatnonzero(both)
    if not len(events):
        raise ValueError("No answer can be predicted: every learner meets every topic only once.")
    learners, owner = np.unique(log.learner[events], return_inverse=True)
    draws = np.random.default_rng(seed).multinomial(
        len(learners), np.full(len(learners), 1.0 / len(learners)), size=DRAWS
    )
    right, weight = log.right[events], log.weight[events]
    scores = {
        name: _score(right, np.clip(one[events], EDGE, 1.0 - EDGE), weight, owner, draws)
        for name, one in predicted.items()
    }
    return MethodComparison(len(events), len(learners), scores)


def _score(right: Floats, p: Floats, weight: Floats, owner: Ints, draws: Ints) -> MethodScore:
    losses = -np.where(right > 0.5, np.log(p), np.log(1.0 - p))
    return MethodScore(
        _mean(losses, weight, owner, draws),
        _ranked(right, p, owner, draws),
        _mean((right - p) ** 2, weight, owner, draws),
        calibration_error(right, p),
    )


def _mean(values: Floats, weight: Floats, owner: Ints, draws: Ints) -> ScoreEstimate:
    sums = np.bincount(owner, weights=values * weight)
    sizes = np.bincount(owner, weights=weight)
    drawn = (draws @ sums) / (draws @ sizes)
    return ScoreEstimate(float(np.average(values, weights=weight)), *_bounds(drawn))


def _ranked(right: Floats, p: Floats, owner: Ints, draws: Ints) -> ScoreEstimate:
    if len(np.unique(right)) < 2:
        return ScoreEstimate(float("nan"), float("nan"), float("nan"))
    order = np.argsort(owner, kind="stable")
    starts = np.searchsorted(owner[order], np.arange(draws.shape[1] + 1))
    drawn: list[float] = []
    for counts in draws[: max(20, min(len(draws), MOST_RANKED * 20 // len(right)))]:
        chosen = np.concatenate(
            [np.tile(order[starts[one] : starts[one + 1]], counts[one]) for one in np.flatnonzero(counts)]
        )
        if len(np.unique(right[chosen])) == 2:
            drawn.append(auc(right[chosen], p[chosen]))
    return ScoreEstimate(auc(right, p), *_bounds(np.array(drawn)))


def _bounds(drawn: Floats) -> tuple[float, float]:
    low, high = np.quantile(drawn, [0.025, 0.975])
    return float(low), float(high)


def evaluate_log(
    log: AnswerLog, *, held_out: bool = False, progress: Callable[[int], None] = lambda _events: None
) -> tuple[MethodComparison, dict[str, Floats], tuple[str, ...]]:
    """Predict every answer of a record with every method, and compare them.

    Parameters
    ----------
    log : AnswerLog
    held_out : bool
        Whether what is fitted is fitted to other learners; else to everything that came before.
    progress : callable (events) -> None
        Told how many more events are done.

    Returns
    -------
    tuple of MethodComparison, dict of str to ndarray, tuple of str
        The comparison, the predictions by method, and the methods whose library is not installed.
    """
    from scheduler.records.predictors import PLAIN, by_fitting, by_memory, features

    predicted = {"holdfast": by_memory(log, progress, held_out=held_out)}
    known, missing = features(log), []
    for name, fitting in PLAIN.items():
        try:
            predicted[name] = by_fitting(log, known, fitting, held_out=held_out)
        except ImportError:
            missing.append(name)
    return compare(log, predicted), predicted, tuple(missing)


def format_comparison(found: MethodComparison) -> str:
    """Write the scores as a table, the intervals behind the figures."""
    head = f"{'method':<24}{'log loss':<26}{'AUC':<26}{'Brier':<26}calibration error"
    lines = [f"{found.answers} answers of {found.learners} learners", head]
    for name, one in found.scores.items():
        figures = "".join(
            f"{f'{each.value:.4f} ({each.low:.4f}-{each.high:.4f})':<26}"
            for each in (one.log_loss, one.auc, one.brier)
        )
        lines.append(f"{name:<24}{figures}{one.calibration:.4f}")
    return "\n".join(lines)
