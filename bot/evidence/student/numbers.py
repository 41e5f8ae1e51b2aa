"""A student's own picture: every topic now and on quiz day, what one review tonight would do, and nobody else."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from bot.evidence.shared.figures import Estimate
from bot.evidence.shared.snapshot import Snapshot
from bot.evidence.week.values import by_lesson
from scheduler.calendar.school_days import local_day
from scheduler.values import Floats
from storage.history.evidence_rows import ClassRow, ClassRows, QuizRow, TopicRow

WORTH_SAYING = 0.05
"""Least gain of one review that is named. Chosen: what still shows when figures are rounded to five of a hundred."""


@dataclass(frozen=True, eq=False)
class StudentData:
    """What a student's picture is computed from; all arrays of the same students and topics.

    Attributes
    ----------
    target_at : datetime
        The next quiz, or four weeks ahead when none is planned.
    now, as_it_stands : Snapshot
        Retention now, and on that date without any further review.
    gain : ndarray, shape (n_students, n_topics)
        What one review tonight adds on that date.
    """

    rows: ClassRows
    student_id: int
    generated_at: datetime
    target_at: datetime
    quiz: QuizRow | None
    now: Snapshot
    as_it_stands: Snapshot
    gain: Floats


@dataclass(frozen=True)
class OwnTopic:
    """One topic of one student; `reviewed` is the date's retention if it is reviewed tonight."""

    id: int
    name: str
    now: Estimate
    later: Estimate
    reviewed: float
    answers: int

    @property
    def gain(self) -> float:
        """What one review tonight adds. [0..1]."""
        return self.reviewed - self.later.mean


@dataclass(frozen=True)
class StudentPicture:
    """A student's own topics in the order taught, with what they come to on the date."""

    school_class: ClassRow
    name: str
    generated_at: datetime
    quiz: QuizRow | None
    target_day: date
    topics: tuple[OwnTopic, ...]
    now: Estimate | None
    later: Estimate | None
    answers: int

    @property
    def tonight(self) -> tuple[OwnTopic, ...]:
        """The topics that one review tonight would help most."""
        worth = [row for row in self.topics if row.gain >= WORTH_SAYING]
        return tuple(sorted(worth, key=lambda row: (-row.gain, row.name))[:3])


def student_picture(data: StudentData) -> StudentPicture:
    """Compute a student's own picture.

    With a quiz ahead, only its topics are in it: those are what an evening can still change.

    Raises
    ------
    KeyError
        When the class has no such student.
    """
    student = next((row for row in data.rows.students if row.id == data.student_id), None)
    if student is None:
        raise KeyError(data.student_id)
    known = sorted(data.rows.topics, key=by_lesson)
    chosen = [row for row in known if data.quiz is None or row.id in data.quiz.topics]
    topics = tuple(found for row in chosen if (found := _topic(row, data)) is not None)
    ids = [row.id for row in topics]
    return StudentPicture(
        school_class=data.rows.school_class,
        name=student.name,
        generated_at=data.generated_at,
        quiz=data.quiz,
        target_day=local_day(data.target_at, data.rows.school_class.zone),
        topics=topics,
        now=data.now.estimate([student.id], ids),
        later=data.as_it_stands.estimate([student.id], ids),
        answers=data.now.evidence([student.id], ids),
    )


def _topic(row: TopicRow, data: StudentData) -> OwnTopic | None:
    now = data.now.estimate([data.student_id], [row.id])
    later = data.as_it_stands.estimate([data.student_id], [row.id])
    if now is None or later is None:
        return None
    place = data.now.students.index(data.student_id), data.now.topics.index(row.id)
    reviewed = min(1.0, max(later.mean, later.mean + float(data.gain[place])))
    return OwnTopic(row.id, row.name, now, later, reviewed, int(data.now.answers[place]))


def weakest(topics: Sequence[OwnTopic], count: int) -> list[OwnTopic]:
    """Return the topics lowest on the date, in the order taught."""
    chosen = sorted(topics, key=lambda row: row.later.mean)[:count]
    return [row for row in topics if row in chosen]
