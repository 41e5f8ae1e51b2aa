"""Timetable sheets: the good rows, and every problem with the row and column of the spreadsheet."""

from __future__ import annotations

from datetime import date, time
from pathlib import Path
from typing import Any

import pytest

from storage.files.timetables.timetable import read_timetable
from storage.files.values import HolidayRow, KnownSchoolDays, LessonRow, QuizRow, Reading, TimetableFile
from storage.values import HolidayInfo
from tests.samples.workbooks import ods, xlsx
from tests.wording import sentence as english

SAMPLES = Path(__file__).parents[4] / "samples" / "files"
TODAY = date(2026, 9, 1)


def read(data: bytes | str, day_first: bool | None = None, **others: object) -> Reading[TimetableFile]:
    content = data.encode() if isinstance(data, str) else data
    topics = others.get("known_topics", ())
    assert isinstance(topics, tuple)
    return read_timetable(
        content, "plan.csv", zone="Europe/London", today=TODAY, day_first=day_first, known_topics=topics
    )


def sentences(reading: Reading[TimetableFile]) -> list[str]:
    return [english(one) for one in reading.problems]


def sample(name: str) -> Reading[TimetableFile]:
    return read((SAMPLES / name).read_bytes())


def test_timetable_of_a_term_is_read_whole() -> None:
    reading = sample("physics_autumn.csv")
    assert reading.clean
    assert (reading.rows_read, reading.kind) == (8, "csv")
    assert reading.value.lessons[0] == LessonRow(
        2, "Density", date(2026, 9, 8), time(8, 30), time(9, 15), "p. 12 no. 3"
    )
    assert reading.value.quizzes == (
        QuizRow(5, "First quiz", date(2026, 9, 22), time(8, 30)),
        QuizRow(
            9,
            "Autumn exam",
            date(2026, 11, 17),
            time(8, 30),
            ("Density", "Moments", "Levers, pulleys and gears"),
            "exam",
        ),
    )
    assert reading.value.holidays == (HolidayRow(7, date(2026, 10, 26), date(2026, 10, 30), "Half-term"),)


def test_timetable_from_an_old_german_spreadsheet() -> None:
    reading = sample("physik_herbst_windows.csv")
    assert reading.clean
    assert reading.value.lessons == (
        LessonRow(2, "Kräfte; Einführung", date(2026, 9, 8), time(8, 30), time(9, 15), "S. 12"),
        LessonRow(3, "Federn (Größe)", date(2026, 9, 10), time(8, 30), time(9, 15), "homework"),
    )
    assert reading.value.quizzes == (QuizRow(4, "Erster Test", date(2026, 9, 22)),)
    assert reading.value.holidays == (HolidayRow(5, date(2026, 10, 26), date(2026, 10, 30), "Herbstferien"),)


def test_timetable_names_every_problem_and_keeps_the_good_rows() -> None:
    reading = sample("physics_autumn_with_problems.csv")
    assert sentences(reading) == [
        'Row 4, column "date" (C): "31/11/2026" is not a day that exists. '
        "Write day/month/year, for example 30/11/2026.",
        'Row 5, column "topic" (B): nothing is written here. Write a topic, or delete the row.',
        'Row 6, column "kind" (A): "quizz" is no kind of entry (did you mean "quiz"?). '
        "Write lesson, quiz, exam or holiday.",
        'Row 7, column "start" (D): "25:00" is not a time of day. Write hours and minutes, for example 08:30.',
        'Row 8, column "date" (C): "24/09/2062" (2062-09-24) is more than 400 days from today. '
        "Correct the year, or leave the row out.",
        'Row 9: "Density, 2026-09-08" stands already in row 2. Delete one of the two rows, or change it.',
        'Row 10, column "date" (C): "wheels" is not a date. Write day.month.year, for example 01.09.2026.',
        'Row 10, column "start" (D): "29/09/2026" is not a time of day. '
        "Write hours and minutes, for example 08:30.",
    ]
    assert [lesson.row for lesson in reading.value.lessons] == [2, 3]
    assert (reading.usable, reading.clean) == (True, False)
    assert reading.rows_with_problems == (4, 5, 6, 7, 8, 9, 10)


@pytest.mark.parametrize("make", [xlsx, ods])
def test_timetable_reads_the_same_from_workbooks(make: object) -> None:
    rows: list[list[Any]] = [
        ["Topic", "Date", "Start", "Kind"],
        ["Density", date(2026, 9, 8), time(8, 30), None],
        [None, None, None, None],
        ["First quiz", date(2026, 9, 22), "8:30", "Quiz"],
        ["Springs", "31.9.2026", None, "lesson"],
    ]
    assert callable(make)
    reading = read(make(rows))
    assert reading.value == TimetableFile(
        (LessonRow(2, "Density", date(2026, 9, 8), time(8, 30)),),
        (QuizRow(4, "First quiz", date(2026, 9, 22), time(8, 30)),),
    )
    assert sentences(reading) == [
        'Row 5, column "Date" (B): "31.9.2026" is not a day that exists. Write day.month.year, for example 30.09.2026.'
    ]


def test_days_that_can_be_two_are_asked_about_once_for_the_column() -> None:
    text = "topic,date\nDensity,03/09/2026\nSprings,04/09/2026\nMoments,05/05/2026\n"
    reading = read(text)
    (asked,) = reading.questions
    assert english(asked) == (
        'Row 2, column "date" (B): "03/09/2026" can be 3 September or 9 March; so can the days in 1 more row. '
        "Say whether the day or the month comes first in this column."
    )
    assert [(one.day, one.day_first) for one in asked.options] == [
        (date(2026, 9, 3), True),
        (date(2026, 3, 9), False),
    ]
    assert asked.rows == (2, 3)
    assert [lesson.topic for lesson in reading.value.lessons] == ["Moments"]


@pytest.mark.parametrize(("day_first", "day"), [(True, date(2026, 9, 3)), (False, date(2026, 3, 9))])
def test_reading_again_with_the_choice_settles_the_question(day_first: bool, day: date) -> None:
    reading = read("topic,date\nDensity,03/09/2026\n", day_first)
    assert reading.clean
    assert reading.value.lessons[0].day == day


def test_other_rows_of_the_column_settle_the_question() -> None:
    assert read("topic,date\nDensity,03/09/2026\nSprings,13/09/2026\n").value.lessons[0].day == date(
        2026, 9, 3
    )
    assert read("topic,date\nDensity,03/09/2026\nSprings,09/13/2026\n").value.lessons[0].day == date(
        2026, 3, 9
    )


def test_rows_that_contradict_each_other_leave_the_question_open() -> None:
    reading = read("topic,date\nDensity,03/09/2026\nSprings,13/09/2026\nMoments,09/15/2026\n")
    assert [lesson.topic for lesson in reading.value.lessons] == ["Springs", "Moments"]
    assert [asked.rows for asked in reading.questions] == [(2,)]


def test_heading_or_weekday_settles_the_question() -> None:
    assert read("topic,date (MM/DD/YYYY)\nDensity,03/09/2026\n").value.lessons[0].day == date(2026, 3, 9)
    assert read("topic,date\nDensity,Thu 03/09/2026\n").value.lessons[0].day == date(2026, 9, 3)


def test_real_dates_beside_texts_are_pointed_out_when_a_spreadsheet_may_have_exchanged_them() -> None:
    real: list[list[Any]] = [
        ["A", date(2026, 9, 3)],
        ["B", date(2026, 9, 10)],
        ["C", date(2026, 10, 8)],
        ["D", "15/10/2026"],
    ]
    (note,) = read(xlsx([["topic", "date"], *real])).notes
    assert note.code == "dates_mixed"
    assert '"15/10/2026"' in english(note)


def test_holiday_in_all_its_forms() -> None:
    reading = read(
        "kind;topic;date;last day;end\n"
        "holiday;Autumn;26.10.2026;30.10.2026;\n"
        "holiday;Winter;21.12.2026 - 03.01.2027;;\n"
        "holiday;Spring;29.3.-9.4.2027;;\n"
        "holiday;Inset day;09.10.2026;;\n"
        "holiday;;24.05.2027;;28.05.2027\n"
        ";Pfingstferien;18.05.2027 bis 20.05.2027;;\n"
    )
    assert sentences(reading) == []
    assert [
        (one.name, one.first_day.isoformat(), one.last_day.isoformat()) for one in reading.value.holidays
    ] == [
        ("Autumn", "2026-10-26", "2026-10-30"),
        ("Winter", "2026-12-21", "2027-01-03"),
        ("Spring", "2027-03-29", "2027-04-09"),
        ("Inset day", "2026-10-09", "2026-10-09"),
        ("Holiday", "2027-05-24", "2027-05-28"),
        ("Pfingstferien", "2027-05-18", "2027-05-20"),
    ]


@pytest.mark.parametrize(
    ("row", "sentence"),
    [
        (
            "holiday;Autumn;30.10.2026;26.10.2026",
            'Row 2, column "last day" (D): "26.10.2026" comes before the first day, 2026-10-30. '
            "Exchange the two dates.",
        ),
        (
            "holiday;Autumn;01.01.2027;30.06.2027",
            'Row 2, column "last day" (D): the holiday would last 181 days; the limit is 100. '
            "Correct one of the two dates.",
        ),
        (
            "holiday;Autumn;;",
            'Row 2, column "date" (C): nothing is written here. Write the first day, or delete the row.',
        ),
        (
            "lesson;Density;01.10.2026;02.10.2026",
            'Row 2, column "last day" (D): "02.10.2026" is another day than 2026-10-01, and a lesson is on one day. '
            "Write one row for each lesson, or say holiday in the column for the kind.",
        ),
        (
            "lesson;Density;01.10.2026;soon",
            'Row 2, column "last day" (D): "soon" is not a date. Write year-month-day, for example 2026-10-01.',
        ),
        ("quiz;Q;;", 'Row 2, column "date" (C): nothing is written here. Write a date, or delete the row.'),
    ],
)
def test_days_that_do_not_fit_are_named(row: str, sentence: str) -> None:
    assert sentences(read(f"kind;topic;date;last day\n{row}\n")) == [sentence]


def test_times_in_one_cell_or_two_and_with_the_date() -> None:
    reading = read(
        "topic,date,time,end\nA,2026-09-08,08:30-09:15,\nB,2026-09-09,8.30 am,9.15 am\nC,2026-09-10 08:30,,\n"
        "D,2026-09-11,09:15,08:30\nE,2026-09-12,,soon\n"
    )
    assert [(one.start, one.end) for one in reading.value.lessons] == [
        (time(8, 30), time(9, 15)),
        (time(8, 30), time(9, 15)),
        (time(8, 30), None),
    ]
    assert sentences(reading) == [
        'Row 5, column "end" (D): "08:30" is not later than the start, 09:15. Correct the start or the end.',
        'Row 6, column "end" (D): "soon" is not a time of day. Write hours and minutes, for example 08:30.',
    ]


def test_kind_is_told_from_the_title_when_no_column_says_it() -> None:
    reading = read(
        "topic,date\nQuiz: Forces,2026-09-08\nQuiz 2,2026-09-15\nExam,2026-09-22\nHoliday: half-term,2026-10-26\n"
        "Testing materials,2026-09-29\n"
    )
    assert [(quiz.name, quiz.kind) for quiz in reading.value.quizzes] == [
        ("Forces", "quiz"), ("Quiz 2", "quiz"), ("Exam", "exam"),
    ]  # fmt: skip
    assert [holiday.name for holiday in reading.value.holidays] == ["half-term"]
    assert [lesson.topic for lesson in reading.value.lessons] == ["Testing materials"]


def test_quiz_topics_are_found_whatever_their_case_and_unknown_ones_are_named() -> None:
    reading = read(
        "kind,topic,date,topics\nlesson,Hooke’s law,2026-09-08,\nlesson,Density,2026-09-10,\n"
        "quiz,Q1,2026-09-15,hooke's LAW | density\nquiz,Q2,2026-09-16,\"Hooke's law, optics\"\n"
        "quiz,Q3,2026-09-17,Densty\n"
    )
    assert [(quiz.name, quiz.topics) for quiz in reading.value.quizzes] == [
        ("Q1", ("Hooke’s law", "Density"))
    ]
    assert sentences(reading) == [
        'Row 5, column "topics" (D): "optics" is not a topic of this timetable. '
        "Write topics as they stand in their lessons, with ; between them.",
        'Row 6, column "topics" (D): "Densty" is not a topic of this timetable (did you mean "Density"?). '
        "Write topics as they stand in their lessons, with ; between them.",
    ]


def test_quiz_may_name_topics_the_class_already_has() -> None:
    reading = read("kind,topic,date,topics\nquiz,Q1,2026-09-15,optics\n", known_topics=("Optics",))
    assert reading.value.quizzes[0].topics == ("Optics",)


def test_quiz_without_a_name_is_named_by_its_day() -> None:
    assert read("kind,topic,date\nquiz,,2026-09-15\n").value.quizzes[0].name == "Quiz 2026-09-15"


def test_topic_in_another_case_is_the_same_topic() -> None:
    reading = read("topic,date\nHooke’s law,2026-09-08\nHOOKE'S  LAW,2026-09-10\n")
    assert {lesson.topic for lesson in reading.value.lessons} == {"Hooke’s law"}


def test_lessons_in_a_holiday_are_pointed_out_once() -> None:
    reading = read(
        "kind,topic,date,last day\nholiday,Half-term,2026-10-26,2026-10-30\n"
        "lesson,A,2026-10-27,\nlesson,B,2026-10-28,\n"
    )
    assert sentences(reading) == [
        'Row 3: lessons inside the holiday "Half-term": 2, the first is "A". '
        "Move or delete them if they do not take place."
    ]
    assert reading.clean


def test_formulas_errors_and_damaged_texts_are_named_in_their_cells() -> None:
    damaged = ["=A1", "#REF!", "=NOW()"]
    rows: list[list[Any]] = [["topic", "date", "start"], damaged, ["x" * 501, date(2026, 9, 8), None]]
    assert sentences(read(xlsx(rows))) == [
        'Row 2, column "topic" (A): the formula “=A1” has no saved result. Open the file in your spreadsheet program, '
        "save it there, and send that; or type the value itself.",
        'Row 2, column "date" (B): the cell shows the error #REF!. Correct the formula, or type the value itself.',
        'Row 2, column "start" (C): the formula “=NOW()” has no saved result. Open the file in your spreadsheet '
        "program, save it there, and send that; or type the value itself.",
        'Row 3, column "topic" (A): the text has 501 characters; the limit is 500. Shorten it.',
    ]


def test_row_with_too_many_cells_says_so_and_nothing_else() -> None:
    assert sentences(read("topic,date\nLevers, gears,2026-09-08\n")) == [
        "Row 2: the row has 3 cells, more than the 2 of the heading row. "
        "Put quotation marks around a text that contains the separator, or save the sheet as .xlsx."
    ]


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (b"", "file_empty"),
        (b"topic,date\n", "rows_none"),
        (b"Density\nSprings\n", "hours_unknown"),
        (b"Density,1\nSprings,2\n", "headings_none"),
        (b"%PDF-1.4", "file_broken"),
        (b"\0\1\2", "file_nul"),
    ],
)
def test_file_that_cannot_be_used_gives_one_problem_and_no_rows(data: bytes, code: str) -> None:
    reading = read(data)
    assert [one.code for one in reading.problems] == [code]
    assert (reading.refused, reading.usable, len(reading.value)) == (True, False, 0)


def test_columns_are_shown_as_they_were_understood() -> None:
    uses = read("Thema;Datum;Raum\nKraft;8.9.2026;12\n").columns
    assert [(use.letter, use.heading, use.field) for use in uses] == [
        ("A", "Thema", "topic"), ("B", "Datum", "date"), ("C", "Raum", None),
    ]  # fmt: skip


def test_two_thousand_rows_are_read_at_once() -> None:
    rows = "".join(f"Topic {number},{date(2026, 9, 1 + number % 28)}\n" for number in range(2000))
    assert len(read(f"topic,date\n{rows}").value.lessons) == 2000


# ---------------------------------------------------------------- days without school

SCHOOL = KnownSchoolDays(
    frozenset(range(5)), (HolidayInfo(1, date(2026, 12, 8), date(2026, 12, 8), "training day"),)
)


def noted(data: str, school: KnownSchoolDays = SCHOOL) -> list[str]:
    reading = read_timetable(data.encode(), "plan.csv", zone="Europe/London", today=TODAY, school=school)
    assert {one.level for one in reading.problems} <= {"note"}
    assert not reading.rows_with_problems
    assert len(reading.value) == reading.rows_read, "the teacher decides: every row is taken"
    return sentences(reading)


def test_lessons_and_quizzes_on_weekdays_without_school_are_noted_once_each() -> None:
    assert noted(
        "topic,date,kind\nA,2026-11-20,lesson\nB,2026-11-21,lesson\nC,2026-11-22,lesson\n"
        "Q1,2026-11-27,quiz\nQ2,2026-11-28,quiz\nE,2026-11-29,exam\n"
    ) == [
        'Row 3: lessons on weekdays without school: 2, the first is "B" on a Saturday. '
        "Check the date; it is taken as it stands.",
        'Row 6: quizzes on weekdays without school: 2, the first is "Q2" on a Saturday. '
        "Check the date; it is taken as it stands.",
    ]


def test_quizzes_inside_a_holiday_are_noted_like_lessons() -> None:
    assert noted(
        "topic,date,last day,kind\nHalf-term,2026-10-26,2026-10-30,holiday\nQ,2026-10-27,,quiz\n"
    ) == [
        'Row 3: quizzes inside the holiday "Half-term": 1, the first is "Q". '
        "Move or delete them if they do not take place."
    ]


def test_a_holiday_that_the_class_has_besides_the_file_counts() -> None:
    assert noted("topic,date,kind\nA,2026-12-08,lesson\nQ,2026-12-08,quiz\n") == [
        'Row 2: lessons inside the holiday "training day": 1, the first is "A". '
        "Move or delete them if they do not take place.",
        'Row 3: quizzes inside the holiday "training day": 1, the first is "Q". '
        "Move or delete them if they do not take place.",
    ]


def test_a_holiday_that_the_file_names_too_is_noted_once_and_a_weekend_in_it_is_part_of_it() -> None:
    said = noted(
        "topic,date,last day,kind\nTraining,2026-12-08,,holiday\nA,2026-12-08,,lesson\n"
        "Winter,2026-12-21,2027-01-03,holiday\nB,2026-12-26,,lesson\n"
    )
    assert [one.split(":")[1].strip() for one in said] == [
        'lessons inside the holiday "Training"', 'lessons inside the holiday "Winter"'
    ]  # fmt: skip


def test_a_class_with_school_on_saturdays_hears_nothing_of_them() -> None:
    assert noted("topic,date,kind\nB,2026-11-21,lesson\n", KnownSchoolDays(frozenset(range(6)))) == []
    assert noted("topic,date,kind\nB,2026-11-21,lesson\n", KnownSchoolDays()) == []


def test_a_text_too_long_for_a_cell_is_named_in_a_column_of_times_too() -> None:
    (fault,) = read(f"topic,date,start\nForces,2026-12-01,{'8' * 600}\n").faults
    assert english(fault) == (
        'Row 2, column "start" (C): the text has 600 characters; the limit is 500. Shorten it.'
    )
