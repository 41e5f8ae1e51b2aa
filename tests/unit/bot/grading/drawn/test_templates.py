"""A template from what a teacher wrote to the question as it is asked, of every kind and in both languages."""

import json
import re
import time
from fractions import Fraction
from pathlib import Path

import pytest

from bot.grading import drawn
from bot.grading.drawn import (
    BadDraw,
    Draw,
    Language,
    Template,
    TemplateRefused,
    Wrong,
    check,
    draw,
    error_in,
    render,
)
from bot.grading.grade import grade, grade_option
from bot.grading.keys import ChoiceKey, FormulaKey, NumberKey, TextKey, from_dict, to_dict
from bot.words import words
from bot.words.problems import template_sentence
from storage.files.values import Tolerance

SPEED = Template(
    "number",
    "A cyclist covers {s} m in {t} s. How fast is {who}?",
    "s = 20..120 step 10; t in 4, 5, 8, 10; who in she, he; where s/t < 20 and s/t ≠ 1 and t ≠ s/t",
    "{s}/{t}",
    (
        Wrong("{s}*{t}", "{wrong} is distance times time. Divide the distance by the time."),
        Wrong("{t}/{s}", "That is upside down: it says how many seconds one metre takes."),
    ),
    unit="m/s",
    steps=("v = s : t", "{s} m ÷ {t} s = {=s/t} m/s"),
    explanation="In each second {who} covers {answer} · 1 s.",
)
GERMAN = Template(
    "number",
    "Ein Würfel hat die Kantenlänge {a} cm. Wie groß ist sein Volumen?",
    "a = 0,5..4 Schritt 0,5 ohne 1, 3",
    "a^3",
    (
        Wrong("a^2", "{wrong} ist nur die Fläche einer Seite."),
        Wrong("3a", "{wrong}: Du hast addiert statt malgenommen."),
    ),
    unit="cm³",
    steps=("{a} cm · {a} cm · {a} cm = {=a^3} cm³",),
    language="de",
)
LINE = Template(
    "formula",
    "A line has the slope {m} and meets the y axis at {b}. Write its equation.",
    "m = -4..4 except 0; b = -5..5 except 0; where m ≠ b",
    "y = {m·}x + {b}",
    (Wrong("y = {b·}x + {m}", "Slope and axis section are exchanged."),),
)
LARGER = Template(
    "choice",
    "Which fraction is larger than one half?",
    "n in 5, 7, 9, 11; k = (n+1)/2; l = (n-1)/2",
    "{=k}/{=n}",
    (Wrong("{=l}/{=n}", "Twice {=l} is {=2l}, less than {n}."),),
)
MIRROR = Template(
    "choice",
    "A ray meets a mirror at {a}° to the mirror. How large is the angle of reflection?",
    "a = 10..80 step 5; where a ≠ 45 and a ≠ 30 and a ≠ 60",
    "90 - a",
    (
        Wrong("a", "Angles are measured from the normal."),
        Wrong("2a", "Twice the angle."),
        Wrong("180 - a", ""),
    ),
    unit="°",
)
WHO = Template(
    "text",
    "{first} runs {a} m in 10 s, {second} runs {b} m in 10 s. Who is faster?",
    "first, second in (Ada, Ben), (Cem, Dana), (Eva, Finn); a = 60..80; b = a+1..90",
    "{second}",
    (Wrong("{first}", "{first} covers less in the same time."),),
)
ALL = [SPEED, GERMAN, LINE, LARGER, MIRROR, WHO]


@pytest.mark.parametrize("template", ALL, ids=lambda t: t.kind)
def test_a_good_template_has_no_problem_and_three_examples(template: Template) -> None:
    checked = check(template)
    assert checked.problems == ()
    assert len(checked.examples) == 3
    assert len({asked.text + asked.answer + repr(asked.key) for _, asked in checked.examples}) == 3


@pytest.mark.parametrize("template", ALL, ids=lambda t: t.kind)
def test_a_stored_draw_gives_the_same_question_again(template: Template) -> None:
    for seed in range(30):
        made = draw(template, seed)
        stored = json.loads(json.dumps(made.to_dict()))
        again = Draw.from_dict(stored)
        assert again == made == draw(template, str(seed))
        asked = render(template, made)
        assert render(template, again) == asked
        assert from_dict(json.loads(json.dumps(to_dict(asked.key)))) == asked.key


def test_a_number_question_reads_as_written() -> None:
    asked = render(SPEED, Draw("", {"s": "50", "t": "8", "who": 0}))
    assert asked.text == "A cyclist covers 50 m in 8 s. How fast is she?"
    assert asked.answer == "6.25 m/s"
    assert asked.steps == ("v = s : t", "50 m ÷ 8 s = 6.25 m/s")
    assert asked.explanation == "In each second she covers 6.25 m/s · 1 s."
    assert [wrong.shown for wrong in asked.wrong] == ["400 m/s", "0.16 m/s"]
    assert asked.wrong[0].because.startswith("400 m/s is distance times time.")
    assert grade(asked.key, "6,25 m/s").right
    assert grade(asked.key, "22.5 km/h").right


def test_a_rounded_answer_takes_the_exact_value_and_its_rounding() -> None:
    asked = render(SPEED, Draw("", {"s": "20", "t": "3", "who": 0}))
    assert isinstance(asked.key, NumberKey)
    assert asked.answer == "6.67 m/s"
    assert asked.steps[1] == "20 m ÷ 3 s ≈ 6.67 m/s"
    for given in ("6.67 m/s", "6.666667 m/s", "20/3 m/s", "6.7 m/s"):
        assert grade(asked.key, given).right, given
    assert not grade(asked.key, "6.5 m/s").right


def test_german_numbers_have_a_comma_in_every_part() -> None:
    asked = render(GERMAN, Draw("", {"a": "1/2"}))
    assert asked.text.startswith("Ein Würfel hat die Kantenlänge 0,5 cm.")
    assert asked.answer == "0,125 cm³"
    assert asked.steps == ("0,5 cm · 0,5 cm · 0,5 cm = 0,125 cm³",)
    assert asked.wrong[0].because == "0,25 cm³ ist nur die Fläche einer Seite."


def test_words_are_drawn_by_their_row_so_a_draw_fits_every_language() -> None:
    from dataclasses import replace

    german = replace(SPEED, values=SPEED.values.replace("who in she, he", "who in sie, er"), language="de")
    made = Draw("", {"s": "50", "t": "8", "who": 1})
    assert render(german, made).text.endswith("How fast is er?")
    assert render(german, made, "en").answer == "6.25 m/s"


def test_an_asked_fraction_is_taken_only_exactly() -> None:
    share = Template("number", "{a} : {b} as a fraction?", "a = 1..4; b in 3, 7", "a/b", figures="fraction")
    asked = render(share, Draw("", {"a": "1", "b": "3"}))
    assert asked.answer == "1/3"
    assert grade(asked.key, "1/3").right
    assert grade(asked.key, "2/6").right
    assert not grade(asked.key, "0.33").right


def test_a_choice_is_computed_with_its_unit_or_written_as_text() -> None:
    asked = render(MIRROR, Draw("", {"a": "20"}))
    assert asked.key == ChoiceKey("70°", ("20°", "40°", "160°"))
    assert render(LARGER, Draw("", {"n": "5"})).key == ChoiceKey("3/5", ("2/5",))
    ratio = Template(
        "choice", "?", "a = 1..2; b = 3..4", "“{a}:{b}”", (Wrong("a/b"), Wrong("= a·b"), Wrong("mass"))
    )
    assert render(ratio, Draw("", {"a": "1", "b": "4"})).key == ChoiceKey("1:4", ("0.25", "4", "mass"))


def test_a_formula_has_its_signs_right_and_is_graded_as_ever() -> None:
    asked = render(LINE, Draw("", {"m": "-1", "b": "-3"}))
    assert asked.key == FormulaKey(("y = −x − 3",))
    assert grade(asked.key, "y = -(x+3)").right
    assert not grade(asked.key, "y = -3x - 1").right


def test_a_text_key_names_what_is_never_a_slip() -> None:
    asked = render(WHO, Draw("", {"first": 0, "second": 0, "a": "60", "b": "70"}))
    assert asked.key == TextKey(("Ben",), ("Ada",))


# --- feedback -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("template", "values", "given", "because"),
    [
        (SPEED, {"s": "60", "t": "12", "who": 0}, "720", "720 m/s is distance times time."),
        (SPEED, {"s": "60", "t": "12", "who": 0}, "720 m/s", "720 m/s is distance times time."),
        (SPEED, {"s": "60", "t": "12", "who": 0}, "720 m s", "720 m/s is distance times time."),
        (SPEED, {"s": "60", "t": "12", "who": 0}, "0.72 km/s", "720 m/s is distance times time."),
        (SPEED, {"s": "60", "t": "12", "who": 0}, "0,2", "That is upside down"),
        (SPEED, {"s": "60", "t": "12", "who": 0}, "7", None),
        (SPEED, {"s": "60", "t": "12", "who": 0}, "5 m/s", None),
        (SPEED, {"s": "60", "t": "12", "who": 0}, "no idea", None),
        (LINE, {"m": "2", "b": "3"}, "3x+2", "Slope and axis section are exchanged."),
        (LINE, {"m": "2", "b": "3"}, "3x+3", None),
        (WHO, {"first": 0, "second": 0, "a": "60", "b": "70"}, "ada", "Ada covers less"),
        (WHO, {"first": 0, "second": 0, "a": "60", "b": "70"}, "Cem", None),
        (MIRROR, {"a": "20"}, "160°", ""),
        (MIRROR, {"a": "20"}, "20°", "Angles are measured from the normal."),
    ],
)
def test_a_typical_error_is_recognised_by_the_answer(
    template: Template, values: dict[str, str | int], given: str, because: str | None
) -> None:
    asked = render(template, Draw("", values))
    found = error_in(asked, given, grade(asked.key, given))
    if because is None:
        assert found is None
    else:
        assert found is not None
        assert found.because.startswith(because)


def test_a_tapped_option_is_told_by_its_number() -> None:
    asked = render(MIRROR, Draw("", {"a": "30"}))
    assert isinstance(asked.key, ChoiceKey)
    assert [error_in(asked, "", grade_option(asked.key, option)) for option in range(4)] == [
        None,
        *asked.wrong,
    ]


# --- drawing anew -------------------------------------------------------------------------------------------


def test_values_that_were_asked_are_avoided_while_there_are_others() -> None:
    few = Template("number", "{a} + 1 = ?", "a = 1..10", "a + 1")
    asked: list[Draw] = []
    for seed in range(10):
        asked.append(draw(few, seed, avoiding=asked))
    assert {made.values["a"] for made in asked} == {str(n) for n in range(1, 11)}
    assert draw(few, 11, avoiding=asked).values["a"] in {str(n) for n in range(1, 11)}


@pytest.mark.parametrize(
    "data",
    [
        {},
        {"seed": 1, "values": {}},
        {"seed": "1", "values": [1]},
        {"seed": "1", "values": {"a": 1.5}},
        {"seed": "1"},
        {"seed": "1", "values": {"a": True}},
        {"seed": "1", "values": None},
    ],
)
def test_a_damaged_draw_is_refused(data: dict[str, object]) -> None:
    with pytest.raises(BadDraw):
        Draw.from_dict(data)


# --- what a check finds -------------------------------------------------------------------------------------


def number(values: str, answer: str, **more: object) -> Template:
    return Template("number", "{a} and {b}", values, answer, **more)  # type: ignore[arg-type]


LANGUAGES: tuple[Language, ...] = ("en", "de")
AB = "a = 1..9; b = 1..9"
FAULTY = [
    (number("a = 1..9; b = 0..9", "a/b"), "divided_by_zero", "answer", "0"),
    (number(AB, "√(a - b)"), "no_value", "answer", None),
    (number(AB, "a·b", wrong=(Wrong("a·b"),)), "wrong_is_right", "wrong", None),
    (number(AB, "a·b", wrong=(Wrong("a + b"),)), "wrong_is_right", "wrong", "2"),
    (number(AB, "a·b + 100", wrong=(Wrong("a + b"), Wrong("b + a"))), "wrong_twice", "wrong", None),
    (number(AB, "a/b", tolerance=Tolerance(0.0)), "needs_tolerance", "tolerance", None),
    (number(AB, "a/b", figures="0", tolerance=Tolerance(0.1)), "needs_tolerance", "tolerance", None),
    (number(AB, "a·b·12345678", figures="0"), "many_figures", "answer", None),
    (number(AB, "a^(b·90)·10^30"), "too_large", "answer", None),
    (number(AB, "√a·b", figures="fraction"), "no_fraction", "answer", None),
    (number(AB + "; where a > 9", "a·b"), "too_rare", "values", None),
    (number("a = 1..1000; b = 1..1000; where a = b", "a·b"), "too_rare", "values", None),
    (number("a in 4; b in 5", "a·b"), "one_draw", "values", None),
    (number(AB + "; c = 1..3", "a·b"), "unused_name", "values", None),
    (number(AB, "a·c"), "unknown_name", "answer", None),
    (number(AB, "a·b", unit="qwert"), "unit_unknown", "unit", None),
    (number(AB, "a·b", unit="J/kg K"), "unit_two_ways", "unit", None),
    (number(AB, "a·b", figures="pretty"), "figures_unread", "figures", None),
    (number(AB, "a·b", tolerance=Tolerance(2.0, relative=True)), "tolerance", "tolerance", None),
    (number(AB, "a·b", steps=("{c}",)), "placeholder", "steps", None),
    (number(AB, "a·b", steps=("{=1/(a-b)}",)), "divided_by_zero", "steps", None),
    (number(AB, "a·b", explanation="{wrong}"), "placeholder", "explanation", None),
    (number(AB, ""), "empty", "answer", None),
    (number("", "2"), "nothing_drawn", "values", None),
    (Template("choice", "{a} {b}", AB, "a·b"), "options_count", "wrong", None),
    (Template("choice", "{a} {b}", AB, "a·b", (Wrong("a+b"),)), "key_options_same", "wrong", "2"),
    (Template("choice", "{a} {b}", AB, "a/b", (Wrong("= b/a"),)), "wrong_is_right", "wrong", None),
    (Template("choice", "{a} {b}", AB, "x" * 101, (Wrong("a"),)), "key_option_long", "answer", None),
    (Template("text", "{a} {b}", AB, "yes", (Wrong("yes"),)), "key_text_both", "wrong", None),
    (Template("text", "{a} {b}", AB, "yes", unit="m"), "unit_idle", "unit", None),
    (Template("text", "{a} {b}", AB, "yes", tolerance=Tolerance(1)), "tolerance_idle", "tolerance", None),
    (Template("formula", "{a} {b}", AB, "{a}x +"), "key_formula", "answer", None),
    (
        Template("formula", "{a} {b}", AB, "{a}x + {b}", (Wrong("{b} + {a·}x"),)),
        "wrong_is_right",
        "wrong",
        None,
    ),
    (Template("number", "{a:0.00000000} {=b/7:0.00000000}", AB, "a·b"), "many_figures", "text", None),
]


IDS = [f"{code} {template.answer[:9]}" for template, code, _, _ in FAULTY]


@pytest.mark.parametrize(("template", "code", "field", "shows"), FAULTY, ids=IDS)
def test_what_goes_wrong_is_found_with_an_example(
    template: Template, code: str, field: str, shows: str | None
) -> None:
    checked = check(template)
    found = [problem for problem in checked.problems if (problem.code, problem.field) == (code, field)]
    assert found, checked.problems
    if shows is not None:
        assert found[0].example is not None
        assert shows in found[0].example.values()
    for language in LANGUAGES:
        for problem in checked.problems:
            said = template_sentence(problem, words(language))
            assert "{}" not in said
            assert "{found}" not in said


def test_the_example_of_a_problem_shows_it() -> None:
    problem = next(
        p for p in check(number("a = 1..9; b = 0..9", "a/b")).problems if p.code == "divided_by_zero"
    )
    assert problem.example is not None
    assert problem.example["b"] == "0"
    assert "b = 0" in template_sentence(problem, words("de"))


def test_drawing_from_a_template_that_cannot_be_read_is_refused_with_every_problem() -> None:
    with pytest.raises(TemplateRefused) as caught:
        draw(number(AB, "a·c", unit="qwert", figures="pretty"), 1)
    assert {problem.code for problem in caught.value.problems} == {
        "unknown_name",
        "unit_unknown",
        "figures_unread",
    }


def test_every_problem_that_can_be_found_has_words() -> None:
    source = "".join(path.read_text("utf-8") for path in Path(drawn.__path__[0]).glob("*.py"))
    raised = set(re.findall(r"(?:Unread|Undefined)\(\s*\"(\w+)\"|(?:self\.)?fail\(\"(\w+)\"", source))
    codes = {code for pair in raised for code in pair if code}
    known = {key.removeprefix("drawn.problem.") for key in words("en").keys("drawn.problem.")}
    assert len(codes) > 20
    assert codes <= known


def test_a_check_is_quick_enough_for_a_whole_sheet() -> None:
    start = time.process_time()
    check(SPEED)
    # 100 rows of a sheet in half a minute on a slow machine.
    assert time.process_time() - start < 3.0


def test_values_are_exact_fractions_in_the_key() -> None:
    tenth = Template("number", "{a} + {b}", "a = 0.1..0.9 step 0.1; b = 0.1..0.9 step 0.1", "a + b")
    key = render(tenth, Draw("", {"a": "1/10", "b": "1/5"})).key
    assert isinstance(key, NumberKey)
    assert Fraction(key.accepted[0].value) == Fraction(0.3)
