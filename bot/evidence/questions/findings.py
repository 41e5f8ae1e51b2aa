"""What may be said against a question: every claim is a test, and all tests of a class are judged together.

With twenty questions and six things to say about each, chance alone would speak against several of them. So each
claim has a p-value, false discoveries are held to one in twenty over all claims of the class (Benjamini & Hochberg
1995), and difficulty is judged against what was predicted of the same answers, never by itself: a question asked when
it is about to be forgotten is meant to be missed now and then.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import atanh, comb
from statistics import NormalDist, median

import numpy as np

from bot.evidence.shared.figures import Proportion
from scheduler.statistics.screening import benjamini_hochberg

FALSE_DISCOVERIES = 0.05
"""Share of the findings of a class that may be false; where all questions are alike, one class in twenty has any."""

TOO_EASY, TOO_HARD = 0.90, 0.30
"""Common practice, no source: above and below these a question tells little about a student."""

MANY_UNSURE = 0.35
"""Share of "not sure" that asks for a look. Chosen."""

FLAT = 0.20
"""Ebel & Frisbie 1991: discrimination below which a question tells little."""

NORMAL = NormalDist()

HALF_OF_CHI_SQUARE = NORMAL.inv_cdf(0.75) ** 2
"""Median of the square of a standard normal value."""


class QuestionFinding(StrEnum):
    """What is to be said of a question, most pressing first."""

    CHECK_KEY = "check key"
    NEGATIVE = "negative"
    TOO_HARD = "too hard"
    HARDER = "harder than expected"
    UNSURE = "many unsure"
    TOO_EASY = "too easy"
    FLAT = "does not tell"
    IDLE_OPTION = "idle option"


@dataclass(frozen=True)
class FindingSigns:
    """What the findings of one question are judged by.

    Attributes
    ----------
    students : int
        Students whose first answers these are.
    facility, unsure : Proportion
        Of the first answers.
    chance : float
        Of a guess. [0..1]
    easier : float or None
        How far more (or, negative, fewer) were right than predicted, in standard errors; None without predictions.
    observed, usual, shrunken_high : float or None
        Item-rest correlation, that of the other questions of its kind, and the upper end after pulling them together.
    misleading : mapping of str to float, or None
        Wrong options that stronger students choose, each with its p-value, all options counted; None without options.
    idle : float or None
        How likely so few would take its least used option were all wrong ones as attractive; None without options.
    """

    students: int
    facility: Proportion
    unsure: Proportion
    chance: float
    easier: float | None
    observed: float | None
    usual: float | None
    shrunken_high: float | None
    misleading: Mapping[str, float] | None
    idle: float | None


def findings(signs: Mapping[int, FindingSigns]) -> dict[int, tuple[QuestionFinding, ...]]:
    """Return what speaks against each question of a class, most pressing first.

    Parameters
    ----------
    signs : mapping of int to FindingSigns
        Of every question with answers enough.
    """
    spread = _overdispersion([one.easier for one in signs.values() if one.easier is not None])
    tests = [
        (question, finding, p)
        for question, one in signs.items()
        for finding, p in _p_values(one, spread, _unsure_elsewhere(question, signs)).items()
    ]
    sure = benjamini_hochberg([p for _, _, p in tests], FALSE_DISCOVERIES)
    claimed = {
        (question, finding) for (question, finding, _), found in zip(tests, sure, strict=True) if found
    }
    # Too hard is harder than expected, and hard in itself.
    claimed |= {
        (question, QuestionFinding.TOO_HARD)
        for question, finding in claimed
        if finding is QuestionFinding.HARDER
    }
    return {
        question: tuple(
            finding for finding in QuestionFinding if (question, finding) in claimed and _holds(finding, one)
        )
        for question, one in signs.items()
    }


def _overdispersion(surprises: Sequence[float]) -> float:
    """Return by how much predictions are off beyond chance, as a factor of the variance, at least 1.

    The median of the squares is not moved by the few questions that are really off.
    """
    return max(1.0, median(one**2 for one in surprises) / HALF_OF_CHI_SQUARE) if surprises else 1.0


def _p_values(one: FindingSigns, spread: float, unsure_elsewhere: float) -> dict[QuestionFinding, float]:
    found: dict[QuestionFinding, float] = {}
    # A claim that nothing speaks for is a test all the same: leaving it out would make the others look surer.
    if one.misleading is not None:
        found[QuestionFinding.CHECK_KEY] = min(one.misleading.values(), default=1.0)
    if one.observed is not None:
        found[QuestionFinding.NEGATIVE] = _below(one.observed, 0.0, one.students)
        if one.usual is not None:
            found[QuestionFinding.FLAT] = _below(one.observed, one.usual, one.students)
    if one.easier is not None:
        z = one.easier / spread**0.5
        found[QuestionFinding.HARDER] = NORMAL.cdf(z)
        found[QuestionFinding.TOO_EASY] = NORMAL.cdf(-z)
    if one.unsure.of:
        found[QuestionFinding.UNSURE] = at_least(
            one.unsure.count, one.unsure.of, max(MANY_UNSURE, unsure_elsewhere)
        )
    if one.idle is not None:
        found[QuestionFinding.IDLE_OPTION] = one.idle
    return found


def _unsure_elsewhere(question: int, signs: Mapping[int, FindingSigns]) -> float:
    """Return the share of "not sure" on the other questions: a class that says so everywhere blames no question."""
    others = [one.unsure for number, one in signs.items() if number != question]
    return min(0.999, sum(one.count for one in others) / max(1, sum(one.of for one in others)))


def _below(observed: float, line: float, students: int) -> float:
    """Return how likely a correlation as low is where the true one lies on the line (Fisher's z, 1921)."""
    far = 0.9999
    difference = atanh(np.clip(observed, -far, far)) - atanh(np.clip(line, -far, far))
    return NORMAL.cdf(float(difference) * (students - 3) ** 0.5)


def _holds(finding: QuestionFinding, one: FindingSigns) -> bool:
    """Whether what is sure to be there is also large enough to be worth a word."""
    match finding:
        case QuestionFinding.TOO_HARD:
            return one.facility.high < max(TOO_HARD, one.chance)
        case QuestionFinding.TOO_EASY:
            return one.facility.low > TOO_EASY
        case QuestionFinding.FLAT:
            return one.shrunken_high is not None and one.shrunken_high < FLAT
        case _:
            return True


def at_least(count: int, of: int, share: float) -> float:
    """Return how likely so many or more are of so many, each with the same chance (exact binomial).

    Examples
    --------
    >>> at_least(2, 2, 0.5)
    0.25
    """
    return min(1.0, sum(comb(of, k) * share**k * (1.0 - share) ** (of - k) for k in range(count, of + 1)))


def idleness(taken: int, wrong: int, options: int) -> float:
    """Return how likely a wrong option is taken so seldom where all wrong ones attract alike.

    Parameters
    ----------
    taken : int
        How often the least used wrong option was taken.
    wrong, options : int
        Wrong answers, and wrong options.

    Examples
    --------
    >>> idleness(0, 2, 2)
    0.5
    """
    if options < 2:
        return 1.0
    return min(1.0, options * at_least(wrong - taken, wrong, 1.0 - 1.0 / options))
