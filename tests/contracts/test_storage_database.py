"""Transactions, threads and faults, the same on every database."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from sqlalchemy.exc import DBAPIError
from sqlmodel import Session, SQLModel, select

from storage.base import key_values
from storage.base.database import Database, connect
from storage.base.errors import DatabaseNotReady, InvalidValue
from storage.queue import due
from storage.school import people
from storage.tables import Answer, KeyValue, Nudge, Person, Review, Teaching
from tests.contracts.storage_full import furnish
from tests.contracts.storage_school import NOW, later


def keep(session: Session, name: str, value: str) -> str:
    key_values.put(session, name, value, NOW)
    return value


def test_a_transaction_is_kept_when_its_block_ends(db: Database):
    with db.begin() as session:
        keep(session, "a", "1")
    with db.begin() as session:
        assert key_values.get(session, "a") == "1"


def test_a_transaction_that_raises_leaves_nothing(db: Database):
    with pytest.raises(ZeroDivisionError), db.begin() as session:
        int(keep(session, "a", "1")) / 0
    with db.begin() as session:
        assert key_values.get(session, "a") == ""


async def test_run_gives_back_what_the_function_returns(db: Database):
    assert await db.run(keep, "a", value="7") == "7"
    assert await db.read(key_values.get, "a") == "7"


async def test_many_runs_at_once_all_count(db: Database):
    def add_one(session: Session) -> None:
        session.add(Person(created_at=NOW))

    await asyncio.gather(*(db.run(add_one) for _ in range(20)))
    assert await db.read(lambda session: len(session.exec(select(Person)).all())) == 20


async def test_a_cancelled_run_still_commits(db: Database):
    started, go_on = threading.Event(), threading.Event()

    def slow(session: Session) -> None:
        started.set()
        assert go_on.wait(10)
        keep(session, "slow", "done")

    task = asyncio.create_task(db.run(slow))
    await asyncio.to_thread(started.wait, 10)
    task.cancel()
    go_on.set()
    with pytest.raises(asyncio.CancelledError):
        await task
    seen = [await db.run(key_values.get, "slow")]
    while seen[-1] != "done" and len(seen) < 1000:  # another connection may be quicker than the commit
        seen.append(await db.run(key_values.get, "slow"))
    assert seen[-1] == "done"


def test_rows_stay_readable_after_their_transaction(db: Database):
    with db.begin() as session:
        row = people.meet(session, "terminal", "mira", "chat", NOW)
    assert (row.user, row.last_heard_at) == ("mira", NOW)


def test_moments_come_back_aware_and_equal(db: Database):
    east = NOW.astimezone(tz=None)
    with db.begin() as session:
        session.add(Person(id=1, created_at=east))
    with db.begin() as session:
        found = session.get_one(Person, 1).created_at
        assert found == NOW
        assert found.utcoffset() == NOW.utcoffset()


@pytest.mark.parametrize(
    ("address", "said"),
    [
        ("postgresql://me:secret@/school?host={folder}", "connection to server on socket"),
        ("sqlite:///{folder}/garbage.db", "file is not a database"),
    ],
)
@pytest.mark.parametrize("any_revision", [True, False])
def test_a_database_that_cannot_be_opened_says_why(
    address: str, said: str, any_revision: bool, tmp_path: Path
):
    (tmp_path / "garbage.db").write_text("this is no database of any kind\n" * 100)
    with pytest.raises(DatabaseNotReady, match=f"cannot be opened: .*{said}") as caught:
        connect(address.format(folder=tmp_path), any_revision=any_revision)
    assert "secret" not in str(caught.value)


def test_reading_refuses_to_write(shared_db: Database):
    with pytest.raises(DBAPIError), shared_db.reading() as session:
        keep(session, "a", "1")


def test_a_database_opened_for_reading_refuses_to_write(shared_url: str):
    reader = connect(shared_url, read_only=True)
    with pytest.raises(DBAPIError), reader.begin() as session:
        keep(session, "a", "1")
    reader.close()


def test_reading_does_not_wait_for_the_writer(shared_db: Database):
    with shared_db.begin() as writing:
        keep(writing, "a", "1")
        with shared_db.reading() as session:
            assert key_values.get(session, "a") == ""


def test_reading_first_and_writing_then_waits_for_another_writer_instead_of_failing(db: Database):
    def count_up(times: int) -> None:
        for _ in range(times):
            with db.begin() as session:
                row = session.exec(select(KeyValue).where(KeyValue.name == "n").with_for_update()).one()
                row.value = str(int(row.value) + 1)

    with db.begin() as session:
        keep(session, "n", "0")
    threads = [threading.Thread(target=count_up, args=(10,)) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    with db.begin() as session:
        assert key_values.get(session, "n") == "40"


@pytest.mark.parametrize("text", ["a\x00b", "x" * 36, "\ud800"])
def test_a_text_that_one_database_could_not_hold_is_refused_by_both(db: Database, text: str):
    with pytest.raises(InvalidValue) as caught, db.begin() as session:
        session.add(Person(language=text, created_at=NOW))
    assert caught.value.field == "language"
    with pytest.raises(InvalidValue), db.begin() as session:
        key_values.put(session, "long" * 21 if len(text) > 9 else text, "", NOW)


def test_foreign_keys_hold(db: Database):
    with pytest.raises(DBAPIError), db.begin() as session:
        session.add(Teaching(class_id=99, person_id=99, since=NOW))


class Fault(Exception):
    """Raised by a drill."""


def raise_at(number: int) -> tuple[Callable[[str], None], list[str]]:
    """Return a hook that raises at the n-th statement or commit, and the list of what it saw."""
    seen: list[str] = []

    def hook(statement: str) -> None:
        seen.append(statement)
        if len(seen) == number:
            raise Fault(statement)

    return hook, seen


def test_raising_at_any_statement_or_commit_leaves_nothing_half_written(db: Database):
    number, raised = 1, True
    while raised:
        db.before_statement, seen = raise_at(number)
        try:
            with db.begin() as session:
                people.meet(session, "terminal", "mira", f"chat-{number}", later(seconds=number))
                keep(session, "met", str(number))
            raised = False
        except Fault:
            db.before_statement = None
            with db.begin() as session:
                assert people.find_contact(session, "terminal", "mira") is None
                assert key_values.get(session, "met") == ""
                assert session.exec(select(Person)).all() == []
        number += 1
    assert seen[-1] == "COMMIT"
    assert number > 5


def test_ids_that_travel_outside_are_never_given_twice(db: Database):
    with db.begin() as session:
        first = Person(created_at=NOW)
        session.add(first)
        session.flush()
        gone = first.id
        session.delete(first)
        session.flush()
        second = Person(created_at=NOW)
        session.add(second)
        session.flush()
        assert second.id != gone


def _bytes_of(db: Database) -> bytes:
    path = Path(str(db.url.database))
    return path.read_bytes() + path.with_name(path.name + "-wal").read_bytes()


async def test_what_was_deleted_is_not_left_in_an_sqlite_file(sqlite_url: str):
    db = connect(sqlite_url)
    with db.begin() as session:
        for number in range(300):
            session.add(KeyValue(name=f"n{number}", value="Seraphina Blackwood", updated_at=NOW))
    await db.tidy()
    assert b"Seraphina" in _bytes_of(db)
    with db.begin() as session:
        session.exec(sa.delete(KeyValue))
    await db.tidy()
    left = _bytes_of(db)
    db.close()
    assert b"Seraphina" not in left


async def test_tidying_up_waits_for_nobody_and_hurts_nobody(db: Database):
    with db.begin() as session:
        session.add(KeyValue(name="n", value="v", updated_at=NOW))
    await db.tidy()
    with db.reading() as session:
        assert session.get_one(KeyValue, "n").value == "v"


def test_ids_of_what_grows_with_every_answer_do_not_end_at_two_thousand_million(db: Database):
    """A country of five million students passes 2^31 answers within two years."""
    with db.begin() as session:
        school = furnish(session)
        old = session.exec(select(Answer).limit(1)).one()
        nudge = session.exec(select(Nudge).limit(1)).one()
        far = 3_000_000_000
        session.add(Nudge(id=far, **_but_id(nudge, number=7)))
        session.flush()
        review = session.exec(select(Review).limit(1)).one()
        session.add(Review(id=far, **_but_id(review, nudge_id=far)))
        session.flush()
        session.add(Answer(id=far, **_but_id(old, review_id=far)))
        session.flush()
        assert session.get_one(Answer, far).review_id == far
        assert due.ensure(session, "far", "test", NOW, subject=far)
        assert school.group


def _but_id(row: SQLModel, **changes: Any) -> dict[str, Any]:
    return {name: value for name, value in row.model_dump().items() if name != "id"} | changes
