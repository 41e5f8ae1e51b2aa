"""What the Matrix adapter has to ask and keep: a place in the stream of events, our messages, who is who.

`DatabaseRecords` is the real one; `MemoryRecords` serves until it is attached, and in tests.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Protocol

from bot.chat.matrix.incoming import PLATFORM
from bot.chat.packing import unpack
from bot.chat.port import Message
from bot.clock import Clock
from storage.base import key_values
from storage.base.database import Database, Session
from storage.queue import outbox
from storage.school import channels, classes, people


class Records(Protocol):
    """Asked and told while events come in."""

    async def key_value(self, name: str) -> str:
        """Return what was kept under `name`, or empty."""
        ...

    async def keep(self, name: str, value: str) -> None:
        """Keep `value` under `name`."""
        ...

    async def message(self, address: str, reference: str) -> Message | None:
        """Return our message with that reference, the latest form if it was edited."""
        ...

    async def is_class_room(self, address: str) -> bool:
        """Whether a room is bound to a class."""
        ...

    async def is_private_chat(self, address: str) -> bool:
        """Whether a room is the private chat in which we talk with somebody."""
        ...

    async def is_teacher(self, user: str) -> bool:
        """Whether somebody teaches here, or may create classes."""
        ...

    async def knows(self, user: str) -> bool:
        """Whether somebody has talked with us before."""
        ...


@dataclass
class MemoryRecords:
    """Records that live as long as the program."""

    kept: dict[str, str] = field(default_factory=dict)
    messages: dict[tuple[str, str], Message] = field(default_factory=dict)
    class_rooms: set[str] = field(default_factory=set)
    private_chats: set[str] = field(default_factory=set)
    teachers: set[str] = field(default_factory=set)
    known: set[str] = field(default_factory=set)

    async def key_value(self, name: str) -> str:
        """Return what was kept under `name`, or empty."""
        return self.kept.get(name, "")

    async def keep(self, name: str, value: str) -> None:
        """Keep `value` under `name`."""
        self.kept[name] = value

    async def message(self, address: str, reference: str) -> Message | None:
        """Return our message with that reference."""
        return self.messages.get((address, reference))

    async def is_class_room(self, address: str) -> bool:
        """Whether a room is bound to a class."""
        return address in self.class_rooms

    async def is_private_chat(self, address: str) -> bool:
        """Whether a room is the private chat in which we talk with somebody."""
        return address in self.private_chats

    async def is_teacher(self, user: str) -> bool:
        """Whether somebody teaches here."""
        return user in self.teachers

    async def knows(self, user: str) -> bool:
        """Whether somebody has talked with us before."""
        return user in self.known


@dataclass
class DatabaseRecords:
    """Records in the school's database."""

    db: Database
    clock: Clock

    async def key_value(self, name: str) -> str:
        """Return what was kept under `name`, or empty."""
        return await self.db.read(key_values.get, name)

    async def keep(self, name: str, value: str) -> None:
        """Keep `value` under `name`."""
        await self.db.run(key_values.put, name, value, self.clock.now())

    async def message(self, address: str, reference: str) -> Message | None:
        """Return our message with that reference, the latest form if it was edited."""
        body = await self.db.read(_body, address, reference)
        return None if body is None else unpack(body)

    async def is_class_room(self, address: str) -> bool:
        """Whether a room is bound to a class."""
        return await self.db.read(_bound, address)

    async def is_private_chat(self, address: str) -> bool:
        """Whether a room is the private chat in which we talk with somebody."""
        return await self.db.read(_private, address)

    async def is_teacher(self, user: str) -> bool:
        """Whether somebody teaches here, or may create classes."""
        return await self.db.read(_teaches, user)

    async def knows(self, user: str) -> bool:
        """Whether somebody has talked with us before."""
        return await self.db.read(_known, user)


def _body(session: Session, address: str, reference: str) -> Mapping[str, object] | None:
    row = outbox.by_ref(session, PLATFORM, address, reference)
    return None if row is None else dict(row.body)


def _bound(session: Session, address: str) -> bool:
    return channels.find(session, PLATFORM, address) is not None


def _private(session: Session, address: str) -> bool:
    return people.contact_at(session, PLATFORM, address) is not None


def _teaches(session: Session, user: str) -> bool:
    contact = people.find_contact(session, PLATFORM, user)
    if contact is None:
        return False
    person = contact.person_id
    return people.staff(session, person) is not None or bool(classes.of_teacher(session, person))


def _known(session: Session, user: str) -> bool:
    return people.find_contact(session, PLATFORM, user) is not None
