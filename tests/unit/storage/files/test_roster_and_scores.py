"""Class lists and quiz scores."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from storage.files import roster, scores
from storage.files.headings import Field
from storage.files.roster import read_roster
from storage.files.scores import read_scores
from storage.files.values import RosterRow, ScoreRow
from tests.samples.workbooks import xlsx
from tests.wording import sentence as english

SAMPLES = Path(__file__).parents[3] / "samples" / "files"


def test_roster_reads_names_and_aliases_and_keeps_nothing_else() -> None:
    reading = read_roster((SAMPLES / "roster.csv").read_bytes(), "roster.csv")
    assert reading.value.students == (RosterRow(2, "Mira Adler", "Mira"), RosterRow(3, "Tom Berg"))
    assert [english(one) for one in reading.problems] == [
        'Not read and not kept: "email" (C). Nothing needs to be done if you meant that.'
    ]


def test_roster_of_one_column_needs_no_heading() -> None:
    reading = read_roster(b"Mira\nTom\n", "roster.csv")
    assert [one.name for one in reading.value.students] == ["Mira", "Tom"]
    assert [english(one) for one in reading.problems] == [
        'Row 1: "Mira" in the first row was read as a name, not as a heading. If it is a heading, write "name" there.'
    ]


def test_roster_of_one_column_with_heading() -> None:
    assert read_roster("Schüler\nMira\n".encode(), "roster.csv").value.students == (RosterRow(2, "Mira"),)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        (
            "name\nMira\nmira\n",
            'Row 3: "mira" stands already in row 2. Delete one of the two rows, or change it.',
        ),
        (
            "name,alias\n,Mi\n",
            'Row 2, column "name" (A): nothing is written here. Write a name, or delete the row.',
        ),
        (
            "first name,last name\n,\n \n,x\n" + "a" * 61 + ",b\n",
            'Row 5, column "first name" (A): the text has 61 characters; the limit is 60. Shorten it.',
        ),
        (
            "alias,age\nMi,12\n",
            'Row 1: there is no column "name". Add a heading "name" (also understood: student, pupil, '
            "students, full name).",
        ),
    ],
)
def test_roster_faults_are_named(text: str, sentence: str) -> None:
    assert sentence in [english(one) for one in read_roster(text.encode(), "roster.csv").problems]


def test_scores_with_a_column_for_each_quiz() -> None:
    reading = read_scores((SAMPLES / "scores.csv").read_bytes(), "scores.csv")
    assert reading.clean
    assert reading.value.scores == (
        ScoreRow(2, "Mira Adler", "Quiz 1", None, 17.5, 20.0),
        ScoreRow(2, "Mira Adler", "Quiz 2", None, 9.0, 10.0),
        ScoreRow(3, "Tom Berg", "Quiz 2", None, 7.0, 10.0),
    )


@pytest.mark.parametrize(
    ("cell", "score", "out_of"),
    [
        ("17", 17, 20),
        ("17,5", 17.5, 20),
        ("8/10", 8, 10),
        ("8 out of 10", 8, 10),
        ("85 %", 85, 100),
        ("0", 0, 20),
    ],
)
def test_scores_in_every_form(cell: str, score: float, out_of: float) -> None:
    text = f"student;quiz;topic;score\nMira;Q1;Forces;{cell}\n"
    (row,) = read_scores(text.encode(), "scores.csv", out_of=20).value.scores
    assert (row.score, row.out_of, row.quiz, row.topic) == (score, out_of, "Q1", "Forces")


@pytest.mark.parametrize("cell", ["", "-", "absent", "Krank", "n/a"])
def test_absent_students_have_no_score(cell: str) -> None:
    reading = read_scores(f"student;score;x\nMira;{cell};1\nTom;3;1".encode(), "s.csv", quiz="Q", out_of=5)
    assert [row.student for row in reading.value.scores] == ["Tom"]
    assert reading.faults == ()


@pytest.mark.parametrize(
    ("line", "sentence"),
    [
        (
            "Mira;Q1;21;20",
            'Row 2, column "score" (C): "21" is not between 0 and 20. Correct the score or the maximum.',
        ),
        (
            "Mira;Q1;-1;20",
            'Row 2, column "score" (C): "-1" is not between 0 and 20. Correct the score or the maximum.',
        ),
        (
            "Mira;Q1;good;20",
            'Row 2, column "score" (C): "good" is not a score. Write a number, for example 17, 17.5 '
            "or 17/20.",
        ),
        (
            "Mira;Q1;17;",
            'Row 2, column "score" (C): it is not said out of how many points "17" is. Add a column '
            '"out of", or write 17/20.',
        ),
        (
            "Mira;;17;20",
            'Row 2, column "quiz" (B): nothing is written here. Write the name of the quiz, or delete '
            "the row.",
        ),
        (
            ";Q1;17;20",
            'Row 2, column "student" (A): nothing is written here. Write the student\'s name, or '
            "delete the row.",
        ),
        (
            "Mira;Q1;17;many",
            'Row 2, column "out of" (D): "many" is not a score. Write a number, for example 17, 17.5 '
            "or 17/20.",
        ),
    ],
)
def test_score_faults_are_named(line: str, sentence: str) -> None:
    reading = read_scores(f"student;quiz;score;out of\n{line}\n".encode(), "scores.csv")
    assert sentence in [english(one) for one in reading.problems]
    assert len(reading.value) == 0


def test_score_that_a_spreadsheet_turned_into_a_date_is_named() -> None:
    reading = read_scores(
        xlsx([["student", "score"], ["Mira", date(2026, 10, 8)]]), "s.xlsx", quiz="Q", out_of=10
    )
    assert [one.code for one in reading.problems] == ["cell_became_date"]


def test_score_given_twice_is_named() -> None:
    reading = read_scores(b"student,score\nMira,3\nMIRA,4\n", "s.csv", quiz="Q", out_of=5)
    assert [one.row for one in reading.faults] == [3]
    assert len(reading.value) == 1


def test_scores_need_a_score_column_or_quiz_columns() -> None:
    (one,) = read_scores(b"student,topic\nMira,Forces\n", "s.csv").problems
    assert one.code == "heading_missing"


@pytest.mark.parametrize("fields", [roster.FIELDS, scores.FIELDS])
def test_no_word_means_two_fields(fields: tuple[Field, ...]) -> None:
    words = [word for field in fields for word in field.words]
    assert len(words) == len(set(words))
