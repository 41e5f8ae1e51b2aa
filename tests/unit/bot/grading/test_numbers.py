"""Numbers as people write them: which readings they have, and which are none."""

import pytest

from bot.grading.numbers import read, shown

READ = {
    "3/4": [0.75],
    "1 3/4": [1.75],
    "1¾": [1.75],
    "½": [0.5],
    "3×10^8": [3e8],
    "3x10^8": [3e8],
    "3e8": [3e8],
    "3E+8": [3e8],
    "3·10⁸": [3e8],
    "3 * 10**8": [3e8],
    "3×10^{-8}": [3e-8],
    "10⁻³": [1e-3],
    "2,7": [2.7],
    "2·7": [2.7],
    ".5": [0.5],
    ",5": [0.5],
    "5.": [5.0],
    "−5": [-5.0],
    "– 5": [-5.0],
    "+5": [5.0],
    "٣٫٥": [3.5],
    "१२": [12.0],
    "５": [5.0],
    "𝟗": [9.0],
    "\u200f12": [12.0],
    "1 234,5": [1234.5],
    "1'234.5": [1234.5],
    "1.234,56": [1234.56],
    "1,234,567": [1234567.0],
    "12,34,567": [1234567.0],
    "١٬٢٣٤": [1234.0],
    "1,234": [1.234, 1234.0],
    "1.234": [1.234, 1234.0],
    "0,123": [0.123],
    "1234,567": [1234.567],
    "x = 5": [5.0],
    "density = 2.7": [2.7],
    "F_N = 2.7": [2.7],
    "I think it's about 5": [5.0],
    "approx. −5": [-5.0],
    "Answer: 3/4": [0.75],
    "≈ 5": [5.0],
    "$5": [5.0],
}
NOT_READ = [
    "not 5",
    "less than 5",
    "",
    "about two and a bit",
    "five",
    "--5",
    "1,2,3",
    "9" * 50,
    "1e999",
    "x",
    "=",
    "1.2.3.4",
    "^8",
    "-",
]
REST = {
    "5²": "^2",
    "12 34": "34",
    "5-3": "-3",
    "1_000": "_000",
    "1/0": "/0",
    "60 km/h": "km/h",
    "5 1/s": "1/s",
    "3eV": "eV",
}


@pytest.mark.parametrize(("text", "values"), READ.items())
def test_a_number_is_read_in_every_honest_way(text: str, values: list[float]) -> None:
    written = read(text)
    assert written is not None
    assert [numeral.value for numeral in written.readings] == pytest.approx(values, rel=1e-15)
    assert written.rest == ""


@pytest.mark.parametrize("text", NOT_READ)
def test_what_is_no_number_is_not_read(text: str) -> None:
    assert read(text) is None


@pytest.mark.parametrize(("text", "rest"), REST.items())
def test_what_follows_a_number_is_left_for_the_unit(text: str, rest: str) -> None:
    written = read(text)
    assert written is not None
    assert written.rest == rest


@pytest.mark.parametrize(
    ("text", "figures", "place"),
    [("2.70", 3, -2), ("0.05", 1, -2), ("3.0e8", 2, 7), ("120", 3, 0), ("1/3", None, None)],
)
def test_the_figures_written_are_counted(text: str, figures: int | None, place: int | None) -> None:
    written = read(text)
    assert written is not None
    assert (written.readings[0].figures, written.readings[0].place) == (figures, place)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (2.7, "2.7"),
        (-40.0, "−40"),
        (0.0, "0"),
        (-0.0, "0"),
        (3e8, "3×10⁸"),
        (1.602e-19, "1.602×10⁻¹⁹"),
        (123456.0, "123456"),
        (1e6, "1×10⁶"),
    ],
)
def test_a_number_is_shown_for_people(value: float, text: str) -> None:
    assert shown(value) == text
