"""What must hold for any term: caps, allowances, allowed evenings, and the same plan for the same data."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.model.memory import ClassMemory
from scheduler.plan.planner import forecast, next_moments, plan_day
from scheduler.values import Dates

MONDAY = datetime(2026, 9, 7, 9, 0, tzinfo=UTC)
STUDENTS = ("ada", "ben", "cai")


@st.composite
def situations(draw):
    lessons = draw(st.lists(st.integers(0, 40), min_size=1, max_size=6))
    topics = [f"t{number}" for number in range(len(lessons))]
    taught = [(MONDAY + timedelta(days=day), topic) for day, topic in zip(lessons, topics, strict=True)]
    tested = draw(st.lists(st.tuples(st.integers(1, 60), st.sets(st.sampled_from(topics))), max_size=3))
    tests = tuple((MONDAY + timedelta(days=day, hours=1), tuple(sorted(covered))) for day, covered in tested)
    now = MONDAY + timedelta(days=draw(st.integers(0, 50)), hours=9)
    evenings = tuple(now + timedelta(days=day) for day in sorted(draw(st.sets(st.integers(1, 30)))))
    memory = ClassMemory(STUDENTS, topics)
    for at, topic in taught:
        if at <= now:
            memory.taught(topic, at)
    cap = np.array(draw(st.lists(st.integers(0, 3), min_size=3, max_size=3)))
    allowance = np.array(draw(st.lists(st.integers(0, 9), min_size=3, max_size=3)), dtype=float)
    return memory, Dates(tests, (), tuple(taught), evenings), now, cap, allowance


@settings(max_examples=40, deadline=None)
@given(situations())
def test_a_plan_keeps_cap_and_allowance_and_asks_only_what_was_taught(situation):
    memory, dates, now, cap, allowance = situation
    plan = plan_day(memory, dates, now, per_student_cap=cap, allowance_left=allowance)
    taught = {topic for at, topic in dates.lessons if at <= now}
    for number, student in enumerate(STUDENTS):
        asked = plan.topics().get(student, [])
        assert len(asked) <= min(cap[number], allowance[number])
        assert len(set(asked)) == len(asked)
        assert set(asked) <= taught


@settings(max_examples=25, deadline=None)
@given(situations())
def test_the_same_data_give_the_same_plan_and_it_gains(situation):
    memory, dates, now, cap, allowance = situation
    once = plan_day(memory, dates, now, per_student_cap=cap, allowance_left=allowance)
    assert once == plan_day(memory, dates, now, per_student_cap=cap, allowance_left=allowance)
    for reviews in once.reviews.values():
        gains = [review.gain for review in reviews]
        assert gains == sorted(gains, reverse=True)
        assert all(gain > 0.0 for gain in gains)


@settings(max_examples=25, deadline=None)
@given(situations())
def test_every_next_moment_is_one_of_the_allowed_evenings(situation):
    memory, dates, now, cap, allowance = situation
    moments = next_moments(memory, dates, now, per_student_cap=cap, allowance_left=allowance)
    if dates.evenings:
        allowed = {np.datetime64(at.replace(tzinfo=None), "s") for at in dates.evenings}
        assert {moment for moment in moments.ravel() if not np.isnat(moment)} <= allowed
    known = moments[~np.isnat(moments)]
    assert (known > np.datetime64(now.replace(tzinfo=None), "s")).all()


@settings(max_examples=15, deadline=None)
@given(situations())
def test_a_forecast_is_a_probability_inside_its_interval(situation):
    memory, dates, now, cap, allowance = situation
    at = now + timedelta(days=20)
    for planned in (False, True):
        one = forecast(memory, dates, now, at, planned=planned, per_student_cap=cap, allowance_left=allowance)
        assert (one.low >= 0.0).all()
        assert (one.low <= one.mean).all()
        assert (one.mean <= one.high).all()
        assert (one.high <= 1.0).all()
