"""Texts that fit. PostgreSQL refuses what is longer than its column, and NUL; SQLite takes both.

Half a character (a lone surrogate) has no UTF-8 and fits neither. Checked before every flush, so that a
school on SQLite can move to PostgreSQL with every row it has.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Mapper, UOWTransaction
from sqlalchemy.orm import Session as PlainSession

from storage.base.errors import InvalidValue


def check_text(field: str, value: str, longest: int | None) -> None:
    """Refuse a text that one of the databases could not hold (`InvalidValue`)."""
    if "\x00" in value:
        raise InvalidValue(field, f"The text for {field} contains a NUL character, which cannot be stored.")
    if not value.isprintable() and any("\ud800" <= letter <= "\udfff" for letter in value):
        raise InvalidValue(field, f"The text for {field} contains half a character, which cannot be stored.")
    if longest is not None and len(value) > longest:
        raise InvalidValue(field, f"The text for {field} has {len(value)} characters; at most {longest} fit.")


def check_row(row: Any) -> None:
    """Check every text of a table row."""
    for name, longest in _texts(sa.inspect(type(row))):
        value = getattr(row, name, None)
        if isinstance(value, str):
            check_text(name, value, longest)


def check_values(table: type[Any], values: Mapping[str, Any]) -> None:
    """Check every text among the values of some columns of a table."""
    longest = _longest(sa.inspect(table))
    for name, value in values.items():
        if isinstance(value, str):
            check_text(name, value, longest[name])


@cache
def _longest(table: Mapper[Any]) -> dict[str, int | None]:
    return dict(_texts(table))


@cache
def _texts(table: Mapper[Any]) -> tuple[tuple[str, int | None], ...]:
    """Return the columns of a table with the longest text that each takes."""
    return tuple((column.key, getattr(column.type, "length", None)) for column in table.columns)


def check_session(session: PlainSession, _context: UOWTransaction | None, _instances: Any) -> None:
    """Check what is about to be written: a listener for ``before_flush``."""
    for row in [*session.new, *session.dirty]:
        check_row(row)
