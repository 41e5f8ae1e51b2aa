"""What every part of the teacher's conversation may hear."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any, ClassVar

from bot.talk.core import Result, only


class TeacherResult(Result):
    """A result that the teacher's private conversation takes."""

    __slots__ = ()
    conversation: ClassVar[str] = "teacher"


@dataclass(frozen=True, slots=True)
class Refused(TeacherResult):
    """Something was not done; `why` is a sentence that says what is wrong and what to do.

    `teacher_id` is told in private when it was said in a class place; None for whoever the step answers.
    """

    why: str
    teacher_id: int | None = None

    @property
    def hearers(self) -> tuple[int, ...]:
        """The teacher, if told in private."""
        return only(self.teacher_id)


@dataclass(frozen=True, slots=True)
class Done(TeacherResult):
    """Something small was done. `key` names the text that says so, `values` fill it.

    `days_off` are those given days on which the class has no school: that is said too.
    """

    key: str
    values: Mapping[str, Any] = field(default_factory=dict)
    days_off: tuple[date, ...] = ()
