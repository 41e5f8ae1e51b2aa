"""A letter for a parents' evening: what one student did, what is solid, what needs work. Nobody is compared."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from bot.evidence.effect.numbers import ReviewEffect
from bot.evidence.shared.figures import IntervalEstimate
from bot.evidence.shared.snapshot import Snapshot
from bot.evidence.week.values import by_lesson
from scheduler.calendar.school_days import local_day
from storage.history.evidence_rows import AskedRecord, ClassRecord, ClassRecords, ScoreRecord

SOLID_LOW = 0.5
SOLID = 0.7
"""Solid: a prediction of at least 70 % whose interval lies above half. Chosen."""

FEWEST_ANSWERS = 2
"""Answers on a topic below which a letter says nothing about it. Chosen: one answer may be luck."""


@dataclass(frozen=True, eq=False)
class LetterData:
    """What a letter is computed from.

    Attributes
    ----------
    now : Snapshot or None
        Retention now; None before anything was taught.
    asked : sequence of AskedRecord
        Rows of the class; those of other students are left aside.
    scores : mapping-like pairs of (quiz day, name, ScoreRecord)
        The student's own.
    homework : (done, reported)
    effect : ReviewEffect or None
        What the student's reviews did; None before anything was taught.
    """

    rows: ClassRecords
    student_id: int
    generated_at: datetime
    now: Snapshot | None
    asked: Sequence[AskedRecord] = ()
    scores: Sequence[tuple[date, str, ScoreRecord]] = ()
    homework: tuple[int, int] = (0, 0)
    effect: ReviewEffect | None = None


@dataclass(frozen=True)
class LetterTopic:
    """A topic with its prediction; `right` of `answers` so far."""

    name: str
    now: IntervalEstimate
    right: int
    answers: int


@dataclass(frozen=True)
class Letter:
    """A letter as values; topics in the order taught."""

    school_class: ClassRecord
    name: str
    day: date
    since: date | None
    asked: int
    answered: int
    on_time: int
    extra: int
    homework: tuple[int, int]
    scores: tuple[tuple[date, str, float, float], ...]
    solid: tuple[LetterTopic, ...]
    needs_work: tuple[LetterTopic, ...]
    between: tuple[LetterTopic, ...]
    unknown: tuple[str, ...]
    effect: ReviewEffect | None = None


def letter(data: LetterData) -> Letter:
    """Compute a letter.

    Raises
    ------
    KeyError
        When the class has no such student.
    """
    student = next((row for row in data.rows.students if row.id == data.student_id), None)
    if student is None:
        raise KeyError(data.student_id)
    zone = data.rows.school_class.zone
    own = [row for row in data.asked if row.student_id == student.id]
    nudged = [row for row in own if not row.asked_for]
    topics, unknown = _topics(data, own)
    return Letter(
        school_class=data.rows.school_class,
        name=student.name,
        day=local_day(data.generated_at, zone),
        since=min((local_day(row.asked_at, zone) for row in own), default=None),
        asked=len(nudged),
        answered=sum(row.answered for row in nudged),
        on_time=sum(row.answered and row.on_time for row in nudged),
        extra=sum(row.answered for row in own if row.asked_for),
        homework=data.homework,
        scores=_scores(data.scores),
        solid=tuple(row for row in topics if _solid(row)),
        needs_work=tuple(row for row in topics if row.now.mean < SOLID_LOW),
        between=tuple(row for row in topics if row.now.mean >= SOLID_LOW and not _solid(row)),
        unknown=unknown,
        effect=data.effect,
    )


def _solid(row: LetterTopic) -> bool:
    return row.now.mean >= SOLID and row.now.low >= SOLID_LOW


def _topics(data: LetterData, own: Sequence[AskedRecord]) -> tuple[list[LetterTopic], tuple[str, ...]]:
    known: list[LetterTopic] = []
    unknown: list[str] = []
    for row in sorted(data.rows.topics, key=by_lesson):
        estimate = data.now.estimate([data.student_id], [row.id]) if data.now else None
        if estimate is None:
            continue
        answers = [one for one in own if one.topic_id == row.id and one.answered]
        if len(answers) < FEWEST_ANSWERS:
            unknown.append(row.name)
        else:
            known.append(LetterTopic(row.name, estimate, sum(one.right for one in answers), len(answers)))
    return known, tuple(unknown)


def _scores(scores: Sequence[tuple[date, str, ScoreRecord]]) -> tuple[tuple[date, str, float, float], ...]:
    """Add up scores by quiz: a score for the whole quiz stands for itself, topics are summed."""
    found: dict[tuple[date, str], list[ScoreRecord]] = {}
    for day, name, score in scores:
        found.setdefault((day, name), []).append(score)
    lines = []
    for (day, name), rows in sorted(found.items()):
        whole = [row for row in rows if row.topic_id is None] or rows
        lines.append((day, name, sum(row.reached for row in whole), sum(row.out_of for row in whole)))
    return tuple(lines)
