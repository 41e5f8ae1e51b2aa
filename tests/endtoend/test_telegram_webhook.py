"""Two workers behind a proxy: each update reaches them in turn, and the other one again; each counts once, in order."""

from __future__ import annotations

import asyncio
import contextlib
import re
import socket
from collections.abc import AsyncIterator, Callable
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

import aiohttp
import pytest
from aiohttp import web
from sqlmodel import Session, select

from bot.app import App, build
from bot.chat.telegram.adapter import TelegramChat, Webhook
from bot.clock import RehearsalClock
from bot.running import make_app_context
from bot.settings import Settings
from storage.base.database import Database, connect
from storage.tables import Answer, InboxItem, Verdict
from tests.dialogues import CHOICE, MONDAY, NUMBER, Stage, add_class, at, teach
from tests.servers.botapi import TOKEN, BotApi, Sent

MIRA = 1001
START = at(MONDAY, 16)
WITHIN_S = 30.0
SECRET = "s3cret_Word-1"


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


async def eventually(condition: Callable[[], Any]) -> None:
    async with asyncio.timeout(WITHIN_S):
        while not condition():  # noqa: ASYNC110 - what is on a phone has no event
            await asyncio.sleep(0.01)


@dataclass
class Proxy:
    """Hands each request to the workers in turn and, once it was taken, to the next one as well."""

    ports: tuple[int, ...]
    taken: list[tuple[int, int]] = field(default_factory=list)
    _again: set[asyncio.Task[None]] = field(default_factory=set)
    _turn: int = 0

    async def handle(self, request: web.Request) -> web.Response:
        """Serve Telegram."""
        body = await request.read()
        first, other = self.ports[self._turn % 2], self.ports[(self._turn + 1) % 2]
        self._turn += 1
        status = await self._pass_on(first, request, body)
        if status == 200:
            task = asyncio.create_task(self._repeat(other, request, body))
            self._again.add(task)
            task.add_done_callback(self._again.discard)
        return web.Response(status=status)

    async def _repeat(self, port: int, request: web.Request, body: bytes) -> None:
        assert await self._pass_on(port, request, body) == 200

    async def _pass_on(self, port: int, request: web.Request, body: bytes) -> int:
        name = "X-Telegram-Bot-Api-Secret-Token"
        headers = {name: request.headers.get(name, ""), "Content-Type": "application/json"}
        address = f"http://127.0.0.1:{port}{request.path}"
        try:
            async with (
                aiohttp.ClientSession() as http,
                http.post(address, data=body, headers=headers) as answer,
            ):
                self.taken.append((port, answer.status))
                return answer.status
        except aiohttp.ClientError:
            return 502


@contextlib.asynccontextmanager
async def serving(proxy: Proxy, port: int) -> AsyncIterator[None]:
    app = web.Application()
    app.router.add_post("/{path:.*}", proxy.handle)
    runner = web.AppRunner(app)
    await runner.setup()
    await web.TCPSite(runner, "127.0.0.1", port).start()
    try:
        yield
    finally:
        await runner.cleanup()


@contextlib.asynccontextmanager
async def worker(api: BotApi, url: str, public: int, own: int, clock: RehearsalClock) -> AsyncIterator[App]:
    """Run the whole program once more, on a database connection of its own."""
    db = connect(url)
    webhook = Webhook(f"http://127.0.0.1:{public}/hooks", f"127.0.0.1:{own}", secret=SECRET)
    chat = TelegramChat(TOKEN, api_url=api.url, webhook=webhook, clock=clock, first_pause_s=0.05)
    chat.attach(db)
    app = build(db, clock, [chat], make_app_context(Settings(), [chat]), tick_s=0.2)
    stop = asyncio.Event()
    task = asyncio.create_task(app.run(stop))
    try:
        yield app
    finally:
        stop.set()
        async with asyncio.timeout(WITHIN_S):
            await task
        db.close()


def prepared(db: Database) -> str:
    """Make a class that was taught two topics; return its code."""
    stage = Stage(db, START)
    group = add_class(stage)
    teach(stage, group, "Springs", START - timedelta(days=3), (CHOICE,))
    teach(stage, group, "Density", START - timedelta(days=12), (NUMBER,))
    return group.code


@dataclass
class Phone:
    """Somebody with Telegram; what they do is waited for."""

    api: BotApi

    def with_text(self, text: str) -> list[Sent]:
        return [one for one in self.api.seen_by(MIRA) if text in one.text]

    async def says(self, text: str, expected: str) -> None:
        self.api.say(MIRA, text)
        await eventually(lambda: self.with_text(expected))

    async def presses(self, label: str, expected: str) -> None:
        sent = next(one for one in reversed(self.api.seen_by(MIRA)) if any(label in of for of in one.buttons))
        self.api.press(MIRA, sent, next(of for of in sent.buttons if label in of))
        await eventually(lambda: self.with_text(expected))


def on_record(session: Session) -> tuple[list[Verdict], list[tuple[str, bool]]]:
    inbox = [(item.key, item.done_at is not None) for item in session.exec(select(InboxItem))]
    return [one.verdict for one in session.exec(select(Answer).order_by("id"))], inbox


@pytest.mark.server
@pytest.mark.timeout(120)
async def test_updates_that_reach_two_workers_in_turn_and_twice_count_once(postgres_url: str) -> None:
    db = connect(postgres_url)
    code = prepared(db)
    clock = RehearsalClock(START, 20.0)  # so that the pace of one chat does not hold up the test
    public, ports = free_port(), (free_port(), free_port())
    proxy = Proxy(ports)
    async with BotApi(now=clock.now) as api:
        api.person(MIRA, "Mira")
        async with (
            serving(proxy, public),
            worker(api, postgres_url, public, ports[0], clock) as first,
            worker(api, postgres_url, public, ports[1], clock) as second,
        ):
            await eventually(lambda: len(api.called("setWebhook")) == 2)
            addresses = {call.values["url"] for call in api.called("setWebhook")}
            assert len(addresses) == 1, "all workers serve one address"
            phone = Phone(api)
            await phone.says(f"/start {code}", "review helper for 10B Physics")
            await phone.presses("I agree", "What should I call you?")
            await phone.says("Mira", "Good to have you, Mira.")
            await phone.presses("18:00", "Done.")
            await phone.says("next", "Springs, question 1?")
            # Two answers on one question at once, each to another worker: the first one stands.
            asked = phone.with_text("Springs, question 1?")[-1]
            right = next(label for label in asked.buttons if label.endswith("10 cm"))
            wrong = next(label for label in asked.buttons if re.match(r"[A-H]\s", label) and label != right)
            api.press(MIRA, asked, right)
            api.press(MIRA, asked, wrong)
            await eventually(lambda: phone.with_text("Density, question 1?"))
            await phone.says("2,7 g/cm3", "That is all for now: 2 of 2 right.")
            await eventually(lambda: first.idle and second.idle and not api.waiting and not proxy._again)
        assert api.violations == []
    verdicts, inbox = await db.read(on_record)
    db.close()
    assert verdicts == [Verdict.RIGHT, Verdict.RIGHT]
    assert len(inbox) == len({key for key, _ in inbox}) == 8
    assert all(done for _, done in inbox)
    assert {port for port, _ in proxy.taken} == set(ports)
    assert len(proxy.taken) == 2 * len(inbox)
    assert len(phone.with_text("Springs, question 1?")) <= 1, "no answer came twice"
