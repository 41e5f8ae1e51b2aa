"""The database goes away, is locked by somebody else, or the clock jumps: work waits and goes on, nothing twice."""

from __future__ import annotations

import asyncio
import contextlib
import os
import resource
import sqlite3
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Awaitable, Callable, Iterator
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path

import pytest
import sqlalchemy as sa
from sqlalchemy.exc import OperationalError
from sqlmodel import col, select

from bot.app import build
from bot.chat.port import Capabilities, Incoming, Limits, Message, TextSaid
from bot.clock import WallClock
from bot.service.engine import inbox_worker
from bot.service.engine.context import AppContext
from storage.base import database as databases
from storage.base.database import Database, connect
from storage.tables import InboxItem, Nudge, NudgeState, OutboxItem, OutboxState
from tests.conftest import NOW, need
from tests.dialogues import CHOICE, MONDAY, Stage, add_class, at, join, stage, teach
from tests.servers import postgres

EVENTS = 30


@pytest.fixture(autouse=True)
def soon_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """What failed is tried again after a second, not after twenty, which these tests would wait."""
    monkeypatch.setattr(inbox_worker, "RETRY_AFTER", timedelta(seconds=1))


KEEPS_WHAT_IT_COMMITTED = "-c synchronous_commit=on"
"""As in production. Other tests' server may forget its last half second when it crashes."""


@dataclass
class Strangers:
    """A platform that brings events until each is acknowledged, as every platform does."""

    between: asyncio.Event
    name: str = "terminal"
    limits: Limits = field(
        default_factory=lambda: Limits(per_second=1e9, per_chat_second=1e9, per_group_minute=1e9)
    )
    capabilities: Capabilities = field(default_factory=Capabilities)
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


async def load(db: Database, disturb: Callable[[Strangers], Awaitable[None]]) -> Strangers:
    """Run the app under load, disturb it in the middle, and wait until all is done."""
    between, stop = asyncio.Event(), asyncio.Event()
    chat = Strangers(between)
    app = build(db, WallClock(), [chat], AppContext(), tick_s=0.2)
    running = asyncio.create_task(app.run(stop))
    try:
        await asyncio.wait_for(between.wait(), 60)
        await disturb(chat)
        async with asyncio.timeout(60):
            while not await answered(db):  # noqa: ASYNC110 - what the database holds
                await asyncio.sleep(0.05)
    finally:
        stop.set()
        await running
    return chat


async def refused(chat: Strangers) -> None:
    """Wait until the platform has been refused an acknowledgement."""
    async with asyncio.timeout(60):
        while not chat.refused:  # noqa: ASYNC110 - what the platform saw
            await asyncio.sleep(0.02)


def show(capsys: pytest.CaptureFixture[str], what: str, chat: Strangers) -> None:
    """Print the counts, and hold that nothing was lost."""
    again = sum(chat.sent.values()) - len(chat.sent)
    with capsys.disabled():
        sys.stdout.write(
            f"\n{what}: {EVENTS} events, {chat.refused} times not acknowledged, 0 lost, "
            f"{len(chat.sent)} answered, {again} answers sent again\n"
        )
    assert chat.refused > 0, "the fault was not noticed: it proved nothing"
    assert len(chat.sent) == EVENTS
    assert all(number <= 2 for number in chat.sent.values())


async def answered(db: Database) -> bool:
    try:
        return await db.read(all_done)
    except OperationalError:
        return False


@pytest.mark.slow
@pytest.mark.server
async def test_a_postgresql_that_cuts_every_connection_costs_no_answer(postgres_url, postgres_server, capsys):
    """Every connection breaks at once and new ones are refused for a while."""
    db, name = connect(postgres_url), sa.make_url(postgres_url).database

    async def cut(_chat: Strangers) -> None:
        postgres_server.execute(f"ALTER DATABASE {name} ALLOW_CONNECTIONS false")
        postgres_server.execute(
            f"SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = '{name}'"
        )
        await asyncio.sleep(0.7)
        postgres_server.execute(f"ALTER DATABASE {name} ALLOW_CONNECTIONS true")

    try:
        chat = await load(db, cut)
    finally:
        db.close()
    show(capsys, "PostgreSQL, every connection cut", chat)


@pytest.fixture(scope="module")
def own_server() -> Iterator[postgres.Server]:
    """A server that a test may restart."""
    need(postgres.missing())
    with postgres.running(settings=KEEPS_WHAT_IT_COMMITTED) as server:
        yield server


@pytest.mark.slow
@pytest.mark.server
@pytest.mark.parametrize("how", ["fast", "immediate"])
async def test_a_postgresql_that_restarts_under_load_costs_no_answer(own_server, how, capsys):
    """``fast`` ends every session in order, as an upgrade does; ``immediate`` recovers as after a crash."""
    db = connect(own_server.fresh())

    async def restart(chat: Strangers) -> None:
        await asyncio.to_thread(own_server.restart, how)
        await refused(chat)

    try:
        chat = await load(db, restart)
    finally:
        db.close()
    show(capsys, f"PostgreSQL restarted ({how})", chat)


@pytest.mark.slow
async def test_a_database_that_somebody_else_locks_is_waited_for_and_costs_no_answer(
    sqlite_url, monkeypatch, capsys
):
    monkeypatch.setattr(databases, "BUSY_TIMEOUT_MS", 100)
    db = connect(sqlite_url)

    async def lock(_chat: Strangers) -> None:
        other = sqlite3.connect(str(sa.make_url(sqlite_url).database), isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        await asyncio.sleep(0.7)
        other.execute("ROLLBACK")
        other.close()

    try:
        chat = await load(db, lock)
    finally:
        db.close()
    show(capsys, "SQLite locked by somebody else", chat)


# ---------------------------------------------------------------- the disk


@pytest.mark.slow
async def test_a_full_disk_costs_no_answer_once_there_is_room_again(sqlite_url, capsys):
    """No file of this process may grow: writes fail with EFBIG, which SQLite takes as it takes ENOSPC."""
    db, place = connect(sqlite_url), str(sa.make_url(sqlite_url).database)
    before = resource.getrlimit(resource.RLIMIT_FSIZE)

    async def fill(chat: Strangers) -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (os.path.getsize(f"{place}-wal"), before[1]))  # noqa: ASYNC240, PTH202
        try:
            await refused(chat)
            await asyncio.sleep(0.2)
        finally:
            resource.setrlimit(resource.RLIMIT_FSIZE, before)

    try:
        chat = await load(db, fill)
        with db.begin() as session:
            assert session.connection().execute(sa.text("PRAGMA integrity_check")).scalar() == "ok"
    finally:
        db.close()
    show(capsys, "SQLite, disk full", chat)


@pytest.fixture
def small_disk() -> Iterator[Path]:
    """A file system of 100 MB."""
    place = Path(tempfile.mkdtemp(prefix="hfdisk"))
    mounting = ["mount", "-t", "tmpfs", "-o", "size=100m", "tmpfs", str(place)]
    done = subprocess.run(mounting, capture_output=True, check=False) if os.geteuid() == 0 else None
    if done is None or done.returncode != 0:
        place.rmdir()
        pytest.skip("a file system of a test's own can be mounted by root only")
    yield place
    subprocess.run(["umount", str(place)], check=True)
    place.rmdir()


@pytest.mark.slow
@pytest.mark.server
async def test_a_full_disk_under_postgresql_costs_no_answer_once_there_is_room_again(small_disk, capsys):
    """Data cannot grow, nor can the log: the server stops itself, and is started again by whoever made room."""
    small = f"{KEEPS_WHAT_IT_COMMITTED} -c min_wal_size=2MB -c max_wal_size=4MB -c wal_keep_size=0"
    with postgres.running(small_disk, settings=small, init="--wal-segsize=1") as server:
        db = connect(server.fresh())

        async def fill(chat: Strangers) -> None:
            ballast = small_disk / "ballast"
            with contextlib.suppress(OSError), ballast.open("wb", buffering=0) as file:
                while file.write(b"\0" * 4096):
                    pass
            await refused(chat)
            ballast.unlink()
            await asyncio.to_thread(server.start_if_down)

        try:
            chat = await load(db, fill)
        finally:
            db.close()
    show(capsys, "PostgreSQL, disk full", chat)


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
