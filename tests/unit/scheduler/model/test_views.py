"""When retention falls to a level: every pair of a class against a general root finder."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from scipy.optimize import brentq

from scheduler.model.memory import ClassMemory
from scheduler.model.views import NODE_WEIGHTS, days_until

MONDAY = datetime(2026, 9, 7, 9, 0, tzinfo=UTC)


@pytest.fixture(scope="module")
def memory() -> ClassMemory:
    rng = np.random.default_rng(4)
    memory = ClassMemory([f"s{number}" for number in range(5)], [f"t{number}" for number in range(4)])
    for topic in memory.topics:
        memory.taught(topic, MONDAY)
    for _ in range(60):
        student, topic = memory.students[rng.integers(5)], memory.topics[rng.integers(4)]
        after = timedelta(days=float(rng.uniform(0.5, 30.0)))
        memory.answered(student, topic, MONDAY + after, bool(rng.random() < 0.7), 0.2)
    return memory


@pytest.mark.parametrize("level", [0.15, 0.3, 0.5, 0.7])
def test_retention_is_at_the_level_on_the_day_that_is_found(memory, level):
    views, found = memory.views(), days_until(memory.views(), level)
    for pair in range(0, len(found), 3):

        def above(log_days: float, pair: int = pair) -> float:
            elapsed = np.full(len(found), np.exp(log_days))
            kept = [view.weight * (NODE_WEIGHTS @ view.recall(elapsed))[pair] for view in views]
            return float(np.sum(kept) - level)

        expected = float(np.exp(brentq(above, np.log(1e-4), np.log(36_525.0), rtol=1e-6)))
        assert found[pair] == pytest.approx(expected, rel=2e-3)


@pytest.mark.parametrize("level", [0.02, 0.2, 0.5, 0.8, 0.8125, 0.9, 0.93])
def test_before_any_answer_too_every_level_is_met(level):
    memory = ClassMemory(["ada"], ["waves"])
    memory.taught("waves", MONDAY)
    days = days_until(memory.views(), level)
    kept = sum(view.weight * (NODE_WEIGHTS @ view.recall(days)) for view in memory.views())
    assert kept == pytest.approx(level, abs=1e-4)


def test_what_starts_below_falls_at_once_and_what_cannot_be_solved_is_refused(memory):
    assert (days_until(memory.views(), 0.9999) == 0.0).all()
    assert np.isinf(days_until(memory.views(), 0.3, horizon=0.001)).all()
    with pytest.raises(ValueError, match="between 0 and 1"):
        days_until(memory.views(), 1.0)
