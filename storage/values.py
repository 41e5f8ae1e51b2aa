"""A class, its rules and its calendar as plain values: the same for the store, for conversations and for papers.

They hold no database rows, so that pure code may read them. What a file says is another thing
(`storage/files/values.py`): it names topics by their words, and times as they are written.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from typing import Literal

from scheduler.calendar.quiet_hours import QuietHours, quiet_hours

QuizKind = Literal["quiz", "exam"]

QUESTIONS_A_DAY_AT_MOST = 10
NUDGES_A_DAY_AT_MOST = 2
"""The limits that protect students, whatever a teacher sets."""

TARGET_LOWEST, TARGET_HIGHEST = 50, 95
"""Bounds of a class's target [%]: below, nearly nothing has to be asked; above, nothing reaches it for everybody."""


class ConsentRule(StrEnum):
    """Who has to agree before the first question."""

    STUDENT = "student"
    SCHOOL = "school"


@dataclass(frozen=True, slots=True)
class Rules:
    """The rules of a class, by the names of their columns in `storage.tables.SchoolClass`.

    Attributes
    ----------
    zone : str
        IANA zone of the class.
    school_weekdays : tuple of int
        Days on which students may be asked, in order, Monday 0.
    lesson_hours : tuple of (int, int, int)
        Weekday, start and end of each lesson of the week. [min after local midnight]
    quiet_from, quiet_until, nudge_minute, report_minute : int
        Minutes after local midnight. [0..1439]
    term_allowance : int or None
        Questions a term for each student; None without a limit.
    target : int or None
        Share to be known on the dates that count. [%]
    on_holidays : bool
        Whether students are asked on holidays.
    report_weekday : int
        Day of the weekly report, Monday 0.
    retain_until : date or None
        The day after which the class is deleted; None where the installation's rule holds.
    """

    zone: str
    school_weekdays: tuple[int, ...]
    lesson_hours: tuple[tuple[int, int, int], ...]
    quiet_from: int
    quiet_until: int
    nudge_minute: int
    nudges_per_day: int
    questions_per_nudge: int
    term_allowance: int | None
    target: int | None
    on_holidays: bool
    consent: ConsentRule
    report_weekday: int
    report_minute: int
    retain_until: date | None

    @property
    def quiet(self) -> tuple[QuietHours, ...]:
        """The quiet hours of the class."""
        return quiet_hours(self.quiet_from, self.quiet_until)

    @property
    def questions_a_day(self) -> int:
        """The most questions that the class asks a student a day, all nudges together."""
        return self.questions_per_nudge * self.nudges_per_day

    @property
    def target_share(self) -> float | None:
        """Share to be known on the dates that count, if the class has a target. [0..1]."""
        return None if self.target is None else self.target / 100.0

    @property
    def needs_permission(self) -> bool:
        """Whether the school has to agree before a student is asked."""
        return self.consent is ConsentRule.SCHOOL


@dataclass(frozen=True, slots=True)
class ClassInfo:
    """A class, as its people may see it; `language` is that of its places and of its people by default."""

    id: int
    name: str
    subject: str
    language: str
    rules: Rules


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
