"""The calls that the bot makes, on a small class."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from scheduler.model.fitting import fit, pool
from scheduler.model.memory import ClassMemory
from scheduler.plan.planner import explain, forecast, next_moments, plan_day, starter, topics_today
from scheduler.values import Dates, Parameters

MONDAY = datetime(2026, 9, 7, 9, 0, tzinfo=UTC)
STUDENTS = ["ada", "ben", "cai"]
TOPICS = ["density", "moments", "springs"]
EVENING = MONDAY + timedelta(days=3, hours=9)
DATES = Dates(
    quizzes=((MONDAY + timedelta(days=14), ("density", "moments")),),
    lessons=(
        (MONDAY, "density"),
        (MONDAY + timedelta(days=2), "moments"),
        (MONDAY + timedelta(days=7), "springs"),
    ),
)


@pytest.fixture
def memory() -> ClassMemory:
    memory = ClassMemory(STUDENTS, TOPICS)
    memory.taught("density", MONDAY)
    memory.taught("moments", MONDAY + timedelta(days=2))
    return memory


def test_retention_of_a_topic_not_yet_taught_is_zero(memory):
    retention = memory.retention(EVENING)
    assert retention.mean.shape == (3, 3)
    assert (retention.mean[:, 2] == 0.0).all()
    assert (retention.low <= retention.mean).all()
    assert (retention.mean <= retention.high).all()
    assert (retention.mean[:, 0] < retention.mean[:, 1]).all()


def test_an_absent_student_was_not_taught():
    memory = ClassMemory(STUDENTS, TOPICS)
    memory.taught("density", MONDAY, present=np.array([True, False, True]))
    assert (memory.retention(EVENING).mean[:, 0] > 0).tolist() == [True, False, True]


def test_a_right_answer_raises_and_a_wrong_one_lowers_what_is_expected_later(memory):
    other = ClassMemory(STUDENTS, TOPICS)
    other.taught("density", MONDAY)
    other.taught("moments", MONDAY + timedelta(days=2))
    memory.answered("ada", "density", EVENING, True, 0.25)
    other.answered("ada", "density", EVENING, False, 0.25)
    later = EVENING + timedelta(days=10)
    assert memory.retention(later).mean[0, 0] > other.retention(later).mean[0, 0]


def test_an_unanswered_prompt_changes_only_the_response_rate(memory):
    before, rate = memory.retention(EVENING).mean, memory.response_rate()
    memory.answered("ada", "density", EVENING, None, 0.25)
    assert memory.retention(EVENING).mean == pytest.approx(before)
    assert memory.response_rate()[0] < rate[0]


def test_a_plan_keeps_the_cap_and_explains_itself(memory):
    plan = plan_day(memory, DATES, EVENING, per_student_cap=np.array([1, 0, 2]))
    assert len(plan.reviews["ada"]) <= 1
    assert not plan.reviews["ben"]
    assert len(plan.reviews["cai"]) <= 2
    told = explain(plan.reviews["cai"][0])
    assert told["with_review"] > told["without"]
    assert json.dumps({key: value for key, value in told.items() if key != "target"})


def test_topics_of_today_are_those_of_the_plan_with_its_reasons(memory):
    caps, left = np.array([1, 0, 2]), np.array([9.0, 9.0, 1.0])
    plan = plan_day(memory, DATES, EVENING, per_student_cap=caps, allowance_left=left)
    topics = topics_today(memory, DATES, EVENING, per_student_cap=caps, allowance_left=left)
    assert {student: chosen for student, chosen in topics.items() if chosen} == plan.topics()
    assert plan.topics()


def test_a_plan_says_when_a_cap_is_negative(memory):
    with pytest.raises(ValueError, match="cap is negative"):
        topics_today(memory, DATES, EVENING, per_student_cap=-1)


def test_laws_that_weigh_nearly_nothing_are_not_followed_and_change_nothing(memory):
    names = list(memory.parameters.laws)
    weights = dict(zip(names, [0.99996, 4e-5, 0.0, 0.0], strict=True))
    laws = {name: replace(law, weight=weights[name]) for name, law in memory.parameters.laws.items()}
    memory.adopt(replace(memory.parameters, laws=laws), {})
    assert [view.law.name for view in memory.views()] == names[:1]
    assert memory.expected(EVENING)[:, 0].min() > 0.1


def test_every_taught_topic_comes_back_before_its_quiz(memory):
    moments = next_moments(memory, DATES, EVENING, per_student_cap=1)
    assert moments.dtype == np.dtype("datetime64[s]")
    quiz = np.datetime64((MONDAY + timedelta(days=14)).replace(tzinfo=None), "s")
    assert (moments[:, :2] < quiz).all()


def test_planned_reviews_lift_the_forecast(memory):
    at = MONDAY + timedelta(days=14)
    without = forecast(memory, DATES, EVENING, at, planned=False)
    lifted = forecast(memory, DATES, EVENING, at, planned=True)
    assert (lifted.mean[:, :2] > without.mean[:, :2]).all()


def test_a_starter_ranks_taught_topics_only(memory):
    ranked = starter(memory, DATES, EVENING, 5)
    assert {topic for topic, _ in ranked} == {"density", "moments"}
    assert ranked[0][1] >= ranked[1][1]


def test_parameters_survive_json_and_pooling(memory):
    memory.answered("ada", "density", EVENING, True, 0.25, "q1")
    fitted = fit(memory)
    assert Parameters.from_dict(json.loads(json.dumps(fitted.to_dict()))) == fitted
    assert sum(law.weight for law in pool([fitted]).laws.values()) == pytest.approx(1.0)
    with pytest.raises(ValueError, match="damaged"):
        Parameters.from_dict({"laws": {}})


def test_wrong_names_and_naive_moments_are_refused(memory):
    with pytest.raises(KeyError, match="no student 'zoe'"):
        memory.homework("zoe", "density", EVENING)
    with pytest.raises(ValueError, match="no time zone"):
        memory.taught("density", EVENING.replace(tzinfo=None))
    with pytest.raises(ValueError, match="chance level"):
        memory.answered("ada", "density", EVENING, True, 1.0)
    with pytest.raises(ValueError, match="stands twice"):
        ClassMemory(["ada", "ada"], TOPICS)
