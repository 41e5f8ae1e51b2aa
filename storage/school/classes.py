"""Classes, their rules, and who teaches them."""

from __future__ import annotations

import re
import unicodedata
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, col, func, select

from storage.base.errors import InvalidValue, NotAllowed, NotFound, refused
from storage.base.rows import id_of
from storage.base.statements import insert_new
from storage.school import rules
from storage.tables import SchoolClass, Teaching
from storage.values import ClassInfo

NAME_LONGEST = 80

# Statements of every event are put together once: that takes longer than to run them.
_OF_TEACHER = (
    select(SchoolClass)
    .join(Teaching, col(Teaching.class_id) == col(SchoolClass.id))
    .where(col(Teaching.person_id) == sa.bindparam("person"))
    .order_by(col(SchoolClass.name), col(SchoolClass.id))
)
_TEACHERS = (
    select(Teaching)
    .where(col(Teaching.class_id) == sa.bindparam("class_id"))
    .order_by(col(Teaching.since), col(Teaching.id))
)


def info(row: SchoolClass) -> ClassInfo:
    """Return a class as its people may see it."""
    return ClassInfo(id_of(row), row.name, row.subject, row.language, rules.rules_of(row))


def create(
    session: Session,
    *,
    name: str,
    zone: str,
    teacher_id: int | None,
    teacher_name: str = "",
    now: datetime,
    **more: Any,
) -> SchoolClass:
    """Make a class, with its first teacher where there is one already.

    Parameters
    ----------
    session : Session
        An open transaction.
    name : str
        What people call it, for example ``10B Physics``.
    zone : str
        The school's IANA zone.
    teacher_id : int or None
        Who teaches it; None where the first teacher comes later, with a code.
    teacher_name : str
        How students are told who teaches it.
    now : datetime
        The present moment.
    **more
        Further columns of `SchoolClass` that are rules (see `storage.school.rules`).

    Raises
    ------
    InvalidValue
        A name or a rule that is refused.
    """
    name = _name(name)
    rules.check({"zone": zone, **more}, SchoolClass(name=name, slug="", zone="UTC", created_at=now))
    made = SchoolClass(name=name, slug=_free_slug(session, name), zone=zone, created_at=now, **more)
    session.add(made)
    session.flush()
    if teacher_id is not None:
        add_teacher(session, _id(made), teacher_id, teacher_name, now)
    return made


def slug_of(name: str) -> str:
    """Return a name as it can stand in a command line: ``10B Physics`` becomes ``10b-physics``."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().casefold()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:70] or "class"


def get(session: Session, class_id: int) -> SchoolClass:
    """Return a class. Raises `NotFound`."""
    found = session.get(SchoolClass, class_id)
    if found is None:
        raise NotFound(f"There is no class {class_id}.")
    return found


def by_slug(session: Session, slug: str) -> SchoolClass:
    """Return the class of that short name. Raises `NotFound`, naming those that exist."""
    found = session.exec(select(SchoolClass).where(SchoolClass.slug == slug.strip().casefold())).first()
    if found is None:
        there = ", ".join(session.exec(select(SchoolClass.slug).order_by(SchoolClass.slug).limit(20)))
        raise NotFound(f"There is no class {slug!r}. There is: {there or 'no class yet'}.")
    return found


def open_classes(session: Session) -> list[SchoolClass]:
    """Return all classes that are not closed."""
    stmt = select(SchoolClass).where(col(SchoolClass.closed_at).is_(None))
    return list(session.exec(stmt.order_by(col(SchoolClass.id))))


def all_classes(session: Session) -> list[SchoolClass]:
    """Return all classes, closed ones too."""
    return list(session.exec(select(SchoolClass).order_by(col(SchoolClass.id))))


def open_ids(session: Session) -> list[int]:
    """Return the ids of all classes that are not closed."""
    stmt = select(SchoolClass.id).where(col(SchoolClass.closed_at).is_(None)).order_by(col(SchoolClass.id))
    return [class_id for class_id in session.exec(stmt) if class_id is not None]


def rename(session: Session, class_id: int, name: str) -> SchoolClass:
    """Give a class another name; its short name stays."""
    found = get(session, class_id)
    found.name = _name(name)
    session.flush()
    return found


def change_rules(session: Session, class_id: int, **changes: Any) -> SchoolClass:
    """Change rules of a class; all of them or none.

    Raises
    ------
    InvalidValue
        One of them is refused, alone or beside the others: `storage.school.rules` has the limits.
    """
    found = get(session, class_id)
    rules.check(changes, found)
    for field, value in changes.items():
        setattr(found, field, value)
    session.flush()
    return found


def close(session: Session, class_id: int, now: datetime) -> SchoolClass:
    """End a class: nobody is asked any more. Its data go when its data retention period ends."""
    found = get(session, class_id)
    found.closed_at = found.closed_at or now
    session.flush()
    return found


# ---------------------------------------------------------------- teachers


def teaches(session: Session, person_id: int, class_id: int) -> bool:
    """Whether a person teaches a class: the only source of a teacher's rights."""
    stmt = select(Teaching.id).where(Teaching.person_id == person_id, Teaching.class_id == class_id)
    return session.exec(stmt).first() is not None


def for_teacher(session: Session, person_id: int, class_id: int) -> SchoolClass:
    """Return a class to one of its teachers.

    Raises
    ------
    NotAllowed
        The person does not teach it, or there is no such class: a stranger cannot tell which.
    """
    if not teaches(session, person_id, class_id):
        raise refused(NotAllowed, "not_teacher")
    return get(session, class_id)


def of_teacher(session: Session, person_id: int, *, closed: bool = False) -> list[SchoolClass]:
    """Return the classes that a person teaches, by name; closed ones only if asked."""
    found = session.exec(_OF_TEACHER, params={"person": person_id})
    return [row for row in found if closed or row.closed_at is None]


def teachers(session: Session, class_id: int) -> list[Teaching]:
    """Return who teaches a class, longest first."""
    return list(session.exec(_TEACHERS, params={"class_id": class_id}))


def add_teacher(session: Session, class_id: int, person_id: int, name: str, now: datetime) -> Teaching:
    """Let a person teach a class. A second time changes nothing."""
    get(session, class_id)
    row = {"class_id": class_id, "person_id": person_id, "name": name.strip()[:NAME_LONGEST], "since": now}
    insert_new(session, Teaching, row)
    return session.exec(
        select(Teaching).where(Teaching.class_id == class_id, Teaching.person_id == person_id)
    ).one()


def remove_teacher(session: Session, class_id: int, person_id: int) -> None:
    """Take a teacher out of a class. Raises `InvalidValue` for the last one."""
    check_other_teacher(session, class_id)
    stmt = select(Teaching).where(Teaching.class_id == class_id, Teaching.person_id == person_id)
    found = session.exec(stmt).first()
    if found is None:
        raise refused(NotFound, "not_teaching")
    session.delete(found)
    session.flush()


def check_other_teacher(session: Session, class_id: int) -> None:
    """Raise `InvalidValue` where one teacher more could not go: a class has at least one."""
    if session.exec(select(func.count()).where(Teaching.class_id == class_id)).one() < 2:
        raise refused(InvalidValue, "last_teacher", field="person_id")


def _name(name: str) -> str:
    tidy = " ".join(name.split())
    if not tidy or len(tidy) > NAME_LONGEST:
        raise refused(InvalidValue, "class_name", field="name", most=NAME_LONGEST)
    return tidy


def _free_slug(session: Session, name: str) -> str:
    wanted = slug_of(name)
    taken = set(session.exec(select(SchoolClass.slug).where(col(SchoolClass.slug).startswith(wanted))))
    numbered = (f"{wanted}-{number}" for number in range(2, len(taken) + 3))
    return next(slug for slug in [wanted, *numbered] if slug not in taken)


def _id(row: SchoolClass) -> int:
    assert row.id is not None  # noqa: S101 - it was just written
    return row.id
