"""Days, times and spans as a teacher types them in a chat, read without guessing."""

from __future__ import annotations

import re
from datetime import date, time, timedelta

from storage.files.timetables.dates import WEEKDAYS, read_day, read_time, split_range

_NEAR = {"today": 0, "tomorrow": 1, "yesterday": -1, "heute": 0, "morgen": 1, "gestern": -1}

LONG_PAST = timedelta(days=90)
"""A day without a year that is longer past than this is meant for next year: nobody plans backwards."""


def read_days(text: str, today: date) -> tuple[date, ...]:
    """Return the days that a text can mean: none, one, or two when day and month could be swapped.

    Parameters
    ----------
    text : str
        ``tomorrow``, ``Friday``, ``11 Dec``, ``11.12.``, ``2026-12-11``, ``3/4/2027``.
    today : date
        The local day; a weekday means its next occurrence after today.

    Examples
    --------
    >>> read_days("11 Dec", date(2026, 11, 25))
    (datetime.date(2026, 12, 11),)
    >>> read_days("3/4/2027", date(2026, 11, 25))
    (datetime.date(2027, 4, 3), datetime.date(2027, 3, 4))
    >>> read_days("friday", date(2026, 11, 25)), read_days("someday", date(2026, 11, 25))
    ((datetime.date(2026, 11, 27),), ())
    """
    plain = " ".join(text.casefold().replace(",", " ").split()).removeprefix("on ").removeprefix("am ")
    plain = re.sub(r"^(?:next|nächste[nrs]?|kommende[nrs]?) ", "", plain)
    near = _NEAR.get(plain)
    if near is not None:
        return (today + timedelta(days=near),)
    days = WEEKDAYS.get(plain)
    if days is not None and len(days) == 1 and len(plain) > 2:
        return (today + timedelta(days=(next(iter(days)) - today.weekday() - 1) % 7 + 1),)
    bare = re.sub(r"^\s*(?:on|next|am|nächste[nrs]?)\s+", "", text, flags=re.IGNORECASE).strip()
    return _read(bare, today) or _read_without_year(bare, today)


_WEEKS_AGO = {
    **{"last": 1, "last week": 1, "this": 0, "this week": 0},
    **{"letzte": 1, "letzte woche": 1, "diese": 0, "diese woche": 0},
}
_WEEK = re.compile(
    r"(?:(\d{4})[\s-]*)?(?:w(?:eek|oche)?|kw)[\s-]*(\d{1,2})|(?:week\s+)?(\d{1,2})", re.IGNORECASE
)


def read_week(text: str, today: date) -> date | None:
    """Return the Monday of the ISO week that a text means, or None.

    Parameters
    ----------
    text : str
        ``last``, ``this``, ``W48``, ``week 48``, ``48``, ``2026-W48``, or a day in the week.
    today : date
        The local day; a week without its year is the latest one of that number that has begun.

    Examples
    --------
    >>> read_week("last week", date(2026, 11, 25)), read_week("W48", date(2026, 11, 25))
    (datetime.date(2026, 11, 16), datetime.date(2026, 11, 23))
    >>> read_week("50", date(2026, 11, 25)), read_week("2026-W53", date(2026, 11, 25))
    (datetime.date(2025, 12, 8), datetime.date(2026, 12, 28))
    >>> read_week("12 Oct", date(2026, 11, 25)), read_week("week 60", date(2026, 11, 25))
    (datetime.date(2026, 10, 12), None)
    """
    plain = text.strip().casefold()
    monday = today - timedelta(days=today.weekday())
    named = _WEEKS_AGO.get(plain)
    if named is not None:
        return monday - timedelta(weeks=named)
    shape = _WEEK.fullmatch(plain)
    if shape is not None:
        return _monday(shape[1], int(shape[2] or shape[3]), today)
    days = read_days(text, today)
    return days[0] - timedelta(days=days[0].weekday()) if len(days) == 1 else None


def _monday(year: str | None, week: int, today: date) -> date | None:
    """Return the Monday of a numbered week; without its year, of the latest that has begun."""
    years = (int(year),) if year else (today.year + 1, today.year, today.year - 1)
    for one in years:
        try:
            found = date.fromisocalendar(one, week, 1)
        except ValueError:
            continue
        if year or found <= today:
            return found
    return None


def read_span(text: str, today: date) -> tuple[date, date] | None:
    """Return the first and last day of a span such as ``21 Dec - 3 Jan``; one day is a span of itself.

    None when it cannot be read, or could be read in two ways.
    """
    halves = re.split(r"\s+(?:-|–|—|to|until|bis)\s+|\s*[–—]\s*", text.strip())
    if len(halves) == 2 and all(halves):
        first, last = (read_days(half, today) for half in halves)
        if len(first) == 1 and len(last) == 1:
            # "21 Dec - 3 Jan" typed in January: both lie in the coming winter or both in the past one.
            return first[0], last[0] if last[0] >= first[0] else _later_year(last[0], first[0])
    cut = split_range(text.strip())
    if cut is not None:
        first, last = (read_days(half, today) for half in cut)
        return _ordered(first[0], last[0]) if len(first) == 1 and len(last) == 1 else None
    single = read_days(text, today)
    return (single[0], single[0]) if len(single) == 1 else None


def read_minute(text: str) -> int | None:
    """Return a time of day as minutes after midnight: ``18:00``, ``6 pm``, ``18.30``; a bare ``18`` too.

    Examples
    --------
    >>> read_minute("6:30 pm"), read_minute("18"), read_minute("25:00")
    (1110, 1080, None)
    """
    typed = text.strip()
    if re.fullmatch(r"\d{1,2}", typed):
        typed += ":00"
    read = read_time(typed)
    return read.hour * 60 + read.minute if isinstance(read, time) else None


def read_weekday(text: str) -> int | None:
    """Return the weekday that a text names, Monday 0.

    Examples
    --------
    >>> read_weekday("Fri"), read_weekday("day")
    (4, None)
    """
    days = WEEKDAYS.get(text.strip().casefold().rstrip("."))
    return next(iter(days)) if days is not None and len(days) == 1 else None


def _read(text: str, today: date) -> tuple[date, ...]:
    read = read_day(text, day_first=None, today=today)
    return tuple(day for day in (read.day, read.other) if day is not None)


def _read_without_year(text: str, today: date) -> tuple[date, ...]:
    bare = text.rstrip(". ")
    joint = re.search(r"[-/.]", bare)
    separator = joint[0] if joint and re.fullmatch(r"\d{1,2}\s?[-/.]\s?\d{1,2}", bare) else " "
    here = _read(f"{bare}{separator}{today.year}", today)
    return tuple(day if day >= today - LONG_PAST else _later_year(day, today) for day in here)


def _ordered(first: date, last: date) -> tuple[date, date]:
    """Put the first half of ``21.12.-03.01.2027`` into the year before the one it took from the second."""
    if first > last and first.month > last.month:
        return first.replace(
            year=last.year - 1, day=min(first.day, 28) if first.month == 2 else first.day
        ), last
    return first, last


def _later_year(day: date, after: date) -> date:
    year = after.year if day.replace(year=after.year, day=min(day.day, 28)) >= after else after.year + 1
    try:
        return day.replace(year=year)
    except ValueError:  # 29 February
        return day.replace(year=year, day=28)
