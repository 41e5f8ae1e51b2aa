"""The timetable of a class: what was and will be taught, quizzes, holidays, absences, homework.

Reading functions return plain values. Changing functions take a `Journal`, so that every change can be taken
back; they take the class's id and refuse rows of another class (`NotFound`). Whole files are applied by
`storage.school.timetable_change`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import sqlalchemy as sa
from sqlmodel import Session, col, func, select

from storage.base.errors import InvalidValue, NotFound, refused
from storage.base.prepared import PreparedStatement
from storage.school.change_journal import Journal
from storage.school.questions import counts, folded, topic_named
from storage.tables import (
    Absence,
    Enrolment,
    EnrolmentState,
    Holiday,
    HomeworkReport,
    Lesson,
    Quiz,
    QuizTopic,
    SchoolClass,
    Topic,
)
from storage.values import HolidayInfo, LessonInfo, QuizInfo

# Asked with every answer whose topic comes back in more than a week: the next quiz is named then.
_ZONE = PreparedStatement(
    sa.select(col(SchoolClass.zone)).where(col(SchoolClass.id) == sa.bindparam("class"))
)
_QUIZZES = PreparedStatement(
    sa.select(col(Quiz.id), col(Quiz.name), col(Quiz.kind), col(Quiz.at))
    .where(col(Quiz.class_id) == sa.bindparam("class_id"), col(Quiz.dropped_at).is_(None))
    .order_by(col(Quiz.at), col(Quiz.id))
)
_COVERED = PreparedStatement(
    sa.select(col(QuizTopic.quiz_id), col(QuizTopic.topic_id))
    .where(col(QuizTopic.quiz_id).in_(sa.bindparam("quizzes", expanding=True)))
    .order_by(col(QuizTopic.topic_id))
)

NO_TIME_GIVEN = time(12, 0, 0, 1)
"""Local time of a lesson or quiz whose row names none: the middle of the day, a few hours off at most.

The microsecond tells it from a lesson that really begins at noon; no timetable names one.
"""


@dataclass(frozen=True)
class TopicInfo:
    """A topic of a class: when it is first and last taught, its questions in use, the next quiz with it."""

    id: int
    name: str
    first_taught: datetime | None
    last_taught: datetime | None
    questions: int
    quiz_at: datetime | None


@dataclass(frozen=True)
class HomeworkLine:
    """What is known of one student's homework for a lesson; `done` is None while nobody has said."""

    enrolment_id: int
    name: str
    done: bool | None
    by_teacher: bool


@dataclass(frozen=True)
class TeachResult:
    """What `teach` did: the topic, its lesson, and the quiz it will be in, if any is planned."""

    topic: Topic
    lesson: Lesson
    quiz: Quiz | None
    was_planned: bool


# ---------------------------------------------------------------- reading


def lessons(
    session: Session, class_id: int, *, since: datetime | None = None, until: datetime | None = None
) -> list[LessonInfo]:
    """Return the lessons of a class in order of time, from `since` on and before `until`."""
    stmt = (
        sa.select(
            col(Lesson.id),
            col(Lesson.topic_id),
            col(Topic.name),
            col(Lesson.starts_at),
            col(Lesson.ends_at),
            col(Lesson.homework),
        )
        .select_from(Lesson)
        .join(Topic, col(Topic.id) == col(Lesson.topic_id))
        .where(col(Lesson.class_id) == class_id, col(Lesson.dropped_at).is_(None))
        .order_by(col(Lesson.starts_at), col(Lesson.id))
    )
    if since is not None:
        stmt = stmt.where(col(Lesson.starts_at) >= since)
    if until is not None:
        stmt = stmt.where(col(Lesson.starts_at) < until)
    found = session.execute(stmt).all()
    zone = _zone(session, class_id)
    return [
        LessonInfo(
            row.id,
            row.topic_id,
            row.name,
            row.starts_at,
            row.ends_at,
            row.homework,
            row.starts_at.astimezone(zone).date(),
        )
        for row in found
    ]


def quizzes(session: Session, class_id: int, *, since: datetime | None = None) -> list[QuizInfo]:
    """Return the quizzes of a class in order of time, from `since` on."""
    asked = _QUIZZES.rows(session, {"class_id": class_id})
    found = [quiz for quiz in asked if since is None or quiz.at >= since]
    covered = _covered(session, [quiz.id for quiz in found])
    zone = _zone(session, class_id)
    return [
        QuizInfo(
            quiz.id,
            quiz.name,
            quiz.kind.value,
            quiz.at,
            quiz.at.astimezone(zone).date(),
            covered.get(quiz.id, ()),
        )
        for quiz in found
    ]


def topics(session: Session, class_id: int, now: datetime) -> list[TopicInfo]:
    """Return the topics of a class by first lesson (those without a lesson last)."""
    rows = session.exec(
        select(Topic, func.min(Lesson.starts_at), func.max(Lesson.starts_at))
        .outerjoin(Lesson, (col(Lesson.topic_id) == col(Topic.id)) & col(Lesson.dropped_at).is_(None))
        .where(Topic.class_id == class_id, col(Topic.dropped_at).is_(None))
        .group_by(col(Topic.id))
    ).all()
    numbers = counts(session, class_id)
    in_quiz: dict[int, datetime] = {}
    for quiz in reversed(quizzes(session, class_id, since=now)):
        in_quiz.update(dict.fromkeys(quiz.topics, quiz.at))
    found = [
        TopicInfo(
            _id(topic.id),
            topic.name,
            first,
            last,
            numbers.get(_id(topic.id), 0),
            in_quiz.get(_id(topic.id)),
        )
        for topic, first, last in rows
    ]
    return sorted(found, key=lambda t: (t.first_taught is None, t.first_taught or now, t.id))


def holidays(session: Session, class_id: int, *, since: date | None = None) -> list[HolidayInfo]:
    """Return the holidays of a class that end on or after `since`, in order."""
    stmt = (
        sa.select(col(Holiday.id), col(Holiday.first_day), col(Holiday.last_day), col(Holiday.name))
        .where(col(Holiday.class_id) == class_id)
        .order_by(col(Holiday.first_day), col(Holiday.id))
    )
    if since is not None:
        stmt = stmt.where(col(Holiday.last_day) >= since)
    return [HolidayInfo(*row) for row in session.execute(stmt)]


def homework(session: Session, class_id: int, lesson_id: int) -> list[HomeworkLine]:
    """Return who did the homework of a lesson, as far as anybody said, by name."""
    lesson_of(session, class_id, lesson_id)
    stmt = (
        select(Enrolment, HomeworkReport)
        .outerjoin(
            HomeworkReport,
            (col(HomeworkReport.enrolment_id) == col(Enrolment.id))
            & (col(HomeworkReport.lesson_id) == lesson_id),
        )
        .where(
            Enrolment.class_id == class_id,
            Enrolment.state != EnrolmentState.LEFT,
            col(Enrolment.person_id).is_not(None),
        )
    )
    lines = [
        HomeworkLine(
            _id(who.id),
            who.name,
            None if report is None else report.done,
            report is not None and report.by_teacher,
        )
        for who, report in session.exec(stmt)
    ]
    return sorted(lines, key=lambda line: line.name.casefold())


def absences(session: Session, lesson_ids: Sequence[int]) -> dict[int, frozenset[int]]:
    """Return the enrolments that missed each of some lessons; lessons that nobody missed are not in it."""
    found: dict[int, set[int]] = {}
    for row in session.exec(select(Absence).where(col(Absence.lesson_id).in_(list(lesson_ids)))):
        found.setdefault(row.lesson_id, set()).add(row.enrolment_id)
    return {lesson: frozenset(students) for lesson, students in found.items()}


def lesson_of(session: Session, class_id: int, lesson_id: int) -> Lesson:
    """Return a lesson of a class. Raises `NotFound` for any other id."""
    row = session.get(Lesson, lesson_id)
    if row is None or row.class_id != class_id or row.dropped_at is not None:
        raise refused(NotFound, "no_lesson")
    return row


def topic_of(session: Session, class_id: int, topic_id: int) -> Topic:
    """Return a topic in use of a class. Raises `NotFound` for any other id."""
    row = session.get(Topic, topic_id)
    if row is None or row.class_id != class_id or row.dropped_at is not None:
        raise refused(NotFound, "no_topic")
    return row


def quiz_of(session: Session, class_id: int, quiz_id: int) -> Quiz:
    """Return a quiz of a class. Raises `NotFound` for any other id."""
    row = session.get(Quiz, quiz_id)
    if row is None or row.class_id != class_id or row.dropped_at is not None:
        raise refused(NotFound, "no_quiz")
    return row


# ---------------------------------------------------------------- changing


def moment(day: date, at: time | None, zone: str) -> datetime:
    """Return the UTC moment of a local day and time; noon where no time is given."""
    return datetime.combine(day, at or NO_TIME_GIVEN, tzinfo=ZoneInfo(zone)).astimezone(UTC)


def teach(
    journal: Journal,
    school_class: SchoolClass,
    topic_name: str,
    at: datetime,
    *,
    homework: str | None = None,
    quiz_day: date | None = None,
) -> TeachResult:
    """Note that a topic is taught now: as a topic post says it.

    A lesson of the topic that is planned for the same local day is that lesson; otherwise one is added. The
    topic joins the quiz of `quiz_day` (made if there is none), else the next quiz after the lesson.
    """
    class_id = _id(school_class.id)
    topic = topic_named(journal, class_id, topic_name)
    lesson, was_planned = _lesson_on(journal, school_class, topic, at)
    if homework is not None:
        journal.change(lesson, homework=homework)
    quiz = _quiz_for(journal, school_class, lesson, quiz_day)
    if quiz is not None:
        cover(journal, quiz, [_id(topic.id)])
    return TeachResult(topic, lesson, quiz, was_planned)


def cover(journal: Journal, quiz: Quiz, topic_ids: Iterable[int]) -> None:
    """Add topics to a quiz; those that it covers already stay."""
    have = set(_covered(journal.session, [_id(quiz.id)]).get(_id(quiz.id), ()))
    for topic_id in dict.fromkeys(topic_ids):
        if topic_id not in have:
            journal.add(QuizTopic(quiz_id=_id(quiz.id), topic_id=topic_id))


def rename_topic(journal: Journal, class_id: int, topic_id: int, name: str) -> Topic:
    """Give a topic another name. Raises `InvalidValue` for one that another topic has."""
    topic = topic_of(journal.session, class_id, topic_id)
    tidy = " ".join(name.split())
    if not 0 < len(tidy) <= 200:
        raise refused(InvalidValue, "topic_name", field="name", most=200)
    others = select(Topic).where(Topic.class_id == class_id, col(Topic.id) != topic_id)
    if any(folded(other.name) == folded(tidy) for other in journal.session.exec(others)):
        raise refused(InvalidValue, "topic_taken", field="name", name=tidy)
    journal.change(topic, name=tidy)
    journal.session.flush()
    return topic


def move_quiz(journal: Journal, class_id: int, quiz_id: int, day: date) -> Quiz:
    """Put a quiz on another day, at the same local time of day."""
    quiz = quiz_of(journal.session, class_id, quiz_id)
    zone = _zone(journal.session, class_id)
    local = quiz.at.astimezone(zone).time()
    journal.change(quiz, at=datetime.combine(day, local, tzinfo=zone).astimezone(UTC))
    return quiz


def add_holiday(journal: Journal, class_id: int, first_day: date, last_day: date, name: str) -> bool:
    """Add days without school; say whether they were not all holidays of one row already."""
    if last_day < first_day:
        raise refused(InvalidValue, "holiday_order", field="last_day")
    if last_day - first_day > timedelta(days=120):
        raise refused(InvalidValue, "holiday_long", field="last_day", most=120)
    known = holidays(journal.session, class_id, since=first_day)
    if any(one.first_day <= first_day and last_day <= one.last_day for one in known):
        return False
    journal.add(Holiday(class_id=class_id, first_day=first_day, last_day=last_day, name=name[:120]))
    return True


def drop_holiday(journal: Journal, class_id: int, holiday_id: int) -> HolidayInfo:
    """Take a holiday away again. Raises `NotFound` for one of another class."""
    row = journal.session.get(Holiday, holiday_id)
    if row is None or row.class_id != class_id:
        raise refused(NotFound, "no_holiday")
    info = HolidayInfo(holiday_id, row.first_day, row.last_day, row.name)
    journal.remove(row)
    return info


def set_absent(journal: Journal, class_id: int, lesson_id: int, enrolment_id: int, missed: bool) -> bool:
    """Note whether a student missed a lesson; say whether that is news."""
    session = journal.session
    lesson_of(session, class_id, lesson_id)
    _student_of(session, class_id, enrolment_id)
    row = session.get(Absence, (lesson_id, enrolment_id))
    if missed and row is None:
        journal.add(Absence(lesson_id=lesson_id, enrolment_id=enrolment_id))
    elif not missed and row is not None:
        journal.remove(row)
    else:
        return False
    return True


def set_homework(
    session: Session, class_id: int, lesson_id: int, enrolment_id: int, done: bool, at: datetime
) -> None:
    """Note the teacher's word on a student's homework. It replaces the student's."""
    lesson_of(session, class_id, lesson_id)
    _student_of(session, class_id, enrolment_id)
    row = session.get(HomeworkReport, (lesson_id, enrolment_id))
    if row is None:
        row = HomeworkReport(lesson_id=lesson_id, enrolment_id=enrolment_id, done=done, at=at)
    row.done, row.by_teacher, row.at = done, True, at
    session.add(row)
    session.flush()


def clock_of(at: datetime, zone: ZoneInfo) -> time | None:
    """Return the local time of a lesson or quiz, or None if its row named none."""
    local = at.astimezone(zone).time()
    return None if local == NO_TIME_GIVEN else local


# ---------------------------------------------------------------- within


def _lesson_on(
    journal: Journal, school_class: SchoolClass, topic: Topic, at: datetime
) -> tuple[Lesson, bool]:
    class_id, zone = _id(school_class.id), ZoneInfo(school_class.zone)
    day = at.astimezone(zone).date()
    planned = lessons(journal.session, class_id, since=at - timedelta(days=2), until=at + timedelta(days=2))
    for one in planned:
        if one.topic_id == topic.id and one.day == day:
            return lesson_of(journal.session, class_id, one.id), True
    lesson = Lesson(class_id=class_id, topic_id=_id(topic.id), starts_at=at)
    journal.add(lesson)
    return lesson, False


def _quiz_for(
    journal: Journal, school_class: SchoolClass, lesson: Lesson, quiz_day: date | None
) -> Quiz | None:
    session, class_id = journal.session, _id(school_class.id)
    coming = quizzes(session, class_id, since=lesson.starts_at)
    if quiz_day is None:
        return quiz_of(session, class_id, coming[0].id) if coming else None
    for one in coming:
        if one.day == quiz_day:
            return quiz_of(session, class_id, one.id)
    quiz = Quiz(class_id=class_id, at=moment(quiz_day, None, school_class.zone))
    journal.add(quiz)
    cover(journal, quiz, taught_between(session, class_id, _quiz_before(session, class_id, quiz.at), quiz.at))
    return quiz


def _quiz_before(session: Session, class_id: int, at: datetime) -> datetime | None:
    earlier = [quiz.at for quiz in quizzes(session, class_id) if quiz.at < at]
    return max(earlier, default=None)


def taught_between(session: Session, class_id: int, after: datetime | None, before: datetime) -> list[int]:
    """Return the topics first taught after one moment and before another, in order."""
    seen: dict[int, datetime] = {}
    for lesson in lessons(session, class_id, until=before):
        seen.setdefault(lesson.topic_id, lesson.starts_at)
    return [topic for topic, at in seen.items() if after is None or at > after]


def _covered(session: Session, quiz_ids: list[int]) -> Mapping[int, tuple[int, ...]]:
    found: dict[int, list[int]] = {}
    if quiz_ids:
        for quiz_id, topic_id in _COVERED.rows(session, {"quizzes": quiz_ids}):
            found.setdefault(quiz_id, []).append(topic_id)
    return {quiz: tuple(ids) for quiz, ids in found.items()}


def _student_of(session: Session, class_id: int, enrolment_id: int) -> Enrolment:
    row = session.get(Enrolment, enrolment_id)
    if row is None or row.class_id != class_id or row.state == EnrolmentState.LEFT:
        raise refused(NotFound, "no_student")
    return row


def _zone(session: Session, class_id: int) -> ZoneInfo:
    found = _ZONE.rows(session, {"class": class_id})
    if not found:
        raise refused(NotFound, "no_class")
    return ZoneInfo(found[0].zone)


def _id(value: int | None) -> int:
    if value is None:
        raise ValueError("The row was not stored yet.")
    return value
