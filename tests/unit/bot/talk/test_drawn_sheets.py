"""A teacher sends questions with drawn values; through the real loop and readers."""

from __future__ import annotations

import pytest
from sqlmodel import select

from bot.grading.drawn import template_from_dict
from bot.service.teacher.question_rows import made_of
from bot.words import words
from bot.words.problems import sentence
from storage.files.questions import read_questions
from storage.files.values import Tolerance
from storage.tables import Question
from tests.teaching import School, Talker

TIMETABLE = b"date,topic\n2026-11-16,Speed\n2026-11-18,Density\n"
SHEET = (
    "topic,question,answer,typical errors,why wrong,unit,tolerance,values,where,steps\n"
    "Speed,A cyclist covers {s} m in {t} s. How fast is she?,{s}/{t},{s}*{t} | {t}/{s},{wrong} is distance times time.,"
    'm/s,2 %,"s = 20..120 step 10; t in 4, 5, 8, 10",,{s} m : {t} s = {answer}\n'
)


def test_a_sheet_with_drawn_values_shows_three_examples_and_what_is_not_explained(
    school: School, teacher: Talker
):
    teacher.sends("t.csv", TIMETABLE)
    teacher.presses("Use it")
    said = teacher.sends("q.csv", SHEET.encode(), caption="questions")
    shown = [line for line in said.splitlines() if "A cyclist covers" in line]
    assert len(set(shown)) == 3
    assert all("→" in line and line.endswith(" m/s") and "{" not in line for line in shown)
    assert "Without an explanation: 1 wrong answer." in said
    assert teacher.presses("Use it").startswith("Done: 1 question added")
    with school.db.begin() as session:
        question = session.exec(select(Question)).one()
    assert question.prompt == "A cyclist covers {s} m in {t} s. How fast is she?"
    template = template_from_dict(question.template or {})
    assert (template.answer, template.unit, template.tolerance) == ("{s}/{t}", "m/s", Tolerance(0.02, True))
    assert [wrong.because for wrong in template.wrong] == ["{wrong} is distance times time.", ""]
    assert template.steps == ("{s} m : {t} s = {answer}",)
    assert teacher.sends("q.csv", SHEET.encode(), caption="questions").endswith(
        "That is just what I have. Nothing to change."
    )


def test_a_draw_that_fails_is_named_with_row_column_and_example(school: School, teacher: Talker):
    teacher.sends("t.csv", TIMETABLE)
    teacher.presses("Use it")
    bad = SHEET + "Speed,Split {a} by {b},a/b,,,,,a = 1..9; b = 0..9,,\n"
    said = teacher.sends("q.csv", bad.encode(), caption="questions")
    assert 'Row 3, column "answer": A division by zero can happen.' in said
    assert "b = 0" in said
    assert "1 row needs you" in said
    assert teacher.presses("Use the other row").startswith("Done: 1 question added")


def test_a_listed_question_shows_its_formula(school: School, teacher: Talker):
    teacher.sends("t.csv", TIMETABLE)
    teacher.presses("Use it")
    teacher.sends("q.csv", SHEET.encode(), caption="questions")
    assert "{s}/{t} m/s" in teacher.presses("Show me")


GERMAN = """Thema;Frage;Antwort;falsche Antworten;typische Fehler;warum falsch;Einheit;Werte;wobei;Schritte;Art;Runden
Tempo;{s} m in {t} s?;s/t;s·t | t/s;;Mal statt durch. | ;m/s;s = 20..120 Schritt 10; s/t < 20;;;
Tempo;{s} m in {t} s, {Wer}?;s/t;;s·t;{wrong}?;m/s;"s = 20..120 Schritt 10; t in 4, 5; wer aus Ada, Ben";;;Zahl;0,0
Dichte;270 g in 100 cm³?;2,7 g/cm³;;27000;Malgenommen.;;;;"ρ = m : V
270 : 100 = 2,7";;
"""


def _rows(text: str, name: str = "q.csv"):
    return read_questions(text.encode(), name)


def test_german_headings_are_understood():
    reading = _rows(GERMAN)
    first, second, third = reading.value.questions
    assert (first.kind, first.wrong_options, first.why_wrong) == (
        "choice",
        ("s·t", "t/s"),
        ("Mal statt durch.",),
    )
    assert first.drawn is not None
    assert first.drawn.where == "s/t < 20"
    assert (second.kind, second.typical_errors, second.drawn.rounding) == ("number", ("s·t",), "0,0")
    assert (third.drawn, third.steps) == (None, ("ρ = m : V", "270 : 100 = 2,7"))
    assert not made_of(second, "de", words("de")).problems


@pytest.mark.parametrize(
    ("row", "expected"),
    [
        ("Who?,Ada,Ben|Cem,,a|b|c,", "there are 3 explanations of wrong answers, but 2 wrong answers"),
        ("How many?,5,,,x,", "there are 1 explanations of wrong answers, but 0 wrong answers"),
    ],
)
def test_explanations_must_belong_to_wrong_answers(row: str, expected: str):
    reading = _rows(f"topic,question,answer,wrong options,typical errors,why wrong,steps\nT,{row}\n")
    assert [sentence(one, words("en")).partition(": ")[2].partition(".")[0] for one in reading.problems] == [
        expected
    ]
    assert not reading.value.questions


def test_explanations_in_columns_of_their_own_stay_at_their_wrong_option():
    text = "topic,question,answer,wrong 1,wrong 2,why wrong 1,why wrong 2\nT,Who?,Ada,Ben,Cem,,Not Cem\n"
    assert _rows(text).value.questions[0].why_wrong == ("", "Not Cem")


def test_bars_within_braces_part_nothing():
    row = _rows(
        'topic,question,answer,wrong options,values\nT,How many?,"{n} {n|apple|apples}",'
        '"{n} {n|pear|pears} | {n} {n|nut|nuts}",n = 1..5\n'
    ).value.questions[0]
    assert row.wrong_options == ("{n} {n|pear|pears}", "{n} {n|nut|nuts}")
    assert "→ " in made_of(row, "en", words("en")).examples[0]


def test_a_condition_without_values_is_a_note_and_changes_nothing():
    reading = _rows("topic,question,answer,values,where\nT,2 + 3?,5,,s < 3\n")
    assert [one.code for one in reading.problems] == ["drawn_idle"]
    assert reading.value.questions[0].drawn is None


@pytest.mark.parametrize("error", ["5", "5.0", "10/2"])
def test_a_typical_error_that_would_be_graded_right_is_refused(error: str):
    row = _rows(f"topic,question,answer,typical errors\nT,2 + 3?,5,{error}\n").value.questions[0]
    made = made_of(row, "en", words("en"))
    assert made.draft is None
    assert 'column "typical errors"' in made.problems[0].sentence
