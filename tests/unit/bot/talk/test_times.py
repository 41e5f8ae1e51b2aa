"""Times, days and places as people type them."""

from __future__ import annotations

import doctest
from datetime import date

import hypothesis.strategies as st
import pytest
from hypothesis import given

from bot.talk import zones
from bot.talk.zones import zones_named
from bot.teaching import typed_days, typed_times
from bot.teaching.typed_days import days_ahead, read_days, read_span, read_week
from bot.teaching.typed_times import minute_of_day, minutes_between

TODAY = date(2026, 11, 25)


def day_ahead(text: str, today: date) -> date | None:
    found = days_ahead(text, today)
    return found[0] if len(found) == 1 else None


@pytest.mark.parametrize("module", [zones, typed_days, typed_times])
def test_the_examples_in_the_documentation_hold(module):
    outcome = doctest.testmod(module)
    assert outcome.attempted
    assert outcome.failed == 0


@pytest.mark.parametrize(
    ("text", "minute"),
    [("0:00", 0), ("24:00", None), ("12 am", 0), ("12pm", 720), ("13 pm", None), ("7 p.m.", 1140), ("18h", 1080),
     ("1860", None), ("", None), ("18:3", None), ("６:30", 390), ("-5", None), ("soon", None)],
)  # fmt: skip
def test_minute_of_day_reads_times_and_nothing_else(text, minute):
    assert minute_of_day(text) == minute


@given(st.integers(0, 1439))
def test_every_minute_of_the_day_is_read_back_as_it_is_written(minute):
    assert minute_of_day(f"{minute // 60}:{minute % 60:02d}") == minute


@pytest.mark.parametrize(
    ("text", "hours"),
    [
        ("21-7", (1260, 420)),
        ("9 pm to 7 am", (1260, 420)),
        ("21:00", None),
        ("a-b", None),
        ("7-7", None),
        ("1-2-3", None),
    ],
)
def test_minutes_between_reads_two_different_times(text, hours):
    assert minutes_between(text) == hours


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("3 days", date(2026, 11, 28)),
        ("for 2 weeks", date(2026, 12, 9)),
        ("until 2026-12-20", date(2026, 12, 20)),
        ("20.12.", date(2026, 12, 20)),
        ("20 December", date(2026, 12, 20)),
        ("20 Dec 2027", date(2027, 12, 20)),
        ("3.1", date(2027, 1, 3)),
        ("25 Nov", date(2027, 11, 25)),
        ("31.11.", None),
        ("2026-11-01", None),
        ("20 Foo", None),
        ("0 days", TODAY),
        ("whenever", None),
    ],
)
def test_day_ahead_reads_stretches_and_days_to_come(text, day):
    assert day_ahead(text, TODAY) == day


@given(st.text(max_size=30))
def test_no_text_breaks_the_readers(text):
    minute_of_day(text)
    minutes_between(text)
    days_ahead(text, TODAY)
    read_days(text, TODAY)
    read_span(text, TODAY)
    read_week(text, TODAY)
    zones_named(text)


@pytest.mark.parametrize(
    ("text", "zones"),
    [("Europe/berlin", ("Europe/Berlin",)), ("Buenos Aires", ("America/Argentina/Buenos_Aires",)),
     ("UTC", ("UTC",)), ("posix/UTC", ()), ("EST", ()), ("", ()), ("  ", ())],
)  # fmt: skip
def test_zones_are_named_by_city_or_in_full(text, zones):
    assert zones_named(text) == zones
