"""Local times in gaps and overlaps of the clock, against the IANA time zone database (release 2026f).

Source: IANA time zone database, https://www.iana.org/time-zones; folds after PEP 495
(https://peps.python.org/pep-0495/). The ISO week rows are ISO 8601 week dates; 2005-2010 are the usual
published examples. Rules for future dates can change with a later release.
"""

from datetime import UTC, date, datetime, time, timedelta

import pytest

from scheduler.calendar.school_days import (
    classify,
    iso_week,
    local_day,
    local_moment,
    local_time,
    week_bounds,
    week_of,
)

# zone, local time, kind, the two readings in UTC (fold 0, fold 1)
FACTS = """
America/New_York,2026-11-01T01:30,ambiguous,2026-11-01T05:30Z,2026-11-01T06:30Z
America/New_York,2026-11-01T00:59,normal,2026-11-01T04:59Z,2026-11-01T04:59Z
America/New_York,2026-11-01T02:00,normal,2026-11-01T07:00Z,2026-11-01T07:00Z
America/New_York,2027-03-14T02:30,nonexistent,2027-03-14T07:30Z,2027-03-14T06:30Z
America/New_York,2027-03-14T03:00,normal,2027-03-14T07:00Z,2027-03-14T07:00Z
Europe/London,2026-10-25T01:30,ambiguous,2026-10-25T00:30Z,2026-10-25T01:30Z
Europe/London,2027-03-28T01:30,nonexistent,2027-03-28T01:30Z,2027-03-28T00:30Z
Europe/London,2027-10-31T01:30,ambiguous,2027-10-31T00:30Z,2027-10-31T01:30Z
Europe/Berlin,2026-10-25T02:30,ambiguous,2026-10-25T00:30Z,2026-10-25T01:30Z
Europe/Berlin,2027-03-28T02:30,nonexistent,2027-03-28T01:30Z,2027-03-28T00:30Z
Australia/Lord_Howe,2026-10-04T02:15,nonexistent,2026-10-03T15:45Z,2026-10-03T15:15Z
Australia/Lord_Howe,2027-04-04T01:45,ambiguous,2027-04-03T14:45Z,2027-04-03T15:15Z
Pacific/Chatham,2026-09-27T03:00,nonexistent,2026-09-26T14:15Z,2026-09-26T13:15Z
America/Havana,2026-03-08T00:30,nonexistent,2026-03-08T05:30Z,2026-03-08T04:30Z
Africa/Cairo,2026-04-24T00:30,nonexistent,2026-04-23T22:30Z,2026-04-23T21:30Z
Asia/Kolkata,2026-11-01T01:30,normal,2026-10-31T20:00Z,2026-10-31T20:00Z
Asia/Kathmandu,2026-11-01T01:30,normal,2026-10-31T19:45Z,2026-10-31T19:45Z
America/Sao_Paulo,2026-11-01T00:30,normal,2026-11-01T03:30Z,2026-11-01T03:30Z
Asia/Tehran,2026-03-22T00:30,normal,2026-03-21T21:00Z,2026-03-21T21:00Z
Pacific/Apia,2011-12-30T12:00,nonexistent,2011-12-30T22:00Z,2011-12-29T22:00Z
"""
ROWS = [tuple(line.split(",")) for line in FACTS.split()]

# The end of each gap in the table: the first valid moment after it.
GAP_ENDS = {
    ("America/New_York", "2027-03-14"): "2027-03-14T07:00+00:00",
    ("Europe/London", "2027-03-28"): "2027-03-28T01:00+00:00",
    ("Europe/Berlin", "2027-03-28"): "2027-03-28T01:00+00:00",
    ("Australia/Lord_Howe", "2026-10-04"): "2026-10-03T15:30+00:00",
    ("Pacific/Chatham", "2026-09-27"): "2026-09-26T14:00+00:00",
    ("America/Havana", "2026-03-08"): "2026-03-08T05:00+00:00",
    ("Africa/Cairo", "2026-04-24"): "2026-04-23T22:00+00:00",
    ("Pacific/Apia", "2011-12-30"): "2011-12-30T10:00+00:00",
}


def named(row: tuple[str, ...]) -> str:
    return f"{row[0]} {row[1]}"


def parsed(local: str) -> tuple[date, time]:
    day, when = local.split("T")
    return date.fromisoformat(day), time.fromisoformat(when)


@pytest.mark.parametrize("row", ROWS, ids=named)
def test_a_local_time_is_classified_as_the_iana_data_say(row: tuple[str, ...]) -> None:
    zone, local, kind, _, _ = row
    assert classify(*parsed(local), zone) == kind


@pytest.mark.parametrize("row", ROWS, ids=named)
def test_a_local_time_means_one_moment(row: tuple[str, ...]) -> None:
    zone, local, kind, first, _ = row
    moment = local_moment(*parsed(local), zone)
    if kind == "nonexistent":
        assert moment == datetime.fromisoformat(GAP_ENDS[zone, local[:10]])
    else:
        assert moment == datetime.fromisoformat(first)


@pytest.mark.parametrize(
    "row", [r for r in ROWS if r[2] == "ambiguous"], ids=lambda row: f"{row[0]} {row[1]}"
)
def test_both_occurrences_of_a_repeated_time_show_the_same_clock(row: tuple[str, ...]) -> None:
    zone, local, _, first, second = row
    shown = [
        local_time(datetime.fromisoformat(utc), zone).strftime("%Y-%m-%dT%H:%M") for utc in (first, second)
    ]
    assert shown == [local, local]


def test_a_skipped_day_has_no_moment_of_its_own() -> None:
    # Apia had no 30 December 2011: its midnight is the first moment of the 31st.
    moment = local_moment(date(2011, 12, 30), 0, "Pacific/Apia")
    assert local_day(moment, "Pacific/Apia") == date(2011, 12, 31)


def test_a_day_of_the_autumn_change_lasts_25_hours() -> None:
    # Trap: subtraction within one zone gives 24 h of wall clock; moments in UTC give 25.
    low, high = (local_moment(date(2026, *d), time(9), "America/New_York") for d in ((10, 31), (11, 1)))
    assert high - low == timedelta(hours=25)


WEEKS = """
2004-12-31 2004-W53-5, 2005-01-01 2004-W53-6, 2005-01-02 2004-W53-7, 2005-12-31 2005-W52-6
2006-01-01 2005-W52-7, 2006-01-02 2006-W01-1, 2006-12-31 2006-W52-7, 2007-01-01 2007-W01-1
2007-12-30 2007-W52-7, 2007-12-31 2008-W01-1, 2008-01-01 2008-W01-2, 2008-12-28 2008-W52-7
2008-12-29 2009-W01-1, 2008-12-31 2009-W01-3, 2009-01-01 2009-W01-4, 2009-12-31 2009-W53-4
2010-01-01 2009-W53-5, 2010-01-03 2009-W53-7, 2020-12-31 2020-W53-4, 2021-01-03 2020-W53-7
2021-01-04 2021-W01-1, 2026-01-01 2026-W01-4, 2026-11-25 2026-W48-3, 2026-12-27 2026-W52-7
2026-12-28 2026-W53-1, 2026-12-31 2026-W53-4, 2027-01-01 2026-W53-5, 2027-01-03 2026-W53-7
2027-01-04 2027-W01-1
"""
WEEK_ROWS = [tuple(row.split()) for row in WEEKS.strip().replace("\n", ",").split(",")]


@pytest.mark.parametrize(("day", "week"), WEEK_ROWS)
def test_iso_week_matches_the_published_week_dates(day: str, week: str) -> None:
    year, number = iso_week(date.fromisoformat(day))
    assert f"{year}-W{number:02d}" == week[:-2]


def test_week_bounds_hold_the_week_in_the_zone_of_the_school() -> None:
    start, end = week_bounds(2026, 53, "Pacific/Auckland")
    assert (start, end) == (
        datetime(2026, 12, 27, 11, tzinfo=UTC),
        datetime(2027, 1, 3, 11, tzinfo=UTC),
    )
    assert (
        week_of(start, "Pacific/Auckland")
        == week_of(end - timedelta(seconds=1), "Pacific/Auckland")
        == (2026, 53)
    )
    assert week_of(end, "Pacific/Auckland") == (2027, 1)
