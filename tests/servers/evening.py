"""An evening of a class whose bot is killed, stopped or one of several: prepared, lived through, looked at."""

from __future__ import annotations

import os
import signal
from collections import Counter
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import sqlalchemy as sa
from sqlmodel import Session, col, select

from bot.service.asking import planning
from storage.base.database import connect
from storage.school import enrolments, people
from storage.tables import Answer, InboxItem, Nudge, NudgeState, OutboxItem, Review, ReviewState
from tests.dialogues import CHOICE, MONDAY, ZONE, Group, Stage, add_class, at, teach
from tests.servers.forking import Forker, forking
from tests.servers.kill_platform import Platform

KILLS = int(os.environ.get("HOLDFAST_DRILL_KILLS", "8"))
STUDENTS = max(16, min(60, 2 * KILLS))
FROM, HOURS = at(MONDAY, 15, 30), 3
QUIET_FROM = 23
"""Hours after the end of the kills, so that a slow machine, whose lives take longer, does not come near."""
DAY = timedelta(days=1)


def prepare(url: str, late: int = 0) -> None:
    """Plan an evening for a class whose students want to be asked at different times.

    Parameters
    ----------
    late : int
        Students besides, whose moment comes shortly before quiet hours.
    """
    school = Stage(connect(url), at(MONDAY, 8))
    group = add_class(school, questions_per_nudge=3, quiet_from=QUIET_FROM * 60)
    for number in range(6):
        teach(school, group, f"Topic {number}", at(MONDAY - (3 + number) * DAY, 10), [CHOICE])
    school.run(_enrol, group, school.now, late)
    school.run(planning.look_at_all, school.now)
    school.go_to(at(MONDAY, 15, 20))
    school.db.close()


def _enrol(session: Session, group: Group, now: datetime, late: int) -> None:
    for number in range(STUDENTS + late):
        minute = 15 * 60 + 30 + number * HOURS * 60 // STUDENTS if number < STUDENTS else QUIET_FROM * 60 - 10
        contact = people.meet(session, "terminal", f"s{number}", f"chat-s{number}", now)
        student = enrolments.join(session, group.id, contact.person_id, f"S{number}", now - 30 * DAY)
        enrolments.set_times(session, student.id or 0, nudge_minute=minute)


@dataclass
class Drill:
    """Begins and ends lives of the bot (`tests.servers.kill_bot`)."""

    url: str
    socket: Path
    forker: Forker
    lives: int = 0

    async def begin(self, start: datetime, speed: float, **more: Any) -> int:
        """Begin a life whose clock starts at a moment; return its process id."""
        self.lives += 1
        order = {
            "url": self.url,
            "socket": str(self.socket),
            "life": self.lives,
            "start": start.isoformat(),
            "speed": speed,
        }
        return await self.forker.begin(order | more)

    async def kill(self, pid: int) -> None:
        """End a life at once."""
        await self.forker.end(pid, signal.SIGKILL)

    async def stop(self, pid: int) -> None:
        """End a life in good order."""
        await self.forker.end(pid, signal.SIGTERM)


@asynccontextmanager
async def drill(url: str, socket: Path) -> AsyncIterator[Drill]:
    """Load the bot, for lives on a database and with a platform's socket."""
    async with forking("tests.servers.kill_bot") as forker:
        yield Drill(url, socket, forker)


def nothing_waits(session: Session, now: datetime) -> bool:
    """Whether all that came in is done and all that was due is out."""
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
    """Read it."""
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


def verify(platform: Platform, found: Found, late: int = 0) -> dict[str, int]:
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
    assert states[NudgeState.EXPIRED] == late
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
