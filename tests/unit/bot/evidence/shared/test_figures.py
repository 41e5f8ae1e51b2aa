"""Shares, pooled shares, changes and standings."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from bot.evidence.shared.figures import (
    IntervalEstimate,
    Standing,
    mean_estimate,
    paired_change,
    pooled_share,
    rank_sum_z,
    share,
    standing,
)
from scheduler.model.means import Alike


def test_a_share_of_nothing_is_the_whole_range() -> None:
    nothing = share(0, 0)
    assert (nothing.low, nothing.high, nothing.value, nothing.estimate) == (0.0, 1.0, None, None)


def test_three_answers_give_no_percentage() -> None:
    assert share(2, 3).estimate is None
    assert share(4, 5).estimate is not None


@pytest.mark.parametrize(("count", "of"), [(-1, 3), (4, 3)])
def test_impossible_counts_are_refused(count: int, of: int) -> None:
    with pytest.raises(ValueError, match="A share needs 0 <= count <= of"):
        share(count, of)


def test_answers_that_differ_by_student_count_for_less() -> None:
    alike, mixed = pooled_share([5, 5, 0, 0], [5, 5, 5, 5]), pooled_share([3, 2, 3, 2], [5, 5, 5, 5])
    assert alike.count == mixed.count == 10
    assert alike.high - alike.low > mixed.high - mixed.low


def test_a_pooled_share_of_one_student_is_a_plain_share() -> None:
    assert pooled_share([7], [10]) == share(7, 10)


def test_a_pooled_share_is_never_narrower_than_independent_answers() -> None:
    pooled, plain = pooled_share([2, 2, 2, 2], [4, 4, 4, 4]), share(8, 16)
    assert (pooled.low, pooled.high) == (plain.low, plain.high)


def test_pooled_intervals_cover_the_true_share_of_clustered_answers() -> None:
    rng = np.random.default_rng(11)
    inside = 0
    for _ in range(400):
        own = rng.beta(3, 2, 25)
        right = rng.binomial(6, own)
        found = pooled_share(right.tolist(), [6] * 25)
        inside += found.low <= 0.6 <= found.high
    assert 0.74 <= inside / 400 <= 0.87


def test_a_change_needs_two_weeks_with_questions() -> None:
    assert paired_change([(0, 0), (0, 0)], [(1, 2), (2, 2)]) is None


def test_a_change_of_different_classes_is_refused() -> None:
    with pytest.raises(ValueError, match="Two weeks of different students: 1 and 2"):
        paired_change([(1, 2)], [(1, 2), (1, 2)])


def test_a_change_that_all_students_share_is_sure() -> None:
    moved = paired_change([(1, 4), (2, 4), (1, 4), (2, 4)], [(3, 4), (4, 4), (3, 4), (4, 4)])
    assert moved is not None
    assert moved.low > 0.4
    assert moved.mean == pytest.approx(0.5)


def test_the_mean_of_alike_predictions_is_hardly_surer_than_one() -> None:
    mean, low, high = np.full((6, 5), 0.6), np.full((6, 5), 0.4), np.full((6, 5), 0.8)
    apart = mean_estimate(mean, low, high, alike=Alike(0.0, 0.0, 0.0))
    alike = mean_estimate(mean, low, high, alike=Alike(1.0, 1.0, 1.0))
    assert apart is not None
    assert alike is not None
    assert alike.width == pytest.approx(0.4)
    assert apart.width == pytest.approx(0.4 / 30**0.5)


def test_students_of_one_topic_share_its_error() -> None:
    """Variance of a column's mean: sd² (1 + (n - 1) r) / n with r between two students of one topic."""
    low, high = np.full((6, 5), 0.4), np.full((6, 5), 0.8)
    column = np.zeros((6, 5), bool)
    column[:, 2] = True
    found = mean_estimate(low + 0.2, low, high, column, Alike(0.6, 0.4, 0.15))
    assert found is not None
    assert found.width == pytest.approx(0.4 * ((1 + 5 * 0.6) / 6) ** 0.5)
    row = mean_estimate(low + 0.2, low, high, _row(), Alike(0.6, 0.4, 0.15))
    assert row is not None
    assert row.width == pytest.approx(0.4 * ((1 + 4 * 0.4) / 5) ** 0.5)


def _row() -> NDArray[np.bool_]:
    chosen = np.zeros((6, 5), bool)
    chosen[3, :] = True
    return chosen


def test_the_mean_of_nothing_is_nothing() -> None:
    some = np.full((2, 2), 0.5)
    assert mean_estimate(some, some, some, np.zeros((2, 2), bool)) is None


@pytest.mark.parametrize(
    ("low", "mean", "high", "answers", "expected"),
    [
        (0.2, 0.3, 0.4, 20, Standing.BELOW),
        (0.3, 0.45, 0.6, 20, Standing.PERHAPS_BELOW),
        (0.4, 0.55, 0.7, 20, Standing.PERHAPS_ABOVE),
        (0.6, 0.7, 0.8, 20, Standing.ABOVE),
        (0.2, 0.3, 0.4, 4, Standing.TOO_FEW),
    ],
)
def test_a_standing_says_how_sure_it_is(
    low: float, mean: float, high: float, answers: int, expected: Standing
) -> None:
    assert standing(IntervalEstimate(mean, low, high), answers) is expected


def test_a_rank_sum_of_later_answers_is_positive() -> None:
    assert rank_sum_z([9.0, 9.5, 10.0], [1.0, 1.2, 0.8, 1.1, 0.9, 1.0, 1.3, 0.7]) > 2.0
    assert rank_sum_z([1.0, 1.0], [1.0, 1.0]) == 0.0
