"""Due work: what takes long or has its hour. One coroutine per kind, found by name.

A handler works outside transactions (it may fetch, parse, compute, draw) and ends with one transaction that
stores the outcome, marks the row done and, where somebody waits for it, goes on with their conversation
(`bot.service.engine.loop.resume`). A handler that dies before that transaction has done nothing: the lease runs out
and the work is handed out again.
"""

from __future__ import annotations

import asyncio
import logging
import math
from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import partial
from typing import Any

from bot.chat.port import Chat
from bot.clock import Clock
from bot.service.engine import faults
from bot.service.engine.context import AppContext
from bot.service.engine.counters import Counters
from bot.service.engine.effects import Speaker
from storage.base.database import Database, Session
from storage.queue import due
from storage.tables import Due

log = logging.getLogger(__name__)

RETRY_S = (30.0, 120.0, 600.0, 1800.0)
"""Waits between attempts [s]; chosen so that a restarted database or a slow chat has time to come back."""

ELSEWHERE_S = 5.0
"""Work that only another process can do is put off for so long [s], to be found by that one."""


@dataclass(frozen=True)
class WorkContext:
    """What a handler of due work may use.

    Attributes
    ----------
    chats : mapping of str to Chat
        The adapters by platform, to fetch a file.
    wake : callable
        Called after a transaction that wrote messages, so that they leave at once.
    counters : Counters
        Counts what was done.
    beat : callable
        Called after each piece of work: whoever watches sees that work goes on, also in a long round.
    """

    db: Database
    app_context: AppContext
    clock: Clock
    chats: Mapping[str, Chat] = field(default_factory=dict)
    wake: Callable[[], None] = lambda: None
    counters: Counters = field(default_factory=Counters)
    beat: Callable[[], None] = lambda: None


@dataclass(frozen=True, slots=True)
class DueItem:
    """A claimed row of due work, as plain data."""

    id: int
    key: str
    kind: str
    subject: int | None
    payload: Mapping[str, Any]
    due_at: datetime
    attempts: int
    lease_token: int

    @property
    def speaker(self) -> Speaker:
        """Who waits for it. Raises `KeyError` when nobody does."""
        return Speaker.from_data(self.payload["speaker"])


class Elsewhere(Exception):
    """Only another process can do this work now, such as fetching from a chat that it holds."""


class TakenOver(Exception):
    """Another process has claimed this work since: this one was stopped for longer than its lease. Nothing is kept."""


def finish(session: Session, item: DueItem, now: datetime) -> None:
    """Mark work as done in the transaction of its effect. Raises `TakenOver`, which undoes that transaction."""
    if not due.done(session, item.id, now, lease_token=item.lease_token):
        raise TakenOver


Handler = Callable[[WorkContext, DueItem], Awaitable[None]]

_HANDLERS: dict[str, Handler] = {}


def does(kind: str) -> Callable[[Handler], Handler]:
    """Register the coroutine that does one kind of due work."""

    def register(handler: Handler) -> Handler:
        if kind in _HANDLERS:
            raise ValueError(f"Two functions do {kind} work.")
        _HANDLERS[kind] = handler
        return handler

    return register


def kinds() -> frozenset[str]:
    """Return the kinds of work that have a handler."""
    return frozenset(_HANDLERS)


async def do_due(work_context: WorkContext, *, limit: int = 20) -> int:
    """Claim what is due, do it, and return how much was claimed. 0: nothing is due now.

    A failure is logged under a reference (never with texts or names) and tried again later.
    """
    items = await work_context.db.run(_claim, work_context.clock.now(), limit, _lease(work_context))
    waiting = {item.id: item.lease_token for item in items}
    renewing = asyncio.create_task(_renew(work_context, waiting))
    try:
        for item in items:
            await _do(work_context, item)
            del waiting[item.id]
    finally:
        renewing.cancel()
    if items:
        work_context.wake()
    return len(items)


def _lease(work_context: WorkContext) -> timedelta:
    """Return the lease, which is meant in real time, in this clock's time."""
    speed = work_context.clock.speed
    return due.LEASE * (speed if math.isfinite(speed) else 1.0)


async def _renew(work_context: WorkContext, waiting: Mapping[int, int]) -> None:
    """Keep others from doing what is still to be done here: one long piece of work holds up those behind it."""
    lease_s = due.LEASE.total_seconds()
    while True:
        await asyncio.sleep(lease_s / 3)
        until = work_context.clock.now() + _lease(work_context)
        try:
            await work_context.db.run(due.keep_longer, dict(waiting), until)
        except Exception as problem:  # the next time will do, or the lease runs out
            faults.note(log, "Renewing leases of due work", problem)


def _claim(session: Session, now: datetime, limit: int, lease: timedelta) -> list[DueItem]:
    return [_plain(row) for row in due.claim(session, now, limit=limit, lease=lease, kinds=kinds())]


def _plain(row: Due) -> DueItem:
    assert row.id is not None  # noqa: S101 - it came from the database
    return DueItem(
        row.id, row.key, row.kind, row.subject, dict(row.payload), row.due_at, row.attempts, row.lease_token
    )


async def _do(work_context: WorkContext, item: DueItem) -> None:
    try:
        await _HANDLERS[item.kind](work_context, item)
    except Elsewhere:
        until = work_context.clock.now() + timedelta(seconds=ELSEWHERE_S)
        await work_context.db.run(partial(due.postpone, lease_token=item.lease_token), item.id, until)
    except TakenOver:
        log.info("Another process has taken over due work %s (row %d)", item.kind, item.id)
    except Exception as problem:
        work_context.counters.failed[item.kind] += 1
        ref = faults.note(log, f"Due work {item.kind} (row {item.id}, attempt {item.attempts})", problem)
        reason = f"{type(problem).__name__} (ref {ref})"
        work_context.counters.given_up[item.kind] += await work_context.db.run(
            _failed, item, reason, work_context.clock.now()
        )
    else:
        work_context.counters.done[item.kind] += 1
    finally:
        work_context.beat()


def _failed(session: Session, item: DueItem, reason: str, now: datetime) -> bool:
    wait = RETRY_S[min(item.attempts - 1, len(RETRY_S) - 1)]
    return due.failed(
        session, item.id, reason, now, retry_at=now + timedelta(seconds=wait), lease_token=item.lease_token
    )
