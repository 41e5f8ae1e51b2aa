"""The whole service under SIGKILL at random moments, on both databases, while a class answers. Prints counts.

A process is loaded once and forked for every life; each life is killed at a random moment, the last one ends in good
order. The platform (in this process) repeats updates and notes everything that is sent to it.

HOLDFAST_DRILL_KILLS sets how many times (default 8 per database; ``deploy/drills/kill.sh`` does 200).
"""

from __future__ import annotations

import asyncio
import random
import sys
from datetime import datetime, timedelta
from pathlib import Path

import pytest
import sqlalchemy as sa

from bot.clock import RehearsalClock
from storage.base.database import connect
from tests.dialogues import MONDAY, at
from tests.servers.evening import (
    FROM,
    HOURS,
    KILLS,
    QUIET_FROM,
    Drill,
    drill,
    look,
    nothing_waits,
    prepare,
    verify,
)
from tests.servers.kill_bot import LEASE_S
from tests.servers.kill_platform import Platform

pytestmark = [pytest.mark.slow, pytest.mark.server]

LIFE_S = (0.2, 1.8)
LATE = 3
"""Students whose moment comes while the bot is off, and has gone by when it is back."""


async def play(url: str, socket: Path, rng: random.Random) -> tuple[Platform, Drill]:
    """Kill the bot through the evening, let it finish, switch it off over some moments and on at night."""
    speed = HOURS * 3600 / (KILLS * (sum(LIFE_S) / 2 + 0.05))
    async with Platform(socket, rng) as platform, drill(url, socket) as bot:
        clock = RehearsalClock(FROM, speed)
        for _ in range(KILLS):
            pid = await bot.begin(clock.now(), speed)
            await asyncio.sleep(rng.uniform(*LIFE_S))
            await bot.kill(pid)
        # Leases are real seconds, told in the clock of the life that took them. The last life's clock runs slower:
        # begun at once, it would wait minutes of real time for the leases of the killed.
        leases_over = clock.now() + timedelta(seconds=LEASE_S * speed)
        await _end_well(url, platform, bot, max(leases_over, at(MONDAY, 18, 35)))
        before = len(platform.arrived)
        night = at(MONDAY, QUIET_FROM, 5)
        pid = await bot.begin(night, 60.0)
        await _until_nothing_waits(url, platform, night)
        await asyncio.sleep(1.5)
        await bot.stop(pid)
        assert len(platform.arrived) == before, "something was sent in quiet hours"
    return platform, bot


async def _end_well(url: str, platform: Platform, bot: Drill, start: datetime) -> None:
    """Let the bot work in peace until nothing waits."""
    pid = await bot.begin(start, 10.0)
    await _until_nothing_waits(url, platform, start)
    await bot.stop(pid)


async def _until_nothing_waits(url: str, platform: Platform, since: datetime) -> None:
    db = connect(url)
    async with asyncio.timeout(120):
        while not (platform.quiet and await db.read(nothing_waits, since)):  # noqa: ASYNC110 - a state
            await asyncio.sleep(0.2)
    db.close()


def test_an_evening_of_kills_loses_no_answer_and_doubles_none(
    shared_url: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    prepare(shared_url, LATE)
    platform, bot = asyncio.run(play(shared_url, tmp_path / "s", random.Random(20261130)))
    found = look(shared_url)
    counts = verify(platform, found, LATE)
    with capsys.disabled():
        sys.stdout.write(
            f"\n{sa.make_url(shared_url).get_backend_name()}: {KILLS} kills, {bot.lives} lives; "
            + ", ".join(f"{number} {name}" for name, number in counts.items())
            + "\n"
        )
    assert counts["presses lost"] == counts["answers doubled"] == counts["nudges lost"] == 0
