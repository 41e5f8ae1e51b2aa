"""School days, holidays, quiet hours and time zones: from an ideal moment to an allowed one.

Theory of operation
-------------------
Whether a moment is allowed depends only on wall clocks: the school's (which day it is, whether a lesson
runs) and the student's (whether it is quiet). Between two *edges* nothing changes: an edge is a local
midnight, the start or end of some hours, or a clock change. So the open time of a week is found by
collecting the edges, asking :func:`why_not` once at each, and keeping the stretches that are open.
Everything else (the first allowed moment, the moment of a day's nudge, arrays of moments) reads those
stretches, so there is one implementation of the rules.

Rules that hold for a nudge:

1. none in quiet hours, on the student's own clock (the class's hours and the student's own together: a
   student may lengthen the quiet, never shorten it);
2. none during lesson hours, on the school's clock;
3. none on a holiday unless the class asks for it, and none on a weekday that is not a nudge day. Where the
   student lives in another zone than the school, both calendars must agree;
4. a local time that the clock change skips means the first valid moment after the gap; one that comes twice
   means the first occurrence, once.

Errors: :class:`SchoolDayError` is the root of :class:`UnknownZone`, :class:`ImpossibleHours` and
:class:`NoAllowedMoment`; each sentence says what was found and what to do.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from scheduler.calendar.zones import (
    DAY_S,
    LocalTimeKind,
    SchoolDayError,
    UnknownZone,
    aware,
    classify,
    clock_changes,
    iso_week,
    local_day,
    local_moment,
    local_time,
    time_of,
    week_bounds,
    week_of,
    zone_named,
)

# The wall clocks live in scheduler.calendar.zones; who plans reviews finds both here.
__all__ = [
    "Closed",
    "Days",
    "HolidayPeriod",
    "Hours",
    "ImpossibleHours",
    "LessonHours",
    "LocalTimeKind",
    "NoAllowedMoment",
    "SchoolDayError",
    "SchoolDays",
    "UnknownZone",
    "allowed_moment",
    "allowed_moments",
    "classify",
    "day_array",
    "eve_of",
    "is_allowed",
    "is_holiday",
    "is_nudge_day",
    "is_quiet",
    "is_school_day",
    "iso_week",
    "local_day",
    "local_moment",
    "local_time",
    "next_evening",
    "nudge_day_mask",
    "nudge_moment",
    "nudge_moments",
    "open_spans",
    "school_day_mask",
    "school_days_between",
    "week_bounds",
    "week_of",
    "why_not",
    "zone_named",
]

WEEK_S = 7 * DAY_S
# A student whose wanted time has become quiet is asked this long before the quiet begins.
MARGIN_S = 15 * 60
# No school is closed for longer than this; past it the settings leave no time at all.
HORIZON_WEEKS = 60

Days = NDArray[np.datetime64]


class ImpossibleHours(SchoolDayError):
    """Hours that cannot be, or that leave no time for a nudge."""


class NoAllowedMoment(SchoolDayError):
    """No moment is allowed within the horizon."""


class Closed(StrEnum):
    """Why a moment is not allowed."""

    HOLIDAY = "holiday"
    NO_SCHOOL = "not a school day"
    LESSON = "lesson"
    QUIET = "quiet hours"


@dataclass(frozen=True, slots=True)
class Hours:
    """Local hours from `start` (included) to `end` (excluded); they wrap midnight when end is before start.

    Raises
    ------
    ImpossibleHours
        When start and end are equal: that would be the whole day, or nothing.
    """

    start: time
    end: time

    def __post_init__(self) -> None:
        if self.start == self.end:
            raise ImpossibleHours(
                f"Hours from {self.start:%H:%M} to {self.end:%H:%M} have no length. "
                "Give two different times, for example 20:00-07:30, or no hours at all."
            )

    def __contains__(self, moment: time) -> bool:
        if self.start < self.end:
            return self.start <= moment < self.end
        return moment >= self.start or moment < self.end

    def __str__(self) -> str:
        return f"{self.start:%H:%M}-{self.end:%H:%M}"

    @classmethod
    def from_text(cls, text: str) -> Hours:
        """Read hours as people write them: ``20:00-07:30``, ``20-7:30``, ``20.00 – 07.30``.

        Raises
        ------
        ImpossibleHours
            When the text is not two times of day.

        Examples
        --------
        >>> str(Hours.from_text("20 – 7.30"))
        '20:00-07:30'
        """
        parts = text.replace("–", "-").replace("—", "-").split("-")
        if len(parts) != 2:
            raise ImpossibleHours(f'"{text[:40]}" is not two times. Write for example 20:00-07:30.')
        return cls(_time_from_text(parts[0], text), _time_from_text(parts[1], text))


def _time_from_text(part: str, whole: str) -> time:
    hour, _, minute = part.strip().replace(".", ":").partition(":")
    try:
        return time(int(hour) % 24 if hour == "24" else int(hour), int(minute or 0))
    except ValueError:
        raise ImpossibleHours(
            f'"{part.strip()[:20]}" in "{whole[:40]}" is not a time of day. Write for example 20:00-07:30.'
        ) from None


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
    """Days without school, both ends included."""

    first: date
    last: date

    def __post_init__(self) -> None:
        if self.last < self.first:
            raise SchoolDayError(
                f"A holiday from {self.first} to {self.last} ends before it starts. Swap the dates."
            )

    def __contains__(self, day: date) -> bool:
        return self.first <= day <= self.last


DEFAULT_QUIET = Hours(time(20), time(7, 30))
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
    quiet: tuple[Hours, ...] = (DEFAULT_QUIET,)
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

    def for_student(self, *, zone: str | None = None, quiet: Iterable[Hours] = ()) -> SchoolDays:
        """Return the class's rules with a student's own zone and additional quiet hours.

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
            blocked: list[Hours | LessonHours] = [*self.quiet, *lessons]
            if any(not any(edge in hours for hours in blocked) for edge in edges):
                return
        told = ", ".join(str(hours) for hours in self.quiet)
        raise ImpossibleHours(
            f"Quiet hours {told} (with the lesson hours) leave no time for a nudge on any day. "
            "Shorten them so that part of a day stays open."
        )


# --- days -------------------------------------------------------------------------------------------------


def is_holiday(day: date, rules: SchoolDays) -> bool:
    """Whether the day lies in one of the holidays."""
    return any(day in holiday for holiday in rules.holidays)


def is_school_day(day: date, rules: SchoolDays) -> bool:
    """Whether school is held: a school weekday that is no holiday."""
    return day.weekday() in rules.weekdays and not is_holiday(day, rules)


def is_nudge_day(day: date, rules: SchoolDays) -> bool:
    """Whether the calendar allows nudges on the day."""
    return _closed_day(day, rules) is None


def _closed_day(day: date, rules: SchoolDays) -> Closed | None:
    if is_holiday(day, rules) and not rules.nudges_on_holidays:
        return Closed.HOLIDAY
    return None if day.weekday() in rules.asking_weekdays else Closed.NO_SCHOOL


def school_days_between(first: date, last: date, rules: SchoolDays) -> list[date]:
    """School days from `first` to `last`, both included; empty when last is before first."""
    count = max((last - first).days + 1, 0)
    days = [first + timedelta(days=n) for n in range(count)]
    return [day for day in days if is_school_day(day, rules)]


def day_array(first: date, n_days: int) -> Days:
    """Consecutive days, datetime64[D], shape (n_days,)."""
    return np.datetime64(first, "D") + np.arange(n_days)


def school_day_mask(days: Days, rules: SchoolDays) -> NDArray[np.bool_]:
    """:func:`is_school_day` for an array of days, same shape."""
    return _weekday_mask(days, rules.weekdays) & ~_holiday_mask(days, rules)


def nudge_day_mask(days: Days, rules: SchoolDays) -> NDArray[np.bool_]:
    """:func:`is_nudge_day` for an array of days, same shape."""
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


# --- moments ----------------------------------------------------------------------------------------------


def is_quiet(at: datetime, rules: SchoolDays) -> bool:
    """Whether the student's clock stands in quiet hours."""
    now = local_time(at, rules.home).time()
    return any(now in hours for hours in rules.quiet)


def why_not(at: datetime, rules: SchoolDays) -> Closed | None:
    """Why a nudge may not go out at this moment; None when it may."""
    school = local_time(at, rules.zone)
    closed = _closed_day(school.date(), rules)
    if closed is None and rules.student_zone is not None:
        closed = _closed_day(local_day(at, rules.home), rules)
    if closed is not None:
        return closed
    now, weekday = school.time(), school.weekday()
    if any(lesson.weekday == weekday and now in lesson for lesson in rules.lessons):
        return Closed.LESSON
    return Closed.QUIET if is_quiet(at, rules) else None


def is_allowed(at: datetime, rules: SchoolDays) -> bool:
    """Whether a nudge may go out at this moment."""
    return why_not(at, rules) is None


def allowed_moment(ideal: datetime, rules: SchoolDays) -> datetime:
    """Return the first allowed moment at or after the ideal one, UTC.

    Parameters
    ----------
    ideal : datetime
        Aware.
    rules : SchoolDays
        For one student: ``class_rules.for_student(zone=..., quiet=...)``.

    Raises
    ------
    NoAllowedMoment
        When none comes within 60 weeks.
    SchoolDayError
        When `ideal` is naive.
    """
    ideal = aware(ideal)
    if is_allowed(ideal, rules):
        return ideal
    ideal_s = int(ideal.timestamp())
    for start, _ in _spans_from(ideal_s, rules):
        if start > ideal_s:
            return datetime.fromtimestamp(start, UTC)
    raise NoAllowedMoment(
        f"No nudge is allowed in the {HORIZON_WEEKS} weeks after {ideal:%Y-%m-%d %H:%M} UTC. "
        "Shorten the holidays, quiet hours or lesson hours."
    )


def allowed_moments(ideals: NDArray[np.float64], rules: SchoolDays) -> NDArray[np.float64]:
    """:func:`allowed_moment` for an array, in POSIX seconds (UTC), same shape.

    NaN stays NaN. The open stretches are found once for the range of the array, so a million moments of a
    class cost one sorted search.

    Raises
    ------
    NoAllowedMoment
        When no moment is allowed within 60 weeks after the latest of them.
    """
    flat = np.asarray(ideals, dtype=np.float64).ravel()
    known = flat[~np.isnan(flat)]
    if known.size == 0:
        return np.array(ideals, dtype=np.float64)
    spans = _spans_covering(float(known.min()), float(known.max()), rules)
    index = np.minimum(np.searchsorted(spans[:, 1], flat, side="right"), len(spans) - 1)
    moved = np.maximum(flat, spans[index, 0])
    return np.where(np.isnan(flat), np.nan, moved).reshape(np.shape(ideals))


def _spans_covering(low: float, high: float, rules: SchoolDays) -> NDArray[np.float64]:
    found: list[tuple[int, int]] = []
    for span in _spans_from(int(low), rules, until_s=int(high)):
        found.append(span)
        if span[1] > high:
            return np.array(found, dtype=np.float64)
    raise NoAllowedMoment(
        f"No nudge is allowed in the {HORIZON_WEEKS} weeks after "
        f"{datetime.fromtimestamp(high, UTC):%Y-%m-%d %H:%M} UTC. Shorten the holidays or the hours."
    )


def open_spans(low: datetime, high: datetime, rules: SchoolDays) -> NDArray[np.int64]:
    """Stretches of allowed time between two moments, POSIX seconds, shape (n, 2), ends excluded."""
    low_s, high_s = int(aware(low).timestamp()), int(aware(high).timestamp())
    inside = [
        (max(start, low_s), min(end, high_s))
        for week in range(low_s // WEEK_S, high_s // WEEK_S + 1)
        for start, end in _week_spans(rules, week)
        if end > low_s and start < high_s
    ]
    return np.array(inside, dtype=np.int64).reshape(-1, 2)


def nudge_moment(day: date, wanted: time | int, rules: SchoolDays) -> datetime | None:
    """Return the moment of a day's nudge for a student who wants it at a time of day.

    Returns
    -------
    datetime or None
        The wanted time if it is allowed; else the first allowed moment after it on that day; else a quarter
        of an hour before the open time ends (so that a student whose time has become quiet is still asked);
        None when nothing is open on that day. UTC.
    """
    opening, closing = (local_moment(d, 0, rules.home) for d in (day, day + timedelta(days=1)))
    wanted_s = int(local_moment(day, wanted, rules.home).timestamp())
    spans = open_spans(opening, closing, rules)
    if len(spans) == 0:
        return None
    later = spans[spans[:, 1] > wanted_s]
    if len(later):
        return datetime.fromtimestamp(max(wanted_s, int(later[0, 0])), UTC)
    start, end = int(spans[-1, 0]), int(spans[-1, 1])
    return datetime.fromtimestamp(max(start, end - MARGIN_S), UTC)


def nudge_moments(days: Days, wanted: time | int, rules: SchoolDays) -> NDArray[np.float64]:
    """:func:`nudge_moment` for an array of days, POSIX seconds, NaN where nothing is open; same shape."""
    when = time_of(wanted)
    moments = [_nudge_s(day, when, rules) for day in days.astype("datetime64[D]").ravel().tolist()]
    return np.array(moments, dtype=np.float64).reshape(days.shape)


@lru_cache(maxsize=65_536)
def _nudge_s(day: date, wanted: time, rules: SchoolDays) -> float:
    moment = nudge_moment(day, wanted, rules)
    return float("nan") if moment is None else moment.timestamp()


def next_evening(after: datetime, rules: SchoolDays, evening: time = time(18)) -> datetime:
    """Return the first evening moment strictly after `after` on a day that allows nudges, UTC.

    Raises
    ------
    NoAllowedMoment
        When none comes within 60 weeks.
    """
    after = aware(after)
    day = local_day(after, rules.home)
    for n in range(HORIZON_WEEKS * 7):
        moment = nudge_moment(day + timedelta(days=n), evening, rules)
        if moment is not None and moment > after:
            return moment
    raise NoAllowedMoment(f"No evening is open in the {HORIZON_WEEKS} weeks after {after:%Y-%m-%d}.")


def eve_of(day: date, rules: SchoolDays, evening: time = time(18)) -> datetime | None:
    """Return the last evening on which a nudge is allowed before a day (a quiz); None within two weeks."""
    for n in range(1, 15):
        moment = nudge_moment(day - timedelta(days=n), evening, rules)
        if moment is not None:
            return moment
    return None


# --- open stretches ---------------------------------------------------------------------------------------


def _spans_from(low_s: int, rules: SchoolDays, until_s: int | None = None) -> Iterator[tuple[int, int]]:
    """Open stretches that end after `low_s`, week by week, to 60 weeks past `until_s`."""
    first = low_s // WEEK_S
    last = (low_s if until_s is None else until_s) // WEEK_S + HORIZON_WEEKS
    for week in range(first, last + 1):
        for span in _week_spans(rules, week):
            if span[1] > low_s:
                yield span


@lru_cache(maxsize=16_384)
def _week_spans(rules: SchoolDays, week: int) -> tuple[tuple[int, int], ...]:
    """Open stretches of the week that starts `week` times seven days after 1970-01-01 UTC."""
    low, high = week * WEEK_S, (week + 1) * WEEK_S
    edges = _edges(low, high, rules.zone, tuple(_school_times(rules)))
    edges |= _edges(low, high, rules.home, tuple(_home_times(rules)))
    edges |= {low, high}
    inside = sorted(edge for edge in edges if low <= edge <= high)
    spans: list[tuple[int, int]] = []
    for start, end in pairwise(inside):
        if not is_allowed(datetime.fromtimestamp(start, UTC), rules):
            continue
        if spans and spans[-1][1] == start:
            start = spans.pop()[0]
        spans.append((start, end))
    return tuple(spans)


def _school_times(rules: SchoolDays) -> set[time]:
    return {time(0), *(x.start for x in rules.lessons), *(x.end for x in rules.lessons)}


def _home_times(rules: SchoolDays) -> set[time]:
    return {time(0), *(h.start for h in rules.quiet), *(h.end for h in rules.quiet)}


def _edges(low: int, high: int, zone: str, times: tuple[time, ...]) -> set[int]:
    """Every second in the stretch at which a wall clock passes one of the times, or is changed."""
    clock = zone_named(zone)
    day = datetime.fromtimestamp(low, clock).date() - timedelta(days=1)
    edges = clock_changes(low, high, zone)
    for n in range((high - low) // DAY_S + 3):
        for when in times:
            for fold in (0, 1):
                wall = datetime.combine(day + timedelta(days=n), when.replace(fold=fold), clock)
                edges.add(int(wall.timestamp()))
    return edges
