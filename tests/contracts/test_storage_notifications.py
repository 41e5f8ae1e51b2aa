"""Waking other processes."""

from __future__ import annotations

import queue

import pytest
import sqlalchemy as sa

from storage.base.database import Database, connect
from storage.queue import notifications

pytestmark = pytest.mark.server

WITHIN_S = 20


@pytest.fixture
def heard(postgres_url: str, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(notifications, "_LOOK_EVERY_S", 0.05)
    db, said = connect(postgres_url), queue.Queue[str]()
    listener = notifications.NotificationListener(db, said.put)
    listener.start()
    assert listener.listening.wait(WITHIN_S)
    assert said.get(timeout=WITHIN_S) == ""
    yield said
    listener.stop()
    db.close()


def test_a_bell_is_heard_by_another_process_with_what_it_is_about(heard, postgres_url):
    other = connect(postgres_url)
    notifications.notify(other, "matrix")
    other.close()
    assert heard.get(timeout=WITHIN_S) == "matrix"


def test_who_lost_the_connection_listens_again_and_looks(heard, postgres_url, postgres_server, monkeypatch):
    monkeypatch.setattr(notifications, "_AGAIN_AFTER_S", 0.05)
    name = sa.make_url(postgres_url).database
    postgres_server.execute(
        f"SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = '{name}'"
    )
    assert heard.get(timeout=WITHIN_S) == "", "it looks at what it may have missed"


def test_without_postgresql_nothing_is_heard_and_nothing_fails(memory_db: Database):
    listener = notifications.NotificationListener(memory_db, lambda _what: None)
    listener.start()
    notifications.notify(memory_db, "matrix")
    listener.stop()
    assert not listener.listening.is_set()
