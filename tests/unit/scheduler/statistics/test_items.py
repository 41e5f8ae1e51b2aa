"""Question statistics with missing answers, refused input, and options."""

import numpy as np
import pytest

from scheduler.statistics.calibration import auc, brier, reliability
from scheduler.statistics.items import (
    alpha_without,
    answer_array,
    corrected_score,
    facility,
    item_rest,
    kr20,
    options,
    point_biserial,
    wilson,
)

NAN = float("nan")


def test_facility_counts_only_those_who_answered() -> None:
    assert facility([[1, NAN, NAN], [0, 1, NAN]])[:2].tolist() == [0.5, 1.0]
    assert np.isnan(facility([[1, NAN]])[1])


def test_discrimination_leaves_the_question_itself_out() -> None:
    # Four students; the strong ones answer question 0 right.
    answers = np.array([[1, 1, 1], [1, 1, NAN], [0, 0, 0], [0, NAN, 1]])
    rest = [1.0, 1.0, 0.0, 1.0]
    assert item_rest(answers)[0] == pytest.approx(np.corrcoef([1, 1, 0, 0], rest)[0, 1])


def test_a_question_that_everybody_has_right_discriminates_nothing() -> None:
    assert np.isnan(item_rest([[1, 1], [1, 0], [1, 1]])[0])


def test_equal_scores_are_no_variation() -> None:
    assert np.isnan(point_biserial([1, 0, 1], [0.1 + 0.2, 0.3, 0.3]))


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: answer_array([1, 0]), "1 dimensions"),
        (lambda: answer_array([[0.5]]), "0.5 was found"),
        (lambda: kr20(np.array([[1, NAN], [0, 1]])), "1 answers missing"),
        (lambda: alpha_without([[1, 0], [0, 1]]), "at least 3 questions"),
        (lambda: wilson(3, 2), "more than answers"),
        (lambda: wilson(1, 2, 1.0), "between 0 and 1"),
        (lambda: corrected_score(1, 1, 1), "at least 2 options"),
        (lambda: options([0, 4], 4), "0 to 3; 0 to 4 were found"),
        (lambda: options([0, 1], 4, [1.0]), "2 answers, but 1 scores"),
        (lambda: brier([1, 0], [0.5]), "2 outcomes and 1 predictions"),
        (lambda: brier([], []), "at least one"),
        (lambda: brier([2], [0.5]), "must be 1"),
        (lambda: brier([1], [NAN]), "from 0 to 1"),
        (lambda: reliability([1], [0.5], bins=0), "At least one bin"),
    ],
)
def test_doubtful_input_is_refused_and_named(make, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        make()


def test_auc_of_equal_outcomes_is_unknown() -> None:
    assert np.isnan(auc([1, 1], [0.2, 0.4]))


def test_wilson_of_no_answers_is_the_whole_range() -> None:
    low, high = wilson([0, 1], [0, 2])
    assert (low[0], high[0]) == (0.0, 1.0)


def test_options_are_counted_and_the_idle_and_misleading_ones_named() -> None:
    chosen = [0] * 20 + [1] * 10 + [2] * 10
    score = [0.6, 0.5] * 10 + [0.2, 0.3] * 5 + [0.9, 0.8] * 5
    used = options(chosen, 4, score)
    assert used.counts.tolist() == [20, 10, 10, 0]
    assert used.unused() == (3,)
    assert used.misleading() == (2,)
    assert used.discrimination[1] < 0


def test_options_say_nothing_with_few_answers() -> None:
    used = options([0, 1], 3)
    assert used.unused() == ()
    assert used.misleading() == ()
