"""What came in: stored before the platform is told so, then handled once, in order for each person.

`Inbox.receive` is what adapters call: it returns when the event is in the database, and a repeated delivery ends
there. Handling is all or nothing: effects, replies and the mark that the item is done are committed together. Who
comes while nobody is before them is handled in the transaction that stores the event, so that an answer waits for
one commit; after a fault in handling, that transaction stores the event alone. Who comes behind others, or behind an
event of their own that is to be tried again, is stored, queued and handled in a transaction that claims the item
(`storage.queue.inbox` promises the order). What a stopped or killed process left behind is found again by `sweep`.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from enum import Enum
from typing import Any
from zlib import crc32

from bot.chat.packing import pack_incoming, unpack_incoming
from bot.chat.port import Incoming
from bot.clock import Clock
from bot.service.engine import loop
from bot.service.engine.context import AppContext
from bot.service.engine.counters import Counters
from bot.service.engine.faults import note
from bot.service.engine.sender import OutboxSender
from storage.base.database import Database, Session
from storage.queue import inbox

log = logging.getLogger(__name__)

RETRY_AFTER = timedelta(seconds=20)
WORKERS = 8
"""Queues that are worked on side by side. All events of a person take the same one, so they stay in order."""


class AlreadyHandled(Exception):
    """Another worker finished the item first; this transaction is rolled back."""


@dataclass(frozen=True, slots=True)
class Arrival:
    """What became of an event that came in: its row if it is kept for later, and what went wrong, if anything."""

    new: bool = False
    kept: int | None = None
    problem: Exception | None = None


class ItemOutcome(Enum):
    """What became of an item that was looked at."""

    CAME = "handled, or tried"
    NOT_YET = "an earlier one of the person comes first"
    GONE = "somebody else handled it"


@dataclass
class WorkerQueue:
    """A queue of items; `at_work` is held by whoever handles one of them.

    Attributes
    ----------
    passed_over : set of int
        Items whose turn had not come, since an earlier one of the person was stored a moment later than they were.
    """

    queue: asyncio.Queue[int] = field(default_factory=asyncio.Queue)
    at_work: asyncio.Lock = field(default_factory=asyncio.Lock)
    passed_over: set[int] = field(default_factory=set)

    @property
    def idle(self) -> bool:
        """Whether nothing waits or is being handled."""
        return self.queue.empty() and not self.at_work.locked()


@dataclass
class Inbox:
    """Receives and handles events.

    Attributes
    ----------
    wake : callable
        Called after a transaction that may have led to something that is due or is to be sent.
    counters : Counters
        Counts what was handled.
    sender_of : callable
        Who sends on a platform, if this process does: the answer is then claimed in the transaction that writes it.
    """

    db: Database
    app_context: AppContext
    clock: Clock
    wake: Callable[[], None] = lambda: None
    counters: Counters = field(default_factory=Counters)
    sender_of: Callable[[str], OutboxSender | None] = lambda _platform: None
    _worker_queues: list[WorkerQueue] = field(default_factory=lambda: [WorkerQueue() for _ in range(WORKERS)])
    _queued: set[int] = field(default_factory=set)
    _receiving: int = 0

    async def receive(self, event: Incoming) -> None:
        """Store an event. When this returns, it will not be lost; a repeat has no effect."""
        user = event.user or event.address
        worker_queue = self._queue_of(event.platform, user)
        if worker_queue.idle:
            async with worker_queue.at_work:
                await self._receive_and_handle(event)
            self._look_back(worker_queue)
            return
        item_id = await self.db.run(_record, event, self.clock.now())
        if item_id is not None:
            self._enqueue(item_id, event.platform, user)

    async def _receive_and_handle(self, event: Incoming) -> None:
        self._receiving += 1
        try:
            came, more = await self._run(event)
            self.counters.handled += came.new and came.kept is None
            self.counters.troubled += came.problem is not None
            if came.kept is not None and came.problem is None:
                self._enqueue(came.kept, event.platform, event.user or event.address)
            if more:
                self.wake()
        finally:
            self._receiving -= 1

    async def _run(self, event: Incoming) -> tuple[Arrival, bool]:
        """Store and handle an event in one transaction; the sender, if there is one, takes the answer along.

        Returns what became of the event, and whether it may have led to more than that answer.
        """
        sender = self.sender_of(event.platform)
        if sender is None:
            return await self.db.run(_record_and_handle, self.app_context, event, self.clock.now()), True
        return await sender.run_and_claim(
            event.address, _record_and_handle, self.app_context, event, self.clock.now()
        )

    async def sweep(self) -> int:
        """Queue what waits in the database and is not queued here; return how much that was."""
        waiting = await self.db.read(_waiting, self.clock.now())
        new = [item for item in waiting if item[0] not in self._queued]
        for item_id, platform, user in new:
            self._enqueue(item_id, platform, user)
        return len(new)

    @property
    def idle(self) -> bool:
        """Whether everything queued here has been handled."""
        return not self._queued and not self._receiving

    async def run(self, stop: asyncio.Event) -> None:
        """Handle what is queued until `stop` is set; an item that is being handled is finished first."""
        async with asyncio.TaskGroup() as group:
            workers = [group.create_task(self._work(worker_queue)) for worker_queue in self._worker_queues]
            await stop.wait()
            for worker_queue in self._worker_queues:
                worker_queue.queue.put_nowait(_END)
            await asyncio.wait(workers)

    def _enqueue(self, item_id: int, platform: str, user: str) -> None:
        self._queued.add(item_id)
        self._queue_of(platform, user).queue.put_nowait(item_id)

    def _queue_of(self, platform: str, user: str) -> WorkerQueue:
        return self._worker_queues[crc32(f"{platform} {user}".encode()) % WORKERS]

    async def _work(self, worker_queue: WorkerQueue) -> None:
        while (item_id := await worker_queue.queue.get()) != _END:
            try:
                async with worker_queue.at_work:
                    came = await self._handle(item_id)
                if came is ItemOutcome.NOT_YET:
                    worker_queue.passed_over.add(item_id)
                elif came is ItemOutcome.CAME:
                    self._look_back(worker_queue)
            except Exception as problem:
                # The database itself failed. The item stays where it is; the next sweep finds it.
                note(log, f"Inbox item {item_id}", problem)
            finally:
                self._queued.discard(item_id)

    def _look_back(self, worker_queue: WorkerQueue) -> None:
        """Once an item is handled, put again what was passed over, perhaps because of it."""
        for one in sorted(worker_queue.passed_over):
            self._queued.add(one)
            worker_queue.queue.put_nowait(one)
        worker_queue.passed_over.clear()

    async def _handle(self, item_id: int) -> ItemOutcome:
        try:
            came = await self.db.run(_handle, self.app_context, item_id, self.clock.now())
        except AlreadyHandled:
            return ItemOutcome.GONE
        except Exception as problem:
            await self._note_fault(item_id, problem)
            return ItemOutcome.CAME
        if came is ItemOutcome.CAME:
            self.counters.handled += 1
            self.wake()
        return came

    async def _note_fault(self, item_id: int, problem: Exception) -> None:
        """Count the attempt; the item stays for the next one, or the person hears about it."""
        self.counters.troubled += 1
        ref = note(log, f"Handling inbox item {item_id}", problem)
        reason = f"{type(problem).__name__} (ref {ref})"
        await self.db.run(_failed, self.app_context, item_id, reason, ref, self.clock.now())
        self.wake()


_END = -1


def _record(session: Session, event: Incoming, now: datetime) -> int | None:
    return inbox.record(session, **_as_row(event), now=now)


def _as_row(event: Incoming) -> dict[str, Any]:
    return {
        "platform": event.platform,
        "key": event.key,
        "user": event.user,
        "event": pack_incoming(event),
    }


def _record_and_handle(session: Session, app_context: AppContext, event: Incoming, now: datetime) -> Arrival:
    """Store an event and handle it if it is its person's turn, all or nothing.

    What could not be handled stays stored, in its place, to be tried again: were it stored by a later transaction, an
    event that came meanwhile would stand before it.
    """
    item_id, is_claimed = inbox.record_and_claim(session, **_as_row(event), now=now)
    if item_id is None:
        return Arrival()
    if not is_claimed:
        return Arrival(new=True, kept=item_id)
    attempt = session.begin_nested()
    try:
        loop.handle(session, app_context, event, now)
        session.flush()
    except Exception as problem:
        attempt.rollback()  # where the database itself is away, this says so, and the platform delivers again
        ref = note(log, f"Handling inbox item {item_id}", problem)
        reason = f"{type(problem).__name__} (ref {ref})"
        inbox.reopen(session, item_id, reason, retry_at=now + RETRY_AFTER)
        return Arrival(new=True, kept=item_id, problem=problem)
    attempt.commit()  # a database that does not do this undoes it all, and the platform delivers again
    return Arrival(new=True)


def _waiting(session: Session, now: datetime) -> list[tuple[int, str, str]]:
    """Look without claiming: claiming belongs to the transaction that handles."""
    return [
        (item.id, item.platform, item.user or str(item.event["address"]))
        for item in inbox.peek(session, now, limit=200)
    ]


def _handle(session: Session, app_context: AppContext, item_id: int, now: datetime) -> ItemOutcome:
    items = inbox.claim(session, now, only=item_id)
    if not items:
        return ItemOutcome.NOT_YET if inbox.is_open(session, item_id) else ItemOutcome.GONE
    loop.handle(session, app_context, unpack_incoming(items[0].event), now)
    if not inbox.done(session, item_id, now):
        raise AlreadyHandled
    return ItemOutcome.CAME


def _failed(
    session: Session, app_context: AppContext, item_id: int, reason: str, ref: str, now: datetime
) -> None:
    """Count the attempt; when it was the last one, tell the person so with a reference."""
    items = inbox.claim(session, now, only=item_id)
    if not items:
        return
    if inbox.failed(session, item_id, reason, now, retry_at=now + RETRY_AFTER):
        loop.apologise(session, app_context, unpack_incoming(items[0].event), ref, now)
