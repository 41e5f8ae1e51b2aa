"""Copies that can be made while the bot runs, and bringing them back.

SQLite: one file, made by SQLite's own online backup. PostgreSQL: what ``pg_dump`` writes in its custom
format. A restored database holds its outgoing messages until somebody says otherwise: the original may
still be running.
"""

from __future__ import annotations

import os
import shutil
import subprocess
from datetime import datetime
from pathlib import Path

import sqlalchemy as sa
from sqlalchemy.engine import URL

from storage import migrations
from storage.base import database as databases
from storage.base import key_values
from storage.base.errors import CopyError, DatabaseNotReady
from storage.base.sqlite_copy import check_sqlite, copy_sqlite
from storage.queue import outbox
from storage.queue.outbox_statements import EPOCH

_PGDUMP_START = b"PGDMP"
_SQLITE_START = b"SQLite format 3\x00"


def backup(url: str, target: Path) -> Path:
    """Save a database into a file that only its owner can read, while others use it.

    Parameters
    ----------
    url : str
        The database.
    target : Path
        A file that does not exist yet.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    CopyError
        The file exists, cannot be written, or came out damaged; then nothing is left of it.
    DatabaseNotReady
        There is no such database, or it lives in memory only.
    """
    place = databases.parse_url(url)
    if databases.is_memory(place):
        raise DatabaseNotReady("A database in memory cannot be saved. Use a file: sqlite:///holdfast.db")
    databases.connect(url, read_only=True).close()  # says what is wrong with the database, if anything is
    if target.exists():
        raise CopyError(f"{target} exists already; nothing was overwritten.")
    part = target.with_name(f"{target.name}.part")
    part.unlink(missing_ok=True)
    try:
        if databases.is_sqlite_file(place):
            copy_sqlite(databases.sqlite_path(place), part)
        else:
            _dump(place, part)
        part.rename(target)
    except OSError as error:
        raise CopyError(f"{target} could not be written: {error.strerror}.") from error
    finally:
        part.unlink(missing_ok=True)
    return target


def restore(source: Path, url: str, *, now: datetime) -> None:
    """Bring a saved database back into an empty place, up to date, and hold its outgoing messages.

    Parameters
    ----------
    source : Path
        What `backup` wrote.
    url : str
        An SQLite file that does not exist yet, or an empty PostgreSQL database.
    now : datetime
        The present moment.

    Raises
    ------
    CopyError
        The file is no whole backup of that kind of database, or the place is not empty.
    """
    place = databases.parse_url(url)
    if not source.is_file():
        raise CopyError(f"There is no file {source}.")
    with source.open("rb") as file:
        start = file.read(len(_SQLITE_START))
    if databases.is_sqlite_file(place):
        _restore_sqlite(source, start, databases.sqlite_path(place), now)
    elif place.get_backend_name() == "postgresql":
        _restore_postgresql(source, start, url, now)
    else:
        raise CopyError("A backup cannot be restored into memory. Name a file: sqlite:///holdfast.db")


def start_anew(url: str, now: datetime) -> None:
    """Make a copy of a database a database of its own: hold its messages, give them new tokens."""
    migrations.upgrade(url, now=now, keep_copy=False)
    database = databases.connect(url)
    try:
        with database.begin() as session:
            outbox.hold(session, now)
            # Tokens of the original, given after the copy was made, must not be given again.
            key_values.forget(session, EPOCH)
    finally:
        database.close()


# ---------------------------------------------------------------- SQLite


def _restore_sqlite(source: Path, start: bytes, path: Path, now: datetime) -> None:
    if start.startswith(_PGDUMP_START):
        raise CopyError(f"{source} is a backup of PostgreSQL. Restore it into postgresql://user@host/name.")
    if start != _SQLITE_START:
        raise CopyError(f"{source} is not a backup of Holdfast.")
    if path.exists():
        raise CopyError(
            f"{path} exists already; nothing was overwritten. Name a file that does not exist yet."
        )
    check_sqlite(source)
    part = path.with_name(f"{path.name}.part")
    part.unlink(missing_ok=True)
    path.parent.mkdir(parents=True, exist_ok=True)
    try:
        copy_sqlite(source, part)
        start_anew(f"sqlite:///{part}", now)
        part.rename(path)
    finally:
        for leftover in ("", "-wal", "-shm"):
            part.with_name(part.name + leftover).unlink(missing_ok=True)


# ---------------------------------------------------------------- PostgreSQL


def _dump(place: URL, target: Path) -> None:
    with os.fdopen(os.open(target, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600), "wb") as file:
        _program(place, "pg_dump", "--format=custom", "--no-owner", "--no-privileges", stdout=file.fileno())
    with target.open("rb") as written:
        if written.read(len(_PGDUMP_START)) != _PGDUMP_START:
            raise CopyError("pg_dump wrote no backup.")


def _restore_postgresql(source: Path, start: bytes, url: str, now: datetime) -> None:
    if start == _SQLITE_START:
        raise CopyError(
            f"{source} is a backup of SQLite. Bring it to PostgreSQL with: "
            f"holdfast db copy sqlite:///{source} postgresql://user@host/name"
        )
    if not start.startswith(_PGDUMP_START):
        raise CopyError(f"{source} is not a backup of Holdfast.")
    _refuse_filled(url)
    place = databases.parse_url(url)
    # One transaction: a damaged file leaves the database as empty as it was.
    options = ("--single-transaction", "--exit-on-error", "--no-owner", "--no-privileges")
    _program(place, "pg_restore", *options, str(source.resolve()))
    start_anew(url, now)


def _refuse_filled(url: str) -> None:
    database = databases.connect(url, any_revision=True)
    try:
        with database.engine.connect() as connection:
            there = sa.inspect(connection).get_table_names()
    finally:
        database.close()
    if there:
        raise CopyError(
            f"The database has {len(there)} tables already; nothing was changed. Name an empty one."
        )


def _program(place: URL, name: str, *words: str, stdout: int | None = None) -> None:
    """Run a program of PostgreSQL. The password goes by the environment: arguments can be seen by others."""
    found = shutil.which(name)
    if found is None:
        raise CopyError(f"{name} is not installed. On Debian: apt-get install postgresql-client")
    from psycopg.conninfo import make_conninfo

    # Everything that the address says counts here too, above all that the server's certificate is looked at.
    named = place.get_dialect()().create_connect_args(place)[1]
    password = named.pop("password", None)
    reached = make_conninfo(**{key: str(value) for key, value in named.items() if key != "context"})
    environment = os.environ | ({} if password is None else {"PGPASSWORD": str(password)})
    command = [found, "--no-password", f"--dbname={reached}", *words]
    done = subprocess.run(  # noqa: S603 - words of ours; no shell
        command,
        env=environment,
        stdout=subprocess.DEVNULL if stdout is None else stdout,
        stderr=subprocess.PIPE,
        text=True,
        check=False,
    )
    if done.returncode != 0:
        lines = done.stderr.strip().splitlines() or ["no message"]
        raise CopyError(f"{name} failed, nothing was kept: {lines[0]}")
