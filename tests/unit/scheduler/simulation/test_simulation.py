"""The seam for simulated students and policies, and the policies' own rules."""

from __future__ import annotations

from collections import Counter
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from scheduler.simulation import (
    POLICIES,
    SimulatedClass,
    Term,
    evaluate,
    example_term,
    format_table,
    make_policy,
    run_term,
)

STUDENTS = ["ada", "ben", "cai"]
MONDAY = date(2026, 9, 7)
TERM = Term(
    lessons=[
        (MONDAY, "density"),
        (MONDAY + timedelta(days=2), "moments"),
        (MONDAY + timedelta(days=9), "springs"),
    ],
    quizzes=[(MONDAY + timedelta(days=14), ["density", "moments"])],
    exams=[(MONDAY + timedelta(days=40), ["density", "moments", "springs"])],
    holidays=[MONDAY + timedelta(days=5), MONDAY + timedelta(days=6)],
)


class Stubborn:
    """A learner of one's own: knows everything on even days, answers every nudge."""

    responsiveness = 1.0

    def __init__(self) -> None:
        self.attended: list[str] = []

    def attend(self, topic: str, at: datetime) -> None:
        self.attended.append(topic)

    def answer(self, topic: str, at: datetime, chance: float) -> bool:
        return at.day % 2 == 0

    def recall(self, topic: str, at: datetime) -> float:
        return float(topic in self.attended)


def test_learners_of_ones_own_run_through_a_term():
    learners = {name: Stubborn() for name in STUDENTS}
    run = run_term(TERM, learners, "personal", prompts_per_day=1, seed=1)
    assert all(one.attended == ["density", "moments", "springs"] for one in learners.values())
    assert {asked.correct for asked in run.asked} <= {True, False}
    assert run.tests[0][2].tolist() == [[1.0, 1.0]] * 3
    assert run.forecast(datetime(2026, 10, 1, tzinfo=UTC)).shape == (3, 3)


@pytest.mark.parametrize("name", POLICIES)
def test_every_policy_keeps_caps_allowance_and_holidays(name):
    room = SimulatedClass("power", STUDENTS, TERM.topics, seed=2)
    run = run_term(TERM, room.learners(), name, prompts_per_day=1, prompts_per_term=4, seed=3)
    assert all(count <= 4 for count in Counter(one.student for one in run.asked).values())
    per_day = Counter((one.student, TERM.day(one.at)) for one in run.asked)
    assert all(count == 1 for count in per_day.values())
    assert not {day for _, day in per_day} & set(TERM.holidays)


@pytest.mark.parametrize("name", ["homework", "fixed", "random", "threshold", "personal"])
def test_the_cap_and_the_allowance_hold_however_often_a_day_is_asked_about(name):
    policy = make_policy(name, TERM, students=STUDENTS, prompts_per_day=1, prompts_per_term=3, seed=0)
    asked: Counter[str] = Counter()
    for at, topic in TERM.dates.lessons:
        policy.lesson(topic, at)
    for day in range(10, 40):
        evening = datetime(2026, 9, 7, 17, tzinfo=UTC) + timedelta(days=day)
        first = policy.choose(evening)
        assert policy.choose(evening) == first
        for student, topics in first.items():
            assert len(topics) == 1
            asked[student] += 1
            policy.observe(student, topics.pop(), evening, True)
        again = policy.choose(evening + timedelta(hours=2))
        assert sum(map(len, again.values())) == len(first)
    # What is chosen again is the same prompt, which uses up no more of the allowance.
    assert asked == dict.fromkeys(STUDENTS, 3)


def test_an_empty_choice_in_the_morning_leaves_the_evening_open():
    policy = make_policy("random", TERM, students=["ada"], prompts_per_day=1, prompts_per_term=60, seed=0)
    assert not policy.choose(datetime(2026, 9, 7, 6, tzinfo=UTC))
    policy.lesson("density", datetime(2026, 9, 7, 8, tzinfo=UTC))
    assert policy.choose(datetime(2026, 9, 7, 17, tzinfo=UTC)) == {"ada": ["density"]}


def test_a_student_who_is_not_asked_has_no_topics():
    policy = make_policy("personal", TERM, students=STUDENTS, prompts_per_day=1, prompts_per_term=3, seed=0)
    chosen = policy.choose(datetime(2026, 9, 12, 17, tzinfo=UTC))
    assert not chosen
    assert chosen["ada"] == []


@pytest.mark.parametrize("name", ["random", "threshold", "personal", "oracle"])
def test_the_same_seed_gives_the_same_term(name):
    runs = [
        run_term(
            TERM,
            SimulatedClass("steps", STUDENTS, TERM.topics, 5).learners(),
            name,
            prompts_per_day=1,
            seed=6,
        )
        for _ in range(2)
    ]
    assert runs[0].asked == runs[1].asked


def test_homework_asks_once_the_day_after():
    policy = make_policy("homework", TERM, students=["ada"], prompts_per_day=2, prompts_per_term=9, seed=0)
    policy.lesson("density", datetime(2026, 9, 7, 9, tzinfo=UTC))
    assert policy.choose(datetime(2026, 9, 7, 18, tzinfo=UTC)) == {}
    evening = datetime(2026, 9, 8, 18, tzinfo=UTC)
    assert policy.choose(evening) == {"ada": ["density"]}
    policy.observe("ada", "density", evening, None)
    assert policy.choose(evening + timedelta(days=1)) == {"ada": ["density"]}
    policy.observe("ada", "density", evening + timedelta(days=1), True)
    assert policy.choose(evening + timedelta(days=2)) == {}


def test_a_fixed_list_counts_its_gaps_from_the_answer():
    policy = make_policy(
        "fixed", TERM, students=["ada"], prompts_per_day=2, prompts_per_term=9, seed=0, gaps=(1, 5)
    )
    policy.lesson("density", datetime(2026, 9, 7, 9, tzinfo=UTC))
    asked = []
    for day in range(1, 10):
        evening = datetime(2026, 9, 7 + day, 18, tzinfo=UTC)
        for topic in policy.choose(evening).get("ada", []):
            asked.append(day)
            policy.observe("ada", topic, evening, True)
    assert asked == [
        1,
        7,
    ]  # five days after the answer, and in the evening of the day on which that time is over


def test_massed_asks_on_the_days_just_before_the_quiz():
    room = SimulatedClass("power", STUDENTS, TERM.topics, seed=2)
    run = run_term(TERM, room.learners(), "massed", prompts_per_day=1, seed=3)
    assert {(TERM.day(one.at) - MONDAY).days for one in run.asked} == {12, 13}


def test_a_term_takes_dates_and_datetimes_alike_and_refuses_nonsense():
    moment = Term(lessons=[(datetime(2026, 9, 7, 8, tzinfo=UTC), "density")])
    assert moment.dates.lessons == Term(lessons=[(MONDAY, "density")]).dates.lessons
    with pytest.raises(ValueError, match="without a lesson: optics"):
        Term(lessons=[(MONDAY, "density")], quizzes=[(MONDAY, ["optics"])])
    with pytest.raises(ValueError, match="no time zone"):
        Term(lessons=[(datetime(2026, 9, 7, 8), "density")])  # noqa: DTZ001 - that is the point
    with pytest.raises(ValueError, match="at least one lesson"):
        Term(lessons=[])


def test_holidays_may_come_as_a_generator_and_as_moments():
    early_on_tuesday = datetime(2026, 9, 7, 23, 30, tzinfo=UTC)  # 00:30 in London
    free = [early_on_tuesday, MONDAY + timedelta(days=3)]
    term = Term(lessons=TERM.lessons, holidays=(day for day in free))
    days = [datetime(2026, 9, day, 17, tzinfo=UTC) for day in (7, 8, 10, 11)]
    for _ in range(2):
        assert [term.is_holiday(day) for day in days] == [False, True, True, False]
    assert [at.day for at in term.evenings(days[0])] == [7, 9, 11, 12, 13, 14, 15, 16]
    with pytest.raises(ValueError, match="no time zone"):
        Term(TERM.lessons, holidays=[datetime(2026, 9, 8)]).is_holiday(days[0])  # noqa: DTZ001 - that is the point


def test_unknown_names_are_refused_with_the_choice():
    with pytest.raises(ValueError, match="choose from none, homework"):
        make_policy("hope", TERM, students=STUDENTS, prompts_per_day=1, prompts_per_term=1, seed=0)
    with pytest.raises(ValueError, match="choose from power"):
        SimulatedClass("elephants", STUDENTS, TERM.topics, 1)


def test_true_recall_is_zero_before_the_lesson_and_read_without_a_side_effect():
    room = SimulatedClass("context", STUDENTS, TERM.topics, seed=2)
    ada = room.learners()["ada"]
    at = datetime(2026, 9, 8, 18, tzinfo=UTC)
    assert ada.recall("density", at) == 0.0
    ada.attend("density", at - timedelta(days=1))
    first = ada.recall("density", at)
    assert 0.0 < first < 1.0
    assert ada.recall("density", at) == first
    assert room.retention(at)[0, 0] == pytest.approx(first)


def test_evaluation_gives_one_row_per_class_and_policy_and_a_table():
    told: list[tuple[int, int]] = []
    rows = evaluate(
        families=["steps"],
        policies=["none", "fixed", "personal"],
        seeds=[1, 2],
        n_students=4,
        term=example_term(6, 24),
        progress=lambda done, total: told.append((done, total)),
    )
    assert told[-1] == (6, 6)
    assert [row.policy for row in rows].count("personal") == 2
    none, fixed, personal = (
        np.mean([row.tests for row in rows if row.policy == name]) for name in ("none", "fixed", "personal")
    )
    assert none < fixed
    assert none < personal
    table = format_table(rows)
    assert len(table.splitlines()) == 4
    assert "points ±" in table


def test_a_term_with_an_exam_alone_is_compared_without_quizzes():
    rows = evaluate(
        families=["steps"],
        policies=["fixed", "personal"],
        seeds=[1, 2],
        n_students=3,
        term=example_term(6, 24, quizzes=False),
    )
    assert all(np.isnan(row.below_half) and 0.0 < row.tests < 1.0 for row in rows)
    assert "nan" not in format_table(rows)


def test_a_term_without_any_test_is_refused():
    term = example_term(6, 24)
    with pytest.raises(ValueError, match="neither a quiz nor an exam"):
        evaluate(families=["steps"], policies=["none"], term=Term(term.dates.lessons, [], []))


@pytest.mark.slow
@pytest.mark.parametrize("family", ["activation", "steps", "halving"])
def test_personal_reviews_beat_the_best_fixed_list_for_every_family(family):
    rows = evaluate(
        families=[family],
        policies=["fixed", "personal"],
        seeds=[21],
        n_students=12,
        term=example_term(18, 50),
    )
    fixed, personal = (next(row for row in rows if row.policy == name) for name in ("fixed", "personal"))
    assert personal.tests > fixed.tests
    assert personal.below_half < fixed.below_half
