"""Who does what only one process may do: poll Telegram, sync Matrix.

On PostgreSQL the lock is a session-level advisory lock: it ends with the connection, so a process that dies
hands over at once. One that is stopped, or whose machine sleeps, does not ask any more whether it still holds
the lock; the server then ends its silent session. On an SQLite file it is a lock on a file beside the database,
which the operating system takes back when the process ends. A database in memory has one process anyway.
"""

from __future__ import annotations

import fcntl
import hashlib
import os
from pathlib import Path
from typing import Any, Protocol

import sqlalchemy as sa
from sqlalchemy.exc import DBAPIError

from storage.base import database as databases
from storage.base.database import Database

SILENT_S = 30.0
"""A holder that has not asked for so long has lost the lock (`bot.service.engine.receiver` asks every two seconds)."""


class LeaderLock(Protocol):
    """A leader lock that this process holds."""

    def holds(self) -> bool:
        """Whether it is still ours. Ask now and then: a connection can break."""
        ...

    def end(self) -> None:
        """Let another process have it."""
        ...


def take(database: Database, name: str) -> LeaderLock | None:
    """Take a leader lock, or return None while another process has it.

    Parameters
    ----------
    database : Database
        The database that the processes share.
    name : str
        What the lock is for, for example ``telegram``.
    """
    if database.is_postgresql:
        return _take_postgresql(database, name)
    if databases.is_sqlite_file(database.url):
        return _take_file(database, name)
    return _Always()


class _Always:
    """The lock of the only process there is."""

    def holds(self) -> bool:
        return True

    def end(self) -> None:
        pass


class _AdvisoryLock:
    """A leader lock on PostgreSQL, held by a connection of its own."""

    def __init__(self, connection: sa.Connection) -> None:
        self._connection = connection

    def holds(self) -> bool:
        if self._connection.closed or self._connection.invalidated:
            return False  # to ask would open a new connection, which holds nothing
        try:
            self._connection.exec_driver_sql("SELECT 1")
        except DBAPIError:
            return False
        return True

    def end(self) -> None:
        if not self._connection.invalidated:
            self._connection.invalidate()  # closes it for good: the lock goes with the session, not with a pool
        self._connection.close()


class _FileLock:
    """A leader lock beside an SQLite file."""

    def __init__(self, handle: int, path: Path) -> None:
        self._handle: int | None = handle
        self._path = path

    def holds(self) -> bool:
        """Whether it is ours: a file that was deleted is locked no more for whoever makes it anew."""
        if self._handle is None:
            return False
        try:
            return os.path.samestat(os.fstat(self._handle), self._path.stat())
        except OSError:
            return False

    def end(self) -> None:
        if self._handle is not None:
            os.close(self._handle)
            self._handle = None


def _take_postgresql(database: Database, name: str) -> LeaderLock | None:
    number = int.from_bytes(hashlib.sha256(f"holdfast {name}".encode()).digest()[:8], "big", signed=True)
    # Outside any transaction: one that stays open would be ended by its time-out.
    connection = database.engine.connect()
    try:
        connection = connection.execution_options(isolation_level="AUTOCOMMIT")
        if connection.scalar(sa.select(sa.func.pg_try_advisory_lock(number))):
            _end_when_silent(connection)
            return _AdvisoryLock(connection)
    except BaseException:
        connection.close()
        raise
    connection.close()
    return None


def _end_when_silent(connection: sa.Connection) -> None:
    """Let the server end this session when nothing is asked for a while; servers before 14 cannot."""
    server: Any = connection.connection.dbapi_connection
    if server.info.server_version >= 140_000:
        connection.exec_driver_sql(f"SET idle_session_timeout = {round(SILENT_S * 1000)}")


def _take_file(database: Database, name: str) -> LeaderLock | None:
    path = databases.sqlite_path(database.url)
    lock = path.with_name(f"{path.name}.{name}.lock")
    handle = os.open(lock, os.O_CREAT | os.O_RDWR, 0o600)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        os.close(handle)
        return None
    return _FileLock(handle, lock)
