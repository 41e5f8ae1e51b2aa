"""Which topics a quiz covers."""

from __future__ import annotations

from datetime import date, time

from storage.files.timetables.coverage import quiz_topics
from storage.files.values import LessonRow, QuizRow


def september(day: int) -> date:
    return date(2026, 9, day)


LESSONS = [
    LessonRow(2, "Density", september(1), time(8, 30)),
    LessonRow(3, "Springs", september(3), time(8, 30)),
    LessonRow(4, "Moments", september(8), time(8, 30)),
    LessonRow(5, "Pressure", september(15), time(8, 30)),
]


def test_quiz_covers_the_topics_since_the_last_one() -> None:
    quizzes = [QuizRow(6, "Q1", september(4)), QuizRow(7, "Q2", september(16))]
    assert quiz_topics(LESSONS, quizzes) == (("Density", "Springs"), ("Moments", "Pressure"))


def test_quiz_that_names_its_topics_covers_these() -> None:
    quizzes = [QuizRow(6, "Q1", september(4), topics=("Springs",)), QuizRow(7, "Q2", september(16))]
    assert quiz_topics(LESSONS, quizzes) == (("Springs",), ("Moments", "Pressure"))


def test_exam_covers_everything_since_the_last_exam() -> None:
    quizzes = [
        QuizRow(6, "Q1", september(4)), QuizRow(7, "Exam", september(9), kind="exam"), QuizRow(8, "Q2", september(16)),
    ]  # fmt: skip
    assert quiz_topics(LESSONS, quizzes) == (
        ("Density", "Springs"),
        ("Density", "Springs", "Moments"),
        ("Pressure",),
    )


def test_lesson_on_the_day_of_the_quiz_belongs_to_the_next_one() -> None:
    quizzes = [QuizRow(6, "Q1", september(8)), QuizRow(7, "Q2", september(16))]
    assert quiz_topics(LESSONS, quizzes) == (("Density", "Springs"), ("Moments", "Pressure"))


def test_lesson_earlier_on_the_day_of_the_quiz_is_covered_when_both_times_are_known() -> None:
    quizzes = [QuizRow(6, "Q1", september(8), time(14, 0)), QuizRow(7, "Q2", september(16))]
    assert quiz_topics(LESSONS, quizzes) == (("Density", "Springs", "Moments"), ("Pressure",))


def test_order_of_the_rows_does_not_matter() -> None:
    quizzes = [QuizRow(7, "Q2", september(16)), QuizRow(6, "Q1", september(4))]
    assert quiz_topics(LESSONS[::-1], quizzes) == (("Moments", "Pressure"), ("Density", "Springs"))


def test_topic_taught_twice_is_covered_once_in_each_quiz_since() -> None:
    taught = [*LESSONS, LessonRow(9, "Density", september(10))]
    quizzes = [QuizRow(6, "Q1", september(4)), QuizRow(7, "Q2", september(16))]
    assert quiz_topics(taught, quizzes) == (("Density", "Springs"), ("Moments", "Density", "Pressure"))


def test_quiz_with_nothing_before_it_covers_nothing() -> None:
    assert quiz_topics([], [QuizRow(6, "Q1", september(4))]) == ((),)
