"""Three processes on one PostgreSQL, through an evening: one is killed, one is stopped and comes back. Prints counts.

The process that receives is killed while it holds leases; later the one that receives then is stopped by SIGSTOP for
longer than every lease, and continued. The others go on, nothing is lost, and who was stopped sends nothing that
another took over, but for one that it was just writing. A message may come twice only where it left within moments of
the blow, before that could be noted.

HOLDFAST_DRILL_STOP_S sets for how long the process is stopped [s] (``deploy/drills/stop.sh``: ten minutes).
"""

from __future__ import annotations

import asyncio
import os
import random
import signal
import sys
import time
from collections import Counter, defaultdict
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from bot.clock import RehearsalClock
from storage.base.database import connect
from tests.dialogues import MONDAY, at
from tests.servers import evening
from tests.servers.kill_bot import LEASE_S
from tests.servers.kill_platform import Arrived, Platform

pytestmark = [pytest.mark.slow, pytest.mark.server]

STOP_S = float(os.environ.get("HOLDFAST_DRILL_STOP_S", "4"))
FREE_S = 2.5
"""How long the processes work in peace before and after each blow."""
JUST_S = 1.0
"""What left so shortly before a process was killed or stopped may not have been noted [s]; 0.1 s on a quiet machine."""
AT_ONCE_S = 0.2
"""What a process was writing when it was stopped is out so soon after it goes on."""
GOES_ON_S = 4 * LEASE_S
"""Within this time another receives: the lease, and what a busy machine adds."""


@dataclass
class Blows:
    """What was done to which life, and when [s, monotonic]."""

    killed: tuple[int, float] = (0, 0.0)
    stopped: tuple[int, float] = (0, 0.0)
    continued_s: float = 0.0
    taken_over_s: list[float] = field(default_factory=list)


def speed() -> float:
    """Return how fast the evening runs: its hours go by in the drill, and enough is left for who comes back."""
    after_s = max(FREE_S + 5, STOP_S / 4)
    return evening.HOURS * 3600 / (2 * FREE_S + 2 * LEASE_S + STOP_S + after_s)


async def play(url: str, socket: Path, rng: random.Random) -> tuple[Platform, Blows]:
    """Let three processes work through the evening, kill one, stop one, and let the rest finish."""
    blows = Blows()
    async with Platform(socket, rng) as platform, evening.drill(url, socket) as bot:
        clock = RehearsalClock(evening.FROM, speed())
        pids = {}
        for _ in range(3):
            pid = await bot.begin(clock.now(), speed())
            pids[bot.lives] = pid
        await _receives(platform, 0, 60)
        await asyncio.sleep(FREE_S)
        blows.killed = await _kill(platform, pids, blows)
        await asyncio.sleep(FREE_S)
        await _stop_and_continue(platform, pids, blows)
        await asyncio.sleep(FREE_S)
        await _finish(url, platform, clock, pids, bot)
    return platform, blows


async def _kill(platform: Platform, pids: dict[int, int], blows: Blows) -> tuple[int, float]:
    life, seen = platform.received[-1][0], len(platform.received)
    await _has_leases(platform, life)
    os.kill(pids.pop(life), signal.SIGKILL)
    killed_s = time.monotonic()
    blows.taken_over_s.append(await _receives(platform, seen, GOES_ON_S) - killed_s)
    return life, killed_s


async def _stop_and_continue(platform: Platform, pids: dict[int, int], blows: Blows) -> None:
    life, seen = platform.received[-1][0], len(platform.received)
    await _has_leases(platform, life)
    os.kill(pids[life], signal.SIGSTOP)
    blows.stopped = (life, time.monotonic())
    blows.taken_over_s.append(await _receives(platform, seen, GOES_ON_S) - blows.stopped[1])
    await asyncio.sleep(max(0.0, blows.stopped[1] + STOP_S - time.monotonic()))
    os.kill(pids[life], signal.SIGCONT)
    blows.continued_s = time.monotonic()


async def _has_leases(platform: Platform, life: int) -> None:
    """Wait until a message of a process arrives: it has claimed that one and not yet noted that it was sent."""
    seen = len(platform.arrived)
    async with asyncio.timeout(60):
        while not any(one.life == life for one in platform.arrived[seen:]):  # noqa: ASYNC110 - another process
            await asyncio.sleep(0.002)


async def _receives(platform: Platform, seen: int, within_s: float) -> float:
    """Wait until a process begins to receive; return when [s, monotonic]."""
    async with asyncio.timeout(within_s):
        while len(platform.received) <= seen:  # noqa: ASYNC110 - another process
            await asyncio.sleep(0.02)
    return platform.received[seen][1]


async def _finish(
    url: str, platform: Platform, clock: RehearsalClock, pids: dict[int, int], bot: evening.Drill
) -> None:
    """Wait until the evening's last nudge is through, then end the processes in good order."""
    db, last = connect(url), at(MONDAY, 18, 35)
    async with asyncio.timeout(120 + STOP_S):
        while clock.now() < last or not (platform.quiet and await db.read(evening.nothing_waits, last)):  # noqa: ASYNC110
            await asyncio.sleep(0.2)
    db.close()
    await asyncio.gather(*(bot.stop(pid) for pid in pids.values()))


def test_two_of_three_processes_go_on_when_one_is_killed_and_one_is_stopped(
    postgres_url: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    evening.prepare(postgres_url)
    platform, blows = asyncio.run(play(postgres_url, tmp_path / "s", random.Random(20261130)))
    counts = evening.verify(platform, evening.look(postgres_url))
    again = _sent_again(platform)
    with capsys.disabled():
        sys.stdout.write(
            f"\nthree processes, one killed, one stopped for {STOP_S:g} s: taken over after "
            + " and ".join(f"{seconds:.1f} s" for seconds in blows.taken_over_s)
            + "; "
            + ", ".join(f"{number} {name}" for name, number in counts.items())
            + "\n"
        )
    assert counts["presses lost"] == counts["answers doubled"] == counts["nudges lost"] == 0
    assert len({one.life for one in platform.arrived}) == 3
    assert max(blows.taken_over_s) <= GOES_ON_S
    unexplained = [times for times in again if not _just_before_a_blow(times[0], blows)]
    assert len(unexplained) <= counts["messages"] // 20, (
        "only a machine that stood still for a lease explains these"
    )
    _who_was_stopped_sent_nothing_of_others(platform, blows)


def _sent_again(platform: Platform) -> list[list[Arrived]]:
    by_token: dict[str, list[Arrived]] = defaultdict(list)
    for one in platform.arrived:
        by_token[one.token].append(one)
    return [times for times in by_token.values() if len(times) > 1]


def _just_before_a_blow(one: Arrived, blows: Blows) -> bool:
    return any(
        one.life == life and moment - JUST_S <= one.real_s <= moment + 0.5 * JUST_S
        for life, moment in (blows.killed, blows.stopped)
    )


def _who_was_stopped_sent_nothing_of_others(platform: Platform, blows: Blows) -> None:
    life, _ = blows.stopped
    others = Counter(
        one.token for one in platform.arrived if one.life != life and one.real_s < blows.continued_s
    )
    late = [one for one in platform.arrived if one.life == life and one.real_s >= blows.continued_s]
    twice = [one for one in late if others[one.token]]
    # Only what it was writing when it was stopped, its lease looked at already: nothing can call that back.
    assert len(twice) <= 1
    assert all(one.real_s - blows.continued_s < AT_ONCE_S for one in twice)
    assert late, "it came back and did nothing: it proved nothing"
