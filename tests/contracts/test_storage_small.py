"""Bookmarks, dialogues and the agenda."""

from __future__ import annotations

import threading
from datetime import timedelta

from bot.chat.packing import pack
from bot.chat.port import Message
from bot.words.rich import Rich
from storage.base import key_values
from storage.base.database import Database
from storage.queue import conversations, due, next_due, outbox
from tests.contracts.storage_school import NOW, later


def test_a_key_value_is_kept_changed_and_forgotten(db: Database):
    with db.begin() as session:
        assert key_values.get(session, "matrix sync", "none") == "none"
        key_values.put(session, "matrix sync", "s1", NOW)
        assert key_values.get(session, "matrix sync") == "s1"
        key_values.put(session, "matrix sync", "s2", later(seconds=1))
        assert key_values.get(session, "matrix sync") == "s2"
        key_values.forget(session, "matrix sync")
        key_values.forget(session, "matrix sync")
        assert key_values.get(session, "matrix sync") == ""


def test_the_first_value_wins_where_one_is_needed_for_ever(db: Database):
    with db.begin() as session:
        assert key_values.get_or_put(session, "key", "one", NOW) == "one"
        assert key_values.get_or_put(session, "key", "two", NOW) == "one"


def test_workers_at_once_agree_on_the_first_value(db: Database):
    got: list[str] = []

    def work(value: str) -> None:
        with db.begin() as session:
            got.append(key_values.get_or_put(session, "key", value, NOW))

    threads = [threading.Thread(target=work, args=(str(n),)) for n in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(got) == 6
    assert len(set(got)) == 1


def test_a_dialogue_starts_idle_and_is_kept(db: Database):
    with db.begin() as session:
        assert conversations.load(session, "telegram", "mira") == ("idle", {})
        conversations.save(session, "telegram", "mira", "asking", {"review": 7}, NOW)
        conversations.save(session, "matrix", "mira", "naming", {}, NOW)
        assert conversations.load(session, "telegram", "mira") == ("asking", {"review": 7})
        conversations.save(
            session, "telegram", "mira", "asking", {"review": 8, "list": [1, {"a": None}]}, NOW
        )
    with db.begin() as session:
        assert conversations.load(session, "telegram", "mira") == (
            "asking",
            {"review": 8, "list": [1, {"a": None}]},
        )
        conversations.forget(session, "telegram", "mira")
        assert conversations.load(session, "telegram", "mira") == ("idle", {})
        assert conversations.load(session, "matrix", "mira") == ("naming", {})


def test_the_agenda_knows_the_next_moment_of_all_kinds_of_work(db: Database):
    with db.begin() as session:
        assert (next_due.next_round(session), next_due.next_moment(session)) == (None, None)
        due.ensure(session, "a", "k", NOW + timedelta(hours=2))
        assert next_due.next_round(session) == NOW + timedelta(hours=2)
        outbox.put(session, "t", "mira", pack(Message(Rich.of("hello"))), now=NOW)
        assert next_due.next_moment(session) == NOW
        assert next_due.next_round(session) == NOW + timedelta(hours=2)


def test_the_agenda_tells_whether_there_is_anything_to_do_now(db: Database):
    with db.begin() as session:
        assert not next_due.anything(session, NOW)
        due.ensure(session, "a", "k", NOW + timedelta(hours=2))
        assert not next_due.anything(session, NOW)
        assert next_due.anything(session, NOW + timedelta(hours=2))
        outbox.put(session, "t", "mira", pack(Message(Rich.of("hello"))), now=NOW)
        assert next_due.anything(session, NOW)
        outbox.claim(session, NOW)
        assert not next_due.anything(session, NOW)  # somebody is sending it
