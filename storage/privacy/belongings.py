"""What belongs to one person or one class: the single list that export, erasure and cleanup go by.

A test holds every table of the database against it, so that a new table cannot be forgotten.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, SQLModel, col, select

from storage.tables import (
    Absence,
    Answer,
    Channel,
    ClassFit,
    Code,
    CodeTry,
    Contact,
    Dialogue,
    Due,
    Enrolment,
    Holiday,
    HomeworkReport,
    InboxItem,
    Lesson,
    Nudge,
    OutboxItem,
    Person,
    Question,
    Quiz,
    QuizTopic,
    Review,
    SchoolClass,
    Score,
    Staff,
    StarterResult,
    Teaching,
    Topic,
    Upload,
)

Condition = sa.ColumnElement[bool]

ABOUT_NOBODY = frozenset({"blob", "key_value", "platform_file", "sending_pace"})
"""Tables without an owner: bytes go when nothing names them any more (`storage.base.blobs`)."""


@dataclass(frozen=True, slots=True)
class OwnedRows:
    """Rows of one table that belong to somebody."""

    table: type[SQLModel]
    condition: Condition

    @property
    def name(self) -> str:
        """Name of the table."""
        return str(self.table.__tablename__)


@dataclass(frozen=True, slots=True)
class Owner:
    """A person with all chats and enrolments."""

    person_id: int
    enrolments: tuple[int, ...]
    chats: tuple[Contact, ...]


def owner(session: Session, person_id: int) -> Owner:
    """Look up the chats and the enrolments of a person, left ones included."""
    enrolled = session.exec(select(Enrolment.id).where(Enrolment.person_id == person_id)).all()
    chats = session.exec(select(Contact).where(Contact.person_id == person_id)).all()
    return Owner(person_id, tuple(number for number in enrolled if number is not None), tuple(chats))


def of_person(who: Owner) -> list[OwnedRows]:
    """Return everything that belongs to a person, in an order in which it can be deleted."""
    return [
        OwnedRows(OutboxItem, _in_chats(OutboxItem, "address", who) | _nudged(_of(Nudge, who))),
        *_of_enrolments(who.enrolments),
        OwnedRows(Due, _asked_by(who)),
        OwnedRows(Code, (col(Code.person_id) == who.person_id) | col(Code.enrolment_id).in_(who.enrolments)),
        OwnedRows(CodeTry, _in_chats(CodeTry, "user", who)),
        OwnedRows(Dialogue, _in_chats(Dialogue, "user", who)),
        OwnedRows(InboxItem, _in_chats(InboxItem, "user", who)),
        OwnedRows(Enrolment, col(Enrolment.person_id) == who.person_id),
        OwnedRows(Upload, col(Upload.person_id) == who.person_id),
        OwnedRows(Teaching, col(Teaching.person_id) == who.person_id),
        OwnedRows(Staff, col(Staff.person_id) == who.person_id),
        OwnedRows(Contact, col(Contact.person_id) == who.person_id),
        OwnedRows(Person, col(Person.id) == who.person_id),
    ]


def of_enrolment(enrolment_id: int) -> list[OwnedRows]:
    """Return everything that belongs to a student in one class, in an order in which it can be deleted."""
    nudges = sa.select(col(Nudge.id)).where(col(Nudge.enrolment_id) == enrolment_id)
    return [
        OwnedRows(OutboxItem, _nudged(nudges)),
        *_of_enrolments([enrolment_id]),
        OwnedRows(Code, col(Code.enrolment_id) == enrolment_id),
        OwnedRows(Enrolment, col(Enrolment.id) == enrolment_id),
    ]


def of_class(session: Session, class_id: int) -> list[OwnedRows]:
    """Return everything that belongs to a class, in an order in which it can be deleted."""
    enrolled = [n for n in session.exec(select(Enrolment.id).where(Enrolment.class_id == class_id)) if n]
    topics = select(Topic.id).where(Topic.class_id == class_id)
    quizzes = select(Quiz.id).where(Quiz.class_id == class_id)
    mine = Channel.class_id == class_id
    channels = session.exec(select(Channel.platform, Channel.address).where(mine)).all()
    nudges = sa.select(col(Nudge.id)).where(col(Nudge.enrolment_id).in_(enrolled))
    return [
        OwnedRows(OutboxItem, _pairs(OutboxItem, "address", channels) | _nudged(nudges)),
        *_of_enrolments(enrolled),
        OwnedRows(StarterResult, col(StarterResult.class_id) == class_id),
        OwnedRows(Score, col(Score.quiz_id).in_(quizzes)),
        OwnedRows(QuizTopic, col(QuizTopic.quiz_id).in_(quizzes)),
        OwnedRows(Quiz, col(Quiz.class_id) == class_id),
        OwnedRows(Due, (col(Due.subject) == class_id) & ~_names_a_speaker()),
        OwnedRows(Lesson, col(Lesson.class_id) == class_id),
        OwnedRows(Holiday, col(Holiday.class_id) == class_id),
        OwnedRows(Question, col(Question.topic_id).in_(topics)),
        OwnedRows(Topic, col(Topic.class_id) == class_id),
        OwnedRows(Upload, col(Upload.class_id) == class_id),
        OwnedRows(ClassFit, col(ClassFit.class_id) == class_id),
        OwnedRows(Channel, col(Channel.class_id) == class_id),
        OwnedRows(Code, (col(Code.class_id) == class_id) | col(Code.enrolment_id).in_(enrolled)),
        OwnedRows(Teaching, col(Teaching.class_id) == class_id),
        OwnedRows(Enrolment, col(Enrolment.class_id) == class_id),
        OwnedRows(SchoolClass, col(SchoolClass.id) == class_id),
    ]


def _of_enrolments(enrolments: Sequence[int]) -> list[OwnedRows]:
    """Return what belongs to students of classes and nothing else names."""
    tables: Sequence[type[SQLModel]] = (Answer, Review, Nudge, Absence, HomeworkReport, Score)
    return [OwnedRows(table, sa.column("enrolment_id").in_(enrolments)) for table in tables]


def _of(table: type[Nudge], who: Owner) -> sa.Select[Any]:
    return sa.select(col(table.id)).where(col(table.enrolment_id).in_(who.enrolments))


def _nudged(nudges: sa.Select[Any]) -> Condition:
    return col(OutboxItem.nudge_id).in_(nudges)


def _in_chats(table: type[SQLModel], field: str, who: Owner) -> Condition:
    return _pairs(table, field, [(chat.platform, getattr(chat, field)) for chat in who.chats])


def _names_a_speaker() -> Condition:
    """Due work that somebody asked for keeps who, and where to answer, under ``speaker``."""
    return sa.cast(col(Due.payload), sa.Text).contains('"speaker"')


def _asked_by(who: Owner) -> Condition:
    payload = sa.cast(col(Due.payload), sa.Text)

    def has(text: str) -> Condition:
        return payload.contains(json.dumps(text), autoescape=True)

    named = [has(chat.user) & has(chat.platform) for chat in who.chats]
    return _names_a_speaker() & sa.or_(sa.false(), *named)


def _pairs(table: type[SQLModel], field: str, pairs: Sequence[tuple[str, str]]) -> Condition:
    columns = sa.inspect(table).columns
    named = [(columns["platform"] == platform) & (columns[field] == value) for platform, value in pairs]
    return sa.or_(sa.false(), *named)
