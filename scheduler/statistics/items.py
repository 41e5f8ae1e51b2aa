"""Which questions work: classical item statistics of a class's answers.

Answers are an array of students × questions: 1 right, 0 wrong, NaN not answered. Where everybody answered
everything these are the textbook statistics. Where not (the usual case here: each student is asked other
questions), a student's score is the *share* right of what was answered, which for complete answers gives the same
correlations as the sum.

References
----------
Facility, item-total and item-rest correlation: Lord & Novick, *Statistical Theories of Mental Test Scores*
(1968), ch. 15. KR-20: Kuder & Richardson, Psychometrika 2 (1937), 151-160, formula 20. Alpha: Cronbach,
Psychometrika 16 (1951), 297-334. Wilson interval: Wilson, JASA 22 (1927), 209-212; without continuity correction
(Newcombe, Stat Med 17 (1998), 857-872, method 3). Bands: Ebel & Frisbie, *Essentials of Educational Measurement*,
5th ed. (1991). Correction for guessing: Frary, Educ Meas: Issues & Practice 7(2) (1988).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


class Band(StrEnum):
    """How well a question tells strong from weak (Ebel & Frisbie 1991; lower bounds included)."""

    VERY_GOOD = "very good"
    GOOD = "reasonably good"
    MARGINAL = "marginal"
    POOR = "poor"
    NEGATIVE = "negative"
    UNKNOWN = "too few answers"


_BANDS = ((0.40, Band.VERY_GOOD), (0.30, Band.GOOD), (0.20, Band.MARGINAL), (0.0, Band.POOR))


def answer_array(answers: ArrayLike) -> Floats:
    """Check answers and return them as floats.

    Parameters
    ----------
    answers : array_like, shape (n_students, n_items)
        1 right, 0 wrong, NaN not answered.

    Raises
    ------
    ValueError
        When it is not two-dimensional, or holds anything else.
    """
    array = np.asarray(answers, dtype=np.float64)
    if array.ndim != 2:
        raise ValueError(f"Answers must be students × questions; the array has {array.ndim} dimensions.")
    known = array[~np.isnan(array)]
    strange = known[(known != 0) & (known != 1)]
    if strange.size:
        raise ValueError(
            f"Answers must be 1, 0 or NaN; {strange[0]:g} was found. Grade partial answers first."
        )
    return array


def _complete(answers: ArrayLike, what: str) -> Floats:
    array = answer_array(answers)
    missing = int(np.isnan(array).sum())
    if missing or array.shape[1] < 2 or array.shape[0] < 2:
        raise ValueError(
            f"{what} needs every answer of at least 2 students to at least 2 questions; "
            f"{array.shape[0]} students, {array.shape[1]} questions, {missing} answers missing."
        )
    return array


def facility(answers: ArrayLike) -> Floats:
    """Share of right answers per question, shape (n_items,), 0..1; NaN where nobody answered."""
    array = answer_array(answers)
    counts = (~np.isnan(array)).sum(axis=0)
    return _ratio(np.nansum(array, axis=0), counts)


def _ratio(top: Floats, bottom: NDArray[np.generic]) -> Floats:
    result = np.full(np.shape(top), np.nan)
    np.divide(top, bottom, out=result, where=np.asarray(bottom) > 0)
    return result


def item_total(answers: ArrayLike) -> Floats:
    """Point-biserial correlation of each question with the score, the question included.

    Returns
    -------
    ndarray of float, shape (n_items,)
        -1..1; NaN where the answers or the scores do not vary.
    """
    array = answer_array(answers)
    score = _ratio(np.nansum(array, axis=1), (~np.isnan(array)).sum(axis=1))
    return np.array([point_biserial(column, score) for column in array.T])


def item_rest(answers: ArrayLike) -> Floats:
    """Discrimination: correlation of each question with the score on all *other* questions.

    The item-total correlation contains the question itself and flatters short sets; this does not.

    Returns
    -------
    ndarray of float, shape (n_items,)
        -1..1; NaN where the answers or the rest scores do not vary, or nobody answered another question.
    """
    array = answer_array(answers)
    filled, known = np.nan_to_num(array), ~np.isnan(array)
    right, count = filled.sum(axis=1, keepdims=True) - filled, known.sum(axis=1, keepdims=True) - known
    rest = _ratio(right, count)
    return np.array([point_biserial(array[:, i], rest[:, i]) for i in range(array.shape[1])])


def point_biserial(item: ArrayLike, score: ArrayLike) -> float:
    """Pearson correlation of 0/1 answers with a score over the students who have both.

    Parameters
    ----------
    item, score : array_like, shape (n_students,)
        NaN where missing.

    Returns
    -------
    float
        NaN when fewer than three students have both, or one of them does not vary.

    Examples
    --------
    >>> round(point_biserial([0, 0, 0, 1, 1, 1, 1], [0, 1, 2, 3, 4, 5, 6]), 7)
    0.8660254
    """
    x, y = np.asarray(item, dtype=np.float64), np.asarray(score, dtype=np.float64)
    both = ~(np.isnan(x) | np.isnan(y))
    if both.sum() < 3:
        return float("nan")
    dx, dy = x[both] - x[both].mean(), y[both] - y[both].mean()
    spread = float(np.sqrt((dx @ dx) * (dy @ dy)))
    # Equal scores leave a rounding error instead of 0 when divided by their number.
    return float(dx @ dy) / spread if spread > 1e-12 * both.sum() else float("nan")


def kr20(answers: ArrayLike) -> float:
    """Kuder-Richardson formula 20: k/(k-1) (1 - Σpq / σ²), with the population variance σ² of the sums.

    pq is a population variance too; mixing it with the n - 1 variance of the sums is the usual slip.

    Raises
    ------
    ValueError
        When answers are missing, or there are fewer than two students or questions.
    """
    array = _complete(answers, "KR-20")
    share = array.mean(axis=0)
    return _reliability(array.shape[1], float((share * (1 - share)).sum()), float(array.sum(axis=1).var()))


def alpha(scores: ArrayLike) -> float:
    """Cronbach's alpha; for 0/1 answers equal to :func:`kr20`.

    Parameters
    ----------
    scores : array_like, shape (n_students, n_items)
        Any scores, all known.

    Raises
    ------
    ValueError
        When scores are missing, or there are fewer than two students or questions.
    """
    array = np.asarray(scores, dtype=np.float64)
    if array.ndim != 2 or min(array.shape) < 2 or np.isnan(array).any():
        raise ValueError("Alpha needs every score of at least 2 students on at least 2 questions.")
    return _reliability(
        array.shape[1], float(array.var(axis=0, ddof=1).sum()), float(array.sum(axis=1).var(ddof=1))
    )


def _reliability(k: int, parts: float, whole: float) -> float:
    return float("nan") if whole == 0 else k / (k - 1) * (1 - parts / whole)


def alpha_without(scores: ArrayLike) -> Floats:
    """Alpha of the set without each question in turn, shape (n_items,); needs three questions.

    Raises
    ------
    ValueError
        As for :func:`alpha`, and with fewer than three questions.
    """
    array = np.asarray(scores, dtype=np.float64)
    if array.ndim != 2 or array.shape[1] < 3:
        raise ValueError("Alpha without a question needs at least 3 questions.")
    return np.array([alpha(np.delete(array, item, axis=1)) for item in range(array.shape[1])])


def wilson(right: ArrayLike, n: ArrayLike, confidence: float = 0.95) -> tuple[Floats, Floats]:
    """Wilson score interval of a share, without continuity correction.

    Parameters
    ----------
    right, n : array_like of int
        Successes and trials; shapes that broadcast.
    confidence : float
        Between 0 and 1.

    Returns
    -------
    low, high : ndarray of float
        0..1; the whole range 0 and 1 where n is 0.

    Raises
    ------
    ValueError
        When a count is negative, right exceeds n, or confidence is not between 0 and 1.
    """
    x, trials = np.broadcast_arrays(np.asarray(right, dtype=np.float64), np.asarray(n, dtype=np.float64))
    if not 0 < confidence < 1:
        raise ValueError(f"Confidence must lie between 0 and 1; {confidence} was given.")
    if np.any(x < 0) or np.any(x > trials):
        raise ValueError("There cannot be fewer than 0 right answers, nor more than answers.")
    z2 = NormalDist().inv_cdf((1 + confidence) / 2) ** 2
    share = np.divide(x, trials, out=np.full(x.shape, 0.5), where=trials > 0)
    middle = (trials * share + z2 / 2) / (trials + z2)
    half = np.sqrt(z2 * (trials * share * (1 - share) + z2 / 4)) / (trials + z2)
    low, high = np.clip(middle - half, 0.0, 1.0), np.clip(middle + half, 0.0, 1.0)
    # The bound is exactly 0 or 1 at the ends; rounding would leave 1e-17.
    low, high = np.where(x == 0, 0.0, low), np.where(x == trials, 1.0, high)
    return np.where(trials == 0, 0.0, low), np.where(trials == 0, 1.0, high)


def band(discrimination: float) -> Band:
    """Read a discrimination after Ebel & Frisbie, rounded to two decimals as they do.

    Examples
    --------
    >>> band(0.4).value, band(0.295).value, band(-0.1).value
    ('very good', 'reasonably good', 'negative')
    """
    if np.isnan(discrimination):
        return Band.UNKNOWN
    rounded = round(discrimination + 1e-12, 2)
    return next((name for lower, name in _BANDS if rounded >= lower), Band.NEGATIVE)


def corrected_score(right: float, wrong: float, n_options: int) -> float:
    """Score corrected for guessing: right - wrong / (n_options - 1); omitted answers do not count.

    Parameters
    ----------
    right : float
        Number of right answers.
    wrong : float
        Number of wrong answers.
    n_options : int
        Options of each question; at least two.

    Raises
    ------
    ValueError
        With fewer than two options.

    Examples
    --------
    >>> corrected_score(80, 46, 5)
    68.5
    """
    if n_options < 2:
        raise ValueError(f"A choice has at least 2 options; {n_options} was given.")
    return right - wrong / (n_options - 1)


# --- options ----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Options:
    """How the options of one question were used; option 0 is the right one.

    Attributes
    ----------
    counts : ndarray of int, shape (n_options,)
    shares : ndarray of float, shape (n_options,)
        Of the answers; NaN without answers.
    discrimination : ndarray of float, shape (n_options,)
        Correlation of choosing the option with the student's score elsewhere. A wrong option that works is
        chosen by weaker students: negative. NaN with too little variation.
    """

    counts: NDArray[np.int64]
    shares: Floats
    discrimination: Floats

    def unused(self, *, at_least: int = 20, share: float = 0.05) -> tuple[int, ...]:
        """Wrong options that hardly anybody takes, once enough have answered.

        Under 5 % of the answers is the usual reading (Haladyna & Downing, Educ Psychol Meas 53 (1993), 999-1010).

        Parameters
        ----------
        at_least : int
            Answers below which nothing is said.
        share : float
            Share of the answers under which an option counts as unused. [0..1]
        """
        if self.counts.sum() < at_least:
            return ()
        return tuple(int(option) for option in np.flatnonzero(self.shares < share) if option != 0)

    def misleading(self, *, at_least: int = 20, above: float = 0.10) -> tuple[int, ...]:
        """Wrong options that stronger students take: the key or the wording may be wrong. 0.10 is chosen.

        Parameters
        ----------
        at_least : int
            Answers below which nothing is said.
        above : float
            Discrimination over which an option misleads. [-1..1]
        """
        if self.counts.sum() < at_least:
            return ()
        with np.errstate(invalid="ignore"):
            return tuple(int(o) for o in np.flatnonzero(self.discrimination > above) if o != 0)


def options(chosen: ArrayLike, n_options: int, score: ArrayLike | None = None) -> Options:
    """Count the options chosen, and who chose them.

    Parameters
    ----------
    chosen : array_like of int, shape (n_answers,)
        Option of each answer, 0 is the right one.
    n_options : int
    score : array_like of float, shape (n_answers,), optional
        The student's share right on other questions; NaN where unknown.

    Raises
    ------
    ValueError
        When an option is outside 0..n_options-1, or the lengths differ.
    """
    picks = np.asarray(chosen, dtype=np.int64).ravel()
    if picks.size and not (picks.min() >= 0 and picks.max() < n_options):
        raise ValueError(f"Options run from 0 to {n_options - 1}; {picks.min()} to {picks.max()} were found.")
    scores = np.full(picks.size, np.nan) if score is None else np.asarray(score, dtype=np.float64).ravel()
    if scores.size != picks.size:
        raise ValueError(f"{picks.size} answers, but {scores.size} scores.")
    counts = np.bincount(picks, minlength=n_options).astype(np.int64)
    shares = _ratio(counts.astype(np.float64), np.full(n_options, picks.size))
    told = np.array([point_biserial(picks == option, scores) for option in range(n_options)])
    return Options(counts, shares, told)
