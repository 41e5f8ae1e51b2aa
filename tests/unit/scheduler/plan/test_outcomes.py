"""What a dose leads to, and as few questions as reach a target."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from scheduler.model.memory import ClassMemory
from scheduler.plan.outcomes import Prospects, reaches
from scheduler.plan.planner import forecast, plan_day
from scheduler.values import Dates

MONDAY = datetime(2026, 9, 7, 18, 0, tzinfo=UTC)
TOPICS = [f"t{number}" for number in range(8)]
EXAM = MONDAY + timedelta(days=60)
DATES = Dates(
    exams=((EXAM, tuple(TOPICS)),),
    lessons=tuple((MONDAY + timedelta(days=3 * n, hours=-9), topic) for n, topic in enumerate(TOPICS)),
    evenings=tuple(MONDAY + timedelta(days=n) for n in range(1, 40)),
)


def memory(*students: str) -> ClassMemory:
    """A class that has had the first two lessons, the second student with everything known well."""
    room = ClassMemory(students or ("ann", "ben"), TOPICS)
    for number in range(2):
        room.taught(TOPICS[number], DATES.lessons[number][0] - timedelta(days=7))
    return room


def test_more_questions_lead_to_more_and_none_to_what_is_left() -> None:
    prospects = Prospects(memory(), DATES, MONDAY)
    known = [prospects.of(number).known for number in (0, 1, 2, 4, 8)]
    assert known == sorted(known)
    assert known[0] < known[1] - 0.1
    assert prospects.of(0).asked == 0.0


def test_lessons_to_come_count_as_taught_by_the_exam() -> None:
    (exam,) = Prospects(memory(), DATES, MONDAY).of(0).dates
    assert exam.counted.all()
    # The later the lesson, the more is left of it.
    left = exam.retention.mean[0, 2:]
    assert (np.diff(left) > 0.0).all()


def test_the_model_is_not_changed() -> None:
    room = memory()
    before = room.retention(EXAM).mean
    Prospects(room, DATES, MONDAY).of(3)
    assert np.array_equal(room.retention(EXAM).mean, before)


def test_a_topic_that_cannot_be_asked_about_does_not_count() -> None:
    askable = np.ones((2, 8), dtype=bool)
    askable[:, 3] = False
    (exam,) = Prospects(memory(), DATES, MONDAY, askable=askable).of(2).dates
    assert not exam.counted[:, 3].any()
    assert exam.counted[:, 4].all()


@pytest.mark.parametrize("target", [0.5, 0.6, 0.7, 0.8])
def test_a_target_takes_as_few_as_reach_it(target: float) -> None:
    prospects = Prospects(memory(), DATES, MONDAY)
    found = prospects.reaching(target, 10)
    assert reaches(found, target)
    assert found.known < target + 0.05
    assert found.questions == 1 or not reaches(prospects.of(found.questions - 1, target=target), target)


def test_a_higher_target_never_takes_fewer_questions() -> None:
    prospects = Prospects(memory(), DATES, MONDAY)
    asked = [prospects.of(10, target=target).asked for target in (0.4, 0.5, 0.6, 0.7, 0.8, 0.9)]
    assert asked == sorted(asked)
    assert asked[-1] > 2 * asked[0]


def test_a_target_out_of_reach_gives_the_best_that_can_be_had() -> None:
    prospects = Prospects(memory(), DATES, MONDAY)
    found = prospects.reaching(0.95, 1)
    assert not reaches(found, 0.95)
    assert found.questions == 1
    assert found.known == pytest.approx(prospects.of(1).known, abs=0.005)


def test_who_knows_enough_is_left_in_peace() -> None:
    room = ClassMemory(("ann", "ben"), TOPICS)
    dates = Dates(exams=((MONDAY + timedelta(days=1), tuple(TOPICS[:2])),), evenings=DATES.evenings)
    for topic in TOPICS[:2]:
        room.taught(topic, MONDAY - timedelta(days=20))
    for day in (16, 10, 4, 1):
        for topic in TOPICS[:2]:
            room.answered("ann", topic, MONDAY - timedelta(days=day), True, 0.0)
            room.answered("ben", topic, MONDAY - timedelta(days=day), False, 0.0)
    kept = room.retention(MONDAY + timedelta(days=1)).mean[:, :2].mean(axis=1)
    assert kept[0] > 0.85 > kept[1] + 0.1
    asked = plan_day(room, dates, MONDAY, per_student_cap=2, target=0.85).topics()
    assert "ann" not in asked
    assert asked["ben"]
    assert "ann" in plan_day(room, dates, MONDAY, per_student_cap=2).topics()


def test_the_cap_holds_whatever_the_target() -> None:
    asked = plan_day(memory(), DATES, MONDAY, per_student_cap=np.array([1, 0]), target=0.95).topics()
    assert {student: len(topics) for student, topics in asked.items()} == {"ann": 1}


def test_a_forecast_with_reviews_counts_the_answering_share_once() -> None:
    """A plan holds reviews that happen already: whoever answers half of twice as many is as well off."""
    room, other = memory("ann"), memory("ann")
    for number in range(60):
        at = MONDAY - timedelta(days=3, minutes=number)
        room.answered("ann", TOPICS[0], at, None if number % 2 else True, 0.0)
        if not number % 2:
            other.answered("ann", TOPICS[0], at, True, 0.0)
    assert room.response_rate()[0] == pytest.approx(0.5, abs=0.03)
    half = forecast(room, DATES, MONDAY, EXAM, planned=True, per_student_cap=2)
    whole = forecast(other, DATES, MONDAY, EXAM, planned=True, per_student_cap=1)
    met = np.isfinite(room.counts()[2][0])
    assert half.mean[0, met] == pytest.approx(whole.mean[0, met], abs=0.04)
