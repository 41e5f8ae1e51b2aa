"""Senders and workers that crash at any moment, as a machine of random steps.

Invariants of the outbox: a message is sent at least once unless it was dropped or refused; a message that
was reported as sent never goes out again; within a chat no message goes out before an earlier one is
settled; two senders never hold the same message, nor two messages of one chat, at the same time. Of due
work: every row is done exactly once, however often workers die; nothing is handed out before its moment.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule
from sqlmodel import select

from storage.base.database import connect
from storage.queue import due, inbox, outbox
from storage.queue.outbox_messages import ClaimedMessage
from storage.tables import Due, OutboxItem, OutboxState
from tests.contracts.storage_school import NOW, said

LEASE = timedelta(seconds=60)
CHATS = st.sampled_from(["mira", "tom", "elif"])


class QueueMachine(RuleBasedStateMachine):
    """Two queues in one database; a model in plain Python beside it."""

    def __init__(self) -> None:
        super().__init__()
        self.db = connect("sqlite://")
        self.now = NOW
        self.held: dict[int, tuple[ClaimedMessage, datetime]] = {}
        self.arrived: dict[int, int] = {}
        self.settled: set[int] = set()
        self.chat_of: dict[int, str] = {}
        self.working: dict[str, tuple[int, datetime]] = {}
        self.done: dict[str, int] = {}
        self.due_at: dict[str, datetime] = {}
        self.came: dict[str, bool] = {}

    def teardown(self) -> None:
        self.finish()
        self.db.close()

    # -- the outbox

    @rule(chat=CHATS, urgent=st.booleans(), wait=st.sampled_from([0, 0, 90]))
    def put(self, chat: str, urgent: bool, wait: int) -> None:
        with self.db.begin() as session:
            number = outbox.put(
                session,
                "t",
                chat,
                said(urgent=urgent),
                now=self.now,
                not_before=self.now + timedelta(seconds=wait),
            )
        self.chat_of[number] = chat

    @rule(limit=st.integers(1, 3))
    def claim(self, limit: int) -> None:
        with self.db.begin() as session:
            items = outbox.claim(session, self.now, limit=limit, lease=LEASE)
            rows = {row.id: row for row in session.exec(select(OutboxItem))}
        in_hand = {n for n, (_, until) in self.held.items() if until > self.now}
        for item in items:
            assert item.id not in in_hand, "two senders hold one message"
            assert item.address not in {self.chat_of[n] for n in in_hand}, (
                "one chat in the hands of two senders"
            )
            assert item.id not in self.settled, "sent again after it was settled"
            assert rows[item.id].not_before <= self.now
            earlier = [n for n in self.chat_of if n < item.id and self.chat_of[n] == item.address]
            together = {one.id for one in items[: items.index(item)]}
            overtaken = [n for n in earlier if n not in self.settled | together and rows[n].attempts > 0]
            assert not overtaken, "went out before an earlier message"
            self.held[item.id] = (item, self.now + LEASE)

    def first_in_hand(self, data: st.DataObject) -> int:
        """Draw a message in hand; of one chat, only the first can be drawn: senders keep the order."""
        first: dict[str, int] = {}
        for number in sorted(self.held):
            first.setdefault(self.chat_of[number], number)
        return data.draw(st.sampled_from(sorted(first.values())))

    @precondition(lambda self: self.held)
    @rule(data=st.data())
    def send_and_report(self, data: st.DataObject) -> None:
        number = self.first_in_hand(data)
        del self.held[number]
        self.arrived[number] = self.arrived.get(number, 0) + 1
        with self.db.begin() as session:
            outbox.sent(session, number, f"ref-{number}", self.now)
        self.settled.add(number)

    @precondition(lambda self: self.held)
    @rule(data=st.data(), arrived=st.booleans())
    def sender_dies(self, data: st.DataObject, arrived: bool) -> None:
        """The message may have arrived; nobody says so."""
        number = self.first_in_hand(data)
        item, _ = self.held.pop(number)
        for behind in [n for n in self.held if self.chat_of[n] == item.address]:
            del self.held[behind]
        assert item.token.endswith(f"-{number}")
        self.arrived[number] = self.arrived.get(number, 0) + int(arrived)

    @precondition(lambda self: self.held)
    @rule(data=st.data(), seconds=st.sampled_from([0, 30, 120]))
    def sending_fails(self, data: st.DataObject, seconds: int) -> None:
        number = self.first_in_hand(data)
        item, until = self.held.pop(number)
        behind = [n for n in self.held if self.chat_of[n] == item.address]
        for other in behind:
            del self.held[other]
        if until <= self.now:
            return  # somebody else may have it by now: a dead sender says nothing
        with self.db.begin() as session:
            outbox.give_back(session, dict.fromkeys(behind))
            if outbox.failed(session, number, "time-out", retry_at=self.now + timedelta(seconds=seconds)):
                self.settled.add(number)

    # -- due work

    @rule(key=st.sampled_from(["a", "b", "c", "d"]), wait=st.sampled_from([0, 45, 300]))
    def plan(self, key: str, wait: int) -> None:
        with self.db.begin() as session:
            new = due.ensure(session, key, "k", self.now + timedelta(seconds=wait))
        assert new == (key not in self.due_at)
        self.due_at.setdefault(key, self.now + timedelta(seconds=wait))

    @rule()
    def take_due(self) -> None:
        with self.db.begin() as session:
            rows = due.claim(session, self.now, lease=LEASE)
        for row in rows:
            assert self.due_at[row.key] <= self.now
            assert row.key not in self.done, "done twice"
            assert row.key not in self.working or self.working[row.key][1] <= self.now, "two workers at once"
            self.working[row.key] = (row.id or 0, self.now + LEASE)

    @precondition(lambda self: self.working)
    @rule(data=st.data(), dies=st.booleans())
    def finish_work(self, data: st.DataObject, dies: bool) -> None:
        key = data.draw(st.sampled_from(sorted(self.working)))
        number, _ = self.working.pop(key)
        if dies:
            return
        with self.db.begin() as session:
            if due.done(session, number, self.now):
                self.done[key] = self.done.get(key, 0) + 1

    # -- the inbox

    @rule(key=st.sampled_from("123456"), user=CHATS)
    def arrive(self, key: str, user: str) -> None:
        with self.db.begin() as session:
            new = inbox.record(session, platform="t", key=key, user=user, event={}, now=self.now)
        assert (new is not None) == (key not in self.came)
        self.came.setdefault(key, False)

    @rule(dies=st.booleans())
    def handle(self, dies: bool) -> None:
        with self.db.begin() as session:
            items = inbox.claim(session, self.now, lease=LEASE)
        assert len({item.user for item in items}) == len(items)
        for item in items:
            assert not self.came[item.key], "handled twice"
            if not dies:
                with self.db.begin() as session:
                    self.came[item.key] = inbox.done(session, item.id, self.now)

    # -- time

    @rule(seconds=st.sampled_from([1, 30, 61, 600]))
    def time_passes(self, seconds: int) -> None:
        self.now += timedelta(seconds=seconds)
        self.held = {n: held for n, held in self.held.items() if held[1] > self.now}

    @rule(seconds=st.sampled_from([30, 7200]))
    def clock_is_set_back(self, seconds: int) -> None:
        self.now -= timedelta(seconds=seconds)

    @invariant()
    def what_is_settled_stays_settled(self) -> None:
        with self.db.begin() as session:
            open_ids = set(session.exec(select(OutboxItem.id).where(OutboxItem.state == OutboxState.WAITING)))
        assert open_ids == set(self.chat_of) - self.settled

    def finish(self) -> None:
        """A worker that lives to the end: everything gets done."""
        self.now += timedelta(days=1)
        for _ in range(200):
            with self.db.begin() as session:
                items = outbox.claim(session, self.now)
                for item in items:
                    outbox.sent(session, item.id, "ref", self.now)
                    self.arrived[item.id] = self.arrived.get(item.id, 0) + 1
                rows = due.claim(session, self.now)
                for row in rows:
                    assert due.done(session, row.id or 0, self.now)
                received = inbox.claim(session, self.now)
                for one in received:
                    assert inbox.done(session, one.id, self.now)
                    self.came[one.key] = True
            if not (items or rows or received):
                break
        with self.db.begin() as session:
            states = {row.id: row.state for row in session.exec(select(OutboxItem))}
            left = [row.key for row in session.exec(select(Due)) if row.done_at is None]
        assert OutboxState.WAITING not in states.values(), "a message was lost"
        assert all(
            self.arrived.get(n, 0) >= 1 for n, state in states.items() if n and state is OutboxState.SENT
        )
        assert left == []
        assert all(self.came.values())


TestQueues = QueueMachine.TestCase
TestQueues.settings = settings(max_examples=30, stateful_step_count=30, deadline=None)
