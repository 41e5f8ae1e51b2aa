"""Students change: what a student's answers say is believed the less, the older they are beside the newest one.

A random walk of the student effects in its cheapest form. The law, the topics and the pairs are learned from all
answers alike, as they do not change; only the student effects are then settled once more with answers discounted by
age (exponential forgetting, the steady state of a Kalman filter whose state walks at random: Harvey 1989, section 4.3).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from scheduler.model.inference import InferenceProblem, Posterior, trait_evidence
from scheduler.values import Floats

# Chosen, because 180 days help students who changed and cost others nothing that can be measured; with 45 days those
# who did not change are predicted worse by more than the others are better (see scheduler/RESULTS.md).
HALF_LIFE_DAYS = 180.0
LARGEST_MOVE = 0.5  # on the trait scale; the step is linear in what the answers say


def settle_students(problem: InferenceProblem, learned: Posterior) -> Posterior:
    """Return an estimate whose student effects follow recent answers more than old ones.

    One Fisher scoring step of each student effect on its own, the answers weighted 2^(-age / half-life), everything
    else as it was learned. The variance of an effect grows by what the discount takes from its evidence.

    Parameters
    ----------
    problem : InferenceProblem
        The answers of a class, and the prior.
    learned : Posterior
        Posterior from all answers alike.

    Returns
    -------
    Posterior
    """
    if not len(problem.weight):
        return learned
    slope, precision, residual = trait_evidence(problem, learned)
    counts = still_counts(problem)
    student = problem.student[problem.events.column]
    prior = problem.prior.student_sd**-2.0

    def of_students(values: Floats) -> Floats:
        return np.asarray(np.bincount(student, values, problem.n_students), dtype=np.float64)

    recent = of_students(counts * slope**2 * precision) + prior
    ever = of_students(slope**2 * precision) + prior
    move = (of_students(counts * slope * residual) - prior * learned.student) / recent
    covariance = learned.covariance.copy()
    own = len(learned.theta) + np.arange(problem.n_students)
    covariance[own, own] += 1.0 / recent - 1.0 / ever
    settled = learned.student + np.clip(move, -LARGEST_MOVE, LARGEST_MOVE)
    return replace(learned, student=settled, covariance=covariance)


def still_counts(problem: InferenceProblem) -> Floats:
    """Return what is left of each piece of evidence, by its age beside the newest of the class. [0..1], 1 is all."""
    at = problem.events.time[problem.events.step, problem.events.column]
    return np.asarray(0.5 ** ((at.max() - at) / HALF_LIFE_DAYS))
