"""The only place that reads the real clock.

Everything else is given a `Clock` or a moment. A rehearsal clock runs faster than the wall, with
everything else unchanged; a hand-set clock stands still until it is moved (tests, the demo).
"""

from __future__ import annotations

import asyncio
import math
import time
from datetime import UTC, datetime, timedelta
from typing import Protocol


class Clock(Protocol):
    """Tells the time and waits."""

    def now(self) -> datetime:
        """Return the present moment, aware UTC."""
        ...

    async def sleep(self, seconds: float) -> None:
        """Wait for `seconds` of this clock's time [s]."""
        ...

    @property
    def speed(self) -> float:
        """How many seconds pass in one second of real time; infinite when the clock is moved by hand."""
        ...


class WallClock:
    """The real time."""

    speed = 1.0

    def now(self) -> datetime:
        """Return the present moment, aware UTC."""
        return datetime.now(UTC)

    async def sleep(self, seconds: float) -> None:
        """Wait for `seconds` of real time [s]."""
        await asyncio.sleep(seconds)


class RehearsalClock:
    """A clock that starts at `start` and runs `speed` times as fast as the wall.

    ``speed=1440`` makes a minute a day. It follows the monotonic clock, so that a change of the wall
    clock does not disturb a rehearsal.
    """

    def __init__(self, start: datetime, speed: float) -> None:
        if start.tzinfo is None:
            raise ValueError("A rehearsal clock starts at an aware moment, such as 2026-09-01T00:00+00:00.")
        if not speed > 0:
            raise ValueError(f"A rehearsal clock runs at a positive speed, not {speed}.")
        self._start = start.astimezone(UTC)
        self.speed = float(speed)
        self._origin_s = time.monotonic()

    def now(self) -> datetime:
        """Return the rehearsed moment, aware UTC."""
        return self._start + timedelta(seconds=(time.monotonic() - self._origin_s) * self.speed)

    async def sleep(self, seconds: float) -> None:
        """Wait for `seconds` of rehearsed time [s]."""
        await asyncio.sleep(seconds / self.speed)


class HandClock:
    """A clock that stands still until it is moved; sleepers wake when their moment comes."""

    speed = math.inf

    def __init__(self, start: datetime) -> None:
        if start.tzinfo is None:
            raise ValueError("A hand-set clock starts at an aware moment, such as 2026-09-01T00:00+00:00.")
        self._now = start.astimezone(UTC)
        self._moved = asyncio.Condition()

    def now(self) -> datetime:
        """Return the moment it was set to, aware UTC."""
        return self._now

    async def sleep(self, seconds: float) -> None:
        """Wait until the clock has been moved on by `seconds` [s]."""
        until = self._now + timedelta(seconds=seconds)
        async with self._moved:
            await self._moved.wait_for(lambda: self._now >= until)

    async def set(self, moment: datetime) -> None:
        """Move the clock to `moment` (backwards too) and wake whoever waited for it."""
        self._now = moment.astimezone(UTC)
        async with self._moved:
            self._moved.notify_all()

    async def advance(self, seconds: float) -> None:
        """Move the clock on by `seconds` [s]."""
        await self.set(self._now + timedelta(seconds=seconds))
