"""What comes in is stored whatever happens, handled once, and in the order of each person."""

from __future__ import annotations

import asyncio

import pytest
from sqlmodel import col, select

from bot.chat.port import Incoming, TextSaid
from bot.clock import HandClock
from bot.service import inbox_worker, loop
from bot.service.desk import Desk
from bot.service.inbox_worker import Inbox
from storage import inbox, people
from storage.tables import InboxItem, Person
from tests.conftest import NOW


def said(key, text="hello", user="mira"):
    return Incoming("terminal", key, f"chat-{user}", user, "private", NOW, TextSaid(text))


@pytest.fixture
def worker(shared_db):
    return Inbox(shared_db, Desk(), HandClock(NOW))


def rows(db):
    with db.begin() as session:
        return list(session.exec(select(InboxItem).order_by(col(InboxItem.id))))


async def test_an_event_that_nobody_is_before_is_handled_in_the_transaction_that_stores_it(worker):
    commits = []
    worker.db.before_statement = lambda text: commits.append(text) if text == "COMMIT" else None
    await worker.receive(said("k1"))
    (row,) = rows(worker.db)
    assert row.done_at is not None
    assert len(commits) == 2  # one of them is this test's own look
    await worker.receive(said("k1"))
    assert worker.tally.handled == 1


async def test_a_fault_in_handling_undoes_the_handling_and_keeps_what_came_in(worker, monkeypatch, caplog):
    def fails(session, desk, event, now):
        people.meet(session, "terminal", "mira", "chat-mira", now)
        raise RuntimeError(event.content.text)

    monkeypatch.setattr(loop, "handle", fails)
    await worker.receive(said("k1", "a secret"))
    (row,) = rows(worker.db)
    assert (row.done_at, row.attempts, row.failed.split()[0]) == (None, 1, "RuntimeError")
    with worker.db.begin() as session:
        assert session.exec(select(Person)).all() == []
        assert inbox.claim(session, NOW + inbox_worker.RETRY_AFTER, only=row.id)
    assert "a secret" not in caplog.text
    assert worker.tally.troubled == 1


async def test_a_commit_that_fails_is_told_to_the_adapter_which_delivers_again(worker):
    def fails(text):
        if text == "COMMIT":
            raise OSError("the disk is full")

    worker.db.before_statement = fails
    with pytest.raises(OSError, match="disk"):
        await worker.receive(said("k1"))
    worker.db.before_statement = None
    assert rows(worker.db) == []
    assert worker.idle
    await worker.receive(said("k1"))
    assert [row.done_at for row in rows(worker.db)] == [NOW]


async def test_events_of_one_person_that_come_at_once_are_handled_in_their_order(worker, monkeypatch):
    handled, stop = [], asyncio.Event()
    monkeypatch.setattr(loop, "handle", lambda _s, _d, event, _n: handled.append(event.content.text))
    running = asyncio.create_task(worker.run(stop))
    await asyncio.gather(*(worker.receive(said(f"k{n}", str(n))) for n in range(12)))
    async with asyncio.timeout(30):
        while not worker.idle:  # noqa: ASYNC110 - a state of several parts, not one event
            await asyncio.sleep(0.01)
    stop.set()
    await running
    order = [row.event["content"]["text"] for row in rows(worker.db)]
    assert handled == order or worker.db.is_postgresql  # there, several threads store at once
    assert sorted(handled, key=int) == [str(n) for n in range(12)]
