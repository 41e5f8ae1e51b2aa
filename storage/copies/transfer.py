"""Moving a school to another database, above all from SQLite to PostgreSQL, with proof that all of it came.

Everything is copied in one transaction of the target, then counted and hashed on both sides; a difference
undoes it. The target holds its outgoing messages until it is told to send, and until then the copy can be
made again: what is the same is left alone, what differs is replaced. Once the target sends, it has a life of
its own and is refused.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, SQLModel

from storage import migrations
from storage.base import database as databases
from storage.base import key_values
from storage.base.errors import CopyError
from storage.base.statements import is_postgresql
from storage.queue import outbox, queue_statistics
from storage.queue.outbox_statements import EPOCH, SENDING

ROWS_AT_ONCE = 500
COPY_OF = "copy of"
OWN_VALUES = (
    SENDING,
    EPOCH,
    COPY_OF,
    queue_statistics.LOOKED_AT,
    queue_statistics.BACKED_UP,
)
"""Bookmarks that belong to one database and are never copied."""

_SUM_MODULUS = 1 << 256


@dataclass(frozen=True, slots=True)
class TableCopy:
    """What was copied of one table: rows, their hash, and whether it was the same already."""

    table: str
    rows: int
    digest: str
    same_already: bool


def copy(
    source_url: str, target_url: str, *, now: datetime, on_table: Callable[[str, int], None] | None = None
) -> list[TableCopy]:
    """Copy everything from one database into another.

    Parameters
    ----------
    source_url, target_url : str
        From where to where. The target is migrated first.
    now : datetime
        The present moment.
    on_table : callable, optional
        Told the name and the number of rows of each table once it is there.

    Returns
    -------
    list of TableCopy
        One per table, in the order in which they were copied.

    Raises
    ------
    CopyError
        The target sends already or has rows of its own, or a table did not arrive whole; then nothing of it
        was changed.
    """
    if databases.parse_url(source_url) == databases.parse_url(target_url):
        raise CopyError("Source and target are the same database; nothing was copied.")
    source = databases.connect(source_url, read_only=True, patient=True)
    try:
        migrations.upgrade(target_url, now=now)
        target = databases.connect(target_url, patient=True)
        try:
            with source.reading() as old, target.begin() as new:
                _refuse_living(new, str(source.url))
                done = _copy_all(old, new, on_table)
                outbox.hold(new, now)
                key_values.put(new, COPY_OF, str(source.url), now)
                return done
        finally:
            target.close()
    finally:
        source.close()


def _refuse_living(new: Session, source: str) -> None:
    """Let only an empty database, or a held copy of the same source, be overwritten."""
    if outbox.sending_held(new) and key_values.get(new, COPY_OF) == source:
        return
    filled = [t.name for t in _tables() if new.scalar(sa.select(sa.literal(1)).select_from(t).limit(1))]
    if filled:
        raise CopyError(
            f"The target is not an unused copy of this database: it has rows in {', '.join(filled[:3])}. "
            "Nothing was changed. Name an empty database."
        )


def _copy_all(old: Session, new: Session, on_table: Callable[[str, int], None] | None) -> list[TableCopy]:
    before = {table.name: fingerprint(old, table) for table in _tables()}
    same = {table.name for table in _tables() if fingerprint(new, table) == before[table.name]}
    _empty(new, same)
    done = []
    for table in _tables():
        if table.name not in same:
            _copy_table(old, new, table)
        rows, digest = before[table.name]
        if fingerprint(new, table) != before[table.name]:
            raise CopyError(f"The table {table.name} did not arrive whole; nothing was changed.")
        _go_on_counting(old, new, table)
        done.append(TableCopy(table.name, rows, digest, table.name in same))
        if on_table is not None:
            on_table(table.name, rows)
    return done


def _empty(new: Session, same: set[str]) -> None:
    """Empty the tables that differ. A table that others refer to cannot be emptied alone: then they go too."""
    gone = {table.name for table in _tables()} - same
    for table in _tables():
        if any(key.column.table.name in gone for key in table.foreign_keys):
            gone.add(table.name)
            same.discard(table.name)
    for table in reversed(_tables()):
        if table.name in gone:
            new.execute(table.delete().where(_copied(table)))


def _copy_table(old: Session, new: Session, table: sa.Table) -> None:
    read = old.execute(sa.select(table).where(_copied(table)), execution_options={"yield_per": ROWS_AT_ONCE})
    for portion in read.mappings().partitions(ROWS_AT_ONCE):
        new.execute(table.insert(), [dict(row) for row in portion])


def fingerprint(session: Session, table: sa.Table) -> tuple[int, str]:
    """Return the number of rows of a table and a hash of them that does not depend on their order.

    The hash is the sum of the SHA-256 of every row, modulo 2^256: databases sort texts differently.
    """
    rows, total = 0, 0
    read = session.execute(
        sa.select(table).where(_copied(table)), execution_options={"yield_per": ROWS_AT_ONCE}
    )
    for row in read.mappings():
        rows += 1
        total += int.from_bytes(hashlib.sha256(_canonical(dict(row))).digest(), "big")
    return rows, f"{total % _SUM_MODULUS:064x}"


def _canonical(row: Mapping[str, Any]) -> bytes:
    return json.dumps(row, sort_keys=True, default=_plain).encode()


def _plain(value: Any) -> str:
    if isinstance(value, datetime | date):
        return value.isoformat()
    if isinstance(value, bytes):
        return hashlib.sha256(value).hexdigest()
    raise TypeError(f"There is no plain form of {type(value).__name__}.")


def _go_on_counting(old: Session, new: Session, table: sa.Table) -> None:
    """Let the target's next id follow the highest that the source ever gave."""
    key = next(iter(table.primary_key.columns))
    if not isinstance(key.type, sa.Integer) or len(table.primary_key.columns) > 1 or key.foreign_keys:
        return
    last = max(_last_given(old, table, key), new.scalar(sa.select(sa.func.max(key))) or 0)
    if last and is_postgresql(new):
        new.execute(
            sa.text("SELECT setval(pg_get_serial_sequence(:t, :c), :n)"), _names(table, key) | {"n": last}
        )
    elif last and table.dialect_options["sqlite"].get("autoincrement"):
        new.execute(sa.text("DELETE FROM sqlite_sequence WHERE name = :t"), {"t": table.name})
        new.execute(
            sa.text("INSERT INTO sqlite_sequence (name, seq) VALUES (:t, :n)"), {"t": table.name, "n": last}
        )


def _last_given(old: Session, table: sa.Table, key: sa.Column[Any]) -> int:
    if is_postgresql(old):
        asked = sa.text("SELECT last_value FROM pg_sequences WHERE sequencename = :s")
        named = old.scalar(sa.text("SELECT pg_get_serial_sequence(:t, :c)"), _names(table, key))
        return old.scalar(asked, {"s": str(named).rpartition(".")[2].strip('"')}) or 0
    return old.scalar(sa.text("SELECT max(seq) FROM sqlite_sequence WHERE name = :t"), {"t": table.name}) or 0


def _names(table: sa.Table, key: sa.Column[Any]) -> dict[str, Any]:
    return {"t": f'"{table.name}"', "c": key.name}


def _copied(table: sa.Table) -> sa.ColumnElement[bool]:
    """All rows, except values that belong to one database."""
    return table.c.name.not_in(OWN_VALUES) if table.name == "key_value" else sa.true()


def _tables() -> list[sa.Table]:
    return list(SQLModel.metadata.sorted_tables)


def table_count() -> int:
    """Return how many tables a copy goes through."""
    return len(_tables())


def same(one_url: str, other_url: str) -> Iterator[tuple[str, bool]]:
    """Compare two databases table by table, without changing either."""
    one, other = (databases.connect(url, read_only=True, patient=True) for url in (one_url, other_url))
    try:
        with one.reading() as first, other.reading() as second:
            for table in _tables():
                yield table.name, fingerprint(first, table) == fingerprint(second, table)
    finally:
        one.close()
        other.close()
