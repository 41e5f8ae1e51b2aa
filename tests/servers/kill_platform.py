"""A chat platform in the test's own process, and students who answer: what a killed bot's life is played against.

The platform brings updates as at-least-once platforms do: each is repeated until it is acknowledged, and some are
repeated after that. It notes everything that was sent to it, with the life (process) that sent it.
"""

from __future__ import annotations

import asyncio
import json
import random
import time
from collections import defaultdict
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any


@dataclass(frozen=True)
class Arrived:
    """A message that the platform took."""

    life: int
    address: str
    token: str
    body: dict[str, Any]
    nudge: bool
    at: str
    real_s: float


@dataclass
class Platform:
    """Serves a bot's processes on a socket; updates go to the one that receives.

    Attributes
    ----------
    acknowledged : dict
        Update key to action, of updates whose storing the bot has acknowledged.
    arrived : list of Arrived
        Every message in the order in which it came, repeats included.
    received : list of tuple
        Which life began to receive, and when [s, monotonic].
    """

    place: Path
    rng: random.Random
    acknowledged: dict[str, str] = field(default_factory=dict)
    arrived: list[Arrived] = field(default_factory=list)
    received: list[tuple[int, float]] = field(default_factory=list)
    delivered: int = 0
    _pending: dict[str, dict[str, Any]] = field(default_factory=dict)
    _pressed: set[tuple[str, str]] = field(default_factory=set)
    _tokens: dict[str, list[int]] = field(default_factory=lambda: defaultdict(list))
    _news: asyncio.Event = field(default_factory=asyncio.Event)
    _writers: set[asyncio.StreamWriter] = field(default_factory=set)
    _serving: set[asyncio.Task[None]] = field(default_factory=set)
    _server: asyncio.Server | None = None

    async def __aenter__(self) -> Platform:
        self._server = await asyncio.start_unix_server(self._serve, self.place)
        return self

    async def __aexit__(self, *_why: object) -> None:
        assert self._server is not None
        self._server.close()
        for writer in self._writers:
            writer.transport.abort()
        await asyncio.gather(*self._serving, return_exceptions=True)

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self._writers.add(writer)
        this = asyncio.current_task()
        assert this is not None
        self._serving.add(this)
        bringing: asyncio.Task[None] | None = None
        try:
            while line := await reader.readline():
                said = json.loads(line) if line.endswith(b"\n") else {}
                if "receives" in said:
                    bringing = self._turn(said, writer, bringing)
                elif said:
                    self._hear(said, writer)
        except ConnectionError:
            pass  # the bot was killed: that is the point
        finally:
            if bringing is not None:
                bringing.cancel()
            writer.transport.abort()
            self._writers.discard(writer)
            self._serving.discard(this)

    def _turn(
        self, said: dict[str, Any], writer: asyncio.StreamWriter, bringing: asyncio.Task[None] | None
    ) -> asyncio.Task[None] | None:
        """Begin or end to bring updates to a process."""
        if bringing is not None:
            bringing.cancel()
        if not said["receives"]:
            return None
        self.received.append((said["life"], time.monotonic()))
        return asyncio.create_task(self._bring(writer))

    async def _bring(self, writer: asyncio.StreamWriter) -> None:
        """Bring what is not acknowledged, again and again."""
        while not writer.is_closing():
            for key, update in list(self._pending.items()):
                for _ in range(self.rng.choice((1, 1, 2))):
                    self.delivered += 1
                    writer.write(json.dumps({"update": update}).encode() + b"\n")
                if key in self.acknowledged and self.rng.random() < 0.8:
                    del self._pending[key]
            self._news.clear()
            try:
                async with asyncio.timeout(0.25):
                    await self._news.wait()
            except TimeoutError:
                pass

    def _hear(self, said: dict[str, Any], writer: asyncio.StreamWriter) -> None:
        if "ack" in said:
            update = self._pending.get(said["ack"])
            if update is not None:
                self.acknowledged[said["ack"]] = update["action"]
            return
        self.arrived.append(
            Arrived(
                said["life"],
                said["address"],
                said["token"],
                said["body"],
                said["nudge"],
                said["now"],
                time.monotonic(),
            )
        )
        ref = f"m-{said['token']}"
        writer.write(json.dumps({"sent": said["token"], "ref": ref}).encode() + b"\n")
        self._answer(said)

    def _answer(self, said: dict[str, Any]) -> None:
        """Let the student press a button of what was shown, once; a slow student presses a verdict's twin."""
        actions = [button[1] for row in said["body"]["buttons"] for button in row]
        wanted = [a for a in actions if a.startswith(("student:start:", "student:pick:"))]
        if not wanted:
            return
        action = self.rng.choice(wanted) if wanted[0].startswith("student:pick") else wanted[0]
        about = (said["address"], action.rsplit(":", 1)[0] if "pick" in action else action)
        if about in self._pressed:
            return
        self._pressed.add(about)
        key = f"u{len(self._pressed)}"
        user = said["address"].removeprefix("chat-")
        self._pending[key] = {"key": key, "user": user, "address": said["address"], "action": action}
        self._news.set()

    @property
    def quiet(self) -> bool:
        """Whether every press has been acknowledged."""
        return all(key in self.acknowledged for key in self._pending)
