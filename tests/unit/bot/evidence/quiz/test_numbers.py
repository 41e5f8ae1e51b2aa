"""A quiz against its predictions."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from io import BytesIO

import numpy as np
import pytest
from openpyxl import load_workbook
from PIL import Image

from bot.evidence.quiz.numbers import Fit, NoScores, QuizData, quiz_comparison
from bot.evidence.quiz.picture import quiz_picture
from bot.evidence.quiz.tables import quiz_workbook
from bot.evidence.quiz.text import quiz_text, signed
from bot.evidence.shared.snapshot import Snapshot
from bot.words import Words
from storage.history.evidence_rows import ClassRecords, ScoreRecord


def test_what_was_off_is_named_and_nothing_else(made_quiz: QuizData) -> None:
    made = quiz_comparison(made_quiz)
    assert [row.name for row in made.topics if row.fit is Fit.LOWER] == ["Moments"]
    assert [row.name for row in made.students if row.fit is Fit.LOWER] == ["Tom"]
    assert made.missing == ("Zoë",)


def test_scores_as_predicted_are_called_so(
    make_rows: Callable[..., ClassRecords], make_snapshot: Callable[..., Snapshot]
) -> None:
    rows = make_rows()
    quiz = rows.quizzes[0]
    before = make_snapshot(rows, quiz.at, 0.1)
    rng = np.random.default_rng(9)
    scores = tuple(
        ScoreRecord(
            student.id, topic, float(rng.binomial(4, before.retention.mean[student.id - 1, topic - 1])), 4.0
        )
        for student in rows.students
        for topic in quiz.topics
    )
    made = quiz_comparison(QuizData(rows, quiz.at, quiz, scores, before, before))
    assert made.fit is Fit.AS_PREDICTED
    assert all(row.fit is Fit.AS_PREDICTED for row in made.topics)
    assert made.moved == 0.0
    assert made.calibration_error is not None
    assert made.calibration_error < 0.08
    assert sum(row.fit is not Fit.AS_PREDICTED for row in made.students) <= 2


def test_a_score_for_the_whole_quiz_is_compared_with_the_mean_of_its_topics(made_quiz: QuizData) -> None:
    scores = tuple(ScoreRecord(row.id, None, 12.0, 20.0) for row in made_quiz.rows.students)
    made = quiz_comparison(replace(made_quiz, scores=scores))
    assert made.topics == ()
    assert made.actual.mean == pytest.approx(0.6)
    ids = made_quiz.quiz.topics
    expected = made_quiz.before.estimate([1], ids)
    assert expected is not None
    assert made.students[0].predicted.mean == pytest.approx(expected.mean)


def test_points_of_the_calibration_rest_on_five_students(made_quiz: QuizData) -> None:
    made = quiz_comparison(made_quiz)
    assert made.points
    assert all(point.students >= 5 for point in made.points)
    few = tuple(score for score in made_quiz.scores if score.student_id <= 4)
    assert quiz_comparison(replace(made_quiz, scores=few)).points == ()


def test_a_quiz_without_scores_is_refused(made_quiz: QuizData) -> None:
    with pytest.raises(NoScores, match="no scores"):
        quiz_comparison(replace(made_quiz, scores=()))


def test_scores_of_students_who_have_left_count_nowhere(made_quiz: QuizData) -> None:
    rows = replace(made_quiz.rows, students=made_quiz.rows.students[:10])
    there = tuple(score for score in made_quiz.scores if score.student_id <= 10)
    assert quiz_comparison(replace(made_quiz, rows=rows)) == quiz_comparison(
        replace(made_quiz, rows=rows, scores=there)
    )
    with pytest.raises(NoScores):
        quiz_comparison(replace(made_quiz, rows=replace(rows, students=())))


def test_a_score_above_what_could_be_reached_counts_as_full(made_quiz: QuizData) -> None:
    made = quiz_comparison(replace(made_quiz, scores=(ScoreRecord(1, 2, 5.0, 4.0),)))
    assert made.actual.mean == 1.0


def test_one_student_alone_gives_no_interval(made_quiz: QuizData) -> None:
    made = quiz_comparison(replace(made_quiz, scores=(ScoreRecord(1, 2, 1.0, 4.0),)))
    assert (made.actual.low, made.actual.high) == (0.0, 1.0)
    assert made.fit is Fit.AS_PREDICTED


def test_the_text_says_predicted_actual_and_what_was_off(made_quiz: QuizData, english: Words) -> None:
    text = quiz_text(quiz_comparison(made_quiz), english).plain.replace("\u00a0", " ")
    lines = text.splitlines()
    assert lines[0] == "10B Physics · quiz of Fri 11 Dec: predicted and actual"
    assert lines[1].startswith("Predicted about 65 % (62–69), actual about 55 % (51–58), 25 students.")
    assert "Lower than predicted: Moments (60 % predicted, 30 % actual)." in lines
    assert "Did clearly worse than predicted: Tom." in lines
    assert "No score for Zoë." in lines


def test_the_picture_is_twice_a_phone_wide(made_quiz: QuizData, english: Words) -> None:
    shown = quiz_picture(quiz_comparison(made_quiz), english)
    with Image.open(BytesIO(shown.data)) as image:
        assert image.width == 780


def test_the_picture_can_be_drawn_without_topics_or_points(made_quiz: QuizData, english: Words) -> None:
    made = quiz_comparison(replace(made_quiz, scores=(ScoreRecord(1, None, 1.0, 4.0),)))
    assert quiz_picture(made, english).is_picture


def test_the_workbook_has_students_and_topics(made_quiz: QuizData, english: Words) -> None:
    book = load_workbook(BytesIO(quiz_workbook(quiz_comparison(made_quiz), english).data))
    assert book.sheetnames == ["Students", "Topics", "Read me"]
    assert book["Students"].max_row == 26


@pytest.mark.parametrize(("value", "text"), [(0.04, "+4"), (-0.08, "−8"), (0.001, "0")])
def test_differences_have_their_sign(value: float, text: str) -> None:
    assert signed(value) == text
