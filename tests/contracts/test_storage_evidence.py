"""Rows for reports, on every database."""

from __future__ import annotations

from datetime import timedelta
from typing import NamedTuple

import pytest
from sqlmodel import Session

from storage.base.database import Database
from storage.base.errors import NotFound
from storage.history import class_history, evidence
from storage.history.evidence_rows import ScoreRecord, StarterRecord
from storage.school import classes
from storage.tables import (
    Answer,
    Enrolment,
    EnrolmentState,
    HomeworkReport,
    Lesson,
    Nudge,
    NudgeState,
    Person,
    Question,
    Quiz,
    QuizTopic,
    Review,
    ReviewState,
    Score,
    StarterResult,
    Topic,
    Verdict,
)
from storage.values import QuizInfo
from tests.contracts.storage_school import NOW, later, school_class, student


def _add(session: Session, row: object) -> int:
    session.add(row)
    session.flush()
    number = row.id  # type: ignore[attr-defined]  # every table used here has one
    assert isinstance(number, int)
    return number


class _School(NamedTuple):
    class_id: int
    mira: int
    topic: int
    quiz: int
    lesson: int
    question: int


def _school(session: Session) -> _School:
    """Make a class with one student, a topic with lesson, quiz and question."""
    group = school_class(session)
    assert group.id is not None
    mira = student(session, group, "Mira")
    assert mira.id is not None
    topic = _add(session, Topic(class_id=group.id, name="Density"))
    lesson = _add(session, Lesson(class_id=group.id, topic_id=topic, starts_at=NOW, homework="p. 12"))
    quiz = _add(session, Quiz(class_id=group.id, name="Forces", at=later(days=20)))
    session.add(QuizTopic(quiz_id=quiz, topic_id=topic))
    question = _add(
        session,
        Question(topic_id=topic, kind="number", prompt="?", answer={"kind": "number"}, created_at=NOW),
    )
    session.flush()
    return _School(group.id, mira.id, topic, quiz, lesson, question)


def _asked(
    session: Session,
    school: _School,
    days: float,
    state: ReviewState,
    nudge: NudgeState,
    *,
    asked_for: bool = False,
) -> int:
    day = later(days=days)
    number = _add(
        session,
        Nudge(
            enrolment_id=school.mira, day=day.date(), state=nudge, due_at=day, expires_at=day + timedelta(days=1),
            sent_at=None if nudge is NudgeState.PLANNED else day, asked_for=asked_for,
        ),
    )  # fmt: skip
    return _add(
        session,
        Review(
            nudge_id=number, enrolment_id=school.mira, topic_id=school.topic, question_id=school.question,
            position=1, state=state, predicted=0.6, planned_at=day,
        ),
    )  # fmt: skip


def test_class_rows_hold_the_class_as_it_stands(db: Database) -> None:
    with db.begin() as session:
        school = _school(session)
        class_id, mira, topic, quiz = school[:4]
        group = evidence.class_rows(session, class_id, later(days=10))
    assert (group.school_class.name, group.school_class.teacher) == ("10B Physics", "Ms Okafor")
    assert [(row.id, row.name, row.active) for row in group.students] == [(mira, "Mira", True)]
    assert [(row.name, row.taught_at) for row in group.topics] == [("Density", NOW)]
    assert group.quizzes == (
        QuizInfo(quiz, "Forces", "quiz", later(days=20), later(days=20).date(), (topic,)),
    )
    assert group.lessons == ((NOW, topic),)


def test_a_quiz_is_on_the_local_day_of_the_class(db: Database) -> None:
    with db.begin() as session:
        class_id = _school(session).class_id
        classes.change_rules(session, class_id, zone="Pacific/Auckland")  # 12:00 UTC is past midnight there
        quiz = evidence.class_rows(session, class_id, NOW).quizzes[0]
    assert quiz.day == later(days=21).date()


def test_class_rows_of_a_class_that_does_not_exist_are_refused(db: Database) -> None:
    with db.begin() as session, pytest.raises(NotFound):
        evidence.class_rows(session, 99, NOW)


def test_a_student_who_left_is_in_no_report(db: Database) -> None:
    with db.begin() as session:
        group = school_class(session)
        assert group.id is not None
        gone = student(session, group, "Jonas")
        gone.state = EnrolmentState.LEFT
        session.add(gone)
        session.flush()
        assert evidence.class_rows(session, group.id, later(days=10)).students == ()


def test_asked_gives_each_question_once_with_its_answer(db: Database) -> None:
    with db.begin() as session:
        school = _school(session)
        class_id, mira, topic = school[:3]
        answered = _asked(session, school, 1, ReviewState.ANSWERED, NudgeState.DONE)
        session.add(
            Answer(
                review_id=answered, enrolment_id=mira, topic_id=topic, question_id=school.question,
                verdict=Verdict.RIGHT, given="2.7", chance=0.1, on_time=True, at=later(days=1, hours=2), taken_s=31.0,
            )
        )  # fmt: skip
        _asked(session, school, 2, ReviewState.EXPIRED, NudgeState.EXPIRED)
        _asked(session, school, 3, ReviewState.OPEN, NudgeState.STARTED)
        _asked(session, school, 4, ReviewState.PLANNED, NudgeState.PLANNED)
        rows = evidence.asked(session, class_id, NOW, later(days=10))
        due = evidence.class_rows(session, class_id, later(days=10)).due
    assert [(row.verdict, row.open, row.answered) for row in rows] == [
        ("right", False, True),
        (None, False, False),
        (None, True, False),
    ]
    assert rows[0].answered_at == later(days=1, hours=2)
    assert (rows[0].on_time, rows[0].chance, rows[0].taken_s, rows[0].predicted) == (True, 0.1, 31.0, 0.6)
    assert due == {mira: 2}


def test_asked_takes_the_span_half_open(db: Database) -> None:
    with db.begin() as session:
        school = _school(session)
        class_id, _mira, _topic = school[:3]
        _asked(session, school, 1, ReviewState.EXPIRED, NudgeState.EXPIRED)
        assert len(evidence.asked(session, class_id, later(days=1), later(days=2))) == 1
        assert evidence.asked(session, class_id, NOW, later(days=1)) == ()


def test_a_question_the_student_asked_for_is_marked(db: Database) -> None:
    with db.begin() as session:
        school = _school(session)
        class_id, _mira, _topic = school[:3]
        _asked(session, school, 1, ReviewState.OPEN, NudgeState.STARTED, asked_for=True)
        (row,) = evidence.asked(session, class_id, NOW, later(days=2))
    assert row.asked_for


def test_the_story_of_a_class_has_counts_of_its_starters_without_students(db: Database) -> None:
    with db.begin() as session:
        made = _school(session)
        session.add(
            StarterResult(class_id=made.class_id, question_id=made.question, asked=20, right=12, at=NOW)
        )
        session.flush()
        found = class_history.of_class(session, made.class_id, later(days=1)).happenings
    counts = [one for one in found if isinstance(one, class_history.Counted)]
    assert counts == [class_history.Counted(made.question, made.topic, NOW, 12, 20)]


def test_the_story_leaves_out_scores_and_homework_of_who_has_not_joined(db: Database) -> None:
    with db.begin() as session:
        made = _school(session)
        noor = _add(session, Enrolment(class_id=made.class_id, name="Noor", joined_at=NOW))
        for who in (made.mira, noor):
            session.add(Score(quiz_id=made.quiz, enrolment_id=who, reached=3, out_of=4, at=NOW))
            session.add(HomeworkReport(lesson_id=made.lesson, enrolment_id=who, done=True, at=NOW))
        session.flush()
        told = class_history.of_class(session, made.class_id, later(days=30))
    assert told.students == (made.mira,)
    kinds = (class_history.Scored, class_history.Practised)
    assert [one.enrolment_id for one in told.happenings if isinstance(one, kinds)] == [made.mira] * 2
    # Once joined, they count.
    with db.begin() as session:
        session.get_one(Enrolment, noor).person_id = _add(session, Person(created_at=NOW))
        session.flush()
        told = class_history.of_class(session, made.class_id, later(days=30))
    assert sum(isinstance(one, kinds) for one in told.happenings) == 4


def test_scores_starters_questions_and_homework_come_as_rows(db: Database) -> None:
    with db.begin() as session:
        school = _school(session)
        class_id, mira, topic, quiz = school[:4]
        session.add(Score(quiz_id=quiz, enrolment_id=mira, topic_id=topic, reached=3.0, out_of=4.0, at=NOW))
        session.add(StarterResult(class_id=class_id, question_id=school.question, asked=20, right=12, at=NOW))
        session.add(HomeworkReport(lesson_id=school.lesson, enrolment_id=mira, done=True, at=NOW))
        session.flush()
        assert evidence.scores(session, class_id, quiz, NOW) == (ScoreRecord(mira, topic, 3.0, 4.0),)
        assert evidence.scored_quizzes(session, class_id, NOW) == (quiz,)
        assert evidence.starters(session, class_id, NOW) == (
            StarterRecord(school.question, topic, 20, 12, NOW),
        )
        assert [(row.kind, row.retired) for row in evidence.questions(session, class_id, NOW)] == [
            ("number", False)
        ]
        assert [(row.done, row.reported) for row in evidence.homework(session, class_id, NOW)] == [(1, 1)]
        assert evidence.homework_by_student(session, class_id, NOW) == {mira: (1, 1)}


def test_scores_of_another_class_are_refused(db: Database) -> None:
    with db.begin() as session:
        quiz = _school(session).quiz
        other = school_class(session, "11A", "smith")
        assert other.id is not None
        with pytest.raises(NotFound):
            evidence.scores(session, other.id, quiz, NOW)
