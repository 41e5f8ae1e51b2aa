"""Bringing a database to the tables of this program: forward only, an SQLite file is saved before.

A revision is never changed once it is here: databases made with it are in use. Whoever changes
``storage/tables.py`` appends one with ``python -m storage.migrations add "What changes"``; a test fails until that is
done. First a revision adds what is new (expand), a later one takes away what no running program uses (contract).
"""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa

from storage.base import database as databases
from storage.base import revisions, sqlite_copy
from storage.base.errors import DatabaseNotReady

if TYPE_CHECKING:
    from alembic.config import Config

HERE = Path(__file__).parent


def config(connection: sa.Connection | None = None) -> Config:
    """Return Alembic's configuration; there is no ini file."""
    from alembic.config import Config

    made = Config(attributes={"connection": connection})
    made.set_main_option("script_location", str(HERE).replace("%", "%%"))
    made.set_main_option("path_separator", "os")
    return made


def revision_of(url: str) -> str | None:
    """Return the revision of the database at `url`, or None when it has none of our tables."""
    database = databases.connect(url, read_only=True, any_revision=True)
    try:
        return revisions.current(database.engine)
    finally:
        database.close()


def upgrade(url: str, *, now: datetime, keep_copy: bool = True) -> Path | None:
    """Bring the database at `url` to this program's revision, making it if it is not there.

    Parameters
    ----------
    url : str
        The database.
    now : datetime
        Names the copy of an SQLite file that is made first.
    keep_copy : bool
        Whether to make that copy. For PostgreSQL it is the technician's: ``holdfast backup``.

    Returns
    -------
    Path or None
        The copy of an SQLite file, if one was made.
    """
    from alembic import command

    database = databases.connect(url, any_revision=True, patient=True)
    try:
        have = revisions.current(database.engine)
        if have == revisions.head():
            return None
        if have is not None and have not in revisions.known():
            raise DatabaseNotReady(
                f"The database is at revision {have}, which this program does not know: it was written by a "
                "newer one. Nothing was changed."
            )
        saved = _save_first(database, have, now) if keep_copy else None
        with database.engine.begin() as connection:
            command.upgrade(config(connection), "head")
        return saved
    finally:
        database.close()


def _save_first(database: databases.Database, have: str | None, now: datetime) -> Path | None:
    if have is None or not databases.is_sqlite_file(database.url):
        return None
    path = databases.sqlite_path(database.url)
    saved = path.with_name(f"{path.stem}-before-{revisions.head()}-{now:%Y%m%dT%H%M%SZ}{path.suffix}")
    sqlite_copy.copy_sqlite(path, saved)
    return saved


def differences(database: databases.Database) -> list[Any]:
    """Compare an open database with ``storage/tables.py``; empty when they agree."""
    from alembic.autogenerate import compare_metadata
    from alembic.migration import MigrationContext
    from sqlmodel import SQLModel

    with database.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        return list(compare_metadata(context, SQLModel.metadata))
