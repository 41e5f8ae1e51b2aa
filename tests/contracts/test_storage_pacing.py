"""Moments to leave, reserved by all processes together."""

from __future__ import annotations

import threading
from datetime import timedelta

import pytest

from storage.base.database import Database, connect
from storage.queue import outbox, pacing
from tests.contracts.storage_school import NOW
from tests.contracts.test_storage_outbox import put

AT_S = 1_000_000.0


def reserve(db: Database, urgent: list[bool], now_s: float = AT_S, per_second: float = 25.0) -> list[float]:
    with db.begin() as session:
        return pacing.reserve(session, "t", urgent, now_s, per_second=per_second)


def most_in_a_second(moments: list[float]) -> int:
    return max(sum(start <= moment < start + 1 - 1e-6 for moment in moments) for start in moments)


def test_messages_of_many_claims_leave_at_the_platforms_rate(db: Database):
    moments = [slot for _ in range(13) for slot in reserve(db, [False] * 10)]
    assert moments == sorted(moments)
    assert moments[-1] - moments[0] == pytest.approx(129 / 25)
    assert most_in_a_second(moments) == 25


def test_a_reply_does_not_wait_behind_nudges_that_others_have_reserved(db: Database):
    nudges = [slot for _ in range(5) for slot in reserve(db, [False] * 10)]
    replies = [slot for _ in range(20) for slot in reserve(db, [True])]
    assert replies[0] == AT_S
    assert replies[4] == pytest.approx(AT_S + 0.8)
    assert most_in_a_second(nudges + replies) <= 30  # the platform's own figure, platforms.md section 1
    assert max(nudges + replies) <= AT_S + 70 / 25


def test_platforms_do_not_wait_for_each_other(db: Database):
    reserve(db, [False] * 50)
    with db.begin() as session:
        assert pacing.reserve(session, "other", [False], AT_S, per_second=25) == [AT_S]


def test_a_platform_that_asks_to_wait_is_heard_by_everybody(db: Database):
    with db.begin() as session:
        pacing.hold(session, "t", AT_S + 30)
        pacing.hold(session, "t", AT_S + 20)
    assert reserve(db, [True, False]) == [AT_S + 30] * 2
    assert reserve(db, [True], AT_S + 31) == [AT_S + 31]


def test_a_clock_that_was_set_back_stops_nobody_for_long(db: Database):
    reserve(db, [False] * 10, AT_S + 5 * 3600)
    with db.begin() as session:
        pacing.hold(session, "t", AT_S + 5 * 3600)
    assert max(reserve(db, [False])) <= AT_S + pacing.AHEAD_S + 1


@pytest.mark.server
def test_processes_that_reserve_at_once_never_get_the_same_moment(postgres_url: str):
    db, found = connect(postgres_url), []
    reserve(db, [False])

    def work() -> None:
        for _ in range(20):
            found.extend(reserve(db, [False] * 3))

    threads = [threading.Thread(target=work) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    db.close()
    assert len({round(slot * 1000) for slot in found}) == 240
    assert most_in_a_second(found) <= 25


def test_the_latest_messages_of_a_chat_are_known_to_other_processes(db: Database):
    with db.begin() as session:
        for number in range(5):
            item = put(session, f"message {number}", "mira")
            outbox.sent(session, item, "ref", NOW + timedelta(seconds=number))
        said = pacing.said_to(session, "telegram", ["mira", "tom"], most=3)
    if db.is_postgresql:
        assert said == [("mira", NOW + timedelta(seconds=number)) for number in (2, 3, 4)]
    else:
        assert said == []
