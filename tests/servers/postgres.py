"""A PostgreSQL server of our own for the tests: in a folder of its own, reached by a socket, no port.

Most tests share one migrated database, swept after each test (milliseconds); those that need one for
themselves get a copy of the template (a second on a busy machine).
"""

from __future__ import annotations

import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from itertools import count
from pathlib import Path

import sqlalchemy as sa
from sqlmodel import SQLModel

from storage import migrations

ROOT = Path(__file__).parents[2]
_numbers = count(1)


def missing() -> str:
    """Say what a server needs that is not there; empty when nothing is missing."""
    if folder() is None:
        return "no PostgreSQL server programs (initdb, pg_ctl): run sh deploy/servers.sh"
    if os.geteuid() == 0 and shutil.which("runuser") is None:
        return "PostgreSQL does not run as root and there is no runuser"
    return ""


def folder() -> Path | None:
    """Return where initdb and pg_ctl are."""
    named = os.environ.get("HOLDFAST_TEST_POSTGRES", "")
    places = [Path(named)] if named else []
    if shutil.which("pg_config"):
        shown = subprocess.run(["pg_config", "--bindir"], capture_output=True, text=True, check=True)
        places.append(Path(shown.stdout.strip()))
    places += sorted(ROOT.glob(".postgres/*/pginstall*/bin"), reverse=True)
    places += sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True)
    if found := shutil.which("initdb"):
        places.append(Path(found).parent)
    return next((p for p in places if (p / "initdb").exists() and (p / "pg_ctl").exists()), None)


def account() -> str:
    """Return who runs the server: ourselves, or, since it refuses to be root, an account without rights."""
    if os.geteuid() != 0:
        return pwd.getpwuid(os.geteuid()).pw_name
    names = {entry.pw_name for entry in pwd.getpwall()}
    return "postgres" if "postgres" in names else "nobody"


class Server:
    """A running server; databases are made and dropped by name."""

    def __init__(self, socket: Path, account: str, control: Callable[..., None]) -> None:
        self.socket, self.account, self.control = socket, account, control
        self._admin = sa.create_engine(
            self.url("postgres"), isolation_level="AUTOCOMMIT", poolclass=sa.NullPool
        )

    def url(self, name: str) -> str:
        """Return the address of a database."""
        return f"postgresql+psycopg://{self.account}@/{name}?host={self.socket}"

    def restart(self, how: str = "immediate") -> None:
        """Stop the server (``immediate``: as after a crash) and start it again."""
        self._admin.dispose()
        self.control("-m", how, "restart")

    def start_if_down(self) -> None:
        """Start the server if it went down by itself.

        One that does not answer may be gone, on its way down, or starting again by itself, and a plain
        start fails beside the last two; a restart takes all three.
        """
        if not self.answers():
            self.control("-m", "immediate", "restart")

    def answers(self) -> bool:
        """Whether the server takes connections."""
        try:
            self.execute("SELECT 1")
        except sa.exc.OperationalError:
            return False
        return True

    def execute(self, statement: str) -> None:
        """Run a statement outside any transaction."""
        with self._admin.connect() as connection:
            connection.exec_driver_sql(statement)

    def empty(self) -> str:
        """Make a database without tables and return its address."""
        name = f"t{os.getpid()}_{next(_numbers)}"
        self.execute(f"CREATE DATABASE {name}")
        return self.url(name)

    def fresh(self) -> str:
        """Make a database with our tables and return its address."""
        name = f"t{os.getpid()}_{next(_numbers)}"
        self.execute(f"CREATE DATABASE {name} TEMPLATE template_holdfast")
        return self.url(name)

    def sweep(self, url: str) -> None:
        """Empty the tables of a database that have rows, whoever is still connected."""
        name = sa.make_url(url).database
        self.execute(f"SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = '{name}'")
        tables = [table.name for table in reversed(SQLModel.metadata.sorted_tables)]
        asked = " UNION ALL ".join(f"(SELECT '{name}' FROM \"{name}\" LIMIT 1)" for name in tables)
        engine = sa.create_engine(url, poolclass=sa.NullPool)
        with engine.begin() as connection:
            used = set(connection.exec_driver_sql(asked).scalars())
            for name in tables:
                if name in used:
                    connection.exec_driver_sql(f'DELETE FROM "{name}"')
        engine.dispose()

    def drop(self, url: str) -> None:
        """Drop a database, whoever is connected."""
        self.execute(f"DROP DATABASE IF EXISTS {sa.make_url(url).database} WITH (FORCE)")

    def prepare(self) -> None:
        """Migrate the database that `fresh` copies."""
        self.execute("CREATE DATABASE template_holdfast")
        migrations.upgrade(self.url("template_holdfast"), now=datetime(2026, 9, 1, tzinfo=UTC))


@contextmanager
def running(home: Path | None = None, *, settings: str = "", init: str = "") -> Iterator[Server]:
    """Start a server in a folder of its own and stop it afterwards.

    Parameters
    ----------
    home : Path, optional
        An empty folder for it: a file system of its own, for example.
    settings, init : str
        More options of the server and of initdb.
    """
    programs = folder()
    assert programs is not None
    # Not pytest's folder: that is closed to other accounts, and a socket's path has to be short.
    home = home or Path(tempfile.mkdtemp(prefix="hfpg"))
    who, root = account(), os.geteuid() == 0
    before = ["runuser", "-u", who, "--"] if root else []
    if root:
        shutil.chown(home, who)

    def program(*words: str) -> None:
        done = subprocess.run([*before, *words], capture_output=True, text=True, cwd=home, check=False)
        assert done.returncode == 0, f"{words[0]}: {done.stdout}{done.stderr}"

    options = (
        f"-c listen_addresses='' -k {home} -F -c synchronous_commit=off -c max_connections=60 {settings}"
    )
    control = [str(programs / "pg_ctl"), "-D", f"{home}/data", "-w", "-l", f"{home}/log"]
    making = [str(programs / "initdb"), "-D", f"{home}/data", "-U", who, "-A", "trust"]
    try:
        program(*making, "-E", "UTF8", "--locale=C", "--no-sync", *init.split())
        program(*control, "-o", options, "start")
        server = Server(home, who, lambda *words: program(*control, "-o", options, *words))
        server.prepare()
        yield server
    finally:
        if (home / "data" / "postmaster.pid").exists():
            program(*control, "-m", "fast", "stop")
        shutil.rmtree(home, ignore_errors=True)
