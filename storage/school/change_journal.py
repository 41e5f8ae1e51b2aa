"""What a change did, row by row, so that it can be taken back exactly.

A teacher's upload, a new topic or a moved quiz changes rows through a `Journal`. The journal keeps the former
value of every column it touched; `take_back` puts those back and removes what was new. Later changes of other
rows or columns stay. What students already answered is never deleted: a new lesson, topic, quiz or question is
marked as dropped instead, which is how they disappear from everywhere.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from enum import Enum
from typing import Any

import sqlalchemy as sa
from sqlalchemy.exc import IntegrityError
from sqlmodel import Session, SQLModel

from storage.tables import (
    Absence,
    Enrolment,
    EnrolmentState,
    Holiday,
    HomeworkReport,
    Lesson,
    Question,
    Quiz,
    QuizTopic,
    SchoolClass,
    Score,
    Topic,
)

_TABLES: Mapping[str, type[SQLModel]] = {
    str(table.__tablename__): table
    for table in (
        Absence,
        Enrolment,
        Holiday,
        HomeworkReport,
        Lesson,
        Question,
        Quiz,
        QuizTopic,
        SchoolClass,
        Score,
        Topic,
    )
}

_MARKS = ("dropped_at", "retired_at")
"""Columns that say when a row stopped counting. Such rows are marked instead of deleted."""


class Journal:
    """Changes rows and remembers how they were.

    Attributes
    ----------
    session : Session
        The open transaction in which everything happens.
    """

    def __init__(self, session: Session) -> None:
        self.session = session
        self._entries: list[tuple[SQLModel, dict[str, Any] | None]] = []

    def __len__(self) -> int:
        return len(self._entries)

    def add(self, *rows: SQLModel) -> None:
        """Store new rows, all at once. Their ids are known afterwards."""
        self.session.add_all(rows)
        self.session.flush()
        self._entries += [(row, None) for row in rows]

    def change(self, row: SQLModel, **values: object) -> bool:
        """Set columns of a row and say whether that changed anything."""
        changed = {name: value for name, value in values.items() if getattr(row, name) != value}
        if not changed:
            return False
        self._entries.append((row, {name: _plain(getattr(row, name)) for name in changed}))
        for name, value in changed.items():
            setattr(row, name, value)
        self.session.add(row)
        return True

    def remove(self, row: SQLModel) -> None:
        """Delete a row that nothing else refers to."""
        columns = [column.key for column in sa.inspect(type(row)).columns]
        self._entries.append((row, {name: _plain(getattr(row, name)) for name in columns}))
        self.session.delete(row)
        self.session.flush()

    def as_data(self) -> dict[str, Any]:
        """Return the journal as JSON-able data for `take_back`."""
        self.session.flush()
        return {
            "entries": [
                {"table": str(type(row).__tablename__), "key": _key(row), "before": before}
                for row, before in self._entries
            ]
        }


def take_back(session: Session, data: Mapping[str, Any], now: datetime) -> None:
    """Undo everything that a journal holds, the last change first.

    Parameters
    ----------
    data : mapping
        What `Journal.as_data` gave.
    now : datetime
        Moment at which new rows that cannot be deleted count as dropped.
    """
    for entry in reversed(data.get("entries", [])):
        table = _TABLES[entry["table"]]
        key, before = _typed(table, entry["key"]), entry["before"]
        row = session.get(table, key)
        if before is None:
            _drop(session, row, now)
        elif row is None:
            _bring_back(session, table(**_typed(table, {**entry["key"], **before})))
        else:
            for name, value in _typed(table, before).items():
                setattr(row, name, value)
            session.add(row)
        session.flush()


def _bring_back(session: Session, row: SQLModel) -> None:
    """Store a removed row again, unless what it belongs to was erased meanwhile: then it stays gone."""
    for column in sa.inspect(type(row)).columns:
        for key in column.foreign_keys:
            value, parent = getattr(row, column.key), key.column
            there = sa.select(sa.literal(1)).where(parent == value)
            if value is not None and session.connection().execute(there).first() is None:
                return
    session.add(row)


def _drop(session: Session, row: SQLModel | None, now: datetime) -> None:
    """Let a row that was new disappear again."""
    if row is None:
        return
    mark = next((name for name in _MARKS if hasattr(row, name)), None)
    if mark is not None:
        if getattr(row, mark) is None:
            setattr(row, mark, now)
        session.add(row)
    elif isinstance(row, Enrolment):
        _drop_name(session, row, now)
    else:
        session.delete(row)


def _drop_name(session: Session, row: Enrolment, now: datetime) -> None:
    """Let a name on the roster disappear, unless somebody joined under it: a person is not undone with a file."""
    if row.person_id is not None:
        return
    nested = session.begin_nested()
    try:
        session.delete(row)
        session.flush()
    except IntegrityError:  # scores or absences stand under the name: it is only marked
        nested.rollback()
        row.state, row.left_at = EnrolmentState.LEFT, now
        session.add(row)
    else:
        nested.commit()


def _key(row: SQLModel) -> dict[str, Any]:
    return {column.key: _plain(getattr(row, column.key)) for column in sa.inspect(type(row)).primary_key}


def _plain(value: Any) -> Any:
    if isinstance(value, Enum):
        return value.value
    return value.isoformat() if isinstance(value, date | datetime) else value


def _typed(table: type[SQLModel], values: Mapping[str, Any]) -> dict[str, Any]:
    columns = sa.inspect(table).columns
    return {name: _read(_python_type(columns[name].type), value) for name, value in values.items()}


def _python_type(kind: sa.types.TypeEngine[Any]) -> type:
    plain = kind.impl_instance if isinstance(kind, sa.types.TypeDecorator) else kind
    return plain.python_type


def _read(wanted: type, value: Any) -> Any:
    if value is None or not isinstance(value, str):
        return value
    if issubclass(wanted, datetime):
        return datetime.fromisoformat(value)
    if issubclass(wanted, date):
        return date.fromisoformat(value)
    return wanted(value) if issubclass(wanted, Enum) else value
