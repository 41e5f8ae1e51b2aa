"""How easy each question is beside its topic, from the answers that a fit could not explain otherwise."""

from __future__ import annotations

import numpy as np

from scheduler.model.history import Ints, unroll
from scheduler.model.inference import InferenceProblem, Posterior, answer_probability
from scheduler.values import Floats

STEPS = 6  # Fisher scoring steps; a single unknown with a Gaussian prior needs fewer
LARGEST_STEP = 1.0  # [logits]


def modal_recall(problem: InferenceProblem, learned: Posterior) -> Floats:
    """Return recall just before each piece of evidence under a law's posterior mode, shape (n_evidence,).

    Parameters
    ----------
    problem : InferenceProblem
        The answers of a class, and the prior.
    learned : Posterior
        Posterior of one law: modes and covariance of its parameters and effects.
    """
    events = problem.events
    trait = learned.trait(problem.student, problem.topic) + learned.pair
    before, _ = unroll(problem.law, learned.theta[:, None, None], trait[None], events)
    return np.asarray(before[events.step, 0, events.column])


def easiness(
    problem: InferenceProblem, recall: Floats, question: Ints, n_questions: int, spread: float
) -> Floats:
    """Return the posterior mode of the easiness of each question. [logits], 0 for the average of its topic.

    The model is that of Rasch (1960) with the pair's recall in the place of the person's ability, a guessing and a
    slipping asymptote, and easiness ~ N(0, spread²).

    Parameters
    ----------
    problem : InferenceProblem
        The answers of a class, and the prior.
    recall : ndarray, shape (n_evidence,)
        Probability of recall just before each answer. [0..1]
    question : ndarray of int, shape (n_evidence,)
        Number of the question that was answered, -1 where it is not known.
    n_questions : int
        How many questions there are.
    spread : float
        Standard deviation of easiness within a topic. [logits]

    Returns
    -------
    ndarray, shape (n_questions,)
    """
    told = question >= 0
    recall, question = recall[told], question[told]
    chance, right, weight = problem.events.chance[told], problem.events.observed[told], problem.weight[told]
    found = np.zeros(n_questions)
    for _ in range(STEPS):
        each = found[question]
        probability = answer_probability(recall, chance, problem.slip, each)
        known = (probability - chance) / (1.0 - problem.slip - chance)
        slope = (1.0 - problem.slip - chance) * known * (1.0 - known)
        precision = weight / (probability * (1.0 - probability))
        toward = np.bincount(question, slope * precision * (right - probability), n_questions)
        curvature = np.bincount(question, slope**2 * precision, n_questions) + spread**-2.0
        found = found + np.clip((toward - found / spread**2) / curvature, -LARGEST_STEP, LARGEST_STEP)
    return found
