"""Memory laws against the equations of their papers (values computed from the equations; the papers print none)."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from scheduler.model.laws import ACTIVATION, LAWS, TRACES
from scheduler.simulation.learners import FAMILIES, windows_probability

# Pavlik & Anderson 2005, Cogn Sci 29, 559-586: m = ln sum t_j^-d_j, d_j = c exp(m_(j-1)) + a, first d = a,
# p = 1 / (1 + exp((tau - m) / s)). Parameter values from memory, so they pin the arithmetic, not the paper.
A, C, TAU, S = 0.177, 0.217, -0.704, 0.255
ACTIVATION_VALUES = [
    # times, now, probability
    ((0,), 100, 0.392755178),
    ((0,), 1000, 0.115678026),
    ((0, 10), 1010, 0.308390123),
    ((0, 100), 1100, 0.389773995),
    ((0, 1000), 2000, 0.408010563),
    ((0, 100, 200), 1200, 0.584834359),
    ((0, 10), 100010, 0.010464393),
    ((0, 1000), 101000, 0.024130099),
]
LAST_DECAY = [
    ((0, 10), 0.321364275),
    ((0, 100), 0.273041677),
    ((0, 1000), 0.240893949),
    ((0, 100, 200), 0.323665707),
]


def _one(**values):
    return {name: np.full((1, 1), value) for name, value in values.items()}


def _along(family, parameters, times):
    state = family.start(parameters)
    for before, now in pairwise(times):
        state = family.expose(parameters, state, np.array([[float(now - before)]]), np.ones((1, 1)))
    return state


@pytest.mark.parametrize(("times", "now", "value"), ACTIVATION_VALUES)
def test_activation_students_match_the_equation_of_pavlik_anderson_2005(times, now, value):
    family, parameters = FAMILIES["activation"], _one(a=A, c=C, tau=TAU, s=S, units=1.0)
    state = _along(family, parameters, times)
    assert family.recall(parameters, state, np.array([[float(now - times[-1])]]))[0, 0] == pytest.approx(
        value, abs=1e-8
    )


@pytest.mark.parametrize(("times", "now", "value"), ACTIVATION_VALUES)
def test_activation_law_matches_the_equation_of_pavlik_anderson_2005(times, now, value):
    theta = np.array([np.log(A), np.log(C), 0.0, TAU, np.log(S), 60.0, 0.0, 0.0])[:, None]
    state = ACTIVATION.start(theta, np.zeros(1))
    for before, after in pairwise(times):
        state = ACTIVATION.expose(theta, np.zeros(1), state, np.array([float(after - before)]), np.ones(1))
    recall = ACTIVATION.recall(theta, np.zeros(1), state, np.array([float(now - times[-1])]))
    assert recall[0] == pytest.approx(value, abs=1e-8)


@pytest.mark.parametrize(("times", "decay"), LAST_DECAY)
def test_closer_repetition_leaves_a_trace_that_fades_faster(times, decay):
    theta = np.array([np.log(A), np.log(C), 0.0, TAU, np.log(S), 60.0, 0.0, 0.0])[:, None]
    state = ACTIVATION.start(theta, np.zeros(1))
    for before, after in pairwise(times):
        state = ACTIVATION.expose(theta, np.zeros(1), state, np.array([float(after - before)]), np.ones(1))
    assert state[TRACES, 0] == pytest.approx(decay, abs=1e-8)


def test_best_gap_of_the_activation_form_grows_with_the_delay():
    family, parameters = FAMILIES["activation"], _one(a=A, c=C, tau=TAU, s=S, units=1.0)
    gaps = delays = (10, 100, 1000, 10000)
    best = []
    for delay in delays:
        recall = [
            float(
                family.recall(parameters, _along(family, parameters, (0, gap)), np.array([[float(delay)]]))[
                    0, 0
                ]
            )
            for gap in gaps
        ]
        best.append((gaps[int(np.argmax(recall))], round(max(recall), 3)))
    assert best == [(10, 0.953), (100, 0.773), (1000, 0.408), (10000, 0.132)]


# Settles & Meeder 2016, ACL, 1848-1858: p = 2^(-delta / h)
@pytest.mark.parametrize(
    ("delta", "half_life", "value"),
    [(1, 1, 0.5), (7, 7, 0.5), (3, 7, 0.742997145), (14, 7, 0.25), (10, 5, 0.25), (1.064021654, 7, 0.9)],
)
def test_half_life_students_match_the_equation_of_settles_meeder_2016(delta, half_life, value):
    family, parameters = FAMILIES["halving"], _one(days=float(half_life), right=2.0, wrong=1.0)
    recall = family.recall(parameters, family.start(parameters), np.full((1, 1), float(delta)))
    assert recall[0, 0] == pytest.approx(value, abs=1e-8)


# Wickelgren 1974; Wixted & Carpenter 2007, Psychol Sci 18, 133-134: p = m (1 + h t)^-f
@pytest.mark.parametrize(
    ("m", "h", "t", "f", "value"),
    [(1, 1, 1, 0.5, 0.707106781), (0.8, 0.5, 10, 0.3, 0.467352545), (1, 0.1, 0, 0.2, 1.0)],
)
def test_power_students_match_the_equation_of_wickelgren_1974(m, h, t, f, value):
    family, parameters = FAMILIES["power"], _one(m=m, h=h, f=f, saving=0.5)
    recall = family.recall(parameters, family.start(parameters), np.full((1, 1), float(t)))
    assert recall[0, 0] == pytest.approx(value, abs=1e-8)


# Lindsey, Shroyer, Pashler & Mozer 2014, in the form of Choffin et al. 2019 (arXiv 1905.06873)
def test_windows_match_the_equation_of_lindsey_2014():
    right, tries = np.array([0.5, 0.4, 0.3, 0.2]), np.array([0.2, 0.2, 0.1, 0.1])
    value = windows_probability(0.3 + 0.2, right, tries, np.array([0, 1, 3, 5.0]), np.array([0, 1, 4, 7.0]))
    assert float(value) == pytest.approx(0.739617545, abs=1e-8)


def test_windows_without_history_reduce_to_rasch_1960():
    nothing, weights = np.zeros(4), np.array([0.5, 0.4, 0.3, 0.2])
    assert float(windows_probability(1.5, weights, weights, nothing, nothing)) == pytest.approx(
        0.817574476, abs=1e-9
    )


# Mozer, Pashler, Cepeda, Lindsey & Vul 2009, NIPS 22: facts that the multiscale context must show
def test_context_students_gain_more_from_spaced_than_from_massed_review():
    family = FAMILIES["context"]
    parameters = _one(mu=0.02, nu=1.3, xi=0.97)
    later = np.full((1, 1), 30.0)
    massed = family.recall(parameters, _along(family, parameters, (0, 0.01)), later)[0, 0]
    spaced = family.recall(parameters, _along(family, parameters, (0, 7)), later)[0, 0]
    assert spaced > massed + 0.1


@pytest.mark.parametrize("name", FAMILIES)
def test_every_family_forgets_steeply_at_first_and_slower_after_spaced_reviews(name):
    family = FAMILIES[name]
    parameters = family.draw(np.random.default_rng(5), 30, 20)
    shape = (30, 20)

    def left(state, elapsed):
        return float(family.recall(parameters, state, np.full(shape, float(elapsed))).mean())

    once = family.start(parameters)
    knew = family.recall(parameters, once, np.full(shape, 7.0))
    spaced = family.expose(parameters, once, np.full(shape, 7.0), knew)
    soon = family.recall(parameters, once, np.full(shape, 0.02))
    massed = family.expose(parameters, once, np.full(shape, 0.02), soon)
    assert left(once, 0.02) - left(once, 5.0) > left(once, 25.0) - left(once, 30.0)
    assert left(spaced, 14.0) > left(once, 14.0)
    if name != "windows":  # that form counts attempts; how close together they stood it cannot tell
        assert left(spaced, 30.0) >= left(massed, 30.0) - 1e-9


# The trade: levels of about 20, 40, 60 and 90 % thirty days after the last exposure with 0, 1, 2 and 3 reviews
# (common practice, no source)
def test_stepped_students_hold_the_levels_of_common_practice():
    family = FAMILIES["steps"]
    parameters = _one(u=0.0, days=2.0, slower=1.2, apart=1.0)
    state, levels = family.start(parameters), []
    for _ in range(4):
        levels.append(float(family.recall(parameters, state, np.full((1, 1), 30.0))[0, 0]))
        state = family.expose(parameters, state, np.full((1, 1), 3.0), np.ones((1, 1)))
    assert levels == pytest.approx([0.2, 0.4, 0.6, 0.9], abs=0.01)


@pytest.mark.parametrize("law", LAWS.values(), ids=LAWS)
def test_every_law_of_the_model_stays_a_probability_and_never_rises_by_itself(law):
    theta, trait = np.array(law.mean)[:, None], np.linspace(-2, 2, 9)
    state = law.start(theta, trait)
    times = np.geomspace(1e-3, 1e4, 60)
    for gap in (3.0, 10.0, 0.01):
        course = np.array([law.recall(theta, trait, state, np.full(9, t)) for t in times])
        assert (course >= 0.0).all()
        assert (course <= 1.0).all()
        assert (np.diff(course, axis=0) <= 1e-9).all()
        state = law.expose(theta, trait, state, np.full(9, gap), np.ones(9))
