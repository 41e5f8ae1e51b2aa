"""Several processes send for one bot: together they keep to its platform's limit."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field
from typing import TypeVar

import pytest

from bot.chat.packing import pack
from bot.chat.port import Capabilities, Limits, Message, SendFailed
from bot.clock import HandClock
from bot.service.engine.sender import OutboxSender
from bot.words.rich import Rich
from storage.base.database import Database, Session, connect
from storage.queue import outbox
from tests.conftest import NOW

T = TypeVar("T")
LIMITS = Limits(per_second=100, per_chat_second=10)
"""Faster than any platform, so that the tests are short."""


STEP_S = 0.005
TURNS = 50
"""Turns of the loop in which nothing is asked of the database: then all is done that a moment asks for."""


class SteppedClock(HandClock):
    """A clock of real speed that goes on in small steps, each once all is done that its moment asks for.

    So nothing comes late because the machine is busy with something else.
    """

    speed = 1.0

    async def sleep(self, seconds: float) -> None:
        """Wait for at least what a moment is told to: less would be over before any time has passed."""
        await super().sleep(max(seconds, 1e-6))


@dataclass
class Platform:
    """What three processes write to: notes when what came [s]."""

    clock: SteppedClock
    name: str = "telegram"
    limits: Limits = LIMITS
    capabilities: Capabilities = field(default_factory=Capabilities)
    came: list[tuple[float, str]] = field(default_factory=list)
    asks_to_wait_at: int = -1

    async def send(self, address: str, message: Message, *, token: str, edits: str = "") -> str:
        self.came.append((self.clock.now().timestamp(), address))
        if len(self.came) == self.asks_to_wait_at:
            raise SendFailed("slow down", retry_after_s=1.0, whole_platform=True)
        return token

    async def run(self, on_event, stop): ...

    async def fetch(self, handle):
        raise NotImplementedError


def write(session: Session, addresses: list[str], *, urgent: bool = False) -> None:
    for address in addresses:
        outbox.put(session, "telegram", address, pack(Message(Rich.of("hello"), urgent=urgent)), now=NOW)


async def send_all(db: Database, number: int, processes: int = 3, asks_to_wait_at: int = -1) -> Platform:
    """Let processes send what is in the outbox until so many messages have come."""
    clock, stop, asked = SteppedClock(NOW), asyncio.Event(), [0]
    to = Platform(clock, asks_to_wait_at=asks_to_wait_at)
    with pytest.MonkeyPatch.context() as patch:
        for name in ("run", "read"):
            patch.setattr(db, name, _counted(getattr(db, name), asked))
        senders = [OutboxSender(db, to, clock) for _ in range(processes)]
        running = [asyncio.create_task(sender.run(stop)) for sender in senders]
        async with asyncio.timeout(60):
            while len(to.came) < number:
                for sender in senders:
                    sender.wake()
                await asyncio.sleep(STEP_S)
                await _settled(asked)
                await clock.advance(STEP_S)
        stop.set()
        await asyncio.gather(*running)
    return to


def _counted(ask: Callable[..., Awaitable[T]], asked: list[int]) -> Callable[..., Awaitable[T]]:
    """Count what is asked of the database and not answered yet."""

    async def counted(*what: object) -> T:
        asked[0] += 1
        try:
            return await ask(*what)
        finally:
            asked[0] -= 1

    return counted


async def _settled(asked: list[int]) -> None:
    quiet = 0
    while quiet < TURNS:
        await asyncio.sleep(0.001 if asked[0] else 0)
        quiet = 0 if asked[0] else quiet + 1


def most_within(came: list[float], seconds: float) -> int:
    return max(sum(start <= moment < start + seconds for moment in came) for start in came)


async def test_three_processes_write_no_faster_than_one_may(db: Database):
    with db.begin() as session:
        write(session, [f"chat-{n}" for n in range(100)])
    to = await send_all(db, 100)
    came = [moment for moment, _ in to.came]
    # Three that did not share would need a third of the time.
    assert came[-1] - came[0] >= 0.75 * 99 / LIMITS.per_second
    assert most_within(came, 0.5) <= 1.5 * 0.5 * LIMITS.per_second


@pytest.mark.server
async def test_one_chat_gets_its_pace_whichever_process_writes(postgres_url: str):
    db = connect(postgres_url)
    with db.begin() as session:
        write(session, ["chat-a"] * 12)
    to = await send_all(db, 12)
    came = [moment for moment, _ in to.came]
    db.close()
    assert came[-1] - came[0] >= (12 - 3 - 1) / LIMITS.per_chat_second, "a burst of three, then one by one"


async def test_a_wish_to_wait_that_one_process_hears_holds_all(db: Database):
    with db.begin() as session:
        write(session, [f"chat-{n}" for n in range(60)])
    to = await send_all(db, 61, asks_to_wait_at=20)
    came = [moment for moment, _ in to.came]
    said = came[19]
    # What the others had claimed by then leaves: ten messages each at most, reserved for the next third of a second.
    assert sum(moment > said for moment in came) == 41
    assert sum(said < moment < said + 0.95 for moment in came) <= 25
    assert sum(said + 0.5 < moment < said + 0.95 for moment in came) == 0


async def test_a_reply_goes_before_nudges_whoever_sends_it(db: Database):
    with db.begin() as session:
        write(session, [f"chat-{n}" for n in range(90)])
        write(session, ["chat-who-answers"], urgent=True)
    to = await send_all(db, 91)
    place = [address for _, address in to.came].index("chat-who-answers")
    assert place <= 5
