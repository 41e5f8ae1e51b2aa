"""What a class has in its calendar, as plain values: the same for the store, for conversations and for papers.

They hold no database rows, so that pure code may read them. What a file says is another thing
(`storage/files/values.py`): it names topics by their words, and times as they are written.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

QuizKind = Literal["quiz", "exam"]


@dataclass(frozen=True, slots=True)
class LessonInfo:
    """A lesson of a class; `day` is the local day, moments are aware."""

    id: int
    topic_id: int
    topic: str
    starts_at: datetime
    ends_at: datetime | None
    homework: str | None
    day: date


@dataclass(frozen=True, slots=True)
class QuizInfo:
    """A quiz of a class.

    Attributes
    ----------
    at : datetime
        Aware moment.
    day : date
        The local day.
    topics : tuple of int
        Ids of the topics that it covers.
    """

    id: int
    name: str
    kind: QuizKind
    at: datetime
    day: date
    topics: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class HolidayInfo:
    """Days without school, both included."""

    id: int
    first_day: date
    last_day: date
    name: str
