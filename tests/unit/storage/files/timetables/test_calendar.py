"""Calendars: zones of every kind, damaged events, and rules that would never end."""

from __future__ import annotations

from datetime import date, time

import pytest

from storage.files.reading import limits
from storage.files.reading.sheet import FileRefused
from storage.files.timetables.calendar import read_events
from storage.files.timetables.events import CalendarEvents, Occurrence, events_from_plain, events_to_plain
from tests.wording import sentence as english

FIRST, LAST = date(2026, 1, 1), date(2027, 7, 31)


def calendar(*events: tuple[str, ...], head: tuple[str, ...] = ()) -> bytes:
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//test//EN", *head]
    for event in events:
        lines += ["BEGIN:VEVENT", *event, "END:VEVENT"]
    return "\r\n".join([*lines, "END:VCALENDAR", ""]).encode()


def one(*lines: str, summary: str = "Forces") -> tuple[str, ...]:
    return (f"SUMMARY:{summary}", *lines)


def read(*events: tuple[str, ...], head: tuple[str, ...] = (), zone: str = "Europe/Berlin") -> CalendarEvents:
    return read_events(calendar(*events, head=head), "plan.ics", zone=zone, first=FIRST, last=LAST)


def sentences(events: CalendarEvents) -> list[str]:
    return [english(problem) for problem in events.problems]


@pytest.mark.parametrize(
    ("start", "expected"),
    [
        ("DTSTART:20261201T073000Z", time(8, 30)),
        ("DTSTART:20261201T083000", time(8, 30)),
        ("DTSTART;TZID=Europe/London:20261201T083000", time(9, 30)),
        ("DTSTART;TZID=W. Europe Standard Time:20261201T083000", time(8, 30)),
        ("DTSTART;TZID=GMT Standard Time:20261201T083000", time(9, 30)),
        ("DTSTART;TZID=Eastern Standard Time:20261201T023000", time(8, 30)),
    ],
)
def test_moments_of_every_kind_of_zone_come_to_the_class(start: str, expected: time) -> None:
    (found,) = read(one(start)).occurrences
    assert (found.first_day, found.start) == (date(2026, 12, 1), expected)


def test_zone_defined_in_the_file_itself_is_used() -> None:
    head = (
        *("BEGIN:VTIMEZONE", "TZID:School time", "BEGIN:STANDARD", "DTSTART:19700101T000000"),
        *("TZOFFSETFROM:+0300", "TZOFFSETTO:+0300", "END:STANDARD", "END:VTIMEZONE"),
    )
    (found,) = read(one("DTSTART;TZID=School time:20261201T103000"), head=head).occurrences
    assert found.start == time(8, 30)


def test_unknown_zone_is_a_problem_of_its_event() -> None:
    events = read(one("DTSTART;TZID=Nowhere/City:20261201T083000"), one("DTSTART:20261202T083000Z"))
    assert len(events.occurrences) == 1
    assert sentences(events) == [
        'Event 1: the time zone "Nowhere/City" is not known. '
        "Choose a zone by its city in your calendar program, for example Europe/Berlin."
    ]


@pytest.mark.parametrize(
    "rule",
    [
        "FREQ=SECONDLY",
        "FREQ=MINUTELY;INTERVAL=30",
        "FREQ=HOURLY;COUNT=5",
        "FREQ=DAILY;BYMINUTE=0,1,2,3,4,5",
        "FREQ=YEARLY;BYSECOND=0,1",
        "FREQ=DAILY;BYHOUR=0,1,2,3,4,5,6,7,8",
        "FREQ=DAILY;INTERVAL=0",
    ],
)
def test_rules_finer_than_a_timetable_are_refused_at_once(rule: str) -> None:
    events = read(one("DTSTART:20260901T083000Z", f"RRULE:{rule}"), one("DTSTART:20261202T083000Z"))
    assert len(events.occurrences) == 1
    assert sentences(events)[0].startswith(f'Event 1: the rule "{rule.split(";")[0]}')
    assert "repeats more often than a timetable can" in sentences(events)[0]


def test_rule_without_an_end_stays_in_the_window() -> None:
    events = read(one("DTSTART:20260901T083000Z", "RRULE:FREQ=WEEKLY"))
    assert events.occurrences[-1].first_day == date(2027, 7, 27)
    assert events.problems == ()


def test_rule_that_started_long_ago_is_refused() -> None:
    events = read(one("DTSTART:00010101T000000Z", "RRULE:FREQ=DAILY"))
    assert sentences(events) == [
        "Event 1: this event has been repeating since 0001-01-01. Enter it again with a start in this school year."
    ]


def test_rule_that_never_matches_ends() -> None:
    events = read(one("DTSTART:20260901T083000Z", "RRULE:FREQ=YEARLY;BYMONTH=2;BYMONTHDAY=30"))
    assert [problem.code for problem in events.problems] in ([], ["events_outside"])


@pytest.mark.parametrize(
    ("lines", "code"),
    [
        (("SUMMARY:No start",), "event_broken"),
        (("SUMMARY:Bad start", "DTSTART:2026-13-45"), "event_broken"),
        (("SUMMARY:Bad rule", "DTSTART:20261201T083000Z", "RRULE:FREQ=FOO"), "event_broken"),
        (("SUMMARY:Ends first", "DTSTART:20261201T083000Z", "DTEND;VALUE=DATE:20261202"), "event_broken"),
        (("SUMMARY:Old rule", "DTSTART:20261201T083000Z", "EXRULE:FREQ=DAILY"), "event_broken"),
        (("DTSTART:20261201T083000Z",), "event_untitled"),
        (("SUMMARY: ", "DTSTART:20261201T083000Z"), "event_untitled"),
        ((f"SUMMARY:{'x' * 501}", "DTSTART:20261201T083000Z"), "cell_long"),
    ],
)
def test_damaged_event_costs_only_itself(lines: tuple[str, ...], code: str) -> None:
    events = read(one("DTSTART:20261201T083000Z"), lines)
    assert len(events.occurrences) == 1
    assert [(problem.code, problem.row, problem.place) for problem in events.problems] == [(code, 2, "event")]


def test_moved_and_cancelled_single_lessons_of_a_series() -> None:
    series = one("UID:s", "DTSTART;TZID=Europe/Berlin:20261102T080000", "RRULE:FREQ=WEEKLY;COUNT=4")
    moved = one(
        "UID:s", "RECURRENCE-ID;TZID=Europe/Berlin:20261109T080000", "DTSTART;TZID=Europe/Berlin:20261111T100000",
        summary="Springs",
    )  # fmt: skip
    off = one(
        "UID:s", "RECURRENCE-ID;TZID=Europe/Berlin:20261116T080000", "DTSTART;TZID=Europe/Berlin:20261116T080000",
        "STATUS:CANCELLED",
    )  # fmt: skip
    events = read(series, moved, off)
    assert [(found.number, found.title, found.first_day.day) for found in events.occurrences] == [
        (1, "Forces", 2),
        (2, "Springs", 11),
        (1, "Forces", 23),
    ]


def test_additional_days_of_a_series_are_read() -> None:
    events = read(one("DTSTART:20261201T073000Z", "RDATE:20261204T073000Z,20261208T073000Z"))
    assert [found.first_day.day for found in events.occurrences] == [1, 4, 8]


def test_events_far_from_today_are_counted_and_left_out() -> None:
    events = read(one("DTSTART:20160901T083000Z"), one("DTSTART:20261201T083000Z"))
    assert len(events.occurrences) == 1
    assert [problem.code for problem in events.problems] == ["events_outside"]


def test_event_past_midnight_has_no_end() -> None:
    (found,) = read(one("DTSTART:20261201T190000Z", "DTEND:20261202T010000Z")).occurrences
    assert (found.start, found.end, found.last_day) == (time(20, 0), None, date(2026, 12, 1))


def test_too_many_events_are_refused() -> None:
    with pytest.raises(FileRefused) as refused:
        read(*[one("DTSTART:20261201T083000Z")] * (limits.EVENTS + 1))
    assert refused.value.problem.code == "events_many"


def test_too_many_occurrences_are_refused() -> None:
    daily = one("DTSTART:20260102T083000Z", "RRULE:FREQ=DAILY")
    with pytest.raises(FileRefused) as refused:
        read(*[daily] * 5)
    assert refused.value.problem.code == "events_many"


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (b"BEGIN:VCALENDAR\r\nEND:VCALENDAR\r\n", "rows_none_calendar"),
        (b"BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\n", "rows_none_calendar"),
        (b"BEGIN:VCALENDAR\r\nnonsense without colon\r\nEND:VEVENT\r\n", "file_broken"),
    ],
)
def test_files_that_are_no_calendar_are_refused(data: bytes, code: str) -> None:
    with pytest.raises(FileRefused) as refused:
        read_events(data, "plan.ics", zone="UTC", first=FIRST, last=LAST)
    assert refused.value.problem.code in (code, "file_broken")


def test_events_survive_the_way_through_json() -> None:
    day = date(2026, 12, 1)
    events = CalendarEvents(
        (
            Occurrence(1, "Forces", "Homework: p. 12", ("Physics",), day, day, time(8, 30), time(9, 15)),
            Occurrence(2, "Half-term", "", (), day, date(2026, 12, 5), None, None),
        ),
        2,
        (),
    )
    assert events_from_plain(events_to_plain(events)) == events
