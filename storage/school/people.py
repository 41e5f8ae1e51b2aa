"""Who uses the bot, and in which chats they can be reached."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

import sqlalchemy as sa
from sqlmodel import Session, col, delete, select, update

from storage.base.errors import InvalidValue, NotFound, refused
from storage.base.statements import insert_new
from storage.tables import (
    Code,
    Contact,
    ContactState,
    Enrolment,
    Person,
    Staff,
    Teaching,
    Upload,
)


def get(session: Session, person_id: int) -> Person:
    """Return a person. Raises `NotFound`."""
    person = session.get(Person, person_id)
    if person is None:
        raise NotFound(f"There is no person {person_id}.")
    return person


# Put together once: that takes longer than to run it.
_T: sa.Table = Contact.__table__  # type: ignore[attr-defined]
_CONTACT = select(Contact).where(
    col(Contact.platform) == sa.bindparam("platform"), col(Contact.user) == sa.bindparam("user")
)

_CONTACTS = (
    select(Contact)
    .where(col(Contact.person_id) == sa.bindparam("person"))
    .order_by(col(Contact.last_heard_at).desc(), col(Contact.id).desc())
)


def find_contact(session: Session, platform: str, user: str) -> Contact | None:
    """Return the private chat of a platform's user, or None when they are new to us."""
    # Asked several times in a transaction: what was found is kept beside the session's own rows.
    found: dict[tuple[str, str], Contact] = session.info.setdefault("contacts", {})
    kept = found.get((platform, user))
    if kept is not None and kept in session:
        return kept
    contact = session.exec(_CONTACT, params={"platform": platform, "user": user}).first()
    if contact is not None:
        found[platform, user] = contact
    return contact


def contact_at(session: Session, platform: str, address: str) -> Contact | None:
    """Return the private chat at an address."""
    return session.exec(
        select(Contact).where(Contact.platform == platform, Contact.address == address)
    ).first()


def meet(
    session: Session, platform: str, user: str, address: str, now: datetime, *, language: str = ""
) -> Contact:
    """Return the private chat of a platform's user; make a person and a contact if they are new.

    For somebody known, the address and the moment are brought up to date, and a block is over.
    """
    contact = find_contact(session, platform, user)
    if contact is None:
        person = Person(language=language[:35], created_at=now)
        session.add(person)
        session.flush()
        row = {
            "person_id": person.id,
            "platform": platform,
            "user": user,
            "address": address,
            "last_heard_at": now,
        }
        if insert_new(session, Contact, row) is None:  # another worker met them at the same moment
            session.delete(person)
        contact = session.exec(
            select(Contact).where(Contact.platform == platform, Contact.user == user)
        ).one()
    contact.address, contact.last_heard_at, contact.state = address, now, ContactState.ACTIVE
    session.add(contact)
    session.flush()
    return contact


def contacts(session: Session, person_id: int) -> list[Contact]:
    """Return all private chats of a person, the one heard of last first."""
    return list(session.exec(_CONTACTS, params={"person": person_id}))


def reachable(session: Session, person_id: int) -> Contact | None:
    """Return the private chat to write to: the one heard of last, unless blocked; None if there is none."""
    return reachable_in(contacts(session, person_id))


def reachable_in(chats: Sequence[Contact]) -> Contact | None:
    """Return the private chat to write to, given all of a person's (`contacts`)."""
    return next((chat for chat in chats if chat.state is ContactState.ACTIVE), None)


def block(session: Session, platform: str, address: str) -> Contact | None:
    """Note that an address does not want to hear from us; return the private chat if it is one."""
    return _set_state(session, platform, address, ContactState.BLOCKED)


def unblock(session: Session, platform: str, address: str) -> Contact | None:
    """Note that an address can be written to again."""
    return _set_state(session, platform, address, ContactState.ACTIVE)


def _set_state(session: Session, platform: str, address: str, state: ContactState) -> Contact | None:
    contact = contact_at(session, platform, address)
    if contact is not None:
        contact.state = state
        session.flush()
    return contact


def set_language(session: Session, person_id: int, language: str) -> None:
    """Keep the language that a person chose (an IETF tag)."""
    get(session, person_id).language = language
    session.flush()


# ---------------------------------------------------------------- moving


def move_contact(session: Session, contact_id: int, person_id: int) -> None:
    """Make a private chat that of another person record: the same human on one more platform.

    The chat's former person record hands its classes over and goes. Everything answered so far stays with
    `person_id`, who is reached in the new chat from the first word there on.

    Raises
    ------
    InvalidValue
        Both records are students or teachers of the same class: there are two histories, and joining them
        is a decision for the teacher.
    """
    contact = session.get(Contact, contact_id)
    if contact is None:
        raise NotFound(f"There is no contact {contact_id}.")
    get(session, person_id)
    if contact.person_id == person_id:
        return
    former = contact.person_id
    contact.person_id = person_id
    session.flush()
    if not contacts(session, former):
        _hand_over(session, former, person_id)


def _hand_over(session: Session, former: int, person_id: int) -> None:
    for table in (Enrolment, Teaching):
        both = select(table.class_id).where(col(table.person_id).in_([former, person_id]))
        classes = list(session.exec(both))
        if len(classes) != len(set(classes)):
            raise refused(InvalidValue, "both_in_class", field="person_id")
    for owned in (Enrolment, Teaching, Code, Upload):
        session.exec(update(owned).where(col(owned.person_id) == former).values(person_id=person_id))
    staff = session.get(Staff, former)
    if staff is not None:
        insert_new(session, Staff, {"person_id": person_id, "name": staff.name, "since": staff.since})
        session.delete(staff)
    session.flush()
    session.exec(delete(Person).where(col(Person.id) == former))


# ---------------------------------------------------------------- staff


def make_staff(session: Session, person_id: int, name: str, now: datetime) -> Staff:
    """Let a person create classes. A second time changes nothing."""
    insert_new(session, Staff, {"person_id": person_id, "name": name.strip()[:80], "since": now})
    return session.get_one(Staff, person_id)


def staff(session: Session, person_id: int) -> Staff | None:
    """Return a person's staff row, or None when they may not create classes."""
    return session.get(Staff, person_id)
