"""Formulas: the same value in other signs, ambiguous signs, and hostile input."""

import sys
from types import FrameType

import pytest

from bot.grading.formulas import FormulaError, read
from bot.grading.grade import Detail, Outcome, grade
from bot.grading.keys import FormulaKey

EQUAL = [
    ("E = 1/2 m v^2", "0,5mv²"), ("E = 1/2 m v^2", "½mv²"), ("E = 1/2 m v^2", "E=1/2mv^2"),
    ("E = 1/2 m v^2", "m·v·v/2"), ("mgh", "h g m"), ("T = 2π√(l/g)", "2*pi*sqrt(l)/sqrt(g)"),
    ("1", "sin(x)^2+cos(x)^2"), ("sin(x)^2", "sin²x"), ("sin 2x", "2 sin x cos x"), ("ln(a b)", "ln a + ln b"),
    ("(x+1)^2", "x²+2x+1"), ("1/(2x)", "1/2x"), ("x/2", "1/2x"), ("F = m a", "M*A"), ("|x|", "sqrt(x^2)"),
    ("e^-x", "exp(-x)"), ("e^-x", "1/e^x"), ("v_0 t + 1/2 a t²", "v0*t + 0.5at^2"), ("E_kin + E_pot", "Ekin+Epot"),
    ("λ f", "lambda f"), ("ρgh", "rho g h"), ("0", "(x+1)^2-x^2-2x-1"), ("a^(b^c)", "a^b^c"), ("-x^2", "-(x^2)"),
    ("tan x", "sin x / cos x"), ("asin(x)", "sin^-1(x)"), ("log_2(8)", "3"), ("log(x)", "lg x"), ("ln(x)", "log(x)"),
    ("6.67e-11 m M/r^2", "6,67·10^-11·m·M/r²"), ("2/3", "4/6"), ("sinh(x)", "(e^x-e^-x)/2"), ("x:2", "x÷2"),
    ("√2/2", "1/√2"), ("Δv/Δt", "(Delta v)/(Delta t)"), ("x_1+x_2", "x1+x2"),
]  # fmt: skip
UNEQUAL = [
    ("E = 1/2 m v^2", "m v^2"), ("(x+1)^2", "x²+1"), ("|x|", "x"), ("x^2", "-x^2"), ("sin x", "cos x"),
    ("6.67e-11 m M/r^2", "6.674e-11 m M/r^2"), ("1e-20 x", "2e-20 x"), ("m g h", "m g"), ("x", "1/0"),
    ("ln(x)", "lg(x)"), ("√2", "1.41"), ("v/V", "V/v"),
]  # fmt: skip
HOSTILE = [
    "9^9^9^9^9", "(" * 100 + "x" + ")" * 99, "(" * 201, "-" * 199 + "x", "x" + "^x" * 90, "sin " * 45 + "x",
    "√" * 199 + "x", "|" * 199, "__import__('os').system('x')", "x;y", "2..3", "1e99999", "x" * 200, "a/",
    "[" * 60 + "x", "9" * 200, "()", "x==y", "1/0", "{}{}{}", "lambda x: x", "\x00x",
]  # fmt: skip


@pytest.mark.parametrize(("answer", "given"), EQUAL)
def test_a_formula_of_the_same_value_is_right(answer: str, given: str) -> None:
    assert grade(FormulaKey((answer,)), given).outcome is Outcome.RIGHT


@pytest.mark.parametrize(("answer", "given"), UNEQUAL)
def test_a_formula_of_another_value_is_wrong(answer: str, given: str) -> None:
    assert grade(FormulaKey((answer,)), given).outcome is Outcome.WRONG


@pytest.mark.parametrize("given", HOSTILE)
def test_hostile_input_ends_at_once(given: str) -> None:
    """Counted in calls of functions, not in seconds: a busy machine makes no difference."""
    key = FormulaKey(("x^2",))
    calls = 0

    def count(_frame: FrameType, event: str, _argument: object) -> None:
        nonlocal calls
        calls += event in ("call", "c_call")

    sys.setprofile(count)
    try:
        verdict = grade(key, given)
    finally:
        sys.setprofile(None)
    assert not verdict.right
    assert calls < 1_000_000


@pytest.mark.parametrize(
    "given", ["x!", "a=b=c", "(x", "2^", "+", "no idea", "I don't know", "keine Ahnung", "…"]
)
def test_what_is_no_formula_is_unreadable(given: str) -> None:
    assert grade(FormulaKey(("x^2",)), given).outcome is Outcome.UNREADABLE


def test_a_formula_solved_for_another_quantity_is_asked_again() -> None:
    verdict = grade(FormulaKey(("F = m a",)), "a = F/m")
    assert (verdict.outcome, verdict.detail, verdict.read_as) == (
        Outcome.UNREADABLE,
        Detail.OTHER_SUBJECT,
        "F",
    )


def test_the_reason_of_a_refusal_is_a_code_and_the_sign_it_is_about() -> None:
    with pytest.raises(FormulaError, match=r"open \)"):
        read("(x+1")
    with pytest.raises(FormulaError, match="deep"):
        read("(" * 60 + "x" + ")" * 60)
