"""One process at a time, and the next one when it dies."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from storage.base.database import Database, connect, sqlite_path
from storage.queue import leader_lock

ROOT = Path(__file__).parents[2]

HOLDER = """
import sys, time
from storage.queue import leader_lock
from storage.base.database import connect, sqlite_path
lock = leader_lock.take(connect(sys.argv[1]), "telegram")
print("held" if lock else "refused", flush=True)
sys.stdin.read()
"""


def test_a_turn_is_taken_once_and_handed_on(shared_url: str):
    first, second = connect(shared_url), connect(shared_url)
    turn = leader_lock.take(first, "telegram")
    assert turn is not None
    assert turn.holds()
    assert leader_lock.take(second, "telegram") is None
    other = leader_lock.take(second, "matrix")
    assert other is not None
    turn.end()
    again = leader_lock.take(second, "telegram")
    assert again is not None
    assert leader_lock.take(first, "telegram") is None
    again.end()
    other.end()
    first.close()
    second.close()


def test_a_process_that_is_killed_hands_its_turn_on(shared_url: str):
    command = [sys.executable, "-c", HOLDER, shared_url]
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=ROOT
    ) as holder:
        assert holder.stdout is not None
        assert holder.stdout.readline().strip() == "held"
        database = connect(shared_url)
        assert leader_lock.take(database, "telegram") is None
        os.kill(holder.pid, signal.SIGKILL)
        holder.wait()
    for _ in range(10_000):  # the server notices the closed socket by itself
        if turn := leader_lock.take(database, "telegram"):
            break
    assert turn is not None
    turn.end()
    database.close()


def test_f35_a_turn_that_was_given_back_is_not_held(shared_url: str):
    database = connect(shared_url)
    turn = leader_lock.take(database, "telegram")
    assert turn is not None
    turn.end()
    assert not turn.holds()
    database.close()


def test_f35_a_turn_whose_file_was_deleted_is_lost(sqlite_url: str):
    """Whoever makes the file anew has a lock of their own: both would receive."""
    first, second = connect(sqlite_url), connect(sqlite_url)
    turn = leader_lock.take(first, "telegram")
    assert turn is not None
    path = sqlite_path(first.url)
    lock = path.with_name(f"{path.name}.telegram.lock")
    lock.unlink()
    assert not turn.holds()
    other = leader_lock.take(second, "telegram")
    assert other is not None
    assert other.holds()
    assert not turn.holds()
    for one in (turn, other):
        one.end()
    first.close()
    second.close()


@pytest.mark.server
def test_f35_a_turn_that_was_lost_stays_lost_however_often_it_is_asked_for(
    postgres_server, postgres_url: str
):
    """The second look would open a new connection, which holds nothing and finds nothing wrong."""
    database, other = connect(postgres_url), connect(postgres_url)
    turn = leader_lock.take(database, "telegram")
    assert turn is not None
    name = database.url.database
    postgres_server.execute(
        f"SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = '{name}'"
    )
    taken = leader_lock.take(other, "telegram")
    assert taken is not None
    assert [turn.holds() for _ in range(3)] == [False] * 3
    assert taken.holds()
    taken.end()
    turn.end()
    database.close()
    other.close()


@pytest.mark.server
def test_a_turn_whose_connection_was_cut_is_known_to_be_lost(postgres_server, postgres_url: str):
    database = connect(postgres_url)
    turn = leader_lock.take(database, "telegram")
    assert turn is not None
    name = database.url.database
    postgres_server.execute(
        f"SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = '{name}'"
    )
    assert not turn.holds()
    again = leader_lock.take(database, "telegram")
    assert again is not None
    again.end()
    turn.end()
    database.close()


@pytest.mark.server
def test_a_process_that_stands_still_loses_its_turn(postgres_url: str, monkeypatch: pytest.MonkeyPatch):
    """As one that was stopped by SIGSTOP, or whose machine sleeps: its connection is alive, but asks nothing."""
    monkeypatch.setattr(leader_lock, "SILENT_S", 0.2)
    stopped, other = connect(postgres_url), connect(postgres_url)
    turn = leader_lock.take(stopped, "telegram")
    assert turn is not None
    assert leader_lock.take(other, "telegram") is None
    until = time.monotonic() + 30
    while (taken := leader_lock.take(other, "telegram")) is None:
        assert time.monotonic() < until
    assert not turn.holds()
    taken.end()
    turn.end()
    stopped.close()
    other.close()


def test_a_database_in_memory_has_one_process(memory_db: Database):
    turn = leader_lock.take(memory_db, "telegram")
    assert turn is not None
    assert turn.holds()
    turn.end()
