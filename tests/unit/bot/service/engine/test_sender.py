import asyncio
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

import pytest
from sqlmodel import select

from bot.chat.packing import pack
from bot.chat.port import (
    AddressMoved,
    Attachment,
    Capabilities,
    Limits,
    Message,
    OnEvent,
    SendError,
    SendFailed,
    SendRefused,
)
from bot.clock import HandClock
from bot.service.engine import sender as sending
from bot.service.engine.sender import OutboxSender
from bot.words.rich import Rich
from storage.base.database import connect
from storage.queue import outbox
from storage.school import people
from storage.tables import Contact, ContactState, OutboxItem, OutboxState

NOW = datetime(2026, 9, 7, 18, 0, tzinfo=UTC)


@dataclass
class FakeChat:
    name: str = "fake"
    limits: Limits = field(default_factory=Limits)
    capabilities: Capabilities = field(default_factory=Capabilities)
    sent: list[tuple[str, str, str]] = field(default_factory=list)
    tokens: list[str] = field(default_factory=list)
    attachments: list[Attachment] = field(default_factory=list)
    fail: Callable[[str], SendError | Exception | None] = lambda _address: None

    async def run(self, on_event: OnEvent, stop: asyncio.Event) -> None:
        await stop.wait()

    async def send(self, address: str, message: Message, *, token: str, edits: str = "") -> str:
        self.tokens.append(token)
        error = self.fail(address)
        if error is not None:
            raise error
        self.sent.append((address, message.text.plain, edits))
        if message.attachment is not None:
            self.attachments.append(message.attachment)
        return f"ref{len(self.sent)}"

    async def fetch(self, handle: str) -> bytes:
        raise SendRefused("no files here")


@pytest.fixture
def db():
    database = connect("sqlite://")
    yield database
    database.close()


@pytest.fixture
def chat():
    return FakeChat()


@pytest.fixture
def sender(db, chat):
    return OutboxSender(db, chat, HandClock(NOW))


def _put(db, text, address="a", **more):
    message = Message(
        Rich.of(text), **{k: v for k, v in more.items() if k in {"key", "replaces", "urgent", "attachment"}}
    )
    rest = {k: v for k, v in more.items() if k in {"not_before", "not_after"}}
    with db.begin() as session:
        return outbox.put(session, "fake", address, pack(message), now=NOW, **rest)


def _row(db, item_id):
    with db.begin() as session:
        return session.get(OutboxItem, item_id)


async def test_drain_sends_in_order_and_keeps_the_reference(db, chat, sender):
    first, second = _put(db, "one"), _put(db, "two")
    assert await sender.drain() == 2
    assert [text for _, text, _ in chat.sent] == ["one", "two"]
    assert _row(db, first).state is OutboxState.SENT
    assert _row(db, second).message_ref == "ref2"


async def test_drain_sends_answers_before_nudges(db, chat, sender):
    _put(db, "nudge", "a", urgent=False)
    _put(db, "answer", "b", urgent=True)
    await sender.drain()
    assert [text for _, text, _ in chat.sent] == ["answer", "nudge"]


async def test_drain_edits_the_message_that_is_replaced(db, chat, sender):
    _put(db, "question", key="review:1")
    await sender.drain()
    _put(db, "right", key="review:1", replaces="review:1")
    await sender.drain()
    assert chat.sent[1] == ("a", "right", "ref1")


async def test_drain_carries_attachments(db, chat, sender):
    picture = Attachment("week.png", "image/png", b"\x89PNG", "a picture of the week")
    _put(db, "week", attachment=picture)
    await sender.drain()
    assert chat.attachments == [picture]


async def test_drain_waits_for_not_before(db, chat, sender):
    _put(db, "later", not_before=NOW + timedelta(hours=1))
    assert await sender.drain() == 0
    await sender.clock.advance(3600)
    assert await sender.drain() == 1


async def test_drain_drops_what_came_too_late(db, chat, sender):
    item = _put(db, "nudge", not_after=NOW + timedelta(minutes=5))
    await sender.clock.advance(600)
    assert await sender.drain() == 0
    assert _row(db, item).state is OutboxState.DROPPED


async def test_a_failed_message_is_tried_again_with_the_same_token(db, chat, sender):
    errors: list[SendError | None] = [SendFailed("connection lost", ambiguous=True), None]
    chat.fail = lambda _address: errors.pop(0)
    item = _put(db, "one")
    await sender.drain()
    assert _row(db, item).state is OutboxState.WAITING
    await sender.clock.advance(60)
    await sender.drain()
    assert _row(db, item).state is OutboxState.SENT
    assert len(set(chat.tokens)) == 1


async def test_a_platform_that_asks_for_patience_gets_it_and_no_attempt_is_counted(db, chat, sender):
    errors: list[SendError | None] = [SendFailed("too many", retry_after_s=30, whole_platform=True), None]
    chat.fail = lambda _address: errors.pop(0)
    item = _put(db, "one")
    await sender.drain()
    assert _row(db, item).attempts == 0
    await sender.clock.advance(29)
    assert await sender.drain() == 0
    await sender.clock.advance(1)
    assert await sender.drain() == 1


async def test_a_later_message_never_overtakes_one_that_failed(db, chat, sender):
    errors: list[SendError | None] = [SendFailed("connection lost"), None, None]
    chat.fail = lambda _address: errors.pop(0)
    _put(db, "one")
    _put(db, "two")
    await sender.drain()
    await sender.clock.advance(60)
    await sender.drain()
    assert [text for _, text, _ in chat.sent] == ["one", "two"]


async def test_f35_messages_behind_one_that_failed_are_given_back_at_once(db, chat, sender):
    """Not held until a lease runs out: they go with the first as soon as that gets through."""
    errors: list[SendError | None] = [SendFailed("connection lost"), None, None, None]
    chat.fail = lambda _address: errors.pop(0)
    first, *behind = [_put(db, text) for text in ("one", "two", "three")]
    await sender.drain()
    await sender._note()
    for item in behind:
        assert (_row(db, item).lease_until, _row(db, item).attempts) == (None, 0)
    await sender.clock.advance(sending.BACKOFF_S * 1.25 + 0.1)  # much less than a lease
    await sender.drain()
    assert [text for _, text, _ in chat.sent] == ["one", "two", "three"]
    assert _row(db, first).state is OutboxState.SENT


async def test_f35_a_process_that_stops_leaves_nothing_claimed(db, chat, sender):
    """What it could not send is free for the next process at once, and counts no attempt."""
    chat.fail = lambda _address: SendFailed("connection lost")
    items = [_put(db, text, address) for address in ("a", "b") for text in ("one", "two", "three")]
    stop = asyncio.Event()
    running = asyncio.create_task(sender.run(stop))
    sender.wake()
    async with asyncio.timeout(10):
        while len(chat.tokens) < 2:  # noqa: ASYNC110 - the fake has no event to wait for
            await asyncio.sleep(0)
    stop.set()
    await asyncio.wait_for(running, 10)
    assert [(_row(db, one).lease_until, _row(db, one).attempts) for one in items] == [(None, 0)] * 6


async def test_somebody_who_blocked_us_is_left_alone(db, chat, sender):
    with db.begin() as session:
        people.meet(session, "fake", "u", "a", NOW)
    chat.fail = lambda _address: SendRefused("blocked", unreachable=True)
    first, second = _put(db, "one"), _put(db, "two")
    await sender.drain()
    assert _row(db, first).state is OutboxState.FAILED
    assert _row(db, second).state is OutboxState.DROPPED
    with db.begin() as session:
        contact = people.find_contact(session, "fake", "u")
        assert contact is not None
        assert contact.state is ContactState.BLOCKED


async def test_a_moved_chat_is_followed(db, chat, sender):
    chat.fail = lambda address: AddressMoved("b") if address == "a" else None
    _put(db, "one", "a")
    await sender.drain()
    assert chat.sent == [("b", "one", "")]


async def test_a_fault_of_an_adapter_is_kept_apart_and_tried_again(db, chat, sender, caplog):
    errors: list[Exception | None] = [RuntimeError("secret text"), None]
    chat.fail = lambda _address: errors.pop(0)
    item = _put(db, "one")
    await sender.drain()
    assert "secret text" not in caplog.text
    assert _row(db, item).state is OutboxState.WAITING
    await sender.clock.advance(600)
    await sender.drain()
    assert _row(db, item).state is OutboxState.SENT


async def test_a_failure_that_cannot_be_noted_holds_up_nobody_else(shared_url, chat, monkeypatch, caplog):
    """Neither on the database that ends a transaction at a statement it refuses nor on the other one."""

    def twice(session, platform, address, new_address):
        for _ in range(2):
            session.add(
                Contact(
                    person_id=1, platform=platform, user=new_address, address=new_address, last_heard_at=NOW
                )
            )
        session.flush()

    monkeypatch.setattr(outbox, "moved", twice)
    db, clock = connect(shared_url), HandClock(NOW)
    sender = OutboxSender(db, chat, clock)
    chat.fail = lambda address: AddressMoved("secret name") if address == "a" else None
    stuck, other = _put(db, "one", "a"), _put(db, "two", "b")
    for _ in range(outbox.GIVE_UP_AFTER):
        assert _row(db, stuck).state is OutboxState.WAITING
        await sender.drain()
        await clock.advance(3600)
    assert _row(db, other).state is OutboxState.SENT
    given_up = _row(db, stuck)
    assert given_up.state is OutboxState.FAILED
    assert "AddressMoved (ref " in given_up.failed
    assert "Noting what became of outbox item" in caplog.text
    assert "secret name" not in caplog.text
    with db.begin() as session:
        assert session.exec(select(Contact)).all() == []
    db.close()


async def test_run_sends_what_it_was_woken_for_and_stops(db, chat, sender):
    stop = asyncio.Event()
    running = asyncio.create_task(sender.run(stop))
    _put(db, "one")
    sender.wake()
    async with asyncio.timeout(10):
        while not chat.sent:  # noqa: ASYNC110 - the fake has no event to wait for
            await asyncio.sleep(0)
    stop.set()
    await asyncio.wait_for(running, 10)
    assert [text for _, text, _ in chat.sent] == ["one"]


# ---------------------------------------------------------------- leases


@dataclass
class SlowChat(FakeChat):
    through: asyncio.Event = field(default_factory=asyncio.Event)

    async def send(self, address: str, message: Message, *, token: str, edits: str = "") -> str:
        self.tokens.append(token)
        await self.through.wait()
        return "ref"


@dataclass
class PushedClock:
    """A clock that stands still until it is pushed on, beside which leases are renewed in real time."""

    moment: datetime = NOW
    speed: float = 1.0

    def now(self) -> datetime:
        return self.moment

    async def sleep(self, seconds: float) -> None:
        raise AssertionError("nothing has to wait for its turn")


async def test_a_message_that_is_long_on_its_way_is_not_sent_by_another(db, monkeypatch):
    monkeypatch.setattr(sending, "LEASE_S", 1.5)
    lease = timedelta(seconds=sending.LEASE_S)
    slow, other, clock, stop = SlowChat(), FakeChat(), PushedClock(), asyncio.Event()
    item = _put(db, "one")
    ours, theirs = OutboxSender(db, slow, clock), OutboxSender(db, other, clock)
    running = asyncio.create_task(ours.run(stop))
    ours.wake()
    for _ in range(3):  # to the double of the first lease
        async with asyncio.timeout(20):
            while _row(db, item).lease_until != clock.now() + lease:  # noqa: ASYNC110 - a state of the database
                await asyncio.sleep(0.01)
        clock.moment += lease * 2 / 3
        assert await theirs.drain() == 0
    slow.through.set()
    stop.set()
    await running
    assert (len(slow.tokens), other.sent, _row(db, item).state) == (1, [], OutboxState.SENT)


async def test_a_process_that_was_stopped_beyond_its_lease_leaves_the_rest_to_others(db, chat, sender):
    _put(db, "one")
    await sender._settle_and_claim()
    sender._ours_until = dict.fromkeys(sender._ours_until, 0.0)  # as after SIGSTOP for ten minutes
    with db.begin() as session:
        items = outbox.claim(session, NOW + timedelta(minutes=10))
    await sender._send_batch(items)
    assert chat.sent == []
    assert await sender._with_outcomes(lambda _s, _now, outcomes: outcomes) == []


async def test_messages_without_a_name_of_their_own_stand_each_for_itself(db, chat, sender):
    _put(db, "the week in words", replaces="wait:1")
    _put(db, "the week as a picture")
    _put(db, "the week as a workbook")
    await sender.drain()
    assert [edits for _, _, edits in chat.sent] == ["", "", ""]


async def test_a_process_that_stood_still_does_not_send_again_what_is_on_its_way_from_here(db):
    slow, clock = SlowChat(), HandClock(NOW)
    item, sender = _put(db, "one"), OutboxSender(db, slow, clock)
    assert await sender.drain() == 1
    await clock.advance(sending.LEASE_S + 1)  # nobody renewed the lease meanwhile
    await sender.drain()
    slow.through.set()
    await asyncio.gather(*sender._flying)
    await sender._note()
    assert (len(slow.tokens), _row(db, item).state) == (1, OutboxState.SENT)
