"""The platform is out of order for minutes, hours or a day: no message is used up, nothing floods or comes at night."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from sqlmodel import select

from bot.chat.packing import pack
from bot.chat.port import (
    Attachment,
    Capabilities,
    Incoming,
    Limits,
    Message,
    SendError,
    SendFailed,
    SendRefused,
    TextSaid,
)
from bot.clock import HandClock
from bot.service.engine import loop
from bot.service.engine import sender as sending
from bot.service.engine.breaker import Breaker
from bot.service.engine.context import AppContext
from bot.service.engine.effects import Speaker
from bot.service.engine.late_messages import quiet_until
from bot.service.engine.sender import OutboxSender
from bot.talk.core import Outgoing
from bot.words.rich import Rich
from storage.base.database import Database
from storage.queue import outbox, queue_statistics
from storage.school import classes, enrolments, people
from storage.tables import ContactState, OutboxItem, OutboxState

ZONE = ZoneInfo("Europe/London")
EVENING = datetime(2026, 9, 7, 18, 0, tzinfo=ZONE)
"""A Monday; the class is quiet from 21:00 to 07:00."""
STUDENTS = 24
CAUSES: tuple[Callable[[], SendError], ...] = (
    lambda: SendFailed("trouble (500)"),
    lambda: SendFailed("cannot be reached", whole_platform=True),
    lambda: SendFailed("did not answer in time"),
    lambda: SendFailed("away", 5.0, whole_platform=True),
    lambda: SendFailed("asks to wait", 3.0, whole_platform=True),
)


@dataclass
class Shaky:
    """A chat that is out of order until a moment."""

    clock: HandClock
    until: datetime = EVENING
    name: str = "fake"
    limits: Limits = field(default_factory=Limits)
    capabilities: Capabilities = field(default_factory=Capabilities)
    tried: list[tuple[datetime, str]] = field(default_factory=list)
    came: list[tuple[datetime, str, str]] = field(default_factory=list)
    refuses: dict[str, SendError] = field(default_factory=dict)
    causes: tuple[Callable[[], SendError], ...] = CAUSES
    rng: random.Random = field(default_factory=lambda: random.Random(2))

    async def run(self, on_event: Any, stop: Any) -> None: ...

    async def send(self, address: str, message: Message, *, token: str, edits: str = "") -> str:
        now = self.clock.now()
        self.tried.append((now, address))
        if now < self.until:
            raise self.rng.choice(self.causes)()
        if address in self.refuses:
            raise self.refuses[address]
        self.came.append((now, address, message.text.plain))
        return str(len(self.came))

    async def fetch(self, handle: str) -> bytes:
        raise SendRefused("no files here")


def address_of(number: int) -> str:
    return f"chat-{number}"


@pytest.fixture
def school(memory_db: Database) -> Database:
    """Make a class whose students and teacher have chats."""
    with memory_db.begin() as session:
        teacher = people.meet(session, "fake", "okafor", "chat-okafor", EVENING).person_id
        people.make_staff(session, teacher, "Ms Okafor", EVENING)
        group = classes.create(
            session,
            name="10B Physics",
            zone="Europe/London",
            teacher_id=teacher,
            teacher_name="Ms Okafor",
            now=EVENING,
        )
        classes.change_rules(session, group.id or 0, quiet_from=21 * 60, quiet_until=7 * 60)
        for number in range(STUDENTS):
            who = people.meet(session, "fake", f"student-{number}", address_of(number), EVENING).person_id
            enrolments.join(session, group.id or 0, who, f"Student {number}", EVENING)
    return memory_db


def write(db: Database, text: str, address: str, now: datetime, **more: Any) -> int:
    urgent = bool(more.pop("urgent", False))
    with db.begin() as session:
        message = pack(Message(Rich.of(text), urgent=urgent))
        return outbox.put(session, "fake", address, message, now=now, **more)


def states(db: Database) -> Counter[str]:
    with db.begin() as session:
        return Counter(row.state.value for row in session.exec(select(OutboxItem)))


async def live(sender: OutboxSender, until: datetime, *, tick_s: float = 15.0) -> None:
    """Tick as the alarm clock does, up to a moment."""
    assert isinstance(sender.clock, HandClock)
    await sender.drain()
    while sender.clock.now() < until:
        await sender.clock.advance(tick_s)
        await sender.drain()


@pytest.mark.parametrize(
    ("name", "hours"), [("ten minutes", 1 / 6), ("three hours", 3.0), ("26 hours", 26.0)]
)
async def test_f02_an_outage_uses_no_message_up(school: Database, name: str, hours: float):
    """Eight attempts in 331 s ended every message for good."""
    clock = HandClock(EVENING)
    chat = Shaky(clock, until=EVENING + timedelta(hours=hours))
    sender = OutboxSender(school, chat, clock)
    for number in range(STUDENTS):
        write(
            school, "3 quick self-checks", address_of(number), EVENING, not_after=EVENING + timedelta(hours=2)
        )
        reply_until = EVENING + loop.REPLY_LIFE
        write(school, "Right.", address_of(number), EVENING, urgent=True, not_after=reply_until)
    write(school, "Week 37", "chat-okafor", EVENING, not_after=EVENING + loop.PAPER_LIFE)
    await live(sender, EVENING + timedelta(hours=40), tick_s=15.0 if hours < 1 else 60.0)

    during = [at for at, _ in chat.tried if at < chat.until]
    least = timedelta(hours=hours) / timedelta(minutes=1)
    assert least / 3 <= len(during) <= 1.7 * least + sending.IN_FLIGHT + 8, (
        "the platform is tried, and not pressed"
    )
    wanted = {"3 quick self-checks": 24 * (hours < 2), "Right.": 24 * (hours < 4), "Week 37": 1}
    assert Counter(text for _, _, text in chat.came) == +Counter(wanted), (
        "each once; a nudge of yesterday is none"
    )
    assert states(school) == +Counter({"sent": sum(wanted.values()), "dropped": 49 - sum(wanted.values())})
    first = min(at for at, _, _ in chat.came)
    assert first - chat.until <= timedelta(minutes=2) or hours == 3.0
    for at, _, _ in chat.came:
        local = at.astimezone(ZONE)
        assert 7 <= local.hour < 21, f"came at {local:%H:%M}, in quiet hours"


async def test_f02_while_it_is_out_of_order_one_message_is_tried_and_the_rest_waits_untouched(
    school: Database,
):
    clock = HandClock(EVENING)
    chat = Shaky(clock, until=EVENING + timedelta(minutes=30))
    sender = OutboxSender(school, chat, clock)
    for number in range(STUDENTS):
        write(school, "hello", address_of(number), EVENING)
    await live(sender, EVENING + timedelta(minutes=5))
    assert sender.breaker.is_open
    chat.tried.clear()
    await live(sender, EVENING + timedelta(minutes=25))
    assert 15 <= len(chat.tried) <= 30
    assert max(Counter(address for _, address in chat.tried).values()) <= 3, "not always the same message"
    with school.begin() as session:
        untouched = [row for row in session.exec(select(OutboxItem)) if row.failed == "" and not row.attempts]
        assert len(untouched) >= STUDENTS - 12 - len(chat.tried)
        assert all(
            row.state is OutboxState.WAITING and row.attempts == 0 for row in session.exec(select(OutboxItem))
        )
        waiting = queue_statistics.take(session, clock.now())
    assert waiting.outbox == STUDENTS
    assert waiting.outbox_since == EVENING, "whoever watches hears since when"
    await live(sender, EVENING + timedelta(minutes=32))
    assert len(chat.came) == STUDENTS
    assert not sender.breaker.is_open


async def test_f02_one_chat_that_fails_alone_stops_nobody(school: Database):
    clock = HandClock(EVENING)
    chat = Shaky(clock, refuses={"chat-0": SendFailed("trouble (500)")})
    sender = OutboxSender(school, chat, clock)
    write(school, "never", "chat-0", EVENING, not_after=EVENING + timedelta(hours=1))
    await live(sender, EVENING + timedelta(minutes=10))
    assert not sender.breaker.is_open
    write(school, "hello", "chat-1", clock.now())
    await sender.drain()
    assert [text for _, _, text in chat.came] == ["hello"]
    assert 5 <= len(chat.tried) <= 20
    await live(sender, EVENING + timedelta(hours=2))
    assert states(school) == {"sent": 1, "dropped": 1}


async def test_f02_a_probe_that_can_never_go_does_not_keep_the_breaker_open(school: Database):
    """An urgent message that fails each time goes first; the next probe is another one."""
    clock = HandClock(EVENING)
    chat = Shaky(clock, until=EVENING + timedelta(minutes=5), refuses={"chat-0": SendFailed("trouble (500)")})
    sender = OutboxSender(school, chat, clock)
    write(school, "never", "chat-0", EVENING, urgent=True)
    for number in range(1, 6):
        write(school, "hello", address_of(number), EVENING)
    for _ in range(700):
        if sender.breaker.probe_at is not None and sender.breaker.probe_at > clock.now():
            await clock.set(sender.breaker.probe_at)  # as the timer wakes it
        else:
            await clock.advance(1)
        await sender.drain()
    assert len(chat.came) == 5


async def test_f02_faults_of_our_own_still_end_a_message(school: Database):
    clock = HandClock(EVENING)

    class Broken(Shaky):
        async def send(self, address: str, message: Message, *, token: str, edits: str = "") -> str:
            raise RuntimeError("a defect")

    sender = OutboxSender(school, Broken(clock), clock)
    write(school, "never", "chat-0", EVENING)
    await live(sender, EVENING + timedelta(hours=3), tick_s=60)
    assert states(school) == {"failed": 1}


# ---------------------------------------------------------------- each message's own time


@pytest.mark.parametrize(
    ("attachment", "resumed", "life"),
    [
        (None, False, loop.REPLY_LIFE),
        (Attachment("letters.pdf", "application/pdf", b"%PDF", "letters"), False, loop.PAPER_LIFE),
        (None, True, loop.PAPER_LIFE),
    ],
)
def test_f02_every_message_has_a_time_of_its_own(
    school: Database, attachment: Attachment | None, resumed: bool, life: timedelta
):
    speaker = Speaker("fake", "okafor", "chat-okafor")
    out = Outgoing(Message(Rich.of("here"), attachment=attachment))
    with school.begin() as session:
        loop.post(session, speaker, [out], EVENING, life=loop.PAPER_LIFE if resumed else loop.REPLY_LIFE)
        row = session.exec(select(OutboxItem)).one()
        assert row.not_after == EVENING + life


def test_f02_an_answer_to_somebody_is_a_reply(school: Database):
    said = Incoming("fake", "1", "chat-okafor", "okafor", "private", EVENING, TextSaid("help"))
    with school.begin() as session:
        loop.handle(session, AppContext(), said, EVENING)
        rows = session.exec(select(OutboxItem)).all()
        assert rows
        assert {row.not_after for row in rows} == {EVENING + loop.REPLY_LIFE}


# ---------------------------------------------------------------- the night


def at(hour: int, minute: int = 0, day: int = 7) -> datetime:
    return datetime(2026, 9, day, hour, minute, tzinfo=ZONE)


def test_f02_quiet_hours_end_when_the_class_says_and_where_the_student_says_later(school: Database):
    with school.begin() as session:
        contact = people.contact_at(session, "fake", "chat-3")
        assert contact is not None
        (student,) = enrolments.of_person(session, contact.person_id)
        enrolments.set_times(session, student.id or 0, quiet_from=20 * 60, quiet_until=9 * 60 + 30)
        assert quiet_until(session, "fake", "chat-2", at(23)) == at(7, day=8)
        assert quiet_until(session, "fake", "chat-3", at(23)) == at(9, 30, day=8)
        assert quiet_until(session, "fake", "chat-okafor", at(23)) == at(7, day=8)
        assert quiet_until(session, "fake", "chat-2", at(20, 59)) is None
        assert quiet_until(session, "fake", "nobody", at(23)) is None


def test_f02_quiet_hours_are_on_the_students_clock_in_a_class_joined_later(school: Database):
    with school.begin() as session:
        contact = people.contact_at(session, "fake", "chat-3")
        assert contact is not None
        (student,) = enrolments.of_person(session, contact.person_id)
        enrolments.set_times(session, student.id or 0, zone="Asia/Tokyo")
        other = classes.create(
            session,
            name="10B Chemistry",
            zone="Europe/London",
            teacher_id=None,
            now=EVENING,
            quiet_from=21 * 60,
        )
        enrolments.join(session, other.id or 0, contact.person_id, "Student 3", EVENING)
        # 23:00 in London is 07:00 in Tokyo: only the new class has quiet hours yet, until 07:30.
        assert quiet_until(session, "fake", "chat-3", at(23)) == at(23, 30)


async def test_f02_somebody_who_writes_at_night_is_answered_at_night(school: Database):
    clock = HandClock(at(22))
    chat = Shaky(clock)
    sender = OutboxSender(school, chat, clock)
    write(school, "late", "chat-1", at(19), urgent=True)
    write(school, "late", "chat-2", at(19), urgent=True)
    await sender.drain()
    assert chat.came == []
    write(school, "fresh", "chat-1", at(22), urgent=True)
    await sender.drain()
    assert [text for _, _, text in chat.came] == ["fresh"]
    await live(sender, at(7, 1, day=8), tick_s=60)
    assert sorted(text for _, _, text in chat.came) == ["fresh", "late", "late"]
    assert all(moment >= at(7, day=8) for moment, _, text in chat.came if text == "late")


async def test_f02_many_that_came_too_late_do_not_hold_up_the_rest(school: Database):
    clock = HandClock(at(12))
    chat = Shaky(clock, until=at(0))
    sender = OutboxSender(school, chat, clock)
    for number in range(60):
        write(school, "old", f"old-{number}", at(8), urgent=True, not_after=at(9))
    write(school, "new", "chat-1", at(12))
    await sender.drain()
    assert [text for _, _, text in chat.came] == ["new"]


# ---------------------------------------------------------------- nobody is known there


NOT_FOUND = SendRefused("chat not found", unreachable=True, doubtful=True)


def blocked(db: Database) -> int:
    with db.begin() as session:
        found = [people.contact_at(session, "fake", address_of(number)) for number in range(STUDENTS)]
        return sum(one is not None and one.state is ContactState.BLOCKED for one in found)


async def test_f03_many_not_found_in_a_row_block_nobody(school: Database, caplog: pytest.LogCaptureFixture):
    """A start with another bot's token blocked every contact for good."""
    clock = HandClock(EVENING)
    chat = Shaky(clock, refuses={address_of(number): NOT_FOUND for number in range(STUDENTS)})
    sender = OutboxSender(school, chat, clock)
    for number in range(STUDENTS):
        write(school, "3 quick self-checks", address_of(number), EVENING)
    await live(sender, EVENING + timedelta(hours=1))
    assert blocked(school) == 0
    assert states(school) == {"waiting": STUDENTS}
    assert len(chat.tried) <= 90
    assert "not known there" in sender.breaker.reason
    assert "Is it the right bot?" in caplog.text
    chat.refuses.clear()
    await live(sender, EVENING + timedelta(hours=2))
    assert len(chat.came) == STUDENTS
    assert blocked(school) == 0


async def test_f03_one_chat_that_is_gone_is_left_alone_once_somebody_else_was_reached(school: Database):
    clock = HandClock(EVENING)
    chat = Shaky(clock, refuses={"chat-0": NOT_FOUND, "chat-1": NOT_FOUND})
    sender = OutboxSender(school, chat, clock)
    for number in (0, 1):
        write(school, "first", address_of(number), EVENING, urgent=True)
        write(school, "second", address_of(number), EVENING, urgent=True)
    await sender.drain()
    assert blocked(school) == 0
    write(school, "hello", "chat-2", EVENING)
    await sender.drain()
    await sender._note()
    assert blocked(school) == 2
    assert states(school) == {"sent": 1, "failed": 2, "dropped": 2}


def test_the_breaker_waits_longer_and_longer_up_to_a_minute():
    breaker = Breaker(lambda seconds: timedelta(seconds=seconds), random.Random(1))
    now, waits = EVENING, []
    for number in range(3):
        assert not breaker.is_open
        opened = breaker.failed(now, number, f"chat-{number}", "trouble")
    assert opened
    assert breaker.room(now, 10) == 0
    for number in range(10):
        assert breaker.probe_at is not None
        waits.append((breaker.probe_at - now).total_seconds())
        now = breaker.probe_at
        assert breaker.room(now, 10) == 1
        breaker.probes(number)
        assert breaker.room(now, 10) == 0
        assert not breaker.lets(number + 1)
        breaker.failed(now, number, "chat-1", "trouble")
    assert waits[0] <= 2
    assert all(45 <= wait <= 60 for wait in waits[6:])
    assert breaker.succeeded(now + timedelta(seconds=1)) == now + timedelta(seconds=1) - EVENING
    assert breaker.room(now, 10) == 10


def test_a_failure_among_successes_opens_no_breaker():
    breaker = Breaker(lambda seconds: timedelta(seconds=seconds), random.Random(1))
    for number in range(100):
        assert not breaker.failed(EVENING, number, f"chat-{number}", "trouble", whole_platform=True)
        assert not breaker.failed(EVENING, number, f"chat-{number}", "trouble", whole_platform=True)
        breaker.succeeded(EVENING)
