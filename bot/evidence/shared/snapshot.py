"""What the retention model says of a class at the moments that a report speaks of.

Arrays come from the scheduler, students in rows and topics in columns; the methods turn them into estimates
of one student, one topic or the class. A topic not yet taught at a moment counts in no mean.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from bot.evidence.shared.figures import IntervalEstimate, mean_estimate
from scheduler.values import Retention

Bools = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Snapshot:
    """Predicted retention of a class at one moment.

    Attributes
    ----------
    at : datetime
        The moment.
    students, topics : tuple of int
        Identifiers in the order of rows and columns.
    retention : Retention
        Shape (n_students, n_topics).
    answers : ndarray of int, shape (n_students, n_topics)
        Answers that the prediction rests on.
    taught : ndarray of bool, shape (n_students, n_topics)
        Whether the student has met the topic by then (absence counts).
    """

    at: datetime
    students: tuple[int, ...]
    topics: tuple[int, ...]
    retention: Retention
    answers: NDArray[np.int64]
    taught: Bools

    def __post_init__(self) -> None:
        shape = (len(self.students), len(self.topics))
        found = {self.retention.mean.shape, self.answers.shape, self.taught.shape}
        if found != {shape}:
            raise ValueError(
                f"a snapshot of {shape[0]} students and {shape[1]} topics got arrays of {found}."
            )

    def mask(self, students: Iterable[int] | None = None, topics: Iterable[int] | None = None) -> Bools:
        """Return which pairs are meant: of these students and topics (all without), taught by then."""
        rows = (
            np.ones(len(self.students), bool) if students is None else np.isin(self.students, list(students))
        )
        columns = np.ones(len(self.topics), bool) if topics is None else np.isin(self.topics, list(topics))
        return np.asarray(rows[:, None] & columns[None, :] & self.taught)

    def estimate(
        self, students: Iterable[int] | None = None, topics: Iterable[int] | None = None
    ) -> IntervalEstimate | None:
        """Return the mean retention of the chosen pairs, None when none of them was taught."""
        kept = self.mask(students, topics)
        return mean_estimate(self.retention.mean, self.retention.low, self.retention.high, kept)

    def evidence(self, students: Iterable[int] | None = None, topics: Iterable[int] | None = None) -> int:
        """Return the number of answers behind the chosen pairs."""
        return int(self.answers[self.mask(students, topics)].sum())
