"""A person's evening over all their classes: when it is, how much was asked, and one nudge for all of it.

Classes are planned one by one, each with nudges of its own. They become one when they go out: the nudge that is
sent takes in the questions of the others of that person and day. Its row is the host; the rows of the others stay,
done and unsent, so that nothing is planned for them again. A review keeps the enrolment that it belongs to.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

import sqlalchemy as sa
from sqlmodel import Session, col, func, select, update

from storage.asked.nudges import NOT_OVER, close, next_number
from storage.base.rows import id_of
from storage.base.statements import change
from storage.school.speakers import Membership
from storage.tables import (
    Enrolment,
    EnrolmentState,
    Nudge,
    NudgeState,
    Person,
    Review,
    ReviewState,
    SchoolClass,
    UtcDateTime,
)
from storage.values import NUDGES_A_DAY_AT_MOST

_WAITS = col(Review.state).in_((ReviewState.PLANNED, ReviewState.OPEN))
_ASIDE = 1000
"""Places of questions that are being put into a new order: no nudge has so many."""


# ---------------------------------------------------------------- when


@dataclass(frozen=True, slots=True)
class Wishes:
    """When a person wants to be asked, over all classes.

    Attributes
    ----------
    minute : int
        What they chose last, else the earliest time of their classes. [min after local midnight]
    zone : str
        What they chose last, else the zone of the class that they have been in longest.
    quiet_from, quiet_until : int or None
        Own quiet hours. [min after local midnight]
    """

    minute: int
    zone: str
    quiet_from: int | None = None
    quiet_until: int | None = None


def wishes(session: Session, person_ids: Collection[int]) -> dict[int, Wishes]:
    """Return when people want to be asked, by person; people without any class are missing."""
    stmt = (
        select(Enrolment, SchoolClass.nudge_minute, SchoolClass.zone)
        .join(SchoolClass, col(SchoolClass.id) == col(Enrolment.class_id))
        .where(
            col(Enrolment.person_id).in_(list(person_ids)),
            Enrolment.state != EnrolmentState.LEFT,
            col(SchoolClass.closed_at).is_(None),
        )
        .order_by(col(Enrolment.joined_at), col(Enrolment.id))
    )
    found: dict[int, list[tuple[Enrolment, int, str]]] = defaultdict(list)
    for row, minute, zone in session.exec(stmt):
        found[row.person_id or 0].append((row, minute, zone))
    return {person: resolve(rows) for person, rows in found.items()}


def resolve(rows: Sequence[tuple[Enrolment | Membership, int, str]]) -> Wishes:
    """Return what somebody wants over all classes: each enrolment, longest first, with its class's minute and zone."""
    active = [one for one in rows if one[0].state is EnrolmentState.ACTIVE] or rows
    minutes = [row.nudge_minute for row, _, _ in rows if row.nudge_minute is not None]
    zones = [row.zone for row, _, _ in rows if row.zone is not None]
    quiet = [(row.quiet_from, row.quiet_until) for row, _, _ in rows if row.quiet_from is not None]
    return Wishes(
        minutes[-1] if minutes else min(minute for _, minute, _ in active),
        zones[-1] if zones else active[0][2],
        *(quiet[-1] if quiet else (None, None)),
    )


# ---------------------------------------------------------------- how much


_OWN = (
    select(func.count())
    .select_from(Review)
    .join(Nudge, col(Nudge.id) == col(Review.nudge_id))
    .join(Enrolment, col(Enrolment.id) == col(Review.enrolment_id))
    .where(col(Enrolment.person_id) == sa.bindparam("person"))
)
_OF_DAY = col(Nudge.day) == sa.bindparam("day")
_SHOWN_IN_DAY = sa.and_(
    col(Review.asked_at) >= sa.bindparam("start", type_=UtcDateTime()),
    col(Review.asked_at) < sa.bindparam("end", type_=UtcDateTime()),
)
_SHOWN = col(Review.asked_at).is_not(None)
_ASKED = _OWN.where(sa.or_(_SHOWN_IN_DAY, sa.and_(_OF_DAY, sa.or_(_SHOWN, _WAITS))))
_SETTLED = _OWN.where(
    sa.or_(
        _SHOWN_IN_DAY,
        sa.and_(_OF_DAY, sa.or_(_SHOWN, sa.and_(_WAITS, col(Nudge.sent_at).is_not(None)))),
    )
)


def questions_of_day(
    session: Session, person_id: int, day: date, span: tuple[datetime, datetime], *, settled: bool = False
) -> int:
    """Return how many questions a person was asked, or stand to be asked, on a day: what the cap counts.

    Parameters
    ----------
    day : date
        The local day whose nudges count.
    span : tuple of datetime
        Start of that day and of the next: what is shown within it counts too, also of an earlier day's nudge.
    settled : bool
        Leave out those of nudges that were never sent: they are about to be planned anew.
    """
    asked = _SETTLED if settled else _ASKED
    values = {"person": person_id, "day": day, "start": span[0], "end": span[1]}
    return session.exec(asked, params=values).one()


def nudges_of_day(session: Session, person_id: int, day: date) -> int:
    """Return how many nudges of ours a person got on a day, whatever the class.

    One that the student began before its time ("next") is none; one that was put off counts once.
    """
    stmt = (
        select(func.count())
        .select_from(Nudge)
        .join(Enrolment, col(Enrolment.id) == col(Nudge.enrolment_id))
        .where(
            Enrolment.person_id == person_id,
            Nudge.day == day,
            col(Nudge.asked_for).is_(False),
            col(Nudge.sent_at).is_not(None),
            sa.or_(col(Nudge.sent_at) >= col(Nudge.due_at), col(Nudge.state) == NudgeState.PLANNED),
        )
    )
    return session.exec(stmt).one()


def nudges_allowed(session: Session, person_id: int) -> int:
    """Return how many nudges a day a person may get: what the most generous of their classes allows."""
    stmt = (
        select(func.max(SchoolClass.nudges_per_day))
        .join(Enrolment, col(Enrolment.class_id) == col(SchoolClass.id))
        .where(
            Enrolment.person_id == person_id,
            Enrolment.state == EnrolmentState.ACTIVE,
            col(SchoolClass.closed_at).is_(None),
        )
    )
    return min(session.exec(stmt).one() or 0, NUDGES_A_DAY_AT_MOST)


# ---------------------------------------------------------------- one for all


_PERSON_OF = (
    select(Person.id)
    .join(Enrolment, col(Enrolment.person_id) == col(Person.id))
    .join(Nudge, col(Nudge.enrolment_id) == col(Enrolment.id))
    .where(col(Nudge.id) == sa.bindparam("nudge"))
    .with_for_update(of=Person, key_share=True)
)


def hold(session: Session, nudge_id: int) -> None:
    """Keep a person's nudges to this transaction: two workers must not gather the same evening."""
    session.exec(_PERSON_OF, params={"nudge": nudge_id}).first()


def planned_with(
    session: Session, nudge: Nudge, person_id: int
) -> list[tuple[Nudge, Enrolment, SchoolClass]]:
    """Return the person's other nudges of that day that are planned and were never sent, soonest first, locked."""
    stmt = (
        select(Nudge, Enrolment, SchoolClass)
        .join(Enrolment, col(Enrolment.id) == col(Nudge.enrolment_id))
        .join(SchoolClass, col(SchoolClass.id) == col(Enrolment.class_id))
        .where(
            Enrolment.person_id == person_id,
            Enrolment.state == EnrolmentState.ACTIVE,
            col(SchoolClass.closed_at).is_(None),
            Nudge.id != nudge.id,
            Nudge.day == nudge.day,
            Nudge.state == NudgeState.PLANNED,
            col(Nudge.sent_at).is_(None),
        )
        .order_by(col(Nudge.due_at), col(Nudge.id))
    )
    return list(session.exec(stmt.with_for_update(of=Nudge)))


def members(session: Session, nudge: Nudge, *, with_host: bool = True) -> list[tuple[Enrolment, SchoolClass]]:
    """Return whose questions wait in a nudge: its own enrolment first, then those that it has taken in.

    Without `with_host`, its own only if it has a question in it.
    """
    stmt = (
        select(Enrolment, SchoolClass)
        .join(SchoolClass, col(SchoolClass.id) == col(Enrolment.class_id))
        .where(
            sa.or_(
                sa.and_(sa.literal(with_host), col(Enrolment.id) == nudge.enrolment_id),
                col(Enrolment.id).in_(
                    select(Review.enrolment_id).where(Review.nudge_id == nudge.id, _WAITS).distinct()
                ),
            )
        )
    )
    found = list(session.exec(stmt))
    return sorted(found, key=lambda pair: (pair[0].id != nudge.enrolment_id, id_of(pair[0])))


@dataclass(frozen=True, slots=True)
class Candidate:
    """A planned question that may go out this evening. `gain` is what the planner expects of it."""

    review_id: int
    enrolment_id: int
    topic_id: int
    gain: float


def candidates(session: Session, nudge_ids: Iterable[int]) -> list[Candidate]:
    """Return the questions of planned nudges."""
    stmt = (
        select(Review)
        .where(col(Review.nudge_id).in_(list(nudge_ids)), Review.state == ReviewState.PLANNED)
        .order_by(col(Review.nudge_id), col(Review.position))
    )
    return [
        Candidate(id_of(row), row.enrolment_id, row.topic_id, float(row.reason.get("gain", 0.0)))
        for row in session.exec(stmt)
    ]


def last_asked(session: Session, enrolment_ids: Collection[int]) -> dict[int, datetime]:
    """Return when questions of each enrolment last went out; those that were never asked are missing."""
    stmt = (
        select(Review.enrolment_id, func.max(Nudge.sent_at))
        .join(Nudge, col(Nudge.id) == col(Review.nudge_id))
        .where(col(Review.enrolment_id).in_(list(enrolment_ids)), col(Nudge.sent_at).is_not(None))
        .group_by(col(Review.enrolment_id))
    )
    return {enrolment_id: at for enrolment_id, at in session.exec(stmt) if at is not None}


def fair(found: Sequence[Candidate], room: int, asked_at: Mapping[int, datetime]) -> list[Candidate]:
    """Return the questions of an evening, best first over all classes.

    The best of every class is in, so that no subject is left out for ever; then comes what gains most. Where the
    room is too small even for one each, those come in whose class was not asked for longest.

    Parameters
    ----------
    room : int
        How many the day still has room for.
    asked_at : mapping of int to datetime
        When each enrolment was last asked; see `last_asked`.
    """
    by_gain = sorted(found, key=lambda one: (-one.gain, one.review_id))
    firsts = list({one.enrolment_id: one for one in reversed(by_gain)}.values())
    firsts.sort(
        key=lambda one: (
            asked_at[one.enrolment_id].timestamp() if one.enrolment_id in asked_at else -1.0,
            -one.gain,
            one.review_id,
        )
    )
    kept = {one.review_id for one in firsts[: max(room, 0)]}
    rest = [one for one in by_gain if one.review_id not in {first.review_id for first in firsts}]
    kept |= {one.review_id for one in rest[: max(room - len(kept), 0)]}
    return [one for one in by_gain if one.review_id in kept]


def gather(session: Session, host: Nudge, guests: Sequence[Nudge], kept: Sequence[Candidate]) -> None:
    """Put the chosen questions into one nudge, in their order; what was not chosen was never asked and goes.

    Parameters
    ----------
    host : Nudge
        The one that goes out.
    guests : sequence of Nudge
        Others of that person and day, planned and unsent: they are done with this.
    kept : sequence of Candidate
        Questions of all of them.
    """
    ids = [id_of(nudge) for nudge in (host, *guests)]
    wanted = [one.review_id for one in kept]
    session.exec(
        sa.delete(Review).where(
            col(Review.nudge_id).in_(ids),
            col(Review.asked_at).is_(None),
            col(Review.id).not_in(wanted),
            *(
                () if wanted else (col(Review.state) == ReviewState.PLANNED,)
            ),  # its place is free, or not needed
        )
    )
    for shift in (_ASIDE, 0):  # in two goes: a place must not be taken twice in between
        for place, review_id in enumerate(wanted, start=1):
            change(session, Review, review_id, nudge_id=id_of(host), position=place + shift)
    for nudge in guests:
        change(session, Nudge, id_of(nudge), state=NudgeState.DONE)


def stop(session: Session, enrolment_id: int, now: datetime) -> None:
    """End everything that is planned or under way for a student in one class: paused, left, or not yet permitted.

    Their questions of other classes in the same nudge go on.
    """
    hand_over(session, [enrolment_id], only_waiting=True)
    waiting = select(Review).where(Review.enrolment_id == enrolment_id, _WAITS)
    for row in session.exec(waiting):  # also those that a nudge of another class has taken in
        change(session, Review, id_of(row), state=ReviewState.EXPIRED, closed_at=now)
    stmt = select(Nudge).where(Nudge.enrolment_id == enrolment_id, col(Nudge.state).in_(NOT_OVER))
    for nudge in session.exec(stmt):
        close(session, id_of(nudge), NudgeState.EXPIRED, now)


def hand_over(session: Session, enrolment_ids: Collection[int], *, only_waiting: bool = False) -> None:
    """Give questions that nudges of these enrolments took in from others back to nudges of those: these go.

    What waits there goes on waiting: the nudge of the first of them takes its place.

    Parameters
    ----------
    only_waiting : bool
        Leave nudges that are over as they are: the enrolments end but are not erased.
    """
    guests = (
        select(Nudge.id, Review.enrolment_id)
        .join(Review, col(Review.nudge_id) == col(Nudge.id))
        .where(
            col(Nudge.enrolment_id).in_(list(enrolment_ids)),
            col(Review.enrolment_id).not_in(list(enrolment_ids)),
        )
        .order_by(col(Nudge.id), col(Review.enrolment_id))
        .distinct()
    )
    if only_waiting:
        guests = guests.where(col(Nudge.state).in_(NOT_OVER))
    heirs: dict[int, int] = {}
    for nudge_id, enrolment_id in session.exec(guests):
        heirs.setdefault(nudge_id or 0, enrolment_id)
    for nudge_id, enrolment_id in heirs.items():
        heir = _heir(session, session.get_one(Nudge, nudge_id), enrolment_id)
        session.exec(
            update(Review)
            .where(col(Review.nudge_id) == nudge_id, col(Review.enrolment_id).not_in(list(enrolment_ids)))
            .values(nudge_id=heir.id)
        )


def _heir(session: Session, host: Nudge, enrolment_id: int) -> Nudge:
    """Return a nudge of an enrolment that takes the place of one: its own of that day, which was taken in."""
    stmt = select(Nudge).where(
        Nudge.enrolment_id == enrolment_id,
        Nudge.day == host.day,
        Nudge.state == NudgeState.DONE,
        col(Nudge.sent_at).is_(None),
        ~select(Review.id).where(Review.nudge_id == Nudge.id).exists(),
    )
    heir = session.exec(stmt.order_by(col(Nudge.id))).first()
    if heir is None:
        number = next_number(session, enrolment_id, host.day)
        heir = Nudge(
            enrolment_id=enrolment_id, day=host.day, number=number, due_at=host.due_at, expires_at=host.due_at
        )
    heir.state, heir.due_at, heir.sent_at = host.state, host.due_at, host.sent_at
    heir.expires_at, heir.asked_for = host.expires_at, host.asked_for
    session.add(heir)
    session.flush()
    return heir
