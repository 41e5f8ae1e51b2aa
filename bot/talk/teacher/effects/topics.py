"""Topics and their questions."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from bot.talk.core import Effect, only
from bot.talk.teacher.effects.base import TeacherResult


@dataclass(frozen=True, slots=True)
class NoteTopic(Effect):
    """Start a topic, as a topic post says. `questions` are drafts as `bot.talk.teacher.drafts` makes them."""

    class_id: int
    topic: str
    homework: str | None = None
    quiz_day: date | None = None
    questions: tuple[Mapping[str, Any], ...] = ()
    notes: tuple[str, ...] = ()
    choices: tuple[date, ...] = ()
    from_place: bool = False


@dataclass(frozen=True, slots=True)
class TopicNoted(TeacherResult):
    """A topic was started. Told to its teacher in private, wherever it was said.

    Attributes
    ----------
    upload_id : int
        What takes it back.
    teacher_id : int or None
        Who is told; None for whoever the step answers.
    quiz_day : date or None
        The quiz that it will be in.
    asked_from : date or None
        The day on which the first checks go out, when there are questions.
    remind_day : date or None
        When the teacher is reminded of missing questions.
    notes : tuple of str
        Lines that were not understood.
    choices : tuple of date
        Both readings of a quiz date.
    days_off : tuple of date
        Those of the days that this gave a lesson or a quiz on which the class has no school.
    """

    upload_id: int
    class_id: int
    class_name: str
    topic_id: int
    topic: str
    day: date
    quiz_day: date | None
    questions: int
    homework: str
    was_planned: bool
    asked_from: date | None = None
    remind_day: date | None = None
    notes: tuple[str, ...] = ()
    choices: tuple[date, ...] = ()
    days_off: tuple[date, ...] = ()
    teacher_id: int | None = None

    @property
    def hearers(self) -> tuple[int, ...]:
        """The teacher, if told in private."""
        return only(self.teacher_id)


@dataclass(frozen=True, slots=True)
class KeepPost(Effect):
    """Keep a message that may be a topic post, and ask its teacher in private."""

    class_id: int
    text: str


@dataclass(frozen=True, slots=True)
class PostKept(TeacherResult):
    """A doubtful topic post waits for the teacher's word."""

    upload_id: int
    class_id: int
    class_name: str
    text: str
    topic: str
    teacher_id: int | None

    @property
    def hearers(self) -> tuple[int, ...]:
        """The teacher, if told in private."""
        return only(self.teacher_id)


@dataclass(frozen=True, slots=True)
class SettlePost(Effect):
    """Take a kept message as the topic post that it was after all."""

    upload_id: int


@dataclass(frozen=True, slots=True)
class PostSettled(TeacherResult):
    """The text of a kept message, to be taken as a topic post of a class."""

    class_id: int
    text: str


@dataclass(frozen=True, slots=True)
class TakeBack(Effect):
    """Take an applied change back by its id (a topic post that was none)."""

    upload_id: int


@dataclass(frozen=True, slots=True)
class RenameTopic(Effect):
    """Give a topic another name."""

    class_id: int
    topic_id: int
    name: str


@dataclass(frozen=True, slots=True)
class SetHomeworkText(Effect):
    """Set or clear the homework of a lesson."""

    class_id: int
    lesson_id: int
    text: str


# ---------------------------------------------------------------- questions


@dataclass(frozen=True, slots=True)
class AddQuestion(Effect):
    """Add a question to a topic. `draft` is as `bot.talk.teacher.drafts` makes it."""

    class_id: int
    topic_id: int
    draft: Mapping[str, Any]
    replaces: int | None = None


@dataclass(frozen=True, slots=True)
class AddQuestions(Effect):
    """Add several questions to a topic at once; comes back as `QuestionsAdded`."""

    class_id: int
    topic_id: int
    drafts: tuple[Mapping[str, Any], ...]


@dataclass(frozen=True, slots=True)
class AddPicture(Effect):
    """Fetch a picture and add it with a question; comes back as `QuestionAdded` or `Refused`."""

    class_id: int
    topic_id: int
    draft: Mapping[str, Any]
    handle: str


@dataclass(frozen=True, slots=True)
class QuestionAdded(TeacherResult):
    """A question is in use. `shown` says how it was understood; `new` is False when it replaced one."""

    class_id: int
    topic_id: int
    topic: str
    question_id: int
    shown: str
    number: int
    new: bool = True


@dataclass(frozen=True, slots=True)
class QuestionsAdded(TeacherResult):
    """Several questions are in use.

    Attributes
    ----------
    shown : tuple of str
        How each was understood, in order.
    refused : tuple of str
        What could not be used, with the reason.
    number : int
        Questions of the topic now.
    """

    class_id: int
    topic_id: int
    topic: str
    shown: tuple[str, ...]
    refused: tuple[str, ...]
    number: int


@dataclass(frozen=True, slots=True)
class ListQuestions(Effect):
    """Look up the questions of a topic."""

    class_id: int
    topic_id: int


@dataclass(frozen=True, slots=True)
class QuestionLine:
    """A question as it is listed."""

    id: int
    prompt: str
    answer: str
    kind: str
    picture: bool
    answers: int


@dataclass(frozen=True, slots=True)
class QuestionsListed(TeacherResult):
    """The questions of a topic."""

    class_id: int
    topic_id: int
    topic: str
    questions: tuple[QuestionLine, ...]


@dataclass(frozen=True, slots=True)
class RetireQuestion(Effect):
    """Stop asking a question."""

    class_id: int
    question_id: int


@dataclass(frozen=True, slots=True)
class FindQuestion(Effect):
    """Look up one question to edit it."""

    class_id: int
    question_id: int


@dataclass(frozen=True, slots=True)
class QuestionFound(TeacherResult):
    """A question to edit, as the line that would make it."""

    class_id: int
    topic_id: int
    topic: str
    question_id: int
    line: str
