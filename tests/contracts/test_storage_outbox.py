"""What goes out: in order per chat, urgent first, under leases, found again by reference."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from datetime import datetime
from typing import Any

import pytest
from sqlmodel import Session, select

from bot.chat.packing import pack, unpack
from bot.chat.port import Attachment, Button, Message
from bot.words.rich import Rich
from storage.base.database import Database, connect
from storage.queue import outbox
from storage.queue.outbox_messages import ClaimedMessage, Enclosed
from storage.school import channels, people
from storage.tables import Blob, Channel, OutboxItem, OutboxState
from tests.contracts.storage_school import NOW, Said, later, said, school_class


def put(session: Session, text: str, address: str = "mira", **more: Any) -> int:
    timing = {name: more.pop(name) for name in ("not_before", "not_after", "now") if name in more}
    return outbox.put(session, "telegram", address, said(text, **more), **{"now": NOW, **timing})


def texts(session: Session, now: datetime = NOW, **more: Any) -> list[str]:
    """Claim and return what the messages say."""
    return [str(item.body["text"][0][0]) for item in outbox.claim(session, now, **more)]


def test_a_message_goes_out_as_it_was_packed(db: Database):
    picture = Attachment("week.png", "image/png", b"\x89PNG", "22 of 26 answered")
    message = Message(
        Rich.of("10B"), ((Button("A", "a1:x:0", ("a",), "A"),),), picture, key="report:1", urgent=False
    )
    with db.begin() as session:
        outbox.put(session, "telegram", "42", pack(message), now=NOW)
        [item] = outbox.claim(session, NOW)
    assert item.enclosed is not None
    enclosed = Attachment(item.enclosed.name, item.enclosed.media_type, item.enclosed.data, item.enclosed.alt)
    assert unpack(item.body, enclosed) == message
    assert (item.platform, item.address, item.key, item.urgent, item.attempts) == (
        "telegram",
        "42",
        "report:1",
        False,
        1,
    )


def test_the_same_picture_is_stored_once(db: Database):
    with db.begin() as session:
        for name in ("a.png", "b.png"):
            outbox.put(session, "telegram", name, Said({}, Enclosed(name, "image/png", b"same")), now=NOW)
        assert len(session.exec(select(Blob)).all()) == 1
        assert {item.enclosed.name for item in outbox.claim(session, NOW) if item.enclosed} == {
            "a.png",
            "b.png",
        }


def test_one_chat_gets_its_messages_in_order_from_one_sender_at_a_time(db: Database):
    with db.begin() as session:
        first = put(session, "first")
        second = put(session, "second")
        assert texts(session) == ["first", "second"]
        third = put(session, "third")
        assert texts(session) == []
        outbox.sent(session, first, "ref-1", NOW)
        assert texts(session) == []
        outbox.sent(session, second, "ref-2", NOW)
        assert texts(session) == ["third"]
        outbox.sent(session, third, "ref-3", NOW)


def test_messages_that_were_given_back_wait_behind_the_one_that_failed(db: Database):
    with db.begin() as session:
        first = put(session, "first")
        second = put(session, "second")
        assert texts(session) == ["first", "second"]
        outbox.failed(session, first, "time-out", retry_at=later(seconds=30))
        outbox.give_back(session, {second: None})
        assert texts(session, later(seconds=29)) == []
        assert texts(session, later(seconds=30)) == ["first"]
        outbox.sent(session, first, "ref-1", NOW)
        [again] = outbox.claim(session, later(seconds=30))
        assert (again.id, again.attempts) == (second, 1)


def test_nothing_overtakes_a_message_that_the_platform_put_off(db: Database):
    with db.begin() as session:
        first = put(session, "first")
        texts(session)
        outbox.postpone(session, first, later(seconds=5))
        put(session, "second")
        assert texts(session, later(seconds=4)) == []
        assert texts(session, later(seconds=5)) == ["first"]


def test_a_later_message_waits_while_an_earlier_one_is_tried_again(db: Database):
    with db.begin() as session:
        first = put(session, "first")
        texts(session)
        put(session, "second")
        assert not outbox.failed(session, first, "time-out", retry_at=later(seconds=30))
        assert texts(session, later(seconds=29)) == []
        assert texts(session, later(seconds=30)) == ["first"]
        outbox.refused(session, first, "too long")
        assert texts(session, later(seconds=30)) == ["second"]


def test_a_message_for_this_evening_holds_up_no_reply_now(db: Database):
    with db.begin() as session:
        put(session, "tonight", not_before=later(hours=6), urgent=False)
        reply = put(session, "reply")
        assert texts(session) == ["reply"]
        outbox.sent(session, reply, "r", NOW)
        assert texts(session, later(hours=5)) == []
        assert texts(session, later(hours=6)) == ["tonight"]


@pytest.mark.parametrize("limit", [1, 2, 3])
def test_messages_whose_moments_and_order_disagree_all_go_out(db: Database, limit: int):
    with db.begin() as session:
        for address in ("mira", "tom"):
            put(session, "planned", address, not_before=later(hours=6), urgent=False)
            put(session, "report", address, urgent=False)
        gone: list[str] = []
        for _ in range(4):
            for item in outbox.claim(session, later(hours=7), limit=limit):
                outbox.sent(session, item.id, "r", NOW)
                gone.append(item.address)
        assert sorted(gone) == ["mira", "mira", "tom", "tom"]


@pytest.mark.server
@pytest.mark.parametrize("moment", ["before", "between", "after"])
def test_a_sender_overtakes_nobody_who_claims_at_the_same_moment(postgres_url: str, moment: str):
    one, other = connect(postgres_url), connect(postgres_url)
    with one.begin() as session:
        put(session, "first")
        put(session, "second")
    ctx = one.begin()
    session = ctx.__enter__()
    assert texts(session, limit=1) == ["first"]
    locks: list[str] = []

    def commit_meanwhile(statement: str) -> None:
        looking = "FOR UPDATE" in statement
        if (moment == "before" and looking and not locks) or (moment == "between" and locks == ["x"]):
            ctx.__exit__(None, None, None)
            locks.append("committed")
        if looking:
            locks.append("x")

    other.before_statement = commit_meanwhile
    with other.begin() as second_session:
        assert texts(second_session) == []
    if moment == "after":
        ctx.__exit__(None, None, None)
    else:
        assert "committed" in locks
    one.close()
    other.close()


def test_replies_go_before_nudges_and_pull_forward_what_stands_before_them(db: Database):
    with db.begin() as session:
        put(session, "nudge tom", "tom", urgent=False)
        put(session, "nudge mira", "mira", urgent=False)
        put(session, "nudge elif", "elif", urgent=False)
        put(session, "reply mira", "mira")
        put(session, "reply jonas", "jonas")
        assert texts(session, limit=3) == ["nudge mira", "reply mira", "reply jonas"]
        assert texts(session) == ["nudge tom", "nudge elif"]


def test_only_the_platforms_that_a_sender_serves_are_handed_out(db: Database):
    with db.begin() as session:
        put(session, "telegram")
        outbox.put(session, "matrix", "!room", said("matrix"), now=NOW)
        assert texts(session, platforms=["matrix"]) == ["matrix"]
        assert texts(session, platforms=[]) == []
        assert texts(session, platforms=["matrix", "telegram"]) == ["telegram"]


def test_a_message_of_a_dead_sender_comes_back_with_the_same_token(db: Database):
    with db.begin() as session:
        put(session, "first")
        [item] = outbox.claim(session, NOW)
        assert outbox.claim(session, later(seconds=59)) == []
        [again] = outbox.claim(session, later(seconds=60))
        assert (again.token, again.attempts) == (item.token, 2)


def test_tokens_differ_between_messages(db: Database):
    with db.begin() as session:
        put(session, "a", "mira")
        put(session, "b", "tom")
        assert len({item.token for item in outbox.claim(session, NOW)}) == 2


def test_slowing_down_is_no_attempt(db: Database):
    with db.begin() as session:
        number = put(session, "first")
        for minute in range(20):
            assert texts(session, later(minutes=minute)) == ["first"]
            outbox.postpone(session, number, later(minutes=minute, seconds=30))
        [item] = outbox.claim(session, later(hours=1))
        assert item.attempts == 1


def test_what_cannot_be_sent_is_given_up_after_some_attempts(db: Database):
    with db.begin() as session:
        number = put(session, "first")
        for attempt in range(1, 9):
            outbox.claim(session, later(minutes=attempt))
            given_up = outbox.failed(session, number, "no route", retry_at=later(minutes=attempt))
            assert given_up == (attempt == 8)
        row = session.get_one(OutboxItem, number)
        assert (row.state, row.failed) == (OutboxState.FAILED, "no route")
        assert not outbox.failed(session, number, "again", retry_at=NOW)


def test_what_comes_too_late_is_dropped(db: Database):
    with db.begin() as session:
        late = put(session, "starter", not_after=later(hours=1))
        put(session, "still good")
        assert texts(session, later(hours=1, seconds=1)) == ["still good"]
        assert session.get_one(OutboxItem, late, populate_existing=True).state is OutboxState.DROPPED


def test_a_message_being_sent_is_not_dropped(db: Database):
    with db.begin() as session:
        number = put(session, "starter", not_after=later(seconds=10))
        outbox.claim(session, NOW)
        outbox.claim(session, later(seconds=20))
        outbox.sent(session, number, "ref", later(seconds=21))
        assert session.get_one(OutboxItem, number).state is OutboxState.SENT


def test_a_sent_message_is_never_handed_out_again_whatever_is_said_of_it(db: Database):
    with db.begin() as session:
        number = put(session, "first")
        outbox.claim(session, NOW)
        outbox.sent(session, number, "ref", NOW)
        outbox.postpone(session, number, NOW)
        outbox.refused(session, number, "late word")
        assert not outbox.failed(session, number, "late word", retry_at=NOW)
        assert outbox.claim(session, later(days=1)) == []
        assert session.get_one(OutboxItem, number).state is OutboxState.SENT


def test_a_message_replaces_the_one_that_was_sent_under_its_key(db: Database):
    with db.begin() as session:
        first = put(session, "1 of 3", key="review:42")
        outbox.sent(session, first, "ref-9", NOW)
        put(session, "1 of 3, right", replaces="review:42", key="review:42")
        put(session, "elsewhere", "tom", replaces="review:42")
        edits = {item.address: item.edits for item in outbox.claim(session, NOW)}
        assert edits == {"mira": "ref-9", "tom": ""}


def test_the_latest_reference_of_a_key_counts(db: Database):
    with db.begin() as session:
        for ref in ("old", "new"):
            outbox.sent(session, put(session, ref, key="menu"), ref, NOW)
        put(session, "unsent", key="menu", replaces="menu")
        put(session, "elsewhere", "tom", key="menu", replaces="menu")
        edits = {item.address: item.edits for item in outbox.claim(session, NOW)}
        assert edits == {"mira": "new", "tom": ""}


def test_a_message_is_found_by_the_reference_of_its_chat(db: Database):
    with db.begin() as session:
        number = put(session, "question", key="review:7")
        outbox.sent(session, number, "55", NOW)
        found = outbox.by_ref(session, "telegram", "mira", "55")
        assert found is not None
        assert found.key == "review:7"
        assert outbox.by_ref(session, "telegram", "tom", "55") is None
        assert outbox.by_ref(session, "matrix", "mira", "55") is None


def test_what_waits_for_a_blocked_chat_is_dropped(db: Database):
    with db.begin() as session:
        put(session, "a")
        put(session, "b", not_before=later(days=1))
        put(session, "other", "tom")
        assert outbox.drop_waiting(session, "telegram", "mira", "blocked") == 2
        assert texts(session, later(days=2)) == ["other"]


def test_a_chat_that_moved_takes_everything_along(db: Database):
    with db.begin() as session:
        group = school_class(session)
        bound = Channel(class_id=group.id or 0, platform="telegram", address="-1", bound_at=NOW)
        session.add(bound)
        people.meet(session, "telegram", "mira", "mira", NOW)
        put(session, "to the class", "-1")
        outbox.claim(session, NOW)
        outbox.moved(session, "telegram", "-1", "-100")
        outbox.moved(session, "telegram", "mira", "mira-2")
        [item] = outbox.claim(session, NOW)
        assert item.address == "-100"
        session.refresh(bound)
        assert bound.address == "-100"
        assert people.contact_at(session, "telegram", "mira-2")


def test_a_chat_that_moved_to_where_a_place_was_bound_meanwhile_takes_its_messages_along(db: Database):
    with db.begin() as session:
        group = school_class(session)
        before = channels.bind(session, group.id or 0, "telegram", "-1", NOW)
        bound = channels.bind(session, group.id or 0, "telegram", "-100", later(days=1))
        put(session, "to the class", "-1")
        outbox.moved(session, "telegram", "-1", "-100")
        [item] = outbox.claim(session, NOW)
        assert item.address == "-100"
        assert [one.id for one in channels.of_class(session, group.id or 0)] == [bound.id]
        assert before.lost_at == later(days=1)


def test_a_held_database_sends_nothing_until_it_is_released(db: Database):
    with db.begin() as session:
        put(session, "first")
        outbox.hold(session, NOW)
        assert outbox.sending_held(session)
        assert texts(session) == []
        outbox.release(session)
        assert texts(session) == ["first"]


def test_what_waits_is_counted_and_the_next_moment_known(db: Database):
    with db.begin() as session:
        assert outbox.waiting(session, NOW) == (0, None)
        assert outbox.next_at(session) is None
        put(session, "later", not_before=later(hours=1))
        put(session, "now", "tom")
        outbox.sent(session, put(session, "gone", "x"), "r", NOW)
        assert outbox.waiting(session, NOW) == (1, NOW)
        assert outbox.next_at(session) == NOW


@pytest.mark.parametrize("senders", [1, 4])
def test_senders_at_once_send_every_message_once_and_in_order(db: Database, senders: int):
    with db.begin() as session:
        for number in range(8):
            for address in ("mira", "tom", "elif"):
                put(session, str(number), address, urgent=number % 2 == 0)
    sent: list[tuple[str, str]] = []

    def send() -> None:
        idle = 0
        while idle < 30:
            with db.begin() as session:
                items = outbox.claim(session, NOW, limit=2)
            idle = 0 if items else idle + 1
            for item in items:
                sent.append((item.address, item.body["text"][0][0]))
                with db.begin() as session:
                    outbox.sent(session, item.id, f"ref-{item.id}", NOW)

    threads = [threading.Thread(target=send) for _ in range(senders)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    for address in ("mira", "tom", "elif"):
        assert [text for where, text in sent if where == address] == list("01234567")


@pytest.mark.server
def test_a_message_that_another_sender_lets_go_meanwhile_still_goes_first(
    postgres_url: str, monkeypatch: pytest.MonkeyPatch
):
    database = connect(postgres_url)
    with database.begin() as session:
        first, second = put(session, "0"), put(session, "1")
    other = Session(database.engine)
    other.exec(select(OutboxItem).where(OutboxItem.id == first).with_for_update()).one()
    look = outbox._in_order

    def let_go_just_now(session: Session, rows: Sequence[Any], now: datetime) -> list[Any] | None:
        other.rollback()
        return look(session, rows, now)

    monkeypatch.setattr(outbox, "_in_order", let_go_just_now)
    with database.begin() as session:
        assert [item.id for item in outbox.claim(session, NOW)] == [first, second]
    other.close()
    database.close()


# ---------------------------------------------------------------- a process that was stopped and comes back


def _taken_over(db: Database) -> tuple[ClaimedMessage, ClaimedMessage]:
    """Let a message be claimed by one process, and by another once the lease has run out."""
    with db.begin() as session:
        put(session, "one")
    with db.begin() as session:
        [ours] = outbox.claim(session, NOW)
    with db.begin() as session:
        [theirs] = outbox.claim(session, later(minutes=5))
    assert (ours.id, ours.token) == (theirs.id, theirs.token)
    return ours, theirs


@pytest.mark.parametrize("what", ["failed", "postponed", "given back", "refused", "held longer"])
def test_who_was_stopped_beyond_its_lease_changes_nothing_of_what_another_took_over(db: Database, what: str):
    ours, _ = _taken_over(db)
    at, lease_token = later(minutes=5), ours.lease_token
    with db.begin() as session:
        match what:
            case "failed":
                outbox.failed(session, ours.id, "no", retry_at=at, give_up_after=1, lease_token=lease_token)
            case "postponed":
                outbox.postpone(session, ours.id, at, lease_token=lease_token)
            case "given back":
                outbox.give_back(session, {ours.id: lease_token})
            case "refused":
                outbox.refused(session, ours.id, "no", lease_token=lease_token)
            case _:
                outbox.keep_longer(session, {ours.id: lease_token}, later(hours=5))
    with db.begin() as session:
        assert outbox.claim(session, later(minutes=5, seconds=1)) == [], "the other one's lease was broken"
    with db.begin() as session:
        assert len(outbox.claim(session, later(minutes=7))) == 1


def test_that_a_message_has_arrived_is_true_whoever_says_so(db: Database):
    ours, theirs = _taken_over(db)
    with db.begin() as session:
        outbox.sent(session, ours.id, "ref-ours", NOW)
        outbox.failed(session, theirs.id, "time-out", retry_at=NOW, lease_token=theirs.lease_token)
    with db.begin() as session:
        assert outbox.claim(session, later(hours=1)) == []


def test_a_lease_is_renewed_by_who_holds_it(db: Database):
    _, theirs = _taken_over(db)
    with db.begin() as session:
        outbox.keep_longer(session, {theirs.id: theirs.lease_token}, later(hours=5))
    with db.begin() as session:
        assert outbox.claim(session, later(hours=4)) == []
