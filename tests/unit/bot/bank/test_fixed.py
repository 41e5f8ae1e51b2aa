"""Questions of the bank that are the same for everybody: they work in both languages, and their numbers are right."""

from __future__ import annotations

import math
import re
from pathlib import Path
from typing import Any

import pytest

from bot.bank import BadBank, FixedQuestion, catalogue
from bot.bank.reading import LANGUAGES, read_fixed
from bot.grading.grade import grade, grade_option
from bot.grading.keys import ChoiceKey, NumberKey
from bot.grading.upload import key_from_row
from bot.service.teacher.bank import draft_of, shown
from tests.unit.bot.bank.second_way import FIXED, in_unit

QUESTIONS = list(catalogue().fixed.values())
every_question = pytest.mark.parametrize("question", QUESTIONS, ids=lambda question: question.id)


@every_question
def test_its_answer_is_right_and_every_wrong_one_is_told_why(question: FixedQuestion) -> None:
    for language in LANGUAGES:
        row = question.rows[language]
        key = key_from_row(row)
        wrong = row.wrong_options or row.typical_errors
        assert len(wrong) == len(row.why_wrong)
        assert all(because.endswith((".", "?")) for because in row.why_wrong)
        if isinstance(key, ChoiceKey):
            verdicts = [grade_option(key, place).right for place in range(len(wrong) + 1)]
            assert verdicts == [True] + [False] * len(wrong)
        else:
            for accepted in (row.answer, *row.alternatives):
                assert grade(key, f"{accepted} {row.unit or ''}".strip(), question=row.prompt).right
            assert not any(grade(key, error, question=row.prompt).right for error in wrong)
        draft = draft_of(question, "Topic", language)
        assert (draft.topic, draft.prompt, draft.template) == ("Topic", row.prompt, None)
        assert row.answer in shown(question, language)


@every_question
def test_both_languages_say_the_same(question: FixedQuestion) -> None:
    english, german = (question.rows[language] for language in LANGUAGES)
    assert (english.kind, english.unit, english.tolerance) == (german.kind, german.unit, german.tolerance)
    assert len(english.why_wrong) == len(german.why_wrong)
    assert len(english.steps) == len(german.steps)
    assert english.prompt != german.prompt
    said = (english.prompt, english.answer, *english.why_wrong, *english.steps, english.explanation or "")
    assert not any("!" in text for text in said)
    for text in (german.prompt, german.answer, *german.why_wrong, *german.steps):
        # Students are addressed as "du"; "Sie" may only begin a sentence, as "they" or "it".
        assert not re.search(r"\d\.\d|!|[\w,] (?:Sie|Ihnen|Ihre?)\b", text), text


NUMBERS = {question.id for question in QUESTIONS if question.rows["en"].kind == "number"}


@pytest.mark.parametrize("name", sorted(NUMBERS))
def test_a_number_agrees_with_a_second_way_of_computing_it(name: str) -> None:
    row = catalogue().fixed[name].rows["en"]
    key = key_from_row(row)
    assert isinstance(key, NumberKey)
    expected = in_unit(FIXED[name], row.unit or "")
    # What is rounded says so by its tolerance.
    off = 0.0 if row.tolerance is None else row.tolerance.amount
    assert math.isclose(key.accepted[0].value, expected, rel_tol=1e-9, abs_tol=off)


def test_there_are_some_for_every_topic_and_enough_in_all() -> None:
    assert set(FIXED) == NUMBERS
    topics = [question.topic for question in QUESTIONS]
    assert all(topics.count(topic) >= 4 for topic in catalogue().topics)
    assert len(QUESTIONS) >= 150
    readme = (Path(__file__).parents[4] / "README.md").read_text("utf-8")
    assert f"{len(catalogue().entries)} with drawn values and {len(QUESTIONS)} fixed ones" in readme


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"values": "a = 1..9"}, "unknown field values"),
        ({"en": {}}, "lacks 'text'"),
        ({"en": {"text": "?", "answer": "5", "words": "x"}}, r"unknown field en\.words"),
        ({"wrong": ["6"]}, "1 wrong answers and 0 explanations"),
        ({"tolerance": "some"}, "tolerance"),
    ],
)
def test_a_damaged_file_is_named_with_the_question(change: dict[str, Any], says: str) -> None:
    row: dict[str, Any] = {
        "id": "sum", "topic": "integers", "kind": "number", "answer": "5",
        "en": {"text": "2 + 3?"}, "de": {"text": "2 + 3 = ?"},
    }  # fmt: skip
    assert read_fixed(row, "here").rows["de"].answer == "5"
    with pytest.raises(BadBank, match=says):
        read_fixed(row | change, "here")
