"""Statements that SQLite and PostgreSQL spell the same but SQLAlchemy keeps in two dialects."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from typing import Any

import sqlalchemy as sa
from sqlalchemy.dialects import postgresql, sqlite
from sqlmodel import Session, SQLModel

from storage import limits


def is_postgresql(session: Session) -> bool:
    """Whether the session talks to PostgreSQL (else it is SQLite)."""
    return session.get_bind().dialect.name == "postgresql"


def insert_new(session: Session, table: type[SQLModel], values: Mapping[str, Any]) -> int | str | None:
    """Insert a row unless one of its unique keys is taken already.

    Returns
    -------
    int or str or None
        The primary key of the new row (its first column), or None when the row was there before.
    """
    row = table(**values)  # for the defaults of the columns that were not named
    limits.check_row(row)
    full = {name: value for name in _names(table) if (value := getattr(row, name)) is not None}
    session.flush()  # past the ORM, which takes longer than the database: so flush what it holds
    statement = _insert_new(table, is_postgresql(session))
    found: int | str | None = session.connection().execute(statement, full).scalar()
    return found


# Statements are put together once for each table: that takes longer than to run them.


@cache
def _names(table: type[SQLModel]) -> tuple[str, ...]:
    return tuple(sa.inspect(table).columns.keys())


@cache
def _insert_new(table: type[SQLModel], on_postgresql: bool) -> Any:
    target: sa.Table = table.__table__  # type: ignore[attr-defined]
    insert: Any = postgresql.insert if on_postgresql else sqlite.insert
    return insert(target).on_conflict_do_nothing().returning(next(iter(target.primary_key.columns)))


def upsert(
    session: Session,
    table: type[SQLModel],
    values: Mapping[str, Any],
    keys: Sequence[str],
    change: Sequence[str],
) -> None:
    """Insert a row, or set the columns `change` of the one with the same `keys`."""
    limits.check_row(table(**values))
    statement = _upsert(table, is_postgresql(session), tuple(keys), tuple(change))
    session.exec(statement, params=dict(values))


@cache
def _upsert(
    table: type[SQLModel], on_postgresql: bool, keys: tuple[str, ...], change: tuple[str, ...]
) -> Any:
    target: sa.Table = table.__table__  # type: ignore[attr-defined]
    insert: Any = postgresql.insert if on_postgresql else sqlite.insert
    statement = insert(target)
    new = {name: statement.excluded[name] for name in change}
    return statement.on_conflict_do_update(index_elements=list(keys), set_=new)
