"""What goes out. Written in the transaction that decided to send it, sent later, found again by reference.

A sender claims messages in one short transaction, sends them, and tells what became of each. Messages to
one address go out in the order in which they were written: a later one waits for an earlier one that is
being sent or tried again. Urgent messages (replies) go before others; an urgent message
pulls forward what stands before it in the same chat. A sender that dies leaves a lease that runs out:
the message is then sent again, with the same token.

A restored copy of a database sends nothing until `release` is called.
"""

from __future__ import annotations

import secrets
from collections.abc import Collection, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, col, func, select, update

from storage.base import blobs, key_values, limits
from storage.base.rows import id_of
from storage.base.statements import is_postgresql
from storage.queue import outbox_statements as statements
from storage.queue.outbox_messages import ClaimedMessage, Enclosed, MessageDraft, PackedMessage
from storage.school import channels
from storage.tables import Blob, Contact, OutboxItem, OutboxState

LEASE = timedelta(seconds=60)
GIVE_UP_AFTER = 8


# ---------------------------------------------------------------- writing


def put(
    session: Session,
    platform: str,
    address: str,
    message: PackedMessage,
    *,
    now: datetime,
    nudge_id: int | None = None,
    not_before: datetime | None = None,
    not_after: datetime | None = None,
) -> int:
    """Write a message to be sent once the transaction is committed; return its id.

    Parameters
    ----------
    session : Session
        The transaction that decides.
    platform, address : str
        Where to.
    message : PackedMessage
        From `bot.chat.packing.pack`; its body names ``key`` and ``urgent``.
    now : datetime
        The present moment.
    nudge_id : int, optional
        The nudge that it delivers.
    not_before : datetime, optional
        Not sent earlier; at once if not given.
    not_after : datetime, optional
        Dropped if it could not be sent until then.
    """
    row = _row(session, MessageDraft(platform, address, message, nudge_id, not_before, not_after), now)
    _pull_forward(session, [row], now)
    insert = sa.insert(statements.OUTBOX).returning(statements.OUTBOX.c.id)
    return int(session.execute(insert, row).scalar_one())


def put_all(session: Session, drafts: Sequence[MessageDraft], *, now: datetime) -> None:
    """Write messages, in their order, to be sent once the transaction is committed."""
    if drafts:
        rows = [_row(session, draft, now) for draft in drafts]
        _pull_forward(session, rows, now)
        statements.PUT_ALL.run_all(session, rows)


def _pull_forward(session: Session, rows: Sequence[Mapping[str, Any]], now: datetime) -> None:
    """Let what waits in the chats of urgent messages go as soon as these."""
    hurried = dict.fromkeys((row["platform"], row["address"]) for row in rows if row["urgent"])
    for platform, address in hurried:
        chat = {"to_platform": platform, "to_address": address, "now": now}
        statements.PULL_FORWARD.run(session, chat)


def _row(session: Session, draft: MessageDraft, now: datetime) -> dict[str, Any]:
    """Return a message as the values of its row."""
    body, enclosed = draft.message.body, draft.message.attachment
    row = {
        "platform": draft.platform,
        "address": draft.address,
        "key": body.get("key", ""),
        "body": dict(body),
        "blob": None if enclosed is None else blobs.keep(session, enclosed.data, enclosed.media_type, now),
        "blob_name": "" if enclosed is None else enclosed.name[:120],
        "blob_alt": "" if enclosed is None else enclosed.alt[:1000],
        "urgent": bool(body.get("urgent", True)),
        "nudge_id": draft.nudge_id,
        "not_before": draft.not_before or now,
        "not_after": draft.not_after,
        "created_at": now,
    }
    limits.check_values(OutboxItem, row)
    return row


# ---------------------------------------------------------------- claiming


def claim(
    session: Session,
    now: datetime,
    *,
    limit: int = 20,
    lease: timedelta = LEASE,
    platforms: Collection[str] | None = None,
    address: str | None = None,
) -> list[ClaimedMessage]:
    """Take the next messages for this sender alone until the lease runs out.

    Messages of one chat come in their order; whoever sends them stops at the first that fails and gives the
    later ones back (`give_back`). What could not be sent before its `not_after` is dropped. Nothing is handed
    out while sending is held. `platforms` and `address` narrow what is taken.
    """
    asked = statements.next_to_send(platforms is not None, address is not None)
    named: dict[str, Any] = {} if platforms is None else {"platforms": list(platforms)}
    named |= {} if address is None else {"address": address}
    rows: list[Any] = []
    while not rows:  # after an outage whole batches may be too late
        found = asked.rows(session, {"now": now, "most": limit, **named})
        in_order = _in_order(session, found, now)
        if in_order is None:
            continue  # what was let go meanwhile is locked by this transaction now, so it is found
        rows = _chats_in_order(_fresh(session, in_order, now))
        if not in_order:
            return []
    taken = {"ids": [row.id for row in rows], "until": now + lease}
    statements.TAKE.run(session, taken)
    epoch = rows[0].epoch or _epoch(session, now)
    return [_outgoing(session, row, epoch) for row in rows]


def has_free(session: Session, now: datetime, platform: str) -> bool:
    """Whether a platform's messages are there to be claimed: a look that locks nothing."""
    return session.execute(statements.HAS_FREE, {"now": now, "on": platform}).first() is not None


def _in_order(session: Session, rows: Sequence[Any], now: datetime) -> list[Any] | None:
    """Leave out messages behind one that another sender is claiming at this moment: PostgreSQL skipped its row.

    What only lies beyond the limit can be locked, and holds nobody up. None if a message was skipped that the other
    sender has let go since: it comes first, so look again.
    """
    if not rows or not is_postgresql(session):
        return list(rows)
    taken, addresses = [row.id for row in rows], sorted({row.address for row in rows})
    passed_over = statements.BESIDE.rows(session, {"now": now, "addresses": addresses, "taken": taken})
    if not passed_over:
        return list(rows)
    lockable = select(OutboxItem.id).where(
        *statements.FREE, col(OutboxItem.id).in_([one.id for one in passed_over])
    )
    nobodys = set(session.exec(lockable.with_for_update(skip_locked=True), params={"now": now}))
    if any(_goes_before(one, row) for one in passed_over if one.id in nobodys for row in rows):
        return None
    first: dict[tuple[str, str], int] = {}
    for one in passed_over:
        if one.id not in nobodys:
            chat = one.platform, one.address
            first[chat] = min(one.id, first.get(chat, one.id))
    return [row for row in rows if id_of(row) < first.get((row.platform, row.address), id_of(row) + 1)]


def _goes_before(one: Any, row: Any) -> bool:
    """Whether a message of the same chat was written before another and would have been found before it."""
    same_chat = (one.platform, one.address) == (row.platform, row.address)
    found_first = (not one.urgent, one.not_before, one.id) < (not row.urgent, row.not_before, row.id)
    return same_chat and one.id < row.id and found_first


def _fresh(session: Session, rows: list[Any], now: datetime) -> list[Any]:
    """Drop messages whose time went by before they could be sent; return the others."""
    late = [row.id for row in rows if row.not_after is not None and row.not_after < now]
    if late:
        session.execute(statements.DROP_LATE, {"ids": late})
    return [row for row in rows if row.id not in late]


def _chats_in_order(rows: list[Any]) -> list[Any]:
    """Let the messages of each chat come as they were written, also those that were put off to different moments."""
    of_chat: dict[str, list[Any]] = {}
    for row in sorted(rows, key=lambda row: -row.id):
        of_chat.setdefault(f"{row.platform} {row.address}", []).append(row)
    return [of_chat[f"{row.platform} {row.address}"].pop() for row in rows]


def _outgoing(session: Session, row: Any, epoch: str) -> ClaimedMessage:
    """Return a row, as it was before it was claimed, as a claimed message."""
    return ClaimedMessage(
        id=row.id,
        platform=row.platform,
        address=row.address,
        key=row.key,
        body=row.body,
        enclosed=_enclosed(session, row),
        edits=row.edited or "",
        token=f"{epoch}-{row.id}",
        nudge_id=row.nudge_id,
        urgent=row.urgent,
        attempts=row.attempts + 1,
        not_after=row.not_after,
        lease_token=row.lease_token + 1,
        created_at=row.created_at,
    )


def _enclosed(session: Session, row: Any) -> Enclosed | None:
    if row.blob is None:
        return None
    blob = session.get_one(Blob, row.blob)
    return Enclosed(row.blob_name, blob.media_type, blob.data, row.blob_alt)


def _epoch(session: Session, now: datetime) -> str:
    """Return what tells this database's messages from those of the copy that it was restored from."""
    return key_values.get(session, statements.EPOCH) or key_values.get_or_put(
        session, statements.EPOCH, secrets.token_hex(4), now
    )


# ---------------------------------------------------------------- what became of it


def sent(session: Session, item_id: int, message_ref: str, now: datetime) -> None:
    """Note that a message has arrived, and the platform's reference of it.

    Whoever sent it: also a process that was stopped for longer than its lease tells the truth, and who
    took over need not send any more.
    """
    all_sent(session, [(item_id, message_ref)], now)


def all_sent(session: Session, arrived: Collection[tuple[int, str]], now: datetime) -> None:
    """Note that several messages have arrived: id, and the platform's reference."""
    if arrived:
        noted = [{"item": item_id, "ref": message_ref, "at": now} for item_id, message_ref in arrived]
        statements.ARRIVED.run_all(session, noted)


def failed(
    session: Session,
    item_id: int,
    reason: str,
    *,
    retry_at: datetime,
    give_up_after: int = GIVE_UP_AFTER,
    lease_token: int | None = None,
) -> bool:
    """Note that sending went wrong through a fault of ours; try again at `retry_at`.

    What the platform or the network is to blame for uses nothing up: see `postpone`.

    Parameters
    ----------
    lease_token : int, optional
        The claim that it was sent under (`ClaimedMessage.lease_token`). When another has claimed it since, nothing
        is noted.

    Returns
    -------
    bool
        True when it was tried `give_up_after` times and is given up.
    """
    row = session.get(OutboxItem, item_id, with_for_update=True, populate_existing=True)
    if row is None or row.state is not OutboxState.WAITING or lease_token not in (None, row.lease_token):
        return False
    row.failed, row.lease_until = reason[:200], None
    given_up = row.attempts >= give_up_after
    if given_up:
        row.state = OutboxState.FAILED
    else:
        row.not_before = retry_at
    session.flush()
    return given_up


def postpone(
    session: Session,
    item_id: int,
    until: datetime,
    *,
    lease_token: int | None = None,
    reason: str = "the platform asked to wait",
) -> None:
    """Put a claimed message off without counting the attempt: the platform asked for it, or is out of order.

    Later messages of the same chat wait behind it. Only its own time (`not_after`) ends it.
    """
    less = _one_less()
    _set(session, item_id, lease_token, not_before=until, attempts=less, failed=reason[:200])


def put_off(session: Session, item_id: int, until: datetime, *, lease_token: int | None = None) -> None:
    """Let a claimed message leave later, as if it had been written for then; the chat's others do not wait for it."""
    _set(session, item_id, lease_token, not_before=until, attempts=_one_less(), failed="")


def give_back(session: Session, claims: Mapping[int, int | None]) -> None:
    """Give claimed messages (id to lease token) back untried: an earlier one of the chat has to go first."""
    for item_id, lease_token in claims.items():
        _set(session, item_id, lease_token, attempts=_one_less())


def keep_longer(session: Session, claims: Mapping[int, int], until: datetime) -> None:
    """Hold claimed messages (id to lease token) that are still being sent until a later moment."""
    session.exec(
        update(OutboxItem)
        .where(
            sa.tuple_(col(OutboxItem.id), col(OutboxItem.lease_token)).in_(list(claims.items())),
            col(OutboxItem.lease_until).is_not(None),
        )
        .values(lease_until=until)
    )


def _one_less() -> sa.Case[int]:
    return sa.case((col(OutboxItem.attempts) > 0, col(OutboxItem.attempts) - 1), else_=0)


def refused(session: Session, item_id: int, reason: str, *, lease_token: int | None = None) -> None:
    """Note that the platform will never take this message."""
    _set(session, item_id, lease_token, state=OutboxState.FAILED, failed=reason[:200])


def drop_waiting(session: Session, platform: str, address: str, reason: str) -> int:
    """Drop every message that waits for an address (blocked, gone); return how many."""
    changed = session.exec(
        update(OutboxItem)
        .where(
            col(OutboxItem.platform) == platform,
            col(OutboxItem.address) == address,
            col(OutboxItem.state) == OutboxState.WAITING,
        )
        .values(state=OutboxState.DROPPED, failed=reason[:200], lease_until=None)
    )
    return changed.rowcount


def moved(session: Session, platform: str, address: str, new_address: str) -> None:
    """Note that a chat lives on under another address: waiting messages, contacts and channels follow."""
    session.exec(
        update(Contact)
        .where(col(Contact.platform) == platform, col(Contact.address) == address)
        .values(address=new_address)
    )
    channels.move(session, platform, address, new_address)
    session.exec(
        update(OutboxItem)
        .where(
            col(OutboxItem.platform) == platform,
            col(OutboxItem.address) == address,
            col(OutboxItem.state) == OutboxState.WAITING,
        )
        .values(address=new_address, lease_until=None)
    )


def _set(session: Session, item_id: int, lease_token: int | None, **values: Any) -> None:
    """Change a message that is still to be sent, unless somebody has claimed it since the claim `lease_token`."""
    stmt = update(OutboxItem).where(
        col(OutboxItem.id) == item_id, col(OutboxItem.state) == OutboxState.WAITING
    )
    if lease_token is not None:
        stmt = stmt.where(col(OutboxItem.lease_token) == lease_token)
    session.exec(stmt.values(lease_until=None, **values))


# ---------------------------------------------------------------- finding


def by_ref(session: Session, platform: str, address: str, message_ref: str) -> OutboxItem | None:
    """Return the message that the platform knows by `message_ref`, the latest if it was edited."""
    stmt = select(OutboxItem).where(
        OutboxItem.message_ref == message_ref, OutboxItem.platform == platform, OutboxItem.address == address
    )
    return session.exec(stmt.order_by(col(OutboxItem.id).desc()).limit(1)).first()


def last_to(session: Session, platform: str, address: str) -> OutboxItem | None:
    """Return the message that was written last to a chat, sent or not."""
    stmt = select(OutboxItem).where(OutboxItem.platform == platform, OutboxItem.address == address)
    return session.exec(stmt.order_by(col(OutboxItem.id).desc()).limit(1)).first()


def next_at(session: Session) -> datetime | None:
    """Return the earliest moment at which something may be sent, late things included."""
    return session.exec(
        select(func.min(OutboxItem.not_before)).where(OutboxItem.state == OutboxState.WAITING)
    ).one()


def waiting(session: Session, now: datetime) -> tuple[int, datetime | None]:
    """Return how many messages are due and unsent, and since when the oldest is.

    One that failed waits since it was written, though its next attempt is ahead: so whoever watches hears of an outage.
    """
    tried = col(OutboxItem.failed) != ""
    since = sa.case((tried, col(OutboxItem.created_at)), else_=col(OutboxItem.not_before))
    stmt = select(func.count(), func.min(since)).where(
        OutboxItem.state == OutboxState.WAITING, sa.or_(tried, col(OutboxItem.not_before) <= now)
    )
    count, oldest = session.exec(stmt).one()
    return count, oldest


# ---------------------------------------------------------------- the switch


def hold(session: Session, now: datetime) -> None:
    """Hand out no message until `release`."""
    key_values.put(session, statements.SENDING, statements.HELD, now)


def release(session: Session) -> None:
    """Send again."""
    key_values.forget(session, statements.SENDING)


def sending_held(session: Session) -> bool:
    """Whether sending is held."""
    return key_values.get(session, statements.SENDING) == statements.HELD
