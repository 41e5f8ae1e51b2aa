"""Copies that can be made while the bot runs, and bringing them back."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from pathlib import Path

from storage.errors import CopyError


def copy_sqlite(source: Path, target: Path) -> None:
    """Copy an SQLite database with everything committed so far, while others write to it.

    Raises
    ------
    CopyError
        The target exists already, or the copy is damaged.
    """
    if target.exists():
        raise CopyError(f"{target} exists already; nothing was overwritten.")
    os.close(os.open(target, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))
    with (
        closing(sqlite3.connect(f"file:{source}?mode=ro", uri=True)) as old,
        closing(sqlite3.connect(target)) as new,
    ):
        old.backup(new)
        new.execute("PRAGMA journal_mode=DELETE")
        (verdict,) = new.execute("PRAGMA integrity_check").fetchone()
    if verdict != "ok":
        target.unlink()
        raise CopyError(f"The copy of {source} came out damaged ({verdict}); it was thrown away.")
