"""Due work: done once, tried again, and silent about what people wrote."""

from __future__ import annotations

import asyncio
from datetime import datetime, timedelta

import pytest
from sqlmodel import select

from bot.clock import HandClock
from bot.service.engine import due_work
from bot.service.engine.due_work import DueItem, WorkContext, do_due, does
from bot.service.engine.effects import Speaker
from storage.base.database import Session
from storage.queue import due
from storage.tables import Due
from tests.dialogues import MONDAY, Stage, at, stage

START = at(MONDAY, 12)


@pytest.fixture
def school(monkeypatch: pytest.MonkeyPatch) -> Stage:
    monkeypatch.setattr(due_work, "_HANDLERS", {})
    return stage(START)


def work_context(school: Stage) -> WorkContext:
    return WorkContext(school.db, school.app_context, HandClock(school.now))


def plan(school: Stage, kind: str = "test", **payload: object) -> None:
    school.run(lambda s: due.ensure(s, f"{kind}:1", kind, START, subject=7, payload=payload))


def test_a_handler_gets_its_row_as_plain_data(school):
    seen: list[DueItem] = []

    @does("test")
    async def handler(work_context: WorkContext, item: DueItem) -> None:
        seen.append(item)
        await work_context.db.run(lambda s: due.done(s, item.id, START))

    plan(school, speaker=Speaker("terminal", "mira", "chat-mira").as_data())
    assert asyncio.run(do_due(work_context(school))) == 1
    assert asyncio.run(do_due(work_context(school))) == 0
    (item,) = seen
    assert (item.kind, item.subject, item.attempts) == ("test", 7, 1)
    assert item.speaker == Speaker("terminal", "mira", "chat-mira")


def test_a_failure_is_tried_again_later_and_given_up_at_last(school, caplog):
    @does("test")
    async def handler(work_context: WorkContext, item: DueItem) -> None:
        raise ValueError("Mira answered 2.7")

    plan(school)
    tries = 0
    for minutes in range(0, 24 * 60, 5):
        school.now = START + timedelta(minutes=minutes)
        tries += asyncio.run(do_due(work_context(school)))
    assert tries == due.GIVE_UP_AFTER
    (row,) = school.run(lambda s: list(s.exec(select(Due))))
    assert row.failed.startswith("ValueError (ref ")
    assert "Mira" not in caplog.text
    assert "Mira" not in row.failed


def test_work_of_an_unknown_kind_is_left_alone(school):
    plan(school, "from_a_newer_program")
    assert asyncio.run(do_due(work_context(school))) == 0


def test_two_handlers_of_one_kind_are_a_defect(school):
    @does("test")
    async def one(work_context: WorkContext, item: DueItem) -> None: ...

    with pytest.raises(ValueError, match="Two functions do test work"):
        does("test")(one)


def test_whoever_sends_is_woken_after_work(school):
    woken: list[bool] = []

    @does("test")
    async def handler(work_context: WorkContext, item: DueItem) -> None:
        await work_context.db.run(lambda s: due.done(s, item.id, START))

    plan(school)
    asyncio.run(
        do_due(WorkContext(school.db, school.app_context, HandClock(START), wake=lambda: woken.append(True)))
    )
    assert woken


# ---------------------------------------------------------------- a process that was stopped and comes back


def other_takes_over(school: Stage) -> None:
    """Let another process claim what this one holds, once its lease has run out."""
    school.run(lambda s: due.claim(s, START + timedelta(minutes=10)))


@pytest.mark.parametrize("ends_with", ["success", "failure", "waiting for another"])
def test_what_another_took_over_meanwhile_is_left_to_it(school, ends_with):
    @does("test")
    async def handler(work_context: WorkContext, item: DueItem) -> None:
        other_takes_over(school)  # as during SIGSTOP
        if ends_with == "failure":
            raise ValueError
        if ends_with == "waiting for another":
            raise due_work.Elsewhere

        def end(session: Session) -> None:
            due.ensure(session, "effect", "effect", START)
            due_work.finish(session, item, START)

        await work_context.db.run(end)

    plan(school)
    ours = work_context(school)
    asyncio.run(do_due(ours))
    with school.db.begin() as session:
        (row,) = session.exec(select(Due)).all()  # the effect was undone
        assert (row.key, row.lease_token, row.done_at, row.failed) == ("test:1", 2, None, "")
        assert row.lease_until == START + timedelta(minutes=10) + due.LEASE
        assert due.claim(session, START + timedelta(minutes=10, seconds=30)) == []
    assert not ours.counters.done


async def test_work_behind_a_long_one_is_not_taken_over(school, monkeypatch):
    lease = timedelta(seconds=0.15)
    monkeypatch.setattr(due, "LEASE", lease)
    now, taken = [START], []

    def leases(session: Session) -> set[datetime | None]:
        return set(session.exec(select(Due.lease_until)))

    @does("test")
    async def handler(work_context: WorkContext, item: DueItem) -> None:
        for _ in range(3 if item.key == "test:1" else 0):  # to the double of the first lease
            now[0] += lease * 2 / 3
            taken.extend(school.run(lambda s: [row.key for row in due.claim(s, now[0])]))
            async with asyncio.timeout(20):
                while school.run(leases) != {now[0] + lease}:  # noqa: ASYNC110 - a state of the database
                    await asyncio.sleep(0.01)
        await work_context.db.run(due_work.finish, item, START)

    plan(school)
    school.run(lambda s: due.ensure(s, "test:2", "test", START))
    here = work_context(school)
    monkeypatch.setattr(here.clock, "now", lambda: now[0])
    assert await do_due(here) == 2
    assert taken == []
    assert here.counters.done == {
        "test": 2
    }  # a lease that nobody renewed ends the wait, and with it the work
