"""What teachers pull to look at."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from bot.chat.port import Attachment
from bot.talk.core import Effect
from bot.talk.teacher.effects.base import TeacherResult
from bot.teaching.offers import DoseOffer
from bot.words.rich import Rich


@dataclass(frozen=True, slots=True)
class Pull(Effect):
    """Work out something to look at: a kind of `PULLS`; comes back as `Pulled`.

    `key` is that of the message which says that it is being worked on: the result takes its place.
    """

    class_id: int
    what: str
    options: Mapping[str, Any] = field(default_factory=dict)
    key: str = ""


PULLS = (
    "report",
    "workbook",
    "forecast",
    "starter",
    "quality",
    "illustration",
    "letters",
    "export",
    "records",
    "comparison",
    "summary",
)
"""What a teacher can pull."""


@dataclass(frozen=True, slots=True)
class EvidenceMessage:
    """One message of something pulled: a text and at most one picture or document."""

    text: Rich
    attachment: Attachment | None = None


@dataclass(frozen=True, slots=True)
class Pulled(TeacherResult):
    """What was pulled. `note` is set instead when there is nothing to show, and says why.

    `asked` are the questions of a starter: the teacher can say afterwards how many had each right. `week` is a day of
    the week that was asked for, empty for the present one. `key` is that of the message whose place it takes; empty
    for what nobody asked for, such as the report that comes every week: that is a message of its own. `offers` are
    changes of the class's dose that come with it as buttons.
    """

    class_id: int
    class_name: str
    what: str
    pieces: tuple[EvidenceMessage, ...] = ()
    note: str = ""
    asked: tuple[int, ...] = ()
    week: str = ""
    key: str = ""
    offers: tuple[DoseOffer, ...] = ()


@dataclass(frozen=True, slots=True)
class CountStarter(Effect):
    """How many had each question of a starter right, as typed; without `questions` those of the class's last one."""

    class_id: int
    questions: tuple[int, ...]
    text: str


@dataclass(frozen=True, slots=True)
class ShareSummary(Effect):
    """Post an aggregated summary to a channel of the class."""

    class_id: int
    channel_id: int
