"""Forgetting in time. Run once a night; what it deletes is counted, never named.

- A class goes, with everything in it, when its data retention period and the days of grace are over. Without
  one set it ends a year after it was made or 90 days after the last date in its timetable, whichever
  is later.
- People whom no class binds any more, and who have not written for 30 days, are erased.
- What came in loses its content after 7 days and goes after 60 (until then its key refuses a repeat).
- Messages that were sent or dropped go after 90 days; those to chats that nobody owns any more, after one.
- Wrong codes typed and places that nobody bound go after a day, codes that ended after 30, finished work after
  60, abandoned dialogues after 90.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date, datetime, timedelta
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, SQLModel, col, delete, func, select, update

from storage.base import key_values
from storage.privacy import erasure
from storage.school import codes
from storage.tables import (
    Channel,
    Code,
    CodeTry,
    Contact,
    Dialogue,
    Due,
    InboxItem,
    KeyValue,
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

EMPTIED = "inbox emptied until"
LOOKED_AT = "outbox looked at"
THE_END = "end"
LOOK_AT_ONCE = 20_000
"""So many messages are looked at in one transaction: some 50 ms."""


def forget(session: Session, now: datetime, *, grace: timedelta = GRACE, limit: int = 500) -> dict[str, int]:
    """Delete what has been kept long enough.

    Parameters
    ----------
    session : Session
        An open transaction.
    now : datetime
        The present moment.
    grace : timedelta
        Added to the data retention period of every class.
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


def ends_on(session: Session, school_class: SchoolClass) -> date:
    """Return the last day for which the data of a class are kept, without the days of grace."""
    (row,) = session.execute(_LAST_DATES.where(col(SchoolClass.id) == school_class.id))
    return _ends_on(*row[1:])


def ended(session: Session, now: datetime, *, grace: timedelta = GRACE) -> list[int]:
    """Return the classes whose data have been kept long enough."""
    rows = session.execute(_LAST_DATES.order_by(col(SchoolClass.id)))
    return [row[0] for row in rows if _ends_on(*row[1:]) + grace < now.date()]


_LAST_DATES = sa.select(
    col(SchoolClass.id),
    col(SchoolClass.retain_until),
    col(SchoolClass.created_at),
    *(
        sa.select(func.max(column)).where(owner == col(SchoolClass.id)).scalar_subquery()
        for column, owner in ((Lesson.starts_at, col(Lesson.class_id)), (Quiz.at, col(Quiz.class_id)))
    ),
)


def _ends_on(until: date | None, created_at: datetime, *last: datetime | None) -> date:
    if until is not None:
        return until
    timetable = [moment + AFTER_TIMETABLE for moment in last if moment is not None]
    return max([created_at + PERIOD, *timetable]).date()


# ---------------------------------------------------------------- what came in, what was sent


def _inbox(session: Session, now: datetime, limit: int) -> Counter[str]:
    gone = _delete(session, InboxItem, limit, col(InboxItem.done_at) < now - INBOX_ROW)
    return Counter({"inbox": gone}) + _empty_inbox(session, now, limit)


def _empty_inbox(session: Session, now: datetime, limit: int) -> Counter[str]:
    """Empty what was done a week ago, oldest first. A stored value says how far: no row is read every night."""
    done_at, before = col(InboxItem.done_at), now - INBOX_CONTENT
    kept = key_values.get(session, EMPTIED)
    since = datetime.fromisoformat(kept) if kept else None
    stmt = select(InboxItem.id, done_at).where(done_at < before)
    if (
        since is not None and since <= before
    ):  # one ahead is from a clock that was wrong: all is looked at again
        stmt = stmt.where(done_at >= since)
    found: Sequence[Any] = session.exec(stmt.order_by(done_at, col(InboxItem.id)).limit(limit)).all()
    if not found:
        return Counter()
    full = len(found) == limit
    reached: datetime = found[-1][1] if full else before
    if full and reached == since:  # a whole portion and more was done at that one moment
        found = session.exec(select(InboxItem.id, done_at).where(done_at == reached)).all()
        reached += timedelta(microseconds=1)
    key_values.put(session, EMPTIED, reached.isoformat(), now)
    has_content = sa.cast(col(InboxItem.event), sa.Text) != "{}"
    emptied = update(InboxItem).where(col(InboxItem.id).in_([row[0] for row in found]), has_content)
    blanked = session.exec(emptied.values(event={}, user="", failed="")).rowcount
    return Counter({"inbox content": blanked, "inbox looked at": len(found) if full else 0})


def _outbox(session: Session, now: datetime, limit: int) -> Counter[str]:
    """Look at the next messages in the order in which they were written, once a day at all of them.

    None of their columns tells which can go: whether somebody owns the chat changes with other tables. Until the
    last was looked at, the counts say so.
    """
    today = now.date().isoformat()
    day, _, at = key_values.get(session, LOOKED_AT).partition(" ")
    if (day, at) == (today, THE_END):
        return Counter()
    start = int(at) if day == today else 0
    number = col(OutboxItem.id)
    window = select(number).where(number > start).order_by(number).limit(LOOK_AT_ONCE).subquery()
    last, seen = session.exec(select(func.max(window.c.id), func.count(window.c.id))).one()
    gone = session.exec(_can_go(now, start, last).limit(limit)).all() if seen else []
    if gone:
        session.exec(delete(OutboxItem).where(number.in_(gone)))
    ended = seen < LOOK_AT_ONCE and len(gone) < limit
    reached = THE_END if ended else gone[-1] if len(gone) == limit else last
    if start or not ended:  # few are simply looked at again
        key_values.put(session, LOOKED_AT, f"{today} {reached}", now)
    return Counter({"outbox": len(gone), "outbox looked at": 0 if ended else seen})


def _can_go(now: datetime, start: int, last: int) -> Any:
    """Return the statement for messages of a range that were settled long ago, or whose chat nobody owns any more."""
    number, place = col(OutboxItem.id), sa.tuple_(col(OutboxItem.platform), col(OutboxItem.address))
    owned = [sa.select(col(table.platform), col(table.address)) for table in (Contact, Channel)]
    loose = sa.and_(
        col(OutboxItem.created_at) < now - LOOSE,
        # Not "exists": no index leads from an address to its owner.
        *(place.not_in(addresses) for addresses in owned),
    )
    return (
        select(number)
        .where(number > start, number <= last, OutboxItem.state != OutboxState.WAITING)
        .where(sa.or_(col(OutboxItem.created_at) < now - SENT, loose))
        .order_by(number)
    )


# ---------------------------------------------------------------- the rest


def _codes(session: Session, now: datetime, limit: int) -> Counter[str]:
    over = sa.or_(col(Code.expires_at) < now - CODE, col(Code.revoked_at) < now - CODE)
    return Counter(
        {
            "codetry": _delete(session, CodeTry, limit, CodeTry.at < now - LOOSE),
            "code": _delete(session, Code, limit, over),
            # The code that was posted there is good for a day.
            "offered place": _delete(
                session,
                KeyValue,
                limit,
                col(KeyValue.name).startswith(codes.OFFERED_PLACE, autoescape=True),
                KeyValue.updated_at < now - LOOSE,
            ),
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
