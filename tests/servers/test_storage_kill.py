"""A writer that is killed at random moments, on both databases. Prints counts.

Every child takes deliveries, some of them repeated, records each with its effect and its reply in one
transaction, and says so once that is committed. SIGKILL tests that nothing acknowledged is lost and nothing
counted twice when a process dies; it does not test the disk's promise to keep what was synced.

HOLDFAST_DRILL_KILLS sets how many times (default 4 per database).
"""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
import sqlalchemy as sa
from sqlmodel import func, select

from storage.base.database import connect
from storage.tables import InboxItem, OutboxItem, Person

ROOT = Path(__file__).parents[2]
KILLS = int(os.environ.get("HOLDFAST_DRILL_KILLS", "4"))

WRITER = """
import itertools, sys
from datetime import UTC, datetime
from types import SimpleNamespace
from storage.queue import inbox, outbox
from storage.base.database import connect
from storage.tables import Person

now = datetime(2026, 9, 1, 12, tzinfo=UTC)
db = connect(sys.argv[1])
reply = SimpleNamespace(body={"text": [["right", False]], "key": "", "urgent": True}, attachment=None)
print("ready", flush=True)
for number in itertools.count(int(sys.argv[2])):
    for key in (number, number - 1, max(0, number - 7)):  # the platform repeats itself
        with db.begin() as session:
            item = inbox.record(session, platform="t", key=str(key), user="u", event={"n": key}, now=now)
            if item is not None:
                session.add(Person(created_at=now, language=str(key)))
                outbox.put(session, "t", "u", reply, now=now)
                inbox.done(session, item, now)
        print(key, flush=True)
"""


def killed_run(url: str, first: int, rng: random.Random) -> set[int]:
    """Let a writer work, kill it, and return the deliveries that it acknowledged."""
    command = [sys.executable, "-c", WRITER, url, str(first)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=ROOT) as writer:
        assert writer.stdout is not None
        assert writer.stdout.readline() == "ready\n"
        lines = [writer.stdout.readline() for _ in range(rng.randrange(1, 40))]
        time.sleep(rng.uniform(0, 0.05))  # a real process, so real time: somewhere within a transaction
        os.kill(writer.pid, signal.SIGKILL)
        lines += writer.stdout.readlines()
        writer.wait()
    return {int(line) for line in lines if line.endswith("\n")}


@pytest.mark.slow
def test_what_was_acknowledged_before_a_kill_is_there_exactly_once(
    shared_url: str, capsys: pytest.CaptureFixture[str]
):
    rng = random.Random(20260901)
    acknowledged: set[int] = set()
    for _ in range(KILLS):
        acknowledged |= killed_run(shared_url, max(acknowledged, default=0) + 1, rng)
    database = connect(shared_url)
    with database.begin() as session:
        keys = [int(key) for key in session.exec(select(InboxItem.key))]
        effects = [int(key) for key in session.exec(select(Person.language))]
        replies = session.exec(select(func.count()).select_from(OutboxItem)).one()
        if not database.is_postgresql:
            assert session.connection().execute(sa.text("PRAGMA integrity_check")).scalar() == "ok"
    database.close()
    with capsys.disabled():
        sys.stdout.write(
            f"\n{database.engine.dialect.name}: {KILLS} kills, {len(acknowledged)} deliveries acknowledged, "
            f"{len(keys)} stored, {len(acknowledged - set(keys))} lost, {len(effects) - len(set(effects))} doubled\n"
        )
    assert acknowledged <= set(keys)
    assert sorted(effects) == sorted(keys)
    assert replies == len(keys)
