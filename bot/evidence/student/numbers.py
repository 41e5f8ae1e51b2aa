"""A student's own picture: every topic now and on quiz day, what one review tonight would do, and nobody else."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from bot.evidence.effect.numbers import ReviewEffect
from bot.evidence.shared.figures import ENOUGH, IntervalEstimate
from bot.evidence.shared.snapshot import Snapshot
from bot.evidence.week.values import by_lesson
from scheduler.calendar.school_days import local_day
from scheduler.values import Floats
from storage.history.evidence_rows import ClassRecord, ClassRecords, TopicRecord
from storage.values import QuizInfo

WORTH_SAYING = 0.05
"""Least gain of one review that is named. Chosen: what still shows when figures are rounded to five of a hundred."""

STAYS, STAYS_LOW = 0.7, 0.5
"""What stays: at least 70 % now, its interval above half. As in a letter. Chosen."""

ON_THE_WAY = 0.4
"""What is on the way: at least this now. Chosen."""


class Evening(StrEnum):
    """What can be said of tonight."""

    ADVICE = "advice"
    NOTHING_NEEDED = "nothing needed"
    NO_QUESTIONS = "no questions"
    LITTLE_ALONE = "little alone"


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
    askable : frozenset of int or None
        Topics that there are questions on: only those can be reviewed. None: all.
    effect : ReviewEffect or None
        What the reviews did, over all topics so far.
    """

    rows: ClassRecords
    student_id: int
    generated_at: datetime
    target_at: datetime
    quiz: QuizInfo | None
    now: Snapshot
    as_it_stands: Snapshot
    gain: Floats
    askable: frozenset[int] | None = None
    effect: ReviewEffect | None = None


@dataclass(frozen=True)
class OwnTopic:
    """One topic of one student; `reviewed` is the date's retention if it is reviewed tonight.

    Where there is no question to review it with (`askable` False), that is the retention without.
    """

    id: int
    name: str
    now: IntervalEstimate
    later: IntervalEstimate
    reviewed: float
    answers: int
    askable: bool = True

    @property
    def known(self) -> bool:
        """Whether there are answers to say anything by."""
        return self.answers > 0

    @property
    def stays(self) -> bool:
        """Whether it is known well, and surely so."""
        return self.known and self.now.mean >= STAYS and self.now.low >= STAYS_LOW

    @property
    def on_the_way(self) -> bool:
        """Whether a good part of it is there."""
        return self.known and not self.stays and self.now.mean >= ON_THE_WAY

    @property
    def gain(self) -> float:
        """What one review tonight adds. [0..1]."""
        return self.reviewed - self.later.mean


@dataclass(frozen=True)
class StudentPicture:
    """A student's own topics in the order taught, with what they come to on the date."""

    school_class: ClassRecord
    name: str
    generated_at: datetime
    quiz: QuizInfo | None
    target_day: date
    topics: tuple[OwnTopic, ...]
    now: IntervalEstimate | None
    later: IntervalEstimate | None
    answers: int
    effect: ReviewEffect | None = None

    @property
    def evening(self) -> Evening:
        """What can be said of tonight; never that nothing is needed where much is missing."""
        if self.tonight:
            return Evening.ADVICE
        missing = [row for row in self.topics if row.later.mean < STAYS]
        if not missing:
            return Evening.NOTHING_NEEDED
        return Evening.LITTLE_ALONE if any(row.askable for row in missing) else Evening.NO_QUESTIONS

    @property
    def too_early(self) -> bool:
        """Whether there are too few answers for a figure over all topics."""
        return self.answers < ENOUGH

    @property
    def tonight(self) -> tuple[OwnTopic, ...]:
        """The topics that one review tonight would help most; only those that there are questions on."""
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
        effect=data.effect,
    )


def _topic(row: TopicRecord, data: StudentData) -> OwnTopic | None:
    now = data.now.estimate([data.student_id], [row.id])
    later = data.as_it_stands.estimate([data.student_id], [row.id])
    if now is None or later is None:
        return None
    place = data.now.students.index(data.student_id), data.now.topics.index(row.id)
    askable = data.askable is None or row.id in data.askable
    gain = float(data.gain[place]) if askable else 0.0
    reviewed = min(1.0, max(later.mean, later.mean + gain))
    return OwnTopic(row.id, row.name, now, later, reviewed, int(data.now.answers[place]), askable)


def to_show(own: StudentPicture, count: int) -> list[OwnTopic]:
    """Return the topics to draw, in the order taught: tonight's, the best one, then those lowest on the date."""
    best = max(own.topics, key=lambda row: row.now.mean, default=None)
    first = [*own.tonight, *([best] if best is not None and best.stays else [])]
    rest = sorted((row for row in own.topics if row not in first), key=lambda row: row.later.mean)
    chosen = [*dict.fromkeys(first), *rest][:count]
    return [row for row in own.topics if row in chosen]
