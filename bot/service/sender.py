"""What goes out: claims messages from the outbox, keeps to the pace, sends, notes what became of them.

One `Sender` serves one platform, so that a slow one does not hold up another. A message that was claimed and not
noted as sent (the process died) is handed out again when its lease runs out. Answers to people who wait go before
nudges; messages of one chat keep their order.
"""

from __future__ import annotations

import asyncio
import logging
import math
import random
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from bot.chat.port import AddressMoved, Attachment, Chat, SendError, SendFailed, SendRefused, unpack
from bot.clock import Clock
from bot.service.faults import note
from bot.service.pace import Pace
from storage import outbox, people
from storage.database import Database, Session
from storage.outbox import Outgoing

log = logging.getLogger(__name__)

BATCH = 10
"""Messages claimed at once: few, so that an answer that comes meanwhile waits for few nudges."""
LEASE_S = 90.0
SLOW_S = 0.25
"""After this long the next message is begun before the former is through, so that one dead connection does not
stop everybody."""
IN_FLIGHT = 8
BACKOFF_S = 2.0
BACKOFF_MOST_S = 600.0


@dataclass
class Sender:
    """Sends what the outbox holds for one platform.

    Attributes
    ----------
    is_group : callable
        Whether an address is a group or channel, which platforms limit more strictly.
    rng : random.Random
        For the jitter of repeated attempts.
    """

    db: Database
    chat: Chat
    clock: Clock
    is_group: Callable[[str], bool] = lambda _address: False
    rng: random.Random = field(default_factory=lambda: random.Random(0))  # noqa: S311 - jitter, no secret
    share: float = 1.0
    _wake: asyncio.Event = field(default_factory=asyncio.Event)
    _flying: set[asyncio.Task[None]] = field(default_factory=set)
    _pace: Pace = field(init=False)
    _draining: bool = False
    sent: int = 0
    failed: int = 0

    def __post_init__(self) -> None:
        """Make the pace of the platform's limits."""
        self._pace = Pace(self.chat.limits, self.share)

    def wake(self) -> None:
        """Look at the outbox now."""
        self._wake.set()

    @property
    def idle(self) -> bool:
        """Whether nothing is being sent and nobody asked to look."""
        return not self._draining and not self._flying and not self._wake.is_set()

    async def run(self, stop: asyncio.Event) -> None:
        """Send until `stop` is set; what is in flight is finished first."""
        stopping = asyncio.create_task(stop.wait())
        while not stop.is_set():
            waking = asyncio.create_task(self._wake.wait())
            await asyncio.wait({waking, stopping}, return_when=asyncio.FIRST_COMPLETED)
            waking.cancel()
            if not stop.is_set():
                await self._drain_safely()
        await asyncio.gather(*self._flying)

    async def _drain_safely(self) -> None:
        self._draining = True
        try:
            await self.drain()
        except Exception as problem:  # the database failed: the next tick tries again
            note(log, f"Sending on {self.chat.name}", problem)
        finally:
            self._draining = False

    async def drain(self) -> int:
        """Send what may go now and return how many messages were tried."""
        tried = 0
        self._wake.clear()
        while items := await self.db.run(_claim, self.chat.name, self.clock.now(), self._real(LEASE_S)):
            await self._send_batch(items)
            tried += len(items)
            await self._land()
            self._wake.clear()
        return tried

    def _real(self, seconds: float) -> timedelta:
        """Return so many real seconds in this clock's time: what a platform asks for is meant in real time."""
        return timedelta(seconds=seconds * (self.clock.speed if math.isfinite(self.clock.speed) else 1.0))

    # ------------------------------------------------------------ one batch

    async def _send_batch(self, items: list[Outgoing]) -> None:
        waiting = list(items)
        while waiting:
            await self._launch(waiting.pop(await self._next(waiting)))

    async def _next(self, waiting: list[Outgoing]) -> int:
        """Wait until one of the messages may go and return its index. A clock moved by hand knows no pace."""
        if math.isinf(self.clock.speed):
            return 0
        while True:
            now_s = self._seconds()
            waits = [
                self._pace.wait_s(i.address, group=self.is_group(i.address), now_s=now_s) for i in waiting
            ]
            wait_s = min(waits)
            if wait_s <= 0:
                index = waits.index(wait_s)
                address = waiting[index].address
                self._pace.take(address, group=self.is_group(address), now_s=now_s)
                return index
            await self.clock.sleep(wait_s * self.clock.speed)

    def _seconds(self) -> float:
        """Return real seconds as this clock tells them."""
        return self.clock.now().timestamp() / self.clock.speed

    async def _launch(self, item: Outgoing) -> None:
        task = asyncio.create_task(self._send(item))
        self._flying.add(task)
        task.add_done_callback(self._flying.discard)
        await asyncio.wait({task}, timeout=SLOW_S)
        while len(self._flying) >= IN_FLIGHT:
            await asyncio.wait(self._flying, return_when=asyncio.FIRST_COMPLETED)

    async def _land(self) -> None:
        if self._flying:
            await asyncio.wait(set(self._flying), timeout=SLOW_S)

    async def _send(self, item: Outgoing) -> None:
        enclosed = item.enclosed
        attachment = (
            None
            if enclosed is None
            else Attachment(enclosed.name, enclosed.media_type, enclosed.data, enclosed.alt)
        )
        message = unpack(item.body, attachment)
        try:
            ref = await self.chat.send(item.address, message, token=item.token, edits=item.edits)
        except SendError as error:
            self.failed += 1
            await self.db.run(_note_error, item, error, self.clock.now(), self._backoff(item, error))
            self._hold(error)
        except Exception as problem:
            self.failed += 1
            ref = note(log, f"Outbox item {item.id} on {self.chat.name}", problem)
            fault = SendFailed(f"{type(problem).__name__} (ref {ref})")
            await self.db.run(_note_error, item, fault, self.clock.now(), self._backoff(item, fault))
        else:
            self.sent += 1
            await self.db.run(outbox.sent, item.id, ref, self.clock.now())

    def _hold(self, error: SendError) -> None:
        asked = isinstance(error, SendFailed) and error.whole_platform and error.retry_after_s
        if asked and math.isfinite(self.clock.speed):
            self._pace.hold(self._seconds() + asked)

    def _backoff(self, item: Outgoing, error: SendError) -> timedelta:
        """Return how long to wait: what the platform asked for, else doubling, with jitter."""
        if isinstance(error, SendFailed) and error.retry_after_s is not None:
            return self._real(error.retry_after_s)
        doubled = min(BACKOFF_MOST_S, BACKOFF_S * 2 ** min(item.attempts - 1, 16))
        return self._real(doubled * (0.75 + self.rng.random() / 2))


def _claim(session: Session, platform: str, now: datetime, lease: timedelta) -> list[Outgoing]:
    return outbox.claim(session, now, limit=BATCH, lease=lease, platforms=[platform])


def _note_error(session: Session, item: Outgoing, error: SendError, now: datetime, wait: timedelta) -> None:
    match error:
        case SendFailed(retry_after_s=float() | int()):
            outbox.postpone(session, item.id, now + wait)
        case AddressMoved(new_address=new_address):
            outbox.moved(session, item.platform, item.address, new_address)
            outbox.postpone(session, item.id, now)
        case SendRefused(unreachable=True):
            outbox.refused(session, item.id, str(error))
            outbox.drop_waiting(session, item.platform, item.address, "the address cannot be reached")
            people.block(session, item.platform, item.address)
        case SendRefused():
            log.error("Outbox item %d was refused: %s", item.id, error)
            outbox.refused(session, item.id, str(error))
        case _:
            outbox.failed(session, item.id, str(error), retry_at=now + wait)
