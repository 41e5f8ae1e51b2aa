"""Claiming what is due costs the same however much is planned for later. Prints the ratio.

HOLDFAST_BENCHMARK_ROWS sets the larger number of rows (default 200,000; ten million take minutes).
"""

from __future__ import annotations

import os
import statistics
import sys
import time
from datetime import timedelta

import pytest

from storage import due
from storage.database import Database
from tests.contracts.storage_school import NOW

FEW = 10_000
MANY = int(os.environ.get("HOLDFAST_BENCHMARK_ROWS", "200000"))

FILL = {
    "sqlite": """
        WITH RECURSIVE n(i) AS (SELECT {first} UNION ALL SELECT i + 1 FROM n WHERE i < {last})
        INSERT INTO due ("key", kind, payload, due_at, attempts, failed)
        SELECT 'later:' || i, 'plan', '{{}}', datetime('2026-09-02', (i % 10000000) || ' seconds'), 0, '' FROM n
    """,
    "postgresql": """
        INSERT INTO due ("key", kind, payload, due_at, attempts, failed)
        SELECT 'later:' || i, 'plan', '{{}}', timestamptz '2026-09-02 00:00Z' + mod(i, 10000000) * interval '1 second',
               0, '' FROM generate_series({first}, {last}) i
    """,
}


def fill(db: Database, first: int, last: int) -> None:
    """Plan work for later."""
    name = db.engine.dialect.name
    with db.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        if db.is_postgresql:
            connection.exec_driver_sql("SET statement_timeout = 0")
        connection.exec_driver_sql(FILL[name].format(first=first, last=last))
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


@pytest.mark.slow
def test_claiming_stays_flat_while_future_work_grows(shared_db: Database, capsys: pytest.CaptureFixture[str]):
    fill(shared_db, 1, FEW)
    few = claim_s(shared_db)
    fill(shared_db, FEW + 1, MANY)
    many = claim_s(shared_db)
    kind = shared_db.engine.dialect.name
    with capsys.disabled():
        sys.stdout.write(
            f"\n{kind}: claiming 20 of {FEW:,} rows takes {few * 1e3:.1f} ms, "
            f"of {MANY:,} {many * 1e3:.1f} ms: ratio {many / few:.2f}\n"
        )
    assert many / few < 4
