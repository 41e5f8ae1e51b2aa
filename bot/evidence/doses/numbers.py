"""What a class's dose leads to: one line for each dose of a forecast, and what a target takes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from bot.evidence.shared.figures import IntervalEstimate, mean_estimate
from bot.teaching.doses import DoseRules
from bot.teaching.offers import DoseOffer
from scheduler.plan.outcomes import DoseOutcome, Prospects, reaches
from scheduler.values import Floats

WORTH_OFFERING = 0.02
"""Least gain in the class's mean for which another dose is offered. Chosen: two points, as for teaching again."""


class DoseKind(StrEnum):
    """The doses that a forecast compares."""

    NONE = "none"
    NOW = "now"
    MORE = "more"
    ALL_DAYS = "all_days"


@dataclass(frozen=True)
class DoseLine:
    """A dose, and what is known with it on the date of a forecast.

    Attributes
    ----------
    questions : int
        Of each student, on an evening on which students are asked.
    days : int
        Such evenings in a week.
    """

    kind: DoseKind
    questions: int
    days: int
    known: IntervalEstimate


def dose_lines(rules: DoseRules, known: dict[DoseKind, IntervalEstimate | None]) -> tuple[DoseLine, ...]:
    """Return a line for each dose of which something is known, the smallest first."""
    per_day, days, all_days = rules.a_day, len(rules.days), len(rules.all_days)
    made = {
        DoseKind.NONE: (0, 0),
        DoseKind.NOW: (per_day, days),
        DoseKind.MORE: (per_day + rules.nudges, days),
        DoseKind.ALL_DAYS: (per_day, all_days),
    }
    return tuple(
        DoseLine(kind, *made[kind], estimate)
        for kind in DoseKind
        if (estimate := known.get(kind)) is not None
    )


def offer_of(rules: DoseRules, lines: Sequence[DoseLine]) -> DoseOffer | None:
    """Return the one change of the rules that a forecast offers: all school days first, else one question more.

    None where neither would gain much.
    """
    known = {line.kind: line.known.mean for line in lines}
    now = known.get(DoseKind.NOW, np.inf)
    if known.get(DoseKind.ALL_DAYS, 0.0) - now >= WORTH_OFFERING:
        return DoseOffer(rules.questions, rules.all_days)
    if known.get(DoseKind.MORE, 0.0) - now >= WORTH_OFFERING:
        return DoseOffer(rules.questions + 1)
    return None


@dataclass(frozen=True)
class TargetLine:
    """A number of questions at a time, and what would be known with it on the dates that count."""

    questions: int
    known: IntervalEstimate


@dataclass(frozen=True)
class TargetTakes:
    """What a target takes.

    Attributes
    ----------
    target : int
        Share to be known on the dates that count. [%]
    reached : bool
        Whether an allowed number of questions reaches it.
    best : TargetLine
        The smallest number that reaches it; the largest allowed one where none does.
    asked : float
        Questions that a student is really asked, a mean over evenings.
    now : TargetLine or None
        What the present number leads to, where it is another one.
    """

    target: int
    reached: bool
    best: TargetLine
    asked: float
    now: TargetLine | None
    rules: DoseRules

    @property
    def more(self) -> bool:
        """Whether it takes more questions than the rules allow."""
        return self.best.questions > self.rules.questions

    @property
    def offer(self) -> DoseOffer:
        """The rules that it takes."""
        return DoseOffer(self.best.questions, None, self.target)


def target_takes(
    prospects: Prospects, rules: DoseRules, target: int, left: Floats | None = None
) -> TargetTakes | None:
    """Return what a target takes; None where no date counts, or nothing that counts can be asked about.

    Parameters
    ----------
    prospects : Prospects
        The class, with the evenings on which it is asked.
    left : ndarray, shape (n_students,), optional
        Questions left of the term's allowance.
    """
    share = target / 100.0
    best = prospects.reaching(share, rules.most_a_day, left)
    known = estimate_of(best)
    if known is None:
        return None
    number = rules.at_a_time(best.questions)
    now = None
    if number != rules.questions:
        known_now = estimate_of(prospects.of(rules.a_day, left=left))
        now = None if known_now is None else TargetLine(rules.questions, known_now)
    return TargetTakes(target, reaches(best, share), TargetLine(number, known), best.asked, now, rules)


def estimate_of(outcome: DoseOutcome) -> IntervalEstimate | None:
    """Return the share known on the dates that count, each date alike; None where nothing counts.

    What is wrong about a class on one date is wrong about it on the others: half the widths are averaged, as
    between errors that are the same.
    """
    found = [
        mean_estimate(one.retention.mean, one.retention.low, one.retention.high, one.counted)
        for one in outcome.dates
    ]
    kept = [one for one in found if one is not None]
    if not kept:
        return None
    return IntervalEstimate(
        *(float(np.mean([getattr(one, name) for one in kept])) for name in ("mean", "low", "high"))
    )
