"""Learning from one answer at once, between two nightly fits."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from scheduler.model.history import ANSWERED, TAUGHT, History, sequences, unroll
from scheduler.model.inference import NUDGE, Posterior, answer_probability
from scheduler.model.views import LawView, nodes_and_states
from scheduler.values import Floats


def can_absorb(history: History, pair: int, estimates: Iterable[Posterior]) -> bool:
    """Return whether the pair's newest event is an answer of a pair that the estimates know.

    Parameters
    ----------
    history : History
        Everything that happened to the pairs of the class.
    pair : int
        Number of the pair of student and topic.
    estimates : iterable of Posterior
        The estimates of all laws.
    """
    last = int(history.count[pair]) - 1
    kinds = history.kind[pair, : last + 1]
    known = all(pair in learned.pairs for learned in estimates)
    return known and last > 0 and int(kinds[-1]) == ANSWERED and int(kinds[0]) == TAUGHT


def absorb(
    view: LawView,
    learned: Posterior,
    history: History,
    n_topics: int,
    pair: int,
    slip: float,
    easiness: Floats,
) -> tuple[LawView, Posterior]:
    """Take in the newest answer of a pair: a Gaussian update of its student, topic and own effect.

    Only the states of that student's and that topic's pairs are run again. `easiness` [logits] is by the number of
    the question.

    Parameters
    ----------
    view : LawView
        The law with traits and states of all pairs.
    learned : Posterior
        Posterior of one law: modes and covariance of its parameters and effects.
    history : History
        Everything that happened to the pairs of the class.
    n_topics : int
        Topics of the class; pair ``k`` is student ``k // n_topics``, topic ``k % n_topics``.
    pair : int
        Number of the pair of student and topic.
    slip : float
        Probability of a wrong answer although it was recalled. [0..1)
    easiness : ndarray, shape (n_questions,)
        Easiness by the number of the question. [logits]
    """
    student, topic = divmod(pair, n_topics)
    slope, residual = _evidence(view, history, pair, slip, easiness)
    updated = _updated(learned, len(view.theta), student, topic, pair, slope, residual)
    everyone = np.arange(len(history.count))
    touched = everyone[(everyone // n_topics == student) | (everyone % n_topics == topic)]
    trait, state = view.trait.copy(), view.state.copy()
    trait[:, touched], state[..., touched] = nodes_and_states(
        view.law, view.theta, updated, sequences(history, touched), n_topics, touched
    )
    return replace(view, trait=trait, state=state), updated


def _evidence(
    view: LawView, history: History, pair: int, slip: float, easiness: Floats
) -> tuple[float, float]:
    """Return the derivative of the answer's probability by the trait, and its residual, both standardised."""
    events = sequences(history, np.array([pair]))
    trait = view.trait[1, pair] + np.array([[0.0], [NUDGE]])
    before, _ = unroll(view.law, np.tile(view.theta, (1, 2, 1)), trait, events)
    last = int(history.count[pair]) - 1
    chance = np.array(history.chance[pair, last])
    asked = easiness[history.question[pair, last]]
    right = answer_probability(before[last, :, 0], chance, slip, asked)
    spread = float(np.sqrt(right[0] * (1.0 - right[0])))
    slope = float(right[1] - right[0]) / NUDGE / spread
    return slope, float(history.share[pair, last] - right[0]) / spread


def _updated(
    learned: Posterior, size: int, student: int, topic: int, pair: int, slope: float, residual: float
) -> Posterior:
    column = int(np.flatnonzero(learned.pairs == pair)[0])
    toward: Floats = (
        learned.covariance[:, size + student] + learned.covariance[:, size + len(learned.student) + topic]
    )
    own = float(learned.pair_variance[column])
    shared = float(toward[size + student] + toward[size + len(learned.student) + topic])
    gain = 1.0 / (1.0 + slope**2 * (shared + own))
    _, students, topics = np.split(toward * (slope * residual * gain), [size, size + len(learned.student)])
    pairs, variances = learned.pair.copy(), learned.pair_variance.copy()
    pairs[column] += own * slope * residual * gain
    variances[column] -= own**2 * slope**2 * gain
    return replace(
        learned,
        student=learned.student + students,
        topic=learned.topic + topics,
        pair=pairs,
        pair_variance=variances,
        covariance=learned.covariance - np.outer(toward, toward) * (slope**2 * gain),
    )
