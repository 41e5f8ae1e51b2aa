"""A sender's transactions: what became of its messages is noted, and the next ones are taken, on its terms.

A moment to leave is reserved for each message that is taken. Only a message's own time, or the platform's refusal of
this very message, ends it. What is the fault of the platform or of the network uses nothing up, however long it lasts.
What is this program's own fault is tried a few times.
"""

from __future__ import annotations

import logging
import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from bot.chat.port import AddressMoved, SendError, SendFailed, SendRefused
from bot.service.engine import late_messages
from bot.service.engine.faults import note
from storage.base.database import Session
from storage.queue import outbox, pacing
from storage.queue.outbox_messages import ClaimedMessage
from storage.school import people

log = logging.getLogger(__name__)

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


@dataclass(frozen=True, slots=True)
class SendOutcome:
    """What became of a claimed message: sent with a reference, failed, or given back untried."""

    item: ClaimedMessage
    ref: str = ""
    error: SendError | None = None
    wait: timedelta = timedelta(0)
    given_back: bool = False


@dataclass(frozen=True, slots=True)
class Doubt:
    """A message whose chat the platform does not know. Whether that is so shows when somebody else is reached."""

    item: ClaimedMessage
    error: SendRefused


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


# ---------------------------------------------------------------- what became of messages


def note_all(session: Session, now: datetime, outcomes: Sequence[SendOutcome]) -> None:
    """Note what became of messages."""
    through = [one for one in outcomes if one.error is None and not one.given_back]
    outbox.all_sent(session, [(one.item.id, one.ref) for one in through], now)
    for outcome in outcomes:
        if outcome.given_back:
            outbox.give_back(session, {outcome.item.id: outcome.item.lease_token})
        elif outcome.error is not None:
            _note_failure(session, outcome.item, outcome.error, now, outcome.wait)


def _note_failure(
    session: Session, item: ClaimedMessage, error: SendError, now: datetime, wait: timedelta
) -> None:
    """Note what went wrong with a message. If that cannot be noted, it is one more failed attempt.

    Else one message would hold up all others, and what comes in with them: they are noted in one transaction.
    """
    try:
        with session.begin_nested():
            _note_error(session, item, error, now, wait)
    except Exception as problem:  # where the database itself is away, the next statement says so
        fault = note(log, f"Noting what became of outbox item {item.id}", problem)
        outbox.failed(
            session,
            item.id,
            f"{type(error).__name__} (ref {fault})",
            retry_at=now + wait,
            lease_token=item.lease_token,
        )


def _note_error(
    session: Session, item: ClaimedMessage, error: SendError, now: datetime, wait: timedelta
) -> None:
    lease_token = item.lease_token
    match error:
        case SendFailed(ours=True):
            outbox.failed(session, item.id, str(error), retry_at=now + wait, lease_token=lease_token)
        case SendFailed():
            outbox.postpone(session, item.id, now + wait, lease_token=lease_token, reason=str(error))
            if error.whole_platform and error.retry_after_s is not None:
                pacing.hold(session, item.platform, (now + wait).timestamp())
        case AddressMoved(new_address=new_address):
            outbox.moved(session, item.platform, item.address, new_address)
            outbox.postpone(session, item.id, now, lease_token=lease_token)
        case SendRefused(unreachable=True):
            outbox.refused(session, item.id, str(error), lease_token=lease_token)
            outbox.drop_waiting(session, item.platform, item.address, "the address cannot be reached")
            people.block(session, item.platform, item.address)
        case SendRefused():
            log.error("Outbox item %d was refused: %s", item.id, error)
            outbox.refused(session, item.id, str(error), lease_token=lease_token)
        case _:
            outbox.failed(session, item.id, str(error), retry_at=now + wait, lease_token=lease_token)
