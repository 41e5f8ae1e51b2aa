"""Question statistics against published data and against statsmodels and scipy.

LSAT section 6: Bock & Lieberman, Psychometrika 35 (1970), 179-197 (1000 people, 5 questions; counts by answer
pattern as shipped in the R package psych, data set bock.table). Facility, item-total, item-rest and alpha as
printed for these data by the R package mirt 1.45.6 (itemstats, public reference page).
"""

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.proportion import proportion_confint

from scheduler.statistics.items import (
    Band,
    alpha,
    alpha_without,
    band,
    corrected_score,
    facility,
    item_rest,
    item_total,
    kr20,
    point_biserial,
    wilson,
)

# Counts of the 32 patterns 00000, 00001, ... 11111 (question 1 first).
LSAT6_COUNTS = [3, 6, 2, 11, 1, 1, 3, 4, 1, 8, 0, 16, 0, 3, 2, 15]
LSAT6_COUNTS += [10, 29, 14, 81, 3, 28, 15, 80, 16, 56, 21, 173, 11, 61, 28, 298]
PATTERNS = np.array([[int(bit) for bit in f"{n:05b}"] for n in range(32)])
LSAT6 = np.repeat(PATTERNS, LSAT6_COUNTS, axis=0)


def test_the_lsat6_data_are_those_of_the_paper() -> None:
    assert LSAT6.sum(axis=0).tolist() == [924, 709, 553, 763, 870]
    assert np.bincount(LSAT6.sum(axis=1)).tolist() == [3, 20, 85, 237, 357, 298]
    assert LSAT6.sum(axis=1).mean() == pytest.approx(3.819)
    assert LSAT6.sum(axis=1).std(ddof=1) == pytest.approx(1.035, abs=5e-4)


PRINTED = {
    facility: [0.924, 0.709, 0.553, 0.763, 0.870],
    item_total: [0.362, 0.567, 0.618, 0.534, 0.435],
    item_rest: [0.113, 0.153, 0.173, 0.144, 0.122],
    alpha_without: [0.275, 0.238, 0.217, 0.246, 0.266],
}


@pytest.mark.parametrize(("statistic", "printed"), PRINTED.items(), ids=lambda x: getattr(x, "__name__", ""))
def test_lsat6_matches_the_printed_item_statistics(statistic, printed: list[float]) -> None:
    # Printed to three decimals.
    assert statistic(LSAT6) == pytest.approx(printed, abs=5e-4)


def test_lsat6_alpha_is_the_printed_one_and_equals_kr20() -> None:
    assert alpha(LSAT6) == pytest.approx(0.295, abs=5e-4)
    assert kr20(LSAT6) == pytest.approx(alpha(LSAT6), abs=1e-12)


# Wuensch, K. (East Carolina University), StatHelp note KR20: 10 students, 10 questions.
WUENSCH = """
1111110110 1011011101 1111011001 0010001000 0000010010
1110111111 1101110111 1111111101 0101111101 1101101110
"""
TEN = np.array([[int(sign) for sign in row] for row in WUENSCH.split()])


def test_kr20_matches_the_worked_example_of_wuensch() -> None:
    share = TEN.mean(axis=0)
    assert TEN.sum(axis=1).tolist() == [8, 7, 7, 2, 2, 9, 8, 9, 7, 7]
    assert (share * (1 - share)).sum() == pytest.approx(2.18)
    assert TEN.sum(axis=1).var() == pytest.approx(5.84)
    assert kr20(TEN) == pytest.approx(0.696347, abs=5e-7)


def test_kr20_does_not_mix_the_two_variances() -> None:
    # The usual slip, copied in many places: population pq with the n - 1 variance 6.4889 gives .737823.
    slip = 10 / 9 * (1 - 2.18 / TEN.sum(axis=1).var(ddof=1))
    assert slip == pytest.approx(0.737823, abs=5e-7)
    assert abs(kr20(TEN) - slip) > 0.04


# Newcombe, Stat Med 17 (1998), 857-872, Table I, method 3 (the first five); Singh et al. 2010 and Ligarden 2010
# as in Fagerland, Lydersen & Laake, *Statistical Analysis of Contingency Tables*; edges computed with statsmodels.
WILSON = [
    (81, 263, 0.255289, 0.366210), (15, 148, 0.062386, 0.160487), (0, 20, 0.0, 0.161125), (1, 29, 0.006113, 0.171755),
    (29, 29, 0.883030, 1.0), (250, 533, 0.427050, 0.511480), (204, 412, 0.447136, 0.543245),
    (103, 167, 0.541191, 0.687091),
    (33, 45, 0.589612, 0.840351), (13, 16, 0.569911, 0.934084), (20, 20, 0.838875, 1.0), (0, 1, 0.0, 0.793451),
    (1, 1, 0.206549, 1.0), (5, 10, 0.236593, 0.763407),
]  # fmt: skip


@pytest.mark.parametrize(("x", "n", "low", "high"), WILSON)
def test_wilson_interval_matches_newcombe_1998_table_i(x: int, n: int, low: float, high: float) -> None:
    assert np.array(wilson(x, n)) == pytest.approx([low, high], abs=1e-6)


def test_wilson_interval_equals_statsmodels_for_every_count() -> None:
    x = np.arange(41)
    for confidence in (0.8, 0.9, 0.95):
        expected = proportion_confint(x, 40, alpha=1 - confidence, method="wilson")
        assert np.array(wilson(x, 40, confidence)) == pytest.approx(np.array(expected), abs=1e-12)


def test_point_biserial_matches_the_scipy_docstring_and_scipy() -> None:
    item, score = [0, 0, 0, 1, 1, 1, 1], np.arange(7)
    assert point_biserial(item, score) == pytest.approx(0.8660254037844386)
    rng = np.random.default_rng(4)
    drawn, normal = rng.integers(0, 2, 50), rng.normal(size=50)
    assert point_biserial(drawn, normal) == pytest.approx(
        stats.pointbiserialr(drawn, normal).statistic, abs=1e-12
    )


# Ebel & Frisbie 1991, 5th ed.: .40 and up, .30-.39, .20-.29, .19 and below (secondary sources agree).
@pytest.mark.parametrize(
    ("value", "reading"),
    [(0.40, Band.VERY_GOOD), (0.39, Band.GOOD), (0.30, Band.GOOD), (0.29, Band.MARGINAL), (0.20, Band.MARGINAL),
     (0.19, Band.POOR), (0.0, Band.POOR), (-0.01, Band.NEGATIVE), (float("nan"), Band.UNKNOWN)],
)  # fmt: skip
def test_bands_are_those_of_ebel_and_frisbie_1991(value: float, reading: Band) -> None:
    assert band(value) is reading


# Frary, Educ Meas: Issues & Practice 7(2) (1988); row 1 is a public test booklet's example, the last two are the
# expectation under pure guessing.
@pytest.mark.parametrize(
    ("right", "wrong", "n_options", "score"),
    [(80, 46, 5, 68.5), (60, 20, 5, 55), (30, 12, 4, 26), (20, 10, 3, 15), (25, 25, 2, 0), (10, 40, 5, 0)],
)
def test_correction_for_guessing_matches_frary_1988(
    right: int, wrong: int, n_options: int, score: float
) -> None:
    assert corrected_score(right, wrong, n_options) == pytest.approx(score)
