"""What is known today with the reviews there were, and what the same would know without any: the numbers.

Without is the class's own retention model, its laws and traits learned from everything that happened, run along the
lessons alone. Both are predictions of today; neither is a measurement.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from bot.evidence.shared.figures import IntervalEstimate, mean_estimate
from bot.evidence.shared.snapshot import Snapshot
from scheduler.model.means import ALIKE_WITHOUT

OF_A_CLASS = 20
"""Answers of a class below which nothing is said of its reviews. Chosen: about one question of each in a lesson."""


@dataclass(frozen=True)
class ReviewEffect:
    """What is known today with reviews and without.

    Attributes
    ----------
    topics : int
        Topics that a student has met by now; of a class the mean, rounded.
    known, without : IntervalEstimate
        Mean retention of those topics, with the reviews there were and without any. [0..1]
    answers : int
        Answers that both rest on.
    enough : int
        Answers below which it is too early to tell.
    """

    topics: int
    known: IntervalEstimate
    without: IntervalEstimate
    answers: int
    enough: int

    @property
    def too_early(self) -> bool:
        """Whether there are too few answers to tell what the reviews did."""
        return self.answers < self.enough

    def counted(self, share: IntervalEstimate) -> tuple[int, int, int]:
        """Return a share as topics of all: mean, low and high, whole.

        Examples
        --------
        >>> share = IntervalEstimate(0.64, 0.58, 0.70)
        >>> ReviewEffect(31, share, share, 99, 20).counted(share)
        (20, 18, 22)
        """
        middle, low, high = (round(self.topics * one) for one in (share.mean, share.low, share.high))
        return middle, low, high


def effect_of(
    present: Snapshot, bare: Snapshot, students: Collection[int], enough: int = OF_A_CLASS
) -> ReviewEffect | None:
    """Return what lies between two snapshots of one moment; None when none of these students has met a topic.

    Parameters
    ----------
    present, bare : Snapshot
        With the reviews there were, and without any.
    students : collection of int
        Who counts.
    enough : int
        Answers below which it is too early to tell.
    """
    met = present.mask(students)
    known, missed = present.estimate(students), bare.retention
    without = mean_estimate(missed.mean, missed.low, missed.high, bare.mask(students), ALIKE_WITHOUT)
    if known is None or without is None:
        return None
    topics = max(1, round(met.sum() / max(1, met.any(axis=1).sum())))
    return ReviewEffect(topics, known, without, present.evidence(students), enough)
