"""Quiet hours, lessons, holidays: what is refused, and from an ideal moment to an allowed one."""

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta

import numpy as np
import pytest

from scheduler.calendar.allowed_moments import (
    NoAllowedMoment,
    allowed_moment,
    eve_of,
    is_quiet,
    next_evening,
    nudge_moment,
    why_not,
)
from scheduler.calendar.quiet_hours import ImpossibleHours, QuietHours
from scheduler.calendar.school_days import (
    Closed,
    HolidayPeriod,
    LessonHours,
    SchoolDayError,
    SchoolDays,
    UnknownZone,
    day_array,
    local_moment,
    nudge_day_mask,
    school_day_mask,
    school_days_between,
    week_bounds,
)

HALF_TERM = HolidayPeriod(date(2026, 10, 26), date(2026, 10, 30))
LESSONS = tuple(LessonHours(d, time(8, 40), time(15, 10)) for d in range(5))
RULES = SchoolDays("Europe/London", holidays=(HALF_TERM,), lessons=LESSONS)
FRIDAY = date(2026, 10, 16)


def at(day: date, hour: int, minute: int = 0, zone: str = "Europe/London") -> datetime:
    return local_moment(day, time(hour, minute), zone)


@pytest.mark.parametrize(
    ("moment", "reason"),
    [
        (at(FRIDAY, 16), None),
        (at(FRIDAY, 10), Closed.LESSON),
        (at(FRIDAY, 15, 10), None),
        (at(FRIDAY, 20), Closed.QUIET),
        (at(FRIDAY, 7, 29), Closed.QUIET),
        (at(FRIDAY, 7, 30), None),
        (at(date(2026, 10, 17), 16), Closed.NO_SCHOOL),
        (at(date(2026, 10, 28), 16), Closed.HOLIDAY),
    ],
)
def test_each_moment_has_its_reason(moment: datetime, reason: Closed | None) -> None:
    assert why_not(moment, RULES) is reason


def test_a_moment_in_a_lesson_waits_for_the_end_of_school() -> None:
    assert allowed_moment(at(FRIDAY, 11), RULES) == at(FRIDAY, 15, 10)


def test_a_moment_late_on_the_last_day_waits_until_after_the_holiday() -> None:
    friday_before = date(2026, 10, 23)
    assert allowed_moment(at(friday_before, 21), RULES) == at(date(2026, 11, 2), 7, 30)


def test_a_class_may_ask_for_nudges_on_holidays_and_sundays() -> None:
    rules = SchoolDays(
        "Europe/London", holidays=(HALF_TERM,), nudges_on_holidays=True, nudge_weekdays=frozenset({0, 6})
    )
    assert why_not(at(date(2026, 10, 26), 16), rules) is None
    assert why_not(at(date(2026, 10, 25), 16), rules) is None
    assert why_not(at(date(2026, 10, 27), 16), rules) is Closed.NO_SCHOOL


def test_a_student_abroad_is_quiet_by_the_own_clock_and_in_class_by_the_schools() -> None:
    abroad = RULES.for_student(zone="America/New_York")
    # 16:00 in London is 11:00 in New York; 09:00 in New York is still lesson time in London.
    assert why_not(at(FRIDAY, 16), abroad) is None
    assert why_not(at(FRIDAY, 9, zone="America/New_York"), abroad) is Closed.LESSON
    assert why_not(at(FRIDAY, 15, 45, zone="Europe/London"), RULES.for_student(zone="Asia/Tokyo")) is not None


def test_a_student_lengthens_the_quiet_and_never_shortens_it() -> None:
    own = RULES.for_student(quiet=[QuietHours(time(17), time(18, 30))])
    assert is_quiet(at(FRIDAY, 17, 30), own)
    assert is_quiet(at(FRIDAY, 20, 30), own)
    assert allowed_moment(at(FRIDAY, 17), own) == at(FRIDAY, 18, 30)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: QuietHours(time(20), time(20)), "have no length"),
        (lambda: SchoolDays("Europe/Londres"), '"Europe/Londres" is not a time zone'),
        (lambda: SchoolDays("../etc/passwd"), "is not a time zone"),
        (lambda: SchoolDays("Europe"), "is not a time zone"),
        (lambda: SchoolDays("UTC", weekdays=frozenset()), "must be some of 0"),
        (
            lambda: SchoolDays("UTC", quiet=(QuietHours(time(8), time(20)), QuietHours(time(20), time(8)))),
            "leave no time",
        ),
        (
            lambda: RULES.for_student(
                quiet=[QuietHours(time(7), time(8, 50)), QuietHours(time(15), time(22))]
            ),
            "no time",
        ),
        (lambda: HolidayPeriod(date(2026, 2, 2), date(2026, 2, 1)), "ends before it starts"),
        (lambda: LessonHours(7, time(8), time(9)), "Monday is 0"),
        (lambda: LessonHours(1, time(10), time(9)), "ends before it starts"),
        (lambda: local_moment(FRIDAY, 1440, "UTC"), "outside the day"),
        (lambda: week_bounds(2027, 53, "UTC"), "no week 53 in 2027"),
        (lambda: why_not(datetime(2026, 1, 1), RULES), "no time zone"),  # noqa: DTZ001 - that is the point
    ],
)
def test_doubtful_settings_are_refused_with_a_sentence(make, words: str) -> None:
    with pytest.raises(SchoolDayError, match=words):
        make()


def test_the_errors_are_one_tree() -> None:
    assert issubclass(UnknownZone, SchoolDayError)
    assert issubclass(ImpossibleHours, SchoolDayError)
    assert issubclass(NoAllowedMoment, SchoolDayError)


def test_no_open_moment_within_the_horizon_is_said() -> None:
    closed = SchoolDays("UTC", holidays=(HolidayPeriod(date(2026, 1, 1), date(2030, 1, 1)),))
    with pytest.raises(NoAllowedMoment, match="Shorten the holidays"):
        allowed_moment(datetime(2026, 2, 1, tzinfo=UTC), closed)


def test_the_nudge_comes_at_the_wanted_time_or_as_near_as_the_day_allows() -> None:
    assert nudge_moment(FRIDAY, time(18), RULES) == at(FRIDAY, 18)
    assert nudge_moment(FRIDAY, time(12), RULES) == at(FRIDAY, 15, 10)
    # A time that has become quiet: a quarter of an hour before the quiet begins.
    assert nudge_moment(FRIDAY, time(21), RULES) == at(FRIDAY, 19, 45)
    assert nudge_moment(date(2026, 10, 28), time(18), RULES) is None


def test_the_next_evening_skips_the_weekend_and_is_strictly_later() -> None:
    assert next_evening(at(FRIDAY, 17, 59), RULES) == at(FRIDAY, 18)
    assert next_evening(at(FRIDAY, 18), RULES) == at(date(2026, 10, 19), 18)


def test_the_eve_of_a_monday_quiz_is_friday_unless_sundays_are_allowed() -> None:
    monday = date(2026, 10, 19)
    assert eve_of(monday, RULES) == at(FRIDAY, 18)
    with_sunday = SchoolDays("Europe/London", nudge_weekdays=frozenset({0, 1, 2, 3, 4, 6}))
    assert eve_of(monday, with_sunday) == at(date(2026, 10, 18), 18)


def test_the_eve_after_three_weeks_of_holiday_is_none() -> None:
    rules = SchoolDays("UTC", holidays=(HolidayPeriod(date(2026, 7, 1), date(2026, 7, 31)),))
    assert eve_of(date(2026, 7, 31), rules) is None


def test_school_days_between_counts_both_ends_and_no_holiday() -> None:
    days = school_days_between(date(2026, 10, 23), date(2026, 11, 2), RULES)
    assert days == [date(2026, 10, 23), date(2026, 11, 2)]
    assert school_days_between(date(2026, 11, 2), date(2026, 10, 23), RULES) == []


def test_the_masks_agree_with_single_days() -> None:
    days = day_array(date(2026, 10, 19), 21)
    expected = school_days_between(date(2026, 10, 19), date(2026, 11, 8), RULES)
    assert days[school_day_mask(days, RULES)].tolist() == expected
    assert np.array_equal(school_day_mask(days, RULES), nudge_day_mask(days, RULES))


def test_equal_rules_are_one_key() -> None:
    again = replace(RULES)
    assert again == RULES
    assert hash(again) == hash(RULES)


def test_the_evening_stays_at_six_across_the_clock_change() -> None:
    before = next_evening(at(date(2026, 10, 23), 0), SchoolDays("Europe/London"))
    after = next_evening(before, SchoolDays("Europe/London"))
    assert after - before == timedelta(days=3, hours=1)
