"""Who speaks: everything that a step has to know of a platform's user, in one look."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, col, select

from storage.tables import Contact, Enrolment, EnrolmentState, Person, SchoolClass, Staff, Teaching


@dataclass(frozen=True, slots=True)
class Known:
    """A person as a user of one platform.

    Attributes
    ----------
    language : str
        The language that the person chose, or empty.
    staff, teaches : bool
        Whether the person may create classes; whether they teach one.
    seats : tuple of (Enrolment, SchoolClass)
        The open classes that the person is a student of and has not left, longest first.
    """

    person_id: int
    language: str
    staff: bool
    teaches: bool
    seats: tuple[tuple[Enrolment, SchoolClass], ...]


# Put together once: that takes longer than to run it.
_SEAT = sa.and_(
    col(Enrolment.person_id) == col(Contact.person_id), col(Enrolment.state) != EnrolmentState.LEFT
)
_CLASS = sa.and_(col(SchoolClass.id) == col(Enrolment.class_id), col(SchoolClass.closed_at).is_(None))
_TEACHES = select(Teaching.id).where(col(Teaching.person_id) == col(Contact.person_id)).exists()
_KNOWN: Any = (
    sa.select(Person.id, Person.language, col(Staff.person_id), _TEACHES, Enrolment, SchoolClass)  # type: ignore[call-overload]
    .select_from(Contact)
    .join(Person, col(Person.id) == col(Contact.person_id))
    .outerjoin(Staff, col(Staff.person_id) == col(Contact.person_id))
    .outerjoin(Enrolment, _SEAT)
    .outerjoin(SchoolClass, _CLASS)
    .where(col(Contact.platform) == sa.bindparam("platform"), col(Contact.user) == sa.bindparam("user"))
    .order_by(col(Enrolment.joined_at), col(Enrolment.id))
)


def find(session: Session, platform: str, user: str) -> Known | None:
    """Return what is known of a platform's user; None when they are new to us."""
    rows = session.exec(_KNOWN, params={"platform": platform, "user": user}).all()
    if not rows:
        return None
    person_id, language, staff, teaches, _, _ = rows[0]
    seats = tuple((row, group) for *_, row, group in rows if group is not None)
    return Known(person_id, language, staff is not None, bool(teaches), seats)
