"""The whole service under SIGKILL at random moments, on both databases, while a class answers. Prints counts.

A process is loaded once and forked for every life; each life is killed at a random moment, the last one ends in good
order. The platform (in this process) repeats updates and notes everything that is sent to it.

HOLDFAST_DRILL_KILLS sets how many times (default 8 per database; ``deploy/drills/kill.sh`` does 200).
"""

from __future__ import annotations

import asyncio
import json
import os
import random
import signal
import subprocess
import sys
from collections import Counter
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
import sqlalchemy as sa
from sqlmodel import Session, col, select

from bot.clock import RehearsalClock
from bot.service import planning
from storage import enrolments, people
from storage.database import connect
from storage.tables import Answer, InboxItem, Nudge, NudgeState, OutboxItem, Review, ReviewState
from tests.dialogues import CHOICE, MONDAY, ZONE, Group, Stage, add_class, at, teach
from tests.servers.kill_bot import LEASE_S
from tests.servers.kill_platform import Platform

pytestmark = [pytest.mark.slow, pytest.mark.server]

ROOT = Path(__file__).parents[2]
KILLS = int(os.environ.get("HOLDFAST_DRILL_KILLS", "8"))
LIFE_S = (0.2, 1.8)
STUDENTS = max(16, min(60, 2 * KILLS))
LATE = 3
"""Students whose moment comes while the bot is off, and has gone by when it is back."""
FROM, HOURS = at(MONDAY, 15, 30), 3
QUIET_FROM = 23
"""Hours after the end of the kills, so that a slow machine, whose lives take longer, does not come near."""
DAY = timedelta(days=1)


def prepare(url: str) -> None:
    """Plan an evening for a class whose students want to be asked at different times."""
    school = Stage(connect(url), at(MONDAY, 8))
    group = add_class(school, questions_per_nudge=3, quiet_from=QUIET_FROM * 60)
    for number in range(6):
        teach(school, group, f"Topic {number}", at(MONDAY - (3 + number) * DAY, 10), [CHOICE])
    school.run(_enrol, group, school.now)
    school.run(planning.look_at_all, school.now)
    school.go_to(at(MONDAY, 15, 20))
    school.db.close()


def _enrol(session: Session, group: Group, now: datetime) -> None:
    for number in range(STUDENTS + LATE):
        minute = 15 * 60 + 30 + number * HOURS * 60 // STUDENTS if number < STUDENTS else QUIET_FROM * 60 - 10
        contact = people.meet(session, "terminal", f"s{number}", f"chat-s{number}", now)
        student = enrolments.join(session, group.id, contact.person_id, f"S{number}", now - 30 * DAY)
        enrolments.set_times(session, student.id or 0, nudge_minute=minute)


@dataclass
class Drill:
    """Begins and ends lives."""

    url: str
    socket: Path
    forker: asyncio.subprocess.Process
    lives: int = 0
    pids: list[int] = field(default_factory=list)

    async def begin(self, start: datetime, speed: float, **more: Any) -> int:
        self.lives += 1
        order = {
            "url": self.url,
            "socket": str(self.socket),
            "life": self.lives,
            "start": start.isoformat(),
            "speed": speed,
            **more,
        }
        assert self.forker.stdin is not None
        assert self.forker.stdout is not None
        self.forker.stdin.write(json.dumps(order).encode() + b"\n")
        self.pids.append(int(await self.forker.stdout.readline()))
        return self.pids[-1]

    async def gone(self, pid: int) -> None:
        async with asyncio.timeout(120):
            while _lives(pid):  # noqa: ASYNC110 - another process
                await asyncio.sleep(0.01)


def _lives(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return True


@asynccontextmanager
async def drill(url: str, socket: Path) -> AsyncIterator[Drill]:
    forker = await asyncio.create_subprocess_exec(
        sys.executable,
        "-m",
        "tests.servers.kill_bot",
        cwd=ROOT,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    )
    assert forker.stdin is not None
    assert forker.stdout is not None
    running = Drill(url, socket, forker)
    try:
        assert await forker.stdout.readline() == b"ready\n"
        yield running
    finally:
        for pid in running.pids:
            if _lives(pid):
                os.kill(pid, signal.SIGKILL)
        forker.stdin.close()
        await forker.wait()


async def play(url: str, socket: Path, rng: random.Random) -> tuple[Platform, Drill]:
    """Kill the bot through the evening, let it finish, switch it off over some moments and on at night."""
    speed = HOURS * 3600 / (KILLS * (sum(LIFE_S) / 2 + 0.05))
    async with Platform(socket, rng) as platform, drill(url, socket) as bot:
        clock = RehearsalClock(FROM, speed)
        for _ in range(KILLS):
            pid = await bot.begin(clock.now(), speed)
            await asyncio.sleep(rng.uniform(*LIFE_S))
            os.kill(pid, signal.SIGKILL)
            await bot.gone(pid)
        # Leases are real seconds, told in the clock of the life that took them. The last life's clock runs slower:
        # begun at once, it would wait minutes of real time for the leases of the killed.
        leases_over = clock.now() + timedelta(seconds=LEASE_S * speed)
        await _end_well(url, platform, bot, max(leases_over, at(MONDAY, 18, 35)))
        before = len(platform.arrived)
        pid = await bot.begin(at(MONDAY, QUIET_FROM, 5), 60.0)
        await asyncio.sleep(1.5)
        os.kill(pid, signal.SIGTERM)
        await bot.gone(pid)
        assert len(platform.arrived) == before, "something was sent in quiet hours"
    return platform, bot


async def _end_well(url: str, platform: Platform, bot: Drill, start: datetime) -> None:
    """Let the bot work in peace until nothing waits."""
    db = connect(url)
    pid = await bot.begin(start, 10.0)
    async with asyncio.timeout(120):
        while not (platform.quiet and await db.read(_nothing_waits, start)):  # noqa: ASYNC110 - a state
            await asyncio.sleep(0.2)
    db.close()
    os.kill(pid, signal.SIGTERM)
    await bot.gone(pid)


def _nothing_waits(session: Session, now: datetime) -> bool:
    asked = (
        select(InboxItem.id).where(col(InboxItem.done_at).is_(None)),
        select(OutboxItem.id).where(OutboxItem.state == "waiting"),
        select(Nudge.id).where(Nudge.state == NudgeState.PLANNED, Nudge.due_at <= now),
        select(Review.id).where(Review.state == ReviewState.OPEN),
    )
    return all(session.exec(one.limit(1)).first() is None for one in asked)


@dataclass
class Found:
    """What is in the database afterwards."""

    items: list[InboxItem]
    answered: list[int]
    sent: dict[str, OutboxItem]
    nudges: list[Nudge]


def look(url: str) -> Found:
    db = connect(url)
    with db.begin() as session:
        if not db.is_postgresql:
            assert session.connection().execute(sa.text("PRAGMA integrity_check")).scalar() == "ok"
        rows = list(session.exec(select(OutboxItem).order_by(col(OutboxItem.id))))
        found = Found(
            list(session.exec(select(InboxItem))),
            list(session.exec(select(Answer.review_id))),
            {str(row.id): row for row in rows},
            list(session.exec(select(Nudge))),
        )
    db.close()
    return found


def test_an_evening_of_kills_loses_no_answer_and_doubles_none(
    shared_url: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    prepare(shared_url)
    platform, bot = asyncio.run(play(shared_url, tmp_path / "s", random.Random(20261130)))
    found = look(shared_url)
    counts = verify(platform, found)
    with capsys.disabled():
        sys.stdout.write(
            f"\n{sa.make_url(shared_url).get_backend_name()}: {KILLS} kills, {bot.lives} lives; "
            + ", ".join(f"{number} {name}" for name, number in counts.items())
            + "\n"
        )
    assert counts["presses lost"] == counts["answers doubled"] == counts["nudges lost"] == 0


def verify(platform: Platform, found: Found) -> dict[str, int]:
    """Hold what arrived and what was acknowledged against what is stored; return counts."""
    stored = Counter(item.key for item in found.items)
    done = {item.key for item in found.items if item.done_at is not None and not item.failed}
    picked = {a.split(":")[2] for a in platform.acknowledged.values() if a.startswith("student:pick")}
    assert picked == {str(review) for review in found.answered}
    nudged = {id_: row for id_, row in found.sent.items() if row.nudge_id is not None}
    verdicts = Counter(r for row in found.sent.values() if (r := row.body["replaces"]).startswith("review:"))
    assert verdicts == Counter(f"review:{review}" for review in found.answered)
    times = Counter(_id(one.token) for one in platform.arrived)
    _no_life_sends_twice(platform)
    _nothing_at_night(platform)
    states = Counter(nudge.state for nudge in found.nudges)
    assert states[NudgeState.DONE] == STUDENTS
    assert states[NudgeState.EXPIRED] == LATE
    assert Counter(row.nudge_id for row in nudged.values()).most_common(1)[0][1] == 1
    return {
        "presses acknowledged": len(platform.acknowledged),
        "deliveries": platform.delivered,
        "presses lost": len(set(platform.acknowledged) - done),
        "answers": len(found.answered),
        "answers doubled": sum(number - 1 for number in stored.values()),
        "nudges": len(nudged),
        "nudges lost": sum(times[id_] == 0 for id_ in nudged),
        "nudges sent again after a kill": sum(times[id_] - 1 for id_ in nudged),
        "messages": len(times),
        "messages sent again after a kill": sum(times.values()) - len(times),
    }


def _id(token: str) -> str:
    return token.rpartition("-")[2]


def _no_life_sends_twice(platform: Platform) -> None:
    """A message comes twice only from a life that cannot know that another had sent it."""
    seen = Counter((one.life, one.token) for one in platform.arrived)
    assert max(seen.values()) == 1


def _nothing_at_night(platform: Platform) -> None:
    for one in platform.arrived:
        local: Any = datetime.fromisoformat(one.at).astimezone(ZoneInfo(ZONE))
        assert not one.nudge or 15 <= local.hour < QUIET_FROM, local
