"""Spacing: the planning engine given published recall, and the model's prior against the trade's figures."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from scheduler.model.memory import ClassMemory
from scheduler.plan.allocation import Courses, PairLaw, retention_on

# Cepeda et al. 2008, Psychol Sci 19, 1095-1102: recall (%) after a gap [days] at a delay [days]; read from
# published replots, +-0.4 points
CEPEDA_2008 = {
    7: {0: 88.2, 1: 97.3, 2: 95.0, 7: 93.8, 21: 93.3, 105: 80.6},
    35: {0: 51.7, 1: 68.9, 4: 73.9, 7: 79.9, 11: 81.9, 21: 75.9, 105: 59.1},
    70: {0: 29.1, 1: 42.1, 7: 60.1, 14: 51.3, 21: 61.2, 105: 42.4},
    350: {0: 12.4, 1: 12.5, 7: 14.7, 21: 21.9, 35: 19.9, 70: 20.6, 105: 13.3},
}


def best_gap(delay: int) -> int:
    """Let the planning engine compare a review today after each tested gap, for a test after the delay."""
    surface = CEPEDA_2008[delay]
    gaps = sorted(surface)

    def recall(pairs, state, elapsed):
        return np.array([surface[int(gap)] / 100.0 for gap in state[0]])

    def review(pairs, state, elapsed):
        return np.round(elapsed)[None]

    law = PairLaw(1.0, np.zeros((1, 1)), recall, review)
    courses = Courses(np.zeros(len(gaps), dtype=int), -np.array(gaps, float), np.zeros((len(gaps), 1)))
    expected = retention_on([law], courses, np.array([float(delay)]), np.ones((len(gaps), 1), dtype=bool))
    return gaps[int(expected[:, 0].argmax())]


@pytest.mark.parametrize(("delay", "gap"), [(7, 1), (35, 11), (70, 21), (350, 21)])
def test_planner_given_the_recall_of_cepeda_2008_picks_its_best_gaps(delay, gap):
    assert best_gap(delay) == gap


MONDAY = datetime(2026, 9, 7, 9, 0, tzinfo=UTC)


def after_reviews(count: int) -> tuple[ClassMemory, datetime]:
    """Return a class of one average student before any evidence: homework-free reviews told as new lessons."""
    memory = ClassMemory(["s"], ["t"])
    at = MONDAY
    for gap in (0, 2, 6, 14)[: count + 1]:
        at += timedelta(days=gap)
        memory.taught("t", at)
    return memory, at


@pytest.mark.parametrize(("reviews", "level"), [(0, 0.2), (1, 0.4), (2, 0.6), (3, 0.9)])
def test_prior_interval_contains_the_trades_final_levels(reviews, level):
    # common practice, no source: about 20, 40, 60 and 90 % after 0, 1, 2 and 3 well-spaced reviews
    memory, last = after_reviews(reviews)
    retention = memory.retention(last + timedelta(days=30), level=0.9)
    assert retention.low[0, 0] <= level <= retention.high[0, 0]


@pytest.mark.parametrize("later", [0.5, 1, 3, 7, 14, 30, 60, 120])
def test_prior_retention_is_ordered_by_the_number_of_reviews(later):
    levels = []
    for reviews in range(4):
        memory, last = after_reviews(reviews)
        levels.append(memory.retention(last + timedelta(days=later)).mean[0, 0])
    assert (np.diff(levels) > 0.0).all()
