"""Students change: old answers count less for the student they are of, and cost nothing where nobody changed."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from scheduler.model import drift
from scheduler.model.drift import HALF_LIFE_DAYS, settle_students, still_counts
from scheduler.model.fitting import fit
from scheduler.model.inference import estimate, initial
from scheduler.model.memory import ClassMemory
from scheduler.model.prior import PRIOR
from scheduler.simulation.learners import FAMILIES, SimulatedClass

MONDAY = datetime(2026, 9, 7, 9, 0, tzinfo=UTC)
STUDENTS = [f"s{number}" for number in range(8)]
TOPICS = [f"t{number}" for number in range(24)]


def two_halves(first: str, second: str) -> ClassMemory:
    """Return a class: two students wrong in one half of twelve weeks each, the others right three times in four.

    Each topic is asked once, four days after it was taught, so that only the student can explain a wrong answer.
    """
    memory = ClassMemory(STUDENTS, [*TOPICS, "new"])
    for number, topic in enumerate(TOPICS):
        at = MONDAY + timedelta(days=3.5 * number)
        memory.taught(topic, at)
        late = number >= len(TOPICS) // 2
        for row, student in enumerate(STUDENTS):
            right = {first: late, second: not late}.get(student, (number + row) % 4 != 0)
            memory.answered(student, topic, at + timedelta(days=4), right, 0.2)
    return memory


@pytest.mark.parametrize(("half_life", "apart"), [(HALF_LIFE_DAYS, 0.02), (60.0, 0.06), (1e9, 0.0)])
def test_who_got_better_is_expected_to_learn_more_than_who_got_worse(half_life, apart, monkeypatch):
    monkeypatch.setattr(drift, "HALF_LIFE_DAYS", half_life)
    memory = two_halves("s0", "s1")
    fit(memory)
    memory.taught("new", MONDAY + timedelta(days=85))
    better, worse = memory.expected(MONDAY + timedelta(days=92))[:2, -1]
    # Both were wrong in as many answers: without the discount they are alike.
    assert better - worse > apart if apart else abs(better - worse) < 0.01


def test_an_answer_counts_half_after_the_half_life():
    memory = ClassMemory(["ada"], ["density"])
    memory.taught("density", MONDAY)
    for age in (0.0, HALF_LIFE_DAYS, 2.0 * HALF_LIFE_DAYS):
        memory.answered("ada", "density", MONDAY + timedelta(days=1 + 2 * HALF_LIFE_DAYS - age), True, 0.2)
    assert still_counts(memory.problem("odds", PRIOR)) == pytest.approx([0.25, 0.5, 1.0])


@pytest.mark.parametrize("name", ["odds", "power", "stores", "activation"])
def test_answers_of_one_day_leave_the_posterior_mode_where_it_is(name):
    memory = ClassMemory(STUDENTS, TOPICS[:4])
    for topic in TOPICS[:4]:
        memory.taught(topic, MONDAY)
        for row, student in enumerate(STUDENTS):
            memory.answered(student, topic, MONDAY + timedelta(days=9), row % 3 != 0, 0.2)
    problem = memory.problem(name, PRIOR)
    mode = estimate(problem, initial(problem), steps=25)
    settled = settle_students(problem, mode)
    assert settled.student == pytest.approx(mode.student, abs=5e-3)
    assert np.diag(settled.covariance) == pytest.approx(np.diag(mode.covariance))


def test_old_answers_leave_more_doubt_about_a_student():
    problem = two_halves("s0", "s1").problem("odds", PRIOR)
    learned = estimate(problem, initial(problem), steps=6)
    wider = np.diag(settle_students(problem, learned).covariance - learned.covariance)
    own = slice(len(learned.theta), len(learned.theta) + len(STUDENTS))
    assert (wider[own] > 0.0).all()
    assert np.delete(wider, np.r_[own]) == pytest.approx(0.0)


def test_a_class_without_answers_stays_as_it_was_believed():
    memory = ClassMemory(STUDENTS, TOPICS)
    memory.taught("t0", MONDAY)
    problem = memory.problem("odds", PRIOR)
    assert settle_students(problem, initial(problem)).student.tolist() == [0.0] * len(STUDENTS)


@pytest.mark.parametrize("family", FAMILIES)
def test_simulated_students_who_change_take_over_how_another_of_them_learned(family):
    at = MONDAY + timedelta(days=40)
    room = SimulatedClass(family, STUDENTS, TOPICS, 3, changing=0.5, changes_on=at)
    same = SimulatedClass(family, STUDENTS, TOPICS, 3)
    for learners in (room.learners(), same.learners()):
        for student in STUDENTS:
            learners[student].attend("t0", MONDAY)
    before = MONDAY + timedelta(days=39)
    assert room.retention(before).tolist() == same.retention(before).tolist()
    room.retention(at)
    assert len(room.changed) == 4
    for name, value in room.parameters.items():
        assert value[room.changed].tolist() == same.parameters[name][np.roll(room.changed, 1)].tolist()
        kept = np.setdiff1d(np.arange(8), room.changed)
        assert value[kept].tolist() == same.parameters[name][kept].tolist()
