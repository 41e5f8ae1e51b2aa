"""Published forgetting data and the curves that their authors fitted to them."""

import numpy as np
import pytest
from scipy.optimize import curve_fit

from tests.published.curves import exponential, fit, logarithm, power, savings, two_exponentials

# Ebbinghaus 1885, *Memory* (English tr. Ruger & Bussenius 1913), ch. VII sec. 29, pp. 77-78: time in minutes from
# one minute before the end of learning; savings observed; savings he calculated; the difference he printed.
EBBINGHAUS = np.array(
    [
        [20, 58.2, 57.0, 1.2],
        [64, 44.2, 46.7, -2.5],
        [526, 35.8, 34.5, 1.3],
        [1440, 33.7, 30.4, 3.3],
        [2880, 27.8, 28.1, -0.3],
        [8640, 25.4, 24.9, 0.5],
        [44640, 21.1, 21.2, -0.1],
    ]
)
MINUTES, OBSERVED, CALCULATED, DELTA = EBBINGHAUS.T


def test_savings_matches_ebbinghaus_1885_own_calculated_column() -> None:
    # He rounded: at 64 minutes the formula gives 46.77 where 46.7 is printed; 0.1 is the printed precision.
    assert np.all(np.abs(savings(MINUTES) - CALCULATED) < 0.1)
    assert pytest.approx(DELTA, abs=1e-9) == OBSERVED - CALCULATED


def test_savings_is_whole_at_one_minute_and_refuses_less() -> None:
    assert savings(1) == 100
    with pytest.raises(ValueError, match="starts at one minute"):
        savings([0.5])


def test_the_trades_figures_are_those_of_ebbinghaus() -> None:
    # Common practice, no source: about 55 % left after 20 minutes, 30 % after a day, some 20 % in the end.
    assert savings([20, 1440, 44640]) == pytest.approx([55, 30, 20], abs=2.5)


def test_a_power_curve_beats_an_exponential_on_ebbinghaus_1885() -> None:
    # Least squares on the observed column as proportions: power with m = 1 .00258, exponential .0580.
    share = OBSERVED / 100
    by_power = fit(lambda t, p: power(t, np.array([1.0, *p])), MINUTES, share, [1.0, 0.2])
    by_exponential = fit(exponential, MINUTES, share, [0.5, 20_000.0])
    assert by_power.parameters == pytest.approx([4.318, 0.1312], abs=2e-3)
    assert by_power.sse == pytest.approx(0.002577, abs=2e-6)
    assert by_exponential.sse == pytest.approx(0.0580, abs=5e-4)
    assert by_exponential.sse > 20 * by_power.sse


# Rubin, Hinton & Wenzel 1999, J Exp Psychol: LMC 25, 1161-1176: cued recall by lag (intervening items), mean of
# three conditions, read from a third-party copy of the table; published constants T1 = 1.15, T2 = 27.55.
LAG = np.array([0, 1, 2, 4, 7, 12, 21, 35, 59, 99], dtype=float)
RECALL = np.array([0.944, 0.646, 0.434, 0.379, 0.335, 0.301, 0.231, 0.183, 0.133, 0.112])


@pytest.mark.parametrize("start", [(0.5, 1.0, 0.3, 20.0, 0.1), (0.3, 3.0, 0.3, 60.0, 0.0)])
def test_two_exponentials_recover_rubin_hinton_wenzel_1999(start: tuple[float, ...]) -> None:
    found = fit(two_exponentials, LAG, RECALL, start)
    a1, t1, a2, t2, a3 = found.parameters
    assert t1 == pytest.approx(1.15, abs=0.05)
    assert t2 == pytest.approx(27.55, abs=0.5)
    assert (a1, a2, a3) == pytest.approx((0.5553, 0.2933, 0.1012), abs=2e-3)
    assert found.sse == pytest.approx(0.002534, abs=2e-6)


def test_the_fit_equals_scipys() -> None:
    start = [0.5, 1.0, 0.3, 20.0, 0.1]
    expected, _ = curve_fit(lambda t, *p: two_exponentials(t, np.array(p)), LAG, RECALL, p0=start)
    assert fit(two_exponentials, LAG, RECALL, start).parameters == pytest.approx(expected, rel=1e-4)


# Word recall: Mosteller, Rourke & Thomas 1970, *Probability with Statistical Applications*, 2nd ed., Table 11-1,
# p. 383 (values from memory; they reproduce the published regression 0.846 - 0.0792 ln t, R² 99.0 % to the digit).
RECALL_MINUTES = np.array([1, 5, 15, 30, 60, 120, 240, 480, 720, 1440, 2880, 5760, 10080], dtype=float)
PROPORTION = np.array([0.84, 0.71, 0.61, 0.56, 0.54, 0.47, 0.45, 0.38, 0.36, 0.26, 0.20, 0.16, 0.08])


def test_the_logarithm_recovers_the_word_recall_regression() -> None:
    found = fit(logarithm, RECALL_MINUTES, PROPORTION, [1.0, 0.1])
    assert found.parameters == pytest.approx([0.8464, 0.0792], abs=5e-4)
    assert found.r2 == pytest.approx(0.990, abs=5e-4)


def test_too_few_points_or_a_bad_start_are_refused() -> None:
    with pytest.raises(ValueError, match="2 times and 2 values cannot fix 5 parameters"):
        fit(two_exponentials, [1, 2], [0.5, 0.4], [1, 1, 1, 1, 1])
    with pytest.raises(ValueError, match="no value at the start"):
        fit(logarithm, [0.0, 1.0], [0.5, 0.4], [1, 1])
