"""What every adapter needs while it receives: waiting longer after each failure, giving up when told to stop."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Coroutine
from typing import Any, TypeVar

from bot.chat.port import ChatStopped

T = TypeVar("T")


class SetupRefused(ChatStopped):
    """The platform refuses what the settings say. The text says what to do; trying again is of no use."""


class Patience:
    """Waits a little longer after every failure in a row, and wakes up when the program stops."""

    def __init__(self, first_s: float = 1.0, most_s: float = 30.0) -> None:
        self._first_s = first_s
        self._most_s = most_s
        self._next_s = first_s

    def reset(self) -> None:
        """Something worked."""
        self._next_s = self._first_s

    async def pause(self, stop: asyncio.Event, at_least_s: float = 0.0) -> None:
        """Wait after a failure, at least `at_least_s` [s]."""
        seconds = max(self._next_s, at_least_s)
        self._next_s = min(self._most_s, 2 * self._next_s)
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(seconds):
                await stop.wait()


async def until(stop: asyncio.Event, work: Coroutine[Any, Any, T]) -> T | None:
    """Run `work`, but give it up when `stop` is set; None then."""
    working = asyncio.ensure_future(work)
    stopping = asyncio.ensure_future(stop.wait())
    try:
        await asyncio.wait({working, stopping}, return_when=asyncio.FIRST_COMPLETED)
        return working.result() if working.done() else None
    finally:
        for task in (working, stopping):
            task.cancel()
        await asyncio.gather(working, stopping, return_exceptions=True)


async def unasked(_identity: str) -> None:
    """Stand in for whoever wants to know which bot this is, where nobody does."""
