"""Students in classes: joining, leaving, pausing, names and times."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from datetime import date, datetime

import sqlalchemy as sa
from sqlmodel import Session, col, func, select

from storage.base.errors import InvalidValue, NotAllowed, NotFound, refused
from storage.base.rows import id_of
from storage.school import classes, rules
from storage.tables import Enrolment, EnrolmentState

NAME_LONGEST = 80


def join(
    session: Session, class_id: int, person_id: int, name: str, now: datetime, *, roster_id: int | None = None
) -> Enrolment:
    """Put a student who has agreed into a class.

    Somebody who was in the class before goes on with the old history. Where the class needs the school's
    permission, the student waits for `permit`.

    Parameters
    ----------
    session : Session
        An open transaction.
    class_id, person_id : int
        Who joins what.
    name : str
        What the class calls them.
    now : datetime
        The moment of agreeing.
    roster_id : int, optional
        The name on the roster that is theirs, from `match_roster`.

    Raises
    ------
    InvalidValue
        A name that is refused; a roster name that somebody else has taken.
    NotFound
        No such class, or it is closed.
    """
    school_class = classes.get(session, class_id)
    if school_class.closed_at is not None:
        raise refused(NotFound, "class_ended")
    row = find(session, class_id, person_id)
    if row is not None and row.state is not EnrolmentState.LEFT:
        return row
    if row is None:
        row = _from_roster(session, class_id, roster_id) or Enrolment(
            class_id=class_id, name="", joined_at=now
        )
    needs_school = rules.rules_of(school_class).needs_permission
    row.person_id, row.name = person_id, tidy_name(name)
    row.state = EnrolmentState.WAITING if needs_school else EnrolmentState.ACTIVE
    row.consented_at, row.joined_at, row.left_at, row.paused_until = now, now, None, None
    session.add(row)
    session.flush()
    return row


def _from_roster(session: Session, class_id: int, roster_id: int | None) -> Enrolment | None:
    if roster_id is None:
        return None
    row = session.get(Enrolment, roster_id, with_for_update=True)
    if row is None or row.class_id != class_id or row.person_id is not None:
        raise refused(InvalidValue, "name_taken", field="name")
    return row


def tidy_name(name: str) -> str:
    """Return a name without stray blanks and invisible characters. Raises `InvalidValue` if nothing is left."""
    seen = "".join(
        " " if c.isspace() else c for c in name if c.isspace() or unicodedata.category(c)[0] != "C"
    )
    tidy = " ".join(seen.split())
    if not tidy or len(tidy) > NAME_LONGEST:
        raise refused(InvalidValue, "person_name", field="name", most=NAME_LONGEST)
    return tidy


# ---------------------------------------------------------------- finding


def get(session: Session, enrolment_id: int) -> Enrolment:
    """Return an enrolment. Raises `NotFound`."""
    found = session.get(Enrolment, enrolment_id)
    if found is None:
        raise NotFound(f"There is no enrolment {enrolment_id}.")
    return found


def find(session: Session, class_id: int, person_id: int) -> Enrolment | None:
    """Return a person's enrolment in a class, also one that was left."""
    stmt = select(Enrolment).where(Enrolment.class_id == class_id, Enrolment.person_id == person_id)
    return session.exec(stmt).first()


def for_person(session: Session, person_id: int, enrolment_id: int) -> Enrolment:
    """Return an enrolment to the student it belongs to. Raises `NotAllowed` for anybody else."""
    found = session.get(Enrolment, enrolment_id)
    if found is None or found.person_id != person_id:
        raise refused(NotAllowed, "not_yours")
    return found


# Put together once: that takes longer than to run it.
_OF_PERSON = (
    select(Enrolment)
    .where(col(Enrolment.person_id) == sa.bindparam("person"))
    .order_by(col(Enrolment.joined_at), col(Enrolment.id))
)


def of_person(session: Session, person_id: int, *, left: bool = False) -> list[Enrolment]:
    """Return the classes that a student is in, longest first; left ones only if asked."""
    found = session.exec(_OF_PERSON, params={"person": person_id})
    return [row for row in found if left or row.state is not EnrolmentState.LEFT]


def roster(session: Session, class_id: int, *, left: bool = False) -> list[Enrolment]:
    """Return the students of a class by name, those who have not joined yet included; left ones only if asked."""
    stmt = select(Enrolment).where(Enrolment.class_id == class_id)
    if not left:
        stmt = stmt.where(Enrolment.state != EnrolmentState.LEFT)
    return sorted(session.exec(stmt), key=lambda row: (fold(row.name), id_of(row)))


def asked(session: Session, class_id: int) -> list[Enrolment]:
    """Return the students of a class who are asked questions: joined, agreed, not paused, not left."""
    stmt = select(Enrolment).where(
        Enrolment.class_id == class_id,
        Enrolment.state == EnrolmentState.ACTIVE,
        col(Enrolment.person_id).is_not(None),
    )
    return list(session.exec(stmt.order_by(col(Enrolment.id))))


def count(session: Session, class_id: int) -> int:
    """Return how many students of a class have joined and not left."""
    stmt = select(func.count()).where(
        Enrolment.class_id == class_id,
        Enrolment.state != EnrolmentState.LEFT,
        col(Enrolment.person_id).is_not(None),
    )
    return session.exec(stmt).one()


# ---------------------------------------------------------------- the roster


def fold(name: str) -> str:
    """Return a name as it is compared: without case, accents and double blanks."""
    plain = unicodedata.normalize("NFKD", name)
    return " ".join("".join(c for c in plain if not unicodedata.combining(c)).casefold().split())


def add_to_roster(session: Session, class_id: int, names: Iterable[str], now: datetime) -> list[Enrolment]:
    """Put names on the roster of a class; those that are there already are left alone."""
    classes.get(session, class_id)
    there = {fold(row.name) for row in roster(session, class_id)}
    new = []
    for name in map(tidy_name, names):
        if fold(name) not in there:
            there.add(fold(name))
            new.append(Enrolment(class_id=class_id, name=name, state=EnrolmentState.WAITING, joined_at=now))
    session.add_all(new)
    session.flush()
    return new


def match_roster(session: Session, class_id: int, name: str) -> list[Enrolment]:
    """Return the names on the roster that nobody has taken yet and that a joining student may mean.

    The whole name, however it is written, else every name that has what was typed as one of its words.
    """
    typed = fold(name)
    free = [row for row in roster(session, class_id) if row.person_id is None]
    whole = [row for row in free if fold(row.name) == typed]
    return whole or [row for row in free if typed and typed in fold(row.name).replace(",", " ").split()]


# ---------------------------------------------------------------- changing


def permit(session: Session, enrolment_id: int) -> Enrolment:
    """Note the parents' or the school's permission: a waiting student is asked from now on."""
    row = get(session, enrolment_id)
    if row.state is EnrolmentState.WAITING and row.person_id is not None:
        row.state = EnrolmentState.ACTIVE
        session.flush()
    return row


def leave(session: Session, enrolment_id: int, now: datetime) -> Enrolment:
    """Take a student out of a class; what was answered stays until it is erased."""
    row = get(session, enrolment_id)
    row.state, row.left_at, row.paused_until = EnrolmentState.LEFT, now, None
    session.flush()
    return row


def pause(session: Session, enrolment_id: int, until: date | None = None) -> Enrolment:
    """Ask a student nothing until a day (of the student's calendar), or until `resume`."""
    row = get(session, enrolment_id)
    if row.state is not EnrolmentState.ACTIVE and row.state is not EnrolmentState.PAUSED:
        raise refused(InvalidValue, "not_asked", field="state")
    row.state, row.paused_until = EnrolmentState.PAUSED, until
    session.flush()
    return row


def resume(session: Session, enrolment_id: int) -> Enrolment:
    """End a pause; nothing happens to a student who is not paused."""
    row = get(session, enrolment_id)
    if row.state is EnrolmentState.PAUSED:
        row.state, row.paused_until = EnrolmentState.ACTIVE, None
        session.flush()
    return row


def pauses_ending(session: Session, day: date) -> list[Enrolment]:
    """Return the paused students who wanted to be asked again on `day` or before."""
    stmt = select(Enrolment).where(
        Enrolment.state == EnrolmentState.PAUSED, col(Enrolment.paused_until) <= day
    )
    return list(session.exec(stmt.order_by(col(Enrolment.id))))


def rename(session: Session, enrolment_id: int, name: str) -> Enrolment:
    """Give a student another name, or an alias."""
    row = get(session, enrolment_id)
    row.name = tidy_name(name)
    session.flush()
    return row


def set_times(session: Session, enrolment_id: int, **changes: str | int | None) -> Enrolment:
    """Change a student's own times: ``zone``, ``nudge_minute``, ``quiet_from``, ``quiet_until``.

    None means the class's. Own quiet hours are kept beside those of the class, which always hold.

    Raises
    ------
    InvalidValue
        Not a zone or a time of day; only one end of the quiet hours; a nudge within quiet hours.
    """
    row = get(session, enrolment_id)
    for field, value in changes.items():
        if field not in ("zone", "nudge_minute", "quiet_from", "quiet_until"):
            raise InvalidValue(field, f"There is no time {field!r} that a student can choose.")
        if value is not None:
            (rules.check_zone if field == "zone" else rules.check_minute)(field, value)
    after = {
        field: changes.get(field, getattr(row, field))
        for field in ("nudge_minute", "quiet_from", "quiet_until")
    }
    _check_times(after, session, row.class_id)
    for field, value in changes.items():
        setattr(row, field, value)
    session.flush()
    return row


def _check_times(after: dict[str, int | None], session: Session, class_id: int) -> None:
    start, end = after["quiet_from"], after["quiet_until"]
    if (start is None) != (end is None):
        raise refused(InvalidValue, "quiet_needs_both", field="quiet_from")
    school_class = classes.get(session, class_id)
    minute = school_class.nudge_minute if after["nudge_minute"] is None else after["nudge_minute"]
    for hours in ((school_class.quiet_from, school_class.quiet_until), (start, end)):
        quiet = rules.quiet_at(minute, *hours)
        if quiet:
            raise refused(InvalidValue, "own_quiet_hours", field="nudge_minute", **quiet)
