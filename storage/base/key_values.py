"""Small values that somebody has to find again: sync tokens, switches, keys of this database."""

from __future__ import annotations

from datetime import datetime

from sqlmodel import Session, col, delete

from storage.base.statements import upsert
from storage.tables import KeyValue


def get(session: Session, name: str, default: str = "") -> str:
    """Return the value kept under `name`, else `default`."""
    row = session.get(KeyValue, name, populate_existing=True)
    return default if row is None else row.value


def put(session: Session, name: str, value: str, now: datetime) -> None:
    """Keep `value` under `name`."""
    row = {"name": name, "value": value, "updated_at": now}
    upsert(session, KeyValue, row, ["name"], ["value", "updated_at"])


def get_or_put(session: Session, name: str, value: str, now: datetime) -> str:
    """Return the value kept under `name`; if there is none, keep `value`. Two at once get the same."""
    row = {"name": name, "value": value, "updated_at": now}
    upsert(session, KeyValue, row, ["name"], ["name"])
    return get(session, name)


def forget(session: Session, name: str) -> None:
    """Drop the value kept under `name`, if there is one."""
    session.exec(delete(KeyValue).where(col(KeyValue.name) == name))
