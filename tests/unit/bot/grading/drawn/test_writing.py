"""Numbers, signs, plurals and cases in a drawn text, in English and German."""

import math
from fractions import Fraction

import pytest

from bot.grading.drawn import domains, placeholders
from bot.grading.drawn.errors import Undefined, Unread
from bot.grading.drawn.figures import PLAIN, Language, Wish, is_sensible, read_wish, write

KNOWN = domains.read("a = 1..9; b = -9..9; n = 1..9; q = 1..2; who, her in (ada, her), (ben, his)")


def filled(text: str, language: Language, **values: object) -> str:
    given = {
        k: v if isinstance(v, str) else Fraction(v)  # type: ignore[call-overload]
        for k, v in values.items()
    }
    return placeholders.fill(placeholders.read(text, KNOWN), given, language)


@pytest.mark.parametrize(
    ("value", "wish", "english", "german"),
    [
        (Fraction(20), "", "20", "20"),
        (Fraction(5, 2), "", "2.5", "2,5"),
        (Fraction(20, 3), "", "6.67", "6,67"),
        (Fraction(-1, 30), "", "−0.0333", "−0,0333"),
        (Fraction(37037, 30), "", "1234.6", "1234,6"),
        (Fraction(123456, 10**9), "", "0.000123", "0,000123"),
        (Fraction(1, 10**6), "", "1×10⁻⁶", "1·10⁻⁶"),
        (Fraction(300_000_000), "", "3×10⁸", "3·10⁸"),
        (0.1 + 0.2, "", "0.3", "0,3"),
        (math.pi, "", "3.14", "3,14"),
        (Fraction(20, 3), "0", "7", "7"),
        (Fraction(5, 2), "0", "3", "3"),
        (Fraction(-5, 2), "0", "−3", "−3"),
        (Fraction(5), "0.00", "5.00", "5,00"),
        (Fraction(1, 8), "0,00", "0.13", "0,13"),
        (Fraction(-1, 999), "0.0", "0.0", "0,0"),
        (Fraction(20, 3), "2", "6.7", "6,7"),
        (Fraction(12345, 10), "2", "1200", "1200"),
        (Fraction(999), "2", "1000", "1000"),
        (Fraction(7, 4), "fraction", "7/4", "7/4"),
        (Fraction(-7, 4), "mixed", "−1 3/4", "−1 3/4"),
        (Fraction(6, 2), "Bruch", "3", "3"),
        (0.75, "fraction", "3/4", "3/4"),
        (Fraction(1, 4), "gemischt", "1/4", "1/4"),
        (Fraction(32, 10**5), "power", "3.2×10⁻⁴", "3,2·10⁻⁴"),
        (Fraction(0), "", "0", "0"),
    ],
)
def test_numbers_are_written_as_wished_and_with_the_sign_of_the_language(
    value: Fraction | float, wish: str, english: str, german: str
) -> None:
    read = read_wish(wish)
    assert read is not None
    assert (write(value, read, "en").signed, write(value, read, "de").signed) == (english, german)


def test_a_rounded_number_says_so_and_keeps_what_it_says() -> None:
    figure = write(Fraction(20, 3), PLAIN, "en")
    assert (figure.rounded, figure.value, figure.figures, figure.place) == (True, Fraction(667, 100), 3, -2)
    assert not write(Fraction(5, 2), PLAIN, "en").rounded


def test_a_number_that_is_no_school_fraction_is_not_written_as_one() -> None:
    with pytest.raises(Undefined, match="no_fraction"):
        write(math.pi, Wish("fraction"), "en")


@pytest.mark.parametrize(
    ("value", "fits"), [(Fraction(1_234_567), True), (Fraction(0.000123), True), (Fraction(1, 7), True)]
)
def test_few_figures_are_sensible(value: Fraction, fits: bool) -> None:
    assert is_sensible(write(value, PLAIN, "en"), 7) is fits


def test_many_figures_are_not_sensible() -> None:
    assert not is_sensible(write(Fraction(123_456_789), Wish("decimals", 0), "en"), 7)
    assert not is_sensible(write(Fraction(1234, 7), Wish("decimals", 6), "en"), 7)


@pytest.mark.parametrize(
    ("text", "values", "shown"),
    [
        # signs between terms
        ("x + {b}", {"b": -3}, "x − 3"),
        ("x + {b}", {"b": 3}, "x + 3"),
        ("x - {b}", {"b": -3}, "x + 3"),
        ("x − {b}", {"b": -3}, "x + 3"),
        ("x+{b}", {"b": -3}, "x−3"),
        ("{a}x² + {b}", {"a": 2, "b": -3}, "2x² − 3"),
        ("(x + 1) + {b}", {"b": -3}, "(x + 1) − 3"),
        ("{a} + {b}", {"a": 2, "b": -3}, "2 − 3"),
        # signs that belong to one number
        ("{b} °C", {"b": -3}, "−3 °C"),
        ("y = {b}", {"b": -3}, "y = −3"),
        ("2 · {b}", {"b": -3}, "2 · (−3)"),
        ("6 : {b}", {"b": -3}, "6 : (−3)"),
        ("Temperature: {b} °C", {"b": -3}, "Temperature: −3 °C"),
        ("{b}²", {"b": -3}, "(−3)²"),
        ("{b}^2", {"b": -3}, "(−3)^2"),
        ("({b})", {"b": -3}, "(−3)"),
        ("5 − {(b)}", {"b": -3}, "5 − (−3)"),
        ("5 − {(b)}", {"b": 3}, "5 − 3"),
        ("5 − {(=a+b)}", {"a": 1, "b": -3}, "5 − (−2)"),
        ("of -{b}", {"b": -3}, "of -(−3)"),
        ("P({a}|{b})", {"a": 1, "b": -3}, "P(1|−3)"),
        # factors
        ("{a·}x", {"a": 1}, "x"),
        ("{=a+b·}x", {"a": 2, "b": -3}, "−x"),
        ("x² + {=a+b·}x", {"a": 2, "b": -3}, "x² − x"),
        ("{b·}x", {"b": -1}, "−x"),
        ("{b*}x", {"b": -2}, "−2x"),
        ("y + {b·}x", {"b": -1}, "y − x"),
        ("5 · {b·}x", {"b": -1}, "5 · (−1)x"),
        ("{a·}(x + 1)", {"a": 1}, "(x + 1)"),
        # powers
        ("3^{n}", {"n": 4}, "3⁴"),
        ("10^{b}", {"b": -3}, "10⁻³"),
        ("{a}^{n}", {"a": 2, "n": 5}, "2⁵"),
        # computed
        ("{a} : {n} = {=a/n}", {"a": 1, "n": 3}, "1 : 3 ≈ 0.333"),
        ("{a} : {n} = {=a/n}", {"a": 1, "n": 4}, "1 : 4 = 0.25"),
        ("{=a/n:fraction}", {"a": 2, "n": 6}, "1/3"),
        ("{=a:n}", {"a": 1, "n": 4}, "0.25"),
        ("{=a/n:0.0}", {"a": 1, "n": 3}, "0.3"),
        ("x + {=a/n:fraction}", {"a": -2, "n": 6}, "x − 1/3"),
        ("({a}/{n})x", {"a": 1, "n": 3}, "(1/3)x"),
        ("{a}", {"a": Fraction(1, 3)}, "1/3"),
        ("{a·}x", {"a": Fraction(1, 3)}, "(1/3)x"),
        ("{a}²", {"a": Fraction(1, 3)}, "(1/3)²"),
        # words
        ("{n} {n|apple|apples}", {"n": 1}, "1 apple"),
        ("{n} {n|apple|apples}", {"n": 2}, "2 apples"),
        ("{Who} lost {her} key", {"who": "ada", "her": "her"}, "Ada lost her key"),
        # TeX keeps its braces
        (r"$\frac{a}{n}$", {"a": 1, "n": 3}, r"$\frac{1}{3}$"),
        (r"$\frac{{a}}{{n}}$", {"a": 1, "n": 3}, r"$\frac{1}{3}$"),
        (r"$x^{n} + {b}$", {"n": 3, "b": -2}, r"$x^{3} - 2$"),
        (r"$\sqrt{x+1}$ and {a}", {"a": 4}, r"$\sqrt{x+1}$ and 4"),
        (r"$x = {a}$", {"a": Fraction(1, 3)}, r"$x = \frac{1}{3}$"),
        (r"$x_{b}$", {"b": -2}, r"$x_{-2}$"),
        (r"costs \$5, {a}", {"a": 4}, r"costs \$5, 4"),
    ],
)
def test_a_text_reads_as_a_teacher_would_write_it(text: str, values: dict[str, object], shown: str) -> None:
    assert filled(text, "en", **values) == shown


def test_german_texts_have_a_decimal_comma_also_in_tex() -> None:
    assert filled("{=a/n} m und ${=a/n}$", "de", a=5, n=2) == "2,5 m und $2{,}5$"


@pytest.mark.parametrize(
    "text", ["{z}", "{a", "a}", "{a|x}", "{who|x|y}", "{=z}", "{a:0.0x}", "{}", "{ }", "{a b}"]
)
def test_loose_or_unknown_braces_are_refused(text: str) -> None:
    with pytest.raises(Unread) as caught:
        placeholders.read(text, KNOWN)
    assert caught.value.code in ("placeholder", "unknown_name")


def test_texts_have_bounds() -> None:
    with pytest.raises(Unread, match="text_long"):
        placeholders.read("x" * 1501, KNOWN)
    with pytest.raises(Unread, match="too_many_places"):
        placeholders.read("{a}" * 100, KNOWN)
