"""Run by Alembic. The connection comes from `storage.migrations`; there is no offline mode."""

from __future__ import annotations

from typing import Any, Literal

import sqlalchemy as sa
from alembic import context
from sqlmodel import SQLModel
from sqlmodel.sql.sqltypes import AutoString

from storage import tables


def _render(kind: str, item: Any, _context: Any) -> str | Literal[False]:
    """Write our own types as what they are in the database, so that old revisions need none of our code."""
    if kind == "type" and isinstance(item, tables.UtcDateTime):
        return "sa.DateTime(timezone=True)"
    if kind == "type" and isinstance(item, AutoString):
        return f"sa.String(length={item.length})" if item.length else "sa.String()"
    if kind == "type" and isinstance(item, sa.Enum):
        return f"sa.String(length={item.length})"
    return False


def _run(connection: sa.Connection) -> None:
    context.configure(
        connection=connection,
        target_metadata=SQLModel.metadata,
        render_as_batch=True,
        compare_type=True,
        render_item=_render,
    )
    with context.begin_transaction():
        context.run_migrations()


_run(context.config.attributes["connection"])
