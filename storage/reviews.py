"""Questions asked of students: which question, in which order of options, open or closed."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import aliased
from sqlmodel import Session, col, func, select

from storage.errors import NotAllowed, refused
from storage.tables import (
    Answer,
    Blob,
    Enrolment,
    Lesson,
    Nudge,
    Question,
    Review,
    ReviewState,
    Topic,
    Verdict,
)

WAITING = (ReviewState.PLANNED, ReviewState.OPEN)

# Statements of every answer are put together once: that takes longer than to run them.
_NUDGE = col(Review.nudge_id) == sa.bindparam("nudge")
_PLANNED_IN = (
    select(Review)
    .where(_NUDGE, col(Review.state) == ReviewState.PLANNED)
    .order_by(col(Review.position))
    .with_for_update()
)
_OPEN_OF = select(Review.id).where(_NUDGE, col(Review.state) == ReviewState.OPEN)
_LEFT_IN = (
    select(
        func.count(),
        func.coalesce(func.sum(sa.case((col(Review.state) == ReviewState.ANSWERED, 1), else_=0)), 0),
        func.coalesce(func.sum(sa.case((col(Answer.verdict) == Verdict.RIGHT, 1), else_=0)), 0),
        func.coalesce(func.sum(sa.case((col(Review.state).in_(WAITING), 1), else_=0)), 0),
    )
    .select_from(Review)
    .outerjoin(Answer, col(Answer.review_id) == col(Review.id))
    .where(_NUDGE)
)
_LAST_ASKED = (
    select(col(Review.question_id).label("question_id"), func.max(Review.asked_at).label("asked_at"))
    .where(
        col(Review.enrolment_id) == sa.bindparam("enrolment"), col(Review.topic_id) == sa.bindparam("topic")
    )
    .group_by(col(Review.question_id))
    .subquery()
)
_QUESTION_FOR = (
    select(Question)
    .outerjoin(_LAST_ASKED, _LAST_ASKED.c.question_id == col(Question.id))
    .where(col(Question.topic_id) == sa.bindparam("topic"), col(Question.retired_at).is_(None))
    .order_by(_LAST_ASKED.c.asked_at.is_not(None), _LAST_ASKED.c.asked_at, col(Question.id))
    .limit(1)
)
_SIBLING = aliased(Review)
_OF = select(func.count()).where(_SIBLING.nudge_id == Review.nudge_id).correlate(Review).scalar_subquery()
_INSTANCES = (
    select(Review, Topic, Question, _OF)
    .join(Topic, col(Topic.id) == col(Review.topic_id))
    .outerjoin(Question, col(Question.id) == col(Review.question_id))
    .where(col(Review.enrolment_id).in_(sa.bindparam("enrolments", expanding=True)))
    .order_by(col(Review.asked_at).desc(), col(Review.id).desc())
    .limit(1)
)
_THIS_ONE = _INSTANCES.where(col(Review.id) == sa.bindparam("review"))
_OPEN_ONE = _INSTANCES.where(col(Review.state) == ReviewState.OPEN)
_LAST_ONE = _INSTANCES.where(col(Review.asked_at).is_not(None))
_OF_STUDENT = (
    select(Review)
    .join(Enrolment, col(Enrolment.id) == col(Review.enrolment_id))
    .where(col(Review.id) == sa.bindparam("review"), col(Enrolment.person_id) == sa.bindparam("person"))
    .with_for_update(of=Review)
)
_OF_NUDGE = select(Review).where(_NUDGE).order_by(col(Review.position))
_LAST_TAUGHT = (
    select(Lesson.topic_id, func.max(Lesson.starts_at))
    .where(
        col(Lesson.topic_id).in_(sa.bindparam("topics", expanding=True)),
        col(Lesson.starts_at) < sa.bindparam("before"),
        col(Lesson.dropped_at).is_(None),
    )
    .group_by(col(Lesson.topic_id))
)
_ANSWERED_SINCE = select(Review.topic_id).where(
    col(Review.enrolment_id) == sa.bindparam("enrolment"),
    col(Review.state) == ReviewState.ANSWERED,
    col(Review.closed_at) >= sa.bindparam("since"),
)


@dataclass(frozen=True, slots=True)
class Instance:
    """One question as it was put to one student.

    Attributes
    ----------
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
    option_order: tuple[int, ...]
    reason: Mapping[str, Any]
    asked_at: datetime | None


@dataclass(frozen=True, slots=True)
class Picture:
    """The picture of a question."""

    media_type: str
    data: bytes


def of_student(session: Session, review_id: int, person_id: int | None) -> Review:
    """Return a review, locked, to the student it belongs to. Raises `NotAllowed` for anybody else."""
    asked = {"review": review_id, "person": person_id}
    found = session.exec(_OF_STUDENT, params=asked).first() if person_id is not None else None
    if found is None:
        raise refused(NotAllowed, "not_yours")
    return found


def instance(session: Session, review_id: int, enrolment_ids: Collection[int]) -> Instance | None:
    """Return a question that was put to one of these enrolments, or None when it was not."""
    return _first(session, _THIS_ONE, enrolment_ids, review=review_id)


def open_one(session: Session, enrolment_ids: Collection[int]) -> Instance | None:
    """Return the question that waits for an answer."""
    return _first(session, _OPEN_ONE, enrolment_ids)


def last_one(session: Session, enrolment_ids: Collection[int]) -> Instance | None:
    """Return the question shown last, open or closed."""
    return _first(session, _LAST_ONE, enrolment_ids)


def _first(session: Session, asked: Any, enrolment_ids: Collection[int], **more: int) -> Instance | None:
    found = session.exec(asked, params={"enrolments": list(enrolment_ids), **more}).first()
    return None if found is None else _instance(*found)


def _instance(row: Review, topic: Topic, question: Question | None, of: int) -> Instance:
    assert row.id is not None  # noqa: S101 - it came from the database
    return Instance(
        review_id=row.id,
        nudge_id=row.nudge_id,
        enrolment_id=row.enrolment_id,
        class_id=topic.class_id,
        topic_id=row.topic_id,
        topic=topic.name,
        position=row.position,
        of=of,
        state=row.state,
        question_id=row.question_id,
        kind="" if question is None else question.kind,
        prompt="" if question is None else question.prompt,
        answer={} if question is None else question.answer,
        explanation="" if question is None else question.explanation,
        chance=0.0 if question is None else question.chance,
        picture=None if question is None else question.picture,
        picture_alt="" if question is None else question.picture_alt,
        option_order=tuple(row.option_order),
        reason=row.reason,
        asked_at=row.asked_at,
    )


def picture(session: Session, digest: str) -> Picture | None:
    """Return the picture of a question."""
    blob = session.get(Blob, digest)
    return None if blob is None else Picture(blob.media_type, blob.data)


def of_nudge(session: Session, nudge_id: int) -> list[Review]:
    """Return the questions of a nudge in order."""
    return list(session.exec(_OF_NUDGE, params={"nudge": nudge_id}))


def last_taught(session: Session, topic_ids: Collection[int], before: datetime) -> dict[int, datetime]:
    """Return when topics were last taught before a moment."""
    asked = {"topics": list(topic_ids), "before": before}
    return dict(session.exec(_LAST_TAUGHT, params=asked).all())


# ---------------------------------------------------------------- asking


def topics_with_questions(session: Session, class_id: int) -> list[int]:
    """Return the topics of a class that have a question in use."""
    asked = (
        select(Topic.id)
        .join(Question, col(Question.topic_id) == col(Topic.id))
        .where(
            Topic.class_id == class_id, col(Topic.dropped_at).is_(None), col(Question.retired_at).is_(None)
        )
        .distinct()
    )
    return [topic_id for topic_id in session.exec(asked) if topic_id is not None]


def waiting(session: Session, class_id: int) -> set[tuple[int, int]]:
    """Return the pairs of student and topic of a class for which a question has gone out and is not over."""
    asked = (
        select(Review.enrolment_id, Review.topic_id)
        .join(Nudge, col(Nudge.id) == col(Review.nudge_id))
        .join(Enrolment, col(Enrolment.id) == col(Review.enrolment_id))
        .where(
            Enrolment.class_id == class_id,
            col(Review.state).in_(WAITING),
            col(Nudge.sent_at).is_not(None),
        )
    )
    return {(enrolment_id, topic_id) for enrolment_id, topic_id in session.exec(asked)}


def answered_since(session: Session, enrolment_id: int, since: datetime) -> set[int]:
    """Return the topics for which a student closed a question since a moment."""
    return set(session.exec(_ANSWERED_SINCE, params={"enrolment": enrolment_id, "since": since}))


def answered_pairs(session: Session, class_id: int, since: datetime) -> set[tuple[int, int]]:
    """Return the pairs of student and topic of a class that were answered since a moment."""
    asked = (
        select(Answer.enrolment_id, Answer.topic_id)
        .join(Enrolment, col(Enrolment.id) == col(Answer.enrolment_id))
        .where(Enrolment.class_id == class_id, col(Answer.at) >= since)
    )
    return {(enrolment_id, topic_id) for enrolment_id, topic_id in session.exec(asked)}


def question_for(session: Session, enrolment_id: int, topic_id: int) -> Question | None:
    """Return the question in use of a topic that the student was not asked for longest; None when there is none.

    Questions never asked come first, in the order in which they were written.
    """
    return session.exec(_QUESTION_FOR, params={"enrolment": enrolment_id, "topic": topic_id}).first()


def planned_in(session: Session, nudge_id: int) -> list[Review]:
    """Return the questions of a nudge that were not shown yet, in order, locked for this transaction."""
    return list(session.exec(_PLANNED_IN, params={"nudge": nudge_id}))


def show(
    session: Session, review: Review, question: Question, option_order: Sequence[int], now: datetime
) -> None:
    """Open a question: from now on it waits for an answer. Shown a second time it stays the same question."""
    review.state, review.question_id = ReviewState.OPEN, question.id
    review.option_order = list(option_order)
    review.asked_at = review.asked_at or now
    session.add(review)
    session.flush()


def drop(session: Session, review: Review, now: datetime) -> None:
    """Close a question that cannot or need not be asked any more."""
    review.state, review.closed_at = ReviewState.EXPIRED, now
    session.add(review)
    session.flush()


def chance_of(session: Session, review: Review) -> float:
    """Return the probability of a right answer to the question of a review without knowing anything. [0..1)."""
    asked = None if review.question_id is None else session.get(Question, review.question_id)
    return 0.0 if asked is None else asked.chance


def question(session: Session, question_id: int) -> Question | None:
    """Return a question, in use or not."""
    return session.get(Question, question_id)


def left_in(session: Session, nudge_id: int) -> tuple[int, int, int, int]:
    """Return how many questions a nudge has: in all, answered, answered right, still to be answered."""
    total, answered, right, left = session.exec(_LEFT_IN, params={"nudge": nudge_id}).one()
    return int(total), int(answered), int(right), int(left)


def open_of_nudge(session: Session, nudge_id: int) -> int | None:
    """Return the review of a nudge that waits for an answer."""
    return session.exec(_OPEN_OF, params={"nudge": nudge_id}).first()


def nudge_of(session: Session, review: Review) -> Nudge:
    """Return the nudge that a question belongs to."""
    return session.get_one(Nudge, review.nudge_id)
