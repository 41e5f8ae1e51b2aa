"""Repetition rules against the occurrences printed in RFC 5545.

Source: B. Desruisseaux (ed.), RFC 5545 "Internet Calendaring and Scheduling Core Object Specification (iCalendar)",
September 2009, section 3.8.5.3, examples with TZID America/New_York; all-day events: section 3.6.1; time zones:
section 3.6.5 and the VTIMEZONE of section 4. The RFC's "every 3 hours" example is left out: its printed result
contradicts its own UNTIL, and rules finer than daily are refused here.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

import pytest

from storage.files.timetables.calendar import read_events
from storage.files.timetables.events import CalendarEvents

# name, DTSTART, RRULE, EXDATE, occurrences as printed (for endless rules, the first ones that the RFC prints)
RULES = [
    (
        "daily 10",
        "19970902T090000",
        "FREQ=DAILY;COUNT=10",
        "",
        """
        1997-09-02T09:00-04:00 1997-09-03T09:00-04:00 1997-09-04T09:00-04:00 1997-09-05T09:00-04:00
        1997-09-06T09:00-04:00 1997-09-07T09:00-04:00 1997-09-08T09:00-04:00 1997-09-09T09:00-04:00
        1997-09-10T09:00-04:00 1997-09-11T09:00-04:00
        """,
    ),
    (
        "weekly 10 across DST",
        "19970902T090000",
        "FREQ=WEEKLY;COUNT=10",
        "",
        """
        1997-09-02T09:00-04:00 1997-09-09T09:00-04:00 1997-09-16T09:00-04:00 1997-09-23T09:00-04:00
        1997-09-30T09:00-04:00 1997-10-07T09:00-04:00 1997-10-14T09:00-04:00 1997-10-21T09:00-04:00
        1997-10-28T09:00-05:00 1997-11-04T09:00-05:00
        """,
    ),
    (
        "weekly until",
        "19970902T090000",
        "FREQ=WEEKLY;UNTIL=19971224T000000Z",
        "",
        """
        1997-09-02T09:00-04:00 1997-09-09T09:00-04:00 1997-09-16T09:00-04:00 1997-09-23T09:00-04:00
        1997-09-30T09:00-04:00 1997-10-07T09:00-04:00 1997-10-14T09:00-04:00 1997-10-21T09:00-04:00
        1997-10-28T09:00-05:00 1997-11-04T09:00-05:00 1997-11-11T09:00-05:00 1997-11-18T09:00-05:00
        1997-11-25T09:00-05:00 1997-12-02T09:00-05:00 1997-12-09T09:00-05:00 1997-12-16T09:00-05:00
        1997-12-23T09:00-05:00
        """,
    ),
    (
        "TU TH five weeks",
        "19970902T090000",
        "FREQ=WEEKLY;UNTIL=19971007T000000Z;WKST=SU;BYDAY=TU,TH",
        "",
        """
        1997-09-02T09:00-04:00 1997-09-04T09:00-04:00 1997-09-09T09:00-04:00 1997-09-11T09:00-04:00
        1997-09-16T09:00-04:00 1997-09-18T09:00-04:00 1997-09-23T09:00-04:00 1997-09-25T09:00-04:00
        1997-09-30T09:00-04:00 1997-10-02T09:00-04:00
        """,
    ),
    (
        "TU TH five weeks by count",
        "19970902T090000",
        "FREQ=WEEKLY;COUNT=10;WKST=SU;BYDAY=TU,TH",
        "",
        """
        1997-09-02T09:00-04:00 1997-09-04T09:00-04:00 1997-09-09T09:00-04:00 1997-09-11T09:00-04:00
        1997-09-16T09:00-04:00 1997-09-18T09:00-04:00 1997-09-23T09:00-04:00 1997-09-25T09:00-04:00
        1997-09-30T09:00-04:00 1997-10-02T09:00-04:00
        """,
    ),
    (
        "every other week MO WE FR",
        "19970901T090000",
        "FREQ=WEEKLY;INTERVAL=2;UNTIL=19971224T000000Z;WKST=SU;BYDAY=MO,WE,FR",
        "",
        """
        1997-09-01T09:00-04:00 1997-09-03T09:00-04:00 1997-09-05T09:00-04:00 1997-09-15T09:00-04:00
        1997-09-17T09:00-04:00 1997-09-19T09:00-04:00 1997-09-29T09:00-04:00 1997-10-01T09:00-04:00
        1997-10-03T09:00-04:00 1997-10-13T09:00-04:00 1997-10-15T09:00-04:00 1997-10-17T09:00-04:00
        1997-10-27T09:00-05:00 1997-10-29T09:00-05:00 1997-10-31T09:00-05:00 1997-11-10T09:00-05:00
        1997-11-12T09:00-05:00 1997-11-14T09:00-05:00 1997-11-24T09:00-05:00 1997-11-26T09:00-05:00
        1997-11-28T09:00-05:00 1997-12-08T09:00-05:00 1997-12-10T09:00-05:00 1997-12-12T09:00-05:00
        1997-12-22T09:00-05:00
        """,
    ),
    (
        "every other week TU TH 8",
        "19970902T090000",
        "FREQ=WEEKLY;INTERVAL=2;COUNT=8;WKST=SU;BYDAY=TU,TH",
        "",
        """
        1997-09-02T09:00-04:00 1997-09-04T09:00-04:00 1997-09-16T09:00-04:00 1997-09-18T09:00-04:00
        1997-09-30T09:00-04:00 1997-10-02T09:00-04:00 1997-10-14T09:00-04:00 1997-10-16T09:00-04:00
        """,
    ),
    (
        "first Friday 10",
        "19970905T090000",
        "FREQ=MONTHLY;COUNT=10;BYDAY=1FR",
        "",
        """
        1997-09-05T09:00-04:00 1997-10-03T09:00-04:00 1997-11-07T09:00-05:00 1997-12-05T09:00-05:00
        1998-01-02T09:00-05:00 1998-02-06T09:00-05:00 1998-03-06T09:00-05:00 1998-04-03T09:00-05:00
        1998-05-01T09:00-04:00 1998-06-05T09:00-04:00
        """,
    ),
    (
        "WKST=MO",
        "19970805T090000",
        "FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=MO",
        "",
        """
        1997-08-05T09:00-04:00 1997-08-10T09:00-04:00 1997-08-19T09:00-04:00 1997-08-24T09:00-04:00
        """,
    ),
    (
        "WKST=SU",
        "19970805T090000",
        "FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=SU",
        "",
        """
        1997-08-05T09:00-04:00 1997-08-17T09:00-04:00 1997-08-19T09:00-04:00 1997-08-31T09:00-04:00
        """,
    ),
    (
        "Friday 13th with EXDATE of DTSTART",
        "19970902T090000",
        "FREQ=MONTHLY;BYDAY=FR;BYMONTHDAY=13",
        "19970902T090000",
        """
        1998-02-13T09:00-05:00 1998-03-13T09:00-05:00 1998-11-13T09:00-05:00 1999-08-13T09:00-04:00
        2000-10-13T09:00-04:00
        """,
    ),
    (
        "invalid date skipped",
        "20070115T090000",
        "FREQ=MONTHLY;BYMONTHDAY=15,30;COUNT=5",
        "",
        """
        2007-01-15T09:00-05:00 2007-01-30T09:00-05:00 2007-02-15T09:00-05:00 2007-03-15T09:00-04:00
        2007-03-30T09:00-04:00
        """,
    ),
    (
        "second-to-last weekday",
        "19970929T090000",
        "FREQ=MONTHLY;BYDAY=MO,TU,WE,TH,FR;BYSETPOS=-2",
        "",
        """
        1997-09-29T09:00-04:00 1997-10-30T09:00-05:00 1997-11-27T09:00-05:00 1997-12-30T09:00-05:00
        1998-01-29T09:00-05:00 1998-02-26T09:00-05:00 1998-03-30T09:00-05:00
        """,
    ),
    (
        "Monday of week 20",
        "19970512T090000",
        "FREQ=YEARLY;BYWEEKNO=20;BYDAY=MO",
        "",
        """
        1997-05-12T09:00-04:00 1998-05-11T09:00-04:00 1999-05-17T09:00-04:00
        """,
    ),
]


def calendar(*lines: str) -> bytes:
    return "\r\n".join(
        ("BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//test//EN", *lines, "END:VCALENDAR", "")
    ).encode()


def event(*lines: str) -> bytes:
    return calendar("BEGIN:VEVENT", "UID:1", "SUMMARY:Forces", *lines, "END:VEVENT")


def read(data: bytes, first: date, last: date, zone: str = "America/New_York") -> CalendarEvents:
    return read_events(data, "plan.ics", zone=zone, first=first, last=last)


@pytest.mark.parametrize(
    ("name", "start", "rule", "exdate", "printed"), RULES, ids=[rule[0] for rule in RULES]
)
def test_calendar_gives_the_occurrences_printed_in_rfc_5545(
    name: str, start: str, rule: str, exdate: str, printed: str
) -> None:
    zone = ZoneInfo("America/New_York")
    expected = printed.split()
    lines = [f"DTSTART;TZID=America/New_York:{start}", f"RRULE:{rule}"]
    lines += [f"EXDATE;TZID=America/New_York:{exdate}"] if exdate else []
    endless = "COUNT" not in rule and "UNTIL" not in rule
    first, last = (
        datetime.strptime(start[:8], "%Y%m%d").replace(tzinfo=UTC).date(),
        date.fromisoformat(expected[-1][:10]),
    )
    events = read(event(*lines), first, last if endless else date(last.year + 1, 12, 31))
    assert events.problems == ()
    found = [datetime.combine(one.first_day, one.start or time(0), zone) for one in events.occurrences]
    assert [moment.isoformat(timespec="minutes") for moment in found] == expected


def test_calendar_all_day_event_ends_before_its_dtend() -> None:
    # section 3.6.1: the "Festival International de Jazz de Montreal", 28 June to 8 July 2007
    data = event("DTSTART;VALUE=DATE:20070628", "DTEND;VALUE=DATE:20070709")
    (one,) = read(data, date(2007, 1, 1), date(2007, 12, 31)).occurrences
    assert (one.first_day, one.last_day, one.start) == (date(2007, 6, 28), date(2007, 7, 8), None)


def test_calendar_date_without_end_lasts_one_day() -> None:
    # section 3.6.1: with a DATE as DTSTART and neither DTEND nor DURATION, the duration is one day
    (one,) = read(event("DTSTART;VALUE=DATE:20071102"), date(2007, 1, 1), date(2007, 12, 31)).occurrences
    assert (one.first_day, one.last_day) == (date(2007, 11, 2), date(2007, 11, 2))


def test_calendar_moment_without_end_has_no_length() -> None:
    # section 3.6.1: with a DATE-TIME as DTSTART alone, the event ends when it starts
    (one,) = read(event("DTSTART:20070309T120000Z"), date(2007, 1, 1), date(2007, 12, 31)).occurrences
    assert (one.start, one.end) == (time(7, 0), None)


def test_calendar_event_before_the_first_rule_of_its_vtimezone_uses_the_named_zone() -> None:
    # section 4: the VTIMEZONE given there starts on 25 October 1998, the event of 12 March 1998 means EST all the same
    data = calendar(
        "BEGIN:VTIMEZONE",
        "TZID:America/New_York",
        "BEGIN:STANDARD",
        "DTSTART:19981025T020000",
        "TZOFFSETFROM:-0400",
        "TZOFFSETTO:-0500",
        "TZNAME:EST",
        "END:STANDARD",
        "BEGIN:DAYLIGHT",
        "DTSTART:19990404T020000",
        "TZOFFSETFROM:-0500",
        "TZOFFSETTO:-0400",
        "TZNAME:EDT",
        "END:DAYLIGHT",
        "END:VTIMEZONE",
        "BEGIN:VEVENT",
        "UID:guid-1.example.com",
        "SUMMARY:XYZ Project Review",
        "DTSTART;TZID=America/New_York:19980312T083000",
        "DTEND;TZID=America/New_York:19980312T093000",
        "END:VEVENT",
    )
    (one,) = read(data, date(1998, 1, 1), date(1998, 12, 31), "UTC").occurrences
    assert (one.start, one.end) == (time(13, 30), time(14, 30))


def test_calendar_exdate_does_not_extend_count_and_wall_time_stays_over_the_clock_change() -> None:
    # own case, computed with python-dateutil and the IANA zones: London, Tu and Th 08:30 from 20 October 2026
    data = event(
        "DTSTART;TZID=Europe/London:20261020T083000",
        "RRULE:FREQ=WEEKLY;BYDAY=TU,TH;COUNT=6",
        "EXDATE;TZID=Europe/London:20261022T083000",
    )
    found = read(data, date(2026, 1, 1), date(2027, 1, 1), "UTC").occurrences
    assert [(one.first_day.isoformat(), f"{one.start:%H:%M}") for one in found] == [
        ("2026-10-20", "07:30"),
        ("2026-10-27", "08:30"),
        ("2026-10-29", "08:30"),
        ("2026-11-03", "08:30"),
        ("2026-11-05", "08:30"),
    ]


def test_calendar_folded_lines_escapes_and_lower_case_names_are_read() -> None:
    # sections 3.1 (folding, names in any case) and 3.3.11 (escapes in text)
    data = calendar(
        "begin:VEVENT",
        "uid:1",
        "summary:Pressure\\, depth\\; den",
        " sity",
        "dtstart;value=date:20261124",
        "end:VEVENT",
    )
    (one,) = read(data, date(2026, 1, 1), date(2027, 1, 1)).occurrences
    assert one.title == "Pressure, depth; density"
