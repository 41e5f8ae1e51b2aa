"""Wall clocks of the IANA time zones: local times to moments, clock changes, days and ISO weeks.

Aware UTC datetimes go in and out; a wall-clock time is always a day, a time of day and a zone's name, so that
no naive datetime exists. A local time that a clock change skips means the first valid moment after the gap;
one that comes twice means its first occurrence. Subtracting two aware datetimes of one zone gives wall-clock
time, not elapsed time (a Python habit): everything here is UTC before it is compared.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta, tzinfo
from enum import StrEnum
from functools import lru_cache
from itertools import pairwise
from zoneinfo import ZoneInfo

DAY_S = 86_400
DAY_MIN = 24 * 60


class SchoolDayError(ValueError):
    """The settings of a school day make no sense; the message says what to change."""


class UnknownZone(SchoolDayError):
    """No such IANA time zone."""


class LocalTimeKind(StrEnum):
    """What a clock change makes of a local time."""

    NORMAL = "normal"
    AMBIGUOUS = "ambiguous"
    NONEXISTENT = "nonexistent"


@lru_cache(maxsize=1024)
def zone_named(name: str) -> ZoneInfo:
    """Return the IANA zone of that name.

    Raises
    ------
    UnknownZone
        When the name is not in the IANA time zone database.
    """
    try:
        return ZoneInfo(name)
    except (OSError, ValueError, KeyError):
        raise UnknownZone(
            f'"{name[:60]}" is not a time zone. Use an IANA name, for example Europe/London.'
        ) from None


def aware(at: datetime) -> datetime:
    """Return the moment in UTC.

    Raises
    ------
    SchoolDayError
        When it is naive.
    """
    if at.tzinfo is None or at.utcoffset() is None:
        raise SchoolDayError(f"{at.isoformat()} has no time zone. Moments must be aware (UTC).")
    return at.astimezone(UTC)


def local_time(at: datetime, zone: str) -> datetime:
    """Return the moment on the wall clock of a zone, aware.

    Parameters
    ----------
    at : datetime
        An aware moment.
    zone : str
        IANA zone, such as ``Europe/London``.
    """
    return aware(at).astimezone(zone_named(zone))


def local_day(at: datetime, zone: str) -> date:
    """Return the calendar day of a moment in a zone.

    Parameters
    ----------
    at : datetime
        An aware moment.
    zone : str
        IANA zone, such as ``Europe/London``.
    """
    return local_time(at, zone).date()


def classify(day: date, when: time, zone: str) -> LocalTimeKind:
    """Whether a local time exists once, twice or not at all in a zone.

    Parameters
    ----------
    day : date
        A calendar day of the class.
    when : time
        Local time of day, without a zone.
    zone : str
        IANA zone, such as ``Europe/London``.

    Notes
    -----
    PEP 495: the two folds have the same offset for an ordinary time; the first has the larger offset in an
    overlap and the smaller one in a gap.
    """
    clock = zone_named(zone)
    first, second = (_offset_s(datetime.combine(day, when.replace(fold=fold), clock)) for fold in (0, 1))
    if first == second:
        return LocalTimeKind.NORMAL
    return LocalTimeKind.AMBIGUOUS if first > second else LocalTimeKind.NONEXISTENT


def local_moment(day: date, when: time | int, zone: str) -> datetime:
    """Return the aware UTC moment of a local time of day.

    Parameters
    ----------
    day : date
    when : time or int
        Time of day, or minutes since local midnight (0..1439).
    zone : str
        IANA name.

    Returns
    -------
    datetime
        UTC. A time skipped by a clock change gives the first valid moment after the gap; a time that comes
        twice gives its first occurrence.

    Raises
    ------
    SchoolDayError
        When the minute is outside the day.

    Examples
    --------
    >>> local_moment(date(2027, 3, 28), time(1, 30), "Europe/London").isoformat()
    '2027-03-28T01:00:00+00:00'
    """
    clock = zone_named(zone)
    wall = datetime.combine(day, time_of(when), clock)
    if classify(day, wall.time(), zone) is LocalTimeKind.NONEXISTENT:
        # In a gap fold 1 lies before the change and fold 0 after it.
        return _change_between(wall.replace(fold=1).astimezone(UTC), wall.astimezone(UTC), clock)
    return wall.astimezone(UTC)


def time_of(when: time | int) -> time:
    """Return a time of day from a time or from minutes since midnight.

    Raises
    ------
    SchoolDayError
        When the minute is outside the day.
    """
    if isinstance(when, time):
        return when.replace(tzinfo=None, fold=0)
    if not 0 <= when < DAY_MIN:
        raise SchoolDayError(f"Minute {when} is outside the day. Give 0 (00:00) to 1439 (23:59).")
    return time(when // 60, when % 60)


def _offset_s(moment: datetime) -> float:
    offset = moment.utcoffset()
    if offset is None:  # pragma: no cover - a ZoneInfo always has one
        raise SchoolDayError(f"{moment} has no offset.")
    return offset.total_seconds()


def _change_between(low: datetime, high: datetime, clock: tzinfo) -> datetime:
    """Find the first whole second in (low, high] with high's offset; the two ends differ in theirs."""
    after = _offset_s(high.astimezone(clock))
    low_s, high_s = int(low.timestamp()), int(high.timestamp())
    while high_s - low_s > 1:
        middle = (low_s + high_s) // 2
        if _offset_s(datetime.fromtimestamp(middle, clock)) == after:
            high_s = middle
        else:
            low_s = middle
    return datetime.fromtimestamp(high_s, UTC)


def iso_week(day: date) -> tuple[int, int]:
    """ISO 8601 year and week of a day; the year differs from the calendar's around New Year."""
    return day.isocalendar()[:2]


def week_of(at: datetime, zone: str) -> tuple[int, int]:
    """ISO year and week of a moment in a zone.

    Parameters
    ----------
    at : datetime
        An aware moment.
    zone : str
        IANA zone, such as ``Europe/London``.
    """
    return iso_week(local_day(at, zone))


def week_bounds(year: int, week: int, zone: str) -> tuple[datetime, datetime]:
    """First moment of an ISO week in a zone and first moment after it, UTC.

    Parameters
    ----------
    year : int
        ISO year.
    week : int
        ISO week. [1..53]
    zone : str
        IANA zone, such as ``Europe/London``.

    Raises
    ------
    SchoolDayError
        When that year has no such week.
    """
    try:
        monday = date.fromisocalendar(year, week, 1)
    except ValueError:
        raise SchoolDayError(f"There is no week {week} in {year}. Weeks run from 1 to 52 or 53.") from None
    return local_moment(monday, 0, zone), local_moment(monday + timedelta(days=7), 0, zone)


def clock_changes(low: int, high: int, zone: str) -> set[int]:
    """Clock changes of a zone between two moments, POSIX seconds; two never lie within six hours.

    Parameters
    ----------
    low : int
        Where to begin. [POSIX seconds]
    high : int
        Where to end. [POSIX seconds]
    zone : str
        IANA zone, such as ``Europe/London``.
    """
    clock = zone_named(zone)
    step = DAY_S // 4
    marks = [datetime.fromtimestamp(s, clock) for s in range(low - step, high + step + 1, step)]
    return {
        int(_change_between(before.astimezone(UTC), after.astimezone(UTC), clock).timestamp())
        for before, after in pairwise(marks)
        if before.utcoffset() != after.utcoffset()
    }
