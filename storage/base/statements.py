"""Statements that SQLite and PostgreSQL spell the same but SQLAlchemy keeps in two dialects."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from typing import Any, TypeVar

import sqlalchemy as sa
from sqlalchemy.orm.attributes import set_committed_value
from sqlmodel import Session, SQLModel

from storage.base import limits
from storage.base.prepared import PreparedStatement

R = TypeVar("R", bound=SQLModel)


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
    limits.check_values(table, values)
    given = {name: value for name, value in values.items() if value is not None}
    found = _insert_new(table, is_postgresql(session), tuple(given)).first(session, given)
    return None if found is None else found[0]


# Statements are put together once for each table: that takes longer than to run them.


@cache
def _insert_new(table: type[SQLModel], on_postgresql: bool, columns: tuple[str, ...]) -> PreparedStatement:
    target: sa.Table = table.__table__  # type: ignore[attr-defined]
    insert = _insert(on_postgresql)
    stmt = insert(target).on_conflict_do_nothing().returning(next(iter(target.primary_key.columns)))
    return PreparedStatement(stmt, columns)


def _insert(on_postgresql: bool) -> Any:
    """Return the dialect's own INSERT; only the dialect that is used is imported."""
    if on_postgresql:
        from sqlalchemy.dialects.postgresql import insert as of_postgresql

        return of_postgresql
    from sqlalchemy.dialects.sqlite import insert as of_sqlite

    return of_sqlite


def upsert(
    session: Session,
    table: type[SQLModel],
    values: Mapping[str, Any],
    keys: Sequence[str],
    change: Sequence[str],
) -> None:
    """Insert a row, or set the columns `change` of the one with the same `keys`."""
    limits.check_values(table, values)
    statement = _upsert(table, is_postgresql(session), tuple(values), tuple(keys), tuple(change))
    statement.run(session, values)


@cache
def _upsert(
    table: type[SQLModel],
    on_postgresql: bool,
    columns: tuple[str, ...],
    keys: tuple[str, ...],
    change: tuple[str, ...],
) -> PreparedStatement:
    target: sa.Table = table.__table__  # type: ignore[attr-defined]
    insert = _insert(on_postgresql)
    stmt = insert(target)
    new = {name: stmt.excluded[name] for name in change}
    return PreparedStatement(
        stmt.on_conflict_do_update(index_elements=list(keys), set_=new).inline(), columns
    )


def change(session: Session, table: type[SQLModel], row_id: int, **values: Any) -> None:
    """Set columns of one row by its id, past the ORM; a row that the session has loaded is brought along."""
    limits.check_values(table, values)
    new = {f"new_{name}": value for name, value in values.items()}
    _change(table, tuple(values)).run(session, new | {"row": row_id})
    loaded = in_session(session, table, row_id)
    if loaded is not None:
        refresh_loaded(loaded, values)


def in_session(session: Session, table: type[R], row_id: int) -> R | None:
    """Return a row if the session has loaded it."""
    return session.identity_map.get(_key(table, row_id))


def refresh_loaded(row: SQLModel, values: Mapping[str, Any]) -> None:
    """Give a loaded row the values that a statement has stored past it."""
    for name, value in values.items():
        set_committed_value(row, name, value)


@cache
def _change(table: type[SQLModel], names: tuple[str, ...]) -> PreparedStatement:
    target: sa.Table = table.__table__  # type: ignore[attr-defined]
    new = {name: sa.bindparam(f"new_{name}", type_=target.c[name].type) for name in names}
    return PreparedStatement(sa.update(target).where(target.c.id == sa.bindparam("row")).values(new))


def _key(table: type[SQLModel], row_id: int) -> Any:
    return sa.inspect(table).identity_key_from_primary_key((row_id,))
