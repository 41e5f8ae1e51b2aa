"""Days and spans of days as students and teachers type them, read without guessing.

What can be two days is two days: the conversation asks which. The forms are English and German; names of months
and weekdays, and dates written in full, are those that the sheets of a school may have.
"""

from __future__ import annotations

import re
import unicodedata
from datetime import date, timedelta

from storage.files.timetables.dates import read_day, split_range
from storage.files.timetables.names import WEEKDAYS, unaccented

LONG_PAST = timedelta(days=90)
"""A day without a year that is longer past than this is meant for next year: nobody plans backwards."""

FARTHEST = 100
"""Years from today: a day beyond them is a slip of the finger."""

_DAY = timedelta(days=1)
_NEAR = {
    **{"today": 0, "tomorrow": 1, "yesterday": -1},
    **{"heute": 0, "morgen": 1, "übermorgen": 2, "gestern": -1},
}
_FEW = {**dict.fromkeys(("a", "an", "one", "ein", "eine", "einem", "einen", "einer"), 1), "two": 2, "zwei": 2}
_UNITS = r"days?|weeks?|tagen?|tage?|wochen?"
_LENGTH = rf"(?:(?P<n>\d{{1,3}})\s*(?P<unit>{_UNITS}|[dwt])|(?P<few>{'|'.join(_FEW)})\s+(?P<units>{_UNITS}))"
_STRETCH = re.compile(rf"(?:(?:for|in|für)\s+)?{_LENGTH}", re.IGNORECASE)
_LASTING = re.compile(rf"(?:(?:for|für)\s+)?{_LENGTH}", re.IGNORECASE)
_LASTING_FROM = re.compile(rf"{_LENGTH}\s+(?:(?:from|ab|vom|von)\s+)?(?P<day>.+)", re.IGNORECASE)
_FOR_SOME = re.compile(
    rf"(?:(?:from|ab|vom|von)\s+)?(?P<day>.+?),?\s+(?:(?:for|für)\s+)?{_LENGTH}", re.IGNORECASE
)
_UNTIL = re.compile(r"^(?:until|till|bis)\s+(?:zum\s+)?", re.IGNORECASE)
_FROM = re.compile(r"^(?:from|von|vom)\s+", re.IGNORECASE)
_BEFORE_A_DAY = re.compile(r"^(?:(?:on|next|am|den|the|nächste[nrs]?|kommende[nrs]?)\s+)+", re.IGNORECASE)
_WEEKDAY_FIRST = re.compile(r"([^\W\d_]+(?:-feira)?)\.?,?\s+(\S.*)")
_AFTER_A_WEEKDAY = re.compile(r"^([^\W\d_]+\.?,?\s+)(?:den|the)\s+", re.IGNORECASE)
_SPACED = re.compile(r"(\d{1,2})\.?\s+(\d{1,2})\.?(?:\s*(\d{4}))?|(\d{1,2})\.(\d{1,2})\s+(\d{4})")
_MONTH_THEN_TWO = re.compile(
    r"([^\W\d_]{3,12}\.?)\s+(\d{1,2})\s*(?:-|–|—|\s(?:to|until|till|bis)\s)\s*(\d{1,2})(?:,?\s+(\d{4}))?",
    re.IGNORECASE,
)


def read_days(text: str, today: date, *, stretches: bool = True) -> tuple[date, ...]:
    """Return the days that a text can mean: none, one, or two when day and month could be swapped.

    Parameters
    ----------
    text : str
        ``tomorrow``, ``Friday``, ``11 Dec``, ``Dec 11``, ``11.12.``, ``2026-12-11``, ``3/4/2027``, ``2 weeks``,
        ``until Friday``.
    today : date
        The local day; a weekday means its next occurrence after today.
    stretches : bool
        Whether ``2 weeks`` is a day. False where somebody may mean how long instead of until when.

    Examples
    --------
    >>> read_days("11 Dec", date(2026, 11, 25)), read_days("2 weeks", date(2026, 11, 25))
    ((datetime.date(2026, 12, 11),), (datetime.date(2026, 12, 9),))
    >>> read_days("3/4/2027", date(2026, 11, 25))
    (datetime.date(2027, 4, 3), datetime.date(2027, 3, 4))
    >>> read_days("friday", date(2026, 11, 25)), read_days("someday", date(2026, 11, 25))
    ((datetime.date(2026, 11, 27),), ())
    """
    return (stretches and _after_stretch(text, today)) or _named_days(text, today, today - LONG_PAST)


def days_ahead(text: str, today: date) -> tuple[date, ...]:
    """Return the days to come that a text can mean, in order; without a year, the next such day.

    Examples
    --------
    >>> days_ahead("2 weeks", date(2026, 11, 25)), days_ahead("3 Jan", date(2026, 11, 25))
    ((datetime.date(2026, 12, 9),), (datetime.date(2027, 1, 3),))
    >>> days_ahead("bis 20. Dez", date(2026, 11, 25)), days_ahead("10 Tage", date(2026, 11, 25))
    ((datetime.date(2026, 12, 20),), (datetime.date(2026, 12, 5),))
    >>> days_ahead("yesterday", date(2026, 11, 25))
    ()
    """
    found = _named_days(text, today, today + _DAY)
    return _after_stretch(text, today) or tuple(sorted(day for day in found if day > today))


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
    days = _named_days(text, today, today - LONG_PAST)
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

    A length alone (``3 days``) and ``until friday`` begin today. None when it cannot be read, or could be read in
    two ways.

    Examples
    --------
    >>> read_span("from 3 to 7 Dec", date(2026, 11, 25)) == read_span("5 days from 3 Dec", date(2026, 11, 25))
    True
    >>> read_span("until friday", date(2026, 11, 25))
    (datetime.date(2026, 11, 25), datetime.date(2026, 11, 27))
    """
    typed = " ".join(text.split())
    if lasting := _LASTING.fullmatch(typed):
        return _lasting(today, lasting)
    if _UNTIL.match(typed):
        return _span_of(today, _one(_named_days(typed, today, today)))
    typed = re.sub(r"\b(bis) zum\b", r"\1", _FROM.sub("", typed), flags=re.IGNORECASE)
    found = _two_days(typed, today) or _day_and_length(typed, today)
    if found is not None:
        return found
    day = _one(read_days(typed, today))
    return None if day is None else (day, day)


def _two_days(text: str, today: date) -> tuple[date, date] | None:
    """Read the first and the last day of a span, written one after the other."""
    if month_first := _MONTH_THEN_TWO.fullmatch(text):
        month, start, end, year = month_first.groups("")
        text = f"{start} - {end} {month} {year}".strip()
    text = re.sub(r"^(\d{1,2})-(?=\d{1,2}\.?\s*[^\W\d_])", r"\1 - ", text)
    halves = re.split(r"\s+(?:-|–|—|to|until|till|bis)\s+|\s*[–—]\s*", text, flags=re.IGNORECASE)
    if len(halves) == 2 and all(halves):
        first = _one(read_days(halves[0], today))
        if first is not None and _weekday_alone(halves[1]) is not None:
            return _span_of(first, _one(read_days(halves[1], first - _DAY)))
        last = _one(read_days(halves[1], today))
        if first is not None and last is not None:
            # "21 Dec - 3 Jan" typed in January: both lie in the coming winter or both in the past one.
            return first, last if last >= first else _later_year(last, first)
    cut = split_range(text)
    first, last = (_one(read_days(half, today)) for half in cut) if cut is not None else (None, None)
    return None if first is None or last is None else _ordered(first, last)


def _day_and_length(text: str, today: date) -> tuple[date, date] | None:
    """Read ``5 Dec for 3 days`` and ``3 days from 5 Dec``."""
    found = _FOR_SOME.fullmatch(text) or _LASTING_FROM.fullmatch(text)
    first = _one(_named_days(found["day"], today, today - LONG_PAST)) if found else None
    return None if found is None or first is None else _lasting(first, found)


def read_weekday(text: str) -> int | None:
    """Return the weekday that a text names, Monday 0.

    Examples
    --------
    >>> read_weekday("Fri"), read_weekday("day")
    (4, None)
    """
    days = WEEKDAYS.get(unaccented(text.strip()).rstrip("."))
    return next(iter(days)) if days is not None and len(days) == 1 else None


def _weekday_alone(text: str) -> int | None:
    """Return the weekday that is all of a text; two letters are too often another word ("so", "do")."""
    bare = _BEFORE_A_DAY.sub("", text.strip()).rstrip(".,")
    return read_weekday(bare) if len(bare) > 2 else None


def _length(found: re.Match[str]) -> timedelta:
    n = int(found["n"]) if found["n"] else _FEW[found["few"].casefold()]
    return n * timedelta(days=7 if (found["unit"] or found["units"]).casefold().startswith("w") else 1)


def _after_stretch(text: str, today: date) -> tuple[date, ...]:
    """Return the day after a stretch of days that begins today: ``2 weeks``, ``in 3 days``, ``10 Tage``."""
    found = _STRETCH.fullmatch(" ".join(unicodedata.normalize("NFKC", text).split()))
    return () if found is None else (today + _length(found),)


def _lasting(first: date, found: re.Match[str]) -> tuple[date, date] | None:
    return _span_of(first, first + _length(found) - _DAY)


def _span_of(first: date, last: date | None) -> tuple[date, date] | None:
    return None if last is None or last < first else (first, last)


def _one(days: tuple[date, ...]) -> date | None:
    return days[0] if len(days) == 1 else None


def _named_days(text: str, today: date, earliest: date) -> tuple[date, ...]:
    """Return the days that a text names; one without a year is the first such day from `earliest` on."""
    plain = " ".join(unicodedata.normalize("NFKC", text).split())
    bare = _AFTER_A_WEEKDAY.sub(r"\1", _BEFORE_A_DAY.sub("", _UNTIL.sub("", plain)))
    near = _NEAR.get(bare.casefold())
    if near is not None:
        return (today + timedelta(days=near),)
    weekday = _weekday_alone(bare)
    if weekday is not None:
        return (today + timedelta(days=(weekday - today.weekday() - 1) % 7 + 1),)
    if spaced := _SPACED.fullmatch(bare):
        bare = ".".join(number for number in spaced.groups() if number)
    return _read(bare, today) or _read_without_year(bare, today, earliest)


def _read(text: str, today: date) -> tuple[date, ...]:
    """Read a day with its year; words also in capitals."""
    read = read_day(text, day_first=None, today=today)
    if read.day is None and text != text.casefold():
        return _read(text.casefold(), today)
    if read.year_added:
        return ()  # files are of a school year, what somebody types is of the days from now on
    days = (day for day in (read.day, read.other) if day is not None)
    return tuple(day for day in days if abs(day.year - today.year) <= FARTHEST)


def _read_without_year(text: str, today: date, earliest: date) -> tuple[date, ...]:
    """Read a day without its year, and with a weekday only where that weekday is right.

    The year is this one, or where that day lies before `earliest` the next; last year's only where a weekday says so.
    """
    weekdays, bare = _weekday_before(text.rstrip(". "))
    joint = re.search(r"[-/.]", bare)
    separator = joint[0] if joint and re.fullmatch(r"\d{1,2}\s?[-/.]\s?\d{1,2}", bare) else " "
    found: dict[tuple[int, int], date] = {}
    settled: set[tuple[int, int]] = set()
    for year in (today.year, today.year + 1, today.year - 1):
        for day in _read(f"{bare}{separator}{year}", today):
            place = (day.month, day.day)
            if day < earliest or (year > today.year and place in settled):
                continue
            settled.add(place)
            if weekdays is None or day.weekday() in weekdays:
                found.setdefault(place, day)
    return tuple(found.values())


def _weekday_before(text: str) -> tuple[frozenset[int] | None, str]:
    """Cut the weekday off a text such as ``Fri 11 Dec``; None where there is none."""
    found = _WEEKDAY_FIRST.fullmatch(text)
    weekdays = WEEKDAYS.get(unaccented(found[1])) if found else None
    return (
        (None, text)
        if found is None or weekdays is None or not re.search(r"\d", found[2])
        else (weekdays, found[2])
    )


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
