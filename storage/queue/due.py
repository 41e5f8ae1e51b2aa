"""What is to be done when: rows with a moment, claimed under a lease that expires.

A worker claims rows in one short transaction, does the work, and marks each row done in the transaction
of its effect. A worker that dies leaves a lease that runs out; the next one takes the row up. The unique
key keeps every piece of work to one row however often it is planned.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import datetime, timedelta
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, col, delete, func, select, update

from storage.base.statements import insert_new
from storage.tables import Due

LEASE = timedelta(seconds=60)
GIVE_UP_AFTER = 5


def ensure(
    session: Session,
    key: str,
    kind: str,
    due_at: datetime,
    *,
    subject: int | None = None,
    payload: Mapping[str, Any] | None = None,
) -> bool:
    """Plan something for a moment unless it is planned, or was done, already.

    Parameters
    ----------
    key : str
        Names this very piece of work for ever, for example ``report:3:2026-W49``.
    kind : str
        What kind of work it is.
    due_at : datetime
        Not before this moment.
    subject : int, optional
        The row that it is about.
    payload : mapping, optional
        What the work needs besides; small and JSON-able.

    Returns
    -------
    bool
        Whether it is new.
    """
    row = {"key": key, "kind": kind, "due_at": due_at, "subject": subject, "payload": dict(payload or {})}
    return insert_new(session, Due, row) is not None


def move(session: Session, key: str, due_at: datetime) -> bool:
    """Change the moment of something not yet done; say whether there was such a thing."""
    changed = session.exec(
        update(Due)
        .where(col(Due.key) == key, col(Due.done_at).is_(None))
        .values(due_at=due_at, lease_until=None)
    )
    return changed.rowcount > 0


def cancel(session: Session, key: str) -> bool:
    """Forget something planned and not yet done; say whether there was such a thing."""
    return session.exec(delete(Due).where(col(Due.key) == key, col(Due.done_at).is_(None))).rowcount > 0


def find(session: Session, key: str) -> Due | None:
    """Return the row of a piece of work, open or done."""
    return session.exec(select(Due).where(Due.key == key)).first()


def is_open(session: Session, kind: str, subject: int) -> bool:
    """Whether work of a kind stands to be done about a row."""
    stmt = select(Due.id).where(Due.kind == kind, Due.subject == subject, col(Due.done_at).is_(None))
    return session.exec(stmt.limit(1)).first() is not None


def claim(
    session: Session,
    now: datetime,
    *,
    limit: int = 20,
    lease: timedelta = LEASE,
    kinds: Collection[str] | None = None,
) -> list[Due]:
    """Take what is due, oldest first, for this worker alone until the lease runs out.

    Each claim counts as an attempt. Look at the facts again before acting: they may have changed since
    the row was planned.
    """
    stmt = select(Due).where(
        col(Due.done_at).is_(None),
        col(Due.due_at) <= now,
        sa.or_(col(Due.lease_until).is_(None), col(Due.lease_until) <= now),
    )
    if kinds is not None:
        stmt = stmt.where(col(Due.kind).in_(list(kinds)))
    stmt = stmt.order_by(col(Due.due_at), col(Due.id)).limit(limit)
    rows = list(session.exec(stmt.with_for_update(skip_locked=True)))
    for row in rows:
        row.lease_until = now + lease
        row.attempts += 1
        row.lease_token += 1
    session.flush()
    return rows


def keep_longer(session: Session, claims: Mapping[int, int], until: datetime) -> None:
    """Hold claimed work (id to lease token) that is still being done until a later moment."""
    session.exec(
        update(Due)
        .where(
            sa.tuple_(col(Due.id), col(Due.lease_token)).in_(list(claims.items())), col(Due.done_at).is_(None)
        )
        .values(lease_until=until)
    )


def done(session: Session, due_id: int, now: datetime, *, lease_token: int | None = None) -> bool:
    """Mark a piece of work as done; say whether it was still open.

    Parameters
    ----------
    lease_token : int, optional
        The claim that it was done under (`Due.lease_token`). False when another has claimed it since: undo yours.
    """
    changed = session.exec(
        update(Due).where(*_open(due_id, lease_token)).values(done_at=now, lease_until=None, failed="")
    )
    return changed.rowcount > 0


def _open(due_id: int, lease_token: int | None) -> tuple[sa.ColumnElement[bool], ...]:
    """Return what holds for work that is still to be done, and that nobody claimed since the claim `lease_token`."""
    still = (col(Due.id) == due_id, col(Due.done_at).is_(None))
    return still if lease_token is None else (*still, col(Due.lease_token) == lease_token)


def postpone(session: Session, due_id: int, until: datetime, *, lease_token: int | None = None) -> None:
    """Put a claimed piece of work off without counting the attempt: nothing went wrong."""
    session.exec(
        update(Due)
        .where(*_open(due_id, lease_token))
        .values(
            due_at=until,
            lease_until=None,
            attempts=sa.case((col(Due.attempts) > 0, col(Due.attempts) - 1), else_=0),
        )
    )


def failed(
    session: Session,
    due_id: int,
    reason: str,
    now: datetime,
    *,
    retry_at: datetime,
    give_up_after: int = GIVE_UP_AFTER,
    lease_token: int | None = None,
) -> bool:
    """Note that a piece of work went wrong; try again at `retry_at`. Not heard when another has claimed it since.

    Returns
    -------
    bool
        True when it was tried `give_up_after` times and is given up: see `dead`.
    """
    row = session.get(Due, due_id, with_for_update=True)
    if row is None or row.done_at is not None or lease_token not in (None, row.lease_token):
        return False
    row.failed, row.lease_until = reason[:200], None
    given_up = row.attempts >= give_up_after
    if given_up:
        row.done_at = now
    else:
        row.due_at = retry_at
    session.flush()
    return given_up


def dead(session: Session, *, limit: int = 100) -> list[Due]:
    """Return what was given up, latest first: somebody has to look at it."""
    stmt = select(Due).where(col(Due.done_at).is_not(None), Due.failed != "")
    return list(session.exec(stmt.order_by(col(Due.done_at).desc()).limit(limit)))


def next_at(session: Session) -> datetime | None:
    """Return the earliest moment at which something is due, late things included."""
    return session.exec(select(func.min(Due.due_at)).where(col(Due.done_at).is_(None))).one()
