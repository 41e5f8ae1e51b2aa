"""Questions asked of students: which question, in which order of options, open or closed."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import aliased
from sqlmodel import Session, col, func, select

from storage.base.errors import NotAllowed, refused
from storage.base.prepared import PreparedStatement
from storage.base.statements import change, in_session, refresh_loaded
from storage.tables import (
    Answer,
    Blob,
    Enrolment,
    Lesson,
    Nudge,
    NudgeState,
    Question,
    Review,
    ReviewState,
    SchoolClass,
    Topic,
    UtcDateTime,
)

WAITING = (ReviewState.PLANNED, ReviewState.OPEN)

# Statements of every answer are put together once: that takes longer than to run them.
_T: sa.Table = Review.__table__  # type: ignore[attr-defined]
_SIBLING = aliased(Review)
_OF = select(func.count()).where(_SIBLING.nudge_id == Review.nudge_id).correlate(Review).scalar_subquery()
_INSTANCES: Any = (
    sa.select(
        col(Review.id).label("review_id"),
        col(Review.nudge_id),
        col(Review.enrolment_id),
        col(Topic.class_id),
        col(Review.topic_id),
        col(Topic.name).label("topic"),
        col(Review.position),
        _OF.label("of"),
        col(Review.state),
        col(Review.question_id),
        col(Question.kind),
        col(Question.prompt),
        col(Question.answer),
        col(Question.explanation),
        col(Question.chance),
        col(Question.picture),
        col(Question.picture_alt),
        col(Question.feedback),
        col(Review.option_order),
        col(Review.drawn),
        col(Review.reason),
        col(Review.asked_at),
        col(Review.closed_at),
        col(Nudge.state).label("nudge_state"),
    )
    .select_from(Review)
    .join(Topic, col(Topic.id) == col(Review.topic_id))
    .join(Nudge, col(Nudge.id) == col(Review.nudge_id))
    .outerjoin(Question, col(Question.id) == col(Review.question_id))
    .where(col(Review.enrolment_id).in_(sa.bindparam("enrolments", expanding=True)))
    .order_by(col(Review.asked_at).desc(), col(Review.id).desc())
)
_OPEN_ONE = PreparedStatement(_INSTANCES.where(col(Review.state) == ReviewState.OPEN))
_LAST_ONE = _INSTANCES.where(col(Review.asked_at).is_not(None)).limit(1)
_OPEN_OR_THIS = PreparedStatement(
    _INSTANCES.where(sa.or_(col(Review.state) == ReviewState.OPEN, col(Review.id) == sa.bindparam("review")))
)
_OF_STUDENT = PreparedStatement(
    sa.select(
        col(Review.id),
        col(Review.nudge_id),
        col(Review.enrolment_id),
        col(Review.topic_id),
        col(Review.question_id),
        col(Review.state),
        col(Review.reason),
        col(Review.asked_at),
        col(Review.closed_at),
        col(Nudge.day),
        col(Nudge.state).label("nudge_state"),
        sa.func.coalesce(col(Question.chance), 0.0).label("chance"),
        sa.func.coalesce(col(Enrolment.zone), col(SchoolClass.zone)).label("zone"),
    )
    .select_from(Review)
    .join(Enrolment, col(Enrolment.id) == col(Review.enrolment_id))
    .join(SchoolClass, col(SchoolClass.id) == col(Enrolment.class_id))
    .join(Nudge, col(Nudge.id) == col(Review.nudge_id))
    .outerjoin(Question, col(Question.id) == col(Review.question_id))
    .where(col(Review.id) == sa.bindparam("review"), col(Enrolment.person_id) == sa.bindparam("person"))
    .with_for_update(of=Review)
)
_SHOW = PreparedStatement(
    sa.update(_T)
    .where(_T.c.id == sa.bindparam("review"))
    .values(
        state=ReviewState.OPEN,
        question_id=sa.bindparam("shown"),
        option_order=sa.bindparam("order", type_=_T.c.option_order.type),
        drawn=sa.bindparam("drawn", type_=_T.c.drawn.type),
        asked_at=sa.func.coalesce(_T.c.asked_at, sa.bindparam("at", type_=UtcDateTime())),
    )
)


@dataclass(frozen=True, slots=True)
class Instance:
    """One question as it was put to one student.

    Attributes
    ----------
    prompt, answer, explanation, feedback
        As they were asked: where values were drawn, with those.
    option_order : tuple of int
        Places of the stored options in the order in which they are shown.
    of : int
        How many questions the nudge has.
    """

    review_id: int
    nudge_id: int
    enrolment_id: int
    class_id: int
    topic_id: int
    topic: str
    position: int
    of: int
    state: ReviewState
    question_id: int | None
    kind: str
    prompt: str
    answer: Mapping[str, Any]
    explanation: str
    chance: float
    picture: str | None
    picture_alt: str
    feedback: Mapping[str, Any] | None
    option_order: tuple[int, ...]
    reason: Mapping[str, Any]
    asked_at: datetime | None
    closed_at: datetime | None
    nudge_state: NudgeState


@dataclass(frozen=True, slots=True)
class InHand:
    """A question that was put to a student, locked for this transaction.

    Attributes
    ----------
    day : date
        The student's local day of its nudge, and `nudge_state` where that stands.
    chance : float
        Probability of a right answer without knowing anything. [0..1)
    zone : str
        The student's time zone.
    """

    id: int
    nudge_id: int
    enrolment_id: int
    topic_id: int
    question_id: int | None
    state: ReviewState
    reason: Mapping[str, Any]
    asked_at: datetime | None
    closed_at: datetime | None
    day: date
    nudge_state: NudgeState
    chance: float
    zone: str


@dataclass(frozen=True, slots=True)
class Picture:
    """The picture of a question."""

    media_type: str
    data: bytes


def of_student(session: Session, review_id: int, person_id: int | None) -> InHand:
    """Return a review, locked, to the student it belongs to. Raises `NotAllowed` for anybody else."""
    asked = {"review": review_id, "person": person_id}
    found = None if person_id is None else _OF_STUDENT.first(session, asked)
    if found is None:
        raise refused(NotAllowed, "not_yours")
    return InHand(*found)


def open_and_named(
    session: Session, enrolment_ids: Collection[int], review_id: int | None
) -> tuple[Instance | None, Instance | None]:
    """Return the question that waits for an answer, and the one of that id if it was put to one of these enrolments."""
    asked: dict[str, Any] = {"enrolments": list(enrolment_ids)}
    if review_id is None:
        rows = _OPEN_ONE.rows(session, asked)
    else:
        rows = _OPEN_OR_THIS.rows(session, asked | {"review": review_id})
    found = [_instance(row) for row in rows]
    waiting = next((one for one in found if one.state is ReviewState.OPEN), None)
    return waiting, next((one for one in found if one.review_id == review_id), None)


def open_one(session: Session, enrolment_ids: Collection[int]) -> Instance | None:
    """Return the question that waits for an answer."""
    return open_and_named(session, enrolment_ids, None)[0]


def last_one(session: Session, enrolment_ids: Collection[int]) -> Instance | None:
    """Return the question shown last, open or closed."""
    row = session.execute(_LAST_ONE, {"enrolments": list(enrolment_ids)}).first()
    return None if row is None else _instance(row)


def _instance(row: Any) -> Instance:
    values = row._asdict() | {"option_order": tuple(row.option_order)}
    drawn = values.pop("drawn")
    if row.kind is None:
        values |= _NOT_CHOSEN_YET
    elif drawn is not None:
        values |= {name: drawn[name] for name in AS_ASKED}
    return Instance(**values)


AS_ASKED = ("prompt", "answer", "explanation", "feedback")
"""What a question with drawn values has of its own in every review; see `Review.drawn`."""


_NOT_CHOSEN_YET: Mapping[str, Any] = {
    "kind": "",
    "prompt": "",
    "answer": {},
    "explanation": "",
    "chance": 0.0,
    "picture_alt": "",
}


def picture(session: Session, digest: str) -> Picture | None:
    """Return the picture of a question."""
    blob = session.get(Blob, digest)
    return None if blob is None else Picture(blob.media_type, blob.data)


# ---------------------------------------------------------------- asking


def topics_with_questions(session: Session, class_id: int) -> list[int]:
    """Return the topics of a class that have a question in use."""
    stmt = (
        select(Topic.id)
        .join(Question, col(Question.topic_id) == col(Topic.id))
        .where(
            Topic.class_id == class_id, col(Topic.dropped_at).is_(None), col(Question.retired_at).is_(None)
        )
        .distinct()
    )
    return [topic_id for topic_id in session.exec(stmt) if topic_id is not None]


def first_taught(session: Session, class_id: int) -> datetime | None:
    """Return when a topic that has a question in use is first taught; None when there is none."""
    stmt = (
        select(func.min(Lesson.starts_at))
        .join(Topic, col(Topic.id) == col(Lesson.topic_id))
        .join(Question, col(Question.topic_id) == col(Topic.id))
        .where(
            Topic.class_id == class_id,
            col(Topic.dropped_at).is_(None),
            col(Lesson.dropped_at).is_(None),
            col(Question.retired_at).is_(None),
        )
    )
    return session.exec(stmt).one()


def waiting(session: Session, class_id: int) -> dict[tuple[int, int], date]:
    """Return for which pairs of student and topic of a class a question has gone out and is not over.

    With the student's local day of its nudge, the latest where there are several.
    """
    stmt = (
        select(Review.enrolment_id, Review.topic_id, func.max(Nudge.day))
        .join(Nudge, col(Nudge.id) == col(Review.nudge_id))
        .join(Enrolment, col(Enrolment.id) == col(Review.enrolment_id))
        .where(
            Enrolment.class_id == class_id,
            col(Review.state).in_(WAITING),
            col(Nudge.sent_at).is_not(None),
        )
        .group_by(col(Review.enrolment_id), col(Review.topic_id))
    )
    return {(enrolment_id, topic_id): day for enrolment_id, topic_id, day in session.exec(stmt)}


def answered_pairs(session: Session, class_id: int, since: datetime) -> set[tuple[int, int]]:
    """Return the pairs of student and topic of a class that were answered since a moment."""
    stmt = (
        select(Answer.enrolment_id, Answer.topic_id)
        .join(Enrolment, col(Enrolment.id) == col(Answer.enrolment_id))
        .where(Enrolment.class_id == class_id, col(Answer.at) >= since)
    )
    return {(enrolment_id, topic_id) for enrolment_id, topic_id in session.exec(stmt)}


def show(
    session: Session,
    review_id: int,
    question_id: int,
    option_order: Sequence[int],
    now: datetime,
    drawn: Mapping[str, Any] | None = None,
) -> None:
    """Open a question: from now on it waits for an answer. Shown a second time it keeps the moment of the first.

    `drawn` is the question as it is asked, where its values were drawn.
    """
    as_asked = None if drawn is None else dict(drawn)
    order = list(option_order)
    _SHOW.run(
        session, {"review": review_id, "shown": question_id, "order": order, "at": now, "drawn": as_asked}
    )
    loaded = in_session(session, Review, review_id)
    if loaded is not None:
        new = {"state": ReviewState.OPEN, "question_id": question_id, "option_order": order}
        refresh_loaded(loaded, new | {"asked_at": loaded.asked_at or now, "drawn": as_asked})


def drawn_before(session: Session, enrolment_id: int, question_id: int) -> list[Mapping[str, Any]]:
    """Return what a student was asked of a question with drawn values, oldest first; see `Review.drawn`."""
    stmt = (
        select(Review.drawn)
        .where(
            Review.enrolment_id == enrolment_id,
            Review.question_id == question_id,
            col(Review.drawn).is_not(None),
        )
        .order_by(col(Review.asked_at), col(Review.id))
    )
    return [drawn for drawn in session.exec(stmt) if drawn is not None]


def drop(session: Session, review_id: int, now: datetime) -> None:
    """Close a question that cannot or need not be asked any more."""
    change(session, Review, review_id, state=ReviewState.EXPIRED, closed_at=now)
