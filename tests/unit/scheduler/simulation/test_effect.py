"""With and without reviews, beside what is true of simulated classes: one class of each family."""

from __future__ import annotations

import numpy as np
import pytest

from scheduler.simulation.effect import Both, simulate, table
from scheduler.simulation.learners import FAMILIES


@pytest.fixture(scope="module")
def classes() -> list[Both]:
    return simulate(len(FAMILIES), first_seed=4000)


def test_h3_both_lines_are_near_the_truth(classes: list[Both]) -> None:
    """In the mean over the families; 56 classes: scheduler/RESULTS.md."""
    assert abs(np.mean([one.known.error for one in classes])) < 0.04
    assert abs(np.mean([one.without.error for one in classes])) < 0.06


def test_h3_the_intervals_of_most_classes_hold(classes: list[Both]) -> None:
    assert sum(one.known.held for one in classes) >= 5
    assert sum(one.without.held for one in classes) >= 4


def test_h3_reviews_help_in_truth_and_in_prediction(classes: list[Both]) -> None:
    assert all(one.known.truth > one.without.truth for one in classes)
    assert all(one.known.predicted > one.without.predicted for one in classes)


def test_h3_the_table_has_a_line_for_each_family(classes: list[Both]) -> None:
    assert [line.split()[0] for line in table(classes).splitlines()] == ["family", *FAMILIES, "all"]
