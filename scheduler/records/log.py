"""A record of answers as arrays: who answered what, when, and whether it was right."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scheduler.values import Floats

Ints = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class AnswerLog:
    """Events of many learners, in the order of their times.

    Attributes
    ----------
    learner, topic, item : ndarray of int, shape (n_events,)
        Numbers of who, of what, and of the question asked (-1 where none is named).
    at : ndarray of float, shape (n_events,)
        When. [days since 1970]
    right : ndarray of float, shape (n_events,)
        1 for a right answer, 0 for a wrong one, NaN for an exposure without a question.
    chance : ndarray of float, shape (n_events,)
        Probability of a right answer without knowing anything. [0..1)
    weight : ndarray of float, shape (n_events,)
        How much an answer counts in the comparison; above 0.
    learners, topics, items : tuple of str
        Names by their numbers.
    """

    learner: Ints
    topic: Ints
    item: Ints
    at: Floats
    right: Floats
    chance: Floats
    weight: Floats
    learners: tuple[str, ...]
    topics: tuple[str, ...]
    items: tuple[str, ...]

    def __len__(self) -> int:
        return len(self.at)

    @property
    def first(self) -> NDArray[np.bool_]:
        """Which events are the first of their learner on their topic: nothing is known before them."""
        pair = self.learner * len(self.topics) + self.topic
        found = np.zeros(len(self), dtype=bool)
        found[np.unique(pair, return_index=True)[1]] = True
        return found

    @property
    def scored(self) -> NDArray[np.bool_]:
        """Which events are answers that every method predicts: those after the first on their topic."""
        return ~self.first & np.isfinite(self.right)


class LogBuilder:
    """Collects events row by row in little memory; `build` sorts them."""

    def __init__(self) -> None:
        self._numbers: tuple[dict[Hashable, int], ...] = ({}, {}, {})
        self._ints: list[tuple[int, int, int]] = []
        self._floats: list[tuple[float, float, float, float]] = []
        self._blocks: list[tuple[Ints, Floats]] = []

    def add(
        self,
        learner: str,
        topic: str,
        at: float,
        right: float,
        *,
        item: str | None = None,
        chance: float = 0.0,
        weight: float = 1.0,
    ) -> None:
        """Add an event.

        Parameters
        ----------
        learner, topic : str
            Who and what.
        at : float
            When. [days since 1970]
        right : float
            1, 0, or NaN for an exposure without a question.
        item : str or None
            The question asked, where it is known beside its topic.
        chance : float
            Probability of a right answer by guessing. [0..1)
        weight : float
            How much the answer counts in the comparison.
        """
        learners, topics, items = self._numbers
        number = -1 if item is None else items.setdefault(item, len(items))
        self._ints.append(
            (learners.setdefault(learner, len(learners)), topics.setdefault(topic, len(topics)), number)
        )
        self._floats.append((at, right, chance, weight))
        if len(self._ints) >= 50_000:
            self._pack()

    def _pack(self) -> None:
        ints = np.array(self._ints, dtype=np.int64).reshape(-1, 3)
        self._blocks.append((ints, np.array(self._floats).reshape(-1, 4)))
        self._ints, self._floats = [], []

    def build(self) -> AnswerLog:
        """Return the events in the order of their times; those of one moment keep the order of the file."""
        self._pack()
        ints, floats = (np.concatenate(parts) for parts in zip(*self._blocks, strict=True))
        order = np.argsort(floats[:, 0], kind="stable")
        ints, floats = ints[order], floats[order]
        names = (tuple(map(str, numbers)) for numbers in self._numbers)
        return AnswerLog(*ints.T, *floats.T, *names)
