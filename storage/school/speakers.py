"""Who speaks: everything that a step has to know of a platform's user, in one look."""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import date, datetime
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, col, select

from storage.base import limits
from storage.base.prepared import PreparedStatement
from storage.school import rules
from storage.tables import (
    Contact,
    ContactState,
    Enrolment,
    EnrolmentState,
    Person,
    SchoolClass,
    Staff,
    Teaching,
    UtcDateTime,
)
from storage.values import ClassInfo


@dataclass(frozen=True, slots=True)
class Membership:
    """A student of a class, as `storage.tables.Enrolment` has it."""

    id: int
    name: str
    state: EnrolmentState
    zone: str | None
    nudge_minute: int | None
    quiet_from: int | None
    quiet_until: int | None
    paused_until: date | None


@dataclass(frozen=True, slots=True)
class Known:
    """A person as a user of one platform.

    Attributes
    ----------
    language : str
        The language that the person chose, or empty.
    staff, teaches : bool
        Whether the person may create classes; whether they teach one.
    memberships : tuple of (Membership, ClassInfo)
        The open classes that the person is a student of and has not left, longest first.
    """

    person_id: int
    language: str
    staff: bool
    teaches: bool
    memberships: tuple[tuple[Membership, ClassInfo], ...]


def _columns(table: Any, *names: str) -> list[Any]:
    return [getattr(table, name) for name in names]


_OF_MEMBERSHIP = _columns(Enrolment, *(field.name for field in fields(Membership)))
_OF_CLASS = _columns(SchoolClass, "id", "name", "subject", "language", *rules.RULES)
_PERSON = (col(Person.id), col(Person.language), col(Staff.person_id))
_SEAT = sa.and_(
    col(Enrolment.person_id) == col(Contact.person_id), col(Enrolment.state) != EnrolmentState.LEFT
)
_CLASS = sa.and_(col(SchoolClass.id) == col(Enrolment.class_id), col(SchoolClass.closed_at).is_(None))
_TEACHES = select(Teaching.id).where(col(Teaching.person_id) == col(Contact.person_id)).exists()
_KNOWN = PreparedStatement(
    sa.select(*_PERSON, _TEACHES, *_OF_MEMBERSHIP, *_OF_CLASS)
    .select_from(Contact)
    .join(Person, col(Person.id) == col(Contact.person_id))
    .outerjoin(Staff, col(Staff.person_id) == col(Contact.person_id))
    .outerjoin(Enrolment, _SEAT)
    .outerjoin(SchoolClass, _CLASS)
    .where(col(Contact.platform) == sa.bindparam("platform"), col(Contact.user) == sa.bindparam("user"))
    .order_by(col(Enrolment.joined_at), col(Enrolment.id))
)


_FIRST_OF_MEMBERSHIP = len(_PERSON) + 1
_FIRST_OF_CLASS = _FIRST_OF_MEMBERSHIP + len(_OF_MEMBERSHIP)


def find(session: Session, platform: str, user: str) -> Known | None:
    """Return what is known of a platform's user; None when they are new to us."""
    rows = _KNOWN.rows(session, {"platform": platform, "user": user})
    if not rows:
        return None
    person_id, language, staff, teaches = rows[0][:_FIRST_OF_MEMBERSHIP]
    memberships = tuple(
        (Membership(*row[_FIRST_OF_MEMBERSHIP:_FIRST_OF_CLASS]), _class(*row[_FIRST_OF_CLASS:]))
        for row in rows
        if row[_FIRST_OF_CLASS] is not None
    )
    return Known(person_id, language, staff is not None, bool(teaches), memberships)


def _class(class_id: int, name: str, subject: str, language: str, *values: Any) -> ClassInfo:
    return ClassInfo(class_id, name, subject, language, rules.of_columns(values))


_T: sa.Table = Contact.__table__  # type: ignore[attr-defined]
_HEARD = PreparedStatement(
    sa.update(_T)
    .where(_T.c.platform == sa.bindparam("on"), _T.c.user == sa.bindparam("who"))
    .values(
        address=sa.bindparam("at"),
        last_heard_at=sa.bindparam("now", type_=UtcDateTime()),
        state=ContactState.ACTIVE,
    )
)


def heard(session: Session, platform: str, user: str, address: str, now: datetime) -> bool:
    """Bring address and moment of a known user's private chat up to date; a block is over.

    Returns whether the user is known. On PostgreSQL the chat stays locked until the end of the transaction.
    """
    limits.check_values(Contact, {"address": address})
    # Past the ORM: at the beginning of a transaction, which has loaded nothing yet.
    said = {"on": platform, "who": user, "at": address, "now": now}
    return _HEARD.run(session, said) > 0
