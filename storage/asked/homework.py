"""Homework as students report it: asked once in the evening, believed; the teacher's word stands above it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import sqlalchemy as sa
from sqlmodel import Session, col, select

from storage.base.errors import NotAllowed, refused
from storage.base.statements import insert_new
from storage.tables import Absence, Enrolment, HomeworkReport, Lesson, Topic

_CLASS_OF_STUDENT = (
    select(Enrolment.class_id).where(col(Enrolment.id) == sa.bindparam("enrolment")).scalar_subquery()
)
_UNREPORTED = (
    sa.select(col(Lesson.id), col(Topic.name), col(Lesson.homework))
    .select_from(Lesson)
    .join(Topic, col(Topic.id) == col(Lesson.topic_id))
    .where(
        col(Lesson.class_id) == _CLASS_OF_STUDENT,
        col(Lesson.starts_at) >= sa.bindparam("start"),
        col(Lesson.starts_at) < sa.bindparam("end"),
        col(Lesson.homework).is_not(None),
        col(Lesson.dropped_at).is_(None),
        *(
            col(Lesson.id).not_in(
                select(told.lesson_id).where(col(told.enrolment_id) == sa.bindparam("enrolment"))
            )
            for told in (HomeworkReport, Absence)
        ),
    )
    .order_by(col(Lesson.starts_at), col(Lesson.id))
)


@dataclass(frozen=True, slots=True)
class HomeworkSet:
    """Homework that a lesson gave."""

    lesson_id: int
    topic: str
    text: str


def unreported(session: Session, enrolment_id: int, start: datetime, end: datetime) -> list[HomeworkSet]:
    """Return the homework of a student's lessons from `start` until before `end` that nobody has reported.

    A lesson that the student missed set them none.
    """
    asked = {"start": start, "end": end, "enrolment": enrolment_id}
    return [HomeworkSet(*found) for found in session.execute(_UNREPORTED, asked)]


def report(session: Session, person_id: int | None, lesson_id: int, done: bool, now: datetime) -> bool:
    """Note a student's own word on the homework of a lesson.

    Returns
    -------
    bool
        False when the teacher has spoken: that stands.

    Raises
    ------
    NotAllowed
        The person is no student of the lesson's class.
    """
    enrolment_id = _enrolment(session, person_id, lesson_id)
    row = {"lesson_id": lesson_id, "enrolment_id": enrolment_id, "done": done, "at": now}
    if insert_new(session, HomeworkReport, row) is not None:
        return True
    known = session.get_one(HomeworkReport, (lesson_id, enrolment_id))
    if known.by_teacher:
        return False
    known.done, known.at = done, now
    session.add(known)
    session.flush()
    return True


def topic_of(session: Session, lesson_id: int) -> str:
    """Return the name of the topic of a lesson."""
    stmt = (
        select(Topic.name).join(Lesson, col(Lesson.topic_id) == col(Topic.id)).where(Lesson.id == lesson_id)
    )
    return session.exec(stmt).first() or ""


def _enrolment(session: Session, person_id: int | None, lesson_id: int) -> int:
    stmt = (
        select(Enrolment.id)
        .join(Lesson, col(Lesson.class_id) == col(Enrolment.class_id))
        .where(Lesson.id == lesson_id, Enrolment.person_id == person_id)
    )
    found = session.exec(stmt).first() if person_id is not None else None
    if found is None:
        raise refused(NotAllowed, "not_yours")
    return found
