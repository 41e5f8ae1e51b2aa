"""What must hold for any history: probabilities, order of events, gentle treatment of time."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import pairwise

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.model.fitting import fit
from scheduler.model.memory import ClassMemory
from scheduler.values import Parameters

MONDAY = datetime(2026, 9, 7, 9, 0, tzinfo=UTC)
STUDENTS, TOPICS = ("ada", "ben", "cai"), ("density", "moments")
EVENTS = st.lists(
    st.tuples(
        st.sampled_from(STUDENTS),
        st.sampled_from(TOPICS),
        st.floats(0.1, 80.0),
        st.sampled_from(["right", "wrong", "silent", "homework", "score"]),
        st.floats(0.0, 0.5),
    ),
    max_size=12,
)


def told(events) -> ClassMemory:
    memory = ClassMemory(STUDENTS, TOPICS)
    for topic in TOPICS:
        memory.taught(topic, MONDAY)
    for student, topic, after, what, chance in events:
        at = MONDAY + timedelta(days=after)
        if what == "homework":
            memory.homework(student, topic, at)
        elif what == "score":
            memory.scored(student, topic, at, share=chance, items=3.0)
        else:
            memory.answered(student, topic, at, {"right": True, "wrong": False}.get(what), chance)
    return memory


@settings(max_examples=25, deadline=None)
@given(EVENTS)
def test_retention_is_a_probability_inside_its_interval_and_falls_with_time(events):
    memory = told(events)
    courses = [memory.retention(MONDAY + timedelta(days=81 + later)) for later in (0, 3, 20, 200)]
    for one in courses:
        assert (one.low <= one.mean).all()
        assert (one.mean <= one.high).all()
        assert (one.low >= 0.0).all()
        assert (one.high <= 1.0).all()
    for sooner, later in pairwise(courses):
        assert (later.mean <= sooner.mean + 1e-9).all()


@settings(max_examples=15, deadline=None)
@given(EVENTS, st.randoms(use_true_random=False))
def test_the_order_in_which_events_are_told_does_not_matter(events, random):
    moments = {after for _, _, after, _, _ in events}
    if len(moments) < len(events):
        return
    shuffled = list(events)
    random.shuffle(shuffled)
    at = MONDAY + timedelta(days=90)
    assert np.allclose(told(events).expected(at), told(shuffled).expected(at), atol=1e-6)


@settings(max_examples=15, deadline=None)
@given(EVENTS)
def test_a_fit_gives_parameters_that_survive_storage_and_predict_alike(events):
    memory = told(events)
    fitted = fit(memory)
    again = Parameters.from_dict(fitted.to_dict())
    assert again == fitted
    rates = memory.response_rate()
    assert (rates > 0.0).all()
    assert (rates <= 1.0).all()


@settings(max_examples=15, deadline=None)
@given(EVENTS, st.floats(0.1, 0.9))
def test_retention_is_at_the_level_when_it_is_said_to_fall_to_it(events, level):
    memory = told(events)
    days = memory.falls_to(level)
    _, _, last = memory.counts()
    for student, topic in np.argwhere((days > 0.01) & np.isfinite(days)):
        at = datetime.fromtimestamp((last[student, topic] + days[student, topic]) * 86_400.0, UTC)
        assert abs(memory.expected(at)[student, topic] - level) < 2e-3
