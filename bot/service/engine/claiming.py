"""Takes the next messages from the outbox, on a sender's terms, with a moment to leave reserved for each."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from bot.service.engine import late_messages
from bot.service.engine.outcomes import SendOutcome, note_all
from storage.base.database import Session
from storage.queue import outbox, pacing
from storage.queue.outbox_messages import ClaimedMessage

BATCH = 10
"""Messages claimed at once: few, so that an answer that comes meanwhile waits for few nudges."""
REMEMBERED = 15
"""Messages of a chat that its own pace is worked out from: what a group may get in a minute."""


def batches(items: list[ClaimedMessage]) -> list[list[ClaimedMessage]]:
    """Put the messages of each address together, in order."""
    found: dict[str, list[ClaimedMessage]] = {}
    for item in items:
        found.setdefault(item.address, []).append(item)
    return [sorted(batch, key=lambda item: item.id) for batch in found.values()]


@dataclass(frozen=True, slots=True)
class Terms:
    """On what terms a sender claims: for which platform, how long, at which pace, how many, and what is late."""

    platform: str
    lease: timedelta
    per_second: float
    speed: float
    most: int = BATCH
    late: timedelta = late_messages.LATE


@dataclass(frozen=True, slots=True)
class Claimed:
    """What was claimed: messages, the moment each may leave [s since 1970], and what their chats got lately."""

    items: list[ClaimedMessage]
    slots: dict[int, float] = field(default_factory=dict)
    said: dict[str, list[datetime]] = field(default_factory=dict)


def settle_and_claim(session: Session, now: datetime, outcomes: list[SendOutcome], terms: Terms) -> Claimed:
    """Note what became of messages and take the next ones."""
    note_all(session, now, outcomes)
    return claim(session, now, terms)


def claim(session: Session, now: datetime, terms: Terms, address: str | None = None) -> Claimed:
    """Take the next messages, of one chat or of all, and a moment to leave for each."""
    if not terms.most:
        return Claimed([])
    items: list[ClaimedMessage] = []
    found = True
    while found and not items:  # after an outage whole batches may have to wait for the morning
        taken = outbox.claim(
            session, now, limit=terms.most, lease=terms.lease, platforms=[terms.platform], address=address
        )
        found, items = bool(taken), _by_day(session, taken, now, terms)
    if not items or math.isinf(terms.speed):
        return Claimed(items)
    said: dict[str, list[datetime]] = {}
    addresses = {item.address for item in items}
    for address, moment in pacing.said_to(session, terms.platform, addresses, most=REMEMBERED):
        said.setdefault(address, []).append(moment)
    return Claimed(items, _reserve(session, items, now, terms), said)


def _by_day(
    session: Session, items: list[ClaimedMessage], now: datetime, terms: Terms
) -> list[ClaimedMessage]:
    """Put off what became late and would come in quiet hours; return the rest. Who has just written is awake."""
    awake = {item.address for item in items if item.urgent and now - item.created_at <= terms.late}
    until: dict[str, datetime | None] = {}
    kept = []
    for item in items:
        if now - item.created_at > terms.late and item.address not in awake:
            if item.address not in until:
                until[item.address] = late_messages.quiet_until(session, item.platform, item.address, now)
            at = until[item.address]
            if at is not None:
                outbox.put_off(session, item.id, at, lease_token=item.lease_token)
                continue
        kept.append(item)
    return kept


def _reserve(session: Session, items: list[ClaimedMessage], now: datetime, terms: Terms) -> dict[int, float]:
    """Reserve a moment for each message, in the order in which they go."""
    order = [item for batch in batches(items) for item in batch]
    slots = pacing.reserve(
        session,
        terms.platform,
        [item.urgent for item in order],
        now.timestamp(),
        per_second=terms.per_second,
        speed=terms.speed,
    )
    return {item.id: slot for item, slot in zip(order, slots, strict=True)}
