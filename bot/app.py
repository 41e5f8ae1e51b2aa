"""The running program: the only file that knows every part.

`build` wires the parts; `App.run` starts them and stops them in order: first nothing new comes in, then what came in
is handled and what is due is finished, then the last messages leave. APScheduler is only the clock that says
"look now": what is due stands in the database.
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
import math
from collections.abc import AsyncIterator, Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC

from apscheduler.schedulers.asyncio import AsyncIOScheduler

from bot.chat.port import Chat, ChatStopped
from bot.clock import Clock
from bot.identity import AnotherBot
from bot.service.engine.context import AppContext
from bot.service.engine.counters import Counters
from bot.service.engine.due_work import WorkContext
from bot.service.engine.faults import note
from bot.service.engine.inbox_worker import Inbox
from bot.service.engine.receiver import Reachable, Receiver
from bot.service.engine.sender import OutboxSender
from bot.service.rounds import Rounds
from storage.base.database import Database
from storage.queue import notifications, outbox
from storage.queue.pacing import HELD_MOST_S

log = logging.getLogger(__name__)

ANSWER_FIRST_S = 0.02
"""What else an event led to is looked at after so long: looking would slow down the answer, which is being sent."""
SHORTEST_TICK_S = 0.02
"""A rehearsal looks at most this often, in real seconds: looking costs a query."""


class NoChatLeft(Exception):
    """Every chat has stopped for good. The text says why, for the operator."""


@dataclass
class App:
    """All parts, wired.

    Attributes
    ----------
    stopped : dict of str to str
        Chats that have stopped for good, and why.
    another : AnotherBot or None
        A platform says that the bot is another one than the database's: the program ends.
    beat_at : float
        When the worker last went on, by the event loop's clock [s]; 0 before it first did.
    on_beat : callable
        Called whenever the worker goes on: feeds a watchdog.
    on_round : callable
        Called with the seconds that each round took.
    """

    db: Database
    clock: Clock
    chats: Mapping[str, Chat]
    app_context: AppContext
    tick_s: float
    stopped: dict[str, str] = field(default_factory=dict)
    another: AnotherBot | None = None
    counters: Counters = field(default_factory=Counters)
    beat_at: float = 0.0
    on_beat: Callable[[], None] = lambda: None
    on_round: Callable[[float], None] = lambda _seconds: None
    inbox: Inbox = field(init=False)
    receivers: dict[str, Receiver] = field(init=False)
    work_context: WorkContext = field(init=False)
    rounds: Rounds = field(init=False)
    senders: dict[str, OutboxSender] = field(init=False)
    _ticked: asyncio.Event = field(default_factory=asyncio.Event)
    _look: asyncio.Event = field(default_factory=asyncio.Event)
    _to_ring: set[str] = field(default_factory=set)
    _ringing: asyncio.Task[None] | None = None
    _waking: asyncio.TimerHandle | None = None
    _working: bool = False
    _sweeping: bool = False

    def __post_init__(self) -> None:
        """Wire the parts to one another."""
        self.inbox = Inbox(
            self.db, self.app_context, self.clock, self.wake_soon, self.counters, self._sender_of
        )
        self.receivers = {name: Receiver(self.db, chat, self.wake) for name, chat in self.chats.items()}
        self.work_context = WorkContext(
            self.db,
            self.app_context,
            self.clock,
            Reachable(self.receivers),
            self.wake_senders,
            self.counters,
            self._beat,
        )
        self.rounds = Rounds(self.work_context)
        self.senders = {name: self._sender(receiver) for name, receiver in self.receivers.items()}

    def _sender(self, receiver: Receiver) -> OutboxSender:
        is_group = receiver.chat.capabilities.is_group
        return OutboxSender(
            self.db, receiver.chat, self.clock, is_group=is_group, may_send=lambda: receiver.may_send
        )

    def _sender_of(self, name: str) -> OutboxSender | None:
        """Return who sends on a chat, if it may at present."""
        return self.senders[name] if name in self.senders and name not in self.stopped else None

    def wake(self) -> None:
        """Look at what is due and at what is to be sent, now."""
        self._look.set()
        self.wake_senders()

    def wake_soon(self) -> None:
        """Look at all that, but let the answer to an event, which is on its way, go first."""
        if math.isinf(self.clock.speed):
            self.wake()
        elif self._waking is None:
            self._waking = asyncio.get_running_loop().call_later(ANSWER_FIRST_S, self._wake_now)

    def _wake_now(self) -> None:
        self._waking = None
        self.wake()

    def wake_senders(self) -> None:
        """Look at what is to be sent, now. What is for a chat that has stopped waits for the operator."""
        for name, sender in self.senders.items():
            if self.receivers[name].may_send:
                self._wake_sender(name, sender)
            else:
                self._to_ring.add(name)
        if self._to_ring and (self._ringing is None or self._ringing.done()):
            self._ringing = asyncio.ensure_future(self._ring())

    def _wake_sender(self, name: str, sender: OutboxSender) -> None:
        if name not in self.stopped:
            sender.wake()

    async def _ring(self) -> None:
        """Wake the processes that alone can send on a chat, if there is something for them."""
        while self._to_ring:
            name = self._to_ring.pop()
            try:
                if await self.db.read(outbox.has_free, self.clock.now(), name):
                    await asyncio.to_thread(notifications.notify, self.db, name)
            except Exception as problem:  # the other one finds it at its next tick
                note(log, f"Waking whoever sends on {name}", problem)

    def _heard(self, what: str) -> None:
        """Do what another process notifies of. One that came late only says to look."""
        hold = notifications.hold_in(what)
        if hold is not None:
            self._hold(*hold)
            return
        for name, sender in self.senders.items():
            if what in ("", name) and self.receivers[name].may_send:
                self._wake_sender(name, sender)

    def _hold(self, platform: str, until_s: float) -> None:
        """Let what is claimed wait for a moment that another process was told. One far ahead is from another clock."""
        far_s = self.clock.now().timestamp() + HELD_MOST_S * self.clock.speed
        if platform in self.senders and until_s <= far_s:
            self.senders[platform].hold_until(until_s)

    @property
    def standing_by(self) -> frozenset[str]:
        """The chats that another process receives from."""
        return frozenset(
            name
            for name, receiver in self.receivers.items()
            if receiver.standing_by and name not in self.stopped
        )

    @property
    def idle(self) -> bool:
        """Whether nothing is being handled, done or sent at this moment."""
        return (
            self.inbox.idle
            and not self._working
            and not self._sweeping
            and not self._ticked.is_set()
            and not self._look.is_set()
            and self._waking is None
            and all(sender.idle for sender in self.senders.values())
        )

    async def run(self, stop: asyncio.Event) -> None:
        """Run until `stop` is set. Raises `NoChatLeft`, in good order, once every chat has stopped for good."""
        handled, sent = asyncio.Event(), asyncio.Event()
        scheduler = self._alarm_clock()
        async with self._listening(), asyncio.TaskGroup() as group:
            chats = [group.create_task(self._receive(receiver, stop)) for receiver in self.receivers.values()]
            work = [group.create_task(self.inbox.run(handled)), group.create_task(self._do_due(handled))]
            senders = [group.create_task(sender.run(sent)) for sender in self.senders.values()]
            ticking = group.create_task(self._sweep_at_ticks())
            self._ticked.set()
            if scheduler is not None:
                scheduler.start()
            await stop.wait()
            if scheduler is not None:
                scheduler.shutdown(wait=False)
            ticking.cancel()
            await _ended(chats)
            if self._waking is not None:
                self._waking.cancel()
                self._wake_now()
            handled.set()
            self._look.set()
            await _ended(work)
            sent.set()
            await _ended(senders)
            for receiver in self.receivers.values():
                await receiver.release()
        if self.another is not None:
            raise self.another
        if self.chats and len(self.stopped) == len(self.chats):
            raise NoChatLeft("\n".join(self.stopped.values()))

    @contextlib.asynccontextmanager
    async def _listening(self) -> AsyncIterator[None]:
        """Listen for other processes' notifications while the block runs."""
        loop = asyncio.get_running_loop()

        def hear(what: str) -> None:
            loop.call_soon_threadsafe(self._heard, what)

        listener = notifications.NotificationListener(self.db, hear)
        listener.start()
        try:
            yield
        finally:
            await asyncio.to_thread(listener.stop)
            if self._ringing is not None:
                await self._ringing

    async def _receive(self, receiver: Receiver, stop: asyncio.Event) -> None:
        """Run one chat. One that stops for good does not take the others with it."""
        try:
            await receiver.run(self.inbox.receive, stop)
        except ChatStopped as stopped:
            log.error("%s has stopped for good: %s", receiver.chat.name, stopped)
            self.stopped[receiver.chat.name] = str(stopped)
            if isinstance(stopped, AnotherBot):
                self.another = stopped
                stop.set()
            if len(self.stopped) == len(self.chats):
                stop.set()

    def _alarm_clock(self) -> AsyncIOScheduler | None:
        """Return what ticks; a clock moved by hand is ticked by whoever moves it."""
        if math.isinf(self.clock.speed):
            return None
        scheduler = AsyncIOScheduler(
            timezone=UTC, job_defaults={"coalesce": True, "max_instances": 1, "misfire_grace_time": None}
        )
        seconds = max(SHORTEST_TICK_S, self.tick_s / self.clock.speed)
        scheduler.add_job(self.tick, "interval", seconds=seconds)
        return scheduler

    async def tick(self) -> None:
        """Look at everything soon. The alarm clock calls this; it only sets an event, so stopping never cuts work."""
        self._ticked.set()

    async def _sweep_at_ticks(self) -> None:
        while True:
            await self._ticked.wait()
            self._sweeping = True
            self._ticked.clear()
            try:
                await self.inbox.sweep()
            except Exception as problem:  # the database failed: the next tick tries again
                note(log, "Looking at what came in", problem)
            self.wake()
            self._sweeping = False

    async def _do_due(self, stop: asyncio.Event) -> None:
        while not stop.is_set():
            await self._look.wait()
            self._working = True
            self._look.clear()
            began = asyncio.get_running_loop().time()
            try:
                await self.rounds.go()
            except Exception as problem:  # the database failed: the next tick tries again
                note(log, "Looking at what is due", problem)
            finally:
                self._working = False
            self._beat()
            self.on_round(self.beat_at - began)

    def _beat(self) -> None:
        self.beat_at = asyncio.get_running_loop().time()
        self.on_beat()


async def _ended(tasks: Sequence[asyncio.Task[None]]) -> None:
    if tasks:
        await asyncio.wait(tasks)


def build(
    db: Database, clock: Clock, chats: Sequence[Chat], app_context: AppContext, *, tick_s: float = 15.0
) -> App:
    """Wire an app from its parts."""
    return App(db, clock, {chat.name: chat for chat in chats}, app_context, tick_s)
