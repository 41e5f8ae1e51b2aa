"""Questions that are true or false: the sheet names one option, and the question has two."""

import pytest

from bot.service.teacher.question_rows import made_of
from bot.words import words
from storage.files.questions import read_questions


def _rows(text: str):
    reading = read_questions(text.encode(), "sheet.csv")
    assert reading.clean, reading.problems
    return [(row.kind, row.answer, row.wrong_options) for row in reading.value.questions]


@pytest.mark.parametrize(
    ("answer", "other"),
    [("true", "false"), ("FALSE", "TRUE"), ("Wahr", "Falsch"), ("falsch", "wahr"), ("vrai", "faux")],
)
def test_a_clear_word_makes_two_options(answer, other):
    assert _rows(f"topic,question,answer\nForces,Is weight a force?,{answer}\n") == [
        ("choice", answer, (other,))
    ]


def test_the_other_word_is_the_one_that_the_sheet_uses():
    rows = _rows("topic,question,answer\nA,First?,richtig\nA,Second?,falsch\n")
    assert [row[2] for row in rows] == [("falsch",), ("richtig",)]


def test_a_word_that_can_be_an_answer_of_its_own_is_taken_as_one():
    assert _rows("topic,question,answer\nGases,Nitric oxide?,NO\nRoads,Which side?,right\n") == [
        ("text", "NO", ()),
        ("text", "right", ()),
    ]


def test_yes_and_no_count_where_the_sheet_has_both():
    rows = _rows("topic,question,answer\nA,First?,yes\nA,Second?,no\n")
    assert rows == [("choice", "yes", ("no",)), ("choice", "no", ("yes",))]


@pytest.mark.parametrize(
    ("kind", "answer", "options"),
    [
        ("true/false", "F", ("False", "True")),
        ("wahr/falsch", "w", ("Wahr", "Falsch")),
        ("TF", "no", ("no", "yes")),
    ],
)
def test_a_kind_that_says_so_takes_letters_and_every_pair(kind, answer, options):
    rows = _rows(f"topic,question,answer,kind\nA,First?,{answer},{kind}\n")
    assert rows == [("choice", options[0], options[1:])]


def test_the_place_of_the_right_option_is_that_of_the_file():
    text = "topic,question,A,B,C,Correct\nForces,Unit?,joule,newton,watt,B\nForces,Symbol?,F,G,H,F\n"
    assert [row.right_place for row in read_questions(text.encode(), "s.csv").value.questions] == [1, 0]


@pytest.mark.parametrize(
    ("answer", "language", "options"),
    [("True", "de", ("Wahr", "Falsch")), ("false", "de", ("falsch", "wahr")), ("wahr", "en", ("true", "false")),
     ("vrai", "en", ("vrai", "faux")), ("richtig", "de", ("richtig", "falsch"))],
)  # fmt: skip
def test_a_class_gets_the_two_options_in_its_language(answer, language, options):
    reading = read_questions(
        f"topic,question,answer\nForces,Is weight a force?,{answer}\n".encode(), "sheet.csv"
    )
    draft = made_of(reading.value.questions[0], language, words("en")).draft
    assert draft is not None
    assert (draft.answer["right"], *draft.answer["wrong"]) == options
