"""Questions of our own bank."""

from __future__ import annotations

from dataclasses import dataclass

from bot.talk.core import Effect
from bot.talk.teacher.effects.base import TeacherResult


@dataclass(frozen=True, slots=True)
class LookInBank(Effect):
    """Look up what the bank has for the topics of a class; with examples of one of them."""

    class_id: int
    topic_id: int | None = None


@dataclass(frozen=True, slots=True)
class TakeFromBank(Effect):
    """Take the bank's questions for one topic of a class; for all of them, if none is named."""

    class_id: int
    topic_id: int | None = None


@dataclass(frozen=True, slots=True)
class OfferedTopic:
    """A topic of the class that the bank has questions for, and how many the class has not."""

    id: int
    name: str
    questions: int


@dataclass(frozen=True, slots=True)
class BankOffered(TeacherResult):
    """What the bank has for a class.

    Attributes
    ----------
    topic_id : int or None
        The topic that is looked at; `examples` are questions of it as a student may get them.
    """

    class_id: int
    topics: tuple[OfferedTopic, ...]
    topic_id: int | None = None
    examples: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class BankTaken(TeacherResult):
    """Questions of the bank are the class's own now; `coming` is what is still offered, the next topic first."""

    added: int
    topics: tuple[str, ...]
    coming: BankOffered
