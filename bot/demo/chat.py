"""The chat of the demo: invented people behind the same port as real ones.

What the bot sends reaches a `Mind`; what the mind wants to say, and when, is kept here until the conductor
(`bot.demo.conductor`) has moved the clock there. So a term passes as fast as the machine can work, and every
message still takes the whole way through inbox, conversation, database and outbox.
"""

from __future__ import annotations

import asyncio
import heapq
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Protocol

from bot.chat.port import Capabilities, Content, Incoming, Limits, Message, OnEvent, Place, SendRefused
from bot.clock import Clock


@dataclass(frozen=True, slots=True)
class Saying:
    """What somebody will say or press, after a delay."""

    after: timedelta
    content: Content
    place: Place = "private"


class Mind(Protocol):
    """An invented person."""

    def hears(self, message: Message, now: datetime) -> Iterable[Saying]:
        """Return what the person will say to a message of the bot."""
        ...


@dataclass
class DemoChat:
    """A `Chat` whose people are minds.

    Attributes
    ----------
    minds : mapping of str to Mind
        By the user name, which is also the address.
    watch : callable
        Called with address and message for everything that the bot sends.
    files : callable, optional
        Returns the bytes of a file that a mind sends, by its handle.
    """

    clock: Clock
    minds: Mapping[str, Mind]
    name: str = "terminal"
    watch: Callable[[str, Message], None] = lambda _address, _message: None
    files: Callable[[str], bytes] | None = None
    limits: Limits = field(
        default_factory=lambda: Limits(per_second=1e6, per_chat_second=1e6, per_group_minute=1e6)
    )
    capabilities: Capabilities = field(default_factory=Capabilities)
    _plans: list[tuple[datetime, int, str, Saying]] = field(default_factory=list)
    _count: int = 0
    _on_event: OnEvent | None = None

    async def run(self, on_event: OnEvent, stop: asyncio.Event) -> None:
        """Hand events to the program until `stop` is set."""
        self._on_event = on_event
        await stop.wait()
        self._on_event = None

    async def send(self, address: str, message: Message, *, token: str, edits: str = "") -> str:
        """Let a mind hear a message."""
        self.watch(address, message)
        mind = self.minds.get(address)
        if mind is not None:
            self.plan(address, mind.hears(message, self.clock.now()))
        return edits or f"demo-{token}"

    async def fetch(self, handle: str) -> bytes:
        """Return the bytes of a file that a mind sent."""
        if self.files is None:
            raise SendRefused(f"There is no file {handle}.")
        return self.files(handle)

    def plan(self, user: str, sayings: Iterable[Saying]) -> None:
        """Keep what somebody will say."""
        for saying in sayings:
            self._count += 1
            heapq.heappush(self._plans, (self.clock.now() + saying.after, self._count, user, saying))

    @property
    def next_at(self) -> datetime | None:
        """When somebody will speak next."""
        return self._plans[0][0] if self._plans else None

    @property
    def ready(self) -> bool:
        """Whether the program listens."""
        return self._on_event is not None

    async def speak(self) -> int:
        """Deliver everything whose moment has come; return how much that was."""
        spoken = 0
        while self._plans and self._plans[0][0] <= self.clock.now():
            at, number, user, saying = heapq.heappop(self._plans)
            if self._on_event is not None:
                await self._on_event(self._event(user, saying, at, number))
                spoken += 1
        return spoken

    def _event(self, user: str, saying: Saying, at: datetime, number: int) -> Incoming:
        return Incoming(
            platform=self.name,
            key=f"{at.isoformat()}-{number}",
            address=user,
            user=user,
            place=saying.place,
            at=at,
            content=saying.content,
            name=user.capitalize(),  # as a platform shows it
        )
