"""The bank: every template works in both languages, and its answers agree with a second way of computing them.

HOLDFAST_DRAWS sets how many draws of each template are tried (the drill takes 1000).
"""

from __future__ import annotations

import os
import re
from fractions import Fraction
from typing import Any

import numpy as np
import pytest

from bot.bank import BadBank, BankQuestion, catalogue, topics_for
from bot.bank.reading import LANGUAGES, read_entry
from bot.grading import numbers
from bot.grading.drawn import Draw, check, domains, draw, error_in, render
from bot.grading.drawn.template import ready
from bot.grading.grade import grade, grade_option
from bot.grading.keys import ChoiceKey, NumberKey
from tests.unit.bot.bank.second_way import MATHEMATICS, PHYSICS, in_unit

DRAWS = int(os.environ.get("HOLDFAST_DRAWS", "40"))
ENTRIES = list(catalogue().entries.values())
WAYS = {**PHYSICS, **MATHEMATICS}
every_entry = pytest.mark.parametrize("entry", ENTRIES, ids=lambda entry: entry.id)


@every_entry
def test_the_draws_of_a_template_have_no_problem_and_many_values(entry: BankQuestion) -> None:
    draws = max(DRAWS, 60)
    for template in entry.templates.values():
        checked = check(template, draws)
        assert checked.problems == ()
        # No student sees the same values twice soon.
        assert checked.variety >= 10
        assert len(checked.examples) == 3


@every_entry
def test_the_answer_agrees_with_a_second_way_of_computing_it(entry: BankQuestion) -> None:
    for seed in range(DRAWS):
        made = draw(entry.templates["en"], seed)
        values = domains.resolve(ready(entry.templates["en"]).domains, made.values)
        given = {name: value if isinstance(value, str) else float(value) for name, value in values.items()}
        compare(entry, made, WAYS[entry.id](given))


def compare(entry: BankQuestion, made: Draw, expected: Any) -> None:
    template = entry.templates["en"]
    asked = render(template, made)
    if callable(expected):
        x = np.linspace(0.4, 2.3, 7)
        assert np.allclose(by_numpy(asked.answer, x), expected(x), rtol=1e-9)
    elif isinstance(expected, str):
        assert expected in asked.answer
        assert not any(expected in wrong.shown for wrong in asked.wrong)
    elif isinstance(asked.key, NumberKey):
        # The last amount is the exact one.
        assert asked.key.accepted[-1].value == pytest.approx(in_unit(expected, template.unit), rel=1e-9)
        assert asked.key.accepted[0].value == pytest.approx(in_unit(expected, template.unit), rel=0.006)
    else:
        found = re.search(r"−?\d[^°]*?(?= times|°|$)", asked.answer)
        assert found is not None
        read = numbers.read(found[0])
        assert read is not None
        assert any(n.value == pytest.approx(in_unit(expected, ""), rel=1e-9) for n in read.readings), (
            asked.answer
        )


def by_numpy(formula: str, x: Any) -> Any:
    """Compute a polynomial as shown, "y = −2x² + 3" say, without the grader's parser."""
    text = formula.partition("=")[2] or formula
    text = text.replace("−", "-").replace(" ", "").translate(str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹", "0123456789"))
    total = 0.0 * x
    for sign, digits, letter, power in re.findall(r"([+-]?)(\d*)([xt]?)\^?(\d*)", text):
        if not digits and not letter:
            continue
        size = float(digits or 1)
        total = total + (-size if sign == "-" else size) * x ** (float(power or 1) if letter else 0)
    return total


@every_entry
def test_a_draw_is_the_same_question_in_both_languages(entry: BankQuestion) -> None:
    for seed in range(10):
        made = draw(entry.templates["en"], seed)
        assert made == draw(entry.templates["de"], seed)
        english, german = (render(entry.templates[language], made) for language in LANGUAGES)
        assert len(english.wrong) == len(german.wrong)
        assert len(english.steps) == len(german.steps) >= 1
        for text in (german.text, german.answer, *german.steps, *(wrong.because for wrong in german.wrong)):
            assert not re.search(r"\d\.\d", text), text
        if isinstance(english.key, NumberKey) and isinstance(german.key, NumberKey):
            assert english.key == german.key


@every_entry
def test_the_answer_as_shown_is_right_and_every_typical_error_is_told(entry: BankQuestion) -> None:
    for template in entry.templates.values():
        for seed in range(6):
            asked = render(template, draw(template, seed))
            if isinstance(asked.key, ChoiceKey):
                given = [grade_option(asked.key, place) for place in range(len(asked.wrong) + 1)]
                assert [error_in(asked, "", verdict) for verdict in given] == [None, *asked.wrong]
                continue
            assert grade(asked.key, asked.answer).right
            for wrong in asked.wrong:
                assert error_in(asked, wrong.shown, grade(asked.key, wrong.shown)) == wrong
                assert wrong.because


@every_entry
def test_the_sentences_are_plain(entry: BankQuestion) -> None:
    for language, template in entry.templates.items():
        said = [template.text, *template.steps, *(wrong.because for wrong in template.wrong)]
        assert all("!" not in text for text in said)
        assert all(wrong.because.endswith((".", "?")) for wrong in template.wrong)
        if language == "de":
            # Students are addressed as "du".
            assert not any(
                re.search(r"\b(?:Sie|Ihnen|Ihr|Ihre)\b(?! wird| bleibt)", text) for text in said[:1]
            )


def test_the_bank_has_enough_of_both_subjects_and_no_topic_is_empty() -> None:
    bank = catalogue()
    subjects = [bank.topics[entry.topic].subject for entry in ENTRIES]
    assert subjects.count("physics") >= 25
    assert subjects.count("mathematics") >= 25
    assert all(bank.of_topic(topic) for topic in bank.topics)
    assert set(WAYS) == set(bank.entries)


@pytest.mark.parametrize(
    ("title", "topics"),
    [
        ("Ohm's law", ["ohms-law"]),
        ("Ohm’s Law", ["ohms-law"]),
        ("Ohmsches Gesetz", ["ohms-law"]),
        ("ohmsches gesetz ", ["ohms-law"]),
        ("U = R · I", ["ohms-law"]),
        ("U=R*I", ["ohms-law"]),
        ("Das Ohmsche Gesetz: Widerstand", ["ohms-law"]),
        ("Introduction to density", ["density"]),
        ("Satz des Pythagoras", ["pythagoras"]),
        ("Bruchrechnung", ["fractions"]),
        ("Größter gemeinsamer Teiler", ["divisibility"]),
        ("Groesse der Sterne", []),
        ("Speed and acceleration", ["acceleration", "speed"]),
        ("Photosynthesis", []),
        ("", []),
        ("=", []),
        ("x" * 5000, []),
    ],
)
def test_a_topic_is_found_under_the_names_of_timetables(title: str, topics: list[str]) -> None:
    assert sorted(topic.id for topic in topics_for(title)) == topics


def test_no_name_means_two_topics() -> None:
    for topic in catalogue().topics.values():
        for names in topic.names.values():
            for name in names:
                assert [found.id for found in topics_for(name)] == [topic.id], name


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"colour": "red"}, "unknown field colour"),
        ({"tolerance": "some"}, "tolerance"),
        ({"wrong": ["a"]}, "1 wrong answers and 0 explanations"),
        ({"en": {}}, "lacks 'text'"),
        ({"en": {"text": "?", "tip": "x"}}, r"unknown field en\.tip"),
        ({"kind": None}, None),
    ],
)
def test_a_damaged_file_is_named_with_the_template(change: dict[str, Any], says: str | None) -> None:
    row: dict[str, Any] = {
        "id": "sum", "topic": "integers", "kind": "number", "values": "a = 1..9", "answer": "a",
        "en": {"text": "{a}?"}, "de": {"text": "{a}?"},
    }  # fmt: skip
    assert read_entry(row, "here").templates["de"].language == "de"
    if says is None:
        row.pop("kind")
        says = "lacks 'kind'"
    else:
        row |= change
    with pytest.raises(BadBank, match=says):
        read_entry(row, "here")


def test_values_are_compared_exactly_where_they_are_fractions() -> None:
    entry = catalogue().entries["fractions-add"]
    asked = render(entry.templates["en"], Draw("", {"a": "1", "b": "2", "c": "1", "d": "3"}))
    assert asked.answer == "5/6"
    assert isinstance(asked.key, NumberKey)
    assert Fraction(asked.key.accepted[0].value).limit_denominator(100) == Fraction(5, 6)


def test_an_option_in_quotation_marks_is_shown_as_written() -> None:
    entry = catalogue().entries["powers-scientific-notation"]
    made = Draw("", {"m": "17/5", "n": "4"})
    english, german = (render(entry.templates[language], made) for language in LANGUAGES)
    assert (english.answer, german.answer) == ("3.4 · 10⁴", "3,4 · 10⁴")
    assert english.text == "Write 34000 in scientific notation."
