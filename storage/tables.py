"""The tables. Queries stand in the modules named after what is asked; nobody else builds statements.

All moments are aware UTC (`UtcDateTime` refuses naive ones). Hours of the day are minutes after local
midnight; the zone they are meant in stands in the class or, where a student chose one, the enrolment.
Facts that are asked for in queries are columns; JSON holds only what is read whole.
"""

from __future__ import annotations

from datetime import UTC, date, datetime
from enum import StrEnum
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Dialect
from sqlmodel import JSON, Field, SQLModel

from scheduler.calendar.quiet_hours import QUIET_FROM, QUIET_UNTIL
from storage.values import ConsentRule

SQLModel.metadata.naming_convention = {
    "ix": "ix_%(column_0_label)s",
    "uq": "uq_%(table_name)s_%(column_0_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}


class UtcDateTime(sa.types.TypeDecorator[datetime]):
    """An aware moment, stored in UTC, read back aware. SQLite would drop the offset without converting."""

    impl = sa.DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Refuse naive moments; convert the others to UTC."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"The moment {value.isoformat()} has no time zone. Stored moments are aware.")
        return value.astimezone(UTC)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Attach UTC."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


NEVER_REUSED = {"sqlite_autoincrement": True}
"""For tables whose ids travel outside (buttons, transaction ids): SQLite would give a deleted id again."""


BIG: Any = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
"""Ids of what grows with every answer: a country passes 2^31 within a year. SQLite's integers have 64 bits anyway."""


OPTIONAL_JSON: Any = JSON(none_as_null=True)
"""JSON where a row may have none: then the column is NULL, not JSON's null."""


def _word(enum: type[StrEnum]) -> sa.Enum:
    """Store an enumeration as its words: PostgreSQL's own enum types are painful to migrate."""
    return sa.Enum(enum, native_enum=False, length=24, values_callable=lambda e: [m.value for m in e])


# ---------------------------------------------------------------- people


class Person(SQLModel, table=True):
    """Somebody who uses the bot, whatever the chat. Names belong to enrolments and teaching."""

    __table_args__ = (NEVER_REUSED,)

    id: int | None = Field(default=None, primary_key=True)
    language: str = Field(default="", max_length=35)
    created_at: datetime = Field(sa_type=UtcDateTime)


class ContactState(StrEnum):
    """Whether we may write to a private chat."""

    ACTIVE = "active"
    BLOCKED = "blocked"


class Contact(SQLModel, table=True):
    """A private chat of a person on one platform. One person may have several."""

    __table_args__ = (sa.UniqueConstraint("platform", "user"),)

    id: int | None = Field(default=None, primary_key=True)
    person_id: int = Field(foreign_key="person.id", index=True)
    platform: str = Field(max_length=24)
    user: str = Field(max_length=255)
    address: str = Field(max_length=255)
    state: ContactState = Field(default=ContactState.ACTIVE, sa_type=_word(ContactState))
    last_heard_at: datetime = Field(sa_type=UtcDateTime)


class Dialogue(SQLModel, table=True):
    """Where the conversation with one user of one platform stands (also before they joined anything)."""

    __table_args__ = (sa.UniqueConstraint("platform", "user"),)

    id: int | None = Field(default=None, primary_key=True)
    platform: str = Field(max_length=24)
    user: str = Field(max_length=255)
    state: str = Field(default="idle", max_length=48)
    data: dict[str, Any] = Field(default_factory=dict, sa_type=JSON)
    updated_at: datetime = Field(sa_type=UtcDateTime, index=True)


# ---------------------------------------------------------------- classes


class SchoolClass(SQLModel, table=True):
    """A class that is taught one subject by one or more teachers, and its rules."""

    __tablename__ = "school_class"

    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(max_length=80)
    slug: str = Field(max_length=80, unique=True)
    subject: str = Field(default="", max_length=80)
    zone: str = Field(max_length=64)
    language: str = Field(default="en", max_length=35)
    # Days on which students may be asked, not those of the subject: a class with physics on three is at school on five.
    school_weekdays: list[int] = Field(default_factory=lambda: [0, 1, 2, 3, 4], sa_type=JSON)
    lesson_hours: list[list[int]] = Field(default_factory=list, sa_type=JSON)
    quiet_from: int = QUIET_FROM
    quiet_until: int = QUIET_UNTIL
    nudge_minute: int = 18 * 60
    nudges_per_day: int = 1
    questions_per_nudge: int = 3
    term_allowance: int | None = None
    target: int | None = None  # share to be known on the dates that count [%]
    on_holidays: bool = False
    consent: ConsentRule = Field(default=ConsentRule.STUDENT, sa_type=_word(ConsentRule))
    report_weekday: int = 4
    report_minute: int = 15 * 60 + 30
    retain_until: date | None = None
    created_at: datetime = Field(sa_type=UtcDateTime)
    closed_at: datetime | None = Field(default=None, sa_type=UtcDateTime)


class Teaching(SQLModel, table=True):
    """A person teaches a class. The only source of a teacher's rights."""

    __table_args__ = (sa.UniqueConstraint("class_id", "person_id"),)

    id: int | None = Field(default=None, primary_key=True)
    class_id: int = Field(foreign_key="school_class.id", index=True)
    person_id: int = Field(foreign_key="person.id", index=True)
    name: str = Field(default="", max_length=80)
    since: datetime = Field(sa_type=UtcDateTime)


class Staff(SQLModel, table=True):
    """A person who may create classes: redeemed a teacher's code."""

    person_id: int = Field(primary_key=True, foreign_key="person.id")
    name: str = Field(default="", max_length=80)
    since: datetime = Field(sa_type=UtcDateTime)


class EnrolmentState(StrEnum):
    """Whether a student of a class is asked."""

    WAITING = "waiting"  # agreed, but the school's permission is still missing
    ACTIVE = "active"
    PAUSED = "paused"
    LEFT = "left"


class Enrolment(SQLModel, table=True):
    """A student in a class. `person_id` is None for a name on the roster that has not joined yet."""

    __table_args__ = (
        sa.UniqueConstraint("class_id", "person_id"),
        sa.Index("ix_enrolment_class_state", "class_id", "state"),
        NEVER_REUSED,
    )

    id: int | None = Field(default=None, primary_key=True)
    class_id: int = Field(foreign_key="school_class.id")
    person_id: int | None = Field(default=None, foreign_key="person.id", index=True)
    name: str = Field(max_length=80)
    state: EnrolmentState = Field(default=EnrolmentState.ACTIVE, sa_type=_word(EnrolmentState))
    zone: str | None = Field(default=None, max_length=64)
    nudge_minute: int | None = None
    quiet_from: int | None = None
    quiet_until: int | None = None
    paused_until: date | None = None
    consented_at: datetime | None = Field(default=None, sa_type=UtcDateTime)
    joined_at: datetime = Field(sa_type=UtcDateTime)
    left_at: datetime | None = Field(default=None, sa_type=UtcDateTime)
    last_answer_at: datetime | None = Field(default=None, sa_type=UtcDateTime)
    silence_noted_at: datetime | None = Field(default=None, sa_type=UtcDateTime)


class Channel(SQLModel, table=True):
    """A channel or group of a class. Bound once the teacher has proved both sides."""

    __table_args__ = (sa.UniqueConstraint("platform", "address"),)

    id: int | None = Field(default=None, primary_key=True)
    class_id: int = Field(foreign_key="school_class.id", index=True)
    platform: str = Field(max_length=24)
    address: str = Field(max_length=255)
    title: str = Field(default="", max_length=120)
    can_write: bool = True
    bound_at: datetime = Field(sa_type=UtcDateTime)
    lost_at: datetime | None = Field(default=None, sa_type=UtcDateTime)


class CodeKind(StrEnum):
    """What a code is good for."""

    CLASS = "class"  # join a class as a student
    TEACHER = "teacher"  # become staff, or a teacher of `class_id` if given
    MOVE = "move"  # the same person on another platform
    CHANNEL = "channel"  # bind a channel to a class
    PERMISSION = "permission"  # a parent's or the school's permission for one enrolment


class Code(SQLModel, table=True):
    """A code that somebody was given. Only its keyed hash is stored."""

    id: int | None = Field(default=None, primary_key=True)
    kind: CodeKind = Field(sa_type=_word(CodeKind))
    digest: str = Field(max_length=64, unique=True)
    class_id: int | None = Field(default=None, foreign_key="school_class.id", index=True)
    person_id: int | None = Field(default=None, foreign_key="person.id", index=True)
    enrolment_id: int | None = Field(default=None, foreign_key="enrolment.id", index=True)
    uses_left: int | None = None
    created_at: datetime = Field(sa_type=UtcDateTime)
    expires_at: datetime | None = Field(default=None, sa_type=UtcDateTime)
    revoked_at: datetime | None = Field(default=None, sa_type=UtcDateTime)


class CodeTry(SQLModel, table=True):
    """A wrong code that somebody typed: what the rate limit counts."""

    id: int | None = Field(default=None, primary_key=True, sa_type=BIG)
    platform: str = Field(max_length=24)
    user: str = Field(max_length=255)
    at: datetime = Field(sa_type=UtcDateTime, index=True)


# ---------------------------------------------------------------- timetable


class UploadKind(StrEnum):
    """What a file was sent as."""

    TIMETABLE = "timetable"
    QUESTIONS = "questions"
    ROSTER = "roster"
    SCORES = "scores"


class UploadState(StrEnum):
    """What became of a file."""

    PENDING = "pending"
    APPLIED = "applied"
    UNDONE = "undone"
    CANCELLED = "cancelled"


class Upload(SQLModel, table=True):
    """A file that a teacher sent: what was read from it, and what it replaced, for undo."""

    id: int | None = Field(default=None, primary_key=True)
    class_id: int = Field(foreign_key="school_class.id", index=True)
    person_id: int | None = Field(default=None, foreign_key="person.id", index=True)
    kind: UploadKind = Field(sa_type=_word(UploadKind))
    state: UploadState = Field(default=UploadState.PENDING, sa_type=_word(UploadState))
    file_name: str = Field(max_length=120)
    content: dict[str, Any] = Field(default_factory=dict, sa_type=JSON)
    before: dict[str, Any] = Field(default_factory=dict, sa_type=JSON)
    created_at: datetime = Field(sa_type=UtcDateTime)
    applied_at: datetime | None = Field(default=None, sa_type=UtcDateTime)


class Topic(SQLModel, table=True):
    """What a lesson teaches and a question asks about."""

    __table_args__ = (sa.UniqueConstraint("class_id", "name"),)

    id: int | None = Field(default=None, primary_key=True)
    class_id: int = Field(foreign_key="school_class.id", index=True)
    name: str = Field(max_length=200)
    dropped_at: datetime | None = Field(default=None, sa_type=UtcDateTime)


class Lesson(SQLModel, table=True):
    """A topic is taught to a class. A topic may have several lessons; its first one starts the forgetting."""

    id: int | None = Field(default=None, primary_key=True)
    class_id: int = Field(foreign_key="school_class.id", index=True)
    topic_id: int = Field(foreign_key="topic.id", index=True)
    starts_at: datetime = Field(sa_type=UtcDateTime, index=True)
    ends_at: datetime | None = Field(default=None, sa_type=UtcDateTime)
    homework: str | None = Field(default=None, max_length=500)
    dropped_at: datetime | None = Field(default=None, sa_type=UtcDateTime)


class QuizKind(StrEnum):
    """How far back a test reaches; an exam counts for the long run."""

    QUIZ = "quiz"
    EXAM = "exam"


class Quiz(SQLModel, table=True):
    """A date that counts, with the topics that it covers."""

    id: int | None = Field(default=None, primary_key=True)
    class_id: int = Field(foreign_key="school_class.id", index=True)
    name: str = Field(default="", max_length=120)
    kind: QuizKind = Field(default=QuizKind.QUIZ, sa_type=_word(QuizKind))
    at: datetime = Field(sa_type=UtcDateTime, index=True)
    dropped_at: datetime | None = Field(default=None, sa_type=UtcDateTime)


class QuizTopic(SQLModel, table=True):
    """A quiz covers a topic."""

    __tablename__ = "quiz_topic"

    quiz_id: int = Field(primary_key=True, foreign_key="quiz.id")
    topic_id: int = Field(primary_key=True, foreign_key="topic.id", index=True)


class Holiday(SQLModel, table=True):
    """Days without school, first and last included."""

    id: int | None = Field(default=None, primary_key=True)
    class_id: int = Field(foreign_key="school_class.id", index=True)
    first_day: date
    last_day: date
    name: str = Field(default="", max_length=120)


class Absence(SQLModel, table=True):
    """A student missed a lesson."""

    lesson_id: int = Field(primary_key=True, foreign_key="lesson.id")
    enrolment_id: int = Field(primary_key=True, foreign_key="enrolment.id", index=True)


class HomeworkReport(SQLModel, table=True):
    """Whether a student did the homework of a lesson. The teacher's word replaces the student's."""

    __tablename__ = "homework_report"

    lesson_id: int = Field(primary_key=True, foreign_key="lesson.id")
    enrolment_id: int = Field(primary_key=True, foreign_key="enrolment.id", index=True)
    done: bool
    by_teacher: bool = False
    at: datetime = Field(sa_type=UtcDateTime)


# ---------------------------------------------------------------- questions


class Blob(SQLModel, table=True):
    """Bytes of a picture or a document, stored once."""

    digest: str = Field(primary_key=True, max_length=64)
    media_type: str = Field(max_length=80)
    data: bytes
    created_at: datetime = Field(sa_type=UtcDateTime, index=True)


class Question(SQLModel, table=True):
    """A self-check question of a topic. `answer` is the key as `bot.grading` wrote it.

    `template` is what a question with drawn values is made from; prompt and answer then show its formulas, and what
    was asked stands in `Review.drawn`. `feedback` is what a wrong answer is told; both as `bot.grading` wrote them.
    """

    id: int | None = Field(default=None, primary_key=True)
    topic_id: int = Field(foreign_key="topic.id", index=True)
    kind: str = Field(max_length=16)
    prompt: str = Field(max_length=1000)
    answer: dict[str, Any] = Field(sa_type=JSON)
    explanation: str = Field(default="", max_length=1000)
    picture: str | None = Field(default=None, foreign_key="blob.digest", index=True, max_length=64)
    picture_alt: str = Field(default="", max_length=500)
    chance: float = 0.0
    template: dict[str, Any] | None = Field(default=None, sa_type=OPTIONAL_JSON)
    feedback: dict[str, Any] | None = Field(default=None, sa_type=OPTIONAL_JSON)
    created_at: datetime = Field(sa_type=UtcDateTime)
    retired_at: datetime | None = Field(default=None, sa_type=UtcDateTime)


# ---------------------------------------------------------------- nudges, reviews, answers


class NudgeState(StrEnum):
    """How far a day's nudge has come."""

    PLANNED = "planned"
    SENT = "sent"
    STARTED = "started"
    DONE = "done"
    EXPIRED = "expired"  # its time went by
    DECLINED = "declined"  # "not today"


class Nudge(SQLModel, table=True):
    """The few questions of one day for one student. The unique key is what keeps it to one."""

    __table_args__ = (
        sa.UniqueConstraint("enrolment_id", "day", "number"),
        sa.Index("ix_nudge_state_due", "state", "due_at"),
        NEVER_REUSED,
    )

    id: int | None = Field(default=None, primary_key=True, sa_type=BIG)
    enrolment_id: int = Field(foreign_key="enrolment.id")
    day: date
    number: int = 1
    state: NudgeState = Field(default=NudgeState.PLANNED, sa_type=_word(NudgeState))
    due_at: datetime = Field(sa_type=UtcDateTime)
    expires_at: datetime = Field(sa_type=UtcDateTime)
    sent_at: datetime | None = Field(default=None, sa_type=UtcDateTime)
    asked_for: bool = False  # the student typed "next": not counted as a nudge of ours


class ReviewState(StrEnum):
    """How far one question of a nudge has come."""

    PLANNED = "planned"
    OPEN = "open"
    ANSWERED = "answered"
    EXPIRED = "expired"


class Review(SQLModel, table=True):
    """One question asked of one student: the question instance that every button names.

    `drawn` is the question as it was asked where its values were drawn: whatever becomes of the template, everybody
    who looks back sees those.
    """

    __table_args__ = (
        sa.UniqueConstraint("nudge_id", "position"),
        sa.Index("ix_review_enrolment_state", "enrolment_id", "state"),
        sa.Index("ix_review_enrolment_topic", "enrolment_id", "topic_id"),
        NEVER_REUSED,
    )

    id: int | None = Field(default=None, primary_key=True, sa_type=BIG)
    nudge_id: int = Field(foreign_key="nudge.id", sa_type=BIG)
    enrolment_id: int = Field(foreign_key="enrolment.id")
    topic_id: int = Field(foreign_key="topic.id", index=True)
    question_id: int | None = Field(default=None, foreign_key="question.id", index=True)
    position: int
    state: ReviewState = Field(default=ReviewState.PLANNED, sa_type=_word(ReviewState))
    predicted: float | None = None
    reason: dict[str, Any] = Field(default_factory=dict, sa_type=JSON)
    option_order: list[int] = Field(default_factory=list, sa_type=JSON)
    drawn: dict[str, Any] | None = Field(default=None, sa_type=OPTIONAL_JSON)
    planned_at: datetime = Field(sa_type=UtcDateTime)
    asked_at: datetime | None = Field(default=None, sa_type=UtcDateTime, index=True)
    closed_at: datetime | None = Field(default=None, sa_type=UtcDateTime)


class Verdict(StrEnum):
    """What became of an answer. An unreadable one is never stored."""

    RIGHT = "right"
    WRONG = "wrong"
    UNSURE = "unsure"


class Answer(SQLModel, table=True):
    """An answer of a student. One per review: the first counts."""

    __table_args__ = (sa.Index("ix_answer_enrolment_at", "enrolment_id", "at"),)

    id: int | None = Field(default=None, primary_key=True, sa_type=BIG)
    review_id: int = Field(foreign_key="review.id", unique=True, sa_type=BIG)
    enrolment_id: int = Field(foreign_key="enrolment.id")
    topic_id: int = Field(foreign_key="topic.id", index=True)
    question_id: int = Field(foreign_key="question.id", index=True)
    verdict: Verdict = Field(sa_type=_word(Verdict))
    given: str = Field(default="", max_length=500)
    option: int | None = None
    chance: float
    on_time: bool
    at: datetime = Field(sa_type=UtcDateTime, index=True)
    taken_s: float | None = None


class StarterResult(SQLModel, table=True):
    """How many of the class had a starter question right."""

    __tablename__ = "starter_result"

    id: int | None = Field(default=None, primary_key=True)
    class_id: int = Field(foreign_key="school_class.id", index=True)
    question_id: int = Field(foreign_key="question.id", index=True)
    asked: int
    right: int
    at: datetime = Field(sa_type=UtcDateTime)


class Score(SQLModel, table=True):
    """What a student reached in a quiz, for one topic or (topic None) in all."""

    id: int | None = Field(default=None, primary_key=True)
    quiz_id: int = Field(foreign_key="quiz.id", index=True)
    enrolment_id: int = Field(foreign_key="enrolment.id", index=True)
    topic_id: int | None = Field(default=None, foreign_key="topic.id", index=True)
    reached: float
    out_of: float
    at: datetime = Field(sa_type=UtcDateTime)


class ClassFit(SQLModel, table=True):
    """The parameters of the retention model as last fitted to a class."""

    __tablename__ = "class_fit"

    class_id: int = Field(primary_key=True, foreign_key="school_class.id")
    parameters: dict[str, Any] = Field(sa_type=JSON)
    answers: int = 0
    fitted_at: datetime = Field(sa_type=UtcDateTime)


# ---------------------------------------------------------------- the queue


class Due(SQLModel, table=True):
    """Something to be done at a moment. Claimed under a lease; the unique key keeps it to one."""

    __table_args__ = (
        sa.Index("ix_due_open", "done_at", "due_at"),
        sa.Index("ix_due_subject", "subject", "kind"),
    )

    id: int | None = Field(default=None, primary_key=True, sa_type=BIG)
    key: str = Field(max_length=120, unique=True)
    kind: str = Field(max_length=32)
    subject: int | None = Field(default=None, sa_type=BIG)
    payload: dict[str, Any] = Field(default_factory=dict, sa_type=JSON)
    due_at: datetime = Field(sa_type=UtcDateTime)
    lease_until: datetime | None = Field(default=None, sa_type=UtcDateTime)
    attempts: int = 0
    lease_token: int = 0  # goes up with every claim: who claimed before can no longer write
    done_at: datetime | None = Field(default=None, sa_type=UtcDateTime)
    failed: str = Field(default="", max_length=200)


class InboxItem(SQLModel, table=True):
    """Something that came in, recorded before the platform is told so. The unique key refuses a repeat."""

    __tablename__ = "inbox"
    __table_args__ = (
        sa.UniqueConstraint("platform", "key"),
        sa.Index("ix_inbox_done", "done_at", "id"),
        sa.Index("ix_inbox_user", "platform", "user", "done_at", "id"),
        NEVER_REUSED,
    )

    id: int | None = Field(default=None, primary_key=True, sa_type=BIG)
    platform: str = Field(max_length=24)
    key: str = Field(max_length=255)
    user: str = Field(default="", max_length=255)
    event: dict[str, Any] = Field(sa_type=JSON)
    received_at: datetime = Field(sa_type=UtcDateTime)
    lease_until: datetime | None = Field(default=None, sa_type=UtcDateTime)
    attempts: int = 0
    done_at: datetime | None = Field(default=None, sa_type=UtcDateTime)
    failed: str = Field(default="", max_length=200)


class OutboxState(StrEnum):
    """How far a message has come."""

    WAITING = "waiting"
    SENT = "sent"
    FAILED = "failed"  # refused for good
    DROPPED = "dropped"  # its time went by before it could be sent


class OutboxItem(SQLModel, table=True):
    """A message to be sent, written in the transaction that decided to send it."""

    __tablename__ = "outbox"
    __table_args__ = (
        sa.Index("ix_outbox_state_due", "state", "urgent", "not_before"),
        sa.Index("ix_outbox_address_key", "platform", "address", "key"),
        sa.Index("ix_outbox_address_state", "platform", "address", "state", "id"),
        NEVER_REUSED,
    )

    id: int | None = Field(default=None, primary_key=True, sa_type=BIG)
    platform: str = Field(max_length=24)
    address: str = Field(max_length=255)
    key: str = Field(default="", max_length=80)
    body: dict[str, Any] = Field(sa_type=JSON)
    blob: str | None = Field(default=None, foreign_key="blob.digest", index=True, max_length=64)
    blob_name: str = Field(default="", max_length=120)
    blob_alt: str = Field(default="", max_length=1000)
    urgent: bool = True
    nudge_id: int | None = Field(default=None, foreign_key="nudge.id", index=True, sa_type=BIG)
    state: OutboxState = Field(default=OutboxState.WAITING, sa_type=_word(OutboxState))
    not_before: datetime = Field(sa_type=UtcDateTime)
    not_after: datetime | None = Field(default=None, sa_type=UtcDateTime)
    lease_until: datetime | None = Field(default=None, sa_type=UtcDateTime)
    attempts: int = 0
    lease_token: int = 0  # goes up with every claim: who claimed before can no longer write
    message_ref: str = Field(default="", max_length=255, index=True)
    created_at: datetime = Field(sa_type=UtcDateTime)
    sent_at: datetime | None = Field(default=None, sa_type=UtcDateTime)
    failed: str = Field(default="", max_length=200)


class SendingPace(SQLModel, table=True):
    """How far ahead a platform's sending is reserved, by all processes together. Seconds since 1970, UTC.

    Attributes
    ----------
    free_s : float
        The next moment that nobody has reserved.
    reply_s : float
        From when a reply may go before its turn again.
    held_s : float
        The platform asked for nothing before this.
    """

    __tablename__ = "sending_pace"

    platform: str = Field(primary_key=True, max_length=24)
    free_s: float = 0.0
    reply_s: float = 0.0
    held_s: float = 0.0


class KeyValue(SQLModel, table=True):
    """A small value of an adapter, such as Matrix's sync token."""

    __tablename__ = "key_value"

    name: str = Field(primary_key=True, max_length=80)
    value: str
    updated_at: datetime = Field(sa_type=UtcDateTime)


class PlatformFile(SQLModel, table=True):
    """A platform's own identifier of a file that was sent there before, so that it need not travel again."""

    __tablename__ = "platform_file"

    digest: str = Field(primary_key=True, foreign_key="blob.digest", max_length=64)
    platform: str = Field(primary_key=True, max_length=24)
    file_ref: str = Field(max_length=255)
