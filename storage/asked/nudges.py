"""The day's nudges: planned once for each student and day, sent once, answered, expired.

A nudge is sent by writing its message to the outbox in the transaction that moves it on; so a worker that
dies has sent nothing, and one that comes second finds nothing to do. Claiming therefore needs no lease: the
row is locked (PostgreSQL) or the database is (SQLite) until that transaction ends.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import aliased
from sqlmodel import Session, col, func, select, update

from storage.base.errors import NotAllowed, refused
from storage.base.prepared import PreparedStatement
from storage.base.rows import id_of
from storage.base.statements import change, insert_new, refresh_loaded
from storage.tables import (
    Contact,
    Enrolment,
    Nudge,
    NudgeState,
    OutboxItem,
    OutboxState,
    Review,
    ReviewState,
    SchoolClass,
    UtcDateTime,
)

UNDER_WAY = (NudgeState.SENT, NudgeState.STARTED)
NOT_OVER = (NudgeState.PLANNED, *UNDER_WAY)
OURS_AT_MOST = 10
"""Numbers up to this are kept for nudges of ours."""

# Statements of every nudge are put together once: that takes longer than to run them.
_WAITING = (ReviewState.PLANNED, ReviewState.OPEN)
_UNDER_WAY = (
    select(Nudge)
    .where(
        col(Nudge.enrolment_id).in_(sa.bindparam("enrolments", expanding=True)),
        col(Nudge.state).in_(UNDER_WAY),
    )
    .order_by(col(Nudge.sent_at).desc(), col(Nudge.id).desc())
)

_OWN = aliased(Enrolment)
_SAME_PERSON = (
    select(Enrolment.id)
    .join(_OWN, col(_OWN.person_id) == col(Enrolment.person_id))
    .where(col(_OWN.id) == sa.bindparam("enrolment"))
)
_IDS_UNDER_WAY = sa.select(col(Nudge.id)).where(
    col(Nudge.enrolment_id).in_(_SAME_PERSON), col(Nudge.state).in_(UNDER_WAY)
)
_LOCKED = (
    select(Nudge, Enrolment, SchoolClass)  # who locks a nudge asks for the other two next: `class_of`
    .join(Enrolment, col(Enrolment.id) == col(Nudge.enrolment_id))
    .join(SchoolClass, col(SchoolClass.id) == col(Enrolment.class_id))
    .where(col(Nudge.id) == sa.bindparam("nudge"))
    .with_for_update(of=Nudge)
    .execution_options(populate_existing=True)
)
_HAS_ANSWER = select(Review.id).where(Review.nudge_id == Nudge.id, Review.state == ReviewState.ANSWERED)
_SENT_UNANSWERED = (
    sa.select(col(Nudge.sent_at))
    .where(
        col(Nudge.enrolment_id).in_(_SAME_PERSON),
        col(Nudge.sent_at).is_not(None),
        col(Nudge.asked_for).is_(False),
        ~_HAS_ANSWER.exists(),
    )
    .order_by(col(Nudge.sent_at))
)
_R: sa.Table = Review.__table__  # type: ignore[attr-defined]
_END_QUESTIONS = PreparedStatement(
    sa.update(_R)
    .where(_R.c.nudge_id == sa.bindparam("nudge"), _R.c.state.in_(_WAITING))
    .values(state=ReviewState.EXPIRED, closed_at=sa.bindparam("at", type_=UtcDateTime()))
)


@dataclass(frozen=True, slots=True)
class PlannedQuestion:
    """A topic to ask about, with the planner's numbers that speak for it. `predicted` is 0..1."""

    topic_id: int
    predicted: float | None = None
    reason: Mapping[str, Any] = field(default_factory=dict)


def plan(
    session: Session,
    enrolment_id: int,
    day: date,
    due_at: datetime,
    expires_at: datetime,
    questions: Sequence[PlannedQuestion],
    now: datetime,
    *,
    number: int = 1,
    asked_for: bool = False,
) -> int | None:
    """Plan a nudge with its questions, unless the student has that day's nudge already.

    Parameters
    ----------
    day : date
        The student's local day.
    due_at, expires_at : datetime
        When it shall be sent; until when its questions can be answered.
    number : int
        Which nudge of the day it is, from 1. Those that the student asked for follow on.
    asked_for : bool
        The student asked for it: it starts at once and is no nudge of ours.

    Returns
    -------
    int or None
        The id of the nudge; None when it was planned before: nothing has changed.
    """
    row = {
        "enrolment_id": enrolment_id,
        "day": day,
        "number": number,
        "due_at": due_at,
        "expires_at": expires_at,
        "asked_for": asked_for,
        "state": NudgeState.STARTED if asked_for else NudgeState.PLANNED,
        "sent_at": now if asked_for else None,
    }
    nudge_id = insert_new(session, Nudge, row)
    if nudge_id is None:
        return None
    for position, question in enumerate(questions, start=1):
        session.add(
            Review(
                nudge_id=int(nudge_id),
                enrolment_id=enrolment_id,
                topic_id=question.topic_id,
                position=position,
                predicted=question.predicted,
                reason=dict(question.reason),
                planned_at=now,
            )
        )
    session.flush()
    return int(nudge_id)


def get(session: Session, nudge_id: int) -> Nudge | None:
    """Return a nudge."""
    return session.get(Nudge, nudge_id)


def lock(session: Session, nudge_id: int) -> Nudge | None:
    """Return a nudge as it stands now, for this transaction alone."""
    found = session.exec(_LOCKED, params={"nudge": nudge_id}).first()
    return None if found is None else found[0]


def of_student(session: Session, nudge_id: int, person_id: int | None) -> Nudge:
    """Return a nudge to the student it belongs to. Raises `NotAllowed` for anybody else."""
    stmt = (
        select(Nudge)
        .join(Enrolment, col(Enrolment.id) == col(Nudge.enrolment_id))
        .where(Nudge.id == nudge_id, Enrolment.person_id == person_id)
    )
    found = session.exec(stmt.with_for_update(of=Nudge)).first() if person_id is not None else None
    if found is None:
        raise refused(NotAllowed, "not_yours")
    return found


def due(session: Session, now: datetime, *, limit: int = 20) -> list[Nudge]:
    """Return planned nudges whose moment has come, oldest first, locked for this transaction."""
    stmt = select(Nudge).where(Nudge.state == NudgeState.PLANNED, col(Nudge.due_at) <= now)
    stmt = stmt.order_by(col(Nudge.due_at), col(Nudge.id)).limit(limit)
    return list(session.exec(stmt.with_for_update(skip_locked=True)))


def next_at(session: Session) -> datetime | None:
    """Return the earliest moment at which a planned nudge is due, late ones included."""
    return session.exec(select(func.min(Nudge.due_at)).where(Nudge.state == NudgeState.PLANNED)).one()


def next_end(session: Session) -> datetime | None:
    """Return the earliest moment at which a nudge that was sent or is planned is over."""
    return session.exec(select(func.min(Nudge.expires_at)).where(col(Nudge.state).in_(NOT_OVER))).one()


def under_way(session: Session, enrolment_ids: Collection[int]) -> Nudge | None:
    """Return the nudge sent last that is not over, of any of these enrolments."""
    return session.exec(_UNDER_WAY, params={"enrolments": list(enrolment_ids)}).first()


def next_waiting(session: Session, enrolment_ids: Collection[int], now: datetime) -> Nudge | None:
    """Return the nudge with questions still to be answered that comes first, planned ones included."""
    waits = (
        select(Review.id)
        .where(
            Review.nudge_id == Nudge.id,
            col(Review.state).in_([ReviewState.PLANNED, ReviewState.OPEN]),
        )
        .exists()
    )
    stmt = select(Nudge).where(
        col(Nudge.enrolment_id).in_(list(enrolment_ids)),
        col(Nudge.state).in_(NOT_OVER),
        col(Nudge.expires_at) > now,
        waits,
    )
    return session.exec(stmt.order_by(col(Nudge.due_at), col(Nudge.id)).with_for_update()).first()


def next_number(session: Session, enrolment_id: int, day: date) -> int:
    """Return the number of the next nudge that a student asks for: after those that are ours."""
    stmt = select(func.max(Nudge.number)).where(Nudge.enrolment_id == enrolment_id, Nudge.day == day)
    return max(session.exec(stmt).one() or 0, OURS_AT_MOST) + 1


def of_day(session: Session, enrolment_id: int, day: date) -> list[Nudge]:
    """Return the nudges of a student's day in order of their number."""
    stmt = select(Nudge).where(Nudge.enrolment_id == enrolment_id, Nudge.day == day)
    return list(session.exec(stmt.order_by(col(Nudge.number))))


def settled(session: Session, class_id: int, since: date) -> set[tuple[int, date, int]]:
    """Return which nudges of ours are settled since a day: student, local day, number.

    A nudge that is planned and was never sent is not settled: it can still be planned anew.
    """
    stmt = (
        select(Nudge)
        .join(Enrolment, col(Enrolment.id) == col(Nudge.enrolment_id))
        .where(
            Enrolment.class_id == class_id,
            col(Nudge.day) >= since,
            col(Nudge.asked_for).is_(False),
            sa.or_(col(Nudge.state) != NudgeState.PLANNED, col(Nudge.sent_at).is_not(None)),
        )
    )
    return {(nudge.enrolment_id, nudge.day, nudge.number) for nudge in session.exec(stmt)}


def active_at(session: Session, class_id: int) -> dict[int, datetime]:
    """Return when each student of a class was last heard of: joined, answered, or wrote anything at all."""
    stmt = (
        select(Enrolment, func.max(Contact.last_heard_at))
        .join(Contact, col(Contact.person_id) == col(Enrolment.person_id))
        .where(Enrolment.class_id == class_id)
        .group_by(col(Enrolment.id))
    )
    return {row.id: heard_of(row, heard) for row, heard in session.exec(stmt) if row.id is not None}


def heard_of(student: Enrolment, heard_at: datetime | None) -> datetime:
    """Return when a student was last heard of, given when any of their chats was."""
    return max(at for at in (student.joined_at, student.last_answer_at, heard_at) if at is not None)


def asked_since(
    session: Session, class_id: int, since: datetime, until: datetime | None = None
) -> dict[int, int]:
    """Return how many questions of ours each student of a class was sent since a moment (and by another)."""
    stmt = (
        select(Review.enrolment_id, func.count())
        .join(Nudge, col(Nudge.id) == col(Review.nudge_id))
        .join(Enrolment, col(Enrolment.id) == col(Review.enrolment_id))
        .where(Enrolment.class_id == class_id, col(Nudge.sent_at) >= since, col(Nudge.asked_for).is_(False))
        .group_by(col(Review.enrolment_id))
    )
    if until is not None:
        stmt = stmt.where(col(Nudge.sent_at) <= until)
    return dict(session.exec(stmt).all())


# ---------------------------------------------------------------- moving on


def set_state(session: Session, nudge_id: int, state: NudgeState) -> None:
    """Move a nudge on."""
    change(session, Nudge, nudge_id, state=state)


def sent(session: Session, nudge: Nudge, now: datetime, expires_at: datetime) -> None:
    """Note that a nudge goes out now."""
    change(session, Nudge, _id(nudge), state=NudgeState.SENT, sent_at=now, expires_at=expires_at)


def put_off(session: Session, nudge: Nudge, until: datetime) -> None:
    """Send a nudge once more later: the student asked for it. A question that was open waits with it."""
    nudge.state, nudge.due_at = NudgeState.PLANNED, until
    session.exec(
        update(Review)
        .where(col(Review.nudge_id) == nudge.id, col(Review.state) == ReviewState.OPEN)
        .values(state=ReviewState.PLANNED)
    )
    session.add(nudge)
    session.flush()


def close(session: Session, nudge_id: int, state: NudgeState, now: datetime) -> None:
    """End a nudge; what was not answered is no longer asked."""
    change(session, Nudge, nudge_id, state=state)
    _END_QUESTIONS.run(session, {"nudge": nudge_id, "at": now})
    for row in session.identity_map.values():
        if isinstance(row, Review) and row.nudge_id == nudge_id and row.state in _WAITING:
            refresh_loaded(row, {"state": ReviewState.EXPIRED, "closed_at": now})


def close_earlier(session: Session, nudge: Nudge, now: datetime, *, but: int | None = None) -> None:
    """End the person's other nudges that are still under way, in all classes: the new one takes their place.

    Parameters
    ----------
    but : int, optional
        A question that is being answered: it goes on waiting, and of its nudge only the others end.
    """
    kept = None if but is None else session.get_one(Review, but).nudge_id
    for other_id in session.execute(_IDS_UNDER_WAY, {"enrolment": nudge.enrolment_id}).scalars().all():
        if other_id == kept:
            _end_planned(session, other_id, now)
        elif other_id != nudge.id:
            close(session, other_id, NudgeState.EXPIRED, now)


def _end_planned(session: Session, nudge_id: int, now: datetime) -> None:
    """End the questions of a nudge that were not shown yet."""
    waiting = select(Review).where(Review.nudge_id == nudge_id, Review.state == ReviewState.PLANNED)
    for row in session.exec(waiting):
        change(session, Review, id_of(row), state=ReviewState.EXPIRED, closed_at=now)


def over(session: Session, now: datetime, *, limit: int = 200) -> list[Nudge]:
    """Return nudges whose time went by, planned or under way, locked for this transaction."""
    stmt = select(Nudge).where(col(Nudge.state).in_(NOT_OVER), col(Nudge.expires_at) <= now)
    stmt = stmt.order_by(col(Nudge.expires_at), col(Nudge.id)).limit(limit)
    return list(session.exec(stmt.with_for_update(skip_locked=True)))


def never_arrived(session: Session, nudge: Nudge) -> bool:
    """Whether the message of a nudge was dropped or refused, so that the student never saw it."""
    stmt = select(OutboxItem.state).where(OutboxItem.nudge_id == nudge.id).order_by(col(OutboxItem.id).desc())
    last = session.exec(stmt.limit(1)).first()
    return last in (OutboxState.DROPPED, OutboxState.FAILED)


def drop_planned(session: Session, enrolment_ids: Iterable[int]) -> int:
    """Forget nudges that were planned and never sent, so that they can be planned anew; return how many."""
    stmt = select(Nudge.id).where(
        col(Nudge.enrolment_id).in_(list(enrolment_ids)),
        Nudge.state == NudgeState.PLANNED,
        col(Nudge.sent_at).is_(None),
    )
    ids = [nudge_id for nudge_id in session.exec(stmt) if nudge_id is not None]
    session.exec(sa.delete(Review).where(col(Review.nudge_id).in_(ids)))
    session.exec(sa.delete(Nudge).where(col(Nudge.id).in_(ids)))
    return len(ids)


# ---------------------------------------------------------------- silence


def unanswered_run(session: Session, enrolment_id: int, since: datetime | None) -> list[datetime]:
    """Return when the person's nudges were sent that have no answer, after `since`, oldest first."""
    stmt = _SENT_UNANSWERED if since is None else _SENT_UNANSWERED.where(col(Nudge.sent_at) > since)
    return [row.sent_at for row in session.execute(stmt, {"enrolment": enrolment_id})]


def note_silence(session: Session, student: Enrolment, now: datetime | None) -> None:
    """Note that a person was asked whether they are still there, for all classes; None: heard of again."""
    stmt = select(Enrolment).where(
        Enrolment.person_id == student.person_id, col(Enrolment.person_id).is_not(None)
    )
    for row in session.exec(stmt):
        row.silence_noted_at = now
        session.add(row)
    session.flush()


def class_of(session: Session, nudge: Nudge) -> tuple[Enrolment, SchoolClass]:
    """Return whose nudge it is and in which class."""
    enrolment = session.get_one(Enrolment, nudge.enrolment_id)
    return enrolment, session.get_one(SchoolClass, enrolment.class_id)


def _id(nudge: Nudge) -> int:
    assert nudge.id is not None  # noqa: S101 - it came from the database
    return nudge.id
