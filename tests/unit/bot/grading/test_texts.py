"""Short texts: what counts as the same word, as a slip, and as another word."""

import pytest

from bot.grading.grade import Detail, Outcome, grade
from bot.grading.keys import TextKey

SAME = [
    ("photosynthesis", "Photosynthesis."),
    ("photosynthesis", "photo-synthesis"),
    ("X-ray", "x ray"),
    ("the nucleus", "nucleus"),
    ("nucleus", "The  nucleus "),
    ("Straße", "STRASSE"),
    ("CO2", "CO₂"),
    ("x²", "x^2"),
    (">", ">"),
    ("SO4^2-", "SO₄²⁻"),
]
SLIPS = [
    ("photosynthesis", "photosinthesis"),
    ("potassium", "potasium"),
    ("acceleration", "accelaration"),
    ("nucleus", "uncleus"),
    ("résumé", "resume"),
    ("gravitational potential energy", "gravitational potental energy"),
]
OTHER = [
    ("endothermic", "exothermic"), ("intracellular", "intercellular"), ("reflection", "refraction"),
    ("convection", "conduction"), ("absorption", "adsorption"), ("nitrate", "nitrite"), ("nitrates", "nitrites"),
    ("ethane", "ethene"), ("anode", "cathode"), ("anion", "cation"), ("hypertonic", "hypotonic"),
    ("increase", "decrease"), ("symmetric", "asymmetric"), ("mitosis", "meiosis"), ("chlorine", "chloride"),
    ("maltose", "maltase"), ("homozygous", "heterozygous"), ("not conserved", "now conserved"),
    ("conserved", "not conserved"), ("aerobic", "anaerobic"), ("proton", "photon"), ("neutrons", "neurons"),
    ("mass", "moss"), ("typical", "atypical"), ("methanol", "methanal"), ("1066", "1067"), ("12", "1 2"),
    ("SO4^2-", "SO4^2+"), ("-5 degrees", "5 degrees"), (">", "<"), ("carbon-14", "carbon-12"),
]  # fmt: skip


@pytest.mark.parametrize(("answer", "given"), SAME)
def test_the_same_word_in_another_dress_is_right(answer: str, given: str) -> None:
    verdict = grade(TextKey((answer,)), given)
    assert (verdict.outcome, verdict.detail) == (Outcome.RIGHT, None)


@pytest.mark.parametrize(("answer", "given"), SLIPS)
def test_a_slip_is_right_and_the_spelling_is_shown(answer: str, given: str) -> None:
    verdict = grade(TextKey((answer,)), given)
    assert (verdict.outcome, verdict.detail, verdict.read_as) == (Outcome.RIGHT, Detail.TYPO, answer)


@pytest.mark.parametrize(("answer", "given"), OTHER)
def test_another_word_is_wrong_however_near(answer: str, given: str) -> None:
    assert grade(TextKey((answer,)), given).outcome is Outcome.WRONG
    assert grade(TextKey((given,)), answer).outcome is Outcome.WRONG


def test_a_slip_that_is_as_near_to_a_wrong_answer_is_wrong() -> None:
    key = TextKey(("velocity",), wrong=("vélocité",))
    assert grade(key, "velocite").outcome is Outcome.WRONG
    assert grade(TextKey(("velocity",)), "velocite").outcome is Outcome.RIGHT


def test_a_teacher_may_ask_for_the_exact_spelling() -> None:
    assert grade(TextKey(("potassium",), typos=False), "potasium").outcome is Outcome.WRONG


def test_any_alternative_is_right() -> None:
    key = TextKey(("speed of light", "c"))
    assert grade(key, "C").right
    assert grade(key, "light speed").outcome is Outcome.WRONG


@pytest.mark.parametrize("given", ["", "   ", "?", "😀", "\u200b"])
def test_what_is_no_attempt_is_unreadable(given: str) -> None:
    assert grade(TextKey(("nucleus",)), given).outcome is Outcome.UNREADABLE
