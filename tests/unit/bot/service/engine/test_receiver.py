"""One process receives from a chat that bears only one; the others stand by and take over."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass, field

import pytest

from bot.app import build
from bot.chat.packing import pack
from bot.chat.port import Capabilities, ChatStopped, Limits, Message
from bot.clock import WallClock
from bot.health import Health
from bot.service.engine import receiver
from bot.service.engine.context import AppContext
from bot.service.engine.due_work import DueItem, Elsewhere, WorkContext, _do
from bot.service.engine.receiver import Reachable, Receiver
from bot.words.rich import Rich
from storage.base.database import connect
from storage.queue import due, leader_lock, outbox
from storage.tables import Due
from tests.conftest import NOW


@dataclass
class Chat:
    name: str = "fake"
    alone: bool = True
    sends_alone: bool = False
    limits: Limits = field(default_factory=Limits)
    refused: str = ""
    runs: int = 0
    running: bool = False
    sent: list[str] = field(default_factory=list)

    async def run(self, on_event, stop):
        if self.refused:
            raise ChatStopped(self.refused)
        self.runs, self.running = self.runs + 1, True
        await stop.wait()
        self.running = False

    async def send(self, address, message, *, token, edits=""):
        self.sent.append(message.text.plain)
        return "1"

    async def fetch(self, handle):
        return b"bytes"

    @property
    def capabilities(self) -> Capabilities:
        return Capabilities(receives_alone=self.alone, sends_alone=self.sends_alone)


@pytest.fixture(autouse=True)
def soon(monkeypatch):
    monkeypatch.setattr(receiver, "TRY_EVERY_S", 0.02)
    monkeypatch.setattr(receiver, "LOOK_EVERY_S", 0.02)


async def until(true):
    async with asyncio.timeout(10):
        while not true():  # noqa: ASYNC110 - a state of several parts, not one event
            await asyncio.sleep(0.005)


async def never(_event):
    raise AssertionError("nothing comes in")


async def test_one_receives_the_other_stands_by_and_takes_over(shared_url):
    first, second = connect(shared_url), connect(shared_url)
    chats = Chat(), Chat()
    one, other = Receiver(first, chats[0]), Receiver(second, chats[1])
    stops = asyncio.Event(), asyncio.Event()
    running = asyncio.create_task(one.run(never, stops[0]))
    await until(lambda: chats[0].running)
    waiting = asyncio.create_task(other.run(never, stops[1]))
    await asyncio.sleep(0.1)
    assert (one.standing_by, other.standing_by, chats[1].runs) == (False, True, 0)
    stops[0].set()
    await running
    await until(lambda: chats[1].running)
    assert (one.standing_by, other.standing_by) == (True, False)
    stops[1].set()
    await waiting
    first.close()
    second.close()


@pytest.mark.server
async def test_a_turn_that_is_lost_ends_receiving_cleanly_and_is_taken_again(postgres_url, postgres_server):
    db = connect(postgres_url)
    chat, stop = Chat(), asyncio.Event()
    own_receiver = Receiver(db, chat)
    running = asyncio.create_task(own_receiver.run(never, stop))
    await until(lambda: chat.running)
    postgres_server.execute("SELECT pg_terminate_backend(pid) FROM pg_locks WHERE locktype = 'advisory'")
    await until(lambda: chat.runs == 2)
    assert not own_receiver.standing_by
    stop.set()
    await running
    again = leader_lock.take(db, "fake")
    assert again is not None
    again.end()
    db.close()


async def test_f35_a_process_that_lost_its_turn_notices_and_stands_by(memory_db, monkeypatch, caplog):
    """On any database: who has lost it stops receiving, and asks for the turn again."""

    class Lost:
        ends = 0

        def holds(self):
            return False

        def end(self):
            Lost.ends += 1

    given = [Lost()]
    monkeypatch.setattr(leader_lock, "take", lambda _db, _name: given.pop() if given else None)
    chat, stop = Chat(), asyncio.Event()
    own_receiver = Receiver(memory_db, chat)
    running = asyncio.create_task(own_receiver.run(never, stop))
    await until(lambda: chat.runs == 1 and not chat.running)
    await until(lambda: own_receiver.standing_by and Lost.ends)
    assert Lost.ends == 1
    assert "this one stands by" in caplog.text
    stop.set()
    await running
    assert chat.runs == 1


async def test_a_database_that_does_not_answer_means_that_the_turn_is_lost(memory_db, monkeypatch):
    monkeypatch.setattr(receiver, "ANSWER_WITHIN_S", 0.05)
    stuck, chat, stop = asyncio.Event(), Chat(), asyncio.Event()
    own_receiver, lock = Receiver(memory_db, chat), leader_lock.take(memory_db, "fake")
    assert lock is not None

    async def slow(_ask):
        await stuck.wait()

    monkeypatch.setattr(asyncio, "to_thread", slow)
    assert await own_receiver._receive(lock, never, stop) is True
    assert not chat.running


@pytest.mark.parametrize("turns_of_the_loop", range(8))
async def test_whoever_is_cancelled_while_the_database_answers_ends(
    memory_db, monkeypatch, turns_of_the_loop
):
    """At whichever turn of the loop it comes: between the answer and whoever waits for it, too."""
    monkeypatch.setattr(receiver, "LOOK_EVERY_S", 0.0)
    asked, answer, chat = asyncio.Event(), asyncio.get_running_loop().create_future(), Chat()
    lock = leader_lock.take(memory_db, "fake")
    assert lock is not None

    async def asking(_ask):
        asked.set()
        return await answer

    monkeypatch.setattr(asyncio, "to_thread", asking)
    receiving = asyncio.create_task(Receiver(memory_db, chat)._receive(lock, never, asyncio.Event()))
    await asked.wait()
    answer.set_result(True)
    for _ in range(turns_of_the_loop):
        await asyncio.sleep(0)
    receiving.cancel()
    done, _ = await asyncio.wait({receiving}, timeout=5)
    assert done, "it goes on receiving"
    assert receiving.cancelled()


async def test_a_chat_that_stops_for_good_says_so_and_frees_its_turn(sqlite_url):
    db = connect(sqlite_url)
    with pytest.raises(ChatStopped):
        await Receiver(db, Chat(refused="The token is wrong.")).run(never, asyncio.Event())
    assert leader_lock.take(db, "fake") is not None
    db.close()


async def test_a_chat_that_bears_many_asks_for_no_turn(sqlite_url):
    db = connect(sqlite_url)
    held, chat, stop = leader_lock.take(db, "fake"), Chat(alone=False), asyncio.Event()
    own_receiver = Receiver(db, chat)
    running = asyncio.create_task(own_receiver.run(never, stop))
    await until(lambda: chat.running)
    assert held is not None
    assert not own_receiver.standing_by
    stop.set()
    await running
    db.close()


# ---------------------------------------------------------------- the app while it stands by


async def run_beside_another(url, check, **how):
    """Run an app while another process has its chat, check something, then let it have the turn."""
    db, other = connect(url), connect(url)
    held = leader_lock.take(other, "fake")
    chat, stop = Chat(**how), asyncio.Event()
    app = build(db, WallClock(), [chat], AppContext(), tick_s=0.05)
    assert held is not None
    with db.begin() as session:
        outbox.put(session, "fake", "a", pack(Message(Rich.of("hello"))), now=NOW)
    running = asyncio.create_task(app.run(stop))
    await until(lambda: app.beat_at > 0)
    await check(app)
    held.end()
    await until(lambda: chat.running and chat.sent)
    stop.set()
    await running
    again = leader_lock.take(other, "fake")
    assert again is not None
    again.end()
    db.close()
    other.close()


async def test_a_process_that_stands_by_is_well_and_sends_what_it_can(sqlite_url, tmp_path):
    async def check(app):
        await until(lambda: app.chats["fake"].sent == ["hello"])
        found = {one.name: one for one in await Health(app, tmp_path).ready()}
        assert found["chat fake"].good
        assert "standing by" in found["chat fake"].sentence
        assert b'holdfast_chat_standing_by{platform="fake"} 1.0' in await Health(app, tmp_path).metrics()

    await run_beside_another(sqlite_url, check)


async def test_what_only_the_receiving_process_can_send_waits_for_it(sqlite_url):
    async def check(app):
        await asyncio.sleep(0.3)
        assert app.chats["fake"].sent == []
        with pytest.raises(Elsewhere):
            app.work_context.chats["fake"]

    await run_beside_another(sqlite_url, check, sends_alone=True)


async def test_work_for_another_process_is_put_off_without_counting(memory_db, monkeypatch):
    async def fetches(work_context, item):
        await work_context.chats["fake"].fetch("h1")

    monkeypatch.setattr("bot.service.engine.due_work._HANDLERS", {"fetch": fetches})
    own_receiver = Receiver(memory_db, Chat(sends_alone=True))
    work_context = WorkContext(memory_db, AppContext(), WallClock(), Reachable({"fake": own_receiver}))
    assert (list(work_context.chats), len(work_context.chats)) == (["fake"], 1)
    now = work_context.clock.now()
    with memory_db.begin() as session:
        due.ensure(session, "fetch:1", "fetch", now)
        (row,) = due.claim(session, now)
    assert row.id is not None
    await _do(work_context, DueItem(row.id, row.key, row.kind, None, {}, now, 1, row.lease_token))
    with memory_db.begin() as session:
        row = session.get_one(Due, row.id)
        assert (row.done_at, row.attempts, row.due_at > now) == (None, 0, True)
    assert not work_context.counters.failed
