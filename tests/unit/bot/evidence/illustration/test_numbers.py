"""The illustration for the class."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from bot.evidence.illustration.numbers import Exposure, exposures_of, illustration, measured_curves
from bot.evidence.illustration.picture import illustration_picture, illustration_text
from bot.words import Words
from storage.history.evidence_rows import AskedRecord, ClassRecord, ClassRecords

GROUP = ClassRecord(1, "10B", "10b", "Physics", "Europe/London", "en")
MONDAY = date(2026, 11, 2)


def _day(number: int) -> date:
    return MONDAY + timedelta(days=number - 1)


def test_the_blackboard_class_stands_at_30_without_and_60_with_one_review_on_day_7() -> None:
    """Topics on days 1, 3, 5: 20, 20, 50 without and 40, 55, 85 with a review (common practice, no source)."""
    shown = illustration(
        GROUP, [(_day(1), 1), (_day(3), 2), (_day(5), 3)], [(_day(7), (1, 2, 3))], until=_day(7)
    )
    day, levels = shown.on_quiz_days[0]
    assert day == _day(7)
    assert levels[:2] == (30.0, 60.0)
    assert shown.curves[:2, -1].tolist() == [30.0, 60.0]


def test_more_reviews_never_leave_less() -> None:
    lessons = [(_day(1 + 2 * number), number) for number in range(20)]
    shown = illustration(GROUP, lessons)
    assert np.all(np.diff(shown.curves, axis=0) >= 0.0)
    assert shown.days[0] == _day(1)
    assert shown.days[-1] == _day(39) + timedelta(days=14)


def test_a_second_lesson_of_a_topic_does_not_start_it_anew() -> None:
    once = illustration(GROUP, [(_day(1), 1)], until=_day(9))
    twice = illustration(GROUP, [(_day(1), 1), (_day(5), 1)], until=_day(9))
    assert np.array_equal(once.curves, twice.curves)


def test_the_next_quiz_is_shown_and_after_the_term_the_last() -> None:
    quizzes = [(_day(10), (1,)), (_day(20), (1,))]
    for today, expected in ((_day(5), _day(10)), (_day(11), _day(20)), (_day(40), _day(20))):
        shown = illustration(GROUP, [(_day(1), 1)], quizzes, today=today)
        assert shown.quiz is not None
        assert shown.quiz[0] == expected


def test_a_quiz_before_its_topics_are_taught_is_not_shown() -> None:
    shown = illustration(GROUP, [(_day(5), 1)], [(_day(4), (1,))])
    assert shown.quiz is None


def test_a_timetable_without_lessons_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one lesson"):
        illustration(GROUP, [])


# ---------------------------------------------------------------- the class's own curve


def _at(day: float) -> datetime:
    return datetime(2026, 11, 2, 9, tzinfo=UTC) + timedelta(days=day)


def _answer(day: float, verdict: str = "right") -> AskedRecord:
    return AskedRecord(1, 1, 1, _at(day), verdict=verdict, answered_at=_at(day))


def test_an_answer_is_counted_from_the_last_time_the_topic_was_met() -> None:
    found = exposures_of([_answer(3), _answer(10)], [(_at(0), 1)])
    assert [(row.days, row.reviews) for row in found] == [(3, 0), (7, 1)]


def test_a_second_lesson_counts_as_meeting_the_topic() -> None:
    found = exposures_of([_answer(10)], [(_at(0), 1), (_at(8), 1)])
    assert [(row.days, row.reviews) for row in found] == [(2, 0)]


def test_answers_on_the_day_of_the_lesson_say_nothing_about_forgetting() -> None:
    assert exposures_of([_answer(0.3)], [(_at(0), 1)]) == ()


def test_answers_before_the_first_lesson_are_left_out() -> None:
    assert exposures_of([_answer(-2)], [(_at(0), 1)]) == ()


def test_a_point_needs_fifteen_answers_of_five_students() -> None:
    four = [Exposure(student, 1, 0, True) for student in range(4) for _ in range(10)]
    few = [Exposure(student, 1, 0, True) for student in range(14)]
    assert measured_curves(four) == ()
    assert measured_curves(few) == ()
    (curve,) = measured_curves([*four, Exposure(5, 1, 0, False)])
    assert [(point.right.count, point.right.of, point.students) for point in curve.points] == [(40, 41, 5)]


# ---------------------------------------------------------------- shown


def test_text_and_picture_say_the_same_and_that_it_is_a_rule_of_thumb(
    make_rows: Callable[..., ClassRecords],
    make_asked: Callable[[ClassRecords], tuple[AskedRecord, ...]],
    english: Words,
) -> None:
    rows = make_rows()
    lessons = [(at.date(), topic) for at, topic in rows.lessons]
    shown = illustration(
        rows.school_class, lessons, [(quiz.at.date(), quiz.topics) for quiz in rows.quizzes],
        exposures_of(make_asked(rows), rows.lessons), today=date(2026, 12, 4),
    )  # fmt: skip
    text = illustration_text(shown, english).plain
    assert "A rule of thumb on our own timetable, no prediction." in text
    assert "of 100 remain: 20 with no review, 40 with one, 60 with two, 90 with three." in text
    assert "Our own answers, no review before: after 1 day:" in text
    picture = illustration_picture(shown, english)
    assert picture.alt == text
    with Image.open(BytesIO(picture.data)) as image:
        assert image.width == 780


def test_a_measured_curve_is_told_by_its_ends_and_drawn_whole(english: Words) -> None:
    answers = [
        Exposure(student, days, 0, student % 2 == 0) for days in (1, 3, 6, 12, 20) for student in range(20)
    ]
    shown = illustration(GROUP, [(_day(1), 1)], exposures=answers)
    assert len(shown.measured[0].points) == 5
    (line,) = [
        one for one in illustration_text(shown, english).plain.splitlines() if "no review before" in one
    ]
    assert line.count("after ") == 2
    assert "after 1 day:" in line
    assert "after 15–28 days:" in line


def test_without_answers_the_text_says_that_the_own_curve_will_come(english: Words) -> None:
    shown = illustration(GROUP, [(_day(1), 1)])
    assert "comes when there are enough answers" in illustration_text(shown, english).plain
    assert illustration_picture(shown, english).is_picture


def test_a_term_of_one_day_can_be_drawn(english: Words) -> None:
    shown = illustration(GROUP, [(_day(1), 1)], until=_day(1))
    assert illustration_picture(shown, english).is_picture
