"""The statements of every message: put together once, since that takes longer than to run them.

They go past the ORM, which takes longer than the database.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import sqlalchemy as sa
from sqlmodel import col

from storage.base.prepared import PreparedStatement
from storage.tables import KeyValue, OutboxItem, OutboxState, UtcDateTime

SENDING = "sending"
HELD = "held"
EPOCH = "outbox epoch"

OUTBOX: sa.Table = OutboxItem.__table__  # type: ignore[attr-defined]
_NOW = sa.bindparam("now", type_=UtcDateTime())
_IDS: Any = sa.bindparam("ids", expanding=True)
_WAITING = OUTBOX.c.state == OutboxState.WAITING

_GIVEN = [
    "platform",
    "address",
    "key",
    "body",
    "blob",
    "blob_name",
    "blob_alt",
    "urgent",
    "nudge_id",
    "not_before",
    "not_after",
    "created_at",
]
PUT_ALL = PreparedStatement(sa.insert(OUTBOX).inline(), _GIVEN)
PULL_FORWARD = PreparedStatement(
    sa.update(OUTBOX)
    .where(
        OUTBOX.c.platform == sa.bindparam("to_platform"),
        OUTBOX.c.address == sa.bindparam("to_address"),
        _WAITING,
        OUTBOX.c.not_before <= _NOW,
        OUTBOX.c.urgent.is_(False),
    )
    .values(urgent=True)
)

_OTHER = OUTBOX.alias("other")
_IN_HAND = _OTHER.c.lease_until > _NOW
_TRIED_BEFORE = sa.and_(_OTHER.c.id < OUTBOX.c.id, sa.or_(_OTHER.c.attempts > 0, _OTHER.c.failed != ""))
_SOMETHING_BEFORE = (
    sa.select(_OTHER.c.id)
    .where(
        _OTHER.c.platform == OUTBOX.c.platform,
        _OTHER.c.address == OUTBOX.c.address,
        _OTHER.c.state == OutboxState.WAITING,
        _OTHER.c.id != OUTBOX.c.id,
        sa.or_(_IN_HAND, _TRIED_BEFORE),
    )
    .exists()
)
"""Another message of the chat is being sent, or an earlier one is tried again."""

FREE = (
    _WAITING,
    OUTBOX.c.not_before <= _NOW,
    sa.or_(OUTBOX.c.lease_until.is_(None), OUTBOX.c.lease_until <= _NOW),
)
A_FREE_ONE = sa.select(OUTBOX.c.id).where(*FREE).limit(1).exists()
"""For `storage.queue.next_due`: whether a message of any platform may be claimed at the moment `now`."""
HAS_FREE = sa.select(OUTBOX.c.id).where(*FREE, OUTBOX.c.platform == sa.bindparam("on")).limit(1)
BESIDE = PreparedStatement(
    sa.select(OUTBOX.c.id, OUTBOX.c.platform, OUTBOX.c.address, OUTBOX.c.urgent, OUTBOX.c.not_before).where(
        _WAITING,
        sa.or_(OUTBOX.c.not_before <= _NOW, OUTBOX.c.attempts > 0),
        OUTBOX.c.address.in_(sa.bindparam("addresses", expanding=True)),
        OUTBOX.c.id.not_in(sa.bindparam("taken", expanding=True)),
    )
)
"""What else waits in the chats of messages that are about to be taken."""
TAKE = PreparedStatement(
    sa.update(OUTBOX)
    .where(OUTBOX.c.id.in_(_IDS))
    .values(
        lease_until=sa.bindparam("until", type_=UtcDateTime()),
        attempts=OUTBOX.c.attempts + 1,
        lease_token=OUTBOX.c.lease_token + 1,
    )
)
DROP_LATE = (
    sa.update(OUTBOX)
    .where(OUTBOX.c.id.in_(_IDS))
    .values(state=OutboxState.DROPPED, failed="its time went by")
)
ARRIVED = PreparedStatement(
    sa.update(OUTBOX)
    .where(OUTBOX.c.id == sa.bindparam("item"), _WAITING)
    .values(
        state=OutboxState.SENT,
        message_ref=sa.bindparam("ref"),
        sent_at=sa.bindparam("at", type_=UtcDateTime()),
        failed="",
        lease_until=None,
    )
)
_SENT_BEFORE = OUTBOX.alias("sent_before")
_EDITED = (
    sa.select(_SENT_BEFORE.c.message_ref)
    .where(
        _SENT_BEFORE.c.platform == OUTBOX.c.platform,
        _SENT_BEFORE.c.address == OUTBOX.c.address,
        _SENT_BEFORE.c.key == OUTBOX.c.body["replaces"].as_string(),
        _SENT_BEFORE.c.key != "",
        _SENT_BEFORE.c.message_ref != "",
    )
    .order_by(_SENT_BEFORE.c.id.desc())
    .limit(1)
    .scalar_subquery()
)
"""The platform's reference of the message that one replaces."""


def _mark(name: str) -> Any:
    return sa.select(col(KeyValue.value)).where(col(KeyValue.name) == name).scalar_subquery()


@cache
def next_to_send(of_platforms: bool, of_address: bool) -> PreparedStatement:
    """Return the statement that finds and locks what may go next, with what has to be known of each."""
    stmt = sa.select(OUTBOX, _EDITED.label("edited"), _mark(EPOCH).label("epoch"))
    stmt = stmt.where(*FREE, ~_SOMETHING_BEFORE, sa.func.coalesce(_mark(SENDING), "") != HELD)
    if of_platforms:
        stmt = stmt.where(OUTBOX.c.platform.in_(sa.bindparam("platforms", expanding=True)))
    if of_address:
        stmt = stmt.where(OUTBOX.c.address == sa.bindparam("address"))
    ordered = stmt.order_by(OUTBOX.c.urgent.desc(), OUTBOX.c.not_before, OUTBOX.c.id)
    some = ordered.limit(sa.bindparam("most", type_=sa.Integer()))
    return PreparedStatement(some.with_for_update(skip_locked=True, of=OUTBOX))
