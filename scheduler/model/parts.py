"""A class's model seen in part: only the topics that can be asked about, or as it would be after today's reviews.

The planner takes a `ModelPart` wherever it takes the whole model. Nothing is learned here: the effects of students
and topics stay what they are, and a review that has not happened yet moves only its own pair: by the exposure that
each memory law gives to a right or a wrong answer (`scheduler/MODEL.md`), and by what the answer says of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from typing import Self

import numpy as np
from numpy.typing import NDArray

from scheduler.model.laws import SHORTEST_DAYS
from scheduler.model.memory import NODE_WEIGHTS, ClassMemory, LawView, days
from scheduler.values import Floats

Bools = NDArray[np.bool_]

LEAST = 1e-3  # an answer never rules a node out


class ModelPart(ClassMemory):
    """A class's model of which some pairs are left out.

    Parameters
    ----------
    memory : ClassMemory
        The whole model. It is not changed.
    askable : ndarray of bool, shape (n_students, n_topics)
        Pairs that may be planned: the others look as if they had not been taught.
    """

    def __init__(self, memory: ClassMemory, askable: Bools) -> None:
        shape = (len(memory.students), len(memory.topics))
        if askable.shape != shape:
            raise ValueError(f"askable has shape {askable.shape}; the class has {shape}.")
        self._seen = memory.views()  # before copying, so that what is learned is kept with the whole model
        self.__dict__.update({**memory.__dict__, "_seen": self._seen})
        self._askable = askable
        self._met: Floats = memory.counts()[2].copy()

    def views(self) -> tuple[LawView, ...]:
        """Return every law as the class stands in this part."""
        return self._seen

    def counts(self) -> tuple[NDArray[np.int64], NDArray[np.int64], Floats]:
        """Return answers right, answers in all, and the last exposure [days], -inf for pairs left out."""
        right, asked, _ = super().counts()
        return right, asked, np.where(self._askable, self._met, -np.inf)

    def after(self, reviews: Sequence[tuple[str, str]], at: datetime, right: bool) -> Self:
        """Return the part as it would be if pairs were reviewed at a moment, all right or all wrong.

        Parameters
        ----------
        reviews : sequence of (str, str)
            Student and topic.
        at : datetime
            An aware moment.
        right : bool
            Whether all answers were right, or all wrong.
        """
        numbers = [self._pair(student, topic) for student, topic in reviews]
        pairs = np.array(numbers, dtype=np.int64)
        elapsed = np.maximum(days(at) - self._met.ravel()[pairs], SHORTEST_DAYS)
        changed = type(self)(self, self._askable)
        changed._seen = tuple(_reviewed(view, pairs, elapsed, right) for view in self._seen)
        changed._met = self._met.copy()
        changed._met.ravel()[pairs] = days(at)
        return changed


def _reviewed(view: LawView, pairs: NDArray[np.int64], elapsed: Floats, right: bool) -> LawView:
    """Return a law after reviews: the exposure each answer gives, and what the answer says of its pair.

    The second is Bayes' rule on the nodes of the pair's posterior: nodes that made the answer likely weigh more.
    Their mean takes the place of every node, as the planner looks at the mean only.
    """
    law, theta, trait, state = view.law, view.theta, view.trait[:, pairs], view.state[..., pairs]
    amount = np.ones((1, 1)) if right else np.exp(theta[law.names.index("log_amount_wrong")])
    recall = np.clip(law.recall(theta, trait, state, elapsed), LEAST, 1.0 - LEAST)
    exposed = law.expose(theta, trait, state, elapsed, amount)
    likely = NODE_WEIGHTS[:, None] * (recall if right else 1.0 - recall)
    likely = likely / likely.sum(axis=0)
    moved, changed = view.trait.copy(), view.state.copy()
    moved[:, pairs] = (likely * trait).sum(axis=0)
    changed[..., pairs] = (likely * exposed).sum(axis=-2, keepdims=True)
    return replace(view, trait=moved, state=changed)
