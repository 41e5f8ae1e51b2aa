"""One suite of dialogues for every chat: the terminal, Telegram (strict local server), Matrix (real Synapse).

The whole program runs behind each adapter; what is compared is what a person is shown.
"""

from __future__ import annotations

import asyncio
import contextlib
import io
from collections.abc import AsyncIterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Protocol

import pytest
from rich.console import Console

from bot.app import build
from bot.chat.port import Capabilities, Chat, Reception
from bot.chat.telegram.adapter import TelegramChat
from bot.chat.terminal import TerminalChat
from bot.clock import Clock, RehearsalClock
from bot.running import make_app_context
from bot.service.engine import pace
from bot.service.engine.context import AppContext
from bot.service.engine.receiver import Receiver
from bot.settings import Settings
from storage.base.database import Database
from tests.contracts.dialogues import DIALOGUES, JOINING, Line
from tests.dialogues import CHOICE, NUMBER, Stage, add_class, teach
from tests.servers import synapse
from tests.servers.botapi import TOKEN, BotApi
from tests.servers.botapi_rules import parse_text
from tests.servers.synapse import Synapse

MONDAY = datetime(2026, 11, 30, 15, 0, tzinfo=UTC)
WITHIN_S = 30.0
USER = 1001


class Handset(Protocol):
    """One person at one chat."""

    @property
    def chat(self) -> Chat:
        """The adapter."""
        ...

    async def says(self, text: str) -> None:
        """Type something."""

    async def presses(self, label: str) -> None:
        """Press a button, or type its words where there are none."""

    def shown(self) -> list[str]:
        """Return everything that was shown so far, changed messages again."""

    def pressable(self) -> list[str]:
        """Return what stands there to be pressed or tapped now."""


# ---------------------------------------------------------------- terminal


@dataclass
class Keyboard:
    """A person at the terminal."""

    chat: TerminalChat
    screen: io.StringIO
    lines: asyncio.Queue[str]

    async def says(self, text: str) -> None:
        """Type a line."""
        await self.lines.put(text)

    async def presses(self, label: str) -> None:
        """Type the words of a button."""
        await self.lines.put(label)

    def shown(self) -> list[str]:
        """Return the screen, message by message."""
        return self.screen.getvalue().split("you | ")[1:]

    def pressable(self) -> list[str]:
        """Return nothing: what a terminal has shown stays, and words are typed."""
        return []


@contextlib.asynccontextmanager
async def at_terminal(clock: Clock, folder: Path) -> AsyncIterator[Handset]:
    """Sit down at a terminal."""
    screen, lines = io.StringIO(), asyncio.Queue[str]()

    async def read_line(_prompt: str) -> str:
        return await lines.get()

    chat = TerminalChat(clock, Console(file=screen, width=2000), read_line, folder)
    yield Keyboard(chat, screen, lines)


# ---------------------------------------------------------------- Telegram


@dataclass
class TelegramPhone:
    """A person with Telegram."""

    chat: TelegramChat
    api: BotApi

    async def says(self, text: str) -> None:
        """Type a message."""
        self.api.say(USER, text)

    async def presses(self, label: str) -> None:
        """Tap a button of the latest message that has it."""
        for sent in reversed(self.api.seen_by(USER)):
            for button in (one for row in sent.keyboard for one in row):
                if button["text"].endswith(label):
                    self.api.press_data(USER, sent, button["callback_data"])
                    return
        raise AssertionError(f"no button {label!r}")

    def shown(self) -> list[str]:
        """Return texts and captions in the order in which they were sent."""
        called = [call.values for call in self.api.calls if call.ok and call.values.get("chat_id") == USER]
        marked = [str(values.get("text") or values.get("caption") or "") for values in called]
        return [parse_text(text, "HTML").text for text in marked if text]

    def pressable(self) -> list[str]:
        """Return the labels of all keyboards."""
        return [label for sent in self.api.seen_by(USER) for label in sent.buttons]


@contextlib.asynccontextmanager
async def on_telegram(clock: Clock) -> AsyncIterator[Handset]:
    """Take out a phone with Telegram."""
    async with BotApi(now=clock.now) as api:
        api.person(USER, "M.")
        yield TelegramPhone(TelegramChat(TOKEN, api_url=api.url, clock=clock, long_poll_s=2), api)
        # The program is stopped by now: nothing that it asked was against the published rules.
    assert api.violations == []


# ---------------------------------------------------------------- Matrix


@contextlib.asynccontextmanager
async def on_matrix(clock: Clock, homeserver: Synapse, folder: Path) -> AsyncIterator[Handset]:
    """Take out a phone with Matrix."""
    from bot.chat.matrix.adapter import Account, MatrixChat
    from tests.servers.matrix_people import Person, eventually

    user = await homeserver.person("holdfast")
    account = Account(homeserver.url, user, folder / "bot", password=synapse.SECRET)
    chat = MatrixChat(account, clock=clock, first_pause_s=0.05, timeout_s=10.0, long_poll_s=5.0)

    @dataclass
    class MatrixPhone:
        chat: MatrixChat
        person: Person
        room: str = ""

        async def says(self, text: str) -> None:
            if not self.room:
                self.room = await self.person.direct(user)
                await eventually(lambda: self.person.membership(self.room, user) == "join", WITHIN_S)
            await self.person.say(self.room, text)

        async def presses(self, label: str) -> None:
            await self.says(label)

        def shown(self) -> list[str]:
            return self.person.bodies(self.room)

        def pressable(self) -> list[str]:
            asked = [event.event_id for event in self.person.of(self.room)]
            return [sign for reference in asked for sign in self.person.signs(self.room, reference)]

    async with Person(homeserver.url, await homeserver.person("mira"), folder / "mira") as person:
        yield MatrixPhone(chat, person)


# ---------------------------------------------------------------- the suite


@pytest.fixture(params=["terminal", "telegram", pytest.param("matrix", marks=pytest.mark.server)])
async def handset(request: pytest.FixtureRequest, clock: Clock, tmp_path: Path) -> AsyncIterator[Handset]:
    """Open each chat in turn."""
    if request.param == "matrix":
        opened = on_matrix(clock, request.getfixturevalue("homeserver"), tmp_path)
    else:
        opened = on_telegram(clock) if request.param == "telegram" else at_terminal(clock, tmp_path)
    async with opened as found:
        yield found


@pytest.fixture
def clock() -> Clock:
    """Start on a Monday afternoon and go as the wall clock goes, so that what has to be tried again is."""
    return RehearsalClock(MONDAY, 1.0)


# ---------------------------------------------------------------- what an adapter can do

RECEIVES_ALONE = {"terminal": False, "telegram": True, "matrix": True}
"""Telegram answers one poller (Bot API, getUpdates: 409 for a second one); a Matrix device has one store of keys."""
SENDS_ALONE = {"terminal": False, "telegram": False, "matrix": True}
HAS_IDENTITY = {"terminal": False, "telegram": True, "matrix": True}


async def test_every_adapter_says_in_its_type_what_it_can_do(handset: Handset) -> None:
    chat = handset.chat
    capable = chat.capabilities
    assert isinstance(capable, Capabilities)
    assert chat.capabilities == capable, "what an adapter can do stays the same"
    assert capable.receives_alone is RECEIVES_ALONE[chat.name]
    assert capable.sends_alone is SENDS_ALONE[chat.name]
    assert bool(capable.identity) is HAS_IDENTITY[chat.name]
    assert (capable.reception is None) is (chat.name == "terminal")
    assert capable.reception is None or isinstance(capable.reception(), Reception)
    assert capable.is_group("nowhere") is False


async def test_a_process_stands_by_where_only_one_may_receive(handset: Handset, memory_db: Database) -> None:
    chat = handset.chat
    receiver = Receiver(memory_db, chat)
    assert receiver.standing_by is RECEIVES_ALONE[chat.name]
    assert receiver.may_send is not SENDS_ALONE[chat.name]


def test_a_misspelt_capability_is_an_error_at_the_start() -> None:
    with pytest.raises(TypeError, match="recieves_alone"):
        Capabilities(recieves_alone=True)  # type: ignore[call-arg]


class Misspelt(TerminalChat):
    """An adapter whose author mistyped the name of the whole."""

    def __getattribute__(self, name: str) -> object:
        return super().__getattribute__("capabilites" if name == "capabilities" else name)


def test_an_adapter_without_capabilities_cannot_start(
    memory_db: Database, clock: Clock, tmp_path: Path
) -> None:
    async def nothing(_prompt: str) -> None:
        return None

    chat = Misspelt(clock, Console(file=io.StringIO()), nothing, tmp_path)
    with pytest.raises(AttributeError, match="capabilites"):
        build(memory_db, clock, [chat], AppContext())


@pytest.mark.parametrize(
    ("told", "words"),
    [
        ({"sends_alone": True}, "say receives_alone too"),
        ({"identity": "@bot:school.example"}, "give both, or neither"),
        ({"confirm_identity": print}, "give both, or neither"),
    ],
)
def test_capabilities_that_contradict_each_other_are_refused(told: dict[str, Any], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        Capabilities(**told)


# ---------------------------------------------------------------- dialogues


@dataclass
class Program:
    """The running program and the code of its class."""

    code: str
    stop: asyncio.Event = field(default_factory=asyncio.Event)


@pytest.fixture
async def program(
    memory_db: Database, clock: Clock, handset: Handset, monkeypatch: pytest.MonkeyPatch
) -> AsyncIterator[Program]:
    """Run the program behind the chat, with a class that was taught two topics."""
    # The pace of a chat has tests of its own; here somebody presses faster than any finger.
    monkeypatch.setattr(pace, "CHAT_BURST", 1000.0)
    stage = Stage(memory_db, MONDAY)
    group = add_class(stage)
    teach(stage, group, "Springs", MONDAY - timedelta(days=3), (CHOICE,))
    teach(stage, group, "Density", MONDAY - timedelta(days=12), (NUMBER,))
    handset.chat.capabilities.attach(memory_db)
    app = build(memory_db, clock, [handset.chat], make_app_context(Settings(), [handset.chat]), tick_s=0.3)
    running = Program(group.code)
    task = asyncio.create_task(app.run(running.stop))
    yield running
    running.stop.set()
    async with asyncio.timeout(WITHIN_S):
        await task


@pytest.mark.parametrize("name", DIALOGUES)
async def test_every_chat_carries(handset: Handset, program: Program, name: str) -> None:
    await play(handset, program, DIALOGUES[name])


async def test_what_was_answered_once_can_be_pressed_no_more(handset: Handset, program: Program) -> None:
    await play(handset, program, JOINING)
    await play(
        handset, program, [("time", "When do you want them?"), ("19:30", "your questions come at 19:30")]
    )
    with contextlib.suppress(TimeoutError):
        async with asyncio.timeout(WITHIN_S):
            while handset.pressable():  # noqa: ASYNC110 - what is on a phone has no event
                await asyncio.sleep(0.05)
    assert handset.pressable() == []


async def play(handset: Handset, program: Program, lines: Sequence[Line]) -> None:
    """Say line after line, each when what had to be shown before has been shown."""
    for said, expected in lines:
        seen = len(handset.shown())
        if said.startswith("["):
            await handset.presses(said[1:-1])
        else:
            await handset.says(said.format(code=program.code))
        wanted = (expected,) if isinstance(expected, str) else expected
        await _until_shown(handset, seen, said, wanted)


async def _until_shown(handset: Handset, seen: int, said: str, wanted: Sequence[str]) -> None:
    with contextlib.suppress(TimeoutError):
        async with asyncio.timeout(WITHIN_S):
            while not _in_order("\n".join(handset.shown()[seen:]), wanted):  # noqa: ASYNC110
                await asyncio.sleep(0.01)
            return
    pytest.fail(f"After {said!r} not {wanted} but {handset.shown()[seen:]} was shown.")


def _in_order(text: str, wanted: Sequence[str]) -> bool:
    at = 0
    for one in wanted:
        found = text.find(one, at)
        if found < 0:
            return False
        at = found + len(one)
    return True
