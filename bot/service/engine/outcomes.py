"""What became of claimed messages, noted in the database.

Only a message's own time, or the platform's refusal of this very message, ends it. What is the fault of the platform or
of the network uses nothing up, however long it lasts. What is this program's own fault is tried a few times.
"""

from __future__ import annotations

import logging
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from bot.chat.port import AddressMoved, SendError, SendFailed, SendRefused
from bot.service.engine.faults import note
from storage.base.database import Session
from storage.queue import outbox, pacing
from storage.queue.outbox_messages import ClaimedMessage
from storage.school import people

log = logging.getLogger(__name__)


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
