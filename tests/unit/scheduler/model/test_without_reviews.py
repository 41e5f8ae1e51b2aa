"""The same class as it would be without its reviews."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from scheduler.model.laws import LAWS
from scheduler.model.memory import ClassMemory, days
from scheduler.model.views import NODE_WEIGHTS, law_view
from scheduler.values import Floats

MONDAY = datetime(2026, 9, 7, 9, 0, tzinfo=UTC)
STUDENTS, TOPICS = [f"s{n}" for n in range(6)], [f"t{n}" for n in range(5)]


def _taught() -> ClassMemory:
    memory = ClassMemory(STUDENTS, TOPICS)
    for number, topic in enumerate(TOPICS):
        memory.taught(topic, MONDAY + timedelta(days=3 * number))
    memory.taught("t0", MONDAY + timedelta(days=9))  # taught again
    return memory


def _reviewed() -> ClassMemory:
    memory, rng = _taught(), np.random.default_rng(4)
    for student in STUDENTS:
        for number, topic in enumerate(TOPICS[:4]):
            for later in (2, 7, 14):
                at = MONDAY + timedelta(days=3 * number + later, hours=8)
                memory.answered(student, topic, at, bool(rng.random() < 0.7), 0.25)
        memory.homework(student, "t1", MONDAY + timedelta(days=4))
    memory.scored("s0", "t1", MONDAY + timedelta(days=20), 0.5, 4.0)
    return memory


def test_h3_without_any_review_nothing_differs() -> None:
    memory, at = _taught(), MONDAY + timedelta(days=30)
    np.testing.assert_allclose(memory.without_reviews().retention(at).mean, memory.retention(at).mean)


def test_h3_the_twin_is_the_class_taught_the_same_with_what_was_learned_of_it() -> None:
    """Against a model that never saw a review and is told what was learned: another way to the same figures."""
    memory, at = _reviewed(), MONDAY + timedelta(days=30)
    memory.views()
    twin = memory.without_reviews().retention(at)
    np.testing.assert_allclose(twin.mean, _along_lessons(memory, _taught(), at), atol=1e-9)


def _along_lessons(memory: ClassMemory, other: ClassMemory, at: datetime) -> Floats:
    total = np.zeros(len(STUDENTS) * len(TOPICS))
    for view in memory.views():
        name = view.law.name
        bare = law_view(
            LAWS[name], memory.parameters.laws[name], memory._estimates[name], other.history, len(TOPICS)
        )
        total += view.weight * (NODE_WEIGHTS @ bare.recall(days(at) - other.history.last_exposure()))
    return np.asarray(total.reshape(len(STUDENTS), len(TOPICS)))


def test_h3_reviews_helped_and_what_was_never_reviewed_is_the_same() -> None:
    memory, at = _reviewed(), MONDAY + timedelta(days=30)
    known, without = memory.retention(at), memory.without_reviews().retention(at)
    assert (without.mean[:, :4] < known.mean[:, :4]).all()
    np.testing.assert_allclose(without.mean[:, 4], known.mean[:, 4])
    assert ((without.low <= without.mean) & (without.mean <= without.high)).all()


def test_h3_looking_at_the_twin_leaves_the_class_as_it_was() -> None:
    memory, at = _reviewed(), MONDAY + timedelta(days=30)
    before = memory.retention(at).mean
    twin = memory.without_reviews()
    twin.taught("t2", MONDAY + timedelta(days=25))
    twin.retention(at)
    np.testing.assert_array_equal(memory.retention(at).mean, before)
    assert memory.counts()[1].sum() == 6 * 4 * 3


def test_h3_a_class_that_was_taught_nothing_has_an_empty_twin() -> None:
    twin = ClassMemory(STUDENTS, TOPICS).without_reviews()
    assert not twin.retention(MONDAY).mean.any()


@pytest.mark.parametrize("kind", range(4))
def test_h3_a_history_of_one_kind_keeps_its_events_in_order(kind: int) -> None:
    history = _reviewed().history
    kept = history.of_kind(kind)
    for pair in range(len(history.count)):
        whole = history.kind[pair, : history.count[pair]] == kind
        np.testing.assert_array_equal(
            kept.time[pair, : kept.count[pair]], history.time[pair, : history.count[pair]][whole]
        )
        assert np.isinf(kept.time[pair, kept.count[pair] :]).all()
