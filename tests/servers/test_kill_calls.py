"""A fault at the n-th database call, for every n, over one nudge and its answers.

After SQLite's own tests, which let the n-th allocation or write fail for every n. Whatever call fails, once: the
nudge goes out, the answer counts once, and every message arrives; twice only where noting that it had arrived failed.
"""

from __future__ import annotations

import asyncio
import contextlib
import sys
from collections import Counter
from dataclasses import dataclass, field
from datetime import timedelta

import pytest
from sqlmodel import select

from bot.chat.port import ButtonPressed, Capabilities, Incoming, Limits, Message
from bot.clock import HandClock
from bot.service.asking import nudges
from bot.service.engine.due_work import WorkContext
from bot.service.engine.inbox_worker import Inbox
from bot.service.engine.sender import OutboxSender
from storage.tables import Answer, Nudge, NudgeState, OutboxItem, OutboxState, Verdict
from tests.dialogues import CHOICE, MONDAY, Frozen, Stage, add_class, at, join, stage, teach

pytestmark = pytest.mark.slow

ROUND_MIN = 11
"""Longer than any retry waits, so that every round tries again."""


class Torn(Exception):
    """The database call that fails."""


@dataclass
class Fault:
    """Lets the n-th call fail, and counts."""

    at: int
    calls: int = 0
    text: str = ""

    def __call__(self, text: str) -> None:
        self.calls += 1
        if self.calls == self.at:
            self.text = text
            raise Torn


@dataclass
class Student:
    """A chat with one student, who presses the first button of what arrives, once."""

    name: str = "terminal"
    limits: Limits = field(default_factory=Limits)
    capabilities: Capabilities = field(default_factory=Capabilities)
    arrived: list[tuple[str, str]] = field(default_factory=list)
    presses: dict[str, Incoming | None] = field(default_factory=dict)

    async def send(self, address: str, message: Message, *, token: str, edits: str = "") -> str:
        self.arrived.append((token, message.text.plain))
        for button in message.all_buttons[:1]:
            content = ButtonPressed(button.action)
            self.presses.setdefault(
                button.action,
                Incoming(
                    self.name, f"u-{button.action}", address, "mira", "private", at(MONDAY, 18), content
                ),
            )
        return f"ref-{token}"

    async def run(self, on_event, stop): ...

    async def fetch(self, handle):
        raise NotImplementedError


@pytest.fixture(scope="module")
def evening() -> Frozen:
    school = stage(at(MONDAY, 8))
    group = add_class(school, questions_per_nudge=1)
    teach(school, group, "Density", at(MONDAY - timedelta(days=3), 10), [CHOICE])
    join(school, group, "mira")
    school.go_to(at(MONDAY, 17, 59))
    with school.db.begin() as session:
        for row in session.exec(select(OutboxItem)):
            session.delete(row)
    return school.freeze()


async def live(school: Stage, fault: Fault) -> Student:
    """Let four rounds go by; a call that fails is tried again by whoever would in life."""
    clock, student, stop = HandClock(at(MONDAY, 18, 0)), Student(), asyncio.Event()
    inbox = Inbox(school.db, school.app_context, clock)
    sender = OutboxSender(school.db, student, clock)
    work_context = WorkContext(school.db, school.app_context, clock)
    handling = asyncio.create_task(inbox.run(stop))
    school.db.before_statement = fault
    for _ in range(5):
        for step in (lambda: nudges.send_nudges(work_context), sender.drain, lambda: deliver(student, inbox)):
            await shielded(step)
            await shielded(sender.drain)
        await clock.advance(ROUND_MIN * 60)
        await shielded(inbox.sweep)
        while not inbox.idle:  # noqa: ASYNC110 - a state
            await asyncio.sleep(0.001)
        if settled(school, fault):
            break
    school.db.before_statement = None
    stop.set()
    await handling
    return student


def settled(school: Stage, fault: Fault) -> bool:
    """Whether the nudge is through and everything was sent; this look is not one that fails."""
    school.db.before_statement = None
    with school.db.begin() as session:
        open_nudges = session.exec(select(Nudge.id).where(Nudge.state != NudgeState.DONE)).all()
        waiting = session.exec(select(OutboxItem.id).where(OutboxItem.state == OutboxState.WAITING)).all()
    school.db.before_statement = fault
    return not open_nudges and not waiting


async def shielded(step) -> None:
    """Do as the loops of the app do: a database that fails ends this look, not the program."""
    with contextlib.suppress(Torn):
        await step()


async def deliver(student: Student, inbox: Inbox) -> None:
    """Bring every press until it is acknowledged, and the first ones again."""
    for action, event in list(student.presses.items()):
        if event is not None:
            await inbox.receive(event)
            await inbox.receive(event)
            student.presses[action] = None


def test_whatever_database_call_fails_the_nudge_goes_out_and_the_answer_counts_once(
    evening: Frozen, capsys: pytest.CaptureFixture[str], caplog
):
    fault = Fault(0)
    whole = outcome(evening, fault)
    assert heads(whole).count("Density") == 2, heads(whole)  # the question and its verdict
    again, calls = 0, fault.calls
    for number in range(1, calls + 1):
        fault = Fault(number)
        student = outcome(evening, fault)
        times = Counter(token for token, _ in student.arrived)
        assert heads(student) == heads(whole), (number, fault.text)
        assert max(times.values()) <= 2, (number, fault.text)
        again += sum(times.values()) - len(times)
    with capsys.disabled():
        sys.stdout.write(
            f"\n{calls} database calls, each failed once: 0 answers lost or doubled, {again} messages again\n"
        )


def heads(student: Student) -> list[str]:
    """Return how what arrived begins, repeats left out; the order of the options is drawn anew every time."""
    return [text.split("\n")[0].split(" — ")[0] for text in dict(student.arrived).values()]


def outcome(evening: Frozen, fault: Fault) -> Student:
    """Live the evening with a fault and see that all is well in the end."""
    school = evening.thaw()
    student = asyncio.run(live(school, fault))
    with school.db.begin() as session:
        (answer,) = session.exec(select(Answer)).all()
        assert answer.verdict in (Verdict.RIGHT, Verdict.WRONG)
        states = [nudge.state for nudge in session.exec(select(Nudge))]
        assert states == [NudgeState.DONE], (fault.at, fault.text, states)
        rows = session.exec(select(OutboxItem)).all()
        assert {row.state for row in rows} == {OutboxState.SENT}, (fault.at, fault.text)
        verdicts = [row for row in rows if row.body["replaces"].startswith("review:")]
        assert len(verdicts) == 1, (fault.at, fault.text)
    return student
