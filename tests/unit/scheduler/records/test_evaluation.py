"""A record predicted answer by answer: nothing is known before it happened, and the scores are what they are called."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from sklearn.metrics import brier_score_loss, log_loss, roc_auc_score

from scheduler.records.comparison import compare, evaluate_log, format_comparison
from scheduler.records.log import AnswerLog, LogBuilder
from scheduler.records.predictors import PLAIN, base_rate, by_fitting, by_memory, features, half_life


def record(n_learners: int = 8, n_topics: int = 5, seed: int = 3, life: float = 4.0) -> AnswerLog:
    """Return answers of invented learners who forget exponentially; each review doubles the half-life. [days]"""
    rng, built = np.random.default_rng(seed), LogBuilder()
    for who in range(n_learners):
        for what in range(n_topics):
            at, half, last = 20_000.0 + 3 * what + 0.01 * who, life, 0.0
            built.add(f"learner {who}", f"topic {what}", at, float("nan"))
            last = at
            for _ in range(int(rng.integers(2, 6))):
                at += float(rng.integers(1, 9)) + 0.01 * rng.random()
                right = rng.random() < 0.5 ** ((at - last) / half)
                built.add(f"learner {who}", f"topic {what}", at, float(right), item=f"question {what}")
                half, last = half * (2.0 if right else 1.2), at
    return built.build()


LOG = record()


@pytest.fixture(scope="module")
def evaluated():
    """The small record, predicted by every method once."""
    return evaluate_log(LOG)


def test_the_log_is_in_the_order_of_time_and_knows_what_comes_first():
    assert (np.diff(LOG.at) >= 0).all()
    assert LOG.first.sum() == 8 * 5
    assert not (LOG.first & LOG.scored).any()
    assert np.isnan(LOG.right[LOG.first]).all()


def test_counts_and_lags_are_those_before_the_answer():
    known = features(LOG)
    pair = np.flatnonzero((LOG.learner == 2) & (LOG.topic == 1))
    rights = LOG.right[pair]
    before = np.concatenate([[0.0], np.nancumsum(rights)[:-1]])
    assert_array_equal(known.right[pair], before)
    assert_allclose(known.lag[pair][1:], np.diff(LOG.at[pair]))


@pytest.mark.parametrize("method", ["holdfast", *PLAIN])
def test_no_prediction_knows_what_comes_later(method, evaluated):
    """Turned answers change nothing before them, whatever the method: it has not seen them."""
    _, predicted, _ = evaluated
    last = len(LOG) * 2 // 3
    turned = replace(LOG, right=np.where(np.arange(len(LOG)) >= last, 1.0 - LOG.right, LOG.right))
    fresh = by_memory(turned) if method == "holdfast" else by_fitting(turned, features(turned), PLAIN[method])
    assert_allclose(fresh[: last + 1], predicted[method][: last + 1], rtol=1e-9)
    assert not np.allclose(fresh[last + 1 :], predicted[method][last + 1 :], equal_nan=True)


def test_every_answer_after_the_first_is_predicted_as_a_probability(evaluated):
    _, predicted, missing = evaluated
    assert missing == ()
    for one in predicted.values():
        assert_array_equal(np.isfinite(one), LOG.scored)
        assert ((one[LOG.scored] >= 0) & (one[LOG.scored] <= 1)).all()


def test_scores_are_those_of_scikit_learn(evaluated):
    """Reference: scikit-learn's log_loss, roc_auc_score and brier_score_loss."""
    found, predicted, _ = evaluated
    right = LOG.right[LOG.scored]
    for name, score in found.scores.items():
        p = np.clip(predicted[name][LOG.scored], 1e-6, 1 - 1e-6)
        assert_allclose(score.log_loss.value, log_loss(right, p))
        assert_allclose(score.auc.value, roc_auc_score(right, p))
        assert_allclose(score.brier.value, brier_score_loss(right, p))
        for each in (score.log_loss, score.auc, score.brier):
            assert each.low <= each.value <= each.high


def test_an_interval_over_learners_is_as_wide_as_its_standard_error_says():
    """Equal learners: the bootstrap of a mean of means has the standard error of textbooks, s / sqrt(n)."""
    rng = np.random.default_rng(5)
    built = LogBuilder()
    for who in range(200):
        built.add(f"{who}", "t", 20_000.0, float("nan"))
        for step in range(4):
            built.add(f"{who}", "t", 20_001.0 + step, float(rng.random() < 0.6))
    log = built.build()
    score = compare(log, {"half": np.where(log.scored, 0.6, np.nan)}).scores["half"].brier
    squares = (log.right[log.scored] - 0.6) ** 2
    means = np.array([squares[log.learner[log.scored] == who].mean() for who in range(200)])
    expected = 2 * 1.96 * means.std(ddof=1) / np.sqrt(200)
    assert_allclose(score.high - score.low, expected, rtol=0.2)


def test_weights_count():
    log = replace(LOG, weight=np.where(LOG.right == 1.0, 3.0, 1.0))
    p = np.where(log.scored, 0.7, np.nan)
    right = log.right[log.scored]
    expected = log_loss(right, np.full(len(right), 0.7), sample_weight=log.weight[log.scored])
    assert_allclose(compare(log, {"x": p}).scores["x"].log_loss.value, expected)


def test_the_half_life_fit_finds_the_half_life_that_made_the_answers():
    """Learners whose half-life never changes: the fit comes to it. [days]"""
    rng, built = np.random.default_rng(1), LogBuilder()
    for who in range(400):
        at = 20_000.0
        built.add(f"{who}", "t", at, float("nan"))
        lag = float(rng.integers(1, 12))
        built.add(f"{who}", "t", at + lag, float(rng.random() < 0.5 ** (lag / 5.0)))
    log = built.build()
    events = np.flatnonzero(log.scored)
    fitted = half_life(features(log), log.right, events)
    p = fitted(features(log), events)
    found = -features(log).lag[events] / np.log2(p)
    assert_allclose(np.median(found), 5.0, rtol=0.15)


def test_held_out_learners_are_predicted_without_what_they_answered():
    """The share right of the other learners, for each part of the learners."""
    p = by_fitting(LOG, features(LOG), base_rate, held_out=True)
    for who in range(8):
        own = LOG.scored & (LOG.learner == who)
        assert len(np.unique(p[own])) == 1
    turned = replace(LOG, right=np.where(LOG.learner == 0, 1.0 - LOG.right, LOG.right))
    fresh = by_fitting(turned, features(turned), base_rate, held_out=True)
    assert_allclose(fresh[LOG.learner == 0], p[LOG.learner == 0])


def test_a_record_in_which_nobody_returns_has_nothing_to_predict():
    built = LogBuilder()
    built.add("a", "t", 20_000.0, 1.0)
    with pytest.raises(ValueError, match="only once"):
        evaluate_log(built.build())


def test_the_table_names_every_method_with_its_interval(evaluated):
    found, _, _ = evaluated
    table = format_comparison(found)
    assert table.splitlines()[0] == f"{LOG.scored.sum()} answers of 8 learners"
    assert all(any(line.startswith(name) for line in table.splitlines()) for name in ["holdfast", *PLAIN])
