"""The starter: choice of questions, text, pages, and the counts that come back."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from io import BytesIO

import pytest
from PIL import Image

from bot.evidence.starter.numbers import BadCounts, RightCounts, StarterData, read_counts, starter
from bot.evidence.starter.picture import starter_pictures
from bot.evidence.starter.text import answers_text, starter_text
from bot.grading.drawn import Template, key_to_show, template_to_dict
from bot.grading.keys import to_dict
from bot.words import Words
from storage.history.evidence_rows import AskedRecord, QuestionRecord, StarterRecord

Make = Callable[..., StarterData]


def test_topics_come_by_what_asking_everybody_gains(make_starter: Make) -> None:
    made = starter(make_starter())
    assert [one.topic for one in made.questions] == ["Pressure in liquids", "Moments", "Buoyancy", "Density"]
    gains = [one.gain for one in made.questions]
    assert gains == sorted(gains, reverse=True)


def test_a_topic_without_a_question_is_named(make_starter: Make, english: Words) -> None:
    made = starter(make_starter())
    assert made.without_questions == ("Pressure in solids",)
    assert "have no question: Pressure in solids" in starter_text(made, english).plain


def test_three_to_five_questions(make_starter: Make) -> None:
    assert len(starter(make_starter(3)).questions) == 3
    for count in (2, 6):
        with pytest.raises(ValueError, match="3 to 5 questions"):
            starter(make_starter(count))


def test_the_question_asked_longest_ago_is_taken(
    make_starter: Make, make_choice: Callable[..., QuestionRecord]
) -> None:
    data = make_starter()
    other = make_choice(20, 6, "Why does ice float?", "it is less dense", "it is cold", "it is hard")
    seen = AskedRecord(1, 6, 13, data.generated_at - timedelta(days=1))
    made = starter(replace(data, questions=(*data.questions, other), asked=(seen,)))
    assert [one.question_id for one in made.questions if one.topic == "Buoyancy"] == [20]


def test_a_question_of_the_last_starter_is_not_taken_again(
    make_starter: Make, make_choice: Callable[..., QuestionRecord]
) -> None:
    more = make_choice(20, 5, "How large is the pressure at 20 m?", "196 kPa", "98 kPa")
    data = make_starter()
    data = replace(data, questions=(*data.questions, more))
    assert starter(data).questions[0].question_id == 20
    before = (StarterRecord(20, 5, 26, 20, data.generated_at),)
    assert starter(replace(data, starters=before)).questions[0].question_id == 12


def test_questions_that_do_not_work_are_avoided(make_starter: Make) -> None:
    made = starter(replace(make_starter(), avoid=frozenset({12})))
    assert "Pressure in liquids" not in [one.topic for one in made.questions]


SPEED = Template(
    "number", "{s} m in {t} s. How fast?", "s = 60..240 step 60; t in 4, 5, 6", "s/t", unit="m/s"
)


def test_a_question_with_drawn_values_is_put_to_the_class_with_some(make_starter: Make) -> None:
    data = make_starter()
    key, stored = to_dict(key_to_show(SPEED)), template_to_dict(SPEED)
    (row,) = [row for row in data.questions if row.id == 11]
    row = replace(row, kind="number", prompt=SPEED.text, answer=key, template=stored)
    data = replace(data, questions=tuple(row if one.id == 11 else one for one in data.questions))
    (asked,) = [one for one in starter(data).questions if one.question_id == 11]
    s, t = map(float, re.fullmatch(r"(\d+) m in (\d) s\. How fast\?", asked.prompt).groups())  # type: ignore[union-attr]
    assert asked.answer == f"{s / t:g} m/s"
    assert starter(data).questions == starter(data).questions


def test_a_damaged_key_does_not_stop_the_others(make_starter: Make) -> None:
    data = make_starter()
    damaged = tuple(
        replace(row, answer={"kind": "choice"}) if row.id == 11 else row for row in data.questions
    )
    assert "Moments" not in [one.topic for one in starter(replace(data, questions=damaged)).questions]


def test_the_letter_of_the_answer_is_that_of_the_right_option(make_starter: Make) -> None:
    for one in starter(make_starter()).questions:
        if one.options:
            assert one.options["ABCD".index(one.letter)] == one.answer


def test_the_order_of_options_stays_the_same(make_starter: Make) -> None:
    assert starter(make_starter()) == starter(make_starter())


def test_answers_stand_apart_from_questions(make_starter: Make, english: Words) -> None:
    made = starter(make_starter())
    questions, answers = starter_text(made, english).plain, answers_text(made, english).plain
    assert "98.1 kPa" not in questions
    assert "98.1 kPa" in answers
    assert "Mass divided by volume" not in questions
    assert "for example: 18 16 13 10 of 26" in questions


def test_formulas_are_written_readably(make_starter: Make, english: Words) -> None:
    text = starter_text(starter(make_starter()), english).plain
    assert "$" not in text
    assert "ρ g h" in text


def test_without_usable_questions_the_text_says_so(make_starter: Make, english: Words) -> None:
    made = starter(replace(make_starter(), questions=()))
    assert "there is no starter" in starter_text(made, english).plain
    assert starter_pictures(made, english)[0].is_picture


def test_pages_have_the_shape_of_a_projector_and_their_own_text(make_starter: Make, english: Words) -> None:
    pages = starter_pictures(starter(make_starter()), english)
    for page in pages:
        with Image.open(BytesIO(page.data)) as image:
            assert image.size == (1280, 720)
    assert pages[0].alt.startswith("Starter questions: 1:")
    assert pages[-1].alt.startswith("Starter answers: 1:")
    assert "98.1 kPa" not in " ".join(page.alt for page in pages if "questions" in page.name)


def test_long_questions_go_to_further_pages(make_starter: Make, english: Words) -> None:
    data = make_starter()
    long = tuple(replace(row, prompt=row.prompt + " Mind the units." * 12) for row in data.questions)
    few = [page for page in starter_pictures(starter(data), english) if "questions" in page.name]
    many = starter_pictures(starter(replace(data, questions=long)), english)
    assert len([page for page in many if "questions" in page.name]) > len(few)


# ---------------------------------------------------------------- how many had it right


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("18 22 9 of 26", RightCounts(26, (18, 22, 9))),
        ("18, 22, 9 out of 26", RightCounts(26, (18, 22, 9))),
        ("18/26 22/26 9/26", RightCounts(26, (18, 22, 9))),
        (" 0 ; 26 ; 3 / 26 ", RightCounts(26, (0, 26, 3))),
    ],
)
def test_counts_are_read_as_teachers_write_them(text: str, expected: RightCounts) -> None:
    assert read_counts(text, 3) == expected


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("many", "I could not read that."),
        ("18 22 9", "I could not read that."),
        ("18/26 22/25 9/26", "I could not read that."),
        ("18 22 of 26", "That is 2 counts for 3 questions."),
        ("18 22 9 of 0", "0 is no number of students that a class can have."),
        ("18 27 9 of 26", "27 right answers of 26 students cannot be."),
        ("1" * 300 + " of 26", "I could not read that."),
    ],
)
def test_counts_that_cannot_be_are_named(text: str, said: str, english: Words) -> None:
    with pytest.raises(BadCounts) as found:
        read_counts(text, 3)
    assert found.value.say(english).startswith(said)
