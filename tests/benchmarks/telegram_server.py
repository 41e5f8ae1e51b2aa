"""The local Bot API server in a process of its own, so that only the bot's own work is measured.

Reads one order per line from standard input and writes one line of JSON for each: ``open N`` lets N students
write first; ``echo N`` lets a student write, wait for the bot's message, write again, N times, and answers with
the round trips in seconds; ``evening F N Q`` lets N students, from the F-th on, start their nudge and type a
letter for each of its Q questions, and answers with the seconds from each answer to its verdict; ``seen`` counts
the messages that arrived.
"""

import asyncio
import json
import sys
import time
from collections.abc import Callable
from typing import Any

from tests.servers.botapi import BotApi, Sent

FIRST = 1001

Method = Callable[[dict[str, Any]], dict[str, Any]]


class Phones:
    """Students who write as soon as the bot has answered."""

    def __init__(self, api: BotApi) -> None:
        self._api = api
        self._answered = asyncio.Event()
        for method in ("_sendMessage", "_editMessageText"):
            setattr(api, method, self._noticed(getattr(api, method)))

    def _noticed(self, original: Method) -> Method:
        def arrived(values: dict[str, Any]) -> dict[str, Any]:
            message = original(values)
            self._answered.set()
            return message

        return arrived

    async def trips(self, count: int) -> list[float]:
        """Let the first student write and wait for any answer."""
        return [await self._trip(FIRST, f"answer {number}") for number in range(count)]

    async def evening(self, first: int, count: int, questions: int) -> list[float]:
        """Let students answer what they are asked, one after the other."""
        taken = []
        for student in range(FIRST + first, FIRST + first + count):
            nudge = await self._menu(student, after=0)
            self._api.press_data(student, nudge, nudge.keyboard[0][0]["callback_data"])
            shown = await self._menu(student, after=nudge.message_id)
            for number in range(1, questions + 1):
                taken.append(await self._trip(student, "a"))
                if number < questions:
                    shown = await self._menu(student, after=shown.message_id)
        return taken

    async def _trip(self, student: int, text: str) -> float:
        self._answered.clear()
        began = time.perf_counter()
        self._api.say(student, text)
        async with asyncio.timeout(10):
            await self._answered.wait()
        return time.perf_counter() - began

    async def _menu(self, student: int, after: int) -> Sent:
        """Return the student's next message with buttons."""
        async with asyncio.timeout(20):
            while True:
                for sent in self._api.seen_by(student):
                    if sent.message_id > after and sent.keyboard:
                        return sent
                self._answered.clear()
                await self._answered.wait()


async def main() -> None:
    lines = asyncio.StreamReader()
    await asyncio.get_running_loop().connect_read_pipe(lambda: asyncio.StreamReaderProtocol(lines), sys.stdin)
    async with BotApi() as api:
        phones = Phones(api)
        tell(api.url)
        while line := (await lines.readline()).decode().split():
            tell(await obey(api, phones, line[0], *map(int, line[1:])))


async def obey(api: BotApi, phones: Phones, order: str, *numbers: int) -> Any:
    match order, numbers:
        case "open", (count,):
            for number in range(count):
                api.person(FIRST + number, f"Student {number}")
                api.places[FIRST + number].open = True
            return count
        case "echo", (count,):
            return await phones.trips(count)
        case "evening", (first, count, questions):
            return await phones.evening(first, count, questions)
        case "seen", ():
            return sum(len(api.seen_by(chat)) for chat in api.places)
    raise ValueError(f"There is no order {order} with {len(numbers)} numbers.")


def tell(answer: Any) -> None:
    sys.stdout.write(json.dumps(answer) + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    asyncio.run(main())
