"""The dose that a timetable needs, on timetables that can be counted by hand."""

from __future__ import annotations

import numpy as np
import pytest

from scheduler.plan.dose import ANSWERS_A_TOPIC, Timetable

SHARE = 0.75


def term(topics: int, evenings: int, share: float = SHARE) -> Timetable:
    """Topics spread over the first three quarters of the evenings, tested once after the last."""
    taught = np.linspace(0.0, 0.75 * evenings, topics).round()
    return Timetable(taught, np.full(topics, evenings + 1.0), np.arange(evenings) + 0.5, share)


def test_thirty_one_topics_in_sixty_evenings_take_three_questions() -> None:
    dose = term(31, 60).needed(10)
    assert (dose.questions, dose.topics, dose.evenings) == (3, 31, 60)
    assert dose.enough
    # Together they want 31 * 4 of the 60 * 3 * 0.75 answers that there are.
    assert ANSWERS_A_TOPIC - 0.5 <= dose.answers <= 60 * 3 * SHARE / 31 + 1e-9


def test_fewer_evenings_take_more_questions() -> None:
    three_days = Timetable(np.zeros(20), np.full(20, 90.0), np.arange(36) * 7 / 3 + 0.5, SHARE)
    five_days = Timetable(np.zeros(20), np.full(20, 90.0), np.arange(60) * 7 / 5 + 0.5, SHARE)
    assert five_days.needed(10).questions == 2
    assert three_days.needed(10).questions == 3


def test_the_tightest_stretch_decides() -> None:
    # Ten topics in the last ten evenings before the test want 40 answers, whatever room there was before.
    taught = np.array([0.0, *[50.0] * 10])
    timetable = Timetable(taught, np.full(11, 60.0), np.arange(60) + 0.5, 1.0)
    assert timetable.questions_for(4.0) == pytest.approx(4.0)


def test_a_topic_taught_the_day_before_its_test_wants_what_it_can_get() -> None:
    timetable = Timetable(np.array([9.0]), np.array([10.0]), np.arange(10) + 0.5, 1.0)
    assert timetable.questions_for(4.0) == pytest.approx(1.0)
    assert timetable.needed(10).answers == pytest.approx(1.0)


def test_topics_that_cannot_be_asked_before_their_test_do_not_count() -> None:
    timetable = Timetable(np.array([0.0, 9.9]), np.array([8.0, 10.0]), np.arange(10) + 0.5, 1.0)
    assert timetable.needed(10).topics == 1


def test_answers_so_far_are_taken_off() -> None:
    evenings = np.arange(10) + 0.5
    fresh = Timetable(np.zeros(10), np.full(10, 11.0), evenings, 1.0)
    asked = Timetable(np.zeros(10), np.full(10, 11.0), evenings, 1.0, np.full(10, 3.0))
    assert fresh.questions_for(4.0) == pytest.approx(4.0)
    assert asked.questions_for(4.0) == pytest.approx(1.0)
    assert asked.dose(1).answers == pytest.approx(4.0)


def test_more_than_is_allowed_is_never_asked_and_said_to_be_too_little() -> None:
    dose = term(200, 40).needed(10)
    assert dose.questions == 10
    assert not dose.enough
    assert dose.answers == pytest.approx(40 * 10 * SHARE / 200, abs=0.3)


def test_without_evenings_nothing_can_be_asked() -> None:
    dose = Timetable(np.zeros(3), np.full(3, 9.0), np.array([]), SHARE).needed(10)
    assert (dose.topics, dose.answers, dose.enough) == (0, 0.0, False)


@pytest.mark.parametrize(
    ("share", "tested", "wrong"),
    [(0.0, [1.0], "share"), (1.2, [1.0], "share"), (0.5, [1.0, 2.0], "one last test")],
)
def test_what_is_no_timetable_is_refused(share: float, tested: list[float], wrong: str) -> None:
    with pytest.raises(ValueError, match=wrong):
        Timetable(np.zeros(1), np.array(tested), np.arange(3.0), share)


def test_at_least_one_question_has_to_be_allowed() -> None:
    with pytest.raises(ValueError, match="At least one"):
        term(3, 10).needed(0)
