"""Verdicts on questions in a class of usual size: what chance makes is not said of a question."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.meta_analysis import combine_effects
from statsmodels.stats.multitest import multipletests

from bot.evidence.questions.findings import QuestionFinding, idleness
from bot.evidence.questions.numbers import QuestionTable, question_table
from bot.grading.keys import ChoiceKey, to_dict
from scheduler.statistics.items import Band
from scheduler.statistics.screening import benjamini_hochberg, right_tails, shrink
from storage.history.evidence_rows import (
    AskedRecord,
    ClassRecord,
    ClassRecords,
    QuestionRecord,
    StudentRecord,
    TopicRecord,
)

NOW = datetime(2026, 12, 4, 12, tzinfo=UTC)
STUDENTS, QUESTIONS = 24, 12


def _class(seed: int, *, spread: float, level: float, wrong_key: bool = False) -> QuestionTable:
    """Simulate a class and questions that are all alike: one chance for a student, whatever the question.

    A Rasch model with guessing; each student answers four of five questions; predictions are off by a bias of the
    class and by noise of each pair. With `wrong_key` the first question has a wrong option marked as right.
    """
    rng = np.random.default_rng(seed)
    people = tuple(StudentRecord(n, f"S{n}", "active", True, NOW) for n in range(STUDENTS))
    rows = ClassRecords(
        ClassRecord(1, "10B", "10b", "", "Europe/London", "en"), people, (TopicRecord(1, "Density", NOW),)
    )
    key = to_dict(ChoiceKey("right", ("slip", "odd", "other")))
    questions = [
        QuestionRecord(n, 1, "choice", f"Question {n}?", key, "", 0.25) for n in range(1, QUESTIONS + 1)
    ]
    ability, bias = rng.normal(0.0, spread, STUDENTS), rng.normal(0.0, 0.5)
    asked: list[AskedRecord] = []
    for question in questions:
        for student in range(STUDENTS):
            if rng.random() > 0.8:
                continue
            logit = level + ability[student]
            knows = rng.random() < 0.25 + 0.75 / (1.0 + np.exp(-logit))
            option = 0 if knows else int(rng.integers(1, 4))
            if wrong_key and question.id == 1:
                option = {0: 2, 2: 0}.get(option, option)
            unsure = option != 0 and rng.random() < 0.2
            verdict = "right" if option == 0 else "unsure" if unsure else "wrong"
            asked.append(
                AskedRecord(
                    student, 1, question.id, NOW, verdict=verdict, option=None if unsure else option, chance=0.25,
                    answered_at=NOW + timedelta(seconds=len(asked)), review_id=len(asked) + 1,
                    predicted=float(1.0 / (1.0 + np.exp(-logit - bias - rng.normal(0.0, 0.4)))),
                )
            )  # fmt: skip
    return question_table(rows, questions, asked, NOW)


def _speaks_against(table: QuestionTable) -> bool:
    return any(row.findings or row.band in (Band.POOR, Band.NEGATIVE) for row in table.questions)


@pytest.mark.parametrize(("spread", "level"), [(1.0, 0.8), (0.0, 0.0), (0.7, 2.0)])
def test_f28_identical_questions_get_no_verdict_in_95_of_100_classes(spread: float, level: float) -> None:
    blamed = sum(_speaks_against(_class(seed, spread=spread, level=level)) for seed in range(100))
    assert blamed <= 5


def test_f28_a_wrong_key_is_still_found_in_most_classes_of_24() -> None:
    found = [_class(seed, spread=1.2, level=1.2, wrong_key=True) for seed in range(20)]
    hit = sum(
        bool(
            {QuestionFinding.CHECK_KEY, QuestionFinding.NEGATIVE, QuestionFinding.HARDER}
            & set(table.questions[0].findings)
        )
        for table in found
    )
    assert hit >= 16
    assert sum(bool(row.findings) for table in found for row in table.questions[1:]) <= 6


def test_f28_a_band_is_named_only_where_its_interval_leaves_two_neighbours() -> None:
    order = list(Band)
    for seed in range(10):
        for row in _class(seed, spread=1.0, level=0.8).questions:
            if row.band is not Band.UNKNOWN:
                assert row.discrimination is not None
                assert row.discrimination.low <= row.discrimination.mean <= row.discrimination.high
                assert row.discrimination.width < 0.35
                assert order.index(row.band) <= order.index(Band.MARGINAL)


def test_f28_what_is_known_as_predicted_is_not_too_easy() -> None:
    """A class that knows its topic: 95 % right, and 95 % were predicted."""
    table = _class(3, spread=0.2, level=3.5)
    assert all((row.facility.value or 0.0) > 0.85 for row in table.questions)
    assert not any(row.findings for row in table.questions)


# ---------------------------------------------------------------- against published and other people's code


def test_f28_false_discoveries_are_held_as_in_the_paper_and_in_two_libraries() -> None:
    """The fifteen p-values of Benjamini & Hochberg 1995, section 3.2: four are rejected at .05."""
    printed = [
        0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262, 0.5719, 0.6528,
        0.7590, 1.0000,
    ]  # fmt: skip
    assert benjamini_hochberg(printed).tolist() == [True] * 4 + [False] * 11
    rng = np.random.default_rng(5)
    for _ in range(50):
        p = rng.uniform(size=30) ** 3
        expected = multipletests(p, 0.05, method="fdr_bh")[0]
        assert benjamini_hochberg(p).tolist() == expected.tolist()
        assert benjamini_hochberg(p).tolist() == (stats.false_discovery_control(p) <= 0.05).tolist()
    assert benjamini_hochberg([]).tolist() == []
    with pytest.raises(ValueError, match="between 0 and 1"):
        benjamini_hochberg([0.5, 1.5])


def test_f28_the_spread_between_questions_is_that_of_dersimonian_and_laird() -> None:
    rng = np.random.default_rng(6)
    for _ in range(20):
        values, variances = rng.normal(0.3, 0.4, 8), rng.uniform(0.02, 0.1, 8)
        other = combine_effects(values, variances, method_re="chi2")
        pulled = shrink(values, variances)
        kept = other.tau2 / (variances + other.tau2) if other.tau2 > 0 else np.zeros(8)
        middle = other.mean_effect_re if other.tau2 > 0 else other.mean_effect_fe
        assert pulled.mean == pytest.approx(middle + kept * (values - middle))


def test_f28_one_question_alone_keeps_fishers_interval() -> None:
    rng = np.random.default_rng(3)
    x = rng.normal(size=40)
    y = 0.5 * x + rng.normal(size=40)
    expected = stats.pearsonr(x, y)
    interval = expected.confidence_interval(0.8)
    pulled = shrink([np.arctanh(expected.statistic)], [1.0 / 37.0])
    half = stats.norm.ppf(0.9) * pulled.variance**0.5
    assert np.tanh([*(pulled.mean - half), *(pulled.mean + half)]) == pytest.approx(
        [interval.low, interval.high], abs=1e-9
    )
    assert np.isnan(pulled.others).all()


def test_f28_tails_are_exact() -> None:
    for right in range(13):
        low, high = right_tails(right, [0.7] * 12)
        mass = stats.binom.pmf(right, 12, 0.7)
        assert low == pytest.approx(stats.binom.cdf(right, 12, 0.7) - mass / 2)
        assert high == pytest.approx(stats.binom.sf(right, 12, 0.7) + mass / 2)
    assert idleness(1, 12, 3) == pytest.approx(3 * stats.binom.cdf(1, 12, 1 / 3))
