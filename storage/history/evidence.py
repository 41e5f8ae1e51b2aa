"""What reports are drawn from: the rows of one class as of a moment, read whole, each kind with one statement.

Nothing that happened after the moment is in them (`storage.history.past` says what has no history).
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, col, func, select

from scheduler.calendar.zones import local_day
from storage.base.errors import NotFound, refused
from storage.history import past
from storage.history.evidence_rows import (
    AskedRecord,
    ClassRecord,
    ClassRecords,
    HomeworkRecord,
    QuestionRecord,
    ScoreRecord,
    StarterRecord,
    StudentRecord,
    TopicRecord,
)
from storage.tables import (
    Answer,
    Enrolment,
    EnrolmentState,
    HomeworkReport,
    Lesson,
    Nudge,
    NudgeState,
    Question,
    Quiz,
    QuizTopic,
    Review,
    ReviewState,
    SchoolClass,
    Score,
    StarterResult,
    Teaching,
    Topic,
)
from storage.values import QuizInfo

WAITING = (ReviewState.PLANNED, ReviewState.OPEN)
UNDER_WAY = (NudgeState.SENT, NudgeState.STARTED)


def class_rows(session: Session, class_id: int, now: datetime) -> ClassRecords:
    """Return the class as of a moment: its students (not those who left), topics, lessons, quizzes, open reviews.

    Raises
    ------
    NotFound
        When there is no such class.
    """
    row = session.get(SchoolClass, class_id)
    if row is None:
        raise refused(NotFound, "no_class")
    teachers = select(Teaching.name).where(Teaching.class_id == class_id).order_by(col(Teaching.id))
    names: list[str] = list(session.exec(teachers))
    school_class = ClassRecord(
        class_id,
        row.name,
        row.slug,
        row.subject,
        row.zone,
        row.language,
        ", ".join(filter(None, names)),
    )
    lessons = _lessons(session, class_id, now)
    return ClassRecords(
        school_class, _students(session, class_id, now), _topics(session, class_id, lessons, now),
        _quizzes(session, class_id, row.zone, now), lessons, _due(session, class_id, now),
    )  # fmt: skip


def asked(session: Session, class_id: int, since: datetime, until: datetime) -> tuple[AskedRecord, ...]:
    """Return every question that reached a student in ``since <= moment < until``, with its answer, in order.

    A question reaches a student when its nudge is sent or, if the student asked for it, when it is shown. What became
    of it after `until` is not told: an answer that came later is none, and the question is open.
    """
    reached = func.coalesce(col(Nudge.sent_at), col(Review.asked_at))
    stmt = (
        sa.select(
            col(Review.enrolment_id),
            col(Review.topic_id),
            col(Review.question_id),
            col(Nudge.sent_at),
            col(Review.asked_at),
            col(Nudge.asked_for),
            _open(until),
            col(Review.predicted),
            col(Question.chance),
            col(Answer.chance),
            col(Answer.verdict),
            col(Answer.on_time),
            col(Answer.at),
            col(Answer.option),
            col(Answer.given),
            col(Answer.taken_s),
            col(Review.id),
            col(Review.drawn),
        )
        .join(Nudge, col(Nudge.id) == col(Review.nudge_id))
        .join(Enrolment, col(Enrolment.id) == col(Review.enrolment_id))
        .join(Answer, (col(Answer.review_id) == col(Review.id)) & (col(Answer.at) <= until), isouter=True)
        .join(Question, col(Question.id) == col(Review.question_id), isouter=True)
        .where(col(Enrolment.class_id) == class_id, reached >= since, reached < until)
        .order_by(reached, col(Review.id))
    )
    return tuple(_asked_row(row, until) for row in session.connection().execute(stmt))


def questions(session: Session, class_id: int, now: datetime) -> tuple[QuestionRecord, ...]:
    """Return every question that the class had at a moment, retired ones too, by topic and age."""
    stmt = (
        select(Question)
        .join(Topic, col(Topic.id) == col(Question.topic_id))
        .where(
            Topic.class_id == class_id,
            past.there(Topic.dropped_at, now),
            col(Question.created_at) <= now,
        )
        .order_by(col(Question.topic_id), col(Question.id))
    )
    return tuple(
        QuestionRecord(
            _id(row.id),
            row.topic_id,
            row.kind,
            row.prompt,
            dict(row.answer),
            row.explanation,
            row.chance,
            row.retired_at is not None and row.retired_at <= now,
            row.picture,
            row.template,
            row.feedback,
        )
        for row in session.exec(stmt)
    )


def scores(session: Session, class_id: int, quiz_id: int, now: datetime) -> tuple[ScoreRecord, ...]:
    """Return the scores of a quiz entered by a moment; what could not be reached at all is left out.

    Raises
    ------
    NotFound
        When the class has no such quiz.
    """
    quiz = session.get(Quiz, quiz_id)
    if quiz is None or quiz.class_id != class_id:
        raise refused(NotFound, "no_quiz")
    stmt = (
        select(Score.enrolment_id, Score.topic_id, Score.reached, Score.out_of)
        .where(Score.quiz_id == quiz_id, Score.out_of > 0, col(Score.at) <= now)
        .order_by(col(Score.enrolment_id), col(Score.id))
    )
    return tuple(ScoreRecord(*row) for row in session.exec(stmt))


def scored_quizzes(session: Session, class_id: int, now: datetime) -> tuple[int, ...]:
    """Return the quizzes of the class that scores were entered for by a moment, latest first."""
    stmt = (
        select(Quiz.id)
        .where(Quiz.class_id == class_id, col(Quiz.id).in_(select(Score.quiz_id).where(col(Score.at) <= now)))
        .order_by(col(Quiz.at).desc(), col(Quiz.id).desc())
    )
    return tuple(_id(quiz_id) for quiz_id in session.exec(stmt))


def starters(session: Session, class_id: int, now: datetime) -> tuple[StarterRecord, ...]:
    """Return what was entered of starters by a moment, in order."""
    stmt = (
        select(StarterResult, Question.topic_id)
        .join(Question, col(Question.id) == col(StarterResult.question_id))
        .where(StarterResult.class_id == class_id, col(StarterResult.at) <= now)
        .order_by(col(StarterResult.at), col(StarterResult.id))
    )
    return tuple(
        StarterRecord(row.question_id, topic_id, row.asked, row.right, row.at)
        for row, topic_id in session.exec(stmt)
    )


def homework(session: Session, class_id: int, now: datetime) -> tuple[HomeworkRecord, ...]:
    """Return for every lesson with homework how many said by a moment, or were said, to have done it."""
    done = func.sum(sa.case((col(HomeworkReport.done).is_(True), 1), else_=0))
    stmt = (
        sa.select(
            col(Lesson.id), col(Lesson.topic_id), col(Lesson.starts_at), done,
            func.count(col(HomeworkReport.enrolment_id)),
        )
        .join(
            HomeworkReport,
            (col(HomeworkReport.lesson_id) == col(Lesson.id)) & (col(HomeworkReport.at) <= now),
            isouter=True,
        )
        .where(
            col(Lesson.class_id) == class_id,
            past.there(Lesson.dropped_at, now),
            col(Lesson.homework).is_not(None),
        )
        .group_by(col(Lesson.id), col(Lesson.topic_id), col(Lesson.starts_at))
        .order_by(col(Lesson.starts_at), col(Lesson.id))
    )  # fmt: skip
    return tuple(
        HomeworkRecord(lesson, topic, at, int(did or 0), int(reported))
        for lesson, topic, at, did, reported in session.connection().execute(stmt)
    )


def homework_by_student(session: Session, class_id: int, now: datetime) -> Mapping[int, tuple[int, int]]:
    """Return for each student how many homeworks were done, of how many anything was reported by a moment."""
    done = func.sum(sa.case((col(HomeworkReport.done).is_(True), 1), else_=0))
    stmt = (
        sa.select(col(HomeworkReport.enrolment_id), done, func.count())
        .join(Lesson, col(Lesson.id) == col(HomeworkReport.lesson_id))
        .where(
            col(Lesson.class_id) == class_id,
            past.there(Lesson.dropped_at, now),
            col(HomeworkReport.at) <= now,
        )
        .group_by(col(HomeworkReport.enrolment_id))
    )
    found = session.connection().execute(stmt)
    return {student: (int(did or 0), int(reported)) for student, did, reported in found}


# ---------------------------------------------------------------- parts


def _students(session: Session, class_id: int, now: datetime) -> tuple[StudentRecord, ...]:
    joined, since = past.joined(session, class_id, now), past.pauses_since(session, class_id, now)
    last = past.last_answers(session, class_id, now)
    found = []
    for row in past.enrolled(session, class_id, now):
        # Who has left or was paused since was a student like any other.
        asked_then = row.state is EnrolmentState.LEFT or row.id in since
        answered = row.last_answer_at
        if answered is not None and answered > now:
            answered = last.get(_id(row.id))
        found.append(
            StudentRecord(
                _id(row.id),
                row.name,
                EnrolmentState.ACTIVE.value if asked_then else row.state.value,
                row.id in joined,
                row.joined_at,
                answered,
                None if asked_then else row.paused_until,
            )
        )
    return tuple(found)


def _lessons(session: Session, class_id: int, now: datetime) -> tuple[tuple[datetime, int], ...]:
    stmt = (
        select(Lesson.starts_at, Lesson.topic_id)
        .where(Lesson.class_id == class_id, past.there(Lesson.dropped_at, now))
        .order_by(col(Lesson.starts_at), col(Lesson.id))
    )
    return tuple((at, topic) for at, topic in session.exec(stmt))


def _topics(
    session: Session, class_id: int, lessons: tuple[tuple[datetime, int], ...], now: datetime
) -> tuple[TopicRecord, ...]:
    first: dict[int, datetime] = {}
    for at, topic in lessons:
        first.setdefault(topic, at)
    stmt = (
        select(Topic)
        .where(Topic.class_id == class_id, past.there(Topic.dropped_at, now))
        .order_by(col(Topic.id))
    )
    return tuple(TopicRecord(_id(row.id), row.name, first.get(_id(row.id))) for row in session.exec(stmt))


def _quizzes(session: Session, class_id: int, zone: str, now: datetime) -> tuple[QuizInfo, ...]:
    covered: dict[int, list[int]] = {}
    pairs = (
        select(QuizTopic.quiz_id, QuizTopic.topic_id)
        .join(Topic, col(Topic.id) == col(QuizTopic.topic_id))
        .where(Topic.class_id == class_id, past.there(Topic.dropped_at, now))
        .order_by(col(QuizTopic.topic_id))
    )
    for quiz_id, topic_id in session.exec(pairs):
        covered.setdefault(quiz_id, []).append(topic_id)
    stmt = select(Quiz).where(Quiz.class_id == class_id, past.there(Quiz.dropped_at, now))
    return tuple(
        QuizInfo(
            _id(row.id),
            row.name,
            row.kind.value,
            row.at,
            local_day(row.at, zone),
            tuple(covered.get(_id(row.id), ())),
        )
        for row in session.exec(stmt.order_by(col(Quiz.at), col(Quiz.id)))
    )


def _open(now: datetime) -> Any:
    """Return the condition that a question had been sent and was waiting for its answer at a moment."""
    waiting = col(Review.state).in_(WAITING) & col(Nudge.state).in_(UNDER_WAY)
    return (waiting & col(Review.closed_at).is_(None)) | (col(Review.closed_at) > now)


def _due(session: Session, class_id: int, now: datetime) -> Mapping[int, int]:
    waiting = col(Review.state).in_(WAITING) & col(Nudge.state).in_((NudgeState.PLANNED, *UNDER_WAY))
    stmt = (
        select(Review.enrolment_id, func.count())
        .join(Nudge, col(Nudge.id) == col(Review.nudge_id))
        .join(Enrolment, col(Enrolment.id) == col(Review.enrolment_id))
        .where(
            Enrolment.class_id == class_id,
            col(Review.planned_at) <= now,
            waiting | (col(Review.closed_at) > now),
        )
        .group_by(col(Review.enrolment_id))
    )
    return dict(session.exec(stmt).all())


def _asked_row(row: Any, until: datetime) -> AskedRecord:
    (
        student, topic, question, sent_at, asked_at, asked_for, is_open, predicted, chance,
        answer_chance, verdict, on_time, at, option, given, taken_s, review_id, drawn,
    ) = row  # fmt: skip
    reached = sent_at or asked_at
    if asked_at is not None and asked_at > until:
        question, chance, drawn = None, None, None  # which one it would be was chosen later
    return AskedRecord(
        student_id=student,
        topic_id=topic,
        question_id=question,
        asked_at=reached,
        asked_for=bool(asked_for),
        open=bool(is_open),
        predicted=predicted,
        chance=float(chance or 0.0) if answer_chance is None else float(answer_chance),
        verdict=None if verdict is None else verdict.value,
        on_time=bool(on_time),
        answered_at=at,
        option=option,
        given=given or "",
        taken_s=taken_s,
        review_id=review_id,
        drawn=drawn,
    )


def _id(value: int | None) -> int:
    if value is None:
        raise ValueError("A row that was read has no id.")
    return value
