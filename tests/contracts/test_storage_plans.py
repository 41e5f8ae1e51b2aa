"""The statements that run all the time find their rows by an index, however much is stored.

PostgreSQL is told to avoid scanning, as it would rightly scan tables as small as a test's: what is tested is
that an index fits at all.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import pytest
import sqlalchemy as sa
from sqlmodel import Session

from storage.asked import nudge_questions, reviews
from storage.base.database import Database
from storage.queue import due, inbox, outbox, queue_statistics
from storage.school import codes, people, speakers
from tests.contracts.storage_school import NOW, said

ASKED: dict[str, Callable[[Session], Any]] = {
    "due: claim": lambda s: due.claim(s, NOW),
    "due: next": due.next_at,
    "inbox: claim": lambda s: inbox.claim(s, NOW),
    "inbox: waiting": inbox.waiting,
    "outbox: claim": lambda s: outbox.claim(s, NOW),
    "outbox: sent": lambda s: outbox.sent(s, 1, "r", NOW),
    "outbox: by ref": lambda s: outbox.by_ref(s, "t", "a", "r"),
    "outbox: reply": lambda s: outbox.put(s, "t", "a", said(), now=NOW),
    "speakers: heard": lambda s: speakers.heard(s, "t", "u", "a", NOW),
    "reviews: open": lambda s: reviews.open_and_named(s, [1], None),
    "reviews: open and named": lambda s: reviews.open_and_named(s, [1], 1),
    "sheets: lines": lambda s: nudge_questions.lines(s, 1),
    "sheets: taught": lambda s: nudge_questions.taught(s, 1, NOW),
    "speakers: find": lambda s: speakers.find(s, "t", "u"),
    "people: contact": lambda s: people.find_contact(s, "t", "u"),
    "pulse": lambda s: queue_statistics.take(s, NOW),
    "codes: look": lambda s: codes.look(s, "2345678923", platform="t", user="u", now=NOW),
}


@contextmanager
def plans_of(session: Session) -> Iterator[list[tuple[str, str]]]:
    """Collect statement and plan of everything that runs inside the block."""
    found: list[tuple[str, str]] = []
    connection = session.connection()
    prefix = "EXPLAIN " if connection.dialect.name == "postgresql" else "EXPLAIN QUERY PLAN "

    def explain(_c: Any, cursor: Any, statement: str, parameters: Any, *_rest: Any) -> None:
        if re.match(r"\s*(SELECT|UPDATE|DELETE)", statement) and "FROM sqlite_" not in statement:
            one = parameters[0] if isinstance(parameters, list) else parameters  # of several rows
            cursor.execute(prefix + statement, one)
            found.append((statement, "\n".join(str(row[-1]) for row in cursor.fetchall())))

    sa.event.listen(connection, "before_cursor_execute", explain)
    try:
        yield found
    finally:
        sa.event.remove(connection, "before_cursor_execute", explain)


def scans(plan: str) -> list[str]:
    """Return the tables that a plan reads from end to end."""
    return re.findall(r"Seq Scan on \w+|^SCAN \w+", plan, re.MULTILINE)


@pytest.mark.parametrize("name", sorted(ASKED))
def test_what_runs_all_the_time_scans_no_table(shared_db: Database, name: str):
    with shared_db.begin() as session:
        for number in range(3):
            outbox.put(session, "t", f"a{number}", said(), now=NOW)
            due.ensure(session, str(number), "k", NOW)
            inbox.record(session, platform="t", key=f"x{number}", user="u", event={}, now=NOW)
        if shared_db.is_postgresql:
            session.connection().exec_driver_sql("SET LOCAL enable_seqscan = off")
        with plans_of(session) as plans:
            ASKED[name](session)
    assert plans
    assert [(statement, plan) for statement, plan in plans if scans(plan)] == []


def test_a_scan_is_seen(shared_db: Database):
    with shared_db.begin() as session, plans_of(session) as plans:
        session.connection().exec_driver_sql("SELECT * FROM due WHERE failed = 'x'")
    assert scans(plans[0][1])
