"""A teacher at a chat, for tests: says, presses and sends, and sees every message that comes of it."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any

from sqlmodel import col, select

from bot.chat.packing import unpack
from bot.chat.port import (
    ButtonPressed,
    Capabilities,
    Content,
    FileSent,
    Incoming,
    Limits,
    Message,
    PresenceChanged,
    SendRefused,
    TextSaid,
)
from bot.service import rounds  # noqa: F401 - registers everything that is carried out and done
from bot.service.engine.context import AppContext
from bot.service.engine.due_work import WorkContext, do_due
from bot.service.engine.loop import handle
from storage.base.database import Database, Session
from storage.school import classes, people
from storage.tables import OutboxItem
from tests.dialogues import settles

START = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)  # a Wednesday, 09:00 in London


class HandClock:
    """A clock that stands still until it is moved."""

    speed = float("inf")

    def __init__(self, at: datetime = START) -> None:
        self.at = at

    def now(self) -> datetime:
        return self.at

    async def sleep(self, seconds: float) -> None:
        self.at += timedelta(seconds=seconds)


@dataclass
class FileChat:
    """A chat that has the files that were sent."""

    name: str = "terminal"
    limits: Limits = field(default_factory=Limits)
    capabilities: Capabilities = field(default_factory=Capabilities)
    files: dict[str, bytes] = field(default_factory=dict)

    async def run(self, on_event: Any, stop: asyncio.Event) -> None:
        raise AssertionError("Nobody listens in these tests.")

    async def send(self, address: str, message: Message, *, token: str, edits: str = "") -> str:
        raise AssertionError("Nothing is sent in these tests: the outbox is read.")

    async def fetch(self, handle: str) -> bytes:
        if handle not in self.files:
            raise SendRefused("gone")
        return self.files[handle]


class School:
    """A database, a clock and a service; people talk to it through `Talker`."""

    def __init__(self, db: Database) -> None:
        self.db, self.clock, self.chat = db, HandClock(), FileChat()
        self.app_context = AppContext(
            join_link=lambda platform, code: f"https://chat.example/{code}", zone="Europe/London"
        )
        self.work_context = WorkContext(db, self.app_context, self.clock, {"terminal": self.chat})
        self._number = 0
        self._seen = 0

    def teacher(self, user: str = "okafor", *, with_class: str = "10B Physics") -> Talker:
        """Return a teacher, with a class of that name if any."""

        def make(session: Session) -> int:
            person = people.meet(session, "terminal", user, f"@{user}", self.clock.now()).person_id
            people.make_staff(session, person, "Ms Okafor", self.clock.now())
            if with_class:
                classes.create(
                    session,
                    name=with_class,
                    zone="Europe/London",
                    teacher_id=person,
                    teacher_name="Ms Okafor",
                    now=self.clock.now(),
                )
            return person

        with self.db.begin() as session:
            person = make(session)
        return Talker(self, user, person)

    def happen(
        self, user: str, content: Content, *, address: str = "", place: Any = "private"
    ) -> list[tuple[str, Message]]:
        """Let something come in; return what was written to the outbox, with addresses."""
        self._number += 1
        event = Incoming(
            "terminal", str(self._number), address or f"@{user}", user, place, self.clock.now(), content
        )
        with self.db.begin() as session:
            handle(session, self.app_context, event, self.clock.now())
        return self.said()

    def said(self) -> list[tuple[str, Message]]:
        """Return what was written to the outbox since the last look."""
        with self.db.begin() as session:
            rows = session.exec(
                select(OutboxItem).where(col(OutboxItem.id) > self._seen).order_by(col(OutboxItem.id))
            ).all()
            self._seen = max([self._seen, *(row.id or 0 for row in rows)])
            return [(row.address, unpack(row.body)) for row in rows]

    def work(self, *, until: datetime | None = None) -> list[tuple[str, Message]]:
        """Do all due work up to a moment; return what was said."""
        if until is not None:
            self.clock.at = until
        asyncio.run(self._work())
        return self.said()

    async def _work(self) -> None:
        for _ in range(50):
            if not await do_due(self.work_context):
                return
        raise AssertionError("Due work did not come to an end.")


@dataclass
class Talker:
    """Somebody at a chat. Every method returns what was said to them, but for menus that were settled by it."""

    school: School
    user: str
    person_id: int
    last: list[Message] = field(default_factory=list)
    settled: list[Message] = field(default_factory=list)

    def says(self, text: str) -> str:
        """Type a text; return what was answered."""
        return self._take(self.school.happen(self.user, TextSaid(text)))

    def presses(self, label: str) -> str:
        """Press the button of the last messages whose label begins so."""
        for button in self.buttons():
            if button.label.startswith(label):
                return self._take(self.school.happen(self.user, ButtonPressed(button.action)))
        raise AssertionError(f"There is no button {label!r}, only {[b.label for b in self.buttons()]}.")

    def acts(self, action: str) -> str:
        """Press a button by its action, whoever it was for."""
        return self._take(self.school.happen(self.user, ButtonPressed(action)))

    def sends(self, name: str, data: bytes, *, caption: str = "", media_type: str = "text/csv") -> str:
        """Send a file and let it be read; return what was answered at last."""
        handle = f"file-{name}-{len(self.school.chat.files)}"
        self.school.chat.files[handle] = data
        self._take(self.school.happen(self.user, FileSent(handle, name, media_type, len(data), caption)))
        return self.hears(self.school.work())

    def posts(self, text: str, *, address: str = "#class", user: str | None = None) -> list[tuple[str, str]]:
        """Post in a class place; return addresses and texts of all that was said."""
        said = self.school.happen(
            self.user if user is None else user, TextSaid(text), address=address, place="class"
        )
        self._take([one for one in said if one[0] == f"@{self.user}"])
        return [(where, message.text.plain) for where, message in said]

    def notices(self, change: Any, *, address: str = "#class") -> list[tuple[str, str]]:
        """Let the platform say what happened to the bot in a place."""
        said = self.school.happen(self.user, PresenceChanged(change), address=address, place="class")
        return [(where, message.text.plain) for where, message in said]

    def hears(self, said: list[tuple[str, Message]]) -> str:
        """Return those of some messages that are for this person."""
        return self._take([one for one in said if one[0] == f"@{self.user}"])

    def buttons(self) -> list[Any]:
        """Return the buttons of the last messages."""
        return [button for message in self.last for button in message.all_buttons]

    def _take(self, said: list[tuple[str, Message]]) -> str:
        heard = [message for _, message in said if not settles(message)]
        self.settled = [message for _, message in said if settles(message)]
        if heard:
            self.last = heard
        return "\n".join(message.text.plain for message in heard)
