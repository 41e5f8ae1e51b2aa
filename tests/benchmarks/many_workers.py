"""A platform and its students in the test's own process, for several processes of the bot that all receive."""

from __future__ import annotations

import asyncio
import json
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

PICK, START = "student:pick:", "student:start:"


@dataclass
class Crowd:
    """Serves the processes on a socket; a student presses a button as soon as it is shown.

    Attributes
    ----------
    took : list of float
        Real seconds from a press to its verdict.
    pressed : int
        Presses so far.
    """

    place: Path
    students: int
    processes: int
    side_by_side: int
    took: list[float] = field(default_factory=list)
    pressed: int = 0
    began_s: float = 0.0
    ended_s: float = 0.0
    ready: asyncio.Event = field(default_factory=asyncio.Event)
    done: asyncio.Event = field(default_factory=asyncio.Event)
    _said: dict[str, asyncio.Queue[dict[str, Any]]] = field(default_factory=dict)
    _writers: list[asyncio.StreamWriter] = field(default_factory=list)
    _refs: int = 0

    async def serve(self) -> None:
        """Let every student answer everything, once every process receives."""
        server = await asyncio.start_unix_server(self._hear_all, self.place)
        await asyncio.wait_for(self.ready.wait(), 60)
        free = asyncio.Semaphore(self.side_by_side)
        self.began_s = time.perf_counter()
        await asyncio.gather(*(self._student(number, free) for number in range(self.students)))
        self.ended_s = time.perf_counter()
        server.close()
        self.done.set()

    async def _hear_all(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        while line := await reader.readline():
            said = json.loads(line)
            if "receives" in said:
                self._receives(writer, receives=said["receives"])
            elif "token" in said:
                self._refs += 1
                writer.write(json.dumps({"sent": said["token"], "ref": f"m{self._refs}"}).encode() + b"\n")
                self._queue(said["address"]).put_nowait(said["body"])
        writer.close()

    def _receives(self, writer: asyncio.StreamWriter, *, receives: bool) -> None:
        if receives:
            self._writers.append(writer)
        if len(self._writers) == self.processes:
            self.ready.set()

    def _queue(self, address: str) -> asyncio.Queue[dict[str, Any]]:
        return self._said.setdefault(address, asyncio.Queue())

    async def _student(self, number: int, free: asyncio.Semaphore) -> None:
        said = self._queue(f"chat-s{number}")
        nudge = await _shown(said, START)
        async with free:
            self._press(number, nudge)
            action = await _shown(said, PICK)
            while action:
                began = time.perf_counter()
                self._press(number, action)
                await _verdict(said)
                self.took.append(time.perf_counter() - began)
                action = await _next_pick(said)

    def _press(self, number: int, action: str) -> None:
        self.pressed += 1
        update = {
            "key": f"p{self.pressed}",
            "user": f"s{number}",
            "address": f"chat-s{number}",
            "action": action,
        }
        writer = self._writers[number % len(self._writers)]
        writer.write(json.dumps({"update": update}).encode() + b"\n")


def _actions(body: dict[str, Any]) -> list[str]:
    return [button[1] for row in body["buttons"] for button in row]


async def _shown(said: asyncio.Queue[dict[str, Any]], kind: str) -> str:
    """Wait until a button of a kind is shown; return its action."""
    while True:
        for action in _actions(await asyncio.wait_for(said.get(), 120)):
            if action.startswith(kind):
                return action


async def _verdict(said: asyncio.Queue[dict[str, Any]]) -> None:
    """Wait for the message that takes the place of a question."""
    while not (await asyncio.wait_for(said.get(), 120))["replaces"].startswith("review:"):
        pass


async def _next_pick(said: asyncio.Queue[dict[str, Any]]) -> str:
    """Return the action of the next question, or empty when that was the last."""
    actions = _actions(await asyncio.wait_for(said.get(), 120))
    return next((action for action in actions if action.startswith(PICK)), "")
