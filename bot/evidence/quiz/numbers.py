"""A quiz that was written, against what was predicted for it.

Scores reach the model as evidence without being an exposure (``scheduler.model.memory.ClassMemory.scored``): a score on
one topic counts like several self-checks, since a quiz asks more than one thing, under the same conditions for
everybody and without help; a score for the whole quiz says less about each of its topics, and the more topics the
less. Here the two predictions are laid side by side: the one made before the quiz, and the one that the same
moment gets once the scores are known. Nothing that happened after the quiz enters either, nor do the class's
parameters as they were learned since.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from itertools import pairwise

import numpy as np

from bot.evidence.shared.figures import Z80, Z95, IntervalEstimate
from bot.evidence.shared.snapshot import Snapshot
from bot.evidence.week.values import alphabetical, by_lesson
from scheduler.model.means import ALIKE
from scheduler.values import Floats
from storage.history.evidence_rows import ClassRecord, ClassRecords, ScoreRecord
from storage.values import QuizInfo

ITEMS = 4.0
"""Questions that a score on one topic is taken to rest on, as in the model (``bot.teaching.memories``)."""

FEWEST_PER_POINT = 5
"""Students behind a point of the calibration picture at least."""

BINS = (0.0, 0.2, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0)
"""Edges of the bins of predicted retention; finer where most predictions lie. Chosen."""


class Fit(StrEnum):
    """How a result compares with its prediction."""

    AS_PREDICTED = "as predicted"
    HIGHER = "higher"
    LOWER = "lower"


@dataclass(frozen=True, eq=False)
class QuizData:
    """What a comparison is computed from; both snapshots are of the moment of the quiz.

    Attributes
    ----------
    before, after : Snapshot
        Predicted from what was known before it, and with its scores.
    """

    rows: ClassRecords
    generated_at: datetime
    quiz: QuizInfo
    scores: tuple[ScoreRecord, ...]
    before: Snapshot
    after: Snapshot


@dataclass(frozen=True)
class Compared:
    """Predicted and actual of one student or topic.

    Attributes
    ----------
    actual : IntervalEstimate
        Share reached; for a student the interval is that of the prediction of a score, for a topic that of the
        class's mean.
    moved : float
        How far the prediction for the moment of the quiz moved once the scores were known. [-1..1]
    of : int
        Scores behind it.
    """

    id: int
    name: str
    predicted: IntervalEstimate
    actual: IntervalEstimate
    fit: Fit
    moved: float
    of: int

    @property
    def difference(self) -> float:
        """Actual minus predicted."""
        return self.actual.mean - self.predicted.mean


@dataclass(frozen=True)
class CalibrationPoint:
    """Scores that were predicted alike: their mean prediction, and what was reached."""

    predicted: float
    actual: IntervalEstimate
    pairs: int
    students: int


@dataclass(frozen=True)
class QuizComparison:
    """A quiz against its predictions, as values.

    Attributes
    ----------
    typical_error : float
        Mean absolute difference between a student's predicted and actual share. [0..1]
    calibration_error : float or None
        Mean absolute difference between prediction and result over the points, weighed by scores.
    students : tuple of Compared
        In alphabetical order.
    topics : tuple of Compared
        In the order taught; empty when the scores are not by topic.
    missing : tuple of str
        Students without a score.
    answers : int
        Answers given before the quiz that the prediction rests on.
    """

    school_class: ClassRecord
    generated_at: datetime
    quiz: QuizInfo
    predicted: IntervalEstimate
    actual: IntervalEstimate
    fit: Fit
    typical_error: float
    calibration_error: float | None
    moved: float
    students: tuple[Compared, ...]
    topics: tuple[Compared, ...]
    points: tuple[CalibrationPoint, ...]
    missing: tuple[str, ...]
    answers: int = 0


class NoScores(ValueError):
    """The quiz has no score that a prediction can be compared with."""


def quiz_comparison(data: QuizData) -> QuizComparison:
    """Compare the scores of a quiz with what was predicted for it.

    Raises
    ------
    NoScores
        When no score belongs to a student and a topic that were predicted.
    """
    pairs = _pairs(data)
    if not pairs:
        raise NoScores(f"The quiz of {data.quiz.day.isoformat()} has no scores to compare with.")
    people = sorted((row for row in data.rows.students if row.joined), key=alphabetical)
    students = [
        _student(row.id, row.name, [pair for pair in pairs if pair.student == row.id]) for row in people
    ]
    compared = tuple(row for row in students if row is not None)
    predicted, actual = _class_mean(data, pairs), _mean_of([row.actual.mean for row in compared])
    return QuizComparison(
        school_class=data.rows.school_class,
        generated_at=data.generated_at,
        quiz=data.quiz,
        predicted=predicted,
        actual=actual,
        fit=_fit(predicted, actual),
        typical_error=float(np.mean([abs(row.difference) for row in compared])),
        calibration_error=_calibration_error(points := _points(pairs)),
        moved=float(np.mean([pair.after - pair.before for pair in pairs])),
        students=compared,
        topics=_topics(data, pairs),
        points=points,
        missing=tuple(row.name for row in people if all(pair.student != row.id for pair in pairs)),
        answers=data.before.evidence(topics=data.quiz.topics or None),
    )


# ---------------------------------------------------------------- parts


@dataclass(frozen=True)
class _Pair:
    """One score with its predictions; `sd` is that of the prediction, `items` what the score rests on."""

    student: int
    topic: int | None
    actual: float
    before: float
    after: float
    sd: float
    items: float


def _pairs(data: QuizData) -> list[_Pair]:
    """Return the scores of those who are in the class, with their predictions: who has left counts nowhere."""
    there = {row.id for row in data.rows.students if row.joined}
    found = [_pair(score, data) for score in data.scores if score.student_id in there]
    return [pair for pair in found if pair is not None]


def _pair(score: ScoreRecord, data: QuizData) -> _Pair | None:
    topics = [score.topic_id] if score.topic_id is not None else list(data.quiz.topics)
    kept = data.before.mask([score.student_id], topics)
    before = data.before.estimate([score.student_id], topics)
    if before is None:
        return None
    after = float(np.mean(data.after.retention.mean[kept]))
    share = min(1.0, max(0.0, score.share))
    items = ITEMS * np.count_nonzero(kept)
    sd = (before.high - before.low) / (2 * Z80)
    return _Pair(score.student_id, score.topic_id, share, before.mean, after, sd, float(items))


def _student(student: int, name: str, pairs: Sequence[_Pair]) -> Compared | None:
    """Compare one student over what was scored, each topic alike."""
    whole = [pair for pair in pairs if pair.topic is None]
    own = [pair for pair in pairs if pair.topic is not None] or whole
    if not own:
        return None
    before, actual = (
        float(np.mean([pair.before for pair in own])),
        float(np.mean([pair.actual for pair in own])),
    )
    sd = _shared_sd([pair.sd for pair in own])
    noise = before * (1.0 - before) / sum(pair.items for pair in own)
    spread = (sd**2 + noise) ** 0.5
    fit = Fit.AS_PREDICTED
    if abs(actual - before) > Z95 * spread:
        fit = Fit.HIGHER if actual > before else Fit.LOWER
    return Compared(
        id=student,
        name=name,
        predicted=_around(before, Z80 * sd),
        actual=_around(actual, Z80 * noise**0.5),
        fit=fit,
        moved=float(np.mean([pair.after - pair.before for pair in own])),
        of=len(own),
    )


def _shared_sd(sds: Sequence[float]) -> float:
    """Return the standard deviation of the mean of one student's predictions, as in `figures.mean_estimate`."""
    each: Floats = np.asarray(sds, dtype=float)
    alike = ALIKE.same_student
    return float(((1.0 - alike) * np.sum(each**2) / len(each) ** 2 + alike * np.mean(each) ** 2) ** 0.5)


def _around(middle: float, half: float) -> IntervalEstimate:
    return IntervalEstimate(middle, max(0.0, middle - half), min(1.0, middle + half))


def _mean_of(values: Sequence[float]) -> IntervalEstimate:
    """Return a mean over students with its 80 % interval; one student alone tells nothing about the spread."""
    each: Floats = np.asarray(values, dtype=float)
    middle = float(each.mean())
    if len(each) < 2:
        return IntervalEstimate(middle, 0.0, 1.0)
    return _around(middle, Z80 * float(each.std(ddof=1)) / len(each) ** 0.5)


def _class_mean(data: QuizData, pairs: Sequence[_Pair]) -> IntervalEstimate:
    students = sorted({pair.student for pair in pairs})
    topics = sorted({pair.topic for pair in pairs if pair.topic is not None}) or list(data.quiz.topics)
    estimate = data.before.estimate(students, topics)
    return estimate if estimate is not None else IntervalEstimate(0.5, 0.0, 1.0)


def _fit(predicted: IntervalEstimate, actual: IntervalEstimate) -> Fit:
    """Call a result off only when its interval and that of the prediction do not meet."""
    if actual.low > predicted.high:
        return Fit.HIGHER
    return Fit.LOWER if actual.high < predicted.low else Fit.AS_PREDICTED


def _topics(data: QuizData, pairs: Sequence[_Pair]) -> tuple[Compared, ...]:
    found = []
    for row in sorted(data.rows.topics, key=by_lesson):
        own = [pair for pair in pairs if pair.topic == row.id]
        predicted = data.before.estimate([pair.student for pair in own], [row.id])
        if not own or predicted is None:
            continue
        actual = _mean_of([pair.actual for pair in own])
        moved = float(np.mean([pair.after - pair.before for pair in own]))
        found.append(Compared(row.id, row.name, predicted, actual, _fit(predicted, actual), moved, len(own)))
    return tuple(found)


def _points(pairs: Sequence[_Pair]) -> tuple[CalibrationPoint, ...]:
    """Gather scores by what was predicted; students count once each in the interval."""
    found = []
    for low, high in pairwise(BINS):
        own = [pair for pair in pairs if low <= pair.before < high or (high == 1.0 and pair.before == 1.0)]
        students = sorted({pair.student for pair in own})
        if len(students) < FEWEST_PER_POINT:
            continue
        by_student = [
            np.mean([pair.actual for pair in own if pair.student == student]) for student in students
        ]
        middle = float(np.mean([pair.before for pair in own]))
        spread = _mean_of([float(value) for value in by_student])
        found.append(CalibrationPoint(middle, spread, len(own), len(students)))
    return tuple(found)


def _calibration_error(points: Sequence[CalibrationPoint]) -> float | None:
    """Return the weighed mean distance between prediction and result (as in Guo et al. 2017, ICML)."""
    total = sum(point.pairs for point in points)
    if not total:
        return None
    return sum(point.pairs * abs(point.actual.mean - point.predicted) for point in points) / total
