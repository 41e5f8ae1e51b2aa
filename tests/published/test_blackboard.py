"""The teacher's blackboard arithmetic. Common practice, no source."""

import numpy as np
import pytest

from scheduler.model.blackboard import Blackboard, class_level, level, level_after

TOPIC_DAYS = np.array([1, 3, 5])


def test_without_review_day_seven_shows_20_20_50() -> None:
    # 25 points are lost each day, down to a floor of 20; weekend days count.
    assert level(7 - TOPIC_DAYS, 0).tolist() == [20, 20, 50]


def test_with_one_review_on_the_lessons_own_day_day_seven_shows_40_55_85() -> None:
    # The next day still shows 100, then 15 points are lost each day, down to a floor of 40.
    assert level(7 - TOPIC_DAYS, 1).tolist() == [40, 55, 85]
    assert level([0, 1, 2], 1).tolist() == [100, 100, 85]


def test_the_final_levels_after_one_two_and_three_reviews_are_40_60_90() -> None:
    assert [float(level(120, reviews)) for reviews in range(4)] == [20, 40, 60, 90]


def test_each_review_brings_back_to_100_and_makes_the_curve_flatter() -> None:
    days = np.arange(60)
    losses = []
    for reviews, review_day in enumerate((0, 3, 10), start=1):
        kept = level(days, reviews)
        assert kept[review_day] == kept[review_day + 1] == 100
        losses.append(kept[review_day + 1] - kept[review_day + 2])
        assert np.all(kept >= level(days, reviews - 1))
    assert losses == sorted(losses, reverse=True)


def test_the_class_curve_is_the_mean_of_the_topics_taught_so_far() -> None:
    assert class_level(TOPIC_DAYS, [0, 1, 7], 1)[1:].tolist() == [100, 60]
    assert np.isnan(class_level(TOPIC_DAYS, [0], 1)[0])


def test_reviews_on_other_days_and_reviews_left_out() -> None:
    assert level_after([4, 5, 6], [4, np.nan]).tolist() == [100, 100, 85]
    assert np.isnan(level_after([-1], [])[0])
    # A fourth review acts like the third.
    assert float(level_after(200, [0, 3, 10, 30])) == 90


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: level(1, 4), "knows 0 to 3 reviews, not 4"),
        (lambda: level_after(1, [-1]), "cannot come before its lesson"),
        (lambda: Blackboard(losses=(1.0,)), "one loss and one floor more"),
        (lambda: Blackboard(reviews=(3, 0, 10)), "must rise"),
        (lambda: Blackboard(floors=(20, 40, 60, 120)), "between 0 and 100"),
    ],
)
def test_an_impossible_rule_is_refused(make, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        make()
