"""Nothing a teacher can write in a template raises, hangs or fills the memory; what is drawn is right.

HOLDFAST_HOSTILE sets how many hostile templates are tried (some hundred by default; the drill takes 10000).
"""

from __future__ import annotations

import json
import math
import operator
import os
import time
import tracemalloc
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from decimal import ROUND_HALF_UP, Decimal, localcontext
from fractions import Fraction
from typing import Any

import pint
import pytest
from hypothesis import HealthCheck, assume, example, given, settings
from hypothesis import strategies as st

from bot.grading import numbers
from bot.grading.drawn import (
    BadDraw,
    Draw,
    Language,
    Template,
    Undefined,
    Wrong,
    check,
    draw,
    error_in,
    exact,
    expressions,
    figures,
    render,
)
from bot.grading.grade import grade
from bot.grading.keys import from_dict, to_dict
from bot.words import words
from bot.words.problems import template_sentence
from storage.files.values import QuestionKind, Tolerance

HOSTILE = int(os.environ.get("HOLDFAST_HOSTILE", "300"))
# Of 1000 hostile templates most are refused in a millisecond; the slowest written for it takes 3 s of processor time
# and 0.4 MB. The bounds leave room for slower machines.
MOST_SECONDS = 20.0
MOST_BYTES = 50_000_000

PIECES = """
{a} {b} {who} {=a/b} {=a^b} {a·}x {a|one|more} {answer} {wrong} {=a/b:0.00} {a:fraction} {=√(a-b)} {z} { } {{a}}
a b c who in from 1..9 = 1..1e9 step except where is whole prime and < > ≤ = ≠ ; , ( ) | ^ / · : - + √ ° π e $ \\frac
sin( ln( gcd( round( lcm( max( 9 0 1e300 1e-300 0.1 99999999 9^9^9^9 a^a^a^a (((((( )))))) ƒa __import__ ½ ² ﷺ 𝟗 😀
"""
pieces = st.sampled_from([*PIECES.split(), "\x00", "\u202e", " ", "\n", "; "])
near = st.lists(pieces, max_size=30).map("".join) | st.lists(pieces, max_size=30).map(" ".join)
anything = near | st.text(max_size=200)
sources = st.sampled_from(
    [
        "a = 1..9; b = 1..9", "a = -5..5; b = 0..9", "a, b in (3, 4), (5, 12); who in Ada, Ben", "a = 1..1e4; b = 1..a",
        "a = 0.1..9.9 step 0.1; b = a^a; where b is whole", "a = 1..9; b = a·a; c = b·b·b; where c is prime",
        "a = 1..999; b = 1..999; where a = b", "a = -1e40..1e40 step 1e37; b = 1..2",
    ]
)  # fmt: skip
formulas = st.sampled_from(
    ["a/b", "a·b", "a - b", "a^b", "√(a - b)", "{a}x + {b}", "gcd(a; b)", "tan(a·b)", "10^a", "{who}"]
)
KINDS: tuple[QuestionKind, ...] = ("choice", "number", "text", "formula")
kinds = st.sampled_from(KINDS)
LANGUAGES: tuple[Language, ...] = ("en", "de")
languages = st.sampled_from(LANGUAGES)
tolerances = (
    st.none() | st.floats(allow_nan=True).map(Tolerance) | st.floats(0, 2).map(lambda x: Tolerance(x, True))
)


TEXTS = [
    "How much are {a} and {b}?",
    "{a·}x + {b}",
    "{=a/b} of {a} {a|apple|apples}",
    "$\\frac{a}{b}$",
    "{=√(a^2 + b^2):0.00}",
]
texts = st.sampled_from([*TEXTS, "{=a^b:fraction}", "{=gcd(a; b)} {(b)}²", "{answer}", "Nothing drawn here."])
EXPRESSIONS = [
    "a/b",
    "a·b",
    "a - b",
    "a + b",
    "a^b",
    "√(a - b)",
    "gcd(a; b)",
    "tan(a·b)",
    "10^a",
    "a/(b - 3)",
    "7",
]
SHOWN = ["{a·}x + {b}", "x^{a}/(x - {b})", "{a}", "yes", "{=a·b}", "sin({a}x)", "“{a}:{b}”"]


@st.composite
def readable(pick: st.DrawFn) -> Template:
    """A template whose parts can all be read, so that its draws, not its spelling, have to be survived."""
    kind = pick(kinds)
    answers = st.sampled_from(
        EXPRESSIONS if kind == "number" else SHOWN if kind != "choice" else EXPRESSIONS + SHOWN
    )
    return Template(
        kind,
        pick(st.sampled_from(TEXTS)),
        pick(sources),
        pick(answers),
        tuple(
            Wrong(pick(answers), pick(st.just("") | texts))
            for _ in range(pick(st.integers(kind == "choice", 4)))
        ),
        unit=pick(st.sampled_from(["", "m/s", "°", "%"])) if kind in ("choice", "number") else "",
        tolerance=pick(st.none() | st.sampled_from([Tolerance(0.0), Tolerance(0.02, relative=True)]))
        if kind == "number"
        else None,
        figures=pick(st.sampled_from(["", "", "0", "0.00", "3", "fraction", "mixed", "power"])),
        steps=tuple(pick(st.lists(texts, max_size=3))),
        language=pick(languages),
    )


@st.composite
def hostile(pick: st.DrawFn) -> Template:
    return Template(
        pick(kinds),
        pick(anything | st.just("How much are {a} and {b}?")),
        pick(sources | anything),
        pick(formulas | anything),
        tuple(Wrong(pick(formulas | anything), pick(anything)) for _ in range(pick(st.integers(0, 4)))),
        tuple(pick(st.lists(formulas | anything, max_size=2))),
        pick(st.sampled_from(["", "m/s", "°", "%", "J/kg K", "qwert"]) | anything),
        pick(tolerances),
        pick(st.sampled_from(["", "0", "0.00", "3", "fraction", "mixed", "power"]) | anything),
        pick(anything),
        tuple(pick(st.lists(anything, max_size=3))),
        pick(languages),
    )


@contextmanager
def bounded() -> Iterator[None]:
    tracemalloc.start()
    start = time.process_time()
    try:
        yield
        assert time.process_time() - start < MOST_SECONDS
        assert tracemalloc.get_traced_memory()[1] < MOST_BYTES
    finally:
        tracemalloc.stop()


def of(kind: QuestionKind, values: str, answer: str, *wrong: str, text: str = "{a}") -> Template:
    return Template(kind, text, values, answer, tuple(Wrong(w) for w in wrong))


@given(hostile() | readable())
@example(of("number", "a = 1..9", "a^a^a^a^a^a^a"))
@example(of("number", "a = 1..9", "9^9^9^9^9^9"))
@example(of("number", "a = 1..9; " + "; ".join(f"x{c} = a^64" for c in "abcdefghijklm"), "a"))
@example(of("number", "a = 1e300..1e301 step 1e300", "a"))
@example(of("number", "a = 1..9999; where " + " and ".join(["a·a·a·a·a·a·a·a·a is prime"] * 8), "a"))
@example(of("number", "a = 0..1 step 1e-300", "a"))
@example(of("number", "a=" + ".." * 900, "a"))
@example(of("number", "a = " + " " * 1900 + "..9", "a"))
@example(of("number", "a = 1..9", "(" * 100 + "a" + ")" * 100))
@example(of("number", "a = 1..9", "gcd(" * 49 + "a"))
@example(of("choice", "a = 1..9; b = 1..9", "a^b", "b^a", "a·b", "a/b", text="{=a^b}" * 60))
@example(of("formula", "a = 1..9; b = 1..9", "x^{a}^{b}^{a}^{b}^{a}", "{a}x", "{b}x"))
@settings(max_examples=HOSTILE, deadline=None, suppress_health_check=list(HealthCheck))
def test_a_hostile_template_gets_problems_or_questions_in_bounded_time_and_memory(template: Template) -> None:
    with bounded():
        checked = check(template)
    for problem in checked.problems:
        for language in LANGUAGES:
            assert template_sentence(problem, words(language))
    for made, asked in checked.examples:
        assert Draw.from_dict(json.loads(json.dumps(made.to_dict()))) == made
        assert from_dict(json.loads(json.dumps(to_dict(asked.key)))) == asked.key
        if not checked.problems:
            assert render(template, made) == asked
            error_in(asked, "42", grade(asked.key, "42"))


@given(
    st.dictionaries(
        st.text(max_size=3), st.text(max_size=30) | st.integers() | st.none() | st.floats(), max_size=4
    )
)
@settings(max_examples=200, deadline=None)
def test_a_damaged_draw_is_refused_and_nothing_else(values: dict[str, object]) -> None:
    template = Template("number", "{a} {who}", "a = 1..9; who in Ada, Ben", "1/a")
    try:
        render(template, Draw.from_dict({"seed": "", "values": values}))
    except (BadDraw, Undefined):
        pass
    else:
        assert {"a", "who"} <= set(values)


# --- a second way of computing ------------------------------------------------------------------------------


@st.composite
def reckoned(pick: st.DrawFn, depth: int = 4) -> tuple[str, Any]:
    """A formula as a teacher writes it, and what Python makes of it: a Fraction, a float, or None for no value."""
    if depth == 0 or pick(st.booleans()):
        number = Fraction(pick(st.integers(-40, 40)), pick(st.sampled_from([1, 1, 1, 2, 4, 5, 10])))
        return (f"({float(number)!r})" if number < 0 else f"{float(number)!r}"), number
    kind = pick(st.sampled_from(["+", "-", "·", "/", "^", "√", "sin", "abs", "max"]))
    left, a = pick(reckoned(depth=depth - 1))
    if kind in ("√", "sin", "abs"):
        alone: dict[str, Callable[..., Any]] = {"√": math.sqrt, "sin": math.sin, "abs": abs}
        return f"{kind}({left})", by_python(alone[kind], a)
    if kind == "^":
        power = pick(st.integers(-4, 4))
        return f"({left})^({power})", None if a == 0 and power <= 0 else by_python(operator.pow, a, power)
    right, b = pick(reckoned(depth=depth - 1))
    if kind == "max":
        return f"max({left}; {right})", by_python(max, a, b)
    action = {"+": operator.add, "-": operator.sub, "·": operator.mul, "/": operator.truediv}[kind]
    return f"({left} {kind} {right})", by_python(action, a, b)


def by_python(action: Callable[..., Any], *parts: Any) -> Any:
    if None in parts:
        return None
    try:
        return action(*parts)
    except (ZeroDivisionError, ValueError, OverflowError):
        return None


def by_us(text: str) -> exact.Value | None:
    try:
        return expressions.evaluate(expressions.read(text), {})
    except Undefined:
        return None


@given(reckoned())
@settings(max_examples=400, deadline=None)
def test_formulas_have_the_value_that_python_gives_them(pair: tuple[str, Any]) -> None:
    text, expected = pair
    assume(len(text) <= expressions.MAX_CHARS)
    # Near zero a float's rounding error decides whether a root or quotient has a value: nothing to compare.
    assume(expected is None or not isinstance(expected, float) or 1e-9 < abs(expected) < 1e12)
    found = by_us(text)
    if expected is None or abs(expected) > exact.LARGEST:
        # Exact zeros that floats miss (sin of whole numbers has none): no value for us either.
        assert found is None or isinstance(found, float)
    else:
        assert found is not None
        assert float(found) == pytest.approx(float(expected), rel=1e-6)


@given(st.fractions(-(10**6), 10**6, max_denominator=10**4), st.integers(0, 6))
@settings(max_examples=300, deadline=None)
def test_rounding_agrees_with_the_decimal_module(value: Fraction, places: int) -> None:
    with localcontext() as context:
        context.prec = 60
        quotient = Decimal(value.numerator) / Decimal(value.denominator)
        written = quotient.quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)
    assert exact.round_half_up(value, places) == Fraction(written)


@given(
    st.fractions(-(10**9), 10**9, max_denominator=10**4),
    st.sampled_from(["", "0", "0.00", "1", "3", "power", "fraction", "mixed"]),
    languages,
)
@settings(max_examples=400, deadline=None)
def test_a_written_number_is_read_back_as_what_it_says(
    value: Fraction, wish: str, language: Language
) -> None:
    read = figures.read_wish(wish)
    assert read is not None
    assume(wish not in ("fraction", "mixed") or abs(value.numerator) < figures.MAX_NUMERATOR)
    figure = figures.write(value, read, language)
    back = numbers.read(figure.signed)
    assert back is not None
    assert not back.rest
    assert any(numeral.value == pytest.approx(float(figure.value), rel=1e-12) for numeral in back.readings)


REGISTRY: Any = pint.UnitRegistry(cache_folder=None)
# Our spelling and pint's own.
PAIRS = [
    ("m/s", "meter / second", "km/h", "kilometer / hour"), ("g/cm³", "gram / centimeter ** 3", "kg/m³", "kg / m ** 3"),
    ("kWh", "kilowatt_hour", "J", "joule"), ("min", "minute", "s", "second"), ("cm²", "cm ** 2", "m²", "m ** 2"),
    ("hPa", "hectopascal", "Pa", "pascal"), ("L", "liter", "cm³", "cm ** 3"), ("N", "newton", "kN", "kilonewton"),
]  # fmt: skip


@given(st.sampled_from(PAIRS), st.integers(1, 400), st.integers(0, 10**6))
@settings(max_examples=150, deadline=None)
def test_the_answer_in_another_unit_is_right_as_pint_converts_it(
    pair: tuple[str, str, str, str], most: int, seed: int
) -> None:
    first, first_name, second, second_name = pair
    template = Template("number", "{a} and {b}", f"a = 1..{most}; b = 1..9", "a·b/4", unit=first)
    made = draw(template, seed)
    asked = render(template, made)
    right = REGISTRY.Quantity(int(made.values["a"]) * int(made.values["b"]) / 4, first_name)
    there = right.to(second_name).magnitude
    assert grade(asked.key, f"{there:.9g} {second}").right
    assert not grade(asked.key, f"{there * 1.2:.9g} {second}").right


@given(st.integers(), languages)
@settings(max_examples=100, deadline=None)
def test_whoever_answers_as_shown_is_right_and_a_typical_error_is_recognised(
    seed: int, language: Language
) -> None:
    template = Template(
        "number",
        "{s} m in {t} s?",
        "s = 20..990 step 10; t = 2..30; where s/t ≠ s·t and s ≠ t",
        "s/t",
        (Wrong("s·t", "product"), Wrong("t/s", "upside down")),
        unit="m/s",
    )
    asked = render(template, draw(template, seed), language)
    assert grade(asked.key, asked.answer).right
    for wrong in asked.wrong:
        assert error_in(asked, wrong.shown, grade(asked.key, wrong.shown)) == wrong
