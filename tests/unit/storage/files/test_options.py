"""Choice sheets as teachers keep them: all options in columns, the key as letter, number or text."""

from __future__ import annotations

import pytest

from storage.files.questions import read_questions
from storage.files.values import QuestionsFile, Reading
from tests.samples.workbooks import xlsx
from tests.wording import sentence as english


def read(text: str, **choices: str) -> Reading[QuestionsFile]:
    return read_questions(text.encode(), "q.csv", choices=choices)


HEADS = ["A;B;C;D", "Option 1;Option 2;Option 3;Option 4", "Antwort A;Antwort B;Antwort C;Antwort D",
         "Choice A;Choice B;Choice C;Choice D", "1;2;3;4", "Réponse 1;Réponse 2;Réponse 3;Réponse 4"]  # fmt: skip


@pytest.mark.parametrize("key", ["B", "b", "2", "newton", "B)", "(b)", "Option B", "B: newton"])
@pytest.mark.parametrize("head", HEADS)
def test_f16_options_in_columns_and_a_key_make_a_choice(head: str, key: str) -> None:
    reading = read(f"topic;question;{head};Correct\nForces;Unit of force?;joule;newton;watt;pascal;{key}\n")
    (one,) = reading.value.questions
    assert reading.clean
    assert (one.kind, one.answer, one.wrong_options) == ("choice", "newton", ("joule", "watt", "pascal"))


def test_f16_keys_are_read_in_workbooks_where_numbers_are_numbers() -> None:
    rows = [
        ["Thema", "Frage", 1, 2, 3, "Lösung"],
        ["Kraft", "2 + 2?", 3, 4, 5, 2],
        ["Kraft", "1 + 1?", 2, 7, 9, 1],
    ]
    reading = read_questions(xlsx(rows), "q.xlsx")
    assert [row.answer for row in reading.value.questions] == ["4", "2"]


def test_f16_a_number_that_names_one_option_and_repeats_another_is_asked_about() -> None:
    text = "topic;question;A;B;C;Correct\nSums;1 + 1?;1;3;2;2\n"
    (question,) = read(text).questions
    assert not read(text).usable
    assert 'the key "2" can name the option "3" or be the answer "2" itself' in english(question)
    assert [(one.about, one.chosen) for one in question.options] == [("keys", "place"), ("keys", "text")]
    assert read(text, keys="text").value.questions[0].answer == "2"
    assert read(text, keys="place").value.questions[0].answer == "3"


def test_f16_the_other_rows_of_the_sheet_settle_how_its_keys_are_meant() -> None:
    reading = read("topic;question;A;B;C;key\nSums;1 + 1?;1;3;2;2\nForces;Unit?;J;N;W;2\n")
    assert [row.answer for row in reading.value.questions] == ["3", "N"]
    reading = read("topic;question;A;B;C;key\nSums;1 + 1?;1;3;2;2\nForces;Unit?;J;N;W;N\n")
    assert [row.answer for row in reading.value.questions] == ["2", "N"]


@pytest.mark.parametrize(
    ("key", "said"),
    [
        ("E", 'the answer "E" is none of the options'),
        ("kelvin", 'the answer "kelvin" is none of the options'),
        ("A, C", "names several options"),
        ("AC", "names several options"),
        ("A: newton", 'the answer "A: newton" is none of the options'),
    ],
)
def test_f16_a_key_that_names_no_one_option_is_asked_about(key: str, said: str) -> None:
    reading = read(f"topic;question;A;B;C;D;Correct\nForces;Unit?;joule;newton;watt;pascal;{key}\n")
    assert not reading.usable
    assert said in english(reading.faults[0])


def test_f16_empty_options_keep_the_letters_of_the_others() -> None:
    (one,) = read("topic;question;A;B;C;D;Correct\nForces;True?;yes;;no;;C\n").value.questions
    assert (one.answer, one.wrong_options) == ("no", ("yes",))


@pytest.mark.parametrize("cell", ["joule | newton | watt", "A) joule | B) newton | C) watt"])
@pytest.mark.parametrize("key", ["B", "2", "newton"])
def test_f16_options_in_one_cell_are_read_too(cell: str, key: str) -> None:
    (one,) = read(f"topic,question,answer,options\nForces,Unit?,{key},{cell}\n").value.questions
    assert (one.answer, one.wrong_options) == ("newton", ("joule", "watt"))


@pytest.mark.parametrize(
    ("head", "cells"),
    [
        ("first;second;third;answer", "joule;newton;watt;B"),
        ("first;second;third;answer", "joule;newton;watt;2"),
        ("P;Q;R;answer", "joule;newton;watt;B"),
        (";;;answer", "joule;newton;watt;B"),
        ("wrong options;answer", "joule | watt;B"),
    ],
)
def test_f16_a_letter_or_small_number_beside_columns_that_were_not_read_is_never_stored(
    head: str, cells: str
) -> None:
    reading = read(f"topic;question;{head}\nForces;Unit of force?;{cells}\n")
    assert not reading.usable
    assert 'the answer is only "' in english(reading.faults[0])


def test_f16_a_letter_whose_options_stand_in_the_question_is_asked_about() -> None:
    reading = read("topic;question;answer\nForces;Unit? a) joule b) newton;B\n")
    assert not reading.usable
    assert "seem to stand in the question" in english(reading.faults[0])


def test_f16_numbers_and_symbols_that_are_answers_stay_answers() -> None:
    reading = read("Nr;topic;question;answer;Points\n1;Sums;1 + 1?;2;5\n2;Atoms;Symbol of carbon?;C;5\n")
    assert [row.answer for row in reading.value.questions] == ["2", "C"]
