"""Times, stretches of days and places as people type them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date, datetime, timedelta
from functools import cache
from zoneinfo import ZoneInfo, available_timezones

_TIME = re.compile(r"^(\d{1,2})(?:[:.h ]?(\d{2}))?\s*(am|pm|a\.m\.|p\.m\.|h|o'clock|uhr)?$")
_BETWEEN = re.compile(r"\s*(?:-|–|—|to|until|till|bis)\s*")
_STRETCH = re.compile(
    r"^(?:for\s+|für\s+)?(\d{1,3})\s*(day|days|d|week|weeks|w|tag|tage|tagen|t|woche|wochen)$"
)
_ISO = re.compile(r"^(?:until\s+|bis\s+)?(\d{4})-(\d{1,2})-(\d{1,2})$")
_DAY = re.compile(
    r"^(?:until\s+|bis\s+)?(?:zum\s+)?(\d{1,2})(?:\. ?|\s)\s*(\d{1,2}|[a-zä]{3,9})\.?\s*(\d{4})?$"
)
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_YEARS = range(2020, 2036)
"""Years in which zones are compared: the database has them beside the long history in which nobody plans."""
_GERMAN = {"jän": 1, "mär": 3, "mrz": 3, "mai": 5, "okt": 10, "dez": 12}


def minute_of_day(text: str) -> int | None:
    """Return minutes after midnight for ``18:30``, ``18.30``, ``1830``, ``6 pm``, ``7``; None for anything else.

    Examples
    --------
    >>> minute_of_day("18:30"), minute_of_day("6 pm"), minute_of_day("7.05"), minute_of_day("half six")
    (1110, 1080, 425, None)
    """
    found = _TIME.match(" ".join(text.casefold().split()))
    if found is None:
        return None
    hour, minute, half = int(found[1]), int(found[2] or 0), (found[3] or "").replace(".", "")
    if half in ("am", "pm"):
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if half == "pm" else 0)
    return hour * 60 + minute if hour < 24 and minute < 60 else None


def minutes_between(text: str) -> tuple[int, int] | None:
    """Return start and end for ``21:00-07:00`` or ``9 pm to 7 am``; None for anything else.

    Examples
    --------
    >>> minutes_between("21:00 – 7")
    (1260, 420)
    """
    parts = _BETWEEN.split(text.casefold().strip())
    if len(parts) != 2:
        return None
    start, end = minute_of_day(parts[0]), minute_of_day(parts[1])
    return None if start is None or end is None or start == end else (start, end)


def day_ahead(text: str, today: date) -> date | None:
    """Return the day that ``2 weeks``, ``2026-12-20``, ``20.12.`` or ``20 Dec`` means; None if none, or past.

    Day and month without a year are the next such day.

    Examples
    --------
    >>> day_ahead("2 weeks", date(2026, 11, 25)), day_ahead("3 Jan", date(2026, 11, 25))
    (datetime.date(2026, 12, 9), datetime.date(2027, 1, 3))
    >>> day_ahead("bis 20. Dez", date(2026, 11, 25)), day_ahead("10 Tage", date(2026, 11, 25))
    (datetime.date(2026, 12, 20), datetime.date(2026, 12, 5))
    """
    text = " ".join(text.casefold().split())
    if stretch := _STRETCH.match(text):
        return today + timedelta(days=int(stretch[1]) * (7 if stretch[2].startswith("w") else 1))
    if iso := _ISO.match(text):
        return _future(int(iso[1]), int(iso[2]), int(iso[3]), today)
    if found := _DAY.match(text):
        month = int(found[2]) if found[2].isdigit() else _month(found[2])
        if found[3]:
            return _future(int(found[3]), month, int(found[1]), today)
        return _future(today.year, month, int(found[1]), today) or _future(
            today.year + 1, month, int(found[1]), today
        )
    return None


def _month(name: str) -> int:
    short = name[:3]
    return _MONTHS.index(short) + 1 if short in _MONTHS else _GERMAN.get(short, 0)


def _future(year: int, month: int, day: int, today: date) -> date | None:
    try:
        wanted = date(year, month, day)
    except ValueError:
        return None
    return wanted if wanted > today else None


def zones_named(text: str, most: int = 6) -> tuple[str, ...]:
    """Return the IANA zones that a typed place may mean: its full name, else its city.

    Examples
    --------
    >>> zones_named("berlin"), zones_named("New York"), zones_named("Atlantis")
    (('Europe/Berlin',), ('America/New_York',), ())
    """
    wanted = "_".join(text.casefold().split())
    if not wanted:
        return ()
    names = _zones()
    if wanted in names:
        return (names[wanted],)
    found = [name for folded, name in names.items() if folded.rsplit("/", 1)[-1] == wanted]
    return distinct_zones(found)[:most]


def distinct_zones(names: Sequence[str]) -> tuple[str, ...]:
    """Return zones without those that are another name of one before: the zone database keeps old names.

    Examples
    --------
    >>> distinct_zones(["Europe/Istanbul", "Asia/Istanbul", "Europe/London"])
    ('Europe/Istanbul', 'Europe/London')
    """
    kept: dict[tuple[object, ...], str] = {}
    for name in names:
        kept.setdefault(_offsets(name), name)
    return tuple(kept.values())


@cache
def _offsets(name: str) -> tuple[object, ...]:
    """Return the offsets of a zone through some years: zones that share them all are one for a timetable."""
    zone = ZoneInfo(name)
    return tuple(zone.utcoffset(datetime(year, month, 15, 12)) for year in _YEARS for month in range(1, 13))  # noqa: DTZ001


@cache
def _zones() -> dict[str, str]:
    """Zones by folded name. Names without a place (EST, posix/…) mean no place where somebody lives."""
    elsewhere = ("Etc/", "posix/", "right/", "SystemV/")
    found = sorted(name for name in available_timezones() if "/" in name and not name.startswith(elsewhere))
    return {name.casefold(): name for name in [*found, "UTC"]}
