"""A town for whole weeks: the real program on a database, the strict local Bot API server, and people with phones.

The clock is moved by hand, from one moment at which something happens to the next, and never while anything is
being handled, worked on or sent; so a week passes as fast as the machine can work.
"""

from __future__ import annotations

import asyncio
import contextlib
import gc
import heapq
import re
import warnings
from collections.abc import AsyncIterator, Awaitable, Callable, Iterable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from bot.app import App, build
from bot.chat.telegram.adapter import TelegramChat
from bot.clock import HandClock
from bot.running import make_app_context
from bot.service.rounds import next_moment
from bot.settings import Settings
from storage.base.database import Database
from storage.school import codes
from storage.tables import CodeKind
from tests.servers.botapi import TOKEN, BotApi, Sent

QUIET_TURNS = 4
"""How often in a row everything has to be found at rest: a confirmation may be under way."""

Deed = Callable[[], None]


def forget_what_was_left_open() -> None:
    """Collect what a killed program left open: the operating system closes it; here a later test would find it."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ResourceWarning)
        gc.collect()


@dataclass
class Town:
    """The program, its server and its clock.

    Attributes
    ----------
    api : BotApi
        The server.
    db : Database
        Outlives the program when it is stopped or killed.
    strike : callable or None
        Called in the middle of things, after the clock was moved and people have acted.
    """

    api: BotApi
    clock: HandClock
    db: Database
    app: App | None = None
    starts: int = 0
    strike: Callable[[], Awaitable[None]] | None = None
    _stop: asyncio.Event = field(default_factory=asyncio.Event)
    _task: asyncio.Task[None] | None = None
    _deeds: list[tuple[datetime, int, Deed]] = field(default_factory=list)
    _count: int = 0

    # ------------------------------------------------------------ the program

    async def start(self) -> None:
        """Start the program, and wait until it listens."""
        chat = TelegramChat(
            TOKEN, api_url=self.api.url, clock=self.clock, timeout_s=5, long_poll_s=2, first_pause_s=0.005
        )
        chat.attach(self.db)
        settings = Settings(default_zone="Europe/London")
        self.app = build(self.db, self.clock, [chat], make_app_context(settings, [chat]))
        self._stop = asyncio.Event()
        self._task = asyncio.create_task(self.app.run(self._stop))
        self.starts += 1
        polls = len(self.api.called("getUpdates"))
        async with asyncio.timeout(60):
            while len(self.api.called("getUpdates")) == polls:
                await self._breathe()

    async def stop(self) -> None:
        """Stop the program in good order."""
        assert self._task is not None
        self._stop.set()
        async with asyncio.timeout(20):
            await self._task
        self._task = None

    async def kill(self) -> None:
        """End the program wherever it is. Transactions that have begun end as a database ends them."""
        assert self._task is not None
        self._task.cancel()
        ended, _ = await asyncio.wait({self._task}, timeout=60)
        assert ended, "The program goes on although it was cancelled."
        if not self._task.cancelled():
            self._task.result()
        await asyncio.sleep(0.05)  # a thread with a transaction finishes it
        self._task = None
        forget_what_was_left_open()

    async def _breathe(self) -> None:
        assert self._task is not None
        if self._task.done():
            self._task.result()
            raise AssertionError("The program ended by itself.")
        await asyncio.sleep(0.001)

    @property
    def _at_rest(self) -> bool:
        return self.app is not None and self.app.idle and not self.api.waiting

    async def settle(self) -> None:
        """Wait until everything that was said is confirmed, handled and answered."""
        async with asyncio.timeout(60):
            calm = 0
            while calm < QUIET_TURNS:
                await self._breathe()
                calm = calm + 1 if self._at_rest else 0

    # ------------------------------------------------------------ time

    def later(self, after: timedelta, deed: Deed) -> None:
        """Let somebody do something after a while."""
        self._count += 1
        heapq.heappush(self._deeds, (self.clock.now() + after, self._count, deed))

    async def go_to(self, moment: datetime, *, each: Callable[[], Any] = lambda: None) -> None:
        """Let time pass. `each` is called whenever everything is at rest; an awaitable of it is waited for."""
        assert self.app is not None
        await self._rest(each)
        while True:
            planned = await self.db.read(next_moment, self.clock.now())
            deed_at = self._deeds[0][0] if self._deeds else moment
            late = self.clock.now() + timedelta(seconds=1)  # what cannot go yet is looked at every second
            coming = min(deed_at, moment if planned is None else max(planned, late))
            if coming >= moment:
                break
            await self.clock.set(max(coming, self.clock.now()))
            while self._deeds and self._deeds[0][0] <= self.clock.now():
                heapq.heappop(self._deeds)[2]()
            self.app.wake()
            if self.strike is not None:
                await self.strike()
            await self._rest(each)
        await self.clock.set(max(moment, self.clock.now()))
        self.app.wake()
        await self._rest(each)

    async def _rest(self, each: Callable[[], Any]) -> None:
        await self.settle()
        found = each()
        if asyncio.iscoroutine(found):
            await found

    # ------------------------------------------------------------ people

    def phone(self, user_id: int, name: str) -> Phone:
        """Give somebody a phone."""
        self.api.person(user_id, name)
        return Phone(self, user_id, name)

    async def teacher_code(self) -> str:
        """Return what the operator hands to a teacher."""
        issued = await self.db.run(codes.issue, CodeKind.TEACHER, now=self.clock.now(), uses=1)
        return issued.text


@dataclass
class Phone:
    """Somebody with Telegram. What they do is answered when the method returns."""

    town: Town
    id: int
    name: str
    _read: int = 0

    @property
    def shown(self) -> list[Sent]:
        """Every message of the bot in the private chat, as it stands now."""
        return self.town.api.seen_by(self.id)

    @property
    def menu(self) -> list[str]:
        """The words of the command menu."""
        return [entry["command"] for entry in self.town.api.places[self.id].menu or []]

    def news(self) -> list[Sent]:
        """Messages that were not looked at before."""
        found = [sent for sent in self.shown if sent.message_id > self._read]
        self._read = max([self._read, *(sent.message_id for sent in found)])
        return found

    async def says(self, text: str) -> list[Sent]:
        """Type something; return the new messages."""
        return await self._answered(lambda: self.town.api.say(self.id, text))

    async def presses(self, label: str) -> list[Sent]:
        """Tap the latest button whose label begins so; return the new messages."""
        return await self._answered(lambda: self.tap(label))

    async def sends(self, name: str, data: bytes, caption: str = "") -> list[Sent]:
        """Send a document; return the new messages."""
        return await self._answered(lambda: self.town.api.send_document(self.id, name, data, caption=caption))

    def tap(self, label: str) -> None:
        """Tap the latest button whose label begins so."""
        self.town.api.press(self.id, self.with_button(label), label)

    def with_button(self, label: str) -> Sent:
        """Return the latest message that has such a button."""
        for sent in reversed(self.shown):
            if any(one.startswith(label) for one in sent.buttons):
                return sent
        raise AssertionError(f"{self.name} sees no button {label!r}: {[one.text for one in self.shown][-3:]}")

    async def _answered(self, deed: Callable[[], Any]) -> list[Sent]:
        self.news()
        deed()
        await self.town.settle()
        return self.news()


@contextlib.asynccontextmanager
async def town(db: Database, start: datetime) -> AsyncIterator[Town]:
    """Open a town: an empty school whose program runs. Whatever the server found wrong fails the test."""
    clock = HandClock(start)
    async with BotApi(now=clock.now) as api:
        place = Town(api, clock, db)
        await place.start()
        try:
            yield place
        finally:
            if place._task is not None:
                await (place.kill() if place._task.done() else place.stop())
    assert api.violations == []


def texts(shown: Iterable[Sent]) -> str:
    """Return what messages say, one after another."""
    return "\n".join(sent.text for sent in shown)


def code_in(text: str) -> str:
    """Return the code of ten letters and figures in a text."""
    found = re.search(r"\b[0-9A-Z]{10}\b", text)
    assert found, f"no code in {text!r}"
    return found[0]
