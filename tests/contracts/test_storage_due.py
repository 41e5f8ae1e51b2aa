"""What is to be done when: planned once, claimed under a lease, done once."""

from __future__ import annotations

import threading

from sqlmodel import Session

from storage.base.database import Database
from storage.queue import due
from tests.contracts.storage_school import NOW, later


def plan(session: Session, key: str = "report:1", minutes: float = 0, kind: str = "report") -> bool:
    return due.ensure(session, key, kind, later(minutes=minutes), subject=1, payload={"week": key})


def keys(session: Session, minutes: float = 0, **more: object) -> list[str]:
    return [row.key for row in due.claim(session, later(minutes=minutes), **more)]  # type: ignore[arg-type]


def test_the_same_work_is_planned_once(db: Database):
    with db.begin() as session:
        assert plan(session)
        assert not plan(session, minutes=5)
        [row] = due.claim(session, NOW)
        assert (row.kind, row.subject, row.payload, row.attempts) == ("report", 1, {"week": "report:1"}, 1)


def test_work_that_was_done_is_not_planned_again(db: Database):
    with db.begin() as session:
        plan(session)
        [row] = due.claim(session, NOW)
        assert due.done(session, row.id or 0, NOW)
        assert not due.done(session, row.id or 0, NOW)
        assert not plan(session)
        assert keys(session) == []
        found = due.find(session, "report:1")
        assert found is not None
        assert found.done_at == NOW


def test_what_is_due_comes_oldest_first_and_what_is_not_waits(db: Database):
    with db.begin() as session:
        for minutes in (3, 1, 2, 9):
            plan(session, f"m{minutes}", minutes)
        assert keys(session, 3, limit=2) == ["m1", "m2"]
        assert keys(session, 3) == ["m3"]
        assert keys(session, 8.9) == ["m1", "m2", "m3"]  # their leases ran out
        assert keys(session, 9) == ["m9"]


def test_a_worker_can_ask_for_some_kinds_only(db: Database):
    with db.begin() as session:
        plan(session, "a", kind="report")
        plan(session, "b", kind="nudge")
        assert keys(session, kinds=["nudge"]) == ["b"]
        assert keys(session, kinds=[]) == []


def test_work_can_be_moved_and_cancelled_until_it_is_done(db: Database):
    with db.begin() as session:
        plan(session)
        assert due.move(session, "report:1", later(minutes=5))
        assert keys(session, 4) == []
        assert keys(session, 5) == ["report:1"]
        assert due.cancel(session, "report:1")
        assert not due.cancel(session, "report:1")
        assert not due.move(session, "report:1", NOW)
        assert plan(session)


def test_putting_off_is_no_attempt(db: Database):
    with db.begin() as session:
        plan(session)
        for minute in range(10):
            [row] = due.claim(session, later(minutes=minute))
            assert row.attempts == 1
            due.postpone(session, row.id or 0, later(minutes=minute + 1))
            session.expire_all()


def test_work_that_keeps_failing_is_given_up_and_shown(db: Database):
    with db.begin() as session:
        plan(session)
        for attempt in range(1, 6):
            [row] = due.claim(session, later(minutes=attempt))
            given_up = due.failed(session, row.id or 0, "no fit", NOW, retry_at=later(minutes=attempt + 1))
            assert given_up == (attempt == 5)
            assert bool(due.dead(session)) == given_up
        assert keys(session, 99) == []
        assert [(row.key, row.failed) for row in due.dead(session)] == [("report:1", "no fit")]
        assert not due.failed(session, row.id or 0, "again", NOW, retry_at=NOW)


def test_work_that_failed_once_and_then_went_well_is_not_dead(db: Database):
    with db.begin() as session:
        plan(session)
        [row] = due.claim(session, NOW)
        due.failed(session, row.id or 0, "hiccup", NOW, retry_at=NOW)
        [row] = due.claim(session, NOW)
        due.done(session, row.id or 0, NOW)
        assert due.dead(session) == []


def test_the_next_moment_is_known(db: Database):
    with db.begin() as session:
        assert due.next_at(session) is None
        plan(session, "b", 5)
        plan(session, "a", 2)
        assert due.next_at(session) == later(minutes=2)


def test_six_workers_take_500_rows_and_none_twice(db: Database):
    with db.begin() as session:
        for number in range(500):
            plan(session, f"n{number}")
    taken: list[int] = []

    def work() -> None:
        while True:
            with db.begin() as session:
                rows = [row.id or 0 for row in due.claim(session, NOW, limit=20)]
            if not rows:
                return
            taken.extend(rows)

    threads = [threading.Thread(target=work) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(taken) == len(set(taken)) == 500


def _claimed(db: Database, minutes: float) -> tuple[int, int]:
    with db.begin() as session:
        [row] = due.claim(session, later(minutes=minutes))
        assert row.id is not None
        return row.id, row.lease_token


def test_who_was_stopped_beyond_its_lease_neither_ends_nor_frees_what_another_took_over(db: Database):
    with db.begin() as session:
        plan(session)
    item, ours = _claimed(db, 0)
    _, theirs = _claimed(db, 5)
    with db.begin() as session:
        assert not due.done(session, item, NOW, lease_token=ours)
        due.postpone(session, item, NOW, lease_token=ours)
        assert not due.failed(session, item, "no", NOW, retry_at=NOW, give_up_after=1, lease_token=ours)
        due.keep_longer(session, {item: ours}, later(hours=5))
        assert keys(session, 5.5) == []
        due.keep_longer(session, {item: theirs}, later(hours=1))
        assert keys(session, 59) == []
        assert due.done(session, item, NOW, lease_token=theirs)
