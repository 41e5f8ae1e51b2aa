"""The nightly forgetting: planned every day, carried out in steps, silent about whom it was."""

from __future__ import annotations

import asyncio
import logging
from datetime import timedelta

import pytest
from sqlmodel import col, select

from bot.clock import HandClock
from bot.service import rounds
from bot.service.asking import planning
from bot.service.engine import nightly_cleanup
from bot.service.engine.context import AppContext
from bot.service.engine.due_work import WorkContext, do_due
from bot.service.rounds import keep_calendar
from bot.service.teacher import calendar
from storage.queue import inbox
from storage.school import people
from storage.tables import Due, InboxItem, Person
from tests.dialogues import MONDAY, Stage, add_class, at, stage

DAY = timedelta(days=1)
NIGHT = at(MONDAY + DAY, 3, 40)


@pytest.fixture
def school() -> Stage:
    made = stage(at(MONDAY, 12))
    keep(made)
    return made


def keep(school: Stage) -> None:
    asyncio.run(
        keep_calendar(WorkContext(school.db, AppContext(zone="Europe/London"), HandClock(school.now)))
    )


def nights(school: Stage) -> list[Due]:
    asked = select(Due).where(Due.kind == nightly_cleanup.FORGET).order_by(col(Due.due_at))
    rows: list[Due] = school.run(lambda session: list(session.exec(asked)))
    return rows


def work(school: Stage) -> None:
    asyncio.run(do_due(WorkContext(school.db, school.app_context, HandClock(school.now))))


def come_in(school: Stage, number: int) -> None:
    def record(session):
        for n in range(number):
            item = inbox.record(session, platform="t", key=f"k{n}", user="u", event={"n": n}, now=school.now)
            assert item is not None
            inbox.done(session, item, school.now)

    school.run(record)


def test_the_coming_night_is_planned_once(school):
    keep(school)
    assert [row.due_at for row in nights(school)] == [NIGHT]


def test_what_is_old_goes_at_night_and_the_next_night_is_planned(school, caplog):
    caplog.set_level(logging.INFO, nightly_cleanup.__name__)
    come_in(school, 3)
    school.run(people.meet, "t", "mira", "chat-mira", school.now)
    school.now = NIGHT + 61 * DAY  # it was switched off for two months
    school.app_context = type(school.app_context)(zone="Europe/London")
    work(school)
    assert school.run(lambda session: session.exec(select(InboxItem)).all()) == []
    assert school.run(lambda session: session.exec(select(Person)).all()) == []
    open_ones = [row.due_at for row in nights(school) if row.done_at is None]
    assert open_ones == [at(MONDAY + 63 * DAY, 3, 40)]
    (line,) = [record.getMessage() for record in caplog.records if record.name == nightly_cleanup.__name__]
    assert line.startswith("Forgotten: ")
    assert "inbox 3" in line
    assert "mira" not in line


def test_when_there_is_much_other_work_has_its_turn_in_between(school, monkeypatch):
    monkeypatch.setattr(nightly_cleanup, "AT_ONCE", 1)
    come_in(school, 2)
    school.now = NIGHT + 61 * DAY
    work(school)
    (row,) = nights(school)
    assert (row.done_at, row.attempts, row.due_at) == (None, 0, school.now + nightly_cleanup.STEP_BACK)
    school.now += nightly_cleanup.STEP_BACK
    work(school)
    assert [row.done_at is None for row in nights(school)] == [False, True]


def test_the_calendar_of_many_classes_is_kept_in_several_commits_and_once(school, monkeypatch):
    monkeypatch.setattr(rounds, "CLASSES_AT_ONCE", 2)
    for number in range(5):
        add_class(school, f"Class {number}")
    commits = []
    school.db.before_statement = lambda text: commits.append(text) if text == "COMMIT" else None
    keep(school)
    school.db.before_statement = None

    def kinds(session):
        return sorted(session.exec(select(Due.kind, Due.subject)))

    planned = school.run(kinds)
    assert len(commits) >= 4  # two, two, one, and the night
    assert {kind for kind, _ in planned} >= {
        planning.PLAN,
        calendar.REMINDER,
        calendar.REPORT,
    }
    assert len({class_id for kind, class_id in planned if kind == planning.PLAN}) == 5
    keep(school)
    assert school.run(kinds) == planned
