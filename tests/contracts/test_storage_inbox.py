"""What came in: recorded once, handed out in order, never lost."""

from __future__ import annotations

import threading

from sqlmodel import Session, select

from storage.base.database import Database
from storage.queue import inbox
from storage.tables import InboxItem
from tests.contracts.storage_school import NOW, later


def arrive(session: Session, key: str, user: str = "mira") -> int | None:
    return inbox.record(session, platform="telegram", key=key, user=user, event={"text": key}, now=NOW)


def test_a_repeated_delivery_is_kept_once(db: Database):
    with db.begin() as session:
        assert arrive(session, "1")
        assert arrive(session, "1") is None
        assert inbox.record(session, platform="matrix", key="1", user="mira", event={}, now=NOW)
        assert len(session.exec(select(InboxItem)).all()) == 2


def test_a_repeat_is_refused_also_after_it_was_handled(db: Database):
    with db.begin() as session:
        inbox.done(session, arrive(session, "1") or 0, NOW)
        assert arrive(session, "1") is None
        assert inbox.claim(session, NOW) == []


def test_one_user_is_served_in_order_and_users_do_not_wait_for_each_other(db: Database):
    with db.begin() as session:
        for key, user in [("1", "mira"), ("2", "mira"), ("3", "tom"), ("4", "")]:
            arrive(session, key, user)
        arrive(session, "5", "")  # posts without an author have no order among themselves
        first = inbox.claim(session, NOW)
        assert [item.key for item in first] == ["1", "3", "4", "5"]
        assert inbox.claim(session, NOW) == []
        assert inbox.done(session, first[0].id, NOW)
        assert [item.event for item in inbox.claim(session, NOW)] == [{"text": "2"}]


def test_one_item_can_be_claimed_by_its_id_when_it_is_its_turn(db: Database):
    with db.begin() as session:
        first, second = arrive(session, "1") or 0, arrive(session, "2") or 0
        assert inbox.claim(session, NOW, only=second) == []
        [item] = inbox.claim(session, NOW, only=first)
        assert (item.id, item.attempts) == (first, 1)
        assert inbox.claim(session, NOW, only=first) == []


def test_an_item_of_a_dead_worker_comes_back_after_its_lease(db: Database):
    with db.begin() as session:
        arrive(session, "1")
        inbox.claim(session, NOW)
        assert inbox.claim(session, later(seconds=59)) == []
        [item] = inbox.claim(session, later(seconds=60))
        assert item.attempts == 2


def test_a_worker_that_was_overtaken_is_told_so(db: Database):
    with db.begin() as session:
        number = arrive(session, "1") or 0
        assert inbox.done(session, number, NOW)
        assert not inbox.done(session, number, NOW)


def test_what_goes_wrong_is_tried_again_and_then_given_up(db: Database):
    with db.begin() as session:
        number = arrive(session, "1") or 0
        for attempt in range(1, 6):
            at = later(minutes=attempt)
            [item] = inbox.claim(session, at)
            given_up = inbox.failed(
                session, item.id, "no disk", at, retry_at=later(minutes=attempt, seconds=30)
            )
            assert given_up == (attempt == 5)
            assert inbox.claim(session, later(minutes=attempt, seconds=29)) == []
        assert inbox.claim(session, later(days=1)) == []
        assert session.get_one(InboxItem, number).failed == "no disk"
        assert not inbox.failed(session, number, "again", NOW, retry_at=NOW)


def test_what_was_given_up_no_longer_holds_up_its_user(db: Database):
    with db.begin() as session:
        first = arrive(session, "1") or 0
        arrive(session, "2")
        inbox.claim(session, NOW)
        assert inbox.failed(session, first, "broken", NOW, retry_at=NOW, give_up_after=1)
        assert [item.key for item in inbox.claim(session, NOW)] == ["2"]


def test_what_waits_is_counted(db: Database):
    with db.begin() as session:
        assert inbox.waiting(session) == (0, None)
        arrive(session, "1")
        inbox.done(session, arrive(session, "2") or 0, NOW)
        assert inbox.waiting(session) == (1, NOW)


def test_workers_at_once_record_a_delivery_once_and_handle_it_once(db: Database):
    new: list[int | None] = []
    handled: list[str] = []

    def work() -> None:
        for key in map(str, range(10)):
            with db.begin() as session:
                new.append(arrive(session, key, f"user-{key}"))
        while True:
            with db.begin() as session:
                items = inbox.claim(session, NOW, limit=3)
            if not items:
                return
            for item in items:
                with db.begin() as session:
                    if inbox.done(session, item.id, NOW):
                        handled.append(item.key)

    threads = [threading.Thread(target=work) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len([number for number in new if number is not None]) == 10
    assert sorted(handled) == sorted(map(str, range(10)))
