"""A reply that only another process can send wakes that one at once."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass, field

import pytest

from bot.app import App, build
from bot.chat.port import Capabilities, Incoming, Limits, Message, TextSaid
from bot.clock import WallClock
from bot.service.engine.context import AppContext
from bot.service.engine.sender import OutboxSender
from storage.base.database import Session, connect
from storage.queue import notifications
from tests.conftest import NOW

LONG_S = 3600.0
"""A tick that never comes in this test."""


@dataclass
class Alone:
    """A chat as Matrix is: one process receives, and only that one can send. Events are put in from outside."""

    name: str = "matrix"
    limits: Limits = field(default_factory=lambda: Limits(per_second=1e9, per_chat_second=1e9))
    sent: asyncio.Queue[str] = field(default_factory=asyncio.Queue)
    receiving: asyncio.Event = field(default_factory=asyncio.Event)
    capabilities = Capabilities(receives_alone=True, sends_alone=True)

    async def run(self, on_event, stop):
        self.receiving.set()
        await stop.wait()

    async def send(self, address: str, message: Message, *, token: str, edits: str = "") -> str:
        await self.sent.put(address)
        return token

    async def fetch(self, handle):
        raise NotImplementedError


def _listeners(session: Session) -> int:
    asked = "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() AND query = 'LISTEN holdfast'"
    return int(session.connection().exec_driver_sql(asked).scalar_one())


@pytest.mark.server
async def test_a_reply_written_by_one_process_is_sent_by_the_other_without_waiting_for_a_tick(
    postgres_url, monkeypatch
):
    monkeypatch.setattr(notifications, "_LOOK_EVERY_S", 0.05)
    dbs, stop = [connect(postgres_url), connect(postgres_url)], asyncio.Event()
    chats = [Alone(), Alone()]
    apps = [
        build(db, WallClock(), [chat], AppContext(), tick_s=LONG_S)
        for db, chat in zip(dbs, chats, strict=True)
    ]
    running = [asyncio.create_task(app.run(stop)) for app in apps]
    holder, stands_by = await _sorted(apps, chats)
    event = Incoming("matrix", "k1", "chat-mira", "mira", "private", NOW, TextSaid("hello"))
    await stands_by.inbox.receive(event)
    assert await asyncio.wait_for(holder.sent.get(), 20) == "chat-mira"
    stop.set()
    await asyncio.gather(*running)
    for db in dbs:
        db.close()


async def _sorted(apps: list[App], chats: list[Alone]) -> tuple[Alone, App]:
    waiting = [asyncio.create_task(chat.receiving.wait()) for chat in chats]
    done, pending = await asyncio.wait_for(asyncio.wait(waiting, return_when=asyncio.FIRST_COMPLETED), 20)
    for task in pending:
        task.cancel()
    first = 0 if waiting[0] in done else 1
    async with asyncio.timeout(20):
        while sum([await app.db.read(_listeners) for app in apps]) < 4:  # noqa: ASYNC110 - a state of the server
            await asyncio.sleep(0.02)
    return chats[first], apps[1 - first]


@pytest.mark.parametrize("what", ["", "matrix", "hold", "hold matrix", "holdfast matrix 3.0"])
def test_only_a_wish_to_wait_is_read_as_one(what):
    assert notifications.hold_in(what) is None


def test_a_wish_to_wait_names_its_platform_and_the_moment_to_the_microsecond():
    assert notifications.hold_in("hold telegram 1795860000.123457") == ("telegram", 1795860000.123457)


async def test_a_moment_from_a_clock_that_was_set_wrong_holds_nobody(monkeypatch):
    held, now, db = [], WallClock().now().timestamp(), connect("sqlite://")
    monkeypatch.setattr(OutboxSender, "hold_until", lambda _sender, until_s: held.append(until_s))
    app = build(db, WallClock(), [Alone()], AppContext(), tick_s=LONG_S)
    for until_s in (now + 7200, now + 30):
        app._heard(f"hold matrix {until_s!r}")
    app._heard(f"hold telegram {now!r}")
    db.close()
    assert held == [now + 30]
