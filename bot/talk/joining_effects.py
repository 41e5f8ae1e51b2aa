"""What joining wants done, and what that came to."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar, Literal

from bot.talk.core import Effect, Result, only


@dataclass(frozen=True, slots=True)
class TryCode(Effect):
    """See what a code is good for; use it up where it opens something at once. `name`: what the platform says."""

    code: str
    name: str = ""


@dataclass(frozen=True, slots=True)
class Join(Effect):
    """Put the speaker into a class. `roster_id`: the name on the class list that is theirs, 0 for none of them."""

    class_id: int
    name: str
    roster_id: int | None = None


@dataclass(frozen=True, slots=True)
class ChooseTime(Effect):
    """Keep when a new student wants their questions."""

    enrolment_id: int
    minute: int


class JoiningResult(Result):
    """A result for this conversation."""

    __slots__ = ()
    conversation: ClassVar[str] = "joining"


@dataclass(frozen=True, slots=True)
class ClassInvited(JoiningResult):
    """The code is that of a class."""

    class_id: int
    already_in: bool = False


@dataclass(frozen=True, slots=True)
class NoDoor(JoiningResult):
    """The code opens nothing: ``wrong``, ``too_many`` were tried, or it binds a ``place``, which teachers do."""

    why: Literal["wrong", "too_many", "place"]


@dataclass(frozen=True, slots=True)
class Moved(JoiningResult):
    """The speaker is known from elsewhere and goes on here; or cannot, for a reason fit for people."""

    problem: str = ""


@dataclass(frozen=True, slots=True)
class Permitted(JoiningResult):
    """A student may take part from now on."""

    name: str
    class_name: str
    person_id: int | None

    @property
    def hearers(self) -> tuple[int, ...]:
        """The student."""
        return only(self.person_id)


@dataclass(frozen=True, slots=True)
class WhichName(JoiningResult):
    """Names of the class list that may be the speaker's: pairs of id and name."""

    names: tuple[tuple[int, str], ...]


@dataclass(frozen=True, slots=True)
class Joined(JoiningResult):
    """The speaker is a student of the class now."""

    enrolment_id: int
    name: str
    waiting: bool


@dataclass(frozen=True, slots=True)
class NotJoined(JoiningResult):
    """That name or that class cannot be joined, for a reason fit for people."""

    why: str


@dataclass(frozen=True, slots=True)
class TimeKept(JoiningResult):
    """The time is kept; `first` is when the first questions can come, None while there are none."""

    minute: int
    first: datetime | None
    waiting: bool


@dataclass(frozen=True, slots=True)
class TimeRefused(JoiningResult):
    """That time cannot be, for a reason fit for people."""

    why: str
