"""Channels and groups of a class: bound with proof on both sides, lost, moved."""

from __future__ import annotations

from datetime import datetime

from sqlmodel import Session, col, select

from storage.tables import Channel


def find(session: Session, platform: str, address: str) -> Channel | None:
    """Return the channel bound at an address, unless it was lost."""
    row = _any(session, platform, address)
    return row if row is not None and row.lost_at is None else None


def of_class(session: Session, class_id: int) -> list[Channel]:
    """Return the channels of a class that we are still in, oldest first."""
    stmt = select(Channel).where(Channel.class_id == class_id, col(Channel.lost_at).is_(None))
    return list(session.exec(stmt.order_by(col(Channel.id))))


def bind(
    session: Session, class_id: int, platform: str, address: str, now: datetime, *, title: str = ""
) -> Channel:
    """Bind a place to a class. One place belongs to one class: a later binding replaces the earlier one."""
    row = _any(session, platform, address)
    if row is None:
        row = Channel(class_id=class_id, platform=platform, address=address, bound_at=now)
    row.class_id, row.title, row.bound_at = class_id, title[:120], now
    row.lost_at, row.can_write = None, True
    session.add(row)
    session.flush()
    return row


def call(row: Channel, title: str) -> None:
    """Keep what a place is called now, where the platform says it."""
    row.title = title[:120] or row.title


def unbind(session: Session, class_id: int, channel_id: int) -> bool:
    """Forget that a place belonged to a class, so that coming back there binds nothing; say whether it did belong."""
    row = session.get(Channel, channel_id)
    if row is None or row.class_id != class_id or row.lost_at is not None:
        return False
    session.delete(row)
    session.flush()
    return True


def lost(session: Session, platform: str, address: str, now: datetime) -> Channel | None:
    """Note that we were removed from a place; return what it was bound to."""
    row = find(session, platform, address)
    if row is not None:
        row.lost_at = now
        session.add(row)
    return row


def back(session: Session, platform: str, address: str) -> Channel | None:
    """Note that we are in a place again; return what it was and still is bound to."""
    row = _any(session, platform, address)
    if row is not None:
        row.lost_at, row.can_write = None, True
        session.add(row)
    return row


def allow(session: Session, platform: str, address: str, can_write: bool) -> Channel | None:
    """Note whether we may write in a place; return what it is bound to."""
    row = find(session, platform, address)
    if row is not None:
        row.can_write = can_write
        session.add(row)
    return row


def move(session: Session, platform: str, address: str, new_address: str) -> Channel | None:
    """Follow a group to its new address; return it.

    Who moved is there, whatever was said about the old address meanwhile. A binding of the new address that stands
    goes before.
    """
    row = _any(session, platform, address)
    taken = _any(session, platform, new_address)
    if row is None or (taken is not None and taken.id == row.id):
        return taken
    if taken is not None and taken.lost_at is None:
        row.lost_at = row.lost_at or taken.bound_at
        return taken
    if taken is not None:
        session.delete(taken)
        session.flush()
    row.address, row.lost_at = new_address, None
    session.add(row)
    session.flush()
    return row


def _any(session: Session, platform: str, address: str) -> Channel | None:
    return session.exec(
        select(Channel).where(Channel.platform == platform, Channel.address == address)
    ).first()
