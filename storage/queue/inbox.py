"""What came in. Recorded before the platform is told so; handled once, and in order for each person.

The effect of an item and its "done" mark belong in one transaction.

The order: of one user's items (one platform, one user id) none is handed out before every earlier one is done or
given up. It holds whatever fails, also while the first waits to be tried again, and however many workers share the
database: who records an item keeps everybody else from recording one of that user until it has committed, so ids
follow the order of arrival and none appears behind a later one; and what would be handled as it is recorded
(`record_and_claim`) is only stored while an earlier one is open. Items without a user have no order among themselves.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import aliased
from sqlmodel import Session, col, func, select

from storage.base.prepared import PreparedStatement
from storage.base.statements import insert_new, is_postgresql
from storage.tables import InboxItem, UtcDateTime

LEASE = timedelta(seconds=60)
GIVE_UP_AFTER = 5

# Statements of every event are put together once: that takes longer than to run them.
_EARLIER = aliased(InboxItem)
_SOMETHING_BEFORE = (
    select(_EARLIER.id)
    .where(
        _EARLIER.platform == InboxItem.platform,
        _EARLIER.user == InboxItem.user,
        InboxItem.user != "",
        col(_EARLIER.done_at).is_(None),
        col(_EARLIER.id) < col(InboxItem.id),
    )
    .exists()
)
_NOW = sa.bindparam("now", type_=UtcDateTime())
_NEXT = (
    select(InboxItem)
    .where(
        col(InboxItem.done_at).is_(None),
        sa.or_(col(InboxItem.lease_until).is_(None), col(InboxItem.lease_until) <= _NOW),
        ~_SOMETHING_BEFORE,
    )
    .order_by(col(InboxItem.id))
    .with_for_update(skip_locked=True, of=InboxItem)
)
_THIS = _NEXT.where(col(InboxItem.id) == sa.bindparam("only"))
_T: sa.Table = InboxItem.__table__  # type: ignore[attr-defined]
_DONE = PreparedStatement(
    sa.update(_T)
    .where(_T.c.id == sa.bindparam("item"), _T.c.done_at.is_(None))
    .values(done_at=sa.bindparam("at", type_=UtcDateTime()), lease_until=None, failed="")
)
_OPEN_BEFORE = PreparedStatement(
    sa.select(_T.c.id)
    .where(
        _T.c.platform == sa.bindparam("on"),
        _T.c.user == sa.bindparam("of"),
        _T.c.done_at.is_(None),
        _T.c.id < sa.bindparam("item"),
    )
    .limit(1)
)
_REOPEN = (
    sa.update(_T)
    .where(_T.c.id == sa.bindparam("item"))
    .values(
        done_at=None,
        attempts=sa.bindparam("tried"),
        failed=sa.bindparam("reason"),
        lease_until=sa.bindparam("until", type_=UtcDateTime()),
    )
)
_ALONE = PreparedStatement(
    sa.select(sa.func.pg_advisory_xact_lock(sa.bindparam("number", type_=sa.BigInteger())))
)


@dataclass(frozen=True, slots=True)
class Received:
    """An item to handle: what `bot.chat.packing.unpack_incoming` reads, and its row."""

    id: int
    platform: str
    key: str
    user: str
    event: Mapping[str, Any]
    attempts: int
    received_at: datetime


def record(
    session: Session,
    *,
    platform: str,
    key: str,
    user: str,
    event: Mapping[str, Any],
    now: datetime,
) -> int | None:
    """Keep something that came in.

    Returns
    -------
    int or None
        The id of the row; None when the platform had delivered it before: nothing more is to be done.
    """
    _one_at_a_time(session, platform, user)
    row = {"platform": platform, "key": key, "user": user, "event": dict(event), "received_at": now}
    new = insert_new(session, InboxItem, row)
    return None if new is None else int(new)


def record_and_claim(
    session: Session, *, platform: str, key: str, user: str, event: Mapping[str, Any], now: datetime
) -> tuple[int | None, bool]:
    """Keep something that came in, as done if it is its user's turn: the same transaction then handles it.

    Returns
    -------
    int or None
        The id of the row; None when the platform had delivered it before.
    bool
        Whether to handle it now. Else an earlier one of the user is open, and this one is kept for later.
    """
    _one_at_a_time(session, platform, user)
    row = {"platform": platform, "key": key, "user": user, "event": dict(event), "received_at": now}
    new = insert_new(session, InboxItem, row | {"done_at": now})
    if new is None:
        return None, False
    number = int(new)
    asked = {"on": platform, "of": user, "item": number}
    if user and _OPEN_BEFORE.first(session, asked) is not None:
        session.execute(_REOPEN, {"item": number, "tried": 0, "reason": "", "until": None})
        return number, False
    return number, True


def reopen(session: Session, item_id: int, reason: str, *, retry_at: datetime) -> None:
    """Note that what was recorded as done could not be handled; hand it out at `retry_at`.

    For the transaction that recorded it, once it has undone what handling did.
    """
    session.execute(_REOPEN, {"item": item_id, "tried": 1, "reason": reason[:200], "until": retry_at})


def _one_at_a_time(session: Session, platform: str, user: str) -> None:
    """Let nobody else record what this user sends until this transaction ends. SQLite has one writer anyway."""
    if user and is_postgresql(session):
        digest = hashlib.sha256(f"inbox {platform} {user}".encode()).digest()
        _ALONE.run(session, {"number": int.from_bytes(digest[:8], "big", signed=True)})


def claim(
    session: Session, now: datetime, *, limit: int = 20, lease: timedelta = LEASE, only: int | None = None
) -> list[Received]:
    """Take the next items, oldest first, for this worker alone until the lease runs out.

    Parameters
    ----------
    session : Session
        An open transaction.
    now : datetime
        The present moment.
    limit : int
        At most so many; at most one per user.
    lease : timedelta
        After this the item may be handed out again.
    only : int, optional
        Take this item only, and only if it is its user's turn.
    """
    if only is None:
        rows = list(session.exec(_NEXT.limit(limit), params={"now": now}))
    else:
        rows = list(session.exec(_THIS, params={"now": now, "only": only}))
    for row in rows:
        row.lease_until = now + lease
        row.attempts += 1
    session.flush()
    return [_received(row) for row in rows]


def peek(session: Session, now: datetime, *, limit: int = 200) -> list[Received]:
    """Return what waits to be handled, oldest first, without taking it: a later `claim` decides."""
    free = sa.or_(col(InboxItem.lease_until).is_(None), col(InboxItem.lease_until) <= now)
    stmt = select(InboxItem).where(col(InboxItem.done_at).is_(None), free)
    return [_received(row) for row in session.exec(stmt.order_by(col(InboxItem.id)).limit(limit))]


def is_open(session: Session, item_id: int) -> bool:
    """Whether an item is still to be handled."""
    stmt = select(InboxItem.id).where(InboxItem.id == item_id, col(InboxItem.done_at).is_(None))
    return session.exec(stmt).first() is not None


def done(session: Session, item_id: int, now: datetime) -> bool:
    """Mark an item as handled; say whether it was still open. False: another worker did it, undo yours."""
    return _DONE.run(session, {"item": item_id, "at": now}) > 0


def failed(
    session: Session,
    item_id: int,
    reason: str,
    now: datetime,
    *,
    retry_at: datetime,
    give_up_after: int = GIVE_UP_AFTER,
) -> bool:
    """Note that handling an item went wrong; hand it out again at `retry_at`.

    Returns
    -------
    bool
        True when it was tried `give_up_after` times and is given up.
    """
    row = session.get(InboxItem, item_id, with_for_update=True)
    if row is None or row.done_at is not None:
        return False
    row.failed = reason[:200]
    given_up = row.attempts >= give_up_after
    row.lease_until = None if given_up else retry_at
    row.done_at = now if given_up else None
    session.flush()
    return given_up


def waiting(session: Session) -> tuple[int, datetime | None]:
    """Return how many items wait and since when the oldest does."""
    stmt = select(func.count(), func.min(InboxItem.received_at)).where(col(InboxItem.done_at).is_(None))
    count, oldest = session.exec(stmt).one()
    return count, oldest


def _received(row: InboxItem) -> Received:
    assert row.id is not None  # noqa: S101 - it came from the database
    return Received(row.id, row.platform, row.key, row.user, row.event, row.attempts, row.received_at)
