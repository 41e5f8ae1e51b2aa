"""Formulas between dollar signs: found, made readable, drawn, or left as typed."""

import io

import pytest
from PIL import Image

from bot.chat import formulas
from bot.chat.formulas import TextRun, can_draw, picture, pieces, readable, shown, undrawable


@pytest.mark.parametrize(
    ("text", "inside"),
    [
        ("so $x^2$ it is", ["x^2"]),
        ("$a$ and $b$", ["a", "b"]),
        ("$$T = 2\\pi$$", ["T = 2\\pi"]),
        ("from $5 to $6", []),
        ("it costs 5$ or 6$", []),
        ("$ x$ and $x $", []),
        ("$x$5", []),
        ("$a\nb$", []),
        (r"\$x\$ is text, $y$ is not", ["y"]),
        ("$5\\%$", ["5\\%"]),
        ("$" + "x" * 301 + "$", []),
        ("$$", []),
        ("", []),
    ],
)
def test_dollar_signs_enclose_a_formula_only_where_they_hug_it(text: str, inside: list[str]) -> None:
    assert [piece.text for piece in pieces(text) if piece.is_formula] == inside


def test_pieces_keep_the_ordinary_text() -> None:
    assert pieces(r"cost \$5, so $x$.") == (
        TextRun("cost $5, so "),
        TextRun("x", is_formula=True),
        TextRun("."),
    )


@pytest.mark.parametrize(
    ("formula", "line", "faithful"),
    [
        ("E = m c^2", "E = m c²", True),
        (r"v = \frac{s}{t}", "v = s/t", True),
        (r"\frac{\mathrm{km}}{\mathrm{h}}", "km/h", True),
        (r"\frac{1}{2a}", "1/(2a)", False),
        (r"E = \frac{1}{2} m v^2", "E = ½ m v²", True),
        (r"\frac{1}{2}mv^2", "½mv²", True),
        (r"\frac{a}{b}c", "(a/b)c", True),
        (r"\frac{4}{3}\pi r^3", "(4/3)π r³", True),
        (r"2\frac{1}{2}", "2½", True),
        (r"2\frac{3}{7}", "2 3/7", False),
        (r"x\frac{3}{7}", "x(3/7)", True),
        (r"5\,\frac{\mathrm{km}}{\mathrm{h}}", "5 km/h", True),
        (r"\frac{s}{t} + 1", "s/t + 1", True),
        (r"\frac{a+b}{2}", "(a+b)/2", False),
        (r"\frac{(a)+(b)}{c}", "((a)+(b))/c", False),
        (r"T = 2\pi\sqrt{\frac{l}{g}}", "T = 2π√(l/g)", True),
        (r"\sqrt[3]{8}", "∛8", True),
        (r"\sqrt[n]{x}", "(n)√x", False),
        (r"10^{-3}\,\mathrm{m}", "10⁻³ m", True),
        (r"x_{n+1}", "xₙ₊₁", True),
        (r"e^{i\pi}", "e^(iπ)", False),
        (r"R_{\mathrm{Q}}", "R_Q", False),
        (r"\alpha \leq 90^\circ", "α ≤ 90°", True),
        (r"\vec{F} = m\vec{a}", "F⃗ = ma⃗", True),
        (r"\overline{AB}", "overlineAB", False),
        (r"\sum_{i=1}^n i", "∑ᵢ₌₁ⁿ i", False),
        (r"\left(\frac{1}{2}\right)^2", "(1/2)²", True),
        (r"f'(x) - 3", "f′(x) − 3", True),
        (r"\sin x", "sin x", True),
        (r"\unknown x", "unknown x", False),
        ("{x", "x", False),
        ("x}", "x}", False),
        ("x^", "x^", False),
        ("{" * 40 + "x", "…", False),
    ],
)
def test_a_formula_becomes_a_line_that_says_whether_it_is_enough(
    formula: str, line: str, faithful: bool
) -> None:
    assert (readable(formula).text, readable(formula).faithful) == (line, faithful)


def test_only_formulas_that_a_line_cannot_show_are_drawn() -> None:
    seen = shown(r"Is $x^2$ more than $\frac{a+b}{c+d}$?")
    assert seen.text == "Is x² more than (a+b)/(c+d)?"
    assert seen.to_draw == (r"\frac{a+b}{c+d}",)


@pytest.mark.parametrize(
    "formula",
    [
        r"\begin{matrix} a & b \end{matrix}",
        r"\ce{H2O + x}",
        "{" * 140 + "x" + "}" * 140,
        r"\sqrt{" * 40 + "x" + "}" * 40,  # RecursionError in mathtext
        r"x^2^{\frac{a+b}{c}}",
        r"\hspace{99999}x",  # a picture of any width
        r"\frac{水+火}{2+3}",  # no glyphs: would become dummy boxes
        r"\frac{a",
    ],
)
def test_what_cannot_be_drawn_is_shown_as_typed_and_named(formula: str) -> None:
    text = f"What is ${formula}$?"
    assert shown(text).text == text
    assert shown(text).to_draw == ()
    assert undrawable(text) == (formula,)
    assert picture([formula]) is None


def test_a_picture_is_a_png_that_chats_accept() -> None:
    data = picture([r"\frac{a+b}{c+d}", r"\sum_{i=1}^n i^2"])
    assert data is not None
    with Image.open(io.BytesIO(data)) as image:
        assert image.format == "PNG"
        width, height = image.size
    # Telegram, "Sending files": at most 10000 in total, ratio at most 20.
    assert width + height <= 10_000
    assert width <= 20 * height
    assert width >= 600


def test_a_very_long_formula_is_still_no_thread() -> None:
    data = picture(["+".join(f"x_{{{n}}}" for n in range(30))])
    assert data is not None
    with Image.open(io.BytesIO(data)) as image:
        assert image.width <= 20 * image.height


def test_the_picture_shows_the_formula_in_the_middle_with_white_around() -> None:
    data = picture([r"\frac{a+b}{c+d}"])
    assert data is not None
    with Image.open(io.BytesIO(data)) as image:
        grey = image.convert("L").point(lambda value: 255 if value < 128 else 0)
        ink = grey.getbbox()
        width, height = image.size
    assert ink is not None
    left, top, right, bottom = ink
    assert min(left, top, width - right, height - bottom) > 20
    assert abs((left + right) / 2 - width / 2) < 12
    assert abs((top + bottom) / 2 - height / 2) < 24


def test_nothing_to_draw_is_no_picture() -> None:
    assert picture([]) is None


def test_drawing_the_same_again_is_answered_from_memory() -> None:
    first = picture([r"\frac{x+1}{y+1}"])
    assert picture([r"\frac{x+1}{y+1}"]) is first
    assert can_draw(r"\frac{x+1}{y+1}")
    assert formulas._picture.cache_info().hits >= 1
