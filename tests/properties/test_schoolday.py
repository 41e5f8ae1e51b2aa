"""No moment that the school-day rules let through is ever in quiet hours, a lesson or a holiday.

The rules are judged here by a second, plain reading of the wall clock (`broken_rule`), in every IANA zone and
around every clock change of the years looked at.
"""

from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from zoneinfo import ZoneInfo, available_timezones

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.calendar.allowed_moments import (
    NoAllowedMoment,
    allowed_moment,
    allowed_moments,
    next_evening,
    nudge_moment,
    nudge_moments,
    open_spans,
)
from scheduler.calendar.quiet_hours import ImpossibleHours, QuietHours
from scheduler.calendar.school_days import HolidayPeriod, LessonHours, SchoolDays, day_array, local_moment
from scheduler.calendar.zones import clock_changes

ZONES = sorted(available_timezones() - {"Factory", "localtime"})
HALF_TERM = HolidayPeriod(date(2026, 10, 24), date(2026, 11, 1))
LESSONS = tuple(LessonHours(d, time(8, 40), time(15, 10)) for d in range(5))
FIRST_S, LAST_S = (int(datetime(year, 1, 1, tzinfo=UTC).timestamp()) for year in (2026, 2028))


@cache
def distinct_clocks() -> list[str]:
    """Every IANA zone, but zones whose clocks are the same all through the years looked at only once."""
    clocks: dict[tuple[object, ...], str] = {}
    for zone in ZONES:
        changes = sorted(clock_changes(FIRST_S, LAST_S, zone))
        offsets = [datetime.fromtimestamp(s, ZoneInfo(zone)).utcoffset() for s in (FIRST_S, *changes)]
        clocks[(*changes, *offsets)] = zone
    return list(clocks.values())


def minutes(at: time) -> float:
    return at.hour * 60 + at.minute + at.second / 60 + at.microsecond / 6e7


def within(now: float, start: time, end: time) -> bool:
    low, high = minutes(start), minutes(end)
    return low <= now < high if low < high else now >= low or now < high


def broken_rule(at: datetime, rules: SchoolDays) -> str | None:
    """The first rule that a moment breaks, read from the wall clocks only."""
    school = at.astimezone(ZoneInfo(rules.zone))
    student = at.astimezone(ZoneInfo(rules.student_zone or rules.zone))
    for wall in (school, student):
        if wall.weekday() not in (rules.nudge_weekdays or rules.weekdays):
            return f"weekday {wall}"
        if not rules.nudges_on_holidays and any(h.first <= wall.date() <= h.last for h in rules.holidays):
            return f"holiday {wall}"
    if any(within(minutes(student.time()), h.start, h.end) for h in rules.quiet):
        return f"quiet {student}"
    lessons = [x for x in rules.lessons if x.weekday == school.weekday()]
    if any(within(minutes(school.time()), x.start, x.end) for x in lessons):
        return f"lesson {school}"
    return None


def stretch(low: datetime, high: datetime, n: int) -> list[datetime]:
    return [low + (high - low) * k / n for k in range(n)]


def test_around_every_clock_change_of_every_zone_no_moment_breaks_a_rule() -> None:
    seen = set()
    for zone in distinct_clocks():
        # Quiet hours whose ends lie inside the usual gaps and overlaps, and at midnight.
        rules = SchoolDays(zone, weekdays=frozenset(range(7)), quiet=(QuietHours(time(21), time(2, 15)),))
        for change in clock_changes(FIRST_S, LAST_S, zone):
            middle = datetime.fromtimestamp(change, UTC)
            for hours in (-30, -5, -1, -0.25, 0, 0.25, 1, 6, 20):
                moment = allowed_moment(middle + timedelta(hours=hours), rules)
                assert broken_rule(moment, rules) is None
                assert timedelta(0) <= moment - middle - timedelta(hours=hours) < timedelta(hours=8)
            seen.add(change)
    # Every change known for the two years, whichever zones make it.
    assert len(seen) >= 40


def test_in_every_zone_a_term_of_nudges_breaks_no_rule() -> None:
    days = day_array(date(2026, 10, 19), 28)
    for zone in distinct_clocks():
        rules = SchoolDays(zone, holidays=(HALF_TERM,), lessons=LESSONS)
        moments = nudge_moments(days, time(7, 45), rules)
        assert np.isnan(moments).sum() == 28 - 15
        for moment in moments[~np.isnan(moments)]:
            assert broken_rule(datetime.fromtimestamp(moment, UTC), rules) is None


times = st.builds(time, st.integers(0, 23), st.integers(0, 59))
hours = st.tuples(times, times).filter(lambda pair: pair[0] != pair[1]).map(lambda pair: QuietHours(*pair))
lesson = (
    st.tuples(st.integers(0, 6), times, times).filter(lambda x: x[1] < x[2]).map(lambda x: LessonHours(*x))
)
days = st.dates(date(2025, 1, 1), date(2029, 12, 31))
holiday = st.tuples(days, st.integers(0, 20)).map(lambda x: HolidayPeriod(x[0], x[0] + timedelta(days=x[1])))
moments = st.datetimes(datetime(2025, 1, 1), datetime(2029, 12, 31), timezones=st.just(UTC))  # noqa: DTZ001


@st.composite
def rules_of_any_school(draw: st.DrawFn) -> SchoolDays:
    weekdays = st.frozensets(st.integers(0, 6), min_size=1)
    try:
        return SchoolDays(
            zone=draw(st.sampled_from(ZONES)),
            weekdays=draw(weekdays),
            holidays=tuple(draw(st.lists(holiday, max_size=4))),
            quiet=tuple(draw(st.lists(hours, max_size=2))),
            lessons=tuple(draw(st.lists(lesson, max_size=6))),
            nudges_on_holidays=draw(st.booleans()),
            nudge_weekdays=draw(st.none() | weekdays),
            student_zone=draw(st.none() | st.sampled_from(ZONES)),
        )
    except ImpossibleHours:
        return SchoolDays(zone=draw(st.sampled_from(ZONES)))


@given(rules_of_any_school(), moments)
@settings(max_examples=150, deadline=None)
def test_the_allowed_moment_breaks_no_rule_and_is_the_first(rules: SchoolDays, ideal: datetime) -> None:
    try:
        moment = allowed_moment(ideal, rules)
    except NoAllowedMoment:
        # Two zones may leave no common open day, or hours that never meet: then nothing is open for weeks.
        assert all(broken_rule(at, rules) for at in stretch(ideal, ideal + timedelta(weeks=3), 500))
        return
    assert moment >= ideal
    assert broken_rule(moment, rules) is None
    before = stretch(ideal, moment, 200) if moment > ideal else []
    assert all(broken_rule(at, rules) for at in before)


@given(rules_of_any_school(), st.lists(moments, min_size=1, max_size=5))
@settings(max_examples=60, deadline=None)
def test_an_array_of_moments_is_moved_as_each_alone(rules: SchoolDays, ideals: list[datetime]) -> None:
    seconds = np.array([float(int(at.timestamp())) for at in ideals] + [np.nan])
    try:
        moved = allowed_moments(seconds, rules)
    except NoAllowedMoment:
        return
    for before, after in zip(seconds[:-1], moved[:-1], strict=True):
        assert datetime.fromtimestamp(after, UTC) == allowed_moment(
            datetime.fromtimestamp(before, UTC), rules
        )
    assert np.isnan(moved[-1])


@given(rules_of_any_school(), days, times)
@settings(max_examples=150, deadline=None)
def test_a_days_nudge_is_allowed_and_on_that_day(rules: SchoolDays, day: date, wanted: time) -> None:
    moment = nudge_moment(day, wanted, rules)
    opening, closing = (local_moment(d, 0, rules.home) for d in (day, day + timedelta(days=1)))
    if moment is None:
        assert all(broken_rule(at, rules) for at in stretch(opening, closing, 300))
    else:
        assert broken_rule(moment, rules) is None
        assert opening <= moment < closing


@given(rules_of_any_school(), moments)
@settings(max_examples=60, deadline=None)
def test_open_spans_hold_exactly_the_moments_that_break_no_rule(rules: SchoolDays, low: datetime) -> None:
    high = low + timedelta(days=9)
    spans = open_spans(low, high, rules)
    for at in stretch(low, high, 300):
        inside = bool(np.any((spans[:, 0] <= at.timestamp()) & (at.timestamp() < spans[:, 1])))
        assert inside == (broken_rule(at, rules) is None)


@given(rules_of_any_school(), moments)
@settings(max_examples=60, deadline=None)
def test_the_next_evening_is_later_and_breaks_no_rule(rules: SchoolDays, after: datetime) -> None:
    try:
        moment = next_evening(after, rules)
    except NoAllowedMoment:
        return
    assert moment > after
    assert broken_rule(moment, rules) is None


@pytest.mark.parametrize("zone", ["Europe/London", "America/New_York", "Australia/Lord_Howe", "Africa/Cairo"])
def test_each_local_minute_of_the_change_days_means_a_moment_that_shows_it(zone: str) -> None:
    low, high = (int(datetime(year, 1, 1, tzinfo=UTC).timestamp()) for year in (2026, 2027))
    for change in clock_changes(low, high, zone):
        day = datetime.fromtimestamp(change, ZoneInfo(zone)).date()
        moments_of_day = [local_moment(day, minute, zone) for minute in range(1440)]
        shown = [at.astimezone(ZoneInfo(zone)) for at in moments_of_day]
        assert all(later.hour * 60 + later.minute >= m or later.date() > day for m, later in enumerate(shown))
        assert moments_of_day == sorted(moments_of_day)
