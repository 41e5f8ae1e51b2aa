"""School days and holidays: the rules of when a class, or one student of it, may be asked.

The rules hold for days here. For moments they are applied in `scheduler.calendar.allowed_moments`; quiet hours
are in `scheduler.calendar.quiet_hours`, wall clocks in `scheduler.calendar.zones`.

Errors: :class:`SchoolDayError` is the root of :class:`UnknownZone` and
:class:`~scheduler.calendar.quiet_hours.ImpossibleHours`; each sentence says what was found and what to do.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, time, timedelta
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from scheduler.calendar.quiet_hours import DEFAULT_QUIET, ImpossibleHours, QuietHours
from scheduler.calendar.zones import (
    LocalTimeKind,
    SchoolDayError,
    UnknownZone,
    classify,
    iso_week,
    local_day,
    local_moment,
    local_time,
    week_bounds,
    week_of,
    zone_named,
)

# The wall clocks live in scheduler.calendar.zones; who plans reviews finds both here.
__all__ = [
    "Closed",
    "Days",
    "HolidayPeriod",
    "LessonHours",
    "LocalTimeKind",
    "SchoolDayError",
    "SchoolDays",
    "UnknownZone",
    "classify",
    "closed_day",
    "day_array",
    "is_holiday",
    "is_nudge_day",
    "is_school_day",
    "iso_week",
    "local_day",
    "local_moment",
    "local_time",
    "nudge_day_mask",
    "school_day_mask",
    "school_days_between",
    "week_bounds",
    "week_of",
    "zone_named",
]

Days = NDArray[np.datetime64]


class Closed(StrEnum):
    """Why a moment is not allowed."""

    HOLIDAY = "holiday"
    NO_SCHOOL = "not a school day"
    LESSON = "lesson"
    QUIET = "quiet hours"


@dataclass(frozen=True, slots=True)
class LessonHours:
    """A lesson's hours on one weekday (Monday is 0), on the school's clock; they may end at midnight."""

    weekday: int
    start: time
    end: time

    def __post_init__(self) -> None:
        if self.weekday not in range(7):
            raise ImpossibleHours(f"Weekday {self.weekday} does not exist. Monday is 0, Sunday is 6.")
        if self.start >= self.end and self.end != time(0):
            raise ImpossibleHours(
                f"A lesson from {self.start:%H:%M} to {self.end:%H:%M} ends before it starts. Swap the times."
            )

    def __contains__(self, moment: time) -> bool:
        return self.start <= moment and (moment < self.end or self.end == time(0))


@dataclass(frozen=True, slots=True)
class HolidayPeriod:
    """Days without school, both ends included.

    It stands beside the stored holidays because the scheduler imports nothing of ours and refuses impossible days.
    """

    first: date
    last: date

    def __post_init__(self) -> None:
        if self.last < self.first:
            raise SchoolDayError(
                f"A holiday from {self.first} to {self.last} ends before it starts. Swap the dates."
            )

    def __contains__(self, day: date) -> bool:
        return self.first <= day <= self.last


MONDAY_TO_FRIDAY = frozenset(range(5))


@dataclass(frozen=True, slots=True)
class SchoolDays:
    """When a class, or one student of it, may be asked.

    Parameters
    ----------
    zone : str
        IANA name of the school's time zone.
    weekdays : frozenset of int
        School weekdays, Monday is 0. Default Monday to Friday.
    holidays : tuple of HolidayPeriod
    quiet : tuple of Hours
        Quiet hours on the student's clock, all of them at once. Default 20:00-07:30.
    lessons : tuple of LessonHours
        On the school's clock.
    nudges_on_holidays : bool
        True where the class asks for nudges on holidays. Default False.
    nudge_weekdays : frozenset of int or None
        Weekdays on which nudges may go out, when that is not the school weekdays (a class may ask for
        Sundays too). None means the school weekdays.
    student_zone : str or None
        IANA name of the student's zone where it differs from the school's.

    Raises
    ------
    UnknownZone
        When a zone does not exist.
    ImpossibleHours
        When quiet and lesson hours together leave no minute on any nudge weekday.
    """

    zone: str
    weekdays: frozenset[int] = MONDAY_TO_FRIDAY
    holidays: tuple[HolidayPeriod, ...] = ()
    quiet: tuple[QuietHours, ...] = (DEFAULT_QUIET,)
    lessons: tuple[LessonHours, ...] = ()
    nudges_on_holidays: bool = False
    nudge_weekdays: frozenset[int] | None = None
    student_zone: str | None = None

    def __post_init__(self) -> None:
        zone_named(self.zone)
        zone_named(self.home)
        for name, days in (("weekdays", self.weekdays), ("nudge_weekdays", self.asking_weekdays)):
            if not days or not days <= frozenset(range(7)):
                raise SchoolDayError(f"{name} {sorted(days)} must be some of 0 (Monday) to 6 (Sunday).")
        self._refuse_no_time_at_all()

    @property
    def home(self) -> str:
        """The zone whose clock decides about quiet hours and the time of day of a nudge."""
        return self.student_zone or self.zone

    @property
    def asking_weekdays(self) -> frozenset[int]:
        """Weekdays on which nudges may go out."""
        return self.weekdays if self.nudge_weekdays is None else self.nudge_weekdays

    def for_student(self, *, zone: str | None = None, quiet: Iterable[QuietHours] = ()) -> SchoolDays:
        """Return the class's rules with a student's own zone and additional quiet hours.

        Parameters
        ----------
        zone : str, optional
            IANA zone of the student; the class's by default.
        quiet : iterable of QuietHours
            Quiet hours that the student adds to those of the class.

        Raises
        ------
        UnknownZone, ImpossibleHours
            As for the class itself.
        """
        extra = tuple(hours for hours in quiet if hours not in self.quiet)
        return replace(self, student_zone=zone or self.student_zone, quiet=self.quiet + extra)

    def _refuse_no_time_at_all(self) -> None:
        same_clock = self.home == self.zone
        for weekday in self.asking_weekdays:
            lessons = [x for x in self.lessons if x.weekday == weekday and same_clock]
            edges = {time(0), *(h.end for h in self.quiet), *(x.end for x in lessons)}
            blocked: list[QuietHours | LessonHours] = [*self.quiet, *lessons]
            if any(not any(edge in hours for hours in blocked) for edge in edges):
                return
        told = ", ".join(str(hours) for hours in self.quiet)
        raise ImpossibleHours(
            f"Quiet hours {told} (with the lesson hours) leave no time for a nudge on any day. "
            "Shorten them so that part of a day stays open."
        )


def is_holiday(day: date, rules: SchoolDays) -> bool:
    """Whether the day lies in one of the holidays.

    Parameters
    ----------
    day : date
        A calendar day of the class.
    rules : SchoolDays
        Zone, school weekdays, holidays, lessons and quiet hours.
    """
    return any(day in holiday for holiday in rules.holidays)


def is_school_day(day: date, rules: SchoolDays) -> bool:
    """Whether school is held: a school weekday that is no holiday.

    Parameters
    ----------
    day : date
        A calendar day of the class.
    rules : SchoolDays
        Zone, school weekdays, holidays, lessons and quiet hours.
    """
    return day.weekday() in rules.weekdays and not is_holiday(day, rules)


def is_nudge_day(day: date, rules: SchoolDays) -> bool:
    """Whether the calendar allows nudges on the day.

    Parameters
    ----------
    day : date
        A calendar day of the class.
    rules : SchoolDays
        Zone, school weekdays, holidays, lessons and quiet hours.
    """
    return closed_day(day, rules) is None


def closed_day(day: date, rules: SchoolDays) -> Closed | None:
    """Why the calendar allows no nudge on the day; None where it does.

    Parameters
    ----------
    day : date
        A calendar day of the class.
    rules : SchoolDays
        Zone, school weekdays, holidays, lessons and quiet hours.
    """
    if is_holiday(day, rules) and not rules.nudges_on_holidays:
        return Closed.HOLIDAY
    return None if day.weekday() in rules.asking_weekdays else Closed.NO_SCHOOL


def school_days_between(first: date, last: date, rules: SchoolDays) -> list[date]:
    """School days from `first` to `last`, both included; empty when last is before first.

    Parameters
    ----------
    first : date
        First day that may be in it.
    last : date
        Last day that may be in it.
    rules : SchoolDays
        Zone, school weekdays, holidays, lessons and quiet hours.
    """
    count = max((last - first).days + 1, 0)
    days = [first + timedelta(days=n) for n in range(count)]
    return [day for day in days if is_school_day(day, rules)]


def day_array(first: date, n_days: int) -> Days:
    """Consecutive days, datetime64[D], shape (n_days,).

    Parameters
    ----------
    first : date
        The first day.
    n_days : int
        How many days.
    """
    return np.datetime64(first, "D") + np.arange(n_days)


def school_day_mask(days: Days, rules: SchoolDays) -> NDArray[np.bool_]:
    """:func:`is_school_day` for an array of days, same shape.

    Parameters
    ----------
    days : ndarray of datetime64[D]
        Calendar days of the class, of any shape.
    rules : SchoolDays
        Zone, school weekdays, holidays, lessons and quiet hours.
    """
    return _weekday_mask(days, rules.weekdays) & ~_holiday_mask(days, rules)


def nudge_day_mask(days: Days, rules: SchoolDays) -> NDArray[np.bool_]:
    """:func:`is_nudge_day` for an array of days, same shape.

    Parameters
    ----------
    days : ndarray of datetime64[D]
        Calendar days of the class, of any shape.
    rules : SchoolDays
        Zone, school weekdays, holidays, lessons and quiet hours.
    """
    mask = _weekday_mask(days, rules.asking_weekdays)
    return mask if rules.nudges_on_holidays else mask & ~_holiday_mask(days, rules)


def _weekday_mask(days: Days, weekdays: frozenset[int]) -> NDArray[np.bool_]:
    # 1970-01-01 was a Thursday, weekday 3.
    numbers = (days.astype("datetime64[D]").astype(np.int64) + 3) % 7
    return np.isin(numbers, sorted(weekdays))


def _holiday_mask(days: Days, rules: SchoolDays) -> NDArray[np.bool_]:
    mask = np.zeros(days.shape, dtype=np.bool_)
    for holiday in rules.holidays:
        mask |= (days >= np.datetime64(holiday.first, "D")) & (days <= np.datetime64(holiday.last, "D"))
    return mask
