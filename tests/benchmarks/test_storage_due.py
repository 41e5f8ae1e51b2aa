"""Claiming what is due costs the same however much is planned for later. Prints the ratio and the plan.

HOLDFAST_BENCHMARK_ROWS sets the larger number of rows (default a million; ``deploy/drills/due.sh``: ten million).
"""

from __future__ import annotations

import os
import statistics
import sys
import time
from datetime import timedelta
from typing import Any

import pytest
import sqlalchemy as sa

from storage.base.database import Database
from storage.queue import due
from tests.contracts.storage_school import NOW

FEW = 10_000
MANY = int(os.environ.get("HOLDFAST_BENCHMARK_ROWS", "1000000"))

FILL = {
    "sqlite": """
        WITH RECURSIVE n(i) AS (SELECT {first} UNION ALL SELECT i + 1 FROM n WHERE i < {last})
        INSERT INTO due ("key", kind, payload, due_at, attempts, lease_token, failed)
        SELECT 'later:' || i, 'plan', '{{}}', datetime('2026-09-02', (i % 10000000) || ' seconds'), 0, 0, '' FROM n
    """,
    "postgresql": """
        INSERT INTO due ("key", kind, payload, due_at, attempts, lease_token, failed)
        SELECT 'later:' || i, 'plan', '{{}}', timestamptz '2026-09-02 00:00Z' + mod(i, 10000000) * interval '1 second',
               0, 0, '' FROM generate_series({first}, {last}) i
    """,
}


def fill(db: Database, first: int, last: int) -> None:
    """Plan work for later."""
    name = db.engine.dialect.name
    with db.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        if db.is_postgresql:
            connection.exec_driver_sql("SET statement_timeout = 0")
        connection.exec_driver_sql(FILL[name].format(first=first, last=last))
        if db.is_postgresql:  # or both go on in the background, beside what is measured
            connection.exec_driver_sql("VACUUM ANALYZE due")
            connection.exec_driver_sql("CHECKPOINT")
        else:
            connection.exec_driver_sql("ANALYZE")


def claim_s(db: Database, rounds: int = 30) -> float:
    """Return the median time of claiming twenty rows [s]."""
    times = []
    for number in range(rounds):
        with db.begin() as session:
            for one in range(20):
                due.ensure(session, f"now:{time.monotonic_ns()}:{one}", "plan", NOW)
        with db.begin() as session:
            start = time.perf_counter()
            rows = due.claim(session, NOW + timedelta(seconds=number))
            times.append(time.perf_counter() - start)
            assert len(rows) == 20
            for row in rows:
                due.done(session, row.id or 0, NOW)
    return statistics.median(times)


def plan(db: Database) -> str:
    """Return how the database finds what is due, in one line."""
    asked: list[tuple[str, Any]] = []
    with db.begin() as session:
        listener = lambda _c, _cur, text, parameters, *_: asked.append((text, parameters))  # noqa: E731
        sa.event.listen(db.engine, "before_cursor_execute", listener)
        due.claim(session, NOW - timedelta(days=365))
        sa.event.remove(db.engine, "before_cursor_execute", listener)
        text, parameters = next(one for one in asked if one[0].startswith("SELECT"))
        explain = "EXPLAIN " if db.is_postgresql else "EXPLAIN QUERY PLAN "
        rows = session.connection().exec_driver_sql(explain + text, parameters).all()
    return " / ".join(str(row[-1]).strip() for row in rows)


@pytest.mark.slow
def test_claiming_stays_flat_while_future_work_grows(shared_db: Database, capsys: pytest.CaptureFixture[str]):
    fill(shared_db, 1, FEW)
    few = claim_s(shared_db)
    fill(shared_db, FEW + 1, MANY)
    many = claim_s(shared_db)
    kind, found_by = shared_db.engine.dialect.name, plan(shared_db)
    with capsys.disabled():
        sys.stdout.write(
            f"\n{kind}: claiming 20 of {FEW:,} rows takes {few * 1e3:.1f} ms, "
            f"of {MANY:,} {many * 1e3:.1f} ms: ratio {many / few:.2f}\n"
            f"{kind}: {found_by}\n"
        )
    assert "ix_due_open" in found_by, found_by
    assert "Seq Scan" not in found_by
    assert many / few < 4
