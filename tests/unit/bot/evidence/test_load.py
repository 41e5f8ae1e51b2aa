"""From the database and the class's model to everything that a teacher pulls."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from bot.evidence.forecast.gains import review_gain, snapshot, taught_again
from bot.evidence.forecast.numbers import forecast
from bot.evidence.forecast.text import forecast_text
from bot.evidence.load import (
    ClassEvidence,
    NothingThere,
    class_illustration,
    class_questions,
    forecast_data,
    quiz_data,
    read,
    starter_data,
    week_data,
)
from bot.evidence.load_student import letter_data, student_data
from bot.evidence.quiz.numbers import quiz_comparison
from bot.evidence.starter.numbers import starter
from bot.evidence.student.letter import letter
from bot.evidence.student.numbers import student_picture
from bot.evidence.week.numbers import week_report
from bot.evidence.week.text import week_text
from bot.teaching.memories import build
from bot.words import Words
from scheduler.model.memory import ClassMemory
from scheduler.model.prior import PRIOR
from storage.base.database import connect
from storage.base.errors import NotFound
from storage.history.class_history import Reviewed
from tests.taught import NAMES, NOW, QUIZ, START, WRITTEN, fill


@pytest.fixture(scope="module")
def found() -> Iterator[ClassEvidence]:
    """Fill a database with a class of six and read it back."""
    database = connect("sqlite://")
    with database.begin() as session:
        group = fill(session)
    with database.reading() as session:
        yield read(session, group, NOW)
    database.close()


@pytest.fixture(scope="module")
def memory(found: ClassEvidence) -> ClassMemory:
    return build(found.story, found.others)


def test_a_class_that_does_not_exist_is_refused() -> None:
    database = connect("sqlite://")
    with database.reading() as session, pytest.raises(NotFound):
        read(session, 7, NOW)
    database.close()


def test_everything_is_read(found: ClassEvidence) -> None:
    assert [row.name for row in found.rows.students] == list(NAMES)
    assert len(found.questions) == 8
    assert len(found.asked) == 6 * 2 * 23
    assert found.caps == dict.fromkeys(range(1, 7), 3)
    assert found.left is not None
    assert set(found.left) == set(range(1, 7))
    assert list(found.scores) == [1]


def test_the_week_is_told_from_database_and_model(
    found: ClassEvidence, memory: ClassMemory, english: Words
) -> None:
    report = week_report(week_data(found, memory))
    assert (report.year, report.week) == (2026, 49)
    assert [note.name for note in report.talk_to if note.reason == "unanswered"] == ["Elif"]
    assert all(row.quiz is not None for row in report.students)
    assert report.totals.asked == 6 * 2 * 4  # Monday to Thursday
    assert "10B Physics · week 49" in week_text(report, english).plain


def test_an_earlier_week_can_be_asked_for(found: ClassEvidence, memory: ClassMemory) -> None:
    report = week_report(week_data(found, memory, 2026, 46))
    assert (report.first_day, report.running) == (date(2026, 11, 9), False)
    assert report.totals.asked == 6 * 2 * 5


def test_a_report_needs_no_model(found: ClassEvidence) -> None:
    report = week_report(week_data(found, None))
    assert report.totals.asked
    assert report.students[0].now is None


def test_the_forecast_of_the_next_quiz(found: ClassEvidence, memory: ClassMemory, english: Words) -> None:
    made = forecast(forecast_data(found, memory))
    assert made.quiz is not None
    assert made.quiz.name == "Forces 2"
    assert made.overall is not None
    assert made.overall_as_it_stands is not None
    assert made.overall.mean >= made.overall_as_it_stands.mean
    assert all(row.gain is not None and row.gain >= 0.0 for row in made.topics)
    assert "Quiz Fri 11 Dec" in forecast_text(made, english).plain


def test_a_forecast_for_any_day_takes_what_will_have_been_taught(
    found: ClassEvidence, memory: ClassMemory
) -> None:
    made = forecast(forecast_data(found, memory, date(2026, 12, 9)))
    assert made.quiz is None
    assert len(made.topics) == 4


def test_a_day_that_is_over_is_refused(found: ClassEvidence, memory: ClassMemory) -> None:
    with pytest.raises(NothingThere, match="2026-12-01 is over"):
        forecast_data(found, memory, date(2026, 12, 1))


def test_without_a_quiz_a_date_has_to_be_given(found: ClassEvidence, memory: ClassMemory) -> None:
    none = replace(found, rows=replace(found.rows, quizzes=()))
    with pytest.raises(NothingThere, match="No quiz is planned"):
        forecast_data(none, memory)


def test_a_review_gains_where_it_is_needed_and_nothing_after_the_date(memory: ClassMemory) -> None:
    gain = review_gain(memory, NOW, QUIZ)
    assert gain.shape == (6, 4)
    assert (gain.mean(axis=0) > 0.0).all()
    assert (np.abs(gain) < 1.0).all()
    assert not review_gain(memory, QUIZ, QUIZ).any()


def test_teaching_again_adds_to_the_planned_reviews_within_bounds(memory: ClassMemory) -> None:
    planned = memory.retention(QUIZ)
    again = taught_again(memory, NOW + timedelta(days=1), QUIZ, planned)
    assert (again.mean >= planned.mean).all()
    assert (again.high <= 1.0).all()


def test_a_snapshot_leaves_out_what_is_not_yet_taught(found: ClassEvidence) -> None:
    early = build(replace(found.story, happenings=()), ())
    assert not snapshot(early, NOW).taught.any()
    with pytest.raises(NothingThere):
        starter_data(found, early)


def test_the_starter_has_a_question_for_each_topic(found: ClassEvidence, memory: ClassMemory) -> None:
    made = starter(starter_data(found, memory))
    assert len(made.questions) == 4
    assert made.lesson_day == date(2026, 12, 7)


def test_without_a_lesson_to_come_the_starter_is_for_the_next_school_day(
    found: ClassEvidence, memory: ClassMemory
) -> None:
    lessons = tuple(one for one in found.rows.lessons if one[0] <= NOW)  # a Friday
    data = starter_data(replace(found, rows=replace(found.rows, lessons=lessons)), memory)
    assert starter(data).lesson_day == date(2026, 12, 7)


def test_questions_have_their_statistics(found: ClassEvidence) -> None:
    table = class_questions(found)
    assert [row.topic for row in table.questions][:2] == ["Density", "Density"]
    assert sum(row.answers for row in table.questions) == sum(row.answered for row in found.asked)


def test_the_quiz_is_compared_with_what_was_known_before_it(found: ClassEvidence) -> None:
    data = quiz_data(found)
    made = quiz_comparison(data)
    assert made.quiz.name == "Forces 1"
    assert len(made.students) == 6
    later = sum(row.answered for row in found.asked if row.answered_at and row.answered_at > WRITTEN)
    assert data.before.answers.sum() == sum(row.answered for row in found.asked) - later


def test_nothing_learned_after_the_quiz_changes_what_was_predicted_for_it(found: ClassEvidence) -> None:
    later = Reviewed(1, 1, NOW, "wrong")
    parameters = replace(PRIOR, slip=0.2).to_dict()
    since = replace(
        found.story, happenings=(*found.story.happenings, later), parameters=parameters, fitted_at=NOW
    )
    told, seen_later = quiz_data(found), quiz_data(replace(found, story=since))
    assert (told.before.retention.mean == seen_later.before.retention.mean).all()
    assert (told.after.retention.mean == seen_later.after.retention.mean).all()


def test_the_prediction_before_a_quiz_uses_what_the_class_was_like_until_then(found: ClassEvidence) -> None:
    forgetful = tuple(
        replace(one, verdict="wrong") if isinstance(one, Reviewed) and one.at < WRITTEN else one
        for one in found.story.happenings
    )
    weak = quiz_data(replace(found, story=replace(found.story, happenings=forgetful)))
    assert (
        weak.before.retention.mean[:, :2].mean() < quiz_data(found).before.retention.mean[:, :2].mean() - 0.2
    )


def test_low_scores_move_the_prediction_down_and_high_ones_up(found: ClassEvidence) -> None:
    made = quiz_comparison(quiz_data(found))
    moved = {row.name: (row.actual.mean - row.predicted.mean, row.moved) for row in made.students}
    lowest, highest = min(moved.values()), max(moved.values())
    assert lowest[1] < highest[1]


def test_a_quiz_without_scores_is_named(found: ClassEvidence) -> None:
    with pytest.raises(NothingThere, match="There are no scores for this quiz yet"):
        quiz_data(found, 2)
    with pytest.raises(NothingThere, match="no quiz with scores"):
        quiz_data(found, 99)


def test_a_students_picture_and_letter(found: ClassEvidence, memory: ClassMemory) -> None:
    own = student_picture(student_data(found, 2, memory))
    assert (own.name, len(own.topics)) == ("Ben", 4)
    made = letter(letter_data(found, 2, memory))
    assert made.answered == made.asked == 46
    assert made.scores == ((date(2026, 11, 27), "Forces 1", 7.0, 8.0),)
    with pytest.raises(NothingThere):
        student_data(found, 99, memory)


def test_the_illustration_is_drawn_from_the_timetable(found: ClassEvidence) -> None:
    shown = class_illustration(found)
    assert shown.days[0] == START.date()
    assert shown.quiz is not None
    assert shown.quiz[0] == QUIZ.date()
    with pytest.raises(NothingThere, match="no lesson"):
        class_illustration(replace(found, rows=replace(found.rows, lessons=())))


def test_h3_every_paper_of_a_class_says_what_its_reviews_did(
    found: ClassEvidence, memory: ClassMemory
) -> None:
    week, ahead = week_data(found, memory).effect, forecast_data(found, memory).effect
    assert week is not None
    assert week == ahead
    assert not week.too_early
    assert week.without.mean < week.known.mean
    own = student_data(found, found.rows.students[0].id, memory).effect
    assert own is not None
    assert own == letter_data(found, found.rows.students[0].id, memory).effect
    assert week_data(found, None).effect is None
