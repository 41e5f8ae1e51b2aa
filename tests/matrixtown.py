"""The town of `tests.town` on Matrix: a real Synapse, and people with encrypted matrix-nio clients as their phones."""

from __future__ import annotations

import asyncio
import contextlib
import re
from collections.abc import AsyncIterator, Awaitable, Callable, Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from nio import MegolmEvent, RoomEncryptedMedia
from nio.crypto import decrypt_attachment
from sqlmodel import Session, col, select

from bot.app import build
from bot.chat.matrix.adapter import Account, MatrixChat
from bot.chat.matrix.rendering import ACTIONS
from bot.clock import HandClock
from bot.running import make_app_context
from bot.settings import Settings
from storage.base.database import Database
from storage.queue import outbox
from storage.tables import InboxItem, OutboxItem, OutboxState
from tests.servers.matrix_people import Person, eventually, good
from tests.servers.synapse import SECRET, Synapse
from tests.town import Town

EN_SPACE = "\u2002"
CALM_S = 0.06
"""So long nothing may happen before everything is at rest: signs to tap are on their way to a phone."""
ARRIVES_WITHIN_S = 10.0
"""What means nothing to the bot is never seen to arrive; so long it is waited for, on a slow machine too."""
SOON = timedelta(seconds=60)


@dataclass
class Shown:
    """A message of the bot as a phone shows it, edits applied."""

    message_id: str
    date: datetime
    text: str
    meaning: dict[str, str]
    event: Any

    @property
    def lines(self) -> list[tuple[str, str]]:
        """Each button's sign and label."""
        if not self.meaning:
            return []
        halves = [line.split(EN_SPACE, 1) for line in self.text.splitlines() if EN_SPACE in line]
        return [(sign, re.sub(r" \((?:or type|oder schreiben): .*\)$", "", label)) for sign, label in halves]

    @property
    def buttons(self) -> list[str]:
        """The labels; those of choices begin with their letter."""
        return [f"{sign} {label}" if sign.isalpha() else label for sign, label in self.lines]

    @property
    def keyboard(self) -> list[list[dict[str, str]]]:
        """What the buttons mean, in the form in which Telegram has it."""
        return [[{"callback_data": action}] for action in self.meaning.values()]

    def sign(self, label: str) -> str:
        """Return the reaction to tap for a button whose label begins so."""
        sign = next(
            sign for (sign, _), of in zip(self.lines, self.buttons, strict=True) if of.startswith(label)
        )
        return chr(0x1F1E6 + ord(sign) - ord("A")) if sign.isalpha() else sign


@dataclass
class MatrixPhone:
    """Somebody with Matrix. What they do is answered when the method returns."""

    town: MatrixTown
    person: Person
    name: str
    room: str = ""
    dates: dict[str, datetime] = field(default_factory=dict)
    _read: set[str] = field(default_factory=set)

    @property
    def id(self) -> str:
        """The account."""
        return self.person.user

    @property
    def shown(self) -> list[Shown]:
        """Every message of the bot in the private chat, as it stands now."""
        return self.shown_in(self.room)

    def shown_in(self, room: str) -> list[Shown]:
        """Every message of the bot in a room, as it stands now."""
        found: dict[str, Shown] = {}
        assert not self.person.of(room, MegolmEvent), "something could not be read"
        for event in self.person.of(room, by=self.town.bot):
            content = event.source["content"]
            relation = content.get("m.relates_to", {})
            new = content.get("m.new_content", content)
            edited = relation.get("event_id") if relation.get("rel_type") == "m.replace" else None
            reference = edited or event.event_id
            at = self.dates.setdefault(reference, self.town.clock.now())
            found[reference] = Shown(reference, at, new["body"], new.get(ACTIONS, {}), event)
        return list(found.values())

    def news(self) -> list[Shown]:
        """Messages that were not looked at before."""
        found = [one for one in self.shown if one.message_id not in self._read]
        self._read |= {one.message_id for one in found}
        return found

    async def says(self, text: str) -> list[Shown]:
        """Type something; return the new messages."""
        if not self.room:
            self.room = await self.person.direct(self.town.bot)
            await eventually(lambda: self.shown)
        return await self._answered(lambda: self.person.say(self.room, text))

    async def presses(self, label: str) -> list[Shown]:
        """Tap the sign of the latest button whose label begins so; return the new messages."""
        having = [one for one in self.shown if any(of.startswith(label) for of in one.buttons)]
        assert having, f"{self.name} sees no button {label!r}: {[one.text for one in self.shown][-3:]}"
        return await self._answered(lambda: self.tap(having[-1], label))

    async def sends(self, name: str, data: bytes) -> list[Shown]:
        """Send a file; return the new messages."""
        return await self._answered(lambda: self.person.upload(self.room, name, "text/csv", data))

    async def tap(self, shown: Shown, label: str) -> str:
        """Tap a sign once the bot has put it there."""
        sign = shown.sign(label)
        await eventually(lambda: sign in self.person.signs(self.room, shown.message_id), 30.0)
        return await self.person.tap(self.room, shown.message_id, sign)

    async def bytes_of(self, shown: Shown) -> bytes:
        """Return what is in a file that came, decrypted."""
        event = shown.event
        assert isinstance(event, RoomEncryptedMedia)
        stored = good(await self.person.client.download(event.url))
        return bytes(decrypt_attachment(stored.body, event.key["k"], event.hashes["sha256"], event.iv))

    async def _answered(self, deed: Callable[[], Awaitable[str]]) -> list[Shown]:
        self.news()
        self.town.planned.append(deed)
        await self.town.settle()
        return self.news()


@dataclass
class Hands:
    """What students do, in the words of `tests.servers.botapi.BotApi`."""

    town: MatrixTown

    def press(self, user: str, shown: Shown, label: str) -> None:
        """Tap a button soon."""
        self.town.planned.append(lambda: self.town.phones[user].tap(shown, label))

    def say(self, user: str, text: str) -> None:
        """Say something soon."""
        phone = self.town.phones[user]
        self.town.planned.append(lambda: phone.person.say(phone.room, text))

    def block(self, user: str) -> None:
        """Leave the chat soon, for good."""
        phone = self.town.phones[user]

        async def leave() -> str:
            phone.person.accepting = False
            good(await phone.person.client.room_leave(phone.room))
            return ""

        self.town.planned.append(leave)


@dataclass
class MatrixTown(Town):
    """The program on Matrix, its homeserver and its clock."""

    server: Synapse = None  # type: ignore[assignment]
    folder: Path = Path()
    bot: str = ""
    phones: dict[str, MatrixPhone] = field(default_factory=dict)
    planned: list[Callable[[], Awaitable[str]]] = field(default_factory=list)
    _said: dict[str, float] = field(default_factory=dict)
    _left: set[str] = field(default_factory=set)

    async def start(self) -> None:
        """Start the program, and wait until it listens."""
        account = Account(self.server.url, self.bot, self.folder / "bot", password=SECRET)
        chat = MatrixChat(account, clock=self.clock, first_pause_s=0.05, timeout_s=20.0, long_poll_s=5.0)
        chat.attach(self.db)
        self._note_what_leaves(chat)
        self.app = build(
            self.db, self.clock, [chat], make_app_context(Settings(default_zone="Europe/London"), [chat])
        )
        self._stop = asyncio.Event()
        self._task = asyncio.create_task(self.app.run(self._stop))
        await eventually(lambda: chat.heard_at, 30.0)

    def _note_what_leaves(self, chat: MatrixChat) -> None:
        """Note each event of the bot: an edit has a reference of its own, which the database does not keep."""
        send = chat._sender.event

        async def noted(*event: Any) -> str:
            reference = await send(*event)
            self._left.add(reference)
            return reference

        chat._sender.event = noted  # type: ignore[assignment]

    async def settle(self) -> None:
        """Let people do what they planned; wait until it is handled, answered and on their phones."""
        clock = asyncio.get_running_loop().time
        async with asyncio.timeout(120):
            since = clock()
            while self.planned or clock() - since < CALM_S:
                while self.planned:
                    self._said[await self.planned.pop(0)()] = clock()
                await self._breathe()
                if not await self._rests(clock()):
                    since = clock()

    async def _rests(self, now_s: float) -> bool:
        assert self.app is not None
        if not self.app.idle:
            return False
        said = [one for one, at in self._said.items() if one and now_s - at < ARRIVES_WITHIN_S]
        heard, sent, next_at = await self.db.read(_records, said)
        if next_at is not None and next_at <= self.clock.now() + SOON:
            await self.clock.advance(
                1
            )  # a message that failed for the moment waits for a clock that stands still
            self.app.wake()
            return False
        seen = {event.event_id for phone in self.phones.values() for _, event in phone.person.seen}
        self._said = {one: self._said[one] for one in said if one not in heard}
        return not self._said and sent | self._left <= seen

    async def newcomer(self, name: str) -> MatrixPhone:
        """Give somebody an account and a phone."""
        user = await self.server.person(name.lower().replace(" ", ""))
        person = await Person(self.server.url, user, self.folder / user[1:].partition(":")[0]).__aenter__()
        self.phones[user] = MatrixPhone(self, person, name)
        return self.phones[user]


def _records(session: Session, said: list[str]) -> tuple[set[str], set[str], datetime | None]:
    """Return which events are handled, what has been sent, and when something is to be sent."""
    heard = set(
        session.exec(
            select(InboxItem.key).where(col(InboxItem.key).in_(said), col(InboxItem.done_at).is_not(None))
        )
    )
    asked = select(OutboxItem.message_ref).where(
        OutboxItem.state == OutboxState.SENT, OutboxItem.message_ref != "", OutboxItem.platform == "matrix"
    )
    return heard, set(session.exec(asked)), outbox.next_at(session)


@contextlib.asynccontextmanager
async def matrix_town(
    server: Synapse, db: Database, start: datetime, folder: Path
) -> AsyncIterator[MatrixTown]:
    """Open a town: an empty school whose program runs."""
    bot = await server.person("holdfast")
    place = MatrixTown(None, HandClock(start), db, server=server, folder=folder, bot=bot)  # type: ignore[arg-type]
    place.api = Hands(place)  # type: ignore[assignment]
    await place.start()
    try:
        yield place
    finally:
        for phone in place.phones.values():
            await phone.person.__aexit__()
        if place._task is not None:
            await (place.kill() if place._task.done() else place.stop())


def words(shown: Iterator[Shown] | list[Shown]) -> str:
    """Return what messages say, one after another."""
    return "\n".join(one.text for one in shown)
