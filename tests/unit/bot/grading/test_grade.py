"""Choices, numbers with units and tolerances: the verdict and what it tells the conversation."""

import pytest

from bot.grading.grade import Detail, Outcome, grade, grade_option
from bot.grading.keys import ChoiceKey
from bot.grading.upload import key_from
from storage.files.values import Tolerance

SPRING = ChoiceKey("10 cm", ("8 cm", "12 cm", "2.5 cm"))
# Shown: A 8 cm, B 10 cm, C 12 cm, D 2.5 cm
ORDER = (1, 0, 2, 3)


@pytest.mark.parametrize("given", ["b", "B", "B)", "(b)", "b.", "10 cm", "10cm", "option b", "Ｂ"])
def test_an_option_is_chosen_by_letter_or_text(given: str) -> None:
    verdict = grade(SPRING, given, order=ORDER)
    assert (verdict.outcome, verdict.option) == (Outcome.RIGHT, 0)


def test_a_wrong_option_is_wrong_and_named() -> None:
    verdict = grade(SPRING, "a", order=ORDER)
    assert (verdict.outcome, verdict.option, verdict.read_as) == (Outcome.WRONG, 1, "8 cm")


@pytest.mark.parametrize("given", ["e", "5", "10", "maybe b", "AB"])
def test_what_is_no_option_is_unreadable(given: str) -> None:
    assert grade(SPRING, given, order=ORDER).detail is Detail.NOT_AN_OPTION


@pytest.mark.parametrize("given", ["1", "2", "2)", "(2)", "option 2", "2️⃣", "②", "４"])
def test_f14_a_digit_is_no_place_among_lettered_options(given: str) -> None:
    assert grade(SPRING, given, order=ORDER).detail is Detail.NOT_AN_OPTION


def test_a_letter_that_means_two_options_is_asked_again() -> None:
    blood = ChoiceKey("AB", ("A", "B", "0"))
    assert grade(blood, "B", order=(2, 1, 0, 3)).detail is Detail.AMBIGUOUS_OPTION
    assert grade(blood, "AB", order=(2, 1, 0, 3)).right


def test_a_number_among_options_means_its_text() -> None:
    assert grade(ChoiceKey("2", ("1", "4", "3")), "2", order=(1, 3, 0, 2)).right


def test_options_that_differ_in_a_sign_differ() -> None:
    key = ChoiceKey("-5 °C", ("5 °C",))
    assert grade(key, "−5 °C").right
    assert not grade(key, "5 °C").right


def test_a_button_that_is_not_ours_is_refused() -> None:
    with pytest.raises(IndexError):
        grade_option(SPRING, 4)


DENSITY = key_from("number", "2.7", unit="g/cm³")


@pytest.mark.parametrize(
    "given", ["2,7 g/cm3", "2.70 g/cm³", "2700 kg/m³", "2.7e3 kg m^-3", "ρ = 2.7 g/cm³", "2.72 g/cm³"]
)
def test_a_number_with_its_unit_is_right(given: str) -> None:
    assert grade(DENSITY, given).outcome is Outcome.RIGHT


@pytest.mark.parametrize(
    ("given", "outcome", "detail", "read_as"),
    [
        ("27 g/cm3", Outcome.WRONG, None, "27 g/cm³"),
        ("2.7 g", Outcome.WRONG, Detail.WRONG_DIMENSION, "2.7 g"),
        ("27", Outcome.WRONG, None, "27"),
        ("2.7 blobs", Outcome.UNREADABLE, Detail.UNKNOWN_UNIT, "blobs"),
        ("about two and a bit", Outcome.UNREADABLE, Detail.NOT_A_NUMBER, ""),
        ("", Outcome.UNREADABLE, Detail.EMPTY, ""),
        ("2" * 201, Outcome.UNREADABLE, Detail.TOO_LONG, ""),
    ],
)
def test_other_answers_say_what_was_read(
    given: str, outcome: Outcome, detail: Detail | None, read_as: str
) -> None:
    verdict = grade(DENSITY, given)
    assert (verdict.outcome, verdict.detail, verdict.read_as) == (outcome, detail, read_as)


@pytest.mark.parametrize("given", ["2.7", "2700"])
def test_a_right_number_without_unit_offers_units(given: str) -> None:
    verdict = grade(DENSITY, given)
    assert (verdict.detail, verdict.units) == (Detail.UNIT_MISSING, ("kg/m³", "g/cm³"))
    answers = [grade(DENSITY, f"{verdict.number} {unit}").right for unit in verdict.units]
    assert sum(answers) == 1


def test_a_negative_number_can_be_completed_by_a_unit() -> None:
    key = key_from("number", "-20 °C")
    verdict = grade(key, "-20")
    assert verdict.detail is Detail.UNIT_MISSING
    assert grade(key, f"{verdict.number} °C").right


# answer, tolerance, given, right
TOLERANCES = [
    ("2.7", None, "2.65", True), ("2.7", None, "2.64", False), ("2.70", None, "2.71", False),
    ("8", None, "8.4", False),
    ("8", None, "8.0", True), ("0.5", None, "0.52", True), ("0.5", None, "0.55", False), ("1/3", None, "0.333", True),
    ("1/3", None, "0.33", True),
    ("3.14159", None, "3.1", False), ("1/3", None, "2/6", True), ("3e8", None, "2.998e8", True),
    ("120", None, "100", False),
    
    ("9.81", None, "9.8", True), ("120", None, "1.2e2", True),
    ("8", None, "8.04", False), ("0", None, "0.0", True), ("0", None, "0.001", False),
    ("10", Tolerance(0.5), "10.5", True), ("10", Tolerance(0.5), "10.51", False),
    ("10", Tolerance(0.05, True), "9.5", True),
    ("10", Tolerance(0.05, True), "9.4", False), ("-10", Tolerance(0.05, True), "-9.6", True),
    ("10", Tolerance(0), "10", True),
    ("10", Tolerance(0), "10.0001", False),
]  # fmt: skip


@pytest.mark.parametrize(("answer", "tolerance", "given", "right"), TOLERANCES)
def test_how_far_a_number_may_be_off(
    answer: str, tolerance: Tolerance | None, given: str, right: bool
) -> None:
    assert grade(key_from("number", answer, tolerance=tolerance), given).right is right


def test_two_figures_of_a_conversion_are_enough_and_one_is_not() -> None:
    key = key_from("number", "100 km/h")
    assert grade(key, "27.8 m/s").right
    assert grade(key, "28 m/s").right
    assert not grade(key, "27 m/s").right
    assert not grade(key, "3e1 m/s").right


def test_a_tolerance_is_in_the_unit_of_the_key() -> None:
    key = key_from("number", "20 °C", tolerance=Tolerance(1))
    assert grade(key, "294 K").right
    assert not grade(key, "295 K").right


def test_both_readings_of_a_thousands_sign_are_tried() -> None:
    assert grade(key_from("number", "1234"), "1,234").right
    assert grade(key_from("number", "1.234"), "1,234").right


@pytest.mark.parametrize("given", ["75 %", "75%", "0.75", "75", "3/4", "75 percent"])
def test_a_percentage_is_right_as_percent_and_as_share(given: str) -> None:
    assert grade(key_from("number", "75 %"), given).right


@pytest.mark.parametrize("given", ["75 %", "0.75", "3/4"])
def test_a_share_is_right_as_percent(given: str) -> None:
    assert grade(key_from("number", "0.75"), given).right


def test_a_unit_that_was_not_asked_for_does_no_harm() -> None:
    verdict = grade(key_from("number", "30"), "30°")
    assert (verdict.outcome, verdict.detail) == (Outcome.RIGHT, Detail.UNIT_NOT_ASKED)


def test_an_alternative_amount_is_right() -> None:
    # A difference of temperatures: 5 K is 5 °C there, which no conversion can know.
    key = key_from("number", "5 K", alternatives=["5 °C"])
    assert grade(key, "5 °C").right
    assert not grade(key_from("number", "5 K"), "5 °C").right
