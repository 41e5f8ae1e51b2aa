"""A copy of an SQLite file, made while others write to it: for backups, and before it is migrated."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from pathlib import Path

from storage.base.errors import CopyError


def copy_sqlite(source: Path, target: Path) -> None:
    """Copy an SQLite database with everything committed so far, while others write to it.

    Raises
    ------
    CopyError
        The target exists already, or the copy is damaged.
    """
    try:
        os.close(os.open(target, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))
    except FileExistsError:
        raise CopyError(f"{target} exists already; nothing was overwritten.") from None
    try:
        read = sqlite3.connect(f"{source.resolve().as_uri()}?mode=ro", uri=True)
        with closing(read) as old, closing(sqlite3.connect(target)) as new:
            old.backup(new)
            new.execute("PRAGMA journal_mode=DELETE")
        check_sqlite(target)
    except (CopyError, sqlite3.Error) as error:
        target.unlink()
        raise CopyError(f"{source} could not be copied: {error}") from error


def check_sqlite(path: Path) -> None:
    """Refuse a file that is not a whole database of ours."""
    try:
        with closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)) as connection:
            (verdict,) = connection.execute("PRAGMA integrity_check").fetchone()
            loose = connection.execute("PRAGMA foreign_key_check").fetchall()
            connection.execute("SELECT version_num FROM alembic_version").fetchone()
    except sqlite3.Error as error:
        raise CopyError(f"{path.name} is not a whole database of Holdfast: {error}.") from error
    if verdict != "ok" or loose:
        raise CopyError(
            f"{path.name} is damaged: {verdict}, {len(loose)} rows refer to rows that are not there."
        )
