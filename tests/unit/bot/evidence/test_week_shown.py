"""The weekly report as text, picture, workbook and CSV."""

from __future__ import annotations

import csv
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from io import BytesIO, StringIO

import pytest
from openpyxl import load_workbook
from PIL import Image

from bot.evidence.shared.drawing import grey_phone
from bot.evidence.week.numbers import week_report
from bot.evidence.week.picture import week_picture
from bot.evidence.week.tables import week_csv, week_tables, week_workbook
from bot.evidence.week.text import TooFewStudents, class_channel_summary, week_text
from bot.evidence.week.values import WeekData
from bot.words import Words


def test_the_text_says_who_what_and_how_sure(made_week: WeekData, english: Words) -> None:
    text = week_text(week_report(made_week), english).plain.replace("\u00a0", " ")
    assert text.splitlines() == [
        "10B Physics · week 49 (30 Nov – 6 Dec)",
        "24 of 26 answered at least once; 249 of 312 checks answered, 230 on time. About as in the week before (83 %). "
        "Right: 146 of 249: about 59 % (55–63).",
        "Silent for a week: Elif, Jonas.",
        "Slower than usual: Tom.",
        "Surely below half for the quiz on Fri 11 Dec: Ben, Grace.",
        "Topics below half for the quiz on Fri 11 Dec, as things stand: Pressure in liquids (about 35 % (30–40)), "
        "perhaps Moments (about 50 % (45–55)).",
        "A good word, in private: Mira (back after a silent week).",
        "2 students answered everything on time.",
        "Figures in brackets: in four cases out of five the true value lies between them. A forecast is not a grade.",
    ]


def test_the_text_fits_a_phone(make_week: Callable[..., WeekData], english: Words) -> None:
    many = [f"Student with a long name {n:02d}" for n in range(40)]
    text = week_text(week_report(make_week(many)), english).plain
    assert len(text) < 1500
    assert len(text.splitlines()) <= 12


def test_a_week_without_questions_says_so(made_week: WeekData, english: Words) -> None:
    text = week_text(week_report(replace(made_week, asked=())), english).plain
    assert "Nobody was asked anything in this week." in text


def test_a_class_without_a_quiz_is_told_so(made_week: WeekData, english: Words) -> None:
    report = week_report(replace(made_week, quiz=None, at_quiz=None))
    assert "No quiz is planned." in week_text(report, english).plain
    assert week_picture(report, english).data.startswith(b"\x89PNG")


# ---------------------------------------------------------------- the class channel


def test_the_class_sees_totals_and_no_name(made_week: WeekData, english: Words) -> None:
    report = week_report(made_week)
    text = class_channel_summary(report, english).plain
    assert text == (
        "10B Physics · week 49: all or nearly all of 26 answered at least once; about 80\u00a0% of the questions are "
        "answered."
    )
    assert not any(row.name in text for row in report.students)


@pytest.mark.parametrize("students", [1, 4])
def test_under_five_students_nothing_goes_to_the_class(
    make_week: Callable[..., WeekData], english: Words, students: int
) -> None:
    report = week_report(make_week(["Amira", "Ben", "Cora", "Dilan"][:students]))
    with pytest.raises(TooFewStudents, match="under 5 students"):
        class_channel_summary(report, english)


def test_five_students_of_whom_four_answered_are_too_few(
    make_week: Callable[..., WeekData], english: Words
) -> None:
    data = make_week(["Amira", "Ben", "Cora", "Dilan", "Elif"])  # Elif is silent
    with pytest.raises(TooFewStudents):
        class_channel_summary(week_report(data), english)


# ---------------------------------------------------------------- picture


def test_the_picture_is_twice_a_phone_wide_and_says_the_same_in_text(
    made_week: WeekData, english: Words
) -> None:
    report = week_report(made_week)
    shown = week_picture(report, english)
    with Image.open(BytesIO(shown.data)) as image:
        assert image.width == 780
        assert image.height / image.width < 2.2
    assert (shown.name, shown.media_type) == ("10b-2026-W49.png", "image/png")
    assert shown.alt == week_text(report, english).plain
    assert len(shown.data) < 100_000


def test_the_picture_reads_in_grey(made_week: WeekData, english: Words) -> None:
    with Image.open(BytesIO(grey_phone(week_picture(week_report(made_week), english).data))) as image:
        assert (image.mode, image.width) == ("L", 390)
        tones = image.histogram()
    dark = sum(tones[:100])
    assert dark > 0.03 * image.width * image.height


def test_a_large_class_makes_no_endless_picture(make_week: Callable[..., WeekData], english: Words) -> None:
    many = week_picture(week_report(make_week([f"Elif {n}" for n in range(60)])), english)
    with Image.open(BytesIO(many.data)) as image:
        assert image.height < 1800
    assert len(many.alt) <= 1000


def test_the_same_report_gives_the_same_picture(made_week: WeekData, english: Words) -> None:
    report = week_report(made_week)
    assert week_picture(report, english).data == week_picture(report, english).data


def test_the_picture_can_be_drawn_when_no_topic_is_low_or_nothing_is_known(
    made_week: WeekData, english: Words
) -> None:
    assert made_week.at_quiz is not None
    high = replace(made_week.at_quiz.retention, mean=made_week.at_quiz.retention.mean * 0 + 0.9)
    sure = replace(high, low=high.mean - 0.05, high=high.mean + 0.05)
    for at_quiz in (replace(made_week.at_quiz, retention=sure), None):
        report = week_report(replace(made_week, at_quiz=at_quiz))
        assert week_picture(report, english).is_picture


# ---------------------------------------------------------------- workbook


def test_the_workbook_has_types_frozen_headings_notes_and_a_readme(
    made_week: WeekData, english: Words
) -> None:
    report = week_report(made_week)
    book = load_workbook(BytesIO(week_workbook(report, english).data))
    assert book.sheetnames == ["Students", "Topics", "Class", "Read me"]
    sheet = book["Students"]
    assert sheet.freeze_panes == "B2"
    assert all(cell.comment and len(cell.comment.text) > 10 for cell in sheet[1])
    headings = [cell.value for cell in sheet[1]]
    first = dict(zip(headings, [cell.value for cell in sheet[2]], strict=False))
    amira = report.students[0]
    assert first["Student"] == "Amira"
    assert first["Asked"] == amira.asked
    assert isinstance(first["Retention now"], float)
    assert isinstance(first["Last answer"], datetime)
    assert sheet.cell(2, headings.index("Retention now") + 1).number_format == "0 %"
    assert sheet.column_dimensions["A"].width >= 20
    assert sheet.conditional_formatting
    assert sheet.max_row == 1 + len(report.students)


def test_the_workbook_is_the_same_for_the_same_report(made_week: WeekData, english: Words) -> None:
    report = week_report(made_week)
    assert week_workbook(report, english).data == week_workbook(report, english).data


@pytest.mark.parametrize(
    "name", ['=HYPERLINK("http://x")', "+1", "@SUM(A1)", "-2+3", "http://x.example", "{=1}"]
)
def test_a_name_never_becomes_a_formula_or_a_link(
    make_week: Callable[..., WeekData], english: Words, name: str
) -> None:
    report = week_report(make_week([name, "Ben"]))
    sheet = load_workbook(BytesIO(week_workbook(report, english).data))["Students"]
    cells = {sheet.cell(row, 1).value: sheet.cell(row, 1) for row in (2, 3)}
    assert name in cells
    assert cells[name].data_type == "s"
    assert cells[name].hyperlink is None


def test_a_share_of_few_answers_is_left_empty(make_week: Callable[..., WeekData], english: Words) -> None:
    data = make_week(["Amira", "Ben"])
    report = week_report(replace(data, asked=data.asked[-3:]))
    students = week_tables(report, english)[0]
    place = [column.key for column in students.columns].index("right_share")
    assert all(row[place] is None for row in students.rows)


def test_csv_files_open_as_they_were_written(make_week: Callable[..., WeekData], english: Words) -> None:
    report = week_report(make_week(["=cmd|' /C calc'!A1", 'Zoë "Z", 2nd', "Ben"]))
    students, topics = week_csv(report, english)
    rows = list(csv.reader(StringIO(students.data.decode("utf-8-sig"), newline="")))
    assert students.data.count(b"\r\n") == len(rows) == 4
    assert [row[0] for row in rows] == ["Student", "'=cmd|' /C calc'!A1", "Ben", 'Zoë "Z", 2nd']
    assert len({len(row) for row in rows}) == 1
    assert topics.name == "10b-2026-W49-topics.csv"
