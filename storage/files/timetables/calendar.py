"""iCalendar files (RFC 5545) to occurrences in the class's own time. Imported only by the limited child process.

``icalendar`` parses and resolves time zones (IANA names, Windows names, zones defined in the file);
``recurring_ical_events`` expands repetitions, exceptions and moved single occurrences. Each series is expanded by
itself, so that a damaged one costs only its own lessons.

Rules finer than daily are refused before anything is expanded: ``FREQ=SECONDLY`` over a term is ten million moments.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import icalendar
import recurring_ical_events

from storage.files.problem import Phrase, Problem, problem
from storage.files.reading import limits
from storage.files.reading.encodings import decode
from storage.files.reading.sheet import Fault, FileRefused, text_cell
from storage.files.timetables.events import CalendarEvents, Occurrence

_FREQUENCIES = {"DAILY", "WEEKLY", "MONTHLY", "YEARLY"}
_HOURS_A_DAY = 8
_OLDEST_START = timedelta(days=3660)


class _BadEvent(Exception):
    """One event cannot be used."""

    def __init__(self, what: Problem) -> None:
        super().__init__(what.code)
        self.problem = what


@dataclass(frozen=True)
class _Numbered:
    number: int
    event: icalendar.Component


def read_events(
    data: bytes, name: str, *, zone: str, first: date, last: date, encoding: str | None = None
) -> CalendarEvents:
    """Read a calendar and expand its repetitions between two days.

    Parameters
    ----------
    data : bytes
        The file.
    name : str
        Its name, for messages only.
    zone : str
        IANA name of the class's time zone; times without a zone are meant in it.
    first, last : date
        Days to expand over, both included.
    encoding : str, optional
        The encoding that the teacher chose, where it was asked about.

    Returns
    -------
    CalendarEvents

    Raises
    ------
    FileRefused
        If it is no calendar, or holds or makes more than ``limits.EVENTS`` events.

    References
    ----------
    B. Desruisseaux (ed.), RFC 5545 (2009), sections 3.6.1 (all-day events end before DTEND), 3.8.5 (repetition).
    """
    series = list(_series(_calendars(data, name, encoding), name))
    here = ZoneInfo(zone)
    found: list[Occurrence] = []
    problems: list[Problem] = []
    outside = 0
    for group in series:
        try:
            occurrences = _expand(group, here, first, last)
        except _BadEvent as bad:
            problems.append(bad.problem)
            continue
        outside += not occurrences and not all(_cancelled(one.event) for one in group)
        found.extend(one for one in occurrences if one is not None)
        if len(found) > limits.EVENTS:
            raise FileRefused(problem("events_many", name=name, limit=limits.EVENTS))
    if outside:
        problems.append(problem("events_outside", size=outside, limit=(last - first).days // 2))
    found.sort(key=lambda one: (one.first_day, one.start or time(0), one.number))
    return CalendarEvents(tuple(found), sum(len(group) for group in series), tuple(problems))


def _calendars(data: bytes, name: str, encoding: str | None) -> list[icalendar.Component]:
    """Parse the file, whatever its encoding, refusing it if it is no calendar or holds too many events."""
    text = decode(data, name, encoding)
    if text.upper().count("BEGIN:VEVENT") > limits.EVENTS:
        raise FileRefused(problem("events_many", name=name, limit=limits.EVENTS))
    try:
        return list(icalendar.Calendar.from_ical(text, multiple=True))
    except (ValueError, KeyError, IndexError):  # what the parser raises on lines that are no content lines
        raise FileRefused(problem("file_broken", name=name, kind=Phrase("kind.calendar"))) from None


def _series(calendars: list[icalendar.Component], name: str) -> Iterator[list[_Numbered]]:
    """Put events of one UID together: a repeating event and its moved or changed single occurrences."""
    groups: dict[tuple[int, str], list[_Numbered]] = {}
    number = 0
    for index, calendar in enumerate(calendars):
        for event in calendar.walk("VEVENT"):
            number += 1
            uid = str(event.get("UID", "")) or f"without {number}"
            groups.setdefault((index, uid), []).append(_Numbered(number, event))
    if not groups:
        raise FileRefused(problem("rows_none_calendar", name=name))
    yield from groups.values()


def _expand(group: list[_Numbered], here: ZoneInfo, first: date, last: date) -> list[Occurrence]:
    """Give the occurrences of a series between two days; _BadEvent if any part of it cannot be trusted."""
    for one in group:
        _check(one, first)
    try:
        if len(group) == 1 and not _repeats(group[0].event):
            events = [group[0].event]
        else:
            calendar = icalendar.Calendar()
            for one in group:
                calendar.add_component(one.event)
            events = list(recurring_ical_events.of(calendar).between(first, last + timedelta(days=1)))
        made = [_occurrence(group, event, here) for event in events if not _cancelled(event)]
    except _BadEvent:
        raise
    except (
        Exception
    ) as fault:  # the libraries raise many kinds on odd rules; each means: this series is unreadable
        raise _bad(group[0], "event_broken", found=type(fault).__name__) from None
    return [one for one in made if first <= one.first_day <= last]


def _check(one: _Numbered, first: date) -> None:
    """Refuse an event whose start, zone, title or rule cannot be used."""
    event = one.event
    for part, _reason in event.errors:
        raise _bad(one, "event_broken", found=part or "a line")
    start = event.get("DTSTART")
    if start is None or isinstance(start, list):
        raise _bad(one, "event_broken", found="DTSTART")
    for part in ("DTSTART", "DTEND", "RECURRENCE-ID"):
        _check_zone(one, part)
    if "EXRULE" in event:
        raise _bad(one, "event_broken", found="EXRULE")
    rules = event.get("RRULE", [])
    for rule in rules if isinstance(rules, list) else [rules]:
        _check_rule(one, rule)
        if first - _day(start.dt) > _OLDEST_START:
            raise _bad(one, "event_old", found=_day(start.dt).isoformat())


def _check_zone(one: _Numbered, part: str) -> None:
    """Refuse a time whose zone is named but not known: it would silently count as local."""
    value = one.event.get(part)
    if value is None or isinstance(value, list):
        return
    zone = value.params.get("TZID")
    if zone and isinstance(value.dt, datetime) and value.dt.tzinfo is None:
        raise _bad(one, "event_zone", found=zone)


def _check_rule(one: _Numbered, rule: Any) -> None:
    """Refuse rules that repeat within an hour, or many times a day, in whatever way they say it."""
    parts = {str(key).upper(): value if isinstance(value, list) else [value] for key, value in rule.items()}
    frequency = str(parts.get("FREQ", [""])[0]).upper()
    often = len(parts.get("BYMINUTE", [])) > 1 or len(parts.get("BYSECOND", [])) > 1
    often = often or len(parts.get("BYHOUR", [])) > _HOURS_A_DAY
    endless = any(
        str(value) in ("0", "00") or str(value).startswith("-") for value in parts.get("INTERVAL", [])
    )
    if (
        frequency not in _FREQUENCIES or often or endless
    ):  # an interval of 0 would repeat at one moment for ever
        raise _bad(one, "event_rule", found=rule.to_ical().decode("utf-8", "replace"))


def _occurrence(group: list[_Numbered], event: icalendar.Component, here: ZoneInfo) -> Occurrence:
    """Bring one event into the class's own time."""
    one = _origin(group, event)
    title = text_cell(_text(event, "SUMMARY"))
    if title is None:
        raise _bad(one, "event_untitled")
    if isinstance(title, Fault):
        raise _bad(one, title.code, found=title.found, size=title.size, limit=limits.CELL_CHARACTERS)
    start, end = (getattr(event, part) for part in ("start", "end"))
    categories = tuple(str(word) for word in _categories(event))
    about = _text(event, "DESCRIPTION")[: limits.CELL_CHARACTERS]
    if not isinstance(start, datetime):
        last_day = max(start, _day(end) - timedelta(days=1))
        return Occurrence(one.number, title, about, categories, start, last_day, None, None)
    local, until = _local(start, here), _local(end, here) if isinstance(end, datetime) else None
    same_day = until is not None and until.date() == local.date() and until > local
    stop = until.time() if until is not None and same_day else None
    return Occurrence(one.number, title, about, categories, local.date(), local.date(), local.time(), stop)


def _origin(group: list[_Numbered], event: icalendar.Component) -> _Numbered:
    """Find which event of the file an occurrence comes from, by its RECURRENCE-ID or else the first."""
    wanted = event.get("RECURRENCE-ID")
    for one in group:
        given = one.event.get("RECURRENCE-ID")
        if wanted is not None and given is not None and given.dt == wanted.dt:
            return one
    return group[0]


def _local(moment: datetime, here: ZoneInfo) -> datetime:
    """Bring a moment to the class's zone; one without a zone is meant there already."""
    return moment.replace(tzinfo=here) if moment.tzinfo is None else moment.astimezone(here)


def _day(moment: date | datetime) -> date:
    return moment.date() if isinstance(moment, datetime) else moment


def _text(event: icalendar.Component, part: str) -> str:
    """Give a text property, the first one if it is there several times."""
    value = event.get(part, "")
    return str(value[0] if isinstance(value, list) and value else value)


def _categories(event: icalendar.Component) -> list[str]:
    value = event.get("CATEGORIES")
    if value is None:
        return []
    groups = value if isinstance(value, list) else [value]
    return [str(word) for group in groups for word in getattr(group, "cats", [])]


def _repeats(event: icalendar.Component) -> bool:
    return any(part in event for part in ("RRULE", "RDATE", "RECURRENCE-ID", "EXDATE"))


def _cancelled(event: icalendar.Component) -> bool:
    return _text(event, "STATUS").upper() == "CANCELLED"


def _bad(one: _Numbered, code: str, *, found: str | None = None, **fields: object) -> _BadEvent:
    return _BadEvent(replace(problem(code, found=found, **fields), row=one.number, place="event"))
