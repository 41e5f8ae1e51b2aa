"""What happened to a class, as the retention model needs it: lessons, answers, homework, scores, in plain rows."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, col, select

from storage.base.rows import id_of
from storage.history import past
from storage.tables import (
    Absence,
    Answer,
    ClassFit,
    Enrolment,
    HomeworkReport,
    Lesson,
    Nudge,
    NudgeState,
    Question,
    Quiz,
    QuizKind,
    QuizTopic,
    Review,
    ReviewState,
    Score,
    StarterResult,
    Topic,
)


@dataclass(frozen=True, slots=True)
class GivenLesson:
    """A lesson that was given, and who missed it.

    It is no `storage.values.LessonInfo`: to the model a lesson is a topic met at a moment by those who were there.
    """

    topic_id: int
    at: datetime
    absent: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Reviewed:
    """A question that was answered (`verdict`) or whose nudge went unanswered (`verdict` empty)."""

    enrolment_id: int
    topic_id: int
    at: datetime
    verdict: str
    chance: float = 0.0
    question_id: int | None = None


@dataclass(frozen=True, slots=True)
class Practised:
    """Homework on a topic that was done."""

    enrolment_id: int
    topic_id: int
    at: datetime


@dataclass(frozen=True, slots=True)
class Scored:
    """A quiz result: the share reached in a topic, or in all topics of the quiz (`topics`)."""

    enrolment_id: int
    topics: tuple[int, ...]
    at: datetime
    share: float


@dataclass(frozen=True, slots=True)
class Counted:
    """A question put to the whole class in a lesson: how many of those present had it right; nobody knows who."""

    question_id: int
    topic_id: int
    at: datetime
    right: int
    present: int
    chance: float = 0.0


Tests = tuple[tuple[datetime, tuple[int, ...]], ...]
Happening = GivenLesson | Reviewed | Practised | Scored | Counted


@dataclass(frozen=True)
class ClassStory:
    """Everything that the model of one class learns from.

    Attributes
    ----------
    students : tuple of int
        Enrolments that have joined, in order of their ids.
    topics : tuple of int
        Topics that are or will be taught, in order of their ids.
    happenings : tuple
        What happened until the moment of the story. Answers stand at the end in the order in which they came,
        so that a model can be carried on from where it was.
    lessons : tuple of (datetime, int)
        Every lesson, past and to come.
    quizzes, exams : tuple of (datetime, tuple of int)
        Tests with their topics.
    parameters : mapping or None
        The class's own fit, as stored; None where there is none that was made by then.
    fitted_later : bool
        There is a fit, but it was made after the moment of the story.
    """

    class_id: int
    students: tuple[int, ...]
    topics: tuple[int, ...]
    happenings: tuple[Happening, ...]
    lessons: tuple[tuple[datetime, int], ...]
    quizzes: Tests
    exams: Tests
    parameters: Mapping[str, Any] | None
    fitted_at: datetime | None
    fitted_later: bool = False


def of_class(session: Session, class_id: int, now: datetime) -> ClassStory:
    """Return what happened to a class until `now`; nothing that came later is in it, nor a fit that knew of it."""
    lessons = _lessons(session, class_id, now)
    quizzes, exams = _tests(session, class_id, now)
    fit = session.get(ClassFit, class_id)
    later = fit is not None and fit.fitted_at > now
    students = past.joined(session, class_id, now)
    there = frozenset(students)
    by_hand: tuple[Scored | Practised, ...] = (
        *_scores(session, class_id, now), *_homework(session, class_id, now),
    )  # fmt: skip
    happenings: tuple[Happening, ...] = (
        *_taught(session, class_id, now),
        # A teacher's lists may hold somebody who is only on the roster so far.
        *(one for one in by_hand if one.enrolment_id in there),
        *_counted(session, class_id, now),
        *(one for one in _reviewed(session, class_id, now) if one.enrolment_id in there),
    )
    return ClassStory(
        class_id=class_id,
        students=students,
        topics=tuple(
            sorted({topic for _, topic in lessons} | {topic for h in happenings for topic in _topics(h)})
        ),
        happenings=happenings,
        lessons=lessons,
        quizzes=quizzes,
        exams=exams,
        parameters=None if fit is None or later else fit.parameters,
        fitted_at=None if fit is None or later else fit.fitted_at,
        fitted_later=later,
    )


def _topics(happening: Happening) -> tuple[int, ...]:
    return happening.topics if isinstance(happening, Scored) else (happening.topic_id,)


def _lessons(session: Session, class_id: int, now: datetime) -> tuple[tuple[datetime, int], ...]:
    stmt = (
        select(Lesson.starts_at, Lesson.topic_id)
        .join(Topic, col(Topic.id) == col(Lesson.topic_id))
        .where(
            Lesson.class_id == class_id, past.there(Lesson.dropped_at, now), past.there(Topic.dropped_at, now)
        )
        .order_by(col(Lesson.starts_at), col(Lesson.id))
    )
    return tuple((at, topic) for at, topic in session.exec(stmt))


def _tests(session: Session, class_id: int, now: datetime) -> tuple[Tests, Tests]:
    """Return quizzes and exams with their topics, in order of time."""
    covered = _covered(session, class_id, now)
    stmt = select(Quiz).where(Quiz.class_id == class_id, past.there(Quiz.dropped_at, now))
    found: dict[QuizKind, list[tuple[datetime, tuple[int, ...]]]] = {kind: [] for kind in QuizKind}
    for quiz in session.exec(stmt.order_by(col(Quiz.at), col(Quiz.id))):
        found[quiz.kind].append((quiz.at, tuple(covered.get(id_of(quiz), ()))))
    return tuple(found[QuizKind.QUIZ]), tuple(found[QuizKind.EXAM])


def _covered(session: Session, class_id: int, now: datetime) -> dict[int, list[int]]:
    covered: dict[int, list[int]] = {}
    stmt = (
        select(QuizTopic.quiz_id, QuizTopic.topic_id)
        .join(Quiz, col(Quiz.id) == col(QuizTopic.quiz_id))
        .join(Topic, col(Topic.id) == col(QuizTopic.topic_id))
        .where(Quiz.class_id == class_id, past.there(Topic.dropped_at, now))
        .order_by(col(QuizTopic.topic_id))
    )
    for quiz_id, topic_id in session.exec(stmt):
        covered.setdefault(quiz_id, []).append(topic_id)
    return covered


def _taught(session: Session, class_id: int, now: datetime) -> list[GivenLesson]:
    missed: dict[int, list[int]] = {}
    absences = (
        select(Absence.lesson_id, Absence.enrolment_id)
        .join(Lesson, col(Lesson.id) == col(Absence.lesson_id))
        .where(Lesson.class_id == class_id)
        .order_by(col(Absence.enrolment_id))
    )
    for lesson_id, enrolment_id in session.exec(absences):
        missed.setdefault(lesson_id, []).append(enrolment_id)
    stmt = (
        select(Lesson.id, Lesson.topic_id, Lesson.starts_at)
        .join(Topic, col(Topic.id) == col(Lesson.topic_id))
        .where(
            Lesson.class_id == class_id,
            col(Lesson.starts_at) <= now,
            past.there(Lesson.dropped_at, now),
            past.there(Topic.dropped_at, now),
        )
        .order_by(col(Lesson.starts_at), col(Lesson.id))
    )
    return [
        GivenLesson(topic, at, tuple(missed.get(lesson_id or 0, ())))
        for lesson_id, topic, at in session.exec(stmt)
    ]


def _homework(session: Session, class_id: int, now: datetime) -> list[Practised]:
    stmt = (
        select(HomeworkReport.enrolment_id, Lesson.topic_id, HomeworkReport.at)
        .join(Lesson, col(Lesson.id) == col(HomeworkReport.lesson_id))
        .join(Topic, col(Topic.id) == col(Lesson.topic_id))
        .where(
            Lesson.class_id == class_id,
            col(HomeworkReport.done).is_(True),
            col(HomeworkReport.at) <= now,
            past.there(Lesson.dropped_at, now),
            past.there(Topic.dropped_at, now),
        )
        .order_by(col(HomeworkReport.at), col(HomeworkReport.lesson_id), col(HomeworkReport.enrolment_id))
    )
    return [Practised(*row) for row in session.exec(stmt)]


def _scores(session: Session, class_id: int, now: datetime) -> list[Scored]:
    covered = _covered(session, class_id, now)
    stmt = (
        select(Score, Quiz.at)
        .join(Quiz, col(Quiz.id) == col(Score.quiz_id))
        .where(
            Quiz.class_id == class_id,
            past.there(Quiz.dropped_at, now),
            Score.out_of > 0,
            col(Score.at) <= now,
        )
        .order_by(col(Score.id))
    )
    found = []
    for row, at in session.exec(stmt):
        topics = (row.topic_id,) if row.topic_id is not None else tuple(covered.get(row.quiz_id, ()))
        share = min(max(row.reached / row.out_of, 0.0), 1.0)
        found.append(Scored(row.enrolment_id, topics, at, share))
    return found


def _counted(session: Session, class_id: int, now: datetime) -> list[Counted]:
    stmt = (
        select(StarterResult, Question.topic_id, Question.chance)
        .join(Question, col(Question.id) == col(StarterResult.question_id))
        .join(Topic, col(Topic.id) == col(Question.topic_id))
        .where(
            StarterResult.class_id == class_id,
            StarterResult.asked > 0,
            col(StarterResult.at) <= now,
            past.there(Topic.dropped_at, now),
        )
        .order_by(col(StarterResult.id))
    )
    return [
        Counted(row.question_id, topic, row.at, min(row.right, row.asked), row.asked, chance)
        for row, topic, chance in session.exec(stmt)
    ]


def _reviewed(session: Session, class_id: int, now: datetime) -> list[Reviewed]:
    """Answers, and questions of nudges that were sent and ended without them, as they came."""
    # Columns instead of rows: a class may have tens of thousands of answers.
    answers = (
        sa.select(
            col(Answer.enrolment_id),
            col(Answer.topic_id),
            col(Answer.at),
            col(Answer.verdict),
            col(Answer.chance),
            col(Answer.question_id),
        )
        .join(Enrolment, col(Enrolment.id) == col(Answer.enrolment_id))
        .join(Topic, col(Topic.id) == col(Answer.topic_id))
        .where(col(Enrolment.class_id) == class_id, past.there(Topic.dropped_at, now), col(Answer.at) <= now)
    )
    silent = (
        select(Review.enrolment_id, Review.topic_id, Review.closed_at)
        .join(Nudge, col(Nudge.id) == col(Review.nudge_id))
        .join(Enrolment, col(Enrolment.id) == col(Review.enrolment_id))
        .join(Topic, col(Topic.id) == col(Review.topic_id))
        .where(
            Enrolment.class_id == class_id,
            Review.state == ReviewState.EXPIRED,
            Nudge.state == NudgeState.EXPIRED,
            col(Nudge.sent_at).is_not(None),
            col(Nudge.asked_for).is_(False),
            col(Review.closed_at) <= now,
            past.there(Topic.dropped_at, now),
        )
    )
    found = [
        Reviewed(student, topic, at, verdict.value, chance, question)
        for student, topic, at, verdict, chance, question in session.connection().execute(answers)
    ]
    found += [
        Reviewed(student, topic, at, "") for student, topic, at in session.exec(silent) if at is not None
    ]
    return sorted(found, key=lambda one: (one.at, one.enrolment_id, one.topic_id))


def fits_of_others(
    session: Session, class_id: int, now: datetime, *, limit: int = 50
) -> list[Mapping[str, Any]]:
    """Return the other classes' parameters fitted by `now`, those with most answers first: a prior for a new class."""
    stmt = select(ClassFit.parameters).where(
        ClassFit.class_id != class_id, ClassFit.answers > 0, col(ClassFit.fitted_at) <= now
    )
    return list(session.exec(stmt.order_by(col(ClassFit.answers).desc()).limit(limit)))


def answers_at_last_fit(session: Session, class_id: int) -> int:
    """Return how many answers the last fit of a class knew; 0 before the first."""
    last = session.get(ClassFit, class_id)
    return 0 if last is None else last.answers


def answers_of(story: ClassStory) -> int:
    """Return how many answers a story has."""
    return sum(isinstance(one, Reviewed) and bool(one.verdict) for one in story.happenings)


def keep_fit(
    session: Session, class_id: int, parameters: Mapping[str, Any], answers: int, now: datetime
) -> None:
    """Keep the parameters that a nightly fit found for a class."""
    row = session.get(ClassFit, class_id) or ClassFit(class_id=class_id, parameters={}, fitted_at=now)
    row.parameters, row.answers, row.fitted_at = dict(parameters), answers, now
    session.add(row)
    session.flush()
