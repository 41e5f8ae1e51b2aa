"""Files that can be read in more than one way are read right or asked about, never guessed silently."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import openpyxl
import pytest
from openpyxl.cell.rich_text import CellRichText, TextBlock
from openpyxl.cell.text import InlineFont

from bot.grading.keys import NumberKey
from bot.grading.upload import key_from_row
from storage.files.questions import read_questions
from storage.files.reading.encodings import decode
from storage.files.reading.sheet import FileRefused
from storage.files.scores import read_scores
from storage.files.timetables.timetable import read_timetable
from storage.files.values import QuestionsFile, Reading, ScoresFile, TimetableFile
from tests.samples.workbooks import saved
from tests.wording import sentence as english

TODAY = date(2026, 11, 25)
SHEETS = Path(__file__).parents[3] / "samples" / "sheets"  # made by its make.py

GERMAN = "Thema;Datum\nKräfte;01.12.2026\nWärme und Stöße;03.12.2026\nGröße;05.12.2026\n"
FRENCH = "sujet;date\nÉnergie cinétique;01/12/2026\nForces à distance;15/12/2026\n"
SPANISH = "tema;fecha\nTensión y año;01/12/2026\n"
CZECH = "Téma;Datum\nŽelezný žebřík;1.12.2026\n"


def timetable(data: bytes | str, **more: object) -> Reading[TimetableFile]:
    content = data.encode() if isinstance(data, str) else data
    return read_timetable(content, "plan.csv", zone="Europe/Berlin", today=TODAY, **more)  # type: ignore[arg-type]


def questions(path: Path, **choices: str) -> Reading[QuestionsFile]:
    return read_questions(path.read_bytes(), path.name, choices=choices)


# ---------------------------------------------------------------- encodings


@pytest.mark.parametrize(
    "encoding",
    ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252", "latin-1", "mac_roman", "cp850"],
)
@pytest.mark.parametrize("text", [GERMAN, FRENCH])
def test_f21_every_usual_encoding_is_read_right(text: str, encoding: str) -> None:
    # the tables of these encodings are Python's own codecs, made from the mappings that unicode.org publishes
    reading = timetable(text.encode(encoding))
    assert [one.topic for one in reading.value.lessons] == [
        row.split(";")[0] for row in text.splitlines()[1:]
    ]


def _can_be_saved(text: str, encoding: str) -> bool:
    try:
        text.encode(encoding)
    except UnicodeEncodeError:
        return False
    return True


# What a program of that code page can save; the others do not have the letters.
SAVED = [
    (text, encoding)
    for text in ("topic\nKräfte\n", "topic\nÖsen\n", SPANISH, CZECH, "topic\n½\n")
    for encoding in ("mac_roman", "cp850", "cp1252", "cp1250")
    if _can_be_saved(text, encoding)
]


@pytest.mark.parametrize(("text", "encoding"), SAVED)
def test_f21_a_text_is_read_right_or_asked_about_with_the_right_reading_among_the_answers(
    text: str, encoding: str
) -> None:
    data = text.encode(encoding)
    try:
        assert decode(data, "plan.csv") == text
    except FileRefused as refused:
        answers = [decode(data, "plan.csv", option.chosen) for option in refused.problem.options]
        assert text in answers


def test_f21_a_doubtful_encoding_is_asked_about_by_an_example_and_settled_by_the_answer() -> None:
    data = "topic,date\nKräfte,2026-12-01\n".encode("mac_roman")
    asked = timetable(data)
    assert not asked.usable
    (question,) = asked.questions
    assert [option.label for option in question.options] == ["Kräfte", "Krèfte", "KrŠfte"]
    assert '"Kräfte" / "Krèfte" / "KrŠfte"' in english(question)
    chosen = question.options[0]
    settled = timetable(data, choices={chosen.about: chosen.chosen})
    assert settled.clean
    assert settled.value.lessons[0].topic == "Kräfte"


def test_f21_text_that_was_encoded_twice_is_asked_about() -> None:
    twice = "topic,date\nKräfte,2026-12-01\n".encode().decode("cp1252").encode()
    (question,) = timetable(twice).questions
    assert [option.label for option in question.options] == ["Kräfte", "KrÃ¤fte"]
    settled = timetable(twice, choices={"encoding": question.options[0].chosen})
    assert settled.value.lessons[0].topic == "Kräfte"


def test_f21_a_calendar_in_an_older_encoding_is_asked_about_too() -> None:
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:x", "BEGIN:VEVENT", "UID:1", "DTSTART:20261201T090000",
             "DTEND:20261201T100000", "SUMMARY:Kräfte", "END:VEVENT", "END:VCALENDAR", ""]  # fmt: skip
    data = "\r\n".join(lines).encode("mac_roman")
    (question,) = timetable(data).questions
    settled = timetable(data, choices={"encoding": question.options[0].chosen})
    assert settled.value.lessons[0].topic == "Kräfte"


# ---------------------------------------------------------------- raised digits


@pytest.mark.parametrize("name", ["formulas.xlsx", "formulas.ods", "formulas_by_calc.xlsx"])
def test_f17_raised_and_lowered_digits_of_formatted_cells_are_kept(name: str) -> None:
    reading = questions(SHEETS / name)
    assert reading.clean
    light, energy, water, charge = reading.value.questions
    assert (light.kind, light.answer, light.unit) == ("number", "3·10^8", "m/s")
    assert (energy.kind, energy.answer) == ("formula", "½mv²")
    assert water.prompt == "What is H₂O?"
    assert (charge.kind, charge.answer) == ("number", "1.6·10⁻¹⁹")


def test_f17_runs_written_in_place_are_kept_too() -> None:
    # openpyxl writes formatted runs into the cell itself, ECMA-376 part 1, 18.3.1.53 (is)
    book = openpyxl.Workbook()
    book.active.append(["topic", "question", "answer"])
    up = InlineFont(vertAlign="superscript")
    book.active.append(["Light", "Speed?", CellRichText("3·10", TextBlock(up, "8"), " m/s")])
    book.active.append(
        ["Day", CellRichText("The 1", TextBlock(up, "st"), " day, x", TextBlock(up, "a+b"), "?"), "x"]
    )
    light, day = read_questions(saved(book), "q.xlsx").value.questions
    assert light.answer == "3·10^8"
    assert day.prompt == "The 1st day, x^(a+b)?"


# ---------------------------------------------------------------- hidden rows, columns, sheets


@pytest.mark.parametrize("kind", ["xlsx", "ods"])
@pytest.mark.parametrize(
    ("name", "said", "left"),
    [
        ("hidden_row", "rows that are hidden or filtered out: 3.", ["Unit of force?", "Unit of energy?"]),
        ("filtered", "rows that are hidden or filtered out: 2-3.", ["Unit of energy?"]),
    ],
)
def test_f23_hidden_and_filtered_rows_are_asked_about(
    name: str, kind: str, said: str, left: list[str]
) -> None:
    path = SHEETS / f"{name}.{kind}"
    asked = questions(path)
    assert not asked.usable
    (question,) = asked.questions
    assert said in english(question)
    assert [(one.about, one.chosen) for one in question.options] == [("hidden", "leave"), ("hidden", "read")]
    assert [one.prompt for one in questions(path, hidden="leave").value.questions] == left
    assert len(questions(path, hidden="read").value) == 3


@pytest.mark.parametrize("kind", ["xlsx", "ods"])
def test_f23_a_hidden_column_is_asked_about_and_a_hidden_sheet_is_named(kind: str) -> None:
    (question,) = questions(SHEETS / f"hidden_column.{kind}").questions
    assert "has hidden columns: C." in english(question)
    assert len(questions(SHEETS / f"hidden_column.{kind}", hidden="read").value) == 3
    assert questions(SHEETS / f"hidden_column.{kind}", hidden="leave").refused
    note = questions(SHEETS / f"hidden_sheet.{kind}").notes[0]
    assert "has hidden sheets, which were left out: 1." in english(note)


def test_f23_hidden_rows_and_columns_without_content_are_nobodys_business() -> None:
    book = openpyxl.Workbook()
    book.active.append(["topic", "question", "answer"])
    book.active.append(["Light", "Colour of blood?", "red"])
    book.active.row_dimensions[9].hidden = True
    book.active.column_dimensions["F"].hidden = True
    assert read_questions(saved(book), "q.xlsx").clean


# ---------------------------------------------------------------- ratios, fractions, totals


@pytest.mark.parametrize("kind", ["xlsx", "ods"])
def test_f22_a_ratio_that_a_spreadsheet_made_a_time_is_asked_about(kind: str) -> None:
    path = SHEETS / f"ratios.{kind}"
    asked = questions(path)
    (question,) = asked.questions
    assert 'Row 2, column "answer" (C): "02:01" is a time of day here' in english(question)
    assert "of the ratio 2:1" in english(question)
    assert [one.answer for one in asked.value.questions] == ["½"]
    assert asked.value.questions[0].kind == "number"
    assert questions(path, times="ratio").value.questions[0].answer == "2:1"
    assert questions(path, times="time").value.questions[0].answer == "02:01"


def test_f22_ratios_typed_as_text_stay_and_those_saved_as_times_are_asked_about() -> None:
    text = b"topic,question,answer,wrong options\nGears,40 to 20 teeth?,2:1,1:2 | 4:1\n"
    (one,) = read_questions(text, "q.csv").value.questions
    assert (one.answer, one.wrong_options) == ("2:1", ("1:2", "4:1"))
    saved_as_time = read_questions(b"topic,question,answer\nGears,40 to 20 teeth?,02:01\n", "q.csv")
    assert not saved_as_time.usable
    assert "of the ratio 2:1" in english(saved_as_time.questions[0])


@pytest.mark.parametrize(("written", "value"), [("½", 0.5), ("2½", 2.5), ("¾ m", 0.75)])
def test_f22_fractions_of_one_character_are_numbers(written: str, value: float) -> None:
    (one,) = read_questions(
        f"topic,question,answer\nSums,How much?,{written}\n".encode(), "q.csv"
    ).value.questions
    assert one.kind == "number"
    key = key_from_row(one)
    assert isinstance(key, NumberKey)
    assert key.accepted[0].value == value


def scores(text: str, **choices: str) -> Reading[ScoresFile]:
    return read_scores(text.encode(), "s.csv", quiz="Quiz 1", choices=choices)


def test_f22_a_total_that_adds_the_quizzes_up_is_not_out_of_how_many() -> None:
    reading = scores("Student,Quiz 1 (20),Quiz 2 (10),Total\nMira,12,7,19\nTom,15,9,24\n")
    assert [(one.quiz, one.score, one.out_of) for one in reading.value.scores] == [
        ("Quiz 1", 12, 20), ("Quiz 2", 7, 10), ("Quiz 1", 15, 20), ("Quiz 2", 9, 10),
    ]  # fmt: skip
    assert "adds the scores up" in english(reading.notes[0])


@pytest.mark.parametrize(
    "text",
    [
        "Student,Quiz 1,Quiz 2,Total\nMira,12,7,30\nTom,15,9,30\n",
        "Student,Score,Total\nMira,12,19\nTom,15,24\n",
        "Student,Punkte,Summe\nMira,12,12\n",
    ],
)
def test_f22_a_doubtful_total_is_asked_about(text: str) -> None:
    asked = scores(text)
    assert not asked.usable
    (question,) = asked.questions
    assert [(one.about, one.chosen) for one in question.options] == [("total", "sum"), ("total", "maximum")]
    assert "can be the sum of the scores, or out of how many they are" in english(question)


def test_f22_the_same_total_for_all_is_out_of_how_many() -> None:
    assert [one.out_of for one in scores("Student,Score,Total\nMira,12,20\nTom,15,20\n").value.scores] == [
        20,
        20,
    ]


@pytest.mark.parametrize("word", ["Total", "Average", "Durchschnitt", "Maximum"])
def test_f22_rows_of_totals_are_no_students(word: str) -> None:
    reading = scores(f"Student,Score,Out of\nMira,12,20\n{word},12,20\n")
    assert [one.student for one in reading.value.scores] == ["Mira"]
    assert f'"{word}" looks like a total' in english(reading.faults[0])
