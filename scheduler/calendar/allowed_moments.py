"""From an ideal moment to an allowed one: school days, lessons and quiet hours applied to moments.

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
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from scheduler.calendar.quiet_hours import in_quiet_hours
from scheduler.calendar.school_days import Closed, Days, SchoolDays, closed_day
from scheduler.calendar.zones import (
    DAY_S,
    SchoolDayError,
    aware,
    clock_changes,
    local_day,
    local_moment,
    local_time,
    time_of,
    zone_named,
)

WEEK_S = 7 * DAY_S
# A student whose wanted time has become quiet is asked this long before the quiet begins.
MARGIN_S = 15 * 60
# No school is closed for longer than this; past it the settings leave no time at all.
HORIZON_WEEKS = 60


class NoAllowedMoment(SchoolDayError):
    """No moment is allowed within the horizon."""


def is_quiet(at: datetime, rules: SchoolDays) -> bool:
    """Whether the student's clock stands in quiet hours.

    Parameters
    ----------
    at : datetime
        An aware moment.
    rules : SchoolDays
        Zone, school weekdays, holidays, lessons and quiet hours.
    """
    return in_quiet_hours(local_time(at, rules.home).time(), rules.quiet)


def why_not(at: datetime, rules: SchoolDays) -> Closed | None:
    """Why a nudge may not go out at this moment; None when it may.

    Parameters
    ----------
    at : datetime
        An aware moment.
    rules : SchoolDays
        Zone, school weekdays, holidays, lessons and quiet hours.
    """
    school = local_time(at, rules.zone)
    closed = closed_day(school.date(), rules)
    if closed is None and rules.student_zone is not None:
        closed = closed_day(local_day(at, rules.home), rules)
    if closed is not None:
        return closed
    now, weekday = school.time(), school.weekday()
    if any(lesson.weekday == weekday and now in lesson for lesson in rules.lessons):
        return Closed.LESSON
    return Closed.QUIET if is_quiet(at, rules) else None


def is_allowed(at: datetime, rules: SchoolDays) -> bool:
    """Whether a nudge may go out at this moment.

    Parameters
    ----------
    at : datetime
        An aware moment.
    rules : SchoolDays
        Zone, school weekdays, holidays, lessons and quiet hours.
    """
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

    Parameters
    ----------
    ideals : ndarray
        Moments that would be best, of any shape. [POSIX seconds, UTC]
    rules : SchoolDays
        Zone, school weekdays, holidays, lessons and quiet hours.

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
    """Stretches of allowed time between two moments, POSIX seconds, shape (n, 2), ends excluded.

    Parameters
    ----------
    low : datetime
        Where to begin, aware.
    high : datetime
        Where to end, aware.
    rules : SchoolDays
        Zone, school weekdays, holidays, lessons and quiet hours.
    """
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

    Parameters
    ----------
    day : date
        A calendar day of the class.
    wanted : time or int
        Time of day that the student wants; an int is minutes after local midnight.
    rules : SchoolDays
        Zone, school weekdays, holidays, lessons and quiet hours.

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
    """:func:`nudge_moment` for an array of days, POSIX seconds, NaN where nothing is open; same shape.

    Parameters
    ----------
    days : ndarray of datetime64[D]
        Calendar days of the class, of any shape.
    wanted : time or int
        Time of day that the student wants; an int is minutes after local midnight.
    rules : SchoolDays
        Zone, school weekdays, holidays, lessons and quiet hours.
    """
    when = time_of(wanted)
    moments = [_nudge_s(day, when, rules) for day in days.astype("datetime64[D]").ravel().tolist()]
    return np.array(moments, dtype=np.float64).reshape(days.shape)


@lru_cache(maxsize=65_536)
def _nudge_s(day: date, wanted: time, rules: SchoolDays) -> float:
    moment = nudge_moment(day, wanted, rules)
    return float("nan") if moment is None else moment.timestamp()


def next_evening(after: datetime, rules: SchoolDays, evening: time = time(18)) -> datetime:
    """Return the first evening moment strictly after `after` on a day that allows nudges, UTC.

    Parameters
    ----------
    after : datetime
        An aware moment.
    rules : SchoolDays
        Zone, school weekdays, holidays, lessons and quiet hours.
    evening : time
        Local time of day that counts as the evening.

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
    """Return the last evening on which a nudge is allowed before a day (a quiz); None within two weeks.

    Parameters
    ----------
    day : date
        A calendar day of the class.
    rules : SchoolDays
        Zone, school weekdays, holidays, lessons and quiet hours.
    evening : time
        Local time of day that counts as the evening.
    """
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
