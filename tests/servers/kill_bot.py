"""The bot that is killed: the whole app on a database, with a chat that talks to `kill_platform` over a socket.

Started once, it forks a life for every line that it reads (loading everything takes seconds): a line is JSON with
``url``, ``socket``, ``life``, ``start`` (the moment at which its clock starts), ``speed``, ``lease_s``, ``tick_s`` and,
where all processes receive side by side, ``alone: false``. It prints the life's process id.
"""

from __future__ import annotations

import asyncio
import json
import signal
from datetime import datetime
from typing import Any

from bot.app import build
from bot.chat.packing import pack
from bot.chat.port import ButtonPressed, Capabilities, Incoming, Limits, Message, OnEvent, SendRefused
from bot.clock import RehearsalClock
from bot.service.engine import receiver, sender
from bot.service.engine.context import AppContext
from storage.base.database import connect
from storage.queue import leader_lock
from tests.servers.forking import fork_a_life_per_line

LEASE_S = 2.0
"""Shorter than in production: a drill does not wait half a minute after a kill."""


class SocketChat:
    """A `Chat` at the other end of a socket."""

    name = "terminal"
    limits = Limits(per_second=1e9, per_chat_second=1e9, per_group_minute=1e9)

    def __init__(self, order: dict[str, Any], clock: RehearsalClock) -> None:
        self.capabilities = Capabilities(receives_alone=bool(order.get("alone", True)))
        self._order, self._clock = order, clock
        self._refs: dict[str, asyncio.Future[str]] = {}
        self._connecting = asyncio.Lock()
        self._writer: asyncio.StreamWriter | None = None
        self._reading: asyncio.Task[None] | None = None
        self._updates: asyncio.Queue[dict[str, Any]] = asyncio.Queue()

    async def _connect(self) -> None:
        async with self._connecting:
            if self._writer is None:
                reader, self._writer = await asyncio.open_unix_connection(
                    self._order["socket"], limit=1 << 20
                )
                self._reading = asyncio.create_task(self._read(reader))

    async def run(self, on_event: OnEvent, stop: asyncio.Event) -> None:
        """Receive, which only one process does at a time."""
        await self._connect()
        self._say({"receives": True, "life": self._order["life"]})
        async with asyncio.TaskGroup() as group:
            taking = group.create_task(self._take_all(on_event, group))
            await stop.wait()
            self._say({"receives": False, "life": self._order["life"]})
            taking.cancel()

    async def _read(self, reader: asyncio.StreamReader) -> None:
        while line := await reader.readline():
            said = json.loads(line)
            if "update" in said:
                self._updates.put_nowait(said["update"])
            elif said["sent"] in self._refs:
                self._refs.pop(said["sent"]).set_result(said["ref"])

    async def _take_all(self, on_event: OnEvent, group: asyncio.TaskGroup) -> None:
        while True:
            group.create_task(self._take(await self._updates.get(), on_event))

    async def _take(self, update: dict[str, Any], on_event: OnEvent) -> None:
        content = ButtonPressed(update["action"])
        await on_event(
            Incoming(
                self.name,
                update["key"],
                update["address"],
                update["user"],
                "private",
                self._clock.now(),
                content,
            )
        )
        self._say({"ack": update["key"]})

    async def send(self, address: str, message: Message, *, token: str, edits: str = "") -> str:
        await self._connect()
        waiting = self._refs[token] = asyncio.get_running_loop().create_future()
        body = pack(message).body
        nudge = message.key.startswith("nudge:") and not message.replaces
        now = self._clock.now().isoformat()
        self._say(
            {
                "life": self._order["life"],
                "address": address,
                "token": token,
                "body": body,
                "nudge": nudge,
                "now": now,
            }
        )
        return await asyncio.wait_for(waiting, 30)

    def _say(self, what: dict[str, Any]) -> None:
        assert self._writer is not None
        self._writer.write(json.dumps(what).encode() + b"\n")

    async def fetch(self, handle: str) -> bytes:
        raise SendRefused("There are no files here.")


async def live(order: dict[str, Any]) -> None:
    """Run until told to stop, or killed."""
    clock = RehearsalClock(datetime.fromisoformat(order["start"]), order["speed"])
    sender.LEASE_S = leader_lock.SILENT_S = order.get("lease_s", LEASE_S)
    db, stop = connect(order["url"]), asyncio.Event()
    asyncio.get_running_loop().add_signal_handler(signal.SIGTERM, stop.set)
    app = build(
        db, clock, [SocketChat(order, clock)], AppContext(), tick_s=order.get("tick_s", 0.1) * order["speed"]
    )
    await app.run(stop)
    db.close()


def main() -> None:
    """Fork a life per line."""
    receiver.TRY_EVERY_S, receiver.LOOK_EVERY_S = 0.1, 0.3
    fork_a_life_per_line(live)


if __name__ == "__main__":
    main()
