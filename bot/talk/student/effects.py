"""What a student's conversation wants done, and what comes of it: plain values.

Effects are carried out by `bot.service.student.effects`; results come back to the conversation as events.
Rights are checked where an effect is carried out: an id that is somebody else's comes to `NotYours`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, ClassVar, Literal

from bot.chat.port import Attachment
from bot.talk.core import Effect, Result
from bot.words.rich import Rich
from storage.values import QuizInfo

# ---------------------------------------------------------------- effects: nudges and answers


@dataclass(frozen=True, slots=True)
class Start(Effect):
    """Show the first question of a nudge that is still to be answered."""

    changes_speaker: ClassVar[bool] = False
    nudge_id: int


@dataclass(frozen=True, slots=True)
class PutOff(Effect):
    """Send a nudge, with what is left of it, once more in an hour. `review_id`: the question at which that was said."""

    changes_speaker: ClassVar[bool] = False
    nudge_id: int
    review_id: int | None = None


@dataclass(frozen=True, slots=True)
class Decline(Effect):
    """Not today."""

    changes_speaker: ClassVar[bool] = False
    nudge_id: int


@dataclass(frozen=True, slots=True)
class TakeAnswer(Effect):
    """Record the answer to an open question; show the next one.

    `verdict` is ``right``, ``wrong`` or ``unsure``; `option` the place of a choice in the stored question.
    """

    changes_speaker: ClassVar[bool] = False
    review_id: int
    verdict: Literal["right", "wrong", "unsure"]
    given: str
    option: int | None = None


@dataclass(frozen=True, slots=True)
class AskMore(Effect):
    """Ask more questions now: those that wait, else new ones."""

    changes_speaker: ClassVar[bool] = False


@dataclass(frozen=True, slots=True)
class ReportHomework(Effect):
    """Note whether the homework of a lesson is done."""

    changes_speaker: ClassVar[bool] = False
    lesson_id: int
    done: bool


# ---------------------------------------------------------------- effects: settings


@dataclass(frozen=True, slots=True)
class SetTimes(Effect):
    """Change the speaker's own times in all their classes: fields of `storage.school.enrolments.set_times`."""

    changes: Mapping[str, str | int | None] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Pause(Effect):
    """Ask nothing until a day, or until `Resume`."""

    until: date | None = None


@dataclass(frozen=True, slots=True)
class Resume(Effect):
    """End a pause."""


@dataclass(frozen=True, slots=True)
class Leave(Effect):
    """Leave a class; what was answered stays until it is erased."""

    enrolment_id: int


@dataclass(frozen=True, slots=True)
class ShowProgress(Effect):
    """Work out the speaker's own predicted retention."""


# ---------------------------------------------------------------- results


class StudentResult(Result):
    """A result for the student's conversation."""

    __slots__ = ()
    conversation: ClassVar[str] = "student"


@dataclass(frozen=True, slots=True)
class NudgeDue(StudentResult):
    """A nudge goes out now.

    `quiz` is one of tomorrow, if there is one; `quiz_class` names its class, if the nudge is of several.
    """

    nudge_id: int
    not_after: datetime
    quiz: QuizInfo | None = None
    quiz_class: str = ""


@dataclass(frozen=True, slots=True)
class SilenceNoticed(StudentResult):
    """Nothing was heard for a week of nudges."""

    enrolment_id: int
    not_after: datetime


@dataclass(frozen=True, slots=True)
class QuestionShown(StudentResult):
    """A question is open now: `Facts.learning.open`. `again` when it was shown before."""

    review_id: int
    again: bool = False


@dataclass(frozen=True, slots=True)
class AnswerTaken(StudentResult):
    """An answer was recorded, or was not because the question had an answer already (`counted` False).

    Attributes
    ----------
    back_on : date or None
        The local day on which the topic is expected back.
    next_id : int or None
        The question that is open now.
    right, answered, questions : int
        Of the nudge so far.
    """

    review_id: int
    counted: bool
    verdict: str
    given: str
    option: int | None
    back_on: date | None = None
    next_id: int | None = None
    right: int = 0
    answered: int = 0
    questions: int = 0


@dataclass(frozen=True, slots=True)
class PutOffUntil(StudentResult):
    """A nudge comes again at a moment; None when the day has no room for that.

    `review_id`: the question at which that was said, if it was one.
    """

    nudge_id: int
    at: datetime | None
    review_id: int | None = None


@dataclass(frozen=True, slots=True)
class NothingLeft(StudentResult):
    """There is nothing to ask.

    `why`: ``over`` (the nudge is), ``cap`` (enough for today), ``nothing`` (no topic gains), ``empty`` (no
    questions yet), ``waiting`` (permission is missing), ``closed``.
    """

    why: str


@dataclass(frozen=True, slots=True)
class Working(StudentResult):
    """It takes a moment; the answer follows."""

    what: str


@dataclass(frozen=True, slots=True)
class Changed(StudentResult):
    """Something was changed; `what` names the text to say, with its values."""

    what: str
    values: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class NotChanged(StudentResult):
    """Something was not changed, for a reason fit for people."""

    why: str


@dataclass(frozen=True, slots=True)
class NotYours(StudentResult):
    """The row belongs to somebody else."""


@dataclass(frozen=True, slots=True)
class Progress(StudentResult):
    """The speaker's own predicted retention in one class, as text and picture; None before anything was taught."""

    class_name: str
    text: Rich | None = None
    picture: Attachment | None = None
