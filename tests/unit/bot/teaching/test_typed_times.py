"""Times of day as people type them: one reader for students and teachers."""

from __future__ import annotations

import hypothesis.strategies as st
import pytest
from hypothesis import given

from bot.teaching.typed_times import minute_of_day, minutes_between
from bot.words import words


@pytest.mark.parametrize(
    ("text", "minute"),
    [
        # What students could type.
        *[("1830", 1110), ("18 30", 1110), ("730", 450), ("7", 420), ("18h30", 1110), ("18 Uhr", 1080)],
        *[("6 p.m.", 1080), ("12am", 0), ("6 o'clock", 360), ("18h", 1080)],
        # What teachers could type.
        *[("18:30:00", 1110), ("18 : 30", 1110), ("18.30 Uhr", 1110), ("6.30 pm", 1110), ("18:00 hrs", 1080)],
        # What nobody could.
        *[("at 6 pm", 1080), ("um 18 Uhr", 1080)],
        # Two times for people of two countries.
        *[("half seven", None), ("halb sieben", None), ("halb 7", None)],
        *[("24:00", None), ("18:3", None), ("18:30-19:00", None), ("soon", None), ("", None)],
    ],
)
def test_students_and_teachers_can_type_the_same_times(text: str, minute: int | None) -> None:
    assert minute_of_day(text) == minute


@pytest.mark.parametrize(
    "text",
    [
        "21-7",
        "9 pm to 7 am",
        "21:00 – 7",
        "21:00—07:00",
        "from 21 until 7",
        "von 21 bis 7 Uhr",
        "2100 till 700",
    ],
)
def test_hours_are_read_in_every_form(text: str) -> None:
    assert minutes_between(text) == (1260, 420)


def test_hours_without_length_are_read_only_where_they_mean_something() -> None:
    assert minutes_between("7-7") is None
    assert minutes_between("7-7", same=True) == (420, 420)


@given(st.integers(0, 1439), st.integers(0, 1439), st.sampled_from(("en", "de")))
def test_what_is_written_is_read_back(start: int, end: int, language: str) -> None:
    clock = words(language).clock
    assert minute_of_day(clock(start)) == start
    assert minutes_between(f"{clock(start)}–{clock(end)}", same=True) == (start, end)
