"""Waking other processes: PostgreSQL's LISTEN and NOTIFY.

A notification only says "look now", or "hold until then". What there is to see stands in the tables: where nobody
received a notification, the next tick or claim finds the work all the same.

A process notifies others only where it cannot do the work itself, and where a platform wants all processes to wait.
PostgreSQL makes commits that notify wait for one another, and an ordinary answer shall not wait.

On SQLite nothing is notified: one process works there.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable
from typing import Any

import sqlalchemy as sa

from storage.base.database import Database, Session
from storage.base.statements import is_postgresql

log = logging.getLogger(__name__)

CHANNEL = "holdfast"
_NOTIFY = sa.text("SELECT pg_notify(:channel, :what)")
_HOLD = "hold"
_LOOK_EVERY_S = 1.0
_AGAIN_AFTER_S = 2.0


def notify(database: Database, what: str) -> None:
    """Wake whoever listens, in a transaction of its own."""
    if database.is_postgresql:
        with database.begin() as session:
            session.connection().execute(_NOTIFY, {"channel": CHANNEL, "what": what})


def notify_hold(session: Session, platform: str, until_s: float) -> None:
    """Tell whoever listens, once this is committed, to send nothing on a platform before a moment [s since 1970]."""
    if is_postgresql(session):
        what = f"{_HOLD} {platform} {until_s!r}"
        session.connection().execute(_NOTIFY, {"channel": CHANNEL, "what": what})


def hold_in(what: str) -> tuple[str, float] | None:
    """Return the platform and the moment [s since 1970] that a notification asks to wait for; None for any other."""
    word, _, rest = what.partition(" ")
    platform, _, until_s = rest.rpartition(" ")
    return (platform, float(until_s)) if word == _HOLD and platform else None


class NotificationListener:
    """Listens in a thread, with a connection of its own; connects again when that breaks."""

    def __init__(self, database: Database, hear: Callable[[str], None]) -> None:
        self._database, self._hear = database, hear
        self._end = threading.Event()
        self.listening = threading.Event()
        self._thread = threading.Thread(target=self._run, name="notifications", daemon=True)

    def start(self) -> None:
        """Begin to listen; on SQLite there is nothing to hear."""
        if self._database.is_postgresql:
            self._thread.start()

    def stop(self) -> None:
        """Stop listening."""
        self._end.set()
        if self._thread.is_alive():
            self._thread.join()

    def _run(self) -> None:
        while not self._end.is_set():
            try:
                self._listen()
            except Exception as problem:  # the database is away: ticks go on meanwhile
                log.warning(
                    "No notifications from the database (%s); it is tried again", type(problem).__name__
                )
                self._end.wait(_AGAIN_AFTER_S)
            finally:
                self.listening.clear()

    def _listen(self) -> None:
        with self._database.engine.connect() as connection:
            connection = connection.execution_options(isolation_level="AUTOCOMMIT")
            connection.exec_driver_sql(f"LISTEN {CHANNEL}")
            driver: Any = connection.connection.dbapi_connection
            try:
                self.listening.set()
                self._hear("")  # what was rung while nobody listened
                while not self._end.is_set():
                    for notice in driver.notifies(timeout=_LOOK_EVERY_S):
                        self._hear(notice.payload)
                        if self._end.is_set():
                            break
            finally:
                connection.invalidate()  # no other use of a connection that listens
