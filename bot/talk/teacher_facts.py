"""What a teacher's conversation may know about the class at hand: plain values, loaded for each step."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Protocol, TypeVar

from storage.files.folding import fold
from storage.values import HolidayInfo, LessonInfo, QuizInfo, Rules


class _Named(Protocol):
    @property
    def name(self) -> str: ...


AnyNamed = TypeVar("AnyNamed", bound=_Named)


def meant_by(name: str, those: Sequence[AnyNamed]) -> AnyNamed | None:
    """Return what is meant by a typed name: the only one of that whole name, else the only one that begins so."""
    wanted = fold(name)
    whole = [one for one in those if fold(one.name) == wanted]
    begun = [one for one in those if wanted and fold(one.name).startswith(wanted)]
    found = whole or begun
    return found[0] if len(found) == 1 else None


@dataclass(frozen=True, slots=True)
class TopicFacts:
    """A topic: the local day it is first taught, its questions in use, the day of the next quiz with it."""

    id: int
    name: str
    taught: date | None
    questions: int
    quiz: date | None


@dataclass(frozen=True, slots=True)
class PupilFacts:
    """A student of the class as the teacher sees them; `joined` is False for a name on the roster only."""

    id: int
    name: str
    state: str
    joined: bool


@dataclass(frozen=True, slots=True)
class ChannelFacts:
    """A channel or group that belongs to the class."""

    id: int
    platform: str
    address: str
    title: str
    can_write: bool


@dataclass(frozen=True, slots=True)
class TeachingFacts:
    """The class that a teacher is at work on.

    Attributes
    ----------
    class_id : int
        The class; what everybody may see of it stands in `Facts.teaches`.
    today : date
        The local day of the class.
    lessons : tuple of LessonInfo
        Those of the last four and the next four weeks, in order.
    quizzes : tuple of QuizInfo
        Those of the last eight weeks and all to come, in order.
    students : tuple of PupilFacts
        By name; those who left are not among them.
    missed_by : mapping of int to frozenset of int
        Lessons that students were absent from, by id, with the ids of these enrolments.
    """

    class_id: int
    today: date
    rules: Rules
    topics: tuple[TopicFacts, ...] = ()
    lessons: tuple[LessonInfo, ...] = ()
    quizzes: tuple[QuizInfo, ...] = ()
    holidays: tuple[HolidayInfo, ...] = ()
    students: tuple[PupilFacts, ...] = ()
    channels: tuple[ChannelFacts, ...] = ()
    missed_by: Mapping[int, frozenset[int]] = field(default_factory=dict)

    def topic(self, topic_id: int) -> TopicFacts | None:
        """Return a topic of the class."""
        return next((one for one in self.topics if one.id == topic_id), None)

    def topic_named(self, name: str) -> TopicFacts | None:
        """Return the topic that a teacher means."""
        return meant_by(name, self.topics)

    def lesson(self, lesson_id: int) -> LessonInfo | None:
        """Return a lesson of the last or next weeks."""
        return next((one for one in self.lessons if one.id == lesson_id), None)

    def absent(self, lesson_id: int) -> frozenset[int]:
        """Return the enrolments that were absent from a lesson."""
        return self.missed_by.get(lesson_id, frozenset())

    def quiz(self, quiz_id: int) -> QuizInfo | None:
        """Return a quiz."""
        return next((one for one in self.quizzes if one.id == quiz_id), None)

    def student(self, enrolment_id: int) -> PupilFacts | None:
        """Return a student."""
        return next((one for one in self.students if one.id == enrolment_id), None)

    def student_named(self, name: str) -> PupilFacts | None:
        """Return the student that a teacher means."""
        return meant_by(name, self.students)

    @property
    def next_quiz(self) -> QuizInfo | None:
        """The next quiz, today's included."""
        return next((one for one in self.quizzes if one.day >= self.today), None)
