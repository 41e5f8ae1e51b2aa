"""What a class's model is told of its story: counts of a starter."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from bot.teaching.memories import build
from storage.history.class_history import ClassStory, Counted, GivenLesson, Happening, Reviewed

START = datetime(2026, 11, 2, 9, 0, tzinfo=UTC)
LESSON = START + timedelta(days=14)
LATER = START + timedelta(days=21)
STUDENTS = tuple(range(1, 31))


def answers() -> list[Happening]:
    """Every student answers topic 1 twice; the first ten never know it, the others always do."""
    return [
        Reviewed(student, 1, START + timedelta(days=day), "right" if student > 10 else "wrong")
        for student in STUDENTS
        for day in (3, 8)
    ]


def story(*more: Happening, absent: tuple[int, ...] = ()) -> ClassStory:
    told = (GivenLesson(1, START, absent), GivenLesson(2, START), *answers(), *more)
    return ClassStory(1, STUDENTS, (1, 2), told, (), (), (), None, None)


def expected(*more: Happening, absent: tuple[int, ...] = ()) -> np.ndarray:
    return build(story(*more, absent=absent)).expected(LATER)


def count(right: int, present: int = 30, **more: float) -> Counted:
    return Counted(7, 2, LESSON, right, present, **more)


def test_a_count_moves_the_topic_of_the_class_up_or_down() -> None:
    low, high = expected(count(3))[:, 1], expected(count(27))[:, 1]
    assert (low < high).all()
    assert high.mean() - low.mean() > 0.1


def test_differences_between_students_are_kept() -> None:
    before, after = expected()[:, 1], expected(count(15))[:, 1]
    gap = before[10:].mean() - before[:10].mean()
    assert gap > 0.05
    assert after[10:].mean() - after[:10].mean() > 0.7 * gap


def test_a_count_is_also_a_review_of_the_topic() -> None:
    without = build(story())
    # As many right as the model expects: what changes is that the topic was met again.
    right = round(30 * float(without.expected(LESSON)[:, 1].mean()))
    assert expected(count(right))[:, 1].mean() > without.expected(LATER)[:, 1].mean() + 0.05


def test_where_fewer_than_half_were_there_it_is_no_review_of_everybody() -> None:
    few, many = build(story(count(7, 14))), build(story(count(8, 16)))
    at = LESSON.timestamp() / 86_400
    assert (few.history.last_exposure().reshape(30, 2)[:, 1] < at).all()
    assert many.history.last_exposure().reshape(30, 2)[:, 1] == pytest.approx(np.full(30, at))


def test_a_count_is_nobodys_answer() -> None:
    with_count, without = build(story(count(15))), build(story())
    assert (with_count.counts()[1] == without.counts()[1]).all()
    assert (with_count.response_rate() == without.response_rate()).all()


def test_what_guessing_gives_counts_as_nothing_known() -> None:
    shares = [build(story(count(right, chance=0.25))).history.share for right in (7, 8, 30)]
    told = [share[1::2][np.isfinite(share[1::2])] for share in shares]
    assert told[0] == pytest.approx(np.zeros(30))  # 7 of 30 is less than guessing gives
    assert told[1] == pytest.approx(np.full(30, (8 / 30 - 0.25) / 0.75))
    assert told[2] == pytest.approx(np.ones(30))


def test_students_who_have_not_met_the_topic_are_told_nothing() -> None:
    memory = build(
        ClassStory(1, STUDENTS, (1, 2), (GivenLesson(2, START, (1, 2)), count(15)), (), (), (), None, None)
    )
    assert (memory.history.count.reshape(30, 2)[:2, 1] == 0).all()
    assert (memory.history.count.reshape(30, 2)[2:, 1] == 3).all()


def test_a_count_before_the_lesson_tells_nothing() -> None:
    early = Counted(7, 2, START - timedelta(days=1), 3, 30)
    assert expected(early) == pytest.approx(expected())
