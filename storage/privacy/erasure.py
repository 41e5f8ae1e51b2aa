"""Erasing a person or a class: from the tables, the queues, the pictures, and what others were sent about them.

What a chat application has already shown cannot be recalled from here; backups forget when they are replaced.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, col, delete, func, select, update

from storage.asked import evenings
from storage.base import blobs
from storage.base.errors import InvalidValue, NotFound, refused
from storage.privacy import belongings
from storage.privacy.belongings import OwnedRows
from storage.school.enrolments import fold
from storage.tables import (
    Blob,
    Contact,
    Dialogue,
    Enrolment,
    InboxItem,
    OutboxItem,
    Person,
    Question,
    SchoolClass,
    Staff,
    Teaching,
    Upload,
)

ERASED = "(erased)"
Counts = Mapping[str, int]


def erase_person(session: Session, person_id: int, now: datetime) -> Counts:
    """Erase everything stored about a person.

    Answers go too. What came in keeps only its delivery key, so that a repeated delivery stays without
    effect; the message that asked for the erasure can still be marked as handled. Files that a teacher sent
    stay with the class, without the sender.

    Parameters
    ----------
    session : Session
        An open transaction: all of it or nothing.
    person_id : int
        Whom.
    now : datetime
        The present moment.

    Returns
    -------
    mapping of str to int
        Rows erased or blanked, by table.

    Raises
    ------
    NotFound
        No such person.
    InvalidValue
        The last teacher of a class that is still open.
    """
    if session.get(Person, person_id) is None:
        raise NotFound(f"There is no person {person_id}; nothing was erased.")
    _refuse_last_teacher(session, person_id)
    who = belongings.owner(session, person_id)
    counts: Counter[str] = Counter()
    pictures = _blobs_of(session, belongings.of_person(who))
    for number in who.enrolments:
        counts += _forget_name(session, session.get_one(Enrolment, number), pictures)
    for part in belongings.of_person(who):
        if part.table is InboxItem:
            counts[part.name] += _blank_inbox(session, part, now)
        elif part.table is Upload:
            session.exec(update(Upload).where(part.condition).values(person_id=None))
        else:
            counts[part.name] += _delete(session, part)
    counts["blob"] += sum(blobs.forget(session, digest) for digest in pictures)
    return +counts


def erase_enrolment(session: Session, enrolment_id: int, now: datetime) -> Counts:
    """Erase a student from one class, with all answers; the person goes too if nothing else is left of them."""
    row = session.get(Enrolment, enrolment_id)
    if row is None:
        raise NotFound(f"There is no enrolment {enrolment_id}; nothing was erased.")
    if row.person_id is not None and not _bound_elsewhere(session, row.person_id, enrolment_id):
        return erase_person(session, row.person_id, now)
    pictures: set[str] = set()
    counts = _forget_name(session, row, pictures)
    evenings.hand_over(session, [enrolment_id])
    for part in belongings.of_enrolment(enrolment_id):
        pictures |= _blobs_of(session, [part])
        counts[part.name] += _delete(session, part)
    counts["blob"] += sum(blobs.forget(session, digest) for digest in pictures)
    return +counts


def erase_class(session: Session, class_id: int, now: datetime) -> Counts:
    """Erase a class with everything in it, and every person whom nothing else binds to the bot."""
    if session.get(SchoolClass, class_id) is None:
        raise NotFound(f"There is no class {class_id}; nothing was erased.")
    enrolled = select(Enrolment.person_id).where(Enrolment.class_id == class_id)
    stmt = select(Teaching.person_id).where(Teaching.class_id == class_id)
    people = {number for number in [*session.exec(enrolled), *session.exec(stmt)] if number is not None}
    counts: Counter[str] = Counter()
    students = session.exec(select(Enrolment.id).where(Enrolment.class_id == class_id))
    evenings.hand_over(session, [number for number in students if number is not None])
    parts = belongings.of_class(session, class_id)
    pictures = _blobs_of(session, parts)
    for part in parts:
        counts[part.name] += _delete(session, part)
    counts["blob"] += sum(blobs.forget(session, digest) for digest in pictures)
    for person_id in sorted(people):
        if not _bound_elsewhere(session, person_id):
            counts += Counter(erase_person(session, person_id, now))
    return +counts


def unbound_people(session: Session, before: datetime, *, limit: int = 500) -> list[int]:
    """Return people in no class and of no staff who were last heard of before a moment."""
    stmt = select(Person.id).where(
        Person.created_at < before,
        ~select(Enrolment.id).where(Enrolment.person_id == Person.id).exists(),
        ~select(Teaching.id).where(Teaching.person_id == Person.id).exists(),
        ~select(Staff.person_id).where(Staff.person_id == Person.id).exists(),
        ~select(Contact.id).where(Contact.person_id == Person.id, Contact.last_heard_at >= before).exists(),
    )
    return [number for number in session.exec(stmt.limit(limit)) if number is not None]


# ---------------------------------------------------------------- parts of it


def _refuse_last_teacher(session: Session, person_id: int) -> None:
    stmt = (
        select(SchoolClass)
        .join(Teaching, col(Teaching.class_id) == col(SchoolClass.id))
        .where(Teaching.person_id == person_id, col(SchoolClass.closed_at).is_(None))
    )
    for group in session.exec(stmt):
        if session.exec(select(func.count()).where(Teaching.class_id == group.id)).one() == 1:
            raise refused(InvalidValue, "only_teacher", field="person_id", name=group.name)


def _bound_elsewhere(session: Session, person_id: int, but_enrolment: int | None = None) -> bool:
    enrolled = select(Enrolment.id).where(Enrolment.person_id == person_id, Enrolment.id != but_enrolment)
    return (
        session.exec(enrolled.limit(1)).first() is not None
        or session.exec(select(Teaching.id).where(Teaching.person_id == person_id).limit(1)).first()
        is not None
        or session.get(Staff, person_id) is not None
    )


def _delete(session: Session, part: OwnedRows) -> int:
    return session.exec(delete(part.table).where(part.condition)).rowcount


def _blobs_of(session: Session, parts: Iterable[OwnedRows]) -> set[str]:
    """Return the pictures that rows about to go refer to."""
    named: set[str | None] = set()
    for part in parts:
        if part.table is OutboxItem:
            named |= set(session.exec(select(OutboxItem.blob).where(part.condition)))
        elif part.table is Question:
            named |= set(session.exec(select(Question.picture).where(part.condition)))
        elif part.table is Upload:
            found = session.exec(select(Upload.content).where(part.condition))
            named |= {content.get("blob") for content in found}
    return {digest for digest in named if digest}


def _blank_inbox(session: Session, part: OwnedRows, now: datetime) -> int:
    """Empty what came in. What waits is closed; what is being handled stays open for its worker to close."""
    waiting = part.condition & col(InboxItem.done_at).is_(None) & col(InboxItem.lease_until).is_(None)
    session.exec(update(InboxItem).where(waiting).values(done_at=now))
    changed = session.exec(update(InboxItem).where(part.condition).values(event={}, user="", failed=""))
    return changed.rowcount


def _forget_name(session: Session, student: Enrolment, pictures: set[str]) -> Counter[str]:
    """Take a student's name out of files of the class and out of what its teachers wrote and were sent."""
    counts: Counter[str] = Counter()
    for upload in session.exec(select(Upload).where(Upload.class_id == student.class_id)):
        content, before = without(upload.content, student.name), without(upload.before, student.name)
        if (content, before) != (upload.content, upload.before):
            upload.content, upload.before = content, before
            counts["upload"] += 1
    for contact in _teachers_chats(session, student.class_id):
        counts += _forget_in_chat(session, contact, student.name, pictures)
    session.flush()
    return counts


def _teachers_chats(session: Session, class_id: int) -> list[Contact]:
    stmt = (
        select(Contact)
        .join(Teaching, col(Teaching.person_id) == col(Contact.person_id))
        .where(Teaching.class_id == class_id)
    )
    return list(session.exec(stmt))


def _forget_in_chat(session: Session, chat: Contact, name: str, pictures: set[str]) -> Counter[str]:
    """Empty messages to and from a teacher that name a student; reports as pictures and files go altogether.

    Where the conversation with the teacher stands goes too if it names the student: in a list to choose from.
    """
    counts: Counter[str] = Counter()
    to_teacher = select(OutboxItem).where(
        OutboxItem.platform == chat.platform, OutboxItem.address == chat.address
    )
    for out in session.exec(to_teacher):
        if out.blob is not None or mentions(out.body, name):
            pictures |= {out.blob} if out.blob else set()
            session.delete(out)
            counts["outbox"] += 1
    from_teacher = select(InboxItem).where(InboxItem.platform == chat.platform, InboxItem.user == chat.user)
    for item in session.exec(from_teacher.where(col(InboxItem.done_at).is_not(None))):
        if mentions(item.event, name):
            item.event = {}
            counts["inbox"] += 1
    stands = select(Dialogue).where(Dialogue.platform == chat.platform, Dialogue.user == chat.user)
    for dialogue in session.exec(stands):
        if mentions(dialogue.data, name):
            session.delete(dialogue)
            counts["dialogue"] += 1
    session.flush()
    return counts


def mentions(data: Any, name: str) -> bool:
    """Whether a name stands anywhere in JSON-able data, however it is written."""
    return fold(name) in fold(json.dumps(data, ensure_ascii=False))


def without(data: Any, name: str) -> Any:
    """Return JSON-able data with every text that is the name replaced, however it is written."""
    if isinstance(data, str):
        return ERASED if fold(data) == fold(name) else data
    if isinstance(data, list):
        return [without(entry, name) for entry in data]
    if isinstance(data, dict):
        return {without(key, name): without(value, name) for key, value in data.items()}
    return data


def forget_loose_blobs(session: Session, before: datetime, *, limit: int = 500) -> int:
    """Delete bytes stored before a moment that nothing names any more; return how many."""
    used = [
        select(col(table.id)).where(column == Blob.digest).exists()
        for table, column in ((Question, Question.picture), (OutboxItem, OutboxItem.blob))
    ]
    stmt = select(Blob.digest).where(Blob.created_at < before, ~sa.or_(*used))
    return sum(blobs.forget(session, digest) for digest in session.exec(stmt.limit(limit)).all())
