"""Keys as teachers write them: made, or refused with every problem in a sentence."""

import pytest

from bot.grading.keys import (
    Amount,
    AnswerKey,
    BadKey,
    ChoiceKey,
    FormulaKey,
    NumberKey,
    TextKey,
    chance_of,
    from_dict,
    shown,
    to_dict,
)
from bot.grading.upload import KeyRefused, infer_kind, key_from, key_from_row
from storage.files.values import QuestionRow, Tolerance
from tests.wording import key_sentence

KEYS: list[AnswerKey] = [
    ChoiceKey("10 cm", ("8 cm", "12 cm")),
    NumberKey((Amount(2.7, "g/cm³", 2, -1), Amount(1 / 3)), Tolerance(0.05, relative=True)),
    NumberKey((Amount(8.0, "", 1, 0),)),
    TextKey(("photosynthesis",), ("respiration",), typos=False),
    FormulaKey(("F = m a",)),
]
SENTENCES = [
    (("number", "two"), {}, '"two" is not a number. Write it in figures, for example 3.5 or 3.5 m/s.'),
    (("number", "1,234"), {}, '"1,234" can mean 1.234 or 1234. Write one of these.'),
    (
        ("number", "5"),
        {"unit": "blob"},
        'The unit "blob" is not known here. Use a usual symbol, for example m/s².',
    ),
    (
        ("number", "5"),
        {"unit": "J/kg K"},
        'The unit "J/kg K" can be read in two ways. Use brackets, for example J/(kg K).',
    ),
    (("number", "5 kg"), {"unit": "m"}, "The answer is in kg, the unit column says m. Make them agree."),
    (
        ("number", "5"),
        {"tolerance": Tolerance(-1)},
        "The tolerance -1 is not possible. Write an amount such as 0.05, or a share such as 5 %.",
    ),
    (("choice", "a"), {}, "A choice needs 1 to 9 wrong options; there are 0. Three is usual."),
    (("choice", "a"), {"wrong_options": ["A"]}, 'The options "a" and "A" are the same. Change one.'),
    (("text", "a"), {"tolerance": Tolerance(1)}, "Only a number has a tolerance. Leave the cell empty."),
    (
        ("text", "gas"),
        {"wrong_options": ["Gas."]},
        '"Gas." stands as right and as wrong answer. Remove it from one of them.',
    ),
    (("formula", "(x"), {}, 'The formula "(x" cannot be used: a bracket is not closed with ")".'),
    (("formula", "x/0"), {}, 'The formula "x/0" cannot be used: it has no value, as in a division by zero.'),
    (
        ("formula", "1/2x"),
        {},
        'The formula "1/2x" cannot be used: what stands under the slash is not clear; '
        "use brackets, as in a/(2b) or (a/2)b.",
    ),
    (("text", " "), {}, "The answer is empty. Write the right answer."),
]


@pytest.mark.parametrize(("answer", "options", "sentence"), SENTENCES)
def test_a_bad_key_is_refused_with_what_to_do(answer, options, sentence: str) -> None:
    with pytest.raises(KeyRefused) as refused:
        key_from(*answer, **options)
    assert [key_sentence(problem) for problem in refused.value.problems] == [sentence]


def test_all_problems_of_a_key_are_named_at_once() -> None:
    with pytest.raises(KeyRefused) as refused:
        key_from("number", "two", unit="blob", tolerance=Tolerance(2, relative=True))
    assert [problem.column for problem in refused.value.problems] == ["unit", "answer", "tolerance"]


@pytest.mark.parametrize("key", KEYS, ids=str)
def test_a_key_survives_its_json(key) -> None:
    assert from_dict(to_dict(key)) == key


@pytest.mark.parametrize(
    "data",
    [{}, {"kind": "poem"}, {"kind": "choice", "right": 1, "wrong": ["a"]}, {"kind": "text", "answers": []},
     {"kind": "number", "accepted": [{"value": "nan", "unit": "", "figures": None, "place": None}], "tolerance": None}],
)  # fmt: skip
def test_a_damaged_key_is_refused(data) -> None:
    with pytest.raises(BadKey, match="Upload the question again"):
        from_dict(data)


def test_chance_is_one_in_n_for_options_and_small_for_typing() -> None:
    assert [round(chance_of(key), 3) for key in KEYS] == [0.333, 0.02, 0.02, 0.02, 0.01]


def test_the_right_answer_is_shown_as_the_teacher_wrote_it() -> None:
    assert [shown(key) for key in KEYS] == ["10 cm", "2.7 g/cm³", "8", "photosynthesis", "F = m a"]
    assert shown(key_from("number", "30°")) == "30°"
    assert shown(key_from("number", "-2.70 V")) == "−2.70 V"


def test_the_key_of_a_row_takes_its_columns() -> None:
    row = QuestionRow(2, "Density", "?", "number", "2,7", unit="g/cm3", tolerance=Tolerance(0.1))
    assert key_from_row(row) == NumberKey((Amount(2.7, "g/cm³", 2, -1),), Tolerance(0.1))


@pytest.mark.parametrize(
    ("answer", "kind"),
    [("10 cm", "number"), ("75 %", "number"), ("photosynthesis", "text"), ("F = m a", "formula"), ("x^2", "formula"),
     ("cause/effect", "text"), ("2 H2O", "text"), ("carbon (C)", "text"), ("mgh/2", "formula"), ("1066 AD", "text"),
     ("2π", "text"), ("sin(x)/x", "formula")],
)  # fmt: skip
def test_the_kind_is_inferred_from_the_answer(answer: str, kind: str) -> None:
    assert infer_kind(answer) == kind
