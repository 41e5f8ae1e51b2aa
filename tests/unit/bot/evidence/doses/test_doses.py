"""Doses as numbers and words: the lines of a forecast, the change that is offered, what a target takes."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from bot.evidence.doses.numbers import DoseKind, DoseLine, dose_lines, estimate_of, offer_of, target_takes
from bot.evidence.doses.text import doses_text, target_text
from bot.evidence.shared.figures import IntervalEstimate
from bot.teaching.doses import DoseRules
from bot.teaching.offers import DoseOffer
from bot.words import words
from bot.words.offers import dose_label
from scheduler.model.memory import ClassMemory
from scheduler.plan.outcomes import Prospects
from scheduler.values import Dates
from storage.school.rules import rules_of
from storage.tables import SchoolClass

MONDAY = datetime(2026, 9, 7, 18, 0, tzinfo=UTC)


def dose_rules(questions: int, nudges: int, *days: int) -> DoseRules:
    """Return the rules of a class that asks so many questions so many times on some days."""
    usual = rules_of(SchoolClass(name="10B", slug="10b", zone="UTC", created_at=MONDAY))
    return DoseRules(
        replace(usual, questions_per_nudge=questions, nudges_per_day=nudges, school_weekdays=days)
    )


THREE_DAYS = dose_rules(2, 1, 0, 2, 4)
FIVE_DAYS = dose_rules(3, 1, 0, 1, 2, 3, 4)


def known(mean: float) -> IntervalEstimate:
    return IntervalEstimate(mean, mean - 0.1, mean + 0.1)


def lines(rules: DoseRules, **means: float) -> tuple[DoseLine, ...]:
    return dose_lines(rules, {DoseKind(kind): known(mean) for kind, mean in means.items()})


def test_each_dose_says_how_many_questions_on_how_many_days() -> None:
    made = lines(THREE_DAYS, none=0.3, now=0.5, more=0.6, all_days=0.7)
    assert [(line.kind.value, line.questions, line.days) for line in made] == [
        ("none", 0, 0),
        ("now", 2, 3),
        ("more", 3, 3),
        ("all_days", 2, 5),
    ]


@pytest.mark.parametrize(
    ("rules", "means", "offer"),
    [
        (THREE_DAYS, {"now": 0.5, "more": 0.6, "all_days": 0.55}, DoseOffer(2, (0, 1, 2, 3, 4))),
        (FIVE_DAYS, {"now": 0.5, "more": 0.6}, DoseOffer(4)),
        (FIVE_DAYS, {"now": 0.5, "more": 0.51}, None),
        (FIVE_DAYS, {}, None),
    ],
)
def test_one_change_is_offered_where_it_gains_enough(
    rules: DoseRules, means: dict[str, float], offer: DoseOffer | None
) -> None:
    assert offer_of(rules, lines(rules, **means)) == offer


def test_doses_are_written_in_both_languages() -> None:
    made = lines(THREE_DAYS, none=0.3, now=0.5, more=0.6, all_days=0.7)
    english, german = (doses_text(made, words(language)) for language in ("en", "de"))
    assert english is not None
    assert german is not None
    assert "as now (2 questions an evening, 3 a week): about 50\u00a0% (40–60)" in english.plain
    assert "an allen Schultagen (2 Fragen am Abend, 5-mal in der Woche): etwa 70\u00a0%" in german.plain
    assert doses_text(made[:2], words("en")) is None


def test_buttons_say_what_they_change() -> None:
    english, german = words("en"), words("de")
    assert dose_label(DoseOffer(3), english) == "Ask 3"
    assert dose_label(DoseOffer(3, (0, 1, 2, 3, 4)), english) == "Ask 3 on 5 days"
    assert dose_label(DoseOffer(4, None, 75), english) == "Take 75 %, 4 at a time"
    assert dose_label(DoseOffer(3, (0, 1, 2, 3, 4)), german) == "3 an 5 Tagen stellen"


def prospects(exam_in: int = 40) -> Prospects:
    memory = ClassMemory(("ann", "ben"), [f"t{number}" for number in range(6)])
    for topic in memory.topics:
        memory.taught(topic, MONDAY - timedelta(days=3))
    exam = MONDAY + timedelta(days=exam_in)
    evenings = tuple(MONDAY + timedelta(days=day) for day in range(1, exam_in))
    return Prospects(memory, Dates(exams=((exam, memory.topics),), evenings=evenings), MONDAY)


def test_a_target_names_what_the_present_number_leads_to_where_it_is_another() -> None:
    takes = target_takes(prospects(), dose_rules(6, 1, 0, 1, 2, 3, 4), 70)
    assert takes is not None
    assert takes.reached
    assert takes.best.questions < 6
    assert takes.now is not None
    assert takes.now.known.mean > takes.best.known.mean
    assert "With 6, as now: about" in target_text(takes, words("en")).plain
    assert not takes.more


def test_two_nudges_a_day_share_what_a_target_takes() -> None:
    once = target_takes(prospects(), dose_rules(3, 1, 0), 90)
    twice = target_takes(prospects(), dose_rules(3, 2, 0), 90)
    assert once is not None
    assert twice is not None
    assert twice.best.questions == -(-once.best.questions // 2)


def test_without_anything_that_counts_nothing_is_estimated() -> None:
    memory = ClassMemory(("ann",), ["t"])
    nothing = Prospects(memory, Dates(exams=((MONDAY + timedelta(days=9), ("other",)),)), MONDAY)
    assert estimate_of(nothing.of(2)) is None
    assert target_takes(nothing, FIVE_DAYS, 75) is None
