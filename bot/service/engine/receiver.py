"""Receiving from a chat, by one process where the chat can bear only one: the others stand by.

An adapter's capabilities say so: ``receives_alone`` when only one process may receive (Telegram answers one poller, a
Matrix sync has one store of keys), ``sends_alone`` when sending needs what only the receiving process has. Whoever
holds the turn receives; it is handed over when its process ends or dies, or when its database connection breaks. For
a moment two may receive then: what comes twice is stored once.
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field

from bot.chat.port import Chat, OnEvent
from bot.service.engine.due_work import Elsewhere
from bot.service.engine.faults import note
from storage.base.database import Database
from storage.queue import leader_lock
from storage.queue.leader_lock import LeaderLock

log = logging.getLogger(__name__)

TRY_EVERY_S = 3.0
"""How often a process that stands by asks for the turn."""
LOOK_EVERY_S = 2.0
"""How often the process that has it looks whether it still has."""
ANSWER_WITHIN_S = 10.0
"""A database that does not say within this time that the turn is ours may have given it away."""


@dataclass
class Receiver:
    """One chat's place in this process.

    Attributes
    ----------
    on_taken : callable
        Called when this process begins to receive.
    alone : bool
        Whether only one process may receive.
    """

    db: Database
    chat: Chat
    on_taken: Callable[[], None] = lambda: None
    alone: bool = field(init=False)
    _sends_alone: bool = field(init=False)
    _lock: LeaderLock | None = field(default=None, init=False)

    def __post_init__(self) -> None:
        """Ask the adapter once what it can do."""
        capable = self.chat.capabilities
        self.alone, self._sends_alone = capable.receives_alone, capable.sends_alone

    @property
    def standing_by(self) -> bool:
        """Whether another process may be receiving, and this one is not."""
        return self.alone and self._lock is None

    @property
    def may_send(self) -> bool:
        """Whether this process may send."""
        return not (self.standing_by and self._sends_alone)

    async def run(self, on_event: OnEvent, stop: asyncio.Event) -> None:
        """Receive until `stop` is set, while the turn is ours. Raises `ChatStopped` as the adapter does.

        What is still to be sent may need the turn: `release` it afterwards.
        """
        if not self.alone:
            await self.chat.run(on_event, stop)
            return
        lost = True
        while lost and not stop.is_set():
            self._lock = await self._take()
            if self._lock is None:
                await _moment(stop, TRY_EVERY_S)
                continue
            log.info("Receiving from %s", self.chat.name)
            self.on_taken()
            try:
                lost = await self._receive(self._lock, on_event, stop)
            finally:
                if not (stop.is_set() and self._sends_alone):
                    await self.release()

    async def release(self) -> None:
        """Let another process have the turn."""
        lock, self._lock = self._lock, None
        if lock is not None:
            await _within(ANSWER_WITHIN_S, lock.end)

    async def _take(self) -> LeaderLock | None:
        try:
            return await asyncio.to_thread(leader_lock.take, self.db, self.chat.name)
        except Exception as problem:  # the database is away: it is tried again soon
            note(log, f"Taking the turn to receive from {self.chat.name}", problem)
            return None

    async def _receive(self, lock: LeaderLock, on_event: OnEvent, stop: asyncio.Event) -> bool:
        """Receive until `stop` is set, the chat ends or the turn is lost; return whether it was lost."""
        ending = asyncio.Event()
        receiving = asyncio.create_task(self.chat.run(on_event, ending))
        stopping = asyncio.create_task(stop.wait())
        lost = False
        try:
            while not lost and not receiving.done() and not stop.is_set():
                await asyncio.wait(
                    {receiving, stopping}, timeout=LOOK_EVERY_S, return_when=asyncio.FIRST_COMPLETED
                )
                lost = not receiving.done() and not stop.is_set() and not await self._holds(lock)
            if lost:
                log.warning("Another process may receive from %s now; this one stands by", self.chat.name)
            ending.set()
            await receiving
        finally:
            stopping.cancel()
            receiving.cancel()
            await asyncio.gather(receiving, stopping, return_exceptions=True)
        return lost

    async def _holds(self, lock: LeaderLock) -> bool:
        return await _within(ANSWER_WITHIN_S, lock.holds) is True


async def _within(seconds: float, ask: Callable[[], bool | None]) -> bool | None:
    """Ask in a thread; None when there is no answer in time. The thread is left to its time-outs.

    Cancelling gets through at any moment (`asyncio.wait_for` of Python 3.11 drops it when the answer is just there).
    """
    with contextlib.suppress(TimeoutError):
        async with asyncio.timeout(seconds):
            return await asyncio.to_thread(ask)
    return None


async def _moment(stop: asyncio.Event, seconds: float) -> None:
    with contextlib.suppress(TimeoutError):
        async with asyncio.timeout(seconds):
            await stop.wait()


@dataclass(frozen=True)
class Reachable(Mapping[str, Chat]):
    """The chats by name, for work that fetches from them. Raises `Elsewhere` for one that only another can use."""

    receivers: Mapping[str, Receiver]

    def __getitem__(self, name: str) -> Chat:
        """Return a chat by its platform's name."""
        receiver = self.receivers[name]
        if not receiver.may_send:
            raise Elsewhere(name)
        return receiver.chat

    def __iter__(self) -> Iterator[str]:
        """Go through the names."""
        return iter(self.receivers)

    def __len__(self) -> int:
        """Return how many there are."""
        return len(self.receivers)
