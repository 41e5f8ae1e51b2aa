"""Days and spans as people type them: one reader for students and teachers."""

from __future__ import annotations

from datetime import date, timedelta

import hypothesis.strategies as st
import pytest
from babel import Locale
from hypothesis import example, given

from bot.teaching.typed_days import LONG_PAST, days_ahead, read_days, read_span, read_week, read_weekday
from bot.words import words

TODAY = date(2026, 11, 25)  # a Wednesday
LANGUAGES = ("en", "de")
DAYS = st.dates(date(2000, 1, 1), date(2099, 12, 31))

AHEAD = [
    # What students could type.
    *[("3 days", date(2026, 11, 28)), ("for 2 weeks", date(2026, 12, 9)), ("2 w", date(2026, 12, 9))],
    *[("10 Tage", date(2026, 12, 5)), ("für 2 Wochen", date(2026, 12, 9)), ("3t", date(2026, 11, 28))],
    *[
        ("until 2026-12-20", date(2026, 12, 20)),
        ("bis 20.12.", date(2026, 12, 20)),
        ("20 12", date(2026, 12, 20)),
    ],
    *[
        ("bis zum 20. Dez", date(2026, 12, 20)),
        ("20.Dez", date(2026, 12, 20)),
        ("20. 12.", date(2026, 12, 20)),
    ],
    *[("20 Dec 2027", date(2027, 12, 20)), ("3.1", date(2027, 1, 3)), ("3 mrz", date(2027, 3, 3))],
    *[("20.12 2027", date(2027, 12, 20)), ("20 12 2027", date(2027, 12, 20)), ("3. Jän", date(2027, 1, 3))],
    # What teachers could type.
    *[("tomorrow", date(2026, 11, 26)), ("morgen", date(2026, 11, 26)), ("friday", date(2026, 11, 27))],
    *[("Fri", date(2026, 11, 27)), ("on Friday", date(2026, 11, 27)), ("next friday", date(2026, 11, 27))],
    *[("am Freitag", date(2026, 11, 27)), ("nächsten Freitag", date(2026, 11, 27))],
    *[
        ("Dec 11", date(2026, 12, 11)),
        ("on 11 Dec", date(2026, 12, 11)),
        ("December 11, 2026", date(2026, 12, 11)),
    ],
    *[
        ("11th of December", date(2026, 12, 11)),
        ("11.12.26", date(2026, 12, 11)),
        ("20261211", date(2026, 12, 11)),
    ],
    *[
        ("Fri 11 Dec", date(2026, 12, 11)),
        ("Fr., 11. Dez.", date(2026, 12, 11)),
        ("29/12", date(2026, 12, 29)),
    ],
    *[("2026-12-11T08:30", date(2026, 12, 11)), ("3/13/2027", date(2027, 3, 13))],
    # What nobody could.
    *[("until friday", date(2026, 11, 27)), ("bis nächsten Freitag", date(2026, 11, 27))],
    *[
        ("bis zum Freitag", date(2026, 11, 27)),
        ("in two weeks", date(2026, 12, 9)),
        ("a week", date(2026, 12, 2)),
    ],
    *[
        ("in einer Woche", date(2026, 12, 2)),
        ("übermorgen", date(2026, 11, 27)),
        ("until Dec 11", date(2026, 12, 11)),
    ],
    *[("Sun 3 Jan", date(2027, 1, 3)), ("Freitag, den 11. Dezember", date(2026, 12, 11))],
    *[("Freitag, den 11. Dezember 2026", date(2026, 12, 11))],
]


@pytest.mark.parametrize(("text", "day"), AHEAD)
def test_students_and_teachers_can_type_the_same_days(text: str, day: date) -> None:
    assert days_ahead(text, TODAY) == (day,)
    assert read_days(text, TODAY) == (day,)
    assert read_days(f"  {text.upper()} ", TODAY) == (day,)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "soon",
        "whenever",
        "31.11.",
        "20 Foo",
        "Mon 11 Dec",
        "30 February",
        "so",
        "do",
        "2",
        "0.0.",
        "week",
    ],
)
def test_what_is_no_day_is_none(text: str) -> None:
    assert days_ahead(text, TODAY) == ()
    assert read_days(text, TODAY) == ()


@pytest.mark.parametrize(
    ("text", "ahead", "days"),
    [
        ("3/4/2027", {date(2027, 3, 4), date(2027, 4, 3)}, {date(2027, 3, 4), date(2027, 4, 3)}),
        ("until 3/4/2027", {date(2027, 3, 4), date(2027, 4, 3)}, {date(2027, 3, 4), date(2027, 4, 3)}),
        ("11/12", {date(2026, 12, 11), date(2027, 11, 12)}, {date(2026, 12, 11), date(2026, 11, 12)}),
        ("Fri 11/12", {date(2026, 12, 11), date(2027, 11, 12)}, {date(2026, 12, 11)}),
    ],
)
def test_what_can_be_two_days_is_two_days(text: str, ahead: set[date], days: set[date]) -> None:
    assert set(days_ahead(text, TODAY)) == ahead
    assert set(read_days(text, TODAY)) == days


def test_the_past_is_read_only_where_it_is_wanted() -> None:
    assert read_days("12 Nov", TODAY) == (date(2026, 11, 12),)
    assert days_ahead("12 Nov", TODAY) == (date(2027, 11, 12),)
    assert days_ahead("2026-11-12", TODAY) == days_ahead("gestern", TODAY) == days_ahead("today", TODAY) == ()
    assert read_days("Wed 30 Dec", date(2027, 1, 5)) == (date(2026, 12, 30),)


def test_a_wrong_weekday_does_not_move_a_day_into_another_year() -> None:
    assert date(2027, 12, 11).weekday() == 5
    assert read_days("Sat 11 Dec", TODAY) == ()


def test_a_leap_day_is_that_of_the_leap_year() -> None:
    assert read_days("29 Feb", date(2027, 6, 1)) == (date(2028, 2, 29),)
    assert read_days("29 Feb", TODAY) == ()


SPANS = [
    ("from 3 to 7 Dec", (date(2026, 12, 3), date(2026, 12, 7))),
    ("3-7 Dec", (date(2026, 12, 3), date(2026, 12, 7))),
    ("Dec 3 to 7", (date(2026, 12, 3), date(2026, 12, 7))),
    ("Dec 3-7, 2026", (date(2026, 12, 3), date(2026, 12, 7))),
    ("vom 3. bis 7. Dezember", (date(2026, 12, 3), date(2026, 12, 7))),
    ("vom 3. bis zum 7. Dez.", (date(2026, 12, 3), date(2026, 12, 7))),
    ("3.-7.12.", (date(2026, 12, 3), date(2026, 12, 7))),
    ("5 days from 3 Dec", (date(2026, 12, 3), date(2026, 12, 7))),
    ("3 Dec for 5 days", (date(2026, 12, 3), date(2026, 12, 7))),
    ("ab 3. Dez. 5 Tage", (date(2026, 12, 3), date(2026, 12, 7))),
    ("3 Dec, one week", (date(2026, 12, 3), date(2026, 12, 9))),
    ("21 Dec - 3 Jan", (date(2026, 12, 21), date(2027, 1, 3))),
    ("until friday", (TODAY, date(2026, 11, 27))),
    ("bis Freitag", (TODAY, date(2026, 11, 27))),
    ("3 days", (TODAY, date(2026, 11, 27))),
    ("2 Wochen", (TODAY, date(2026, 12, 8))),
    ("in 2 weeks", (date(2026, 12, 9), date(2026, 12, 9))),
    ("friday", (date(2026, 11, 27), date(2026, 11, 27))),
    ("monday to friday", (date(2026, 11, 30), date(2026, 12, 4))),
    ("Do bis", None),
    ("from 3/4/2027 to 9 May 2027", None),
    ("until 3/4/2027", None),
    ("0 days", None),
    ("31.12.9999 for 3 days", None),
    ("1.1.0001 to monday", None),
]


@pytest.mark.parametrize(("text", "span"), SPANS)
def test_spans_are_read_in_every_form(text: str, span: tuple[date, date] | None) -> None:
    assert read_span(text, TODAY) == span


def test_a_stretch_is_no_week_of_a_report() -> None:
    assert read_week("2 weeks", TODAY) is None
    assert read_week("12 Oct", TODAY) == date(2026, 10, 12)


@pytest.mark.parametrize("language", LANGUAGES)
def test_names_of_the_cldr_are_read(language: str) -> None:
    # Source: Unicode CLDR as shipped with Babel.
    locale = Locale.parse(language)
    for number, name in locale.days["format"]["wide"].items():
        assert read_weekday(name) == number
        assert [day.weekday() for day in read_days(name, TODAY)] == [number]
    for number, name in locale.months["format"]["wide"].items():
        assert {day.month for day in read_days(f"5 {name}", TODAY)} == {number}
        assert {day.month for day in days_ahead(f"{name} 5", TODAY)} == {number}


@given(DAYS, DAYS, st.sampled_from(LANGUAGES))
def test_a_day_in_full_is_read_back(today: date, day: date, language: str) -> None:
    assert read_days(words(language).long_day(day), today) == (day,)


@given(DAYS, st.integers(-LONG_PAST.days, 274), st.sampled_from(LANGUAGES))
@example(date(2027, 1, 5), -6, "de")
@example(date(2026, 11, 25), 39, "en")
def test_a_day_with_its_weekday_is_read_back(today: date, ahead: int, language: str) -> None:
    day = today + timedelta(days=ahead)
    assert read_days(words(language).day(day), today) == (day,)


@given(DAYS, st.integers(1, 364), st.sampled_from(LANGUAGES))
def test_a_day_to_come_is_read_back(today: date, ahead: int, language: str) -> None:
    day = today + timedelta(days=ahead)
    assert days_ahead(words(language).day(day), today) == (day,)
    assert days_ahead(words(language).day_and_month(day), today) == (day,)
    assert days_ahead(f"{ahead} days", today) == (day,)


@given(DAYS, st.integers(1, 7), st.sampled_from(LANGUAGES))
def test_a_weekday_is_the_next_one(today: date, ahead: int, language: str) -> None:
    day = today + timedelta(days=ahead)
    assert read_days(words(language).weekday(day), today) == (day,)


@given(DAYS, st.integers(0, 180), st.integers(0, 60), st.sampled_from((" - ", " – ", " to ", " bis ")))
def test_a_span_of_days_in_full_is_read_back(today: date, start: int, length: int, between: str) -> None:
    first = today + timedelta(days=start)
    last = first + timedelta(days=length)
    for said in map(words, LANGUAGES):
        assert read_span(said.long_day(first) + between + said.long_day(last), today) == (first, last)
