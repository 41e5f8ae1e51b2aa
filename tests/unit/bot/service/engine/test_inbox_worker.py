"""What comes in is stored whatever happens, handled once, and in the order of each person."""

from __future__ import annotations

import asyncio
import random
import threading

import pytest
from sqlmodel import col, select

from bot.chat.port import Incoming, TextSaid
from bot.clock import HandClock
from bot.service.engine import inbox_worker, loop
from bot.service.engine.context import AppContext
from bot.service.engine.inbox_worker import Inbox
from storage.queue import inbox
from storage.school import people
from storage.tables import InboxItem, Person
from tests.conftest import NOW


def said(key, text="hello", user="mira"):
    return Incoming("terminal", key, f"chat-{user}", user, "private", NOW, TextSaid(text))


@pytest.fixture
def worker(shared_db):
    return Inbox(shared_db, AppContext(), HandClock(NOW))


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
    assert worker.counters.handled == 1


async def test_a_fault_in_handling_undoes_the_handling_and_keeps_what_came_in(worker, monkeypatch, caplog):
    def fails(session, app_context, event, now):
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
    assert worker.counters.troubled == 1


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


# ---------------------------------------------------------------- order, whatever fails


async def test_f10_what_comes_behind_an_event_that_failed_once_waits_for_it(worker, monkeypatch):
    """The first failed once and was to be tried again; the second was handled at once and overtook it."""
    handled = fails_once(monkeypatch, "1")
    running, stop = start(worker)
    for key in ("1", "2", "3"):
        await worker.receive(said(f"k{key}", key))
    await settled(worker)
    assert handled == []
    assert [row.done_at for row in rows(worker.db)] == [None] * 3
    await worker.receive(said("other", "not before me", "tom"))
    await settled(worker)
    assert handled == ["not before me"]  # others do not wait
    await try_again(worker)
    assert handled == ["not before me", "1", "2", "3"]
    stop.set()
    await running


async def test_f10_what_comes_while_the_first_fails_is_stored_behind_it(shared_db, monkeypatch):
    """The first was stored again by a later transaction, behind the second that had come meanwhile."""
    one, two = (Inbox(shared_db, AppContext(), HandClock(NOW)) for _ in range(2))
    begun, go_on = threading.Event(), threading.Event()
    handled = fails_once(monkeypatch, "1", begun, go_on)
    first = asyncio.create_task(one.receive(said("k1", "1")))
    await asyncio.to_thread(begun.wait)
    others = [
        asyncio.create_task(one.receive(said("k2", "2"))),
        asyncio.create_task(two.receive(said("k3", "3"))),
    ]
    await asyncio.sleep(0)  # both have asked for their transaction now
    go_on.set()
    await asyncio.gather(first, *others)
    assert next(row.event["content"]["text"] for row in rows(shared_db)) == "1"
    for each in (one, two):
        running, stop = start(each)
        await try_again(each)
        stop.set()
        await running
    assert handled[0] == "1"
    assert sorted(handled) == ["1", "2", "3"]


async def test_f10_two_workers_keep_each_persons_order_whatever_fails(shared_db, monkeypatch):
    """Two processes share an inbox; a third of the attempts fails; each person's events go out as they came."""
    workers = [Inbox(shared_db, AppContext(), HandClock(NOW)) for _ in range(2)]
    handled: list[tuple[str, int]] = []
    rng, guard = random.Random(11), threading.Lock()
    tries: dict[str, int] = {}

    def sometimes(_session, _app_context, event, _now):
        with guard:
            name = event.content.text
            tries[name] = tries.get(name, 0) + 1
            if tries[name] < inbox.GIVE_UP_AFTER and rng.random() < 1 / 3:
                raise RuntimeError("not this time")
            handled.append((event.user, int(name.split()[1])))

    monkeypatch.setattr(loop, "handle", sometimes)
    running = [start(worker) for worker in workers]
    for number in range(12):  # of one person each comes after the one before was stored, at either worker
        await asyncio.gather(
            *(
                workers[rng.randrange(2)].receive(said(f"{who}{number}", f"{who} {number}", who))
                for who in ("mira", "tom", "elif")
            )
        )
    while any(row.done_at is None for row in rows(shared_db)):
        for worker in workers:
            await try_again(worker)
    for task, stop in running:
        stop.set()
        await task
    for who in ("mira", "tom", "elif"):
        assert [number for user, number in handled if user == who] == list(range(12))


def fails_once(
    monkeypatch, text: str, begun: threading.Event | None = None, go_on: threading.Event | None = None
) -> list[str]:
    """Let the first attempt at handling a text fail, once `go_on` is set; return where handled texts are noted."""
    handled: list[str] = []
    failed: list[str] = []

    def handle(_session, _app_context, event, _now):
        if event.content.text == text and not failed:
            if begun is not None and go_on is not None:
                begun.set()
                assert go_on.wait(30)
            failed.append(text)
            raise RuntimeError("not this time")
        handled.append(event.content.text)

    monkeypatch.setattr(loop, "handle", handle)
    return handled


def start(worker: Inbox) -> tuple[asyncio.Task[None], asyncio.Event]:
    stop = asyncio.Event()
    return asyncio.create_task(worker.run(stop)), stop


async def settled(worker: Inbox) -> None:
    async with asyncio.timeout(30):
        while not worker.idle:  # noqa: ASYNC110 - a state of several parts, not one event
            await asyncio.sleep(0.005)


async def try_again(worker: Inbox) -> None:
    """Let the time go by after which what failed is tried again, and look."""
    assert isinstance(worker.clock, HandClock)
    await worker.clock.advance(inbox_worker.RETRY_AFTER.total_seconds() + 1)
    await worker.sweep()
    await settled(worker)
