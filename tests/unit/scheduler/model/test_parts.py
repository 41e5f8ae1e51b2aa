"""A class's model in part, and as it would be after today's reviews."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from scheduler.model.memory import ClassMemory
from scheduler.model.parts import ModelPart
from scheduler.plan.planner import next_moments, plan_day
from scheduler.values import Dates

DAY = timedelta(days=1)
NOW = datetime(2026, 11, 30, 18, tzinfo=UTC)
STUDENTS, TOPICS = ("a", "b"), ("t0", "t1", "t2", "t3")
DATES = Dates(
    quizzes=((NOW + 14 * DAY, TOPICS),),
    lessons=tuple((NOW - (9 - n) * DAY, topic) for n, topic in enumerate(TOPICS)),
    evenings=tuple(NOW + n * DAY for n in range(1, 15)),
)


def memory() -> ClassMemory:
    made = ClassMemory(STUDENTS, TOPICS)
    for at, topic in DATES.lessons:
        made.taught(topic, at)
    made.answered("a", "t0", NOW - 3 * DAY, True, 0.25)
    return made


def askable(*topics: str) -> np.ndarray:
    return np.tile([topic in topics for topic in TOPICS], (len(STUDENTS), 1))


def test_only_what_can_be_asked_about_is_planned():
    plan = plan_day(ModelPart(memory(), askable("t1", "t3")), DATES, NOW, per_student_cap=4)
    assert {topic for topics in plan.topics().values() for topic in topics} <= {"t1", "t3"}
    assert plan.topics()


def test_a_part_of_the_wrong_shape_is_refused():
    with pytest.raises(ValueError, match="askable has shape"):
        ModelPart(memory(), np.ones((1, 1), dtype=bool))


def test_the_whole_model_is_not_changed():
    whole = memory()
    before = whole.retention(NOW + 7 * DAY).mean.copy()
    ModelPart(whole, askable(*TOPICS)).after([("a", "t1")], NOW, right=False)
    np.testing.assert_array_equal(whole.retention(NOW + 7 * DAY).mean, before)


def recall_in_a_week(part: ModelPart, student: str, topic: str) -> float:
    """Return what the planner expects of a pair a week after the review."""
    pair = STUDENTS.index(student) * len(TOPICS) + TOPICS.index(topic)
    views = part.views()
    return float(sum(v.weight * v.recall(np.full(v.trait.shape[1], 7.0))[1, pair] for v in views))


def test_a_right_answer_promises_more_than_a_wrong_one_and_others_stay():
    part = ModelPart(memory(), askable(*TOPICS))
    right, wrong = (part.after([("a", "t1")], NOW, right=outcome) for outcome in (True, False))
    assert recall_in_a_week(right, "a", "t1") > recall_in_a_week(wrong, "a", "t1")
    for other in (("a", "t2"), ("b", "t1")):
        assert recall_in_a_week(right, *other) == recall_in_a_week(part, *other)


def test_what_was_reviewed_today_is_next_due_on_another_day():
    part = ModelPart(memory(), askable(*TOPICS)).after(
        [(s, t) for s in STUDENTS for t in TOPICS], NOW, right=True
    )
    moments = next_moments(part, DATES, NOW, per_student_cap=2)
    known = moments[~np.isnat(moments)]
    assert known.size
    assert (known > np.datetime64("2026-12-01T00:00")).all()
