"""Rows that reports are computed from: plain, frozen, free of any database library.

`storage.history.evidence` reads them; `bot.evidence` computes on them. Moments are aware UTC; identifiers are those
of the tables; a share or a retention is between 0 and 1.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from storage.values import QuizInfo


@dataclass(frozen=True)
class ClassRecord:
    """The class that a report is about.

    Attributes
    ----------
    zone : str
        IANA zone in which weeks begin and end.
    """

    id: int
    name: str
    slug: str
    subject: str
    zone: str
    language: str
    teacher: str = ""


@dataclass(frozen=True)
class StudentRecord:
    """A student of the class, whether joined or only on the roster (`joined` False)."""

    id: int
    name: str
    state: str
    joined: bool
    joined_at: datetime
    last_answer_at: datetime | None = None
    paused_until: date | None = None

    @property
    def active(self) -> bool:
        """Whether questions are sent to the student at present."""
        return self.joined and self.state == "active"


@dataclass(frozen=True)
class TopicRecord:
    """A topic, with its first lesson; `taught_at` is None when no lesson is planned."""

    id: int
    name: str
    taught_at: datetime | None = None


@dataclass(frozen=True)
class AskedRecord:
    """One question that was asked of one student, with the answer if there is one.

    Attributes
    ----------
    asked_at : datetime
        When its nudge was sent; when it was shown, for a question that the student asked for.
    asked_for : bool
        The student asked for it ("next"); it was no nudge of ours.
    open : bool
        Still waiting for an answer.
    predicted : float or None
        Predicted retention when it was planned. [0..1]
    verdict : str or None
        ``right``, ``wrong``, ``unsure``; None when there is no answer.
    option : int or None
        Place of the chosen option in the question's own list of options, from 0.
    taken_s : float or None
        From question to answer. [s]
    drawn : mapping or None
        The question as it was asked, where its values were drawn; see `storage.tables.Review`.
    """

    student_id: int
    topic_id: int
    question_id: int | None
    asked_at: datetime
    asked_for: bool = False
    open: bool = False
    predicted: float | None = None
    chance: float = 0.0
    verdict: str | None = None
    on_time: bool = False
    answered_at: datetime | None = None
    option: int | None = None
    given: str = ""
    taken_s: float | None = None
    review_id: int = 0
    drawn: Mapping[str, Any] | None = None

    @property
    def answered(self) -> bool:
        """Whether there is an answer."""
        return self.verdict is not None

    @property
    def right(self) -> bool:
        """Whether the answer was right ("not sure" is not)."""
        return self.verdict == "right"


@dataclass(frozen=True)
class QuestionRecord:
    """A question with its key as `bot.grading` wrote it.

    Attributes
    ----------
    template, feedback : mapping or None
        What it is drawn from, and what wrong answers are told, as `bot.grading` wrote them.
    """

    id: int
    topic_id: int
    kind: str
    prompt: str
    answer: Mapping[str, Any]
    explanation: str = ""
    chance: float = 0.0
    retired: bool = False
    picture: str | None = None
    template: Mapping[str, Any] | None = None
    feedback: Mapping[str, Any] | None = None


@dataclass(frozen=True)
class ScoreRecord:
    """What a student reached in a quiz for one topic, or in all (`topic_id` None)."""

    student_id: int
    topic_id: int | None
    reached: float
    out_of: float

    @property
    def share(self) -> float:
        """Reached of what could be reached. [0..1]."""
        return self.reached / self.out_of


@dataclass(frozen=True)
class StarterRecord:
    """How many of those present had a starter question right."""

    question_id: int
    topic_id: int
    asked: int
    right: int
    at: datetime


@dataclass(frozen=True)
class HomeworkRecord:
    """What was reported of one homework: how many did it, of how many who were asked or corrected."""

    lesson_id: int
    topic_id: int
    at: datetime
    done: int
    reported: int


@dataclass(frozen=True)
class ClassRecords:
    """Everything of one class that does not depend on a week.

    Attributes
    ----------
    lessons : tuple of (datetime, int)
        When a lesson of which topic is or was given, in order.
    """

    school_class: ClassRecord
    students: tuple[StudentRecord, ...]
    topics: tuple[TopicRecord, ...]
    quizzes: tuple[QuizInfo, ...] = ()
    lessons: tuple[tuple[datetime, int], ...] = ()
    due: Mapping[int, int] = field(default_factory=dict)

    def topic(self, topic_id: int) -> TopicRecord:
        """Return one topic.

        Raises
        ------
        KeyError
            When the class has no such topic.
        """
        for row in self.topics:
            if row.id == topic_id:
                return row
        raise KeyError(topic_id)

    def next_quiz(self, after: datetime) -> QuizInfo | None:
        """Return the first quiz or exam at or after a moment, or None."""
        coming = [quiz for quiz in self.quizzes if quiz.at >= after]
        return min(coming, key=lambda quiz: (quiz.at, quiz.id)) if coming else None
