"""Which bot a database belongs to."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass, field
from typing import Any

import pytest

from bot import identity
from bot.app import build
from bot.chat.port import Capabilities, Limits, OnIdentity
from bot.clock import HandClock
from bot.identity import AnotherBot
from bot.service.engine.context import AppContext
from storage.base.database import Database
from storage.queue import bots
from tests.conftest import NOW


@dataclass
class Chat:
    """A chat whose platform says who the bot is."""

    identity: str
    says: str = ""
    name: str = "telegram"
    limits: Limits = field(default_factory=Limits)
    on_identity: Any = None
    received: bool = False

    async def run(self, on_event: Any, stop: asyncio.Event) -> None:
        await self.on_identity(self.says or self.identity)
        self.received = True
        await stop.wait()

    async def send(self, address: str, message: Any, *, token: str, edits: str = "") -> str:
        raise AssertionError("Nothing may be sent.")

    async def fetch(self, handle: str) -> bytes:
        raise NotImplementedError

    @property
    def capabilities(self) -> Capabilities:
        return Capabilities(identity=self.identity, confirm_identity=self._confirm_identity)

    def _confirm_identity(self, on_identity: OnIdentity) -> None:
        self.on_identity = on_identity


async def start(db: Database, chat: Any, **told: bool) -> None:
    await identity.check(db, HandClock(NOW), [chat], **told)
    await chat.on_identity(chat.says or chat.identity)


def kept(db: Database, platform: str = "telegram") -> str:
    with db.begin() as session:
        return bots.known(session, platform)


async def test_f03_the_database_remembers_its_bot_and_refuses_another(shared_db: Database):
    await start(shared_db, Chat("1"))
    await start(shared_db, Chat("1"))
    with pytest.raises(AnotherBot, match=r"belongs to the telegram bot 1; .* of 2, .*--new-bot"):
        await start(shared_db, Chat("2"))
    assert kept(shared_db) == "1"
    await start(shared_db, Chat("@bot:school.example", name="matrix"))
    assert kept(shared_db, "matrix") == "@bot:school.example"


async def test_f03_another_bot_takes_over_when_told(memory_db: Database):
    await start(memory_db, Chat("1"))
    await start(memory_db, Chat("2"), new_bot=True)
    assert kept(memory_db) == "2"


async def test_f03_an_id_that_the_platform_has_not_confirmed_is_not_kept(memory_db: Database):
    await identity.check(memory_db, HandClock(NOW), [Chat("mistyped")])
    assert kept(memory_db) == ""
    await start(memory_db, Chat("1"))


async def test_f03_what_the_platform_itself_says_counts_and_ends_the_program(memory_db: Database):
    await start(memory_db, Chat("1"))
    chat, clock = Chat("1", says="2"), HandClock(NOW)
    await identity.check(memory_db, clock, [chat])
    app = build(memory_db, clock, [chat], AppContext())
    with pytest.raises(AnotherBot):
        await asyncio.wait_for(app.run(asyncio.Event()), 60)
    assert not chat.received
