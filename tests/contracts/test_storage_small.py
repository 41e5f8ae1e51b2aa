"""Bookmarks, dialogues and the agenda."""

from __future__ import annotations

import threading
from datetime import timedelta

from bot.chat.port import Message, Rich, pack
from storage import agenda, bookmarks, dialogues, due, outbox
from storage.database import Database
from tests.contracts.storage_school import NOW, later


def test_a_bookmark_is_kept_changed_and_forgotten(db: Database):
    with db.begin() as session:
        assert bookmarks.get(session, "matrix sync", "none") == "none"
        bookmarks.put(session, "matrix sync", "s1", NOW)
        assert bookmarks.get(session, "matrix sync") == "s1"
        bookmarks.put(session, "matrix sync", "s2", later(seconds=1))
        assert bookmarks.get(session, "matrix sync") == "s2"
        bookmarks.forget(session, "matrix sync")
        bookmarks.forget(session, "matrix sync")
        assert bookmarks.get(session, "matrix sync") == ""


def test_the_first_value_wins_where_one_is_needed_for_ever(db: Database):
    with db.begin() as session:
        assert bookmarks.get_or_put(session, "key", "one", NOW) == "one"
        assert bookmarks.get_or_put(session, "key", "two", NOW) == "one"


def test_workers_at_once_agree_on_the_first_value(db: Database):
    got: list[str] = []

    def work(value: str) -> None:
        with db.begin() as session:
            got.append(bookmarks.get_or_put(session, "key", value, NOW))

    threads = [threading.Thread(target=work, args=(str(n),)) for n in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(got) == 6
    assert len(set(got)) == 1


def test_a_dialogue_starts_idle_and_is_kept(db: Database):
    with db.begin() as session:
        assert dialogues.load(session, "telegram", "mira") == ("idle", {})
        dialogues.save(session, "telegram", "mira", "asking", {"review": 7}, NOW)
        dialogues.save(session, "matrix", "mira", "naming", {}, NOW)
        assert dialogues.load(session, "telegram", "mira") == ("asking", {"review": 7})
        dialogues.save(session, "telegram", "mira", "asking", {"review": 8, "list": [1, {"a": None}]}, NOW)
    with db.begin() as session:
        assert dialogues.load(session, "telegram", "mira") == (
            "asking",
            {"review": 8, "list": [1, {"a": None}]},
        )
        dialogues.forget(session, "telegram", "mira")
        assert dialogues.load(session, "telegram", "mira") == ("idle", {})
        assert dialogues.load(session, "matrix", "mira") == ("naming", {})


def test_the_agenda_knows_the_next_moment_of_all_kinds_of_work(db: Database):
    with db.begin() as session:
        assert (agenda.next_round(session), agenda.next_moment(session)) == (None, None)
        due.ensure(session, "a", "k", NOW + timedelta(hours=2))
        assert agenda.next_round(session) == NOW + timedelta(hours=2)
        outbox.put(session, "t", "mira", pack(Message(Rich.of("hello"))), now=NOW)
        assert agenda.next_moment(session) == NOW
        assert agenda.next_round(session) == NOW + timedelta(hours=2)


def test_the_agenda_tells_whether_there_is_anything_to_do_now(db: Database):
    with db.begin() as session:
        assert not agenda.anything(session, NOW)
        due.ensure(session, "a", "k", NOW + timedelta(hours=2))
        assert not agenda.anything(session, NOW)
        assert agenda.anything(session, NOW + timedelta(hours=2))
        outbox.put(session, "t", "mira", pack(Message(Rich.of("hello"))), now=NOW)
        assert agenda.anything(session, NOW)
        outbox.claim(session, NOW)
        assert not agenda.anything(session, NOW)  # somebody is sending it
