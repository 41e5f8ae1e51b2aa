"""Timetables as they are kept: each layout becomes the same entries, or a question; places are those of the file."""

from __future__ import annotations

from datetime import date

import pytest

from bot.service.teacher.upload_reading import is_mere_note
from storage.files.timetables.dates import read_day, school_year
from storage.files.timetables.timetable import read_timetable
from storage.files.values import Reading, TimetableFile
from tests.wording import sentence

TODAY = date(2026, 11, 30)


def _read(text: str, **choices: str) -> Reading[TimetableFile]:
    return read_timetable(text.encode(), "plan.csv", zone="Europe/Berlin", today=TODAY, choices=choices)


def _entries(text: str, **choices: str) -> list[tuple[str, str]]:
    reading = _read(text, **choices)
    assert not reading.faults, [sentence(one) for one in reading.faults]
    assert not reading.questions, [sentence(one) for one in reading.questions]
    file = reading.value
    return sorted(
        [(one.day.isoformat()[5:], one.topic) for one in file.lessons]
        + [(one.day.isoformat()[5:], f"{one.kind}: {one.name}") for one in file.quizzes]
        + [
            (one.first_day.isoformat()[5:], f"until {one.last_day:%m-%d}: {one.name}")
            for one in file.holidays
        ]
    )


@pytest.mark.parametrize(
    "text",
    [
        "KW;Tag;Thema\n49;Di;Kräfte\n;Do;Federn\n50;Di;Test Kräfte\n",
        "Datum;Thema\nKW 49, Di;Kräfte\nDo KW 49;Federn\n50. KW Di;Test Kräfte\n",
        "When;Thema\nweek 49 Tue;Kräfte\nweek 49, Thursday;Federn\nweek 50 Tue;Test Kräfte\n",
        "Datum;Thema\n1.12.;Kräfte\n3.12.;Federn\n8. Dezember;Test Kräfte\n",
        "Date;Day;Topic\n2026-12-01;Tuesday;Kräfte\n2026-12-03;Thu;Federn\n2026-12-08;Tue;Test Kräfte\n",
        "Date;Day;Topic\n01/12/2026;Tue;Kräfte\n03/12/2026;Thu;Federn\n08/12/2026;Tue;Test Kräfte\n",
        "Date;Subject;Topic\n2026-12-01;Physics;Kräfte\n2026-12-03;Physics;Federn\n2026-12-08;Physics;Test Kräfte\n",
        "Start;End;Topic\n2026-12-01 10:15;2026-12-01 11:00;Kräfte\n2026-12-03 10:15;2026-12-03 11:00;Federn\n"
        "2026-12-08 10:15;2026-12-08 11:00;Test Kräfte\n",
        "Date;Topic;;Date;Topic\n2026-12-01;Kräfte;;2026-12-08;Test Kräfte\n2026-12-03;Federn;;;\n",
        "Date;2026-12-01;2026-12-03;2026-12-08\nTopic;Kräfte;Federn;Test Kräfte\n",
        "Class 10b;2026-12-01;2026-12-03;2026-12-08\nTopic;Kräfte;Federn;Test Kräfte\n",
        "Std.;Di 1.12.;Do 3.12.;Di 8.12.\n1;Kräfte;;\n2;;Federn;\n3;;;Test Kräfte\n",
        "Unterricht;Thema\n01.12.2026;Kräfte\n03.12.2026;Federn\n08.12.2026;Test Kräfte\n",
        "Plan 10b;\n;\nDatum;Thema\n01.12.2026;Kräfte\n03.12.2026;Federn\n08.12.2026;Test Kräfte\n",
    ],
)
def test_each_layout_is_the_same_plan(text):
    assert _entries(text) == [("12-01", "Kräfte"), ("12-03", "Federn"), ("12-08", "quiz: Test Kräfte")]


@pytest.mark.parametrize("sign", ['""""', "ditto", "〃", "„"])  # the first is one quotation mark, quoted
def test_a_sign_for_the_same_means_what_stands_above(sign):
    text = f"Date,Topic\n2026-12-01,Forces\n2026-12-03,{sign}\n"
    assert _entries(text) == [("12-01", "Forces"), ("12-03", "Forces")]


def test_times_of_a_grid_are_those_of_its_first_column():
    reading = _read("Period,2026-12-01,2026-12-03\n1 (08:00),Forces,\n08:50,,Springs\n")
    assert [(one.topic, str(one.start)) for one in reading.value.lessons] == [
        ("Forces", "08:00:00"),
        ("Springs", "08:50:00"),
    ]


def test_a_start_with_day_and_time_is_the_time_too():
    reading = _read("Start,Topic\n2026-12-01 10:15,Forces\n")
    assert str(reading.value.lessons[0].start) == "10:15:00"


@pytest.mark.parametrize(
    "text",
    [
        "Week commencing,Topic\n30/11/2026,Forces\n07/12/2026,Springs\n14/12/2026,Energy\n",
        "Woche;Thema\n30.11.-04.12.;Forces\n07.12.-11.12.;Springs\n14.12.-18.12.;Energy\n",
    ],
)
def test_weeks_are_asked_about_and_become_the_chosen_day(text):
    (asked,) = _read(text).problems
    assert [one.chosen for one in asked.options] == ["0", "1", "2", "3", "4"]
    assert _entries(text, weekday="3") == [("12-03", "Forces"), ("12-10", "Springs"), ("12-17", "Energy")]


def test_a_plan_of_weekdays_has_no_dates():
    reading = _read("Period,Monday,Tuesday,Wednesday\n1,Forces,,Springs\n2,,Energy,\n")
    assert [one.code for one in reading.problems] == ["plan_weekly"]


def test_a_weekday_that_is_not_that_of_its_date_is_a_slip():
    reading = _read("Date,Day,Topic\n2026-12-01,Wednesday,Forces\n2026-12-03,Thu,Springs\n")
    assert [(one.code, one.row, one.column) for one in reading.faults] == [("date_weekday", 2, "A")]


def test_problems_name_the_place_in_the_file_also_beside_another_table():
    reading = _read("Date,Topic,,Date,Topic\n2026-12-01,Forces,,2026-12-08,\n")
    assert [(one.code, one.row, one.column) for one in reading.faults] == [("cell_missing", 2, "E")]


def test_a_blank_topic_or_date_is_never_filled_in():
    assert [one.code for one in _read("Topic,Date\nForces,2026-12-01\n,2026-12-03\n").faults] == [
        "cell_missing"
    ]
    assert [one.code for one in _read("Date,Topic\n2026-12-01,Forces\n,Springs\n").faults] == ["cell_missing"]


@pytest.mark.parametrize(
    "title", ["Breaking the ice", "Cancelling fractions", "No forces at all", "Half-life"]
)
def test_words_of_free_days_within_a_topic_leave_it_a_topic(title):
    assert _entries(f"Date,Topic\n2026-12-01,{title}\n") == [("12-01", title)]


def test_a_range_of_days_in_one_cell_is_a_holiday():
    assert _entries("Datum;Thema\n23.12.2026-08.01.2027;Weihnachtsferien\n12.01.2027;Energie\n") == [
        ("01-12", "Energie"),
        ("12-23", "until 01-08: Weihnachtsferien"),
    ]


def test_a_week_of_a_term_is_no_week_of_the_calendar():
    read = read_day("week 3 Tue", day_first=None, today=TODAY)
    assert read.fault is not None
    assert read.fault.code == "date_week"
    # ISO 8601-1:2019: week 1 of 2027 begins on Monday 4 January.
    assert read_day("KW 1 Mo", day_first=None, today=TODAY).day == date(2027, 1, 4)
    assert read_day("KW 53 Do", day_first=None, today=TODAY).day == date(2026, 12, 31)


def test_every_month_falls_into_one_school_year_from_wherever_it_is_seen():
    for month in range(1, 13):
        today = date(2026, month, 15)
        years = [school_year(one, today) for one in (8, 9, 10, 11, 12, 1, 2, 3, 4, 5)]
        assert years == [years[0]] * 5 + [years[0] + 1] * 5


def test_the_years_that_were_added_are_said_once():
    notes = [
        one for one in _read("Datum;Thema\n1.12.;Kräfte\n7.1.;Federn\n").problems if one.code == "year_added"
    ]
    assert [sentence(one) for one in notes] == [
        'Row 2, column "Datum" (A): "1.12." has no year: it was read as 2026-12-01, and so on for 2. '
        "Nothing needs to be done if that is right."
    ]


@pytest.mark.parametrize("heading", ["", "Unterricht", "Lesson"])
def test_a_column_of_dates_only_is_the_date(heading):
    text = f"{heading};Topic\n01.12.2026;Forces\n03.12.2026;Springs\n"
    assert _entries(text) == [("12-01", "Forces"), ("12-03", "Springs")]
    assert not _read(text).notes


def test_a_column_that_may_be_other_dates_is_said_to_be_taken_for_the_date():
    """Due dates look like those of lessons."""
    notes = _read("Due;Topic\n01.12.2026;Forces\n03.12.2026;Springs\n").problems
    assert [(one.code, one.row, one.column) for one in notes] == [("date_assumed", 1, "A")]
    assert not is_mere_note(notes[0])


@pytest.mark.parametrize("weekday", ["", "9", "12", "Monday"])
def test_a_weekday_that_is_none_is_asked_again(weekday):
    text = "Week commencing,Topic\n30/11/2026,Forces\n14/12/2026,Energy\n"
    assert [one.code for one in _read(text, weekday=weekday).problems] == ["weeks_only"]
