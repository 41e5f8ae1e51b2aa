"""The local Bot API server in a process of its own, so that only the bot's own work is measured.

Reads one order per line from standard input and writes one line of JSON for each: ``open N`` lets N students
write first; ``echo N`` lets a student write, wait for the bot's message, write again, N times, and answers with
the round trips in seconds; ``seen`` counts the messages that arrived.
"""

import asyncio
import json
import sys
import time
from typing import Any

from tests.servers.botapi import BotApi

FIRST = 1001


class Echo:
    """A student who writes as soon as the bot has answered."""

    def __init__(self, api: BotApi) -> None:
        self._api = api
        self._answered = asyncio.Event()
        self._original = api._sendMessage
        api._sendMessage = self._arrived  # type: ignore[method-assign]

    def _arrived(self, values: dict[str, Any]) -> dict[str, Any]:
        message = self._original(values)
        self._answered.set()
        return message

    async def trips(self, count: int) -> list[float]:
        taken = []
        for number in range(count):
            self._answered.clear()
            began = time.perf_counter()
            self._api.say(FIRST, f"answer {number}")
            async with asyncio.timeout(10):
                await self._answered.wait()
            taken.append(time.perf_counter() - began)
        return taken


async def main() -> None:
    lines = asyncio.StreamReader()
    await asyncio.get_running_loop().connect_read_pipe(lambda: asyncio.StreamReaderProtocol(lines), sys.stdin)
    async with BotApi() as api:
        echo = Echo(api)
        tell(api.url)
        while line := (await lines.readline()).decode().split():
            tell(await obey(api, echo, line[0], int(line[1]) if len(line) > 1 else 0))


async def obey(api: BotApi, echo: Echo, order: str, count: int) -> Any:
    if order == "open":
        for number in range(count):
            api.person(FIRST + number, f"Student {number}")
            api.places[FIRST + number].open = True
        return count
    if order == "echo":
        return await echo.trips(count)
    return sum(len(api.seen_by(chat)) for chat in api.places)


def tell(answer: Any) -> None:
    sys.stdout.write(json.dumps(answer) + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    asyncio.run(main())
