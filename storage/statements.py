"""Statements that SQLite and PostgreSQL spell the same but SQLAlchemy keeps in two dialects."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
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
    mapped = sa.inspect(table).columns
    full = {name: getattr(row, name) for name in mapped.keys() if getattr(row, name) is not None}  # noqa: SIM118
    target: sa.Table = table.__table__  # type: ignore[attr-defined]
    first_key = next(iter(target.primary_key.columns))
    if is_postgresql(session):
        statement: Any = postgresql.insert(target).values(full).on_conflict_do_nothing()
    else:
        statement = sqlite.insert(target).values(full).on_conflict_do_nothing()
    found: int | str | None = session.exec(statement.returning(first_key)).scalar()
    return found


def upsert(
    session: Session,
    table: type[SQLModel],
    values: Mapping[str, Any],
    keys: Sequence[str],
    change: Sequence[str],
) -> None:
    """Insert a row, or set the columns `change` of the one with the same `keys`."""
    limits.check_row(table(**values))
    target: sa.Table = table.__table__  # type: ignore[attr-defined]
    insert: Any = postgresql.insert if is_postgresql(session) else sqlite.insert
    statement = insert(target).values(dict(values))
    new = {name: statement.excluded[name] for name in change}
    session.exec(statement.on_conflict_do_update(index_elements=list(keys), set_=new))
