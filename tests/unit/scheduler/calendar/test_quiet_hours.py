"""Quiet hours: which minutes of a day they take, and which values are none."""

from datetime import time

import pytest

from scheduler.calendar.quiet_hours import (
    DEFAULT_QUIET,
    ImpossibleHours,
    QuietHours,
    in_quiet_hours,
    quiet_hours,
)


@pytest.mark.parametrize(
    ("minute", "start", "end", "quiet"),
    [
        (1200, 1200, 450, True),
        (1199, 1200, 450, False),
        (449, 1200, 450, True),
        (450, 1200, 450, False),
        (600, 540, 660, True),
        (660, 540, 660, False),
        (600, 600, 600, False),
    ],
)
def test_quiet_hours_go_over_midnight(minute: int, start: int, end: int, quiet: bool) -> None:
    assert in_quiet_hours(minute, quiet_hours(start, end)) is quiet


def test_hours_without_an_end_or_a_length_are_none() -> None:
    assert (
        quiet_hours(None, None)
        == quiet_hours(None, 450)
        == quiet_hours(1200, None)
        == quiet_hours(600, 600)
        == ()
    )
    assert not in_quiet_hours(600, ())


def test_a_time_of_day_is_read_as_its_minute() -> None:
    assert quiet_hours(20 * 60, 7 * 60 + 30) == (DEFAULT_QUIET,)
    assert in_quiet_hours(time(7, 29, 59), [DEFAULT_QUIET])
    assert not in_quiet_hours(time(7, 30), [DEFAULT_QUIET])


def test_any_of_several_is_enough() -> None:
    both = (*quiet_hours(1200, 450), *quiet_hours(600, 720))
    assert [in_quiet_hours(minute, both) for minute in (1300, 650, 800)] == [True, True, False]


def test_hours_without_a_length_cannot_be_made() -> None:
    with pytest.raises(ImpossibleHours, match="have no length"):
        QuietHours(time(20), time(20))
