"""What retention is worth at the moments ahead, and against what the term's average is weighed."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from scheduler.plan.outlook import EARLY_DAYS, LONG_RUN_DAYS, TERM_WEIGHT, USUAL_TESTS, Outlook, outlook
from scheduler.simulation import Term, example_term

START = datetime(2026, 9, 7, 18, tzinfo=UTC)
LATER = START + timedelta(days=EARLY_DAYS + 10)


def ahead(term: Term, now: datetime = LATER, term_weight: float | None = None) -> Outlook:
    return outlook(term.topics, np.zeros((2, len(term.topics))), term.dates, now, term_weight)


def without_tests() -> Term:
    return Term(example_term().dates.lessons, [], [])


def test_in_a_term_with_the_usual_tests_the_average_has_its_own_weight():
    chosen, named = (ahead(example_term(), term_weight=weight).weight for weight in (None, TERM_WEIGHT))
    np.testing.assert_array_equal(chosen, named)


def test_more_tests_than_usual_do_not_make_the_average_weigh_more():
    usual = example_term()
    twice = Term(usual.dates.lessons, [*usual.dates.quizzes, *usual.dates.quizzes], usual.dates.exams)
    np.testing.assert_array_equal(ahead(twice).weight, ahead(twice, term_weight=TERM_WEIGHT).weight)


@pytest.mark.parametrize("now", [LATER, LATER + timedelta(days=100)])
def test_the_average_weighs_as_much_beside_an_exam_alone_as_beside_the_usual_tests(now):
    term = example_term(quizzes=False)
    np.testing.assert_allclose(
        ahead(term, now).weight, ahead(term, now, term_weight=TERM_WEIGHT / USUAL_TESTS).weight
    )


def test_tests_that_are_past_count_among_those_of_the_term():
    term, after_two = example_term(), START + timedelta(days=60)
    np.testing.assert_array_equal(
        ahead(term, after_two).weight, ahead(term, after_two, term_weight=TERM_WEIGHT).weight
    )


def test_without_any_test_the_long_run_is_the_exam():
    found = ahead(without_tests(), START + timedelta(days=200))  # no evening of the term is left
    np.testing.assert_allclose(found.dates, LONG_RUN_DAYS)
    assert found.weight.sum() == pytest.approx(1.0)
    beside_an_exam = ahead(example_term(quizzes=False), START + timedelta(days=200))
    assert beside_an_exam.weight.sum() < found.weight.sum()
