"""What goes out: claims messages from the outbox, keeps to the pace, sends, notes what became of them.

One `OutboxSender` serves one platform, so that a slow one does not hold up another. A message that was claimed and not
noted as sent (the process died) is handed out again when its lease runs out. Answers to people who wait go before
nudges; messages of one chat keep their order. With the claim a moment to leave is reserved for each, so that all
processes together keep to the platform's limit. What became of messages is noted in the next transaction.

A platform that is out of order is left alone but for one message now and then (`bot.service.engine.breaker`).
Chats that it does not know are believed to be gone once somebody else was reached; several in a row are a fault of
ours (another bot's token, a restored homeserver): nobody is taken for gone, and sending pauses.

Whoever answers somebody lets the same transaction claim the answer (`run_and_claim`): nobody has to look for it.
"""

from __future__ import annotations

import asyncio
import logging
import math
import random
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Any, Concatenate, ParamSpec, TypeVar

from bot.chat.packing import unpack
from bot.chat.port import Attachment, Chat, SendError, SendFailed, SendRefused
from bot.clock import Clock
from bot.service.engine import late_messages, sender_transactions
from bot.service.engine.breaker import Breaker
from bot.service.engine.faults import note
from bot.service.engine.pace import Pace
from bot.service.engine.sender_transactions import BATCH, Claimed, Doubt, SendOutcome, Terms
from storage.base.database import Database, Session
from storage.queue import next_due, outbox
from storage.queue.outbox_messages import ClaimedMessage

log = logging.getLogger(__name__)

P = ParamSpec("P")
T = TypeVar("T")

LEASE_S = 30.0
"""What a killed process had claimed is sent by another after so long. A process that lives renews its leases."""
SLOW_S = 0.25
"""After this long more is claimed although messages are on their way: one dead connection stops nobody."""
IN_FLIGHT = 8
"""Chats that are written to at the same time, at most."""
IN_FLIGHT_LOW = 2
"""Always allow two chats in flight: every open connection costs time, so more are claimed only when so few are left."""
NEXT_AFTER_S = 0.03
"""Begin another chat after this time. Telegram takes longer to answer than the gap between messages. [s]"""
NOTE_WITHIN_S = 0.02
"""Note what was sent within this time, several messages in one transaction. A killed process sends again what it
had not noted, so this and what is on its way bound the duplicates. [s]"""
LONGEST_SLOT_S = 60.0
"""Nobody waits longer at once for a reserved moment: the clock may have been set back meanwhile."""
LATE_APART = 0.8
"""What is late, since the machine was busy, leaves no closer together than this part of the platform's gap."""
BACKOFF_S = 2.0
BACKOFF_MOST_S = 600.0
"""Between attempts at a message that we fail at ourselves."""
TROUBLE_MOST_S = 120.0
"""Between attempts at a message while others get through."""
DOUBTS_MOST = 4
"""So many chats in a row that the platform does not know are a fault of ours."""
DOUBT_WAIT_S = 600.0
DOUBT_PAUSE_S = 60.0
LATE_REAL_S = 60.0
"""In a rehearsal a message is late after so long in real time."""


@dataclass
class OutboxSender:
    """Sends what the outbox holds for one platform.

    Attributes
    ----------
    is_group : callable
        Whether an address is a group or channel, which platforms limit more strictly.
    rng : random.Random
        For the jitter of repeated attempts.
    may_send : callable
        Whether this process may send now.
    """

    db: Database
    chat: Chat
    clock: Clock
    is_group: Callable[[str], bool] = lambda _address: False
    rng: random.Random = field(default_factory=lambda: random.Random(0))  # noqa: S311 - jitter, no secret
    may_send: Callable[[], bool] = lambda: True
    sent: int = 0
    failed: int = 0
    _wake: asyncio.Event = field(default_factory=asyncio.Event)
    _flying: set[asyncio.Task[None]] = field(default_factory=set)
    _outcomes: list[SendOutcome] = field(default_factory=list)
    _ours_until: dict[int, float] = field(default_factory=dict)
    _lease_tokens: dict[int, int] = field(default_factory=dict)
    _slots: dict[int, float] = field(default_factory=dict)
    _noting: asyncio.Task[None] | None = None
    _left_s: float = -math.inf
    _note_at: asyncio.TimerHandle | None = None
    breaker: Breaker = field(init=False)
    _draining: bool = False
    _pace: Pace = field(init=False)
    _trouble: dict[int, int] = field(default_factory=dict)
    _doubts: dict[str, Doubt] = field(default_factory=dict)
    _probing: asyncio.TimerHandle | None = None

    def __post_init__(self) -> None:
        """Make the pace of the platform's limits, and its breaker."""
        self._pace = Pace(self.chat.limits)
        self.breaker = Breaker(self._real, self.rng)

    def wake(self) -> None:
        """Look at the outbox now."""
        self._wake.set()

    def hold_until(self, until_s: float) -> None:
        """Send nothing before a moment [s since 1970, by this clock]: the platform told another process to wait."""
        if math.isfinite(self.clock.speed):
            self._pace.hold(until_s / self.clock.speed)

    @property
    def idle(self) -> bool:
        """Whether nothing is being sent and nobody asked to look."""
        busy = self._draining or self._wake.is_set()
        return not busy and not self._flying and not self._outcomes

    async def run(self, stop: asyncio.Event) -> None:
        """Send until `stop` is set; what is in flight is finished and noted first."""
        stopping = asyncio.create_task(stop.wait())
        renewing = asyncio.create_task(self._renew())
        try:
            while not stop.is_set():
                await self._woken_or(stopping)
                if not stop.is_set():
                    await self._drain_safely()
            await asyncio.gather(*self._flying)
            if self._noting is not None:
                await self._noting
            await self._note()
        finally:
            if self._probing is not None:
                self._probing.cancel()
            for task in (stopping, renewing, *self._flying):  # none flies any more unless this one is cut off
                task.cancel()

    async def _woken_or(self, stopping: asyncio.Task[Any]) -> None:
        waking = asyncio.create_task(self._wake.wait())
        try:
            await asyncio.wait({waking, stopping}, return_when=asyncio.FIRST_COMPLETED)
        finally:
            waking.cancel()

    async def _drain_safely(self) -> None:
        self._draining = True
        try:
            await self.drain()
            self._note_rest()
        except Exception as problem:  # the database failed: the next tick tries again
            note(log, f"Sending on {self.chat.name}", problem)
        finally:
            self._draining = False

    async def drain(self) -> int:
        """Send what may go now and return how many messages were tried."""
        tried = 0
        self._wake.clear()
        while self.may_send() and (items := await self._settle_and_claim()):
            for batch in sender_transactions.batches(items):
                await self._launch(batch)
            tried += len(items)
            await self._landing(IN_FLIGHT_LOW if len(items) == BATCH else 0)
            self._wake.clear()
        return tried

    async def run_and_claim(
        self,
        address: str,
        fn: Callable[Concatenate[Session, P], T],
        *args: P.args,
        **kwargs: P.kwargs,
    ) -> tuple[T, bool]:
        """Run a function in a transaction and send what then waits for an address at once.

        The transaction also notes what became of earlier messages. Returns what the function returns, and whether
        there may be anything else to do: something that is due, a message to somebody else.
        """
        if not self.may_send() or self.breaker.is_open or len(self._flying) >= IN_FLIGHT:
            return await self.db.run(fn, *args, **kwargs), True

        def work(
            session: Session, now: datetime, outcomes: list[SendOutcome], terms: Terms
        ) -> tuple[T, Claimed, bool]:
            result = fn(session, *args, **kwargs)
            sender_transactions.note_all(session, now, outcomes)
            claimed = sender_transactions.claim(session, now, terms, address)
            return result, claimed, next_due.anything(session, now)

        until = asyncio.get_running_loop().time() + LEASE_S
        try:
            result, claimed, more = await self._with_outcomes(work, self._terms())
        finally:
            if self._outcomes:
                self._note_soon()  # what was to be noted was not, if the transaction failed
        for batch in sender_transactions.batches(self._keep(claimed, until)):
            self._begin(batch)
        return result, more

    def _real(self, seconds: float) -> timedelta:
        """Return so many real seconds in this clock's time: what a platform asks for is meant in real time."""
        return timedelta(seconds=seconds * (self.clock.speed if math.isfinite(self.clock.speed) else 1.0))

    # ------------------------------------------------------------ sending

    async def _launch(self, batch: list[ClaimedMessage]) -> None:
        """Begin to send to one address once there is room."""
        if len(self._flying) >= IN_FLIGHT_LOW:
            await asyncio.wait(self._flying, timeout=NEXT_AFTER_S, return_when=asyncio.FIRST_COMPLETED)
        while len(self._flying) >= IN_FLIGHT:
            await asyncio.wait(self._flying, return_when=asyncio.FIRST_COMPLETED)
        self._begin(batch)

    def _begin(self, batch: list[ClaimedMessage]) -> None:
        task = asyncio.create_task(self._send_batch(batch))
        self._flying.add(task)
        task.add_done_callback(self._flying.discard)

    async def _landing(self, most: int) -> None:
        """Wait until at most so many are on their way, but not for what is slow."""
        until = asyncio.get_running_loop().time() + SLOW_S
        while len(self._flying) > most:
            left_s = until - asyncio.get_running_loop().time()
            done, _ = await asyncio.wait(self._flying, timeout=left_s, return_when=asyncio.FIRST_COMPLETED)
            if not done:
                return

    async def _send_batch(self, batch: list[ClaimedMessage]) -> None:
        """Send to one address in order, and stop at the first message that does not get through."""
        refs: dict[str, str] = {}
        for number, item in enumerate(batch):
            await self._turn(item)
            if not self.breaker.lets(item.id):  # it has opened meanwhile: the rest waits untouched
                self._outcomes += [SendOutcome(one, given_back=True) for one in batch[number:]]
                self._note_soon()
                return
            if self._ours_until.get(item.id, 0.0) <= asyncio.get_running_loop().time():
                self._let_go(batch[number:])
                return
            outcome = await self._send(item, refs.get(str(item.body.get("replaces", "")), item.edits))
            self._outcomes.append(outcome)
            self._note_soon()
            if outcome.error is not None:
                self._outcomes += [SendOutcome(one, given_back=True) for one in batch[number + 1 :]]
                return
            if item.key:  # one without a name of its own is never edited
                refs[item.key] = outcome.ref

    def _let_go(self, items: list[ClaimedMessage]) -> None:
        """Leave messages to whoever claims them now: this process was stopped for longer than their lease."""
        for item in items:
            self.breaker.let_go(item.id)
            self._forget(item.id)

    def _forget(self, item_id: int) -> None:
        for known in (self._ours_until, self._lease_tokens, self._slots):
            known.pop(item_id, None)

    async def _turn(self, item: ClaimedMessage) -> None:
        """Wait until a message may go. A clock moved by hand knows no pace."""
        if math.isinf(self.clock.speed):
            return
        address, group = item.address, self.is_group(item.address)
        slot_s = self._slots.get(item.id, 0.0) / self.clock.speed
        while (wait_s := self._wait_s(address, group=group, slot_s=slot_s)) > 0:
            await self.clock.sleep(wait_s * self.clock.speed)
        self._left_s = self._seconds()
        self._pace.take(address, group=group, now_s=self._left_s)

    def _wait_s(self, address: str, *, group: bool, slot_s: float) -> float:
        now_s = self._seconds()
        apart_s = min(self._left_s - now_s, 0.0) + LATE_APART / self.chat.limits.per_second
        slot_s = min(slot_s - now_s, LONGEST_SLOT_S)
        return max(slot_s, apart_s, self._pace.wait_s(address, group=group, now_s=now_s))

    def _seconds(self) -> float:
        """Return real seconds as this clock tells them."""
        return self.clock.now().timestamp() / self.clock.speed

    async def _send(self, item: ClaimedMessage, edits: str) -> SendOutcome:
        kept = item.enclosed
        attachment = None if kept is None else Attachment(kept.name, kept.media_type, kept.data, kept.alt)
        try:
            ref = await self.chat.send(
                item.address, unpack(item.body, attachment), token=item.token, edits=edits
            )
        except SendError as error:
            self.failed += 1
            self._hold(error)
            return self._failure(item, error)
        except Exception as problem:
            self.failed += 1
            fault = note(log, f"Outbox item {item.id} on {self.chat.name}", problem)
            return self._failure(item, SendFailed(f"{type(problem).__name__} (ref {fault})", ours=True))
        self.sent += 1
        self._reached(item)
        return SendOutcome(item, ref=ref)

    # ------------------------------------------------------------ the platform's trouble

    def _failure(self, item: ClaimedMessage, error: SendError) -> SendOutcome:
        """Return what became of a message that did not get through, and note what that says of the platform."""
        match error:
            case SendFailed(ours=False):
                self._in_trouble(item, error)
            case SendRefused(doubtful=True):
                return self._doubt(item, error)
            case SendFailed():
                self.breaker.let_go(item.id)
            case _:  # the platform answers, whatever it says of this message
                self._back(self.breaker.succeeded(self.clock.now()))
        return SendOutcome(item, error=error, wait=self._backoff(item, error))

    def _in_trouble(self, item: ClaimedMessage, error: SendFailed) -> None:
        self._trouble[item.id] = self._trouble.get(item.id, 0) + 1
        opened = self.breaker.failed(
            self.clock.now(),
            item.id,
            item.address,
            str(error),
            whole_platform=error.whole_platform,
            asked_s=error.retry_after_s or 0.0,
        )
        if opened:
            log.warning("Sending on %s is interrupted: %s; trying with one message", self.chat.name, error)
        self._look_at_probe()

    def _doubt(self, item: ClaimedMessage, error: SendRefused) -> SendOutcome:
        """Keep a message whose chat is not known until it shows who is wrong."""
        now, wait = self.clock.now(), self._real(DOUBT_WAIT_S)
        kept = SendFailed(f"{error}, which is not certain yet")
        if self.breaker.is_open:
            self.breaker.failed(now, item.id, item.address, self.breaker.reason, asked_s=DOUBT_PAUSE_S)
        else:
            self._doubts[item.address] = Doubt(item, error)
            if len(self._doubts) >= DOUBTS_MOST:
                reason = (
                    f"{len(self._doubts)} chats in a row are not known there ({error}). Is it the right bot? "
                    "Nobody is taken for gone"
                )
                log.error("Sending on %s pauses: %s.", self.chat.name, reason)
                self.breaker.trip(now, reason, DOUBT_PAUSE_S)
                self._doubts.clear()
        self._look_at_probe()
        return SendOutcome(item, error=kept, wait=wait)

    def _reached(self, item: ClaimedMessage) -> None:
        """Somebody was reached: the platform is well, and who was not known there is gone indeed."""
        self._trouble.pop(item.id, None)
        self._doubts.pop(item.address, None)
        for doubt in self._doubts.values():
            self._outcomes.append(SendOutcome(doubt.item, error=replace(doubt.error, doubtful=False)))
        self._doubts.clear()
        self._back(self.breaker.succeeded(self.clock.now()))

    def _back(self, away: timedelta | None) -> None:
        if away is not None:
            log.warning("Sending on %s goes on after %.0f s", self.chat.name, away.total_seconds())
            self._wake.set()

    def _look_at_probe(self) -> None:
        """Look at the outbox again when the next message may be tried. A clock moved by hand has its own ticks."""
        if self.breaker.probe_at is None or math.isinf(self.clock.speed):
            return
        if self._probing is not None:
            self._probing.cancel()
        left_s = (self.breaker.probe_at - self.clock.now()).total_seconds() / self.clock.speed
        self._probing = asyncio.get_running_loop().call_later(max(left_s, 0.0), self._wake.set)

    # ------------------------------------------------------------ noting

    def _note_soon(self) -> None:
        """See to it that what became of messages is noted. Nobody waits on a clock that is moved by hand."""
        if self._note_at is None:
            delay_s = 0.0 if math.isinf(self.clock.speed) else NOTE_WITHIN_S
            self._note_at = asyncio.get_running_loop().call_later(delay_s, self._begin_noting)

    def _note_rest(self) -> None:
        """Note what came through while the last of it was being noted."""
        if self._outcomes:
            self._note_soon()

    def _begin_noting(self) -> None:
        self._note_at = None
        if not self._outcomes:
            return  # noted meanwhile
        if not self._draining:
            self._wake.set()  # and look for what waited behind them
        elif self._noting is None or self._noting.done():
            self._noting = asyncio.create_task(self._note_safely())

    async def _note_safely(self) -> None:
        try:
            await self._note()
            self._note_rest()
        except Exception as problem:  # the outcomes are kept; the next look at the outbox notes them
            note(log, f"Noting what was sent on {self.chat.name}", problem)

    async def _note(self) -> None:
        await self._with_outcomes(sender_transactions.note_all)

    async def _settle_and_claim(self) -> list[ClaimedMessage]:
        """Note what became of the last messages and take the next ones, in one transaction."""
        if self._noting is not None:
            await self._noting
        if not self._room() and not self._outcomes:
            return []
        if not self._outcomes and not await self.db.read(outbox.has_free, self.clock.now(), self.chat.name):
            return []
        until = asyncio.get_running_loop().time() + LEASE_S
        claimed = await self._with_outcomes(sender_transactions.settle_and_claim, self._terms())
        return self._keep(claimed, until)

    def _keep(self, claimed: Claimed, until: float) -> list[ClaimedMessage]:
        """Keep on what terms messages are this sender's, and until when; return those that are to be sent now.

        After this process stood still for longer than a lease, it may claim what is on its way here already.
        """
        new = [item for item in claimed.items if item.id not in self._lease_tokens]
        for item in new:
            self.breaker.probes(item.id)  # while it is open only one was taken
        self._ours_until |= {item.id: until for item in claimed.items}
        self._lease_tokens |= {item.id: item.lease_token for item in claimed.items}
        self._slots |= claimed.slots
        self._hear(claimed.said)
        return new

    def _terms(self) -> Terms:
        limits, speed = self.chat.limits, self.clock.speed
        late = max(late_messages.LATE, self._real(LATE_REAL_S))
        return Terms(self.chat.name, self._real(LEASE_S), limits.per_second, speed, self._room(), late)

    def _room(self) -> int:
        return self.breaker.room(self.clock.now(), BATCH)

    def _hear(self, said: Mapping[str, list[datetime]]) -> None:
        """Count what other processes have sent to the chats that are written to now."""
        if not math.isinf(self.clock.speed):
            for address, moments in said.items():
                at_s = [moment.timestamp() / self.clock.speed for moment in moments]
                self._pace.hear(address, group=self.is_group(address), at_s=at_s)

    async def _with_outcomes(self, fn: Callable[..., T], *args: object) -> T:
        outcomes, self._outcomes = self._outcomes, []
        if self._note_at is not None:  # what comes from now on has its own time
            self._note_at.cancel()
            self._note_at = None
        try:
            found = await self.db.run(fn, self.clock.now(), outcomes, *args)
        except BaseException:
            self._outcomes[:0] = outcomes  # nothing was noted: keep them for the next time
            raise
        for outcome in outcomes:
            self._forget(outcome.item.id)
        return found

    async def _renew(self) -> None:
        """Keep others from sending what is on its way here: a slow platform takes longer than a lease."""
        while True:
            await asyncio.sleep(LEASE_S / 3)
            now_s = asyncio.get_running_loop().time()
            mine = {one: self._lease_tokens[one] for one, until in self._ours_until.items() if until > now_s}
            try:
                if mine:
                    await self.db.run(outbox.keep_longer, mine, self.clock.now() + self._real(LEASE_S))
            except Exception as problem:  # the next time will do, or the lease runs out
                note(log, f"Renewing leases on {self.chat.name}", problem)
            else:
                self._ours_until |= {one: now_s + LEASE_S for one in mine if one in self._ours_until}

    def _hold(self, error: SendError) -> None:
        asked = isinstance(error, SendFailed) and error.whole_platform and error.retry_after_s
        if asked and math.isfinite(self.clock.speed):
            self._pace.hold(self._seconds() + asked)

    def _backoff(self, item: ClaimedMessage, error: SendError) -> timedelta:
        """Return how long to wait: what the platform asked for, else doubling, with jitter.

        After an attempt while the platform is out of order another message goes first.
        """
        if isinstance(error, SendFailed) and error.retry_after_s is not None:
            return self._real(error.retry_after_s)
        ours = not isinstance(error, SendFailed) or error.ours
        tries, most_s = (item.attempts, BACKOFF_MOST_S) if ours else (self._trouble[item.id], TROUBLE_MOST_S)
        doubled_s = min(most_s, BACKOFF_S * 2 ** min(tries - 1, 16))
        if not ours and self.breaker.probe_at is not None:
            return self.breaker.probe_at - self.clock.now() + self._real(1.0)
        return self._real(doubled_s * (0.75 + self.rng.random() / 2))
