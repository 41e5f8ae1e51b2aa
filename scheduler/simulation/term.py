"""A term as the simulation sees it: lessons, quizzes, exams, holidays."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import cached_property
from zoneinfo import ZoneInfo

from scheduler.values import Dates

LESSON_TIME = time(9, 0)  # local, when only a day is given
QUIZ_TIME = time(10, 0)
EVENING = time(18, 0)


@dataclass(frozen=True)
class Term:
    """Lessons, quizzes and exams of one class.

    Parameters
    ----------
    lessons : sequence of (datetime or date, str)
        When which topic is taught. A plain date means 09:00 local time.
    quizzes, exams : sequence of (datetime or date, sequence of str)
        When which topics are tested. A plain date means 10:00 local time.
    holidays : iterable of date or datetime
        Days on which nobody is asked; a datetime means its local day.
    timezone : str
        IANA name.

    Raises
    ------
    ValueError
        For a naive datetime, an empty term, or a test of a topic that has no lesson.
    """

    lessons: Sequence[tuple[datetime | date, str]]
    quizzes: Sequence[tuple[datetime | date, Sequence[str]]] = ()
    exams: Sequence[tuple[datetime | date, Sequence[str]]] = ()
    holidays: Iterable[datetime | date] = ()
    timezone: str = "Europe/London"

    def __post_init__(self) -> None:
        if not self.lessons:
            raise ValueError("A term needs at least one lesson.")
        for name, tests in (("quizzes", self.dates.quizzes), ("exams", self.dates.exams)):
            unknown = {topic for _, topics in tests for topic in topics} - set(self.topics)
            if unknown:
                raise ValueError(f"{name} test topics without a lesson: {', '.join(sorted(unknown))}.")

    @cached_property
    def dates(self) -> Dates:
        """Lessons, quizzes and exams in order, as aware moments."""
        zone = ZoneInfo(self.timezone)
        lessons = sorted((_moment(at, LESSON_TIME, zone), topic) for at, topic in self.lessons)
        quizzes, exams = (
            tuple(sorted((_moment(at, QUIZ_TIME, zone), tuple(topics)) for at, topics in tests))
            for tests in (self.quizzes, self.exams)
        )
        return Dates(quizzes, exams, tuple(lessons))

    @cached_property
    def topics(self) -> tuple[str, ...]:
        """Topics in the order of their first lesson."""
        return tuple(dict.fromkeys(topic for _, topic in self.dates.lessons))

    @cached_property
    def last_day(self) -> date:
        """The last day of the term: that of the last lesson or quiz."""
        return max(self.day(at) for at, _ in (*self.dates.lessons, *self.dates.quizzes))

    @cached_property
    def free_days(self) -> frozenset[date]:
        """The local days that are holidays."""
        zone = ZoneInfo(self.timezone)
        return frozenset(self.day(_moment(at, LESSON_TIME, zone)) for at in self.holidays)

    def day(self, at: datetime) -> date:
        """Return the local day of a moment."""
        return at.astimezone(ZoneInfo(self.timezone)).date()

    def is_holiday(self, at: datetime) -> bool:
        """Return whether nobody is asked on the local day of a moment."""
        return self.day(at) in self.free_days

    def days(self) -> list[date]:
        """Return every day from the first lesson to the last day of the term."""
        first = self.day(self.dates.lessons[0][0])
        return [first + timedelta(days=step) for step in range((self.last_day - first).days + 1)]

    def evenings(self, now: datetime) -> tuple[datetime, ...]:
        """Return the hour of `now` today and on every later day of the term that is no holiday."""
        local = now.astimezone(ZoneInfo(self.timezone))
        count = max((self.last_day - local.date()).days, 0)
        later = [local + timedelta(days=step) for step in range(count + 1)]
        return tuple(at.astimezone(UTC) for at in later if at.date() not in self.free_days)


def _moment(at: datetime | date, hour: time, zone: ZoneInfo) -> datetime:
    if not isinstance(at, datetime):
        at = datetime.combine(at, hour, zone)
    if at.tzinfo is None:
        raise ValueError(f"The moment {at.isoformat()} has no time zone; give an aware datetime or a date.")
    return at.astimezone(UTC)
