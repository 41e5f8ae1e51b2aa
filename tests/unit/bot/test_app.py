"""A program that is cut off where it is ends, at whatever moment, and leaves nothing running."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass, field

import pytest

from bot.app import build
from bot.chat.packing import pack
from bot.chat.port import Capabilities, Limits, Message
from bot.clock import WallClock
from bot.service.engine import receiver
from bot.service.engine.context import AppContext
from bot.words.rich import Rich
from storage.base.database import Database
from storage.queue import outbox
from tests.conftest import NOW


@dataclass
class Dead:
    """A chat that takes a message and never answers."""

    name: str = "fake"
    limits: Limits = field(default_factory=Limits)
    capabilities: Capabilities = field(default_factory=lambda: Capabilities(receives_alone=True))
    sending: asyncio.Event = field(default_factory=asyncio.Event)

    async def run(self, on_event, stop):
        await stop.wait()

    async def send(self, address: str, message: Message, *, token: str, edits: str = "") -> str:
        self.sending.set()
        await asyncio.Event().wait()
        return token

    async def fetch(self, handle):
        raise NotImplementedError


@pytest.mark.parametrize("turns_of_the_loop", range(0, 40, 3))
async def test_an_app_that_is_cut_off_ends_and_leaves_nothing_running(
    memory_db: Database, monkeypatch: pytest.MonkeyPatch, turns_of_the_loop: int
):
    monkeypatch.setattr(
        receiver, "LOOK_EVERY_S", 0.0
    )  # it is always asking whether the turn is still its own
    chat, others = Dead(), asyncio.all_tasks()
    await memory_db.run(outbox.put, "fake", "chat-mira", pack(Message(Rich.of("Hello."))), now=NOW)
    running = asyncio.create_task(build(memory_db, WallClock(), [chat], AppContext()).run(asyncio.Event()))
    await chat.sending.wait()
    for _ in range(turns_of_the_loop):
        await asyncio.sleep(0)
    running.cancel()
    ended, _ = await asyncio.wait({running}, timeout=20)
    assert ended, "it goes on although it was cancelled"
    assert running.cancelled()
    await asyncio.sleep(0)  # those that were cancelled last see it now
    assert asyncio.all_tasks() == others
