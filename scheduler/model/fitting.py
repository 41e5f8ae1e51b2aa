"""The nightly fit: parameters of a class from all its answers, and a prior from all classes of a school."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from scheduler.model.easiness import easiness, modal_recall
from scheduler.model.inference import InferenceProblem, Posterior, estimate
from scheduler.model.memory import ClassMemory
from scheduler.model.prior import PRIOR
from scheduler.values import Floats, LawParameters, Parameters

STEPS = 6  # Fisher scoring steps of a fit from scratch
STEPS_WITH_QUESTIONS = 2  # more of them once the easiness of the questions is known
SPREAD_SIZE = 12.0  # students' worth of belief in the prior spread of effects


def fit(memory: ClassMemory, prior: Parameters = PRIOR, *, steps: int = STEPS) -> Parameters:
    """Learn the class-wide parameters from everything the class did.

    Parameters
    ----------
    memory : ClassMemory
        The class with its history; it adopts the result.
    prior : Parameters
        What was believed before, from `pool` or the built-in prior.
    steps : int
        Fisher scoring steps for each law.

    Returns
    -------
    learned : Parameters
        Posterior modes and standard deviations; `memory` predicts with them from now on.
    """
    learned, estimates = _fit_laws(memory, prior, {}, steps)
    if not estimates:
        return prior
    if memory.questions:
        # The other unknowns once more, now that the questions are told apart: coordinate ascent.
        asked = replace(prior, questions=_questions(memory, learned, estimates))
        learned, estimates = _fit_laws(memory, asked, estimates, STEPS_WITH_QUESTIONS)
    memory.adopt(learned, estimates)
    return learned


def _fit_laws(
    memory: ClassMemory, prior: Parameters, begun: Mapping[str, Posterior], steps: int
) -> tuple[Parameters, dict[str, Posterior]]:
    """Fit every law, from where it was `begun`; nothing is learned where there is no evidence."""
    fitted: dict[str, LawParameters] = {}
    estimates: dict[str, Posterior] = {}
    evidence: dict[str, float] = {}
    for name in prior.laws:
        problem = memory.problem(name, prior)
        if not len(problem.weight):
            return prior, {}
        start = begun[name] if name in begun else memory.start(name, problem)
        estimates[name] = estimate(problem, start, steps=steps)
        fitted[name] = _posterior(problem, estimates[name])
        evidence[name] = estimates[name].log_evidence + float(np.log(max(prior.laws[name].weight, 1e-12)))
    weights = _weights(evidence)
    laws = {name: replace(law, weight=weights[name]) for name, law in fitted.items()}
    return replace(prior, laws=laws, answers=prior.answers + len(problem.weight)), estimates


def _questions(
    memory: ClassMemory, learned: Parameters, estimates: Mapping[str, Posterior]
) -> dict[str, float]:
    """Return the easiness of every question that was answered, given the laws."""
    recall: Floats = np.zeros(0)
    for name, law in learned.laws.items():
        problem = memory.problem(name, learned)
        part = law.weight * modal_recall(problem, estimates[name])
        recall = part if not len(recall) else recall + part
    numbers = problem.events.question
    found = easiness(problem, recall, numbers, len(memory.questions), learned.question_sd)
    return dict(zip(memory.questions, found.tolist(), strict=True))


def pool(classes: Sequence[Parameters], prior: Parameters = PRIOR) -> Parameters:
    """Combine the fits of a school's classes into the prior of its next class.

    The built-in prior counts as one class more. The spread between classes is kept, so that a new class
    may differ.

    Parameters
    ----------
    classes : sequence of Parameters
        Fits of the school's classes.
    prior : Parameters
        The built-in prior.
    """
    if not classes:
        return prior
    everyone = [prior, *classes]
    laws = {name: _pooled([one.laws[name] for one in everyone]) for name in prior.laws}
    total = sum(law.weight for law in laws.values())
    return replace(
        prior,
        laws={name: replace(law, weight=law.weight / total) for name, law in laws.items()},
        response_mean=float(np.mean([one.response_mean for one in everyone])),
        answers=0,
    )


def _pooled(laws: Sequence[LawParameters]) -> LawParameters:
    theta, sd = np.array([law.theta for law in laws]), np.array([law.theta_sd for law in laws])
    precision = 1.0 / (sd**2 + np.array(laws[0].theta_sd) ** 2 / len(laws))
    mean = (precision * theta).sum(axis=0) / precision.sum(axis=0)
    spread = np.sqrt(((theta - mean) ** 2).mean(axis=0) + 1.0 / precision.sum(axis=0))

    def average(name: str) -> float:
        return float(np.mean([getattr(law, name) for law in laws]))

    return LawParameters(
        tuple(mean.tolist()),
        tuple(np.minimum(spread, sd[0]).tolist()),
        average("student_sd"),
        average("topic_sd"),
        average("pair_sd"),
        average("weight"),
    )


def _posterior(problem: InferenceProblem, learned: Posterior) -> LawParameters:
    size, n_students = len(learned.theta), problem.n_students
    sd = np.sqrt(np.diag(learned.covariance))
    _, student_sd, topic_sd = np.split(sd, [size, size + n_students])
    seen = np.unique(problem.topic)
    return replace(
        problem.prior,
        theta=tuple(learned.theta.tolist()),
        theta_sd=tuple(sd[:size].tolist()),
        theta_covariance=tuple(map(tuple, learned.covariance[:size, :size].tolist())),
        student_sd=_spread(problem.prior.student_sd, learned.student, student_sd),
        topic_sd=_spread(problem.prior.topic_sd, learned.topic[seen], topic_sd[seen]),
        pair_sd=_spread(problem.prior.pair_sd, learned.pair, np.sqrt(learned.pair_variance)),
    )


def _spread(prior: float, effects: Floats, sd: Floats) -> float:
    """Return one expectation-maximisation update of the spread of effects, with the prior as extra effects."""
    squares = float((effects**2 + sd**2).sum()) + SPREAD_SIZE * prior**2
    return float(np.sqrt(squares / (len(effects) + SPREAD_SIZE)))


def _weights(evidence: dict[str, float]) -> dict[str, float]:
    highest = max(evidence.values())
    raw = {name: float(np.exp(value - highest)) for name, value in evidence.items()}
    total = sum(raw.values())
    return {name: value / total for name, value in raw.items()}
