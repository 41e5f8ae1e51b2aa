"""The teachers of the whole school: who teaches what, and taking somebody's rights away."""

from __future__ import annotations

from dataclasses import dataclass, replace

from sqlmodel import Session, col, delete, select

from storage.school import classes
from storage.tables import SchoolClass, Staff, Teaching


@dataclass(frozen=True)
class TeacherInfo:
    """A teacher.

    Attributes
    ----------
    name : str
        How students are told; the latest one where it differs between classes.
    classes : tuple of str
        Short names of the open classes that the person teaches, in alphabetical order.
    creates : bool
        Whether the person may create classes.
    """

    person_id: int
    name: str
    classes: tuple[str, ...] = ()
    creates: bool = False


def all_teachers(session: Session) -> list[TeacherInfo]:
    """Return everybody who teaches an open class or may create one, by name."""
    found = {
        row.person_id: TeacherInfo(row.person_id, row.name, (), True) for row in session.exec(select(Staff))
    }
    stmt = (
        select(Teaching, SchoolClass.slug)
        .join(SchoolClass, col(SchoolClass.id) == col(Teaching.class_id))
        .where(col(SchoolClass.closed_at).is_(None))
        .order_by(col(Teaching.since), col(Teaching.id))
    )
    for row, slug in session.exec(stmt):
        before = found.get(row.person_id, TeacherInfo(row.person_id, row.name))
        taught = tuple(sorted({*before.classes, slug}))
        found[row.person_id] = replace(before, name=row.name or before.name, classes=taught)
    return sorted(found.values(), key=lambda one: (one.name.casefold(), one.person_id))


def withdraw(session: Session, person_id: int) -> int:
    """Take a person out of all classes, and the right to create classes; what they have written stays.

    Returns
    -------
    int
        How many open classes the person taught.

    Raises
    ------
    InvalidValue
        An open class would be left without a teacher. Nothing was changed.
    """
    taught = [row.id for row in classes.of_teacher(session, person_id) if row.id is not None]
    for class_id in taught:
        classes.check_other_teacher(session, class_id)
    session.exec(delete(Teaching).where(col(Teaching.person_id) == person_id))
    session.exec(delete(Staff).where(col(Staff.person_id) == person_id))
    session.flush()
    return len(taught)
