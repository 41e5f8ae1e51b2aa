"""The database: an engine, transactions, threads.

Everything is synchronous and short: a function is given a session, does all its work in one transaction
and returns plain data. ``await db.run(fn, …)`` runs it in a thread, so that no transaction is ever open
while something else is awaited. SQLite has one writing thread (it has one writer anyway) and takes its
lock at ``BEGIN IMMEDIATE``: a transaction that starts by reading would otherwise fail at its first write
instead of waiting. PostgreSQL has as many threads as connections.

Rows that a function returns stay readable after the transaction (nothing is expired, there are no lazy
relations), but changing them then has no effect.
"""

from __future__ import annotations

import asyncio
import os
import sqlite3
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from importlib.util import find_spec
from pathlib import Path
from typing import Any, Concatenate, ParamSpec, TypeVar

import sqlalchemy as sa
from sqlalchemy.engine import URL, Engine, make_url
from sqlalchemy.exc import ArgumentError, DBAPIError
from sqlalchemy.pool import StaticPool
from sqlmodel import Session, SQLModel

from storage import tables
from storage.base import limits, revisions
from storage.base.errors import DatabaseNotReady

P = ParamSpec("P")
T = TypeVar("T")

BUSY_TIMEOUT_MS = 10_000
STATEMENT_TIMEOUT_MS = 30_000
_IMPATIENT = (
    f" -c statement_timeout={STATEMENT_TIMEOUT_MS}"
    f" -c idle_in_transaction_session_timeout={STATEMENT_TIMEOUT_MS}"
)
_POSTGRESQL_OPTIONS = (
    "-c timezone=UTC"
    # A machine that vanished holds its turns and locks for a minute, not for the two hours of the system's default.
    " -c tcp_keepalives_idle=30 -c tcp_keepalives_interval=10 -c tcp_keepalives_count=3"
)
_KEEPALIVE = {
    "keepalives_idle": 30,
    "keepalives_interval": 10,
    "keepalives_count": 3,
    "tcp_user_timeout": 30_000,
}


class Database:
    """An open database. Made by `connect`.

    Attributes
    ----------
    url : sqlalchemy.engine.URL
        Where it is. Its ``str`` hides the password.
    before_statement : callable or None
        Called with the text of every statement before it runs, and with ``"COMMIT"`` before every commit.
        For drills: what it raises is raised from the statement.
    """

    def __init__(
        self, url: URL, *, read_only: bool, workers: int, one_at_a_time: bool = False, patient: bool = False
    ) -> None:
        self.url = url
        self.one_at_a_time = one_at_a_time
        self.read_only = read_only
        self.before_statement: Callable[[str], None] | None = None
        self._engine = _engine(
            url, read_only=read_only, workers=workers, durable=not one_at_a_time, patient=patient
        )
        self._reader = self._engine
        if is_sqlite_file(url) and not read_only:
            self._reader = _engine(url, read_only=True, workers=workers)
        # One connection serves all threads of an in-memory database: one transaction at a time.
        self._turn: threading.RLock | None = threading.RLock() if is_memory(url) else None
        threads = workers if url.get_backend_name() == "postgresql" else 1
        self._writers = ThreadPoolExecutor(threads, "database")
        self._readers = ThreadPoolExecutor(workers, "database-read")
        _watch(self._engine, self)

    @property
    def engine(self) -> Engine:
        """The engine, for migrations and copies."""
        return self._engine

    @property
    def is_postgresql(self) -> bool:
        """Whether it is PostgreSQL (else SQLite)."""
        return self.url.get_backend_name() == "postgresql"

    @contextmanager
    def begin(self) -> Iterator[Session]:
        """Open one transaction: committed at the end of the block, undone by any exception."""
        with self._my_turn(), _session(self._engine) as session, session.begin():
            yield session

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """Open one transaction that only reads; on an SQLite file it does not wait for the writer."""
        with self._my_turn(), _session(self._reader) as session, session.begin():
            if self.is_postgresql:
                session.connection().execute(
                    sa.text("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
                )
            yield session

    async def run(self, fn: Callable[Concatenate[Session, P], T], *args: P.args, **kwargs: P.kwargs) -> T:
        """Run ``fn(session, *args, **kwargs)`` in one transaction in a thread and return what it returns.

        When the awaiting task is cancelled, the function still runs to its end and commits.
        """

        def work() -> T:
            with self.begin() as session:
                return fn(session, *args, **kwargs)

        if self.one_at_a_time:
            return work()
        return await asyncio.get_running_loop().run_in_executor(self._writers, work)

    async def read(self, fn: Callable[Concatenate[Session, P], T], *args: P.args, **kwargs: P.kwargs) -> T:
        """Run a function that only reads, beside the writer."""

        def work() -> T:
            with self.reading() as session:
                return fn(session, *args, **kwargs)

        if self.one_at_a_time:
            return work()
        return await asyncio.get_running_loop().run_in_executor(self._readers, work)

    def damage(self) -> str | None:
        """Return the first thing that is broken in an SQLite file, None if nothing is; a server checks itself."""
        if self.is_postgresql:
            return None
        try:
            with self._my_turn(), self._reader.connect() as connection:
                verdict = str(connection.exec_driver_sql("PRAGMA quick_check(1)").scalar())
        except DBAPIError as error:
            return str(error.orig)
        return None if verdict == "ok" else " ".join(verdict.replace("*** in database main ***", "").split())

    async def tidy(self) -> None:
        """Empty an SQLite file's log, where deleted rows stand until overwritten. PostgreSQL sees to itself."""
        if is_sqlite_file(self.url) and self.one_at_a_time:
            self._empty_log()
        elif is_sqlite_file(self.url):
            await asyncio.get_running_loop().run_in_executor(self._writers, self._empty_log)

    def _empty_log(self) -> None:
        connection = (
            self._engine.raw_connection()
        )  # outside any transaction: the log cannot be emptied in one
        try:
            connection.cursor().execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
        finally:
            connection.close()

    def close(self) -> None:
        """Wait for running transactions, then close all connections."""
        self._writers.shutdown(wait=True)
        self._readers.shutdown(wait=True)
        self._reader.dispose()
        self._engine.dispose()

    @contextmanager
    def _my_turn(self) -> Iterator[None]:
        if self._turn is None:
            yield
        else:
            with self._turn:
                yield


def connect(
    url: str,
    *,
    read_only: bool = False,
    workers: int = 4,
    any_revision: bool = False,
    one_at_a_time: bool = False,
    patient: bool = False,
) -> Database:
    """Open a database that has this program's tables.

    Parameters
    ----------
    url : str
        ``sqlite:///holdfast.db``, ``sqlite://`` (in memory: made with all tables) or
        ``postgresql://user@host/name``.
    read_only : bool
        Refuse every change.
    workers : int
        Connections to PostgreSQL; threads for reading on SQLite.
    any_revision : bool
        Open it whatever its tables look like (migrations, doctor).
    one_at_a_time : bool
        For a rehearsal on a clock that is moved by hand, where nobody waits: transactions run in the event loop
        itself instead of in threads, and SQLite does not wait for the disk at every commit. A crash of the
        machine (not of the program) can then lose the last commits; the file stays whole.
    patient : bool
        Let one statement or one pause in a transaction take as long as it takes, for what goes through whole tables
        (migrations, copies). PostgreSQL ends others after half a minute.

    Raises
    ------
    DatabaseNotReady
        No such database, it cannot be reached, or its revision is not the one that this program was written for.
    """
    place = parse_url(url)
    if is_sqlite_file(place):
        _prepare_file(sqlite_path(place), create=any_revision and not read_only)
    database = Database(
        place, read_only=read_only, workers=workers, one_at_a_time=one_at_a_time, patient=patient
    )
    try:
        with _named_reason(database):
            database.engine.connect().close()
            if is_memory(place):
                SQLModel.metadata.create_all(database.engine)
            elif not any_revision:
                _check_revision(database)
    except BaseException:
        database.close()
        raise
    return database


@contextmanager
def _named_reason(database: Database) -> Iterator[None]:
    """Raise `DatabaseNotReady` with the server's or the file's own reason, if it cannot even be opened."""
    try:
        yield
    except (DBAPIError, sqlite3.Error) as error:
        reason = str(getattr(error, "orig", None) or error).strip().partition("\n")[0]
        raise DatabaseNotReady(f"The database {database.url} cannot be opened: {reason}") from error


def parse_url(url: str) -> URL:
    """Read a database address and name the driver we use. Raises `DatabaseNotReady` with what is wrong."""
    try:
        place = make_url(url)
    except (ArgumentError, ValueError):  # the latter: a port that is no number
        raise DatabaseNotReady(
            "The database address is not a URL. Write sqlite:///file.db or postgresql://user@host/name."
        ) from None
    backend = place.drivername.partition("+")[0]
    if backend in ("postgresql", "postgres"):
        return _password_in_its_place(place).set(drivername="postgresql+psycopg")
    if backend == "sqlite":
        return place.set(drivername="sqlite")
    raise DatabaseNotReady(
        f"There is no support for {backend!r} databases. Write sqlite:///file.db or postgresql://user@host/name."
    )


def _password_in_its_place(place: URL) -> URL:
    """Move a password that stands among the options to where whoever shows the address hides it."""
    password = place.query.get("password")
    if not isinstance(password, str):
        return place
    return place.difference_update_query(["password"]).set(password=password)


def is_memory(place: URL) -> bool:
    """Whether it is an SQLite database that lives in memory only."""
    return place.get_backend_name() == "sqlite" and place.database in (None, "", ":memory:")


def is_sqlite_file(place: URL) -> bool:
    """Whether it is an SQLite database in a file."""
    return place.get_backend_name() == "sqlite" and not is_memory(place)


def sqlite_path(place: URL) -> Path:
    """Return the file of an SQLite database."""
    return Path(str(place.database))


def _prepare_file(path: Path, *, create: bool) -> None:
    """Make an absent database file readable by its owner only: SQLite would use the umask."""
    if not path.exists():
        if not create:
            raise DatabaseNotReady(f"There is no database at {path}. Make one with: holdfast db upgrade")
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            os.close(os.open(path, os.O_CREAT | os.O_RDWR, 0o600))
        except OSError as error:
            raise DatabaseNotReady(f"The database {path} cannot be made: {error.strerror}.") from error


def _check_revision(database: Database) -> None:
    have, want = revisions.current(database.engine), revisions.head()
    if have == want:
        return
    if have is None:
        raise DatabaseNotReady(
            f"The database {database.url} has no tables yet. Make them with: holdfast db upgrade"
        )
    if have in revisions.known():
        raise DatabaseNotReady(
            f"The database {database.url} is at revision {have}, the program needs {want}. "
            "Bring it up to date with: holdfast db upgrade"
        )
    raise DatabaseNotReady(
        f"The database {database.url} is at revision {have}, which this program does not know: it was written "
        "by a newer one. Start the newer program, or restore a backup that was made before."
    )


class _ShortSession(Session):
    """A session of one transaction, which keeps every row that it has loaded.

    A plain session forgets a row that nobody holds and asks for it again by its key.
    """


sa.event.listen(_ShortSession, "before_flush", limits.check_session)


@sa.event.listens_for(_ShortSession, "loaded_as_persistent")
def _keep(session: Any, row: object) -> None:
    session.info.setdefault("rows", []).append(row)


def _session(engine: Engine) -> Session:
    return _ShortSession(engine, expire_on_commit=False)


def _watch(engine: Engine, database: Database) -> None:
    """Let `before_statement` see, and stop, every statement and commit."""

    @sa.event.listens_for(engine, "before_cursor_execute")
    def _statement(_c: Any, _cursor: Any, statement: str, *_rest: Any) -> None:
        if database.before_statement is not None:
            database.before_statement(statement)

    @sa.event.listens_for(engine, "commit")
    def _commit(_connection: Any) -> None:
        if database.before_statement is not None:
            database.before_statement("COMMIT")


def _need_driver() -> None:
    if find_spec("psycopg") is None:
        raise DatabaseNotReady(
            'PostgreSQL needs the extra "postgres", which is not installed (psycopg not found). In the project\'s '
            "folder: pip install '.[postgres]' (pinned: pip install --require-hashes -r "
            "deploy/requirements-postgres.txt)"
        )


def _engine(
    place: URL, *, read_only: bool, workers: int, durable: bool = True, patient: bool = False
) -> Engine:
    if place.get_backend_name() == "postgresql":
        _need_driver()
        options = _POSTGRESQL_OPTIONS + ("" if patient else _IMPATIENT)
        options += " -c default_transaction_read_only=on" if read_only else ""
        return sa.create_engine(
            place,
            pool_pre_ping=True,
            pool_size=workers,
            max_overflow=4,  # turns hold one each
            connect_args={"options": options, "connect_timeout": 10, **_KEEPALIVE},
        )
    if is_memory(place):
        engine = sa.create_engine(place, poolclass=StaticPool, connect_args={"check_same_thread": False})
    else:
        engine = sa.create_engine(place, pool_size=workers, connect_args={"timeout": BUSY_TIMEOUT_MS / 1000})
    _tune_sqlite(engine, read_only=read_only, durable=durable)
    return engine


def _tune_sqlite(engine: Engine, *, read_only: bool, durable: bool) -> None:
    @sa.event.listens_for(engine, "connect")
    def _settings(connection: Any, _record: Any) -> None:
        connection.isolation_level = None  # the driver begins nothing by itself; we say BEGIN
        connection.execute(f"PRAGMA busy_timeout={BUSY_TIMEOUT_MS}")
        connection.execute("PRAGMA foreign_keys=ON")
        if read_only:
            connection.execute("PRAGMA query_only=ON")
        else:
            connection.execute("PRAGMA journal_mode=WAL")
            connection.execute("PRAGMA secure_delete=ON")  # who asks to be erased is not left in free pages
            # An acknowledged answer is kept even through a power cut.
            connection.execute(f"PRAGMA synchronous={'FULL' if durable else 'NORMAL'}")

    @sa.event.listens_for(engine, "begin")
    def _begin(connection: sa.Connection) -> None:
        connection.exec_driver_sql("BEGIN" if read_only else "BEGIN IMMEDIATE")


__all__ = ["Database", "Session", "connect", "parse_url", "tables"]
