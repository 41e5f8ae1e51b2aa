"""Scores of predictions against the documentation examples of scikit-learn, and against scikit-learn itself.

Worked values: docstring examples of scikit-learn 1.9 (brier_score_loss, log_loss, roc_auc_score,
calibration_curve); the rest is arithmetic from the definitions. Expected calibration error: Guo et al., ICML 2017.
"""

import math

import numpy as np
import pytest
from sklearn.calibration import calibration_curve
from sklearn.metrics import brier_score_loss, roc_auc_score
from sklearn.metrics import log_loss as sklearn_log_loss

from scheduler.statistics.calibration import auc, brier, calibration_error, log_loss, reliability

CURVE = ([0, 0, 0, 0, 1, 1, 1, 1, 1], [0.1, 0.2, 0.3, 0.4, 0.65, 0.7, 0.8, 0.9, 1.0])
FIVE = ([1, 0, 1, 1, 0], [0.9, 0.2, 0.6, 0.8, 0.4])
WORKED = [
    (brier, ([0, 1, 1, 0], [0.1, 0.9, 0.8, 0.3]), 0.0375),
    (brier, ([1], [0.7]), 0.09),
    (brier, ([1], [0.3]), 0.49),
    (brier, ([0], [0.5]), 0.25),
    (brier, ([1], [1]), 0.0),
    (brier, ([0], [1]), 1.0),
    (brier, FIVE, 0.082),
    (log_loss, ([1, 0, 0, 1], [0.9, 0.1, 0.2, 0.65]), 0.21616187468),
    (log_loss, ([1], [0.5]), math.log(2)),
    (log_loss, ([1], [0.9]), 0.105360515658),
    (log_loss, ([1], [0.1]), 2.302585092994),
    (log_loss, FIVE, 0.314659773164),
    (auc, ([0, 0, 1, 1], [0.1, 0.4, 0.35, 0.8]), 0.75),
    (lambda y, p: calibration_error(y, p, 3), CURVE, 0.138888888889),
    (lambda y, p: calibration_error(y, p, 10), CURVE, 0.216666666667),
]


@pytest.mark.parametrize(("score", "data", "value"), WORKED)
def test_a_score_has_its_worked_value(score, data: tuple[list[float], list[float]], value: float) -> None:
    assert score(*data) == pytest.approx(value, abs=1e-11)


def test_reliability_matches_the_scikit_learn_documentation() -> None:
    bins = reliability(*CURVE, bins=3)
    assert bins.observed == pytest.approx([0, 0.5, 1])
    assert bins.predicted == pytest.approx([0.2, 0.525, 0.85])
    assert bins.counts.tolist() == [3, 2, 4]


@pytest.mark.parametrize("seed", range(5))
def test_scores_equal_scikit_learn_on_random_data(seed: int) -> None:
    rng = np.random.default_rng(seed)
    # Two decimals make ties and predictions on the bounds of bins.
    p = np.round(rng.uniform(size=400), 2)
    y = (rng.uniform(size=400) < p).astype(int)
    assert brier(y, p) == pytest.approx(brier_score_loss(y, p), abs=1e-12)
    assert log_loss(y, p) == pytest.approx(sklearn_log_loss(y, p), abs=1e-12)
    assert auc(y, p) == pytest.approx(roc_auc_score(y, p), abs=1e-12)
    observed, predicted = calibration_curve(y, p, n_bins=10)
    bins = reliability(y, p, bins=10)
    assert bins.observed == pytest.approx(observed, abs=1e-12)
    assert bins.predicted == pytest.approx(predicted, abs=1e-12)
