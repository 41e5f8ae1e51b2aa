"""Forgetting in time. Run once a night; what it deletes is counted, never named.

- A class goes, with everything in it, when its retention period and the days of grace are over. Without a
  period set it ends a year after it was made or 90 days after the last date in its timetable, whichever
  is later.
- People whom no class binds any more, and who have not written for 30 days, are erased.
- What came in loses its content after 7 days and goes after 60 (until then its key refuses a repeat).
- Messages that were sent or dropped go after 90 days; those to chats that nobody owns any more, after one.
- Wrong codes typed go after a day, codes that ended after 30, finished work after 60, abandoned dialogues
  after 90.
"""

from __future__ import annotations

from collections import Counter
from datetime import date, datetime, timedelta
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, SQLModel, col, delete, func, select, update

from storage import erasure
from storage.tables import (
    Channel,
    Code,
    CodeTry,
    Contact,
    Dialogue,
    Due,
    InboxItem,
    Lesson,
    OutboxItem,
    OutboxState,
    Quiz,
    SchoolClass,
)

GRACE = timedelta(days=30)
PERIOD = timedelta(days=365)
AFTER_TIMETABLE = timedelta(days=90)
UNBOUND = timedelta(days=30)
INBOX_CONTENT = timedelta(days=7)
INBOX_ROW = timedelta(days=60)
SENT = timedelta(days=90)
LOOSE = timedelta(days=1)
CODE = timedelta(days=30)
DONE = timedelta(days=60)
DIALOGUE = timedelta(days=90)


def forget(session: Session, now: datetime, *, grace: timedelta = GRACE, limit: int = 500) -> dict[str, int]:
    """Delete what has been kept long enough.

    Parameters
    ----------
    session : Session
        An open transaction.
    now : datetime
        The present moment.
    grace : timedelta
        Added to the retention period of every class.
    limit : int
        At most so many rows of each kind, so that others get their turn; call it again until the counts
        are empty.

    Returns
    -------
    dict of str to int
        What went, by table; empty when there was nothing to do. Fit for a log: it names nobody.
    """
    counts: Counter[str] = Counter()
    for class_id in ended(session, now, grace=grace)[:1]:  # one class at a time: it can be large
        counts += Counter(erasure.erase_class(session, class_id, now))
        counts["school_class"] = 1
    for person_id in erasure.unbound_people(session, now - UNBOUND, limit=min(limit, 50)):
        counts += Counter(erasure.erase_person(session, person_id, now))
    for step in (_inbox, _outbox, _codes, _work):
        counts += step(session, now, limit)
    counts["blob"] += erasure.forget_loose_blobs(session, now - LOOSE, limit=limit)
    return dict(+counts)


def ends_on(session: Session, group: SchoolClass) -> date:
    """Return the last day for which the data of a class are kept, without the days of grace."""
    if group.retain_until is not None:
        return group.retain_until
    moments = [group.created_at + PERIOD]
    for column, table in ((Lesson.starts_at, Lesson), (Quiz.at, Quiz)):
        last = session.exec(select(func.max(column)).where(table.class_id == group.id)).one()
        if last is not None:
            moments.append(last + AFTER_TIMETABLE)
    return max(moments).date()


def ended(session: Session, now: datetime, *, grace: timedelta = GRACE) -> list[int]:
    """Return the classes whose data have been kept long enough."""
    gone = []
    for group in session.exec(select(SchoolClass).order_by(col(SchoolClass.id))):
        if ends_on(session, group) + grace < now.date() and group.id is not None:
            gone.append(group.id)
    return gone


def _inbox(session: Session, now: datetime, limit: int) -> Counter[str]:
    has_content = sa.cast(col(InboxItem.event), sa.Text) != "{}"
    old = select(InboxItem.id).where(col(InboxItem.done_at) < now - INBOX_CONTENT, has_content)
    full = session.exec(old.limit(limit)).all()
    emptied = update(InboxItem).where(col(InboxItem.id).in_(full)).values(event={}, user="", failed="")
    blanked = session.exec(emptied).rowcount if full else 0
    gone = _delete(session, InboxItem, limit, col(InboxItem.done_at) < now - INBOX_ROW)
    return Counter({"inbox content": blanked, "inbox": gone})


def _outbox(session: Session, now: datetime, limit: int) -> Counter[str]:
    settled = col(OutboxItem.state) != OutboxState.WAITING
    owned = [
        select(table.id)
        .where(table.platform == OutboxItem.platform, table.address == OutboxItem.address)
        .exists()
        for table in (Contact, Channel)
    ]
    old = _delete(session, OutboxItem, limit, settled, OutboxItem.created_at < now - SENT)
    loose = _delete(session, OutboxItem, limit, settled, OutboxItem.created_at < now - LOOSE, ~sa.or_(*owned))
    return Counter({"outbox": old + loose})


def _codes(session: Session, now: datetime, limit: int) -> Counter[str]:
    over = sa.or_(col(Code.expires_at) < now - CODE, col(Code.revoked_at) < now - CODE)
    return Counter(
        {
            "codetry": _delete(session, CodeTry, limit, CodeTry.at < now - LOOSE),
            "code": _delete(session, Code, limit, over),
        }
    )


def _work(session: Session, now: datetime, limit: int) -> Counter[str]:
    known = (
        select(Contact.id)
        .where(Contact.platform == Dialogue.platform, Contact.user == Dialogue.user)
        .exists()
    )
    left = sa.or_(
        col(Dialogue.updated_at) < now - DIALOGUE, sa.and_(col(Dialogue.updated_at) < now - LOOSE, ~known)
    )
    return Counter(
        {
            "due": _delete(session, Due, limit, col(Due.done_at) < now - DONE),
            "dialogue": _delete(session, Dialogue, limit, left),
        }
    )


def _delete(session: Session, table: type[SQLModel], limit: int, *conditions: Any) -> int:
    key = sa.inspect(table).primary_key[0]
    numbers = session.scalars(sa.select(key).where(*conditions).limit(limit)).all()
    return session.exec(delete(table).where(key.in_(numbers))).rowcount if numbers else 0
