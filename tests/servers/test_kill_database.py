"""The database goes away, is locked by somebody else, or the clock jumps: work waits and goes on, nothing twice."""

from __future__ import annotations

import asyncio
import sqlite3
from collections import Counter
from dataclasses import dataclass, field
from datetime import timedelta

import pytest
import sqlalchemy as sa
from sqlalchemy.exc import OperationalError
from sqlmodel import col, select

from bot.app import build
from bot.chat.port import Incoming, Limits, Message, TextSaid
from bot.clock import WallClock
from bot.service.desk import Desk
from storage import database as databases
from storage.database import Database, connect
from storage.tables import InboxItem, Nudge, NudgeState, OutboxItem, OutboxState
from tests.conftest import NOW
from tests.dialogues import CHOICE, MONDAY, Stage, add_class, at, join, stage, teach

EVENTS = 30


@dataclass
class Strangers:
    """A platform that brings events until each is acknowledged, as every platform does."""

    between: asyncio.Event
    name: str = "terminal"
    limits: Limits = field(
        default_factory=lambda: Limits(per_second=1e9, per_chat_second=1e9, per_group_minute=1e9)
    )
    sent: Counter[str] = field(default_factory=Counter)
    refused: int = 0

    async def run(self, on_event, stop):
        for number in range(EVENTS):
            user = f"s{number}"
            event = Incoming(self.name, f"k{number}", f"chat-{user}", user, "private", NOW, TextSaid("hello"))
            while True:
                try:
                    await on_event(event)
                    break
                except Exception:
                    self.refused += 1
                    await asyncio.sleep(0.02)
            if number == EVENTS // 3:
                self.between.set()
        await stop.wait()

    async def send(self, address: str, message: Message, *, token: str, edits: str = "") -> str:
        self.sent[address] += 1
        return token

    async def fetch(self, handle):
        raise NotImplementedError


def all_done(session) -> bool:
    items = session.exec(select(InboxItem.id).where(col(InboxItem.done_at).is_not(None))).all()
    sent = session.exec(select(OutboxItem.id).where(OutboxItem.state == OutboxState.SENT)).all()
    return len(items) == len(sent) == EVENTS


async def load(db: Database, disturb) -> Strangers:
    """Run the app under load, disturb it in the middle, and wait until all is done."""
    between, stop = asyncio.Event(), asyncio.Event()
    chat = Strangers(between)
    app = build(db, WallClock(), [chat], Desk(), tick_s=0.2)
    running = asyncio.create_task(app.run(stop))
    await asyncio.wait_for(between.wait(), 60)
    await disturb()
    async with asyncio.timeout(60):
        while not await answered(db):  # noqa: ASYNC110 - what the database holds
            await asyncio.sleep(0.05)
    stop.set()
    await running
    return chat


async def answered(db: Database) -> bool:
    try:
        return await db.read(all_done)
    except OperationalError:
        return False


@pytest.mark.slow
@pytest.mark.server
async def test_a_postgresql_that_restarts_under_load_costs_no_answer(postgres_url, postgres_server):
    """Every connection breaks at once and new ones are refused for a while, as in a restart."""
    db, name = connect(postgres_url), sa.make_url(postgres_url).database

    async def restart() -> None:
        postgres_server.execute(f"ALTER DATABASE {name} ALLOW_CONNECTIONS false")
        postgres_server.execute(
            f"SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = '{name}'"
        )
        await asyncio.sleep(0.7)
        postgres_server.execute(f"ALTER DATABASE {name} ALLOW_CONNECTIONS true")

    try:
        chat = await load(db, restart)
    finally:
        db.close()
    assert chat.refused > 0, "the restart was not noticed: it proved nothing"
    assert len(chat.sent) == EVENTS
    assert all(number <= 2 for number in chat.sent.values())


@pytest.mark.slow
async def test_a_database_that_somebody_else_locks_is_waited_for_and_costs_no_answer(sqlite_url, monkeypatch):
    monkeypatch.setattr(databases, "BUSY_TIMEOUT_MS", 100)
    db = connect(sqlite_url)

    async def lock() -> None:
        other = sqlite3.connect(str(sa.make_url(sqlite_url).database), isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        await asyncio.sleep(0.7)
        other.execute("ROLLBACK")
        other.close()

    try:
        chat = await load(db, lock)
    finally:
        db.close()
    assert chat.refused > 0, "the lock was not noticed: it proved nothing"
    assert len(chat.sent) == EVENTS
    assert all(number <= 2 for number in chat.sent.values())


# ---------------------------------------------------------------- the clock


@pytest.fixture
def school() -> Stage:
    made = stage(at(MONDAY, 8))
    group = add_class(made)
    for number in range(8):
        teach(made, group, f"Topic {number}", at(MONDAY - timedelta(days=3 + number), 10), [CHOICE])
    join(made, group, "mira")
    made.go_to(at(MONDAY, 18, 5))
    return made


def nudges_said(school: Stage) -> int:
    return sum(said.message.key.startswith("nudge:") for said in school.of("mira"))


@pytest.mark.parametrize("hours", [-1, -5, -30])
def test_a_clock_set_back_sends_no_nudge_again(school, hours):
    assert nudges_said(school) == 1
    school.jump(school.now + timedelta(hours=hours))
    school.go_to(at(MONDAY, 18, 30))
    assert nudges_said(school) == 1
    school.go_to(at(MONDAY + timedelta(days=1), 18, 30))
    assert nudges_said(school) == 2


@pytest.mark.parametrize("hours", [5, 14, 24 * 3])
def test_a_clock_set_forward_sends_one_nudge_at_most_and_none_at_night(school, hours):
    school.jump(school.now + timedelta(hours=hours))
    assert nudges_said(school) <= 2
    with school.db.begin() as session:
        due = select(Nudge).where(Nudge.state == NudgeState.PLANNED, Nudge.due_at <= school.now)
        assert session.exec(due).all() == []
    for said in school.of("mira"):
        if said.message.key.startswith("nudge:"):
            assert 7 <= said.at.hour < 20
