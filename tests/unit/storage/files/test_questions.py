"""Question sheets: the kind of each question is found out, and every fault is named before anything is stored."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from storage.files.questions import FIELDS, read_questions
from storage.files.values import QuestionRow, QuestionsFile, Reading, Tolerance
from tests.samples.workbooks import xlsx
from tests.wording import sentence as english

SAMPLE = Path(__file__).parents[3] / "samples" / "files" / "questions.csv"
HEAD = "topic;question;answer;wrong options;tolerance;unit;kind\n"


def read(text: str | bytes, known: tuple[str, ...] | None = None) -> Reading[QuestionsFile]:
    return read_questions(text.encode() if isinstance(text, str) else text, "q.csv", known_topics=known)


def row(line: str) -> QuestionRow:
    reading = read(HEAD + line)
    assert reading.clean, [english(one) for one in reading.problems]
    return reading.value.questions[0]


def complaints(line: str) -> list[str]:
    return [english(one) for one in read(HEAD + line).problems]


def test_question_sheet_is_read_whole() -> None:
    reading = read(SAMPLE.read_bytes())
    assert reading.clean
    spring, block, metal, moment, angle = reading.value.questions
    assert (spring.kind, spring.answer, spring.wrong_options) == (
        "choice",
        "10 cm",
        ("8 cm", "12 cm", "2.5 cm"),
    )
    assert (block.kind, block.answer, block.unit, block.tolerance) == (
        "number",
        "2.7",
        "g/cm³",
        Tolerance(0.05, True),
    )
    assert (block.picture, block.explanation) == ("block.png", "Mass divided by volume.")
    assert (metal.kind, metal.answer, metal.alternatives) == ("text", "aluminium", ("aluminum",))
    assert (moment.kind, moment.answer) == ("formula", "F*d")
    assert (angle.kind, angle.answer, angle.unit) == ("number", "1/4", None)


@pytest.mark.parametrize(
    ("answer", "kind", "stored", "unit"),
    [
        ("2.7", "number", "2.7", None), ("2,7", "number", "2,7", None), ("−5", "number", "−5", None),
        ("3/4", "number", "3/4", None), ("1 3/4", "number", "1 3/4", None), ("75 %", "number", "75", "%"),
        ("3e8", "number", "3e8", None), ("3×10^8 m/s", "number", "3×10^8", "m/s"),
        ("3 · 10⁸", "number", "3 · 10⁸", None),
        ("1 000 000", "number", "1 000 000", None), ("9.81 m/s²", "number", "9.81", "m/s²"),
        ("20 °C", "number", "20", "°C"),
        ("5 kΩ", "number", "5", "kΩ"), ("12 kg m^-3", "number", "12", "kg m^-3"), ("٣٫٥", "number", "٣٫٥", None),
        ("5 metres", "number", "5", "metres"), ("5 kWh", "number", "5", "kWh"), (".5", "number", ".5", None),
        ("1914 war", "text", "1914 war", None), ("aluminium", "text", "aluminium", None),
        ("5 apples", "text", "5 apples", None),
        ("H2O", "text", "H2O", None), ("CO2", "text", "CO2", None), ("x-ray", "text", "x-ray", None),
        ("and/or", "text", "and/or", None), ("N/A", "text", "N/A", None),
        ("1984 and 1985", "text", "1984 and 1985", None),
        ("2x+1", "formula", "2x+1", None), ("F = m a", "formula", "F = m a", None), ("v^2/r", "formula", "v^2/r", None),
        ("$\\frac{v^2}{r}$", "formula", "\\frac{v^2}{r}", None), ("sqrt(x)", "formula", "sqrt(x)", None),
        ("$5$", "number", "5", None), ("a²+b²", "formula", "a²+b²", None),
        ("sin(x)*cos(y)", "formula", "sin(x)*cos(y)", None),
    ],
)  # fmt: skip
def test_kind_follows_from_the_answer(answer: str, kind: str, stored: str, unit: str | None) -> None:
    found = row(f"A;What?;{answer};;;;")
    assert (found.kind, found.answer, found.unit) == (kind, stored, unit)


@pytest.mark.parametrize(
    ("line", "kind"),
    [
        ("A;Which year?;1914;;;;text", "text"),
        ("A;Write it.;x;;;;formula", "formula"),
        ("A;Pick.;5;4|6;;;", "choice"),
    ],
)
def test_kind_column_and_wrong_options_come_first(line: str, kind: str) -> None:
    assert row(line).kind == kind


def test_unit_column_goes_with_the_number() -> None:
    assert row("A;g?;9,81;;2 %;m/s²;").unit == "m/s²"
    assert row("A;g?;9.81 m/s²;;;m/s²;").unit == "m/s²"


def test_wrong_options_and_further_answers_in_several_columns() -> None:
    reading = read(
        "topic,question,answer,wrong 1,wrong 2,Wrong option 3,also accepted\nA,Pick.,B,C,D,,\nA,Word?,b,,,,c|d\n"
    )
    assert reading.clean
    assert reading.value.questions[0].wrong_options == ("C", "D")
    assert reading.value.questions[1].alternatives == ("c", "d")


@pytest.mark.parametrize(
    ("line", "sentence"),
    [
        (
            ";What?;5;;;;",
            'Row 2, column "topic" (A): nothing is written here. Write the topic, or delete the row.',
        ),
        (
            "A;;5;;;;",
            'Row 2, column "question" (B): nothing is written here. Write the question, or delete the row.',
        ),
        (
            "A;What?;;;;;",
            'Row 2, column "answer" (C): nothing is written here. Write the answer, or delete the row.',
        ),
        (
            "A;Pick.;5 cm;4 cm|5 CM;;;",
            'Row 2, column "wrong options" (D): the wrong option "5 CM" is the same as the answer. '
            "Change or delete one of the two.",
        ),
        (
            "A;Pick.;5;4|4;;;",
            'Row 2, column "wrong options" (D): the wrong option "4" is the same as another wrong option. '
            "Change or delete one of the two.",
        ),
        (
            "A;Pick.;5;1|2|3|4|6|7|8|9;;;",
            'Row 2, column "wrong options" (D): there are 8 wrong options; the limit is 7. Keep the best ones.',
        ),
        (
            "A;Pick.;5;;;;choice",
            'Row 2, column "wrong options" (D): a choice question needs wrong options. Write them, '
            "with | between them.",
        ),
        (
            "A;What?;about five;;;;number",
            'Row 2, column "answer" (C): "about five" is not a number. Write it in figures, for example 2.7 or 3e8.',
        ),
        (
            "A;What?;5;;a bit;;",
            'Row 2, column "tolerance" (E): "a bit" is not a tolerance. Write 0.1 (absolute) or 5 % (relative).',
        ),
        (
            "A;What?;5 m;;;cm;",
            'Row 2, column "answer" (C): the answer "5 m" has another unit than the unit column, '
            '"cm". Keep one of the two.',
        ),
        (
            "A;What?;1,234;;;;",
            'Row 2, column "answer" (C): "1,234" can be 1234 or 1.234. '
            "Write it without a separator for thousands, for example 1234 or 1.234.",
        ),
        (
            "A;What?;5;;;;nummber",
            'Row 2, column "kind" (G): "nummber" is no kind of question (did you mean "number"?). '
            "Write choice, number, text or formula, or leave it empty.",
        ),
        (
            "A;What?;iron;;0.1;;",
            'Row 2, column "tolerance" (E): the tolerance "0.1" is not used: this is not a number question. '
            "Delete it, or write the answer as a number.",
        ),
        (
            "A;Pick.;B;C, D;;;",
            'Row 2, column "wrong options" (D): "C, D" was read as one single wrong option. '
            "If it is several, put | between them.",
        ),
    ],
)
def test_faults_are_named_with_a_remedy(line: str, sentence: str) -> None:
    assert complaints(line) == [sentence]


def test_comma_before_three_digits_is_settled_by_other_answers() -> None:
    reading = read(HEAD + "A;One?;1,234;;;;\nA;Two?;2,7;;;;\n")
    assert reading.clean
    assert [one.answer for one in reading.value.questions] == ["1.234", "2,7"]


def test_same_question_twice_is_named() -> None:
    assert complaints("A;What?;5;;;;\na;WHAT?;6;;;;\n") == [
        'Row 3: "WHAT?" stands already in row 2. Delete one of the two rows, or change it.'
    ]


def test_topics_of_the_class_are_found_in_their_spelling_and_others_named() -> None:
    reading = read(HEAD + "hooke's LAW;What?;5;;;;\nOptics;What?;5;;;;\n", ("Hooke’s law",))
    assert [one.topic for one in reading.value.questions] == ["Hooke’s law"]
    assert [english(one) for one in reading.problems] == [
        'Row 3, column "topic" (A): "Optics" is not a topic of this class. '
        "Write the topic as it stands in the timetable, or add it there first."
    ]


def test_fraction_that_a_spreadsheet_turned_into_a_date_is_named() -> None:
    sheet = xlsx([["topic", "question", "answer"], ["A", "What?", date(2026, 4, 3)]])
    assert [english(one) for one in read(sheet).problems] == [
        'Row 2, column "answer" (C): the spreadsheet has turned this cell into the date 2026-04-03. '
        "Format the cell as text and type it again, for example 3/4."
    ]


def test_numbers_and_percentages_of_a_workbook_are_answers() -> None:
    sheet = xlsx([["topic", "question", "answer", "tolerance"], ["A", "What?", 2.7, 0.05]], {"D2": "0%"})
    (one,) = read(sheet).value.questions
    assert (one.kind, one.answer, one.tolerance) == ("number", "2.7", Tolerance(0.05, relative=True))


def test_calendar_is_no_question_sheet() -> None:
    (one,) = read("BEGIN:VCALENDAR\n").problems
    assert english(one) == (
        "q.csv is a calendar, and questions cannot come from a calendar. "
        "Send questions as a sheet (.xlsx, .ods or .csv)."
    )


def test_no_word_means_two_fields() -> None:
    words = [word for field in FIELDS for word in field.words]
    assert len(words) == len(set(words))
