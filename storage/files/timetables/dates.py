"""Days and times as teachers write them, read without guessing.

Real date cells, ISO forms (2026-11-25, 20261125, 2026-11-25T08:30), local forms with dots, slashes or
dashes, month
names and weekday names in English, German, French, Spanish, Italian, Dutch and Portuguese.

Which comes first, the day or the month?
    With dots the day does: no locale of the Unicode CLDR writes month.day.year with dots (a test goes
    through them
    all). With slashes or dashes it depends on the country, so 03/04/2027 is *doubtful*. A doubt is
    settled by the
    teacher's choice, by the heading ("date (dd/mm/yyyy)"), by a weekday in the cell, or by other rows of
    the same
    column that can be read in one way only. Otherwise the teacher is asked.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta

from storage.files.problem import (
    DAY_FIRST,
    MONTH_FIRST,
    DateOrder,
    Phrase,
    PossibleReading,
    Problem,
    Weekday,
    problem,
)
from storage.files.reading.sheet import Cell, Fault, shown
from storage.files.timetables.names import MONTHS, WEEKDAYS, unaccented

ISO_ORDER = DateOrder(("year", "month", "day"), "-")
_SPOKEN_ORDER = DateOrder(("day", "month", "year"), " ")

_YEAR = r"(?P<year>\d{4}|\d{2})"
_CLOCK = r"(?:[T ]\s*(?P<clock>\d{1,2}:\d{2})(?::\d{2}(?:\.\d+)?)?(?:Z|[+-]\d{2}:?\d{2})?)?"
_YEAR_FIRST = re.compile(
    r"(?P<year>\d{4})(?P<sep>[-./]\s?)(?P<month>\d{1,2})(?P=sep)(?P<day>\d{1,2})\.?" + _CLOCK
)
_COMPACT = re.compile(r"(?P<year>(?:19|20)\d{2})(?P<month>\d{2})(?P<day>\d{2})")
_NUMBERS = re.compile(r"(?P<a>\d{1,2})(?P<sep>\s?[-./]\s?)(?P<b>\d{1,2})(?P=sep)" + _YEAR + _CLOCK)
_NO_YEAR = re.compile(r"(?P<a>\d{1,2})(?P<sep>\s?[-./]\s?)(?P<b>\d{1,2})\.?")
_WEEK = re.compile(
    r"(?:(?P<word>kw|cw|kalenderwoche|calendar week|week|wk|woche)\.?\s?(?P<week>\d{1,2})"
    r"|(?P<week_first>\d{1,2})\.\s?kw)"
    r"(?:\s*[,:;/-]?\s*(?P<day>[^\W\d_]+)\.?)?",
    re.IGNORECASE,
)
_WEEK_AFTER = re.compile(
    r"(?P<day>[^\W\d_]+)\.?\s*[,:;/-]?\s*(?P<rest>(?:kw|week|wk)\.?\s?\d{1,2})", re.IGNORECASE
)
_GERMAN_DAYS = {"di": frozenset({1}), "do": frozenset({3})}
_CALENDAR_WEEKS_FROM = 20
"""A "week" below this number may be the week of a term; "KW" (common practice in German) is always that of ISO 8601."""
SCHOOL_YEAR_FROM = 8
"""The month in which a school year begins at the latest (common practice, no source)."""
_WORDS_DAY_FIRST = re.compile(
    r"(?P<day>\d{1,2})(?:st|nd|rd|th|er|º|°|\.)?[\s./-]*(?:de\s+|of\s+)?(?P<name>[^\W\d_]{3,12})\.?"
    r"(?:[\s./,-]*(?:de\s+|del\s+)?" + _YEAR + ")?"
)
_WORDS_MONTH_FIRST = re.compile(
    r"(?P<name>[^\W\d_]{3,12})\.?[\s./-]*(?P<day>\d{1,2})(?:st|nd|rd|th)?(?:\s*,\s*|\s+)(?P<year>\d{4})"
)
_WEEKDAY = re.compile(
    r"(?P<name>[^\W\d_]+(?:-feira)?)\.?,?\s*(?P<rest>\d.*|[^\W\d_]{3,12}\.?\s*\d.*)", re.DOTALL
)


@dataclass(frozen=True)
class DayRead:
    """How one cell was read as a day.

    Attributes
    ----------
    day : date or None
        The day, if there is exactly one.
    clock : time or None
        A time of day written in the same cell.
    other : date or None
        The second possible day: then ``day`` is the day-first one and the cell is doubtful.
    order : bool or None
        Evidence for the column: True if only day-first was possible, False if only month-first.
    fault : Problem or None
        Why there is no day.
    typed : bool
        Whether it is a text (True) or a real date cell (False).
    year_added : bool
        Whether the cell names no year and that of the school year was taken.
    """

    day: date | None = None
    clock: time | None = None
    other: date | None = None
    order: bool | None = None
    fault: Problem | None = None
    typed: bool = True
    year_added: bool = False


def read_day(cell: Cell, *, day_first: bool | None, today: date) -> DayRead:
    """Read a cell as a day.

    Parameters
    ----------
    cell : Cell
        As it came from the file; not None.
    day_first : bool or None
        The order that is known for the column; None if unknown.
    today : date
        For examples in messages.

    Returns
    -------
    DayRead

    Examples
    --------
    >>> read_day("3. April 2027", day_first=None, today=date(2026, 11, 25)).day
    datetime.date(2027, 4, 3)
    >>> both = read_day("03/04/2027", day_first=None, today=date(2026, 11, 25))
    >>> both.day, both.other
    (datetime.date(2027, 4, 3), datetime.date(2027, 3, 4))
    >>> read_day("13/04/2027", day_first=None, today=date(2026, 11, 25)).order
    True
    """
    if isinstance(cell, datetime):
        return DayRead(cell.date(), clock=cell.time(), typed=False)
    if isinstance(cell, date):
        return DayRead(cell, typed=False)
    if isinstance(cell, Fault | time | bool) or cell is None:
        return DayRead(fault=_unread(shown(cell), today, day_first))
    text = " ".join(unicodedata.normalize("NFKC", shown(cell)).split()).replace("−", "-").replace("–", "-")
    if not _COMPACT.fullmatch(text) and re.fullmatch(r"-?\d{1,12}(?:\.\d{1,15})?(?:e\+\d+)?", text, re.ASCII):
        return DayRead(fault=_plain_number(float(text), text))
    read = _read_text(text, day_first, today)
    return read if read.day or read.fault else DayRead(fault=_unread(text, today, day_first))


def _read_text(text: str, day_first: bool | None, today: date) -> DayRead:
    """Try each written form; an empty DayRead if none fits."""
    read = _read_bare(text, day_first, today)
    if not (read.day or read.fault):
        read = _read_week(text, today)
    if read.day or read.fault:
        return read
    prefixed = _WEEKDAY.fullmatch(text)
    days = WEEKDAYS.get(unaccented(prefixed["name"])) if prefixed else None
    if not prefixed or not days:
        return DayRead()
    return _fit_weekday(_read_bare(prefixed["rest"].strip(), day_first, today), days, text)


def _read_bare(text: str, day_first: bool | None, today: date) -> DayRead:
    """Read a day without a weekday in front."""
    found = _YEAR_FIRST.fullmatch(text) or _COMPACT.fullmatch(text)
    if found:
        day = real_day(int(found["year"]), int(found["month"]), int(found["day"]))
        sample = f"{today.year}-02-28" if not day else ""
        fault = problem("date_unreal", found=text, order=ISO_ORDER, example=sample)
        return DayRead(day, clock=_clock(found.groupdict().get("clock"))) if day else DayRead(fault=fault)
    found = _NUMBERS.fullmatch(text)
    if found:
        return _read_numbers(found, text, day_first)
    found = _WORDS_DAY_FIRST.fullmatch(text) or _WORDS_MONTH_FIRST.fullmatch(text)
    if found and (month := MONTHS.get(unaccented(found["name"]))):
        return _read_words(found, month, text, today)
    found = _NO_YEAR.fullmatch(text)
    if found:
        return _read_two_numbers(found, text, day_first, today)
    return DayRead()


def school_year(month: int, today: date) -> int:
    """Return the year that a month without one has in the school year that `today` is in, or that is planned then.

    From August to May that is the school year which is under way. In June and July the months from August on, and
    those after them, are the coming one's.

    Examples
    --------
    >>> school_year(9, date(2026, 11, 25)), school_year(3, date(2026, 11, 25)), school_year(9, date(2027, 3, 1))
    (2026, 2027, 2026)
    >>> school_year(9, date(2027, 6, 20)), school_year(2, date(2027, 6, 20)), school_year(7, date(2027, 6, 20))
    (2027, 2028, 2027)
    """
    if today.month >= SCHOOL_YEAR_FROM:
        return today.year if month >= SCHOOL_YEAR_FROM else today.year + 1
    if today.month <= SCHOOL_YEAR_FROM - 3:
        return today.year - 1 if month >= SCHOOL_YEAR_FROM else today.year
    return today.year + 1 if month <= SCHOOL_YEAR_FROM - 3 else today.year


def _read_two_numbers(found: re.Match[str], text: str, day_first: bool | None, today: date) -> DayRead:
    """Read day and month; the year is that of the school year."""
    a, b, sep = int(found["a"]), int(found["b"]), found["sep"].strip()
    if sep == ".":
        day_first = True
    by_day, by_month = (
        real_day(school_year(month, today), month, day) if 1 <= month <= 12 else None
        for day, month in ((a, b), (b, a))
    )
    if day_first is not None:
        day = by_day if day_first else by_month
        if day is None:
            nearest = _nearest(a, b, today.year, sep, day_first)
            return DayRead(fault=problem("date_unreal", found=text, **nearest))
        return DayRead(day, year_added=True)
    if by_day and by_month and by_day != by_month:
        return DayRead(by_day, other=by_month, year_added=True)
    if not by_day and not by_month:
        return DayRead(fault=problem("date_unreal", found=text, **_nearest(a, b, today.year, sep, b <= 12)))
    same = by_day == by_month
    return DayRead(by_day or by_month, order=None if same else by_day is not None, year_added=True)


def _read_week(text: str, today: date) -> DayRead:
    """Read a calendar week (ISO 8601) and a weekday in it; a week alone is no day."""
    after = _WEEK_AFTER.fullmatch(text)
    found = _WEEK.fullmatch(f"{after['rest']} {after['day']}" if after else text)
    if found is None:
        return DayRead()
    week, named = int(found["week"] or found["week_first"]), found["day"]
    term_week = (found["word"] or "").casefold() in ("week", "wk", "woche") and week < _CALENDAR_WEEKS_FROM
    days = WEEKDAYS.get(unaccented(named), frozenset()) if named else frozenset()
    if len(days) > 1:  # "Di" and "Do" are also days of other languages, in which nobody writes KW
        days = days & _GERMAN_DAYS.get(unaccented(named or ""), frozenset())
    if term_week or not 1 <= week <= 53 or len(days) != 1:
        return DayRead(fault=problem("date_week", found=text, order=ISO_ORDER, example=f"{today:%Y-%m-%d}"))
    (day,) = days
    # A week in the middle of a month stands for its month well enough: 1 to 30 lie before August, 31 to 53 after.
    month = min(12, max(1, round(week / 4.345 + 0.5)))
    try:
        return DayRead(date.fromisocalendar(school_year(month, today), week, day + 1), year_added=True)
    except ValueError:
        return DayRead(fault=problem("date_unreal", found=text, order=ISO_ORDER, example=f"{today:%Y-%m-%d}"))


def _read_words(found: re.Match[str], month: int, text: str, today: date) -> DayRead:
    """Read a day whose month is a name."""
    year = full_year(found["year"]) if found["year"] else school_year(month, today)
    day = real_day(year, month, int(found["day"]))
    if day is None:
        example = date(year, month, _last_day(year, month))
        return DayRead(fault=problem("date_unreal", found=text, order=_SPOKEN_ORDER, example=example))
    return DayRead(day, year_added=not found["year"])


def _read_numbers(found: re.Match[str], text: str, day_first: bool | None) -> DayRead:
    """Read three numbers: with dots the day comes first, otherwise as known, or in both ways."""
    a, b, year, sep = int(found["a"]), int(found["b"]), full_year(found["year"]), found["sep"].strip()
    clock = _clock(found["clock"])
    if sep == ".":
        day_first = True
    by_day, by_month = real_day(year, b, a), real_day(year, a, b)
    if day_first is not None:
        day = by_day if day_first else by_month
        fault = None if day else problem("date_unreal", found=text, **_nearest(a, b, year, sep, day_first))
        return DayRead(day, clock=clock, fault=fault)
    if by_day and by_month and by_day != by_month:
        return DayRead(by_day, clock=clock, other=by_month)
    if not by_day and not by_month:
        return DayRead(fault=problem("date_unreal", found=text, **_nearest(a, b, year, sep, b <= 12)))
    same = by_day == by_month
    return DayRead(by_day or by_month, clock=clock, order=None if same else by_day is not None)


def _fit_weekday(read: DayRead, days: frozenset[int], text: str) -> DayRead:
    """Let the weekday in the cell confirm the day, settle a doubt, or show a slip."""
    if read.day is None:
        return read
    fits = [day for day in (read.day, read.other) if day and day.weekday() in days]
    if not fits:
        return DayRead(
            fault=problem(
                "date_weekday", found=text, meant=f"{read.day:%Y-%m-%d}", weekday=Weekday(read.day.weekday())
            )
        )
    if len(fits) == 1 and read.other is not None:
        return replace(read, day=fits[0], other=None, order=fits[0] == read.day)
    return read


def _plain_number(cell: float, text: str) -> Problem:
    """Name the day that a number would be as a spreadsheet's day number, without taking it."""
    hint: Phrase | str = ""
    if 20000 <= cell <= 80000:  # 1954 to 2119
        day = date(1899, 12, 30) + timedelta(days=int(cell))
        hint = Phrase("hint.day_number", (("day", day.isoformat()),))
    return problem("date_number", found=text, hint=hint)


def _unread(text: str, today: date, day_first: bool | None) -> Problem:
    return problem("date_unread", found=text, **_advice(".", today, day_first))


def _advice(sep: str, today: date, day_first: bool | None) -> dict[str, str | DateOrder]:
    """Say how to write a date in this column, with today as the example."""
    if day_first is False:
        return {"order": DateOrder(("month", "day", "year"), "/"), "example": f"{today:%m/%d/%Y}"}
    return {"order": DateOrder(("day", "month", "year"), sep), "example": f"{today:%d{sep}%m{sep}%Y}"}


def _nearest(a: int, b: int, year: int, sep: str, day_first: bool) -> dict[str, str | DateOrder]:
    """Say how to write a date that does not exist, with the last real day of its month as the example."""
    month = min(max(b if day_first else a, 1), 12)
    day = min(max(a if day_first else b, 1), _last_day(year, month))
    numbers = (f"{day:02d}", f"{month:02d}") if day_first else (f"{month:02d}", f"{day:02d}")
    names = ("day", "month") if day_first else ("month", "day")
    return {"order": DateOrder((*names, "year"), sep), "example": sep.join((*numbers, f"{year:04d}"))}


def _last_day(year: int, month: int) -> int:
    return next(day for day in (31, 30, 29, 28) if real_day(year, month, day))


def real_day(year: int, month: int, day: int) -> date | None:
    """Give the day if it exists.

    Examples
    --------
    >>> real_day(2027, 2, 29) is None, real_day(2028, 2, 29)
    (True, datetime.date(2028, 2, 29))
    """
    try:
        return date(year, month, day)
    except ValueError:
        return None


def full_year(digits: str) -> int:
    """Read a year of two digits as one of this century: no school year of the past one is uploaded."""
    year = int(digits)
    return year + 2000 if len(digits) == 2 else max(year, 1)


def _clock(text: str | None) -> time | None:
    read = read_time(text) if text else None
    return read if isinstance(read, time) else None


def options(read: DayRead) -> tuple[PossibleReading, PossibleReading]:
    """Give both readings of a doubtful cell.

    Examples
    --------
    >>> [one.day for one in options(DayRead(date(2027, 4, 3), other=date(2027, 3, 4)))]
    [datetime.date(2027, 4, 3), datetime.date(2027, 3, 4)]
    """
    assert read.day is not None  # noqa: S101 - a doubtful cell has both days
    assert read.other is not None  # noqa: S101
    return (
        PossibleReading("days", DAY_FIRST, day=read.day),
        PossibleReading("days", MONTH_FIRST, day=read.other),
    )


def order_of(reads: Iterable[DayRead]) -> bool | None:
    """Tell the order of a column from the cells that can be read in one way only; None if they differ or are none."""
    orders = {read.order for read in reads if read.order is not None}
    return orders.pop() if len(orders) == 1 else None


def order_in_heading(heading: str) -> bool | None:
    """Read the order from a heading such as ``Date (mm/dd/yyyy)`` or ``Datum TT.MM.JJJJ``.

    Examples
    --------
    >>> order_in_heading("Date (DD/MM/YYYY)"), order_in_heading("date mm-dd-yy"), order_in_heading("Datum")
    (True, False, None)
    """
    if re.search(r"\b[dtj]{1,2}\s?[-./]\s?m{1,3}\b", heading, re.IGNORECASE):
        return True
    if re.search(r"\bm{1,2}\s?[-./]\s?[dtj]{1,2}\b", heading, re.IGNORECASE):
        return False
    return None


_RANGE = re.compile(
    r"\s+(?:-|–|—|to|until|till|bis|au|al|a|hasta|tot|até|/)\s+|\s*[–—]\s*|(?<=\d\.)-(?=\d)|(?<=\.\d{4})-(?=\d{1,2}\.)"
)


def split_range(text: str) -> tuple[str, str] | None:
    """Cut a range such as ``19.10.2026 - 30.10.2026`` or ``19.-30.10.2026`` into two days written in full.

    What the first half leaves out (year, month) is taken from the second.

    Examples
    --------
    >>> split_range("19.10. – 30.10.2026"), split_range("19–30 October 2026")
    (('19.10.2026', '30.10.2026'), ('19 October 2026', '30 October 2026'))
    """
    parts = _RANGE.split(text.strip())
    if len(parts) != 2 or not all(re.search(r"\d", part) for part in parts):
        return None
    first, second = parts
    pieces, tokens = re.findall(r"[^\W_]+|[\W_]+", second), re.findall(r"[^\W_]+", first)
    words = [index for index, piece in enumerate(pieces) if piece[0].isalnum()]
    if len(tokens) < len(words):
        rest = words[len(tokens) - 1] + 1
        first = "".join(_refill(tokens, pieces, words)) + "".join(pieces[rest:])
    return first, second


def _refill(tokens: list[str], pieces: list[str], words: list[int]) -> list[str]:
    """Write the first tokens with the separators of the second half."""
    out: list[str] = []
    for position, token in enumerate(tokens):
        if position:
            out.extend(pieces[words[position - 1] + 1 : words[position]])
        out.append(token)
    return out


_TIME = re.compile(
    r"(?P<hour>\d{1,2})(?:\s?[:.h]\s?(?P<minute>\d{2})?(?::(?P<second>\d{2}))?)?\s?"
    r"(?P<half>[ap]\.?\s?m\.?)?\s?(?:uhr|h|hrs?|o'clock|horas)?",
    re.IGNORECASE,
)
_FOUR_DIGITS = re.compile(r"(?P<hour>[01]\d|2[0-3])(?P<minute>[0-5]\d)")
_TIME_RANGE = re.compile(r"\s*(?:-|–|—|to|bis|until)\s*", re.IGNORECASE)


def read_time(cell: Cell) -> time | tuple[time, time] | None:
    """Read a cell as a time of day, or as two with a dash between; None if it is neither.

    Examples
    --------
    >>> read_time("8.30 Uhr"), read_time("2:05 pm"), read_time("8h"), read_time("0830"), read_time("25:00")
    (datetime.time(8, 30), datetime.time(14, 5), datetime.time(8, 0), datetime.time(8, 30), None)
    >>> read_time("08:30-09:15")
    (datetime.time(8, 30), datetime.time(9, 15))
    """
    if isinstance(cell, datetime):
        return cell.time()
    if isinstance(cell, time):
        return cell
    if not isinstance(cell, str):
        return None  # 8.5 could be 8:30 or 8:50
    text = unicodedata.normalize("NFKC", cell).strip()
    single = _read_single(text)
    if single is not None:
        return single
    parts = _TIME_RANGE.split(text)
    if len(parts) == 2:
        first, second = (_read_single(part.strip()) for part in parts)
        if first is not None and second is not None:
            return first, second
    return None


def _read_single(text: str) -> time | None:
    """Read one time; a bare number of one or two digits is no time (it may be a period of the day)."""
    found = _FOUR_DIGITS.fullmatch(text) or _TIME.fullmatch(text)
    if found is None or re.fullmatch(r"\d{1,2}\.?", text):
        return None
    hour, minute = int(found["hour"]), int(found["minute"] or 0)
    half = (found.groupdict().get("half") or "").lower()
    if half:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if half.startswith("p") else 0)
    return time(hour, minute) if hour < 24 and minute < 60 else None
