"""Any text gets one of three verdicts: nothing a student can type raises, hangs or breaks a key."""

import contextlib
import gc
import json
import time
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from bot.grading import formulas, numbers, units
from bot.grading.grade import Outcome, grade
from bot.grading.keys import AnswerKey, BadKey, TextKey, chance_of, from_dict, shown, to_dict
from bot.grading.signs import MAX_CHARS, plain
from bot.grading.upload import KeyRefused, infer_kind, key_from
from storage.files.values import Tolerance
from tests.wording import key_sentence

KEYS: list[AnswerKey] = [
    key_from("choice", "10 cm", wrong_options=["8 cm", "12 cm", "2.5 cm"]),
    key_from("number", "2.7 g/cm³"),
    key_from("number", "20 °C", tolerance=Tolerance(1.0)),
    key_from("number", "75 %"),
    key_from("number", "8"),
    key_from("text", "photosynthesis", wrong_options=["respiration"]),
    key_from("text", ">"),
    key_from("formula", "E = 1/2 m v^2"),
    key_from("formula", "|x| + log(x)"),
    key_from("formula", "2π"),
]
# Texts near the grammars, where parsers break, and any text at all.
PIECES = """
0 1 9 , . ' ٫ ٬ × · * ** ^ ² ⁻¹ ½ / ( ) [ ] { } | √ + - − = _ e E x π m kg m/s °C % Ω μ µ sin log exp ٣ ５
"""
pieces = st.sampled_from([*PIECES.split(), " ", "\u00a0", "\u200f", "\n", "\x00", "😀", "ß", "İ", "ﷺ"])
near = st.lists(pieces, max_size=40).map("".join)
anything = st.text(max_size=260)


@contextmanager
def without_collector() -> Iterator[None]:
    """Keep the garbage collector still: in a process of thousands of tests one round takes half a second."""
    gc.disable()
    try:
        yield
    finally:
        gc.enable()


@pytest.mark.parametrize("key", KEYS, ids=lambda key: f"{key.kind} {shown(key)}")
@given(given_text=near | anything)
@example(given_text="9^9^9^9^9")
@example(given_text="10**10**10 m")
@example(given_text="(" * 200)
@example(given_text="𝟗" * 200)
@example(given_text="ﷺ" * 200)
@example(given_text="1" + " 000" * 49)
@settings(max_examples=120, deadline=None)
def test_any_text_gets_one_of_three_verdicts_in_bounded_time(key: AnswerKey, given_text: str) -> None:
    with without_collector():
        start = time.process_time()
        verdict = grade(key, given_text)
        taken_s = time.process_time() - start
    assert taken_s < 1.0
    assert verdict.outcome in set(Outcome)
    assert verdict.right <= verdict.readable


@given(anything)
@settings(max_examples=300, deadline=None)
def test_the_readers_refuse_or_read_and_never_raise_another_error(text: str) -> None:
    numbers.read(text)
    units.read(text)
    infer_kind(text)
    with contextlib.suppress(formulas.FormulaError):
        formulas.read(text)


@given(near | anything)
@settings(max_examples=300, deadline=None)
def test_plain_signs_stay_plain(text: str) -> None:
    once = plain(text[:MAX_CHARS])
    assert plain(once) == once


@given(
    st.sampled_from(["choice", "number", "text", "formula"]),
    near | st.text(max_size=30),
    st.lists(st.text(max_size=20), max_size=4),
    st.none() | st.builds(Tolerance, st.floats(), st.booleans()),
    st.none() | st.sampled_from(["m", "J/kg K", "qwerty", "", "°C"]),
)
@settings(max_examples=300, deadline=None)
def test_a_key_is_made_or_every_problem_is_named(kind, answer, others, tolerance, unit) -> None:
    try:
        key = key_from(kind, answer, wrong_options=others, tolerance=tolerance, unit=unit)
    except KeyRefused as error:
        refused = error
    else:
        assert from_dict(json.loads(json.dumps(to_dict(key)))) == key
        assert 0 <= chance_of(key) <= 0.5
        assert shown(key)
        return
    assert refused.problems
    assert all(key_sentence(problem).endswith(".") for problem in refused.problems)


@given(near | st.text(min_size=1, max_size=30), st.sampled_from(["number", "text", "formula"]))
@settings(max_examples=300, deadline=None)
def test_the_teachers_own_answer_is_right(answer: str, kind) -> None:
    try:
        key = key_from(kind, answer)
    except KeyRefused:
        return
    # A lone sign is right only where the key is one; everything else that can be a key answers itself.
    assert grade(key, answer).outcome in (
        Outcome.RIGHT,
        Outcome.UNREADABLE if kind == "text" else Outcome.RIGHT,
    )


@given(st.floats(-1e12, 1e12).filter(lambda x: abs(x) > 1e-6 or x == 0), st.integers(3, 12))
@settings(max_examples=200, deadline=None)
def test_a_number_is_right_in_every_spelling(value: float, figures: int) -> None:
    written = f"{value:.{figures}g}"
    key = key_from("number", written)
    mantissa, _, power = written.partition("e")
    spellings = [written, written.replace("-", "−"), written.replace(".", "٫")]
    if power:
        spellings += [f"{mantissa}×10^{int(power)}", f"{mantissa} · 10^({int(power)})"]
    for spelling in spellings:
        assert grade(key, spelling).right, spelling


@given(
    st.dictionaries(
        st.sampled_from(["kind", "right", "wrong", "accepted", "answers", "typos", "tolerance"]),
        st.none()
        | st.text(max_size=8)
        | st.lists(st.none() | st.text(max_size=3), max_size=3)
        | st.sampled_from(["choice", "number", "text", "formula"]),
    )
)
@settings(max_examples=200, deadline=None)
def test_a_damaged_key_is_refused_or_is_a_key(data) -> None:
    try:
        key = from_dict(data)
    except BadKey:
        return
    assert grade(key, "x").outcome in set(Outcome)


def test_a_text_key_is_judged_in_bounded_time_beside_many_wrong_answers() -> None:
    key = TextKey(
        tuple(f"term number {n} of many" for n in range(50)), tuple("wrong" * 10 + str(n) for n in range(50))
    )
    with without_collector():
        start = time.process_time()
        grade(key, "w" * MAX_CHARS)
        taken_s = time.process_time() - start
    assert taken_s < 0.5
