"""A platform that asks one process to wait is left alone by all of them: real PostgreSQL, strict Bot API server."""

from __future__ import annotations

import asyncio
from typing import cast

import pytest
from sqlmodel import col, func, select

from bot.app import App, build
from bot.chat.packing import pack
from bot.chat.port import Limits, Message
from bot.chat.telegram.adapter import TelegramChat
from bot.clock import WallClock
from bot.service.engine.context import AppContext
from bot.words.rich import Rich
from storage.base.database import Database, Session, connect
from storage.queue import notifications, outbox
from storage.tables import OutboxItem, OutboxState
from tests.servers.botapi import TOKEN, BotApi, Call, Fault

pytestmark = pytest.mark.server

PEOPLE = range(1000, 1020)
PAUSE_S = 3
ON_THE_WIRE_S = 0.6
"""What left before the wish to wait was heard has come by then; what both have claimed takes four seconds to leave."""


class Slow(TelegramChat):
    """Telegram at a pace at which two processes need four seconds for what they claim at once."""

    @property
    def limits(self) -> Limits:
        """What it can show and how fast."""
        return Limits(per_second=5)


def listeners(session: Session) -> int:
    asked = "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() AND query = 'LISTEN holdfast'"
    return int(session.connection().exec_driver_sql(asked).scalar_one())


def write(session: Session) -> None:
    for person in PEOPLE:
        nudge = Message(Rich.of("3 quick self-checks"), urgent=False)
        outbox.put(session, "telegram", str(person), pack(nudge), now=WallClock().now())


def started(api: BotApi, db: Database) -> App:
    chat = Slow(TOKEN, api_url=api.url, timeout_s=5, long_poll_s=1)
    chat.attach(db)
    return build(db, WallClock(), [chat], AppContext(), tick_s=0.2)


def claimed(session: Session) -> int:
    held = col(OutboxItem.lease_until).is_not(None) | (col(OutboxItem.state) == OutboxState.SENT)
    return session.exec(select(func.count()).where(held)).one()


async def both_have_claimed(db: Database) -> None:
    """Wait until each has its ten: one those that leave now, the other those that leave after them."""
    async with asyncio.timeout(30):
        while await db.read(claimed) < len(PEOPLE):  # noqa: ASYNC110 - a state of the database
            await asyncio.sleep(0.01)


async def both_listen(db: Database) -> None:
    async with asyncio.timeout(30):
        while await db.read(listeners) < 2:  # noqa: ASYNC110 - a state of the server
            await asyncio.sleep(0.02)


def told_to_wait(api: BotApi) -> list[Call]:
    """Return the calls that went wrong on order: the server did not even read them."""
    return [call for call in api.called("sendMessage") if not call.ok and call.values == {}]


async def refused(api: BotApi) -> Call:
    """Return the call that the server told to wait, once it has."""
    async with asyncio.timeout(30):
        while not told_to_wait(api):  # noqa: ASYNC110 - a state of the server
            await asyncio.sleep(0.01)
    return told_to_wait(api)[0]


async def all_have_theirs(api: BotApi) -> None:
    async with asyncio.timeout(60):
        while not all(api.seen_by(person) for person in PEOPLE):  # noqa: ASYNC110 - a state of the server
            await asyncio.sleep(0.05)


async def test_after_a_wish_to_wait_no_process_sends_what_it_had_claimed(postgres_url, monkeypatch):
    monkeypatch.setattr(notifications, "_LOOK_EVERY_S", 0.05)
    dbs = [connect(postgres_url), connect(postgres_url)]
    async with BotApi() as api:
        for person in PEOPLE:
            api.person(person, "Mira")
            api.places[person].open = True
        apps, stop = [started(api, db) for db in dbs], asyncio.Event()
        running = [asyncio.create_task(app.run(stop)) for app in apps]
        await both_listen(dbs[0])
        with dbs[0].begin() as session:
            write(session)
        await both_have_claimed(dbs[0])
        api.fail("sendMessage", Fault("flood", retry_after=PAUSE_S))
        asked = await refused(api)
        await all_have_theirs(api)
        stop.set()
        await asyncio.gather(*running)
        for app in apps:
            await cast(Slow, app.chats["telegram"]).close()
    for db in dbs:
        db.close()
    assert api.violations == []
    after = sorted(call.at_s - asked.at_s for call in api.called("sendMessage"))
    during = [moment for moment in after if ON_THE_WIRE_S < moment < PAUSE_S]
    assert during == [], f"sent while the platform had asked to wait: {during}"
    assert len([moment for moment in after if moment >= PAUSE_S]) >= 5, (
        "nobody had anything left to hold back"
    )
