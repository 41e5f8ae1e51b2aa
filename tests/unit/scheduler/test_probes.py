"""One prompt of an evening goes to a time since the last meeting that few answers of the class tell of."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from scheduler import planner
from scheduler.memory import ClassMemory
from scheduler.planner import plan_day, topics_today
from scheduler.probes import FEW_ANSWERS, FEWEST_PROMPTS, answers_by_span
from scheduler.values import Dates, PlannedReview

MONDAY = datetime(2026, 9, 7, 9, 0, tzinfo=UTC)
NOW = MONDAY + timedelta(days=40, hours=9)
SIZE = FEWEST_PROMPTS // 2  # students who are asked two questions each
TOPICS = ["density", "moments", "springs", "waves"]
QUIZ = Dates(quizzes=((MONDAY + timedelta(days=45), ("moments", "springs", "waves")),))


def a_class(size: int = SIZE, told: int = 0) -> ClassMemory:
    """Return a class that met density forty days ago, of which `told` answered then; all else lately."""
    students = [f"s{number}" for number in range(size)]
    memory = ClassMemory(students, TOPICS)
    memory.taught("density", MONDAY)
    for topic in TOPICS[1:]:
        memory.taught(topic, MONDAY + timedelta(days=34))
    for number, student in enumerate(students):
        for topic in TOPICS[1:]:
            memory.answered(student, topic, NOW - timedelta(days=3), number % 3 > 0, 0.2)
    for student in students[:told]:
        memory.answered(student, "density", NOW - timedelta(hours=1), True, 0.2)
    return memory


def chosen(memory: ClassMemory) -> list[PlannedReview]:
    return [one for found in plan_day(memory, QUIZ, NOW, per_student_cap=2).reviews.values() for one in found]


def test_answers_are_counted_by_the_days_since_the_topic_was_last_met():
    memory = ClassMemory(["s"], ["t"])
    memory.taught("t", MONDAY)
    for day in (0.5, 3.5, 5.0, 45.0):  # half a day, three days, one and a half, forty after the last time
        memory.answered("s", "t", MONDAY + timedelta(days=day), True, 0.2)
    assert answers_by_span(memory.history).tolist() == [1, 1, 1, 0, 0, 0, 1, 0]


def test_a_quiz_is_no_answer_and_no_meeting():
    memory = ClassMemory(["s"], ["t"])
    memory.taught("t", MONDAY)
    memory.scored("s", "t", MONDAY + timedelta(days=9), 0.5, 4.0)
    memory.answered("s", "t", MONDAY + timedelta(days=10), True, 0.2)
    assert answers_by_span(memory.history).tolist() == [0, 0, 0, 0, 1, 0, 0, 0]


@pytest.mark.parametrize("told", [0, 4, FEW_ANSWERS - 1])
def test_one_prompt_goes_where_few_answers_exist_and_says_how_few(told):
    probes = [one for one in chosen(a_class(told=told)) if one.probes is not None]
    assert [(one.topic, one.probes) for one in probes] == [("density", told)]


@pytest.mark.parametrize("memory", [a_class(told=FEW_ANSWERS), a_class(SIZE - 1)])
def test_no_prompt_is_moved_where_enough_answers_exist_or_prompts_are_few(memory):
    assert [one.probes for one in chosen(memory) if one.probes is not None] == []


def test_a_probe_takes_the_place_of_its_students_least_review_and_of_nothing_else(monkeypatch):
    probed = chosen(a_class())
    monkeypatch.setattr(planner, "FEWEST_PROMPTS", 1_000)
    plain = chosen(a_class())
    (probe,) = (one for one in probed if one.probes is not None)
    before = [one for one in plain if one.student == probe.student]
    least = min(before, key=lambda one: one.gain)
    kept = {(one.student, one.topic) for one in plain} - {(probe.student, least.topic)}
    assert {(one.student, one.topic) for one in probed} == kept | {(probe.student, "density")}


def test_both_calls_choose_the_same_probe():
    plan = plan_day(a_class(), QUIZ, NOW, per_student_cap=2)
    names = topics_today(a_class(), QUIZ, NOW, per_student_cap=2)
    assert {student: topics for student, topics in names.items() if topics} == plan.topics()


def test_who_must_not_be_asked_is_not_probed():
    memory = a_class(SIZE + 5)
    caps = np.array([2] * SIZE + [0] * 5)
    plan = plan_day(memory, QUIZ, NOW, per_student_cap=caps)
    assert all(not plan.reviews[student] for student in memory.students[SIZE:])
    assert sum(one.probes is not None for found in plan.reviews.values() for one in found) == 1
