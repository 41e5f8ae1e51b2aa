"""What is drawn, its conditions, and the arithmetic, exact where it can be."""

import math
import random
from fractions import Fraction

import pytest

from bot.grading.drawn import conditions, domains, expressions
from bot.grading.drawn.errors import BadDraw, Undefined, Unread


def value(text: str, **values: object) -> object:
    known = {name: Fraction(str(given)) for name, given in values.items()}
    return expressions.evaluate(expressions.read(text, known), known)


def drawn(text: str, times: int = 300) -> list[dict[str, object]]:
    read, rng = domains.read(text), random.Random(1)
    found = (domains.resolve(read, domains.pick(read, rng)) for _ in range(times))
    return [dict(values) for values in found if domains.accepts(read, values)]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("{s}/{t}", Fraction(5, 2)),
        ("0.1 + 0.2", Fraction(3, 10)),
        ("0,5 s", Fraction(10)),
        ("s^2", Fraction(400)),
        ("s^-1", Fraction(1, 20)),
        ("√(s·s)", Fraction(20)),
        ("(1/4)^(1/2)", Fraction(1, 2)),
        ("8^(1/3)", Fraction(2)),
        ("27^(2/3)", Fraction(9)),
        ("sin(30°)", Fraction(1, 2)),
        ("cos 60°", Fraction(1, 2)),
        ("tan(45°)", Fraction(1)),
        ("gcd(s; 12)", Fraction(4)),
        ("ggT(s, 12)", Fraction(4)),
        ("lcm(s; t; 3)", Fraction(120)),
        ("round(2.5)", Fraction(3)),
        ("round(-2.5)", Fraction(-3)),
        ("round(s/3; 1)", Fraction(67, 10)),
        ("max(s; t) - min(s; t)", Fraction(12)),
        ("mod(s; t)", Fraction(4)),
        ("floor(s/t)", Fraction(2)),
        ("ceil(gcd(s; t)/3)", Fraction(2)),
        ("|t - s|", Fraction(12)),
        ("-s^2", Fraction(-400)),
        ("lg(1000)", Fraction(3)),
        ("asin(1/2)/°", 30.0),
        ("2π s", 40 * math.pi),
        ("√2", math.sqrt(2)),
        ("e^2", math.e**2),
    ],
)
def test_school_formulas_have_their_value_exactly_where_there_is_one(text: str, expected: object) -> None:
    found = value(text, s=20, t=8)
    if isinstance(expected, float):
        assert found == pytest.approx(expected, rel=1e-14)
    else:
        assert found == expected


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("1/(s-20)", "divided_by_zero"),
        ("√(t-s)", "no_value"),
        ("ln(0)", "no_value"),
        ("tan(90°)", "divided_by_zero"),
        ("9^9^9^9", "too_large"),
        ("exp(999)", "too_large"),
        ("0^0", "no_value"),
        ("asin(2)", "no_value"),
        ("gcd(s/3; 2)", "not_whole"),
        ("1e300·1e300", "too_large"),
        ("(-8)^0.3", "no_value"),
        ("exp(-500)", "too_small"),
    ],
)
def test_what_has_no_value_says_why(text: str, code: str) -> None:
    with pytest.raises(Undefined) as caught:
        value(text, s=20, t=8)
    assert caught.value.code == code


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("s +", "formula"),
        ("s/2t", "slash_unclear"),
        ("q", "unknown_name"),
        ("s = t", "formula"),
        ("gcd(s)", "formula"),
        ("gcd(s; t", "formula"),
        ("s" * 201, "too_big"),
        ("+".join("s" * 90), "too_big"),
        ("__import__('os')", "formula"),
        ("gcd(gcd(gcd(gcd(gcd(gcd(1;2);2);2);2);2);2)", "formula"),
    ],
)
def test_what_is_no_formula_says_why(text: str, code: str) -> None:
    with pytest.raises(Unread) as caught:
        value(text, s=20, t=8)
    assert caught.value.code == code


def test_ranges_lists_rows_words_and_what_follows_are_drawn() -> None:
    found = drawn(
        "s = 20..120 step 10; t in 4, 5, 8; b = -2..2 except 0; who, her in (Ada, her), (Ben, his);"
        "a, c in (3, 5), (5, 13); q = s/t; n = 1..t-1"
    )
    assert {row["s"] for row in found} == set(range(20, 130, 10))
    assert {row["b"] for row in found} == {-2, -1, 1, 2}
    assert {(row["who"], row["her"]) for row in found} == {("Ada", "her"), ("Ben", "his")}
    assert {(row["a"], row["c"]) for row in found} == {(3, 5), (5, 13)}
    assert all(row["q"] == row["s"] / row["t"] and 1 <= row["n"] < row["t"] for row in found)  # type: ignore[operator]


def test_every_value_of_a_range_is_drawn_about_as_often() -> None:
    # 3000 draws of ten values: the chi-square statistic with 9 degrees of freedom is above 27.9 once in a thousand
    # times (Abramowitz & Stegun 1964, table 26.8). The seed is fixed.
    counts: dict[object, int] = {}
    for row in drawn("a = 1..11 except 6", 3000):
        counts[row["a"]] = counts.get(row["a"], 0) + 1
    assert len(counts) == 10
    assert sum((count - 300) ** 2 / 300 for count in counts.values()) < 27.9


def test_german_words_and_signs_are_read_as_the_english() -> None:
    english = drawn("s = 0.5..3 step 0.5; b = -3..3 except 0; where s·b is not whole and b ≠ 2")
    german = drawn("s = 0,5..3 Schritt 0,5\nb = −3..3 ohne 0\nwobei s·b ist nicht ganz und b != 2")
    assert english == german != []


@pytest.mark.parametrize(
    ("condition", "keeps"),
    [
        ("a/4 is whole", [4, 8, 12]),
        ("a is prime", [2, 3, 5, 7, 11]),
        ("a is a square", [1, 4, 9]),
        ("a is odd and a > 5", [7, 9, 11]),
        ("2 < a < 5", [3, 4]),
        ("a ist ungerade und 9 ≤ a", [9, 11]),
        ("a/4 has at most 1 decimal", [2, 4, 6, 8, 10, 12]),
        ("gcd(a; 6) = 1", [1, 5, 7, 11]),
        ("a is not prime and a <= 6", [1, 4, 6]),
        ("a - 2 is negative", [1]),
        ("√a is whole", [1, 4, 9]),
        ("3 - a is positive", [1, 2]),
        ("1/(a - 3) > 0.2", [4, 5, 6, 7]),
        ("a is not 3 and a < 5", [1, 2, 4]),
    ],
)
def test_conditions_in_plain_words_keep_what_they_say(condition: str, keeps: list[int]) -> None:
    found = drawn(f"a = 1..12; where {condition}", 600)
    assert sorted({row["a"] for row in found}) == keeps  # type: ignore[type-var]


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("s", "values_unread"),
        ("s = 1..5; s = 2..3", "name_twice"),
        ("sin = 1..5", "name_taken"),
        ("e = 1..5", "name_taken"),
        ("answer = 1..2", "name_taken"),
        ("t in 4,5,8", "list_comma"),
        ("a, b in (1, 2), 3", "row_brackets"),
        ("a, b in (1, 2, 3)", "row_width"),
        ("a = 1..b", "unknown_name"),
        ("b = 1..2 except x", "list_number"),
        ("a = 1..2; where a is big", "condition"),
        ("who in A{s}", "word_unfit"),
        ("; ".join(f"x{chr(97 + n)} = 1..2" for n in range(17)), "too_many_names"),
        ("a in " + "1, " * 90, "too_many_items"),
        ("who in Ada, Ben; where who = 2", "unknown_name"),
        ("x" * 2001, "too_big"),
        (
            "a = 1..9; where " + " and ".join(["a·a·a·a·a·a·a·a·a·a·a·a·a·a·a·a·a·a·a·a·a·a·a < 9"] * 8),
            "too_big",
        ),
    ],
)
def test_values_that_cannot_be_read_say_why(text: str, code: str) -> None:
    with pytest.raises(Unread) as caught:
        domains.read(text)
    assert caught.value.code == code


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("a = 5..1", "range_empty"),
        ("a = 1..1e9", "range_long"),
        ("a = 1..2 step 0", "range_empty"),
        ("a = 3..3 except 3", "range_empty"),
        ("a = 0..0; b = 1/a", "divided_by_zero"),
    ],
)
def test_ranges_that_hold_nothing_say_why(text: str, code: str) -> None:
    with pytest.raises(Undefined) as caught:
        domains.pick(domains.read(text), random.Random(1))
    assert caught.value.code == code


@pytest.mark.parametrize(
    "stored", [{}, {"a": "x"}, {"a": 3}, {"a": "1/0"}, {"a": "9" * 99}, {"a": "1e999999"}]
)
def test_a_damaged_draw_is_refused_with_what_to_do(stored: dict[str, object]) -> None:
    with pytest.raises(BadDraw, match="Draw the question anew"):
        domains.resolve(domains.read("a = 1..9"), stored)  # type: ignore[arg-type]


@pytest.mark.parametrize("stored", [{"who": "Ada"}, {"who": 2}, {"who": -1}, {"who": True}])
def test_a_word_that_is_not_in_the_list_is_refused(stored: dict[str, object]) -> None:
    with pytest.raises(BadDraw, match="no word for who"):
        domains.resolve(domains.read("who in Ada, Ben"), stored)  # type: ignore[arg-type]


def test_a_condition_without_a_value_does_not_hold() -> None:
    read = conditions.read("1/a > 0", ["a"])
    assert not domains.accepts(domains.Domains(conditions=read), {"a": Fraction(0)})
