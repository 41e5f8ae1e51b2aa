"""Days and times as teachers write them; what can be two days is never guessed."""

from __future__ import annotations

import re
from datetime import date, datetime, time

import pytest
from babel import Locale, localedata

from storage.files.reading.sheet import Cell
from storage.files.timetables.dates import (
    options,
    order_in_heading,
    order_of,
    read_day,
    read_time,
    split_range,
)
from storage.files.timetables.names import MONTHS, WEEKDAYS
from tests.wording import sentence as english

TODAY = date(2026, 11, 25)
SERIAL = (
    "46480 is a plain number, not a date. "
    "Format the cell as a date (as a spreadsheet's day number it would be 2027-04-03)."
)


def day(cell: Cell, day_first: bool | None = None) -> date | None:
    read = read_day(cell, day_first=day_first, today=TODAY)
    return None if read.other else read.day


def complaint(cell: Cell, day_first: bool | None = None) -> str:
    fault = read_day(cell, day_first=day_first, today=TODAY).fault
    assert fault is not None
    return english(fault)


@pytest.mark.parametrize(
    "text",
    [
        "2027-04-03", "2027/04/03", "2027.4.3", "2027. 4. 3.", "20270403", "2027-04-03T08:30:00", "2027-04-03 08:30",
        "3.4.2027", "03.04.2027", "03. 04. 2027", "3.4.27", "Sa 3.4.2027", "Samstag, 3. April 2027", "Sat 3/4/2027",
        "3 April 2027", "3rd April 2027", "April 3, 2027", "Apr 3 2027", "3-Apr-27", "3. Apr. 2027", "3 avril 2027",
        "samedi 3 avril 2027", "3 de abril de 2027", "3 aprile 2027", "3 april 2027", "3 de abril 2027", "٣.٤.٢٠٢٧",
        "３.４.２０２７", "3 Apr, 2027",
    ],
)  # fmt: skip
def test_day_in_every_usual_form(text: str) -> None:
    assert day(text) == date(2027, 4, 3)


@pytest.mark.parametrize("cell", [date(2027, 4, 3), datetime(2027, 4, 3, 8, 30), 20270403])  # noqa: DTZ001 - spreadsheet
def test_day_of_a_real_date_cell(cell: Cell) -> None:
    assert day(cell) == date(2027, 4, 3)


def test_time_in_the_same_cell_is_kept() -> None:
    assert read_day("03.04.2027 08:30", day_first=None, today=TODAY).clock == time(8, 30)


@pytest.mark.parametrize("text", ["03/04/2027", "3-4-2027", "03/04/27", "3 / 4 / 2027"])
def test_day_that_can_be_two_is_doubtful(text: str) -> None:
    read = read_day(text, day_first=None, today=TODAY)
    assert (read.day, read.other) == (date(2027, 4, 3), date(2027, 3, 4))
    assert [one.day for one in options(read)] == [date(2027, 4, 3), date(2027, 3, 4)]


def test_known_order_settles_a_doubt() -> None:
    assert day("03/04/2027", True) == date(2027, 4, 3)
    assert day("03/04/2027", False) == date(2027, 3, 4)


def test_weekday_settles_a_doubt_and_is_evidence_for_the_column() -> None:
    read = read_day("Thu 03/04/2027", day_first=None, today=TODAY)
    assert (read.day, read.other, read.order) == (date(2027, 3, 4), None, False)


def test_equal_numbers_are_one_day() -> None:
    read = read_day("05/05/2027", day_first=None, today=TODAY)
    assert (read.day, read.other, read.order) == (date(2027, 5, 5), None, None)


def test_order_of_a_column_comes_from_the_days_that_leave_no_choice() -> None:
    reads = [
        read_day(text, day_first=None, today=TODAY) for text in ("03/04/2027", "25/04/2027", "05/05/2027")
    ]
    assert order_of(reads) is True
    assert order_of([*reads, read_day("04/25/2027", day_first=None, today=TODAY)]) is None
    assert order_of(reads[:1]) is None


@pytest.mark.parametrize(
    ("cell", "sentence"),
    [
        (
            "31.02.2026",
            '"31.02.2026" is not a day that exists. Write day.month.year, for example 28.02.2026.',
        ),
        (
            "31/11/2026",
            '"31/11/2026" is not a day that exists. Write day/month/year, for example 30/11/2026.',
        ),
        ("31.12.26.", '"31.12.26." is not a date. Write day.month.year, for example 25.11.2026.'),
        (
            "2026-02-30",
            '"2026-02-30" is not a day that exists. Write year-month-day, for example 2026-02-28.',
        ),
        (
            "30 February 2027",
            '"30 February 2027" is not a day that exists. Write day month year, for example 28 February 2027.',
        ),
        ("next Tuesday", '"next Tuesday" is not a date. Write day.month.year, for example 25.11.2026.'),
        ("31.4.", '"31.4." is not a day that exists. Write day.month.year, for example 30.04.2026.'),
        (
            "KW 49",
            '"KW 49" is a week, and not which day of it. Write the week of the calendar and the weekday, '
            "for example KW 49, Tue, or a date, for example 2026-11-25.",
        ),
        (
            46480,
            SERIAL,
        ),
        (
            "46480",
            SERIAL,
        ),
        (
            3.5,
            "3.5 is a plain number, not a date. Format the cell as a date.",
        ),
        (
            "Mo 3.4.2027",
            '"Mo 3.4.2027" does not fit: 2027-04-03 is a Saturday. Correct the day or the weekday.',
        ),
        (True, '"true" is not a date. Write day.month.year, for example 25.11.2026.'),
        (time(8, 30), '"08:30" is not a date. Write day.month.year, for example 25.11.2026.'),
    ],
)
def test_what_is_no_day_is_said_with_a_remedy(cell: Cell, sentence: str) -> None:
    assert complaint(cell) == sentence[0].upper() + sentence[1:]


def test_month_first_columns_get_month_first_advice() -> None:
    assert complaint("02/30/2027", False) == (
        '"02/30/2027" is not a day that exists. Write month/day/year, for example 02/28/2027.'
    )
    assert complaint("soon", False).endswith("Write month/day/year, for example 11/25/2026.")


@pytest.mark.parametrize(
    "text", ["1" * 500, "9" * 40 + ".1.2027", "32.13.99999", "0/0/0000", "٣" * 300, "Mo " * 100]
)
def test_absurd_texts_are_no_day_and_cost_nothing(text: str) -> None:
    assert complaint(text)


def test_dots_mean_day_first_in_every_language_of_cldr() -> None:
    # Source: Unicode CLDR as shipped with Babel, short and medium date formats of every language.
    languages = [Locale.parse(name) for name in localedata.locale_identifiers() if "_" not in name]
    patterns = [locale.date_formats[length].pattern for locale in languages for length in ("short", "medium")]
    dotted = [pattern for pattern in patterns if re.search(r"[dM]\s?\.\s?[dM]", pattern)]
    assert len(dotted) > 50
    assert not [
        pattern for pattern in dotted if re.search(r"M+\s?\.\s?d", pattern) and not pattern.startswith("y")
    ]


@pytest.mark.parametrize("language", ["en", "de", "de_AT", "fr", "es", "it", "nl", "pt"])
def test_names_of_months_and_weekdays_are_those_of_cldr(language: str) -> None:
    # Source: Unicode CLDR as shipped with Babel, wide and abbreviated names.
    locale = Locale.parse(language)
    for length in ("wide", "abbreviated"):
        for number, name in locale.months["format"][length].items():
            assert day(f"5 {name} 2027") == date(2027, number, 5), name
        for number, name in locale.days["format"][length].items():
            full_week = date(2027, 3, 1 + number)
            assert day(f"{name} {full_week:%d.%m.%Y}") == full_week, name


def test_no_beginning_of_a_month_name_stands_for_two_months() -> None:
    assert {"mar": 3, "jun": 6, "jul": 7, "dez": 12, "ago": 8}.items() <= MONTHS.items()
    assert "ju" not in MONTHS
    assert WEEKDAYS["mar"] == {1}


@pytest.mark.parametrize(
    ("heading", "order"),
    [
        ("Date (dd/mm/yyyy)", True),
        ("DATE MM-DD-YY", False),
        ("Datum (TT.MM.JJJJ)", True),
        ("date j/m/a", True),
        ("Date", None),
    ],
)
def test_order_can_stand_in_the_heading(heading: str, order: bool | None) -> None:
    assert order_in_heading(heading) is order


@pytest.mark.parametrize(
    ("cell", "expected"),
    [
        ("08:30", time(8, 30)), ("8:30", time(8, 30)), ("8.30", time(8, 30)), ("8h30", time(8, 30)),
        ("0830", time(8, 30)),
        ("8:30:00", time(8, 30)), ("8:30 am", time(8, 30)), ("8:30PM", time(20, 30)), ("12 am", time(0, 0)),
        ("12:15 p.m.", time(12, 15)), ("8 Uhr", time(8, 0)), ("8:30 Uhr", time(8, 30)), ("8 h", time(8, 0)),
        (time(8, 30), time(8, 30)), ("08:30-09:15", (time(8, 30), time(9, 15))),
        ("8.30 – 9.15", (time(8, 30), time(9, 15))), ("8 bis 9", None), ("8:30 to 9:15", (time(8, 30), time(9, 15))),
        ("25:00", None), ("8:61", None), ("3", None), (3, None), (8.3, None), ("13 pm", None), ("", None),
        ("noon", None),
        ("9999", None),
    ],
)  # fmt: skip
def test_times_of_day(cell: Cell, expected: time | tuple[time, time] | None) -> None:
    assert read_time(cell) == expected


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("19.10.2026 - 30.10.2026", ("19.10.2026", "30.10.2026")),
        ("19.10.-30.10.2026", ("19.10.2026", "30.10.2026")),
        ("19.–30.10.2026", ("19.10.2026", "30.10.2026")),
        ("23.12.2026 bis 06.01.2027", ("23.12.2026", "06.01.2027")),
        ("19 to 30 October 2026", ("19 October 2026", "30 October 2026")),
        ("2026-10-19 – 2026-10-30", ("2026-10-19", "2026-10-30")),
        ("19/10/2026 au 30/10/2026", ("19/10/2026", "30/10/2026")),
        ("2026-10-19", None),
        ("Monday - Friday", None),
        ("1 - 2 - 3", None),
    ],
)
def test_ranges_of_days(text: str, parts: tuple[str, str] | None) -> None:
    assert split_range(text) == parts


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("5 Feber 2027", date(2027, 2, 5)),
        ("5. Mrz. 2027", date(2027, 3, 5)),
        ("5 de setiembre de 2027", date(2027, 9, 5)),
        ("Sonnabend, 6.3.2027", date(2027, 3, 6)),
        ("Thurs 4 March 2027", date(2027, 3, 4)),
        ("quinta 4.3.2027", date(2027, 3, 4)),
    ],
)
def test_common_names_beside_those_of_cldr_are_read(text: str, expected: date) -> None:
    assert day(text) == expected
