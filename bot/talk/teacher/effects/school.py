"""Classes, codes, channels, the calendar, rules and students."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from bot.chat.port import Attachment
from bot.talk.core import Effect
from bot.talk.teacher.effects.base import TeacherResult


@dataclass(frozen=True, slots=True)
class Welcomed(TeacherResult):
    """A teacher's code was good. `class_name` is set when it was for one class."""

    class_id: int | None = None
    class_name: str = ""


@dataclass(frozen=True, slots=True)
class CreateClass(Effect):
    """Make a class; the speaker becomes its first teacher."""

    name: str
    subject: str
    zone: str
    teacher: str


@dataclass(frozen=True, slots=True)
class CloseClass(Effect):
    """End a class: nobody is asked any more."""

    class_id: int


@dataclass(frozen=True, slots=True)
class ClassCreated(TeacherResult):
    """A class was made, with a code to join it."""

    class_id: int
    name: str


@dataclass(frozen=True, slots=True)
class ShowCode(Effect):
    """Make a code to join a class; `only` takes all earlier ones back."""

    class_id: int
    only: bool = False


@dataclass(frozen=True, slots=True)
class CodeShown(TeacherResult):
    """A code to join a class, its link if the chat has links, and a QR picture of the link or the code.

    `only`: all earlier ones were stopped.
    """

    class_id: int
    class_name: str
    code: str
    link: str
    picture: Attachment
    only: bool = False


@dataclass(frozen=True, slots=True)
class Invite(Effect):
    """Make a single-use code that makes somebody a teacher of a class."""

    class_id: int


@dataclass(frozen=True, slots=True)
class TeacherInvited(TeacherResult):
    """The single-use code for another teacher."""

    class_name: str
    code: str


@dataclass(frozen=True, slots=True)
class AskChannelCode(Effect):
    """Make a code that binds the place in which a teacher posts it to a class."""

    class_id: int


@dataclass(frozen=True, slots=True)
class ChannelCode(TeacherResult):
    """The code to post in the channel or group."""

    class_name: str
    code: str


@dataclass(frozen=True, slots=True)
class Unbind(Effect):
    """Let a place no longer belong to a class."""

    class_id: int
    channel_id: int


# ---------------------------------------------------------------- calendar and students


@dataclass(frozen=True, slots=True)
class MarkAbsent(Effect):
    """Note that a student missed a lesson, or that they were there after all."""

    class_id: int
    lesson_id: int
    enrolment_id: int
    absent: bool


@dataclass(frozen=True, slots=True)
class ListHomework(Effect):
    """Look up who did the homework of a lesson."""

    class_id: int
    lesson_id: int


@dataclass(frozen=True, slots=True)
class HomeworkListed(TeacherResult):
    """Students with whether they did the homework (None: nobody said), each with an id."""

    class_id: int
    lesson_id: int
    topic: str
    lines: tuple[tuple[int, str, bool | None], ...]


@dataclass(frozen=True, slots=True)
class SetHomework(Effect):
    """The teacher's word on one student's homework."""

    class_id: int
    lesson_id: int
    enrolment_id: int
    done: bool


@dataclass(frozen=True, slots=True)
class AddHoliday(Effect):
    """Add days without school."""

    class_id: int
    first: date
    last: date
    name: str


@dataclass(frozen=True, slots=True)
class DropHoliday(Effect):
    """Take a holiday away."""

    class_id: int
    holiday_id: int


@dataclass(frozen=True, slots=True)
class MoveQuiz(Effect):
    """Put a quiz on another day."""

    class_id: int
    quiz_id: int
    day: date


@dataclass(frozen=True, slots=True)
class ChangeRules(Effect):
    """Change rules of a class: columns of the class by name."""

    class_id: int
    changes: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class RulesChanged(TeacherResult):
    """The rules are changed; the conversation shows them as they are now."""

    class_id: int


@dataclass(frozen=True, slots=True)
class LeftStanding(TeacherResult):
    """Lessons and quizzes that stand on days which have just become days without school.

    Attributes
    ----------
    planned : tuple of (date, str, str)
        Day, kind (``lesson``, ``quiz``, ``exam``) and name of each, in order of days.
    """

    planned: tuple[tuple[date, str, str], ...]


@dataclass(frozen=True, slots=True)
class Permit(Effect):
    """Note the school's permission for a student, or for all who wait."""

    class_id: int
    enrolment_id: int | None


@dataclass(frozen=True, slots=True)
class PermissionCode(Effect):
    """Make a code with which a student's parents give their permission."""

    class_id: int
    enrolment_id: int


@dataclass(frozen=True, slots=True)
class RemoveStudent(Effect):
    """Take a student out of a class."""

    class_id: int
    enrolment_id: int


@dataclass(frozen=True, slots=True)
class RenameStudent(Effect):
    """Call a student something else in a class."""

    class_id: int
    enrolment_id: int
    name: str
