"""Rasch fits against published ones."""

from __future__ import annotations

import numpy as np
import pytest

from tests.published.rasch import fit_conditional, fit_marginal, probability

# LSAT section 6, 1000 people, 5 questions: counts by answer pattern. Bock & Lieberman 1970, Psychometrika 35,
# 179-197; as shipped in data set bock.table of R package psych.
LSAT6 = """
    00000:3 00001:6 00010:2 00011:11 00100:1 00101:1 00110:3 00111:4 01000:1 01001:8 01010:0 01011:16
    01100:0 01101:3 01110:2 01111:15 10000:10 10001:29 10010:14 10011:81 10100:3 10101:28 10110:15
    10111:80 11000:16 11001:56 11010:21 11011:173 11100:11 11101:61 11110:28 11111:298
"""
# raschdat1 of R package eRm 1.0-2 (Mair & Hatzinger 2007, J Stat Softw 20(9)): 100 people x 30 questions,
# one hexadecimal number of 30 bits per person, the first question in the highest bit.
RASCHDAT1 = """
    00400000 00009000 00202400 20000540 21008040 00801041 29002010 00410381 008424c0 01000b18
    31080480 20a04018 34208410 2080b011 28880412 21280640 00d09042 2c420190 0a206680 01c01a21
    3820a109 21442415 29009294 19a08481 2000a999 16964011 112c8e80 29602348 30c81710 1ac4d004
    03003395 10009f55 1094b688 316423a0 08d007d1 294525c1 2c8c0798 09c023d9 31606551 38401cd9
    21a40793 3a44318d 383087b2 28605799 39646382 3e24819c 28e07714 28ad8b91 3844333e 3ae91701
    29a4a58d 28ac7691 12e628ab 2d042cf5 2e6c84d9 3dd4026e 0cdc2759 2a74a6d1 1be26d18 292d9371
    3de4b390 38a0f7b8 288d2fd5 31caabd1 21c2b75d 20e4f37b 2cfc863d 254c779d 2ad6a5b3 3084cffb
    297c44fb 3cecf219 0ad48bf7 3bc2f655 396253bf 34eceb1d 3462dfd7 0ddccfdc 39ecafd5 3cecf70f
    2d7ceb97 26e7eb9b 3deaa3f3 3da58fbf 3cee7f3c 3fe097f7 3dee1fd3 2fe4b7e7 25f5f5de 3bbdfbd4
    2dfce77d 29fed7eb 3ef0dffc 3da4fff7 3df69f7f 33f6fffe 3dfbbffd 3bfdf7df 3dfcfdff 3efe3fff
"""


def lsat6() -> np.ndarray:
    rows = [(list(map(int, pattern)), int(n)) for pattern, n in (one.split(":") for one in LSAT6.split())]
    return np.repeat([pattern for pattern, _ in rows], [n for _, n in rows], axis=0)


def raschdat1() -> np.ndarray:
    return np.array([list(map(int, format(int(one, 16), "030b"))) for one in RASCHDAT1.split()])


def test_conditional_fit_of_lsat6_matches_the_published_likelihood_and_difficulties():
    # difficulties add to zero; log-likelihood -1091.570, also given by an independent program
    fit = fit_conditional(lsat6())
    assert fit.log_likelihood == pytest.approx(-1091.570, abs=1e-3)
    assert fit.difficulty == pytest.approx([-1.2561, 0.4749, 1.2360, 0.1684, -0.6232], abs=5e-4)


def test_marginal_fit_of_lsat6_matches_rizopoulos_2006():
    # J Stat Softw 17(5): R package ltm prints slope .7551, log-likelihood -2466.938 and these difficulties
    fit = fit_marginal(lsat6())
    assert fit.log_likelihood == pytest.approx(-2466.938, abs=1e-3)
    assert fit.slope == pytest.approx(0.7551, abs=1e-3)
    assert fit.difficulty == pytest.approx([-3.6153, -1.3224, -0.3176, -1.7301, -2.7802], abs=2e-3)


def test_conditional_fit_of_raschdat1_matches_the_fit_shipped_with_erm():
    # log-likelihood -1434.48181 in the stored object raschdat1_RM_fitted
    assert fit_conditional(raschdat1()).log_likelihood == pytest.approx(-1434.48181, abs=1e-4)


def test_equal_totals_get_equal_ability_and_harder_questions_have_lower_facility():
    answers = lsat6()
    order = np.argsort(fit_conditional(answers).difficulty)
    assert (np.diff(answers.mean(axis=0)[order]) < 0.0).all()


@pytest.mark.parametrize(
    ("ability", "difficulty", "value"),
    [(0, 0, 0.5), (1, 0, 0.731058579), (2, 0.5, 0.817574476), (-1, 1, 0.119202922)],
)
def test_probability_matches_the_equation_of_rasch_1960(ability, difficulty, value):
    assert float(probability(ability, difficulty)) == pytest.approx(value, abs=1e-9)


def test_answers_that_are_no_answers_are_refused():
    with pytest.raises(ValueError, match="only 0 and 1"):
        fit_marginal([[0.5, 1.0]])
    with pytest.raises(ValueError, match="answered alike"):
        fit_conditional([[1, 0, 1], [1, 1, 0]])
