"""What all tests share: databases, and the real servers that some need."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from storage import migrations
from storage.base.database import Database, connect
from tests.servers import postgres, synapse

NOW = datetime(2026, 9, 1, 12, 0, tzinfo=UTC)


def need(lacking: str) -> None:
    """Where a server lacks something (empty: nothing), skip at home, with what to do; fail in CI."""
    if lacking and os.environ.get("CI", "").lower() in ("1", "true"):
        pytest.fail(lacking)
    if lacking:
        pytest.skip(lacking)


@pytest.fixture(scope="module")
def homeserver() -> Iterator[synapse.Synapse]:
    """Start one Matrix homeserver for all tests of a module."""
    need(synapse.missing())
    with synapse.running() as server:
        yield server


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[postgres.Server]:
    """Start one PostgreSQL server for the whole run."""
    need(postgres.missing())
    with pytest.MonkeyPatch.context() as patch, postgres.running() as server:
        # pg_dump has to be as new as the server.
        patch.setenv("PATH", f"{postgres.folder()}{os.pathsep}{os.environ['PATH']}")
        yield server


@pytest.fixture(scope="session")
def shared_postgres_url(postgres_server: postgres.Server) -> str:
    """Make the migrated PostgreSQL database that tests take turns with."""
    return postgres_server.fresh()


@pytest.fixture
def postgres_url(postgres_server: postgres.Server, shared_postgres_url: str) -> Iterator[str]:
    """Name a migrated PostgreSQL database without rows."""
    yield shared_postgres_url
    postgres_server.sweep(shared_postgres_url)


@pytest.fixture(scope="session")
def sqlite_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Migrate one SQLite file, to be copied."""
    path = tmp_path_factory.mktemp("template") / "school.db"
    migrations.upgrade(f"sqlite:///{path}", now=NOW)
    return path


@pytest.fixture
def sqlite_url(sqlite_template: Path, tmp_path: Path) -> str:
    """Make one migrated SQLite file for one test."""
    path = tmp_path / "school.db"
    shutil.copy(sqlite_template, path)
    return f"sqlite:///{path}"


@pytest.fixture(params=["memory", "file", pytest.param("postgresql", marks=pytest.mark.server)])
def db_url(request: pytest.FixtureRequest) -> str:
    """Name a migrated database: SQLite in memory, SQLite in a file, PostgreSQL."""
    if request.param == "memory":
        return "sqlite://"
    return str(request.getfixturevalue("sqlite_url" if request.param == "file" else "postgres_url"))


@pytest.fixture
def db(db_url: str) -> Iterator[Database]:
    """Open each kind of database in turn."""
    database = connect(db_url)
    yield database
    database.close()


@pytest.fixture(params=["file", pytest.param("postgresql", marks=pytest.mark.server)])
def shared_url(request: pytest.FixtureRequest) -> str:
    """Name a migrated database that several connections can use at once: SQLite in a file, PostgreSQL."""
    return str(request.getfixturevalue("sqlite_url" if request.param == "file" else "postgres_url"))


@pytest.fixture
def shared_db(shared_url: str) -> Iterator[Database]:
    """Open each kind of database that several connections can use at once."""
    database = connect(shared_url)
    yield database
    database.close()


@pytest.fixture
def memory_db() -> Iterator[Database]:
    """Open an SQLite database in memory."""
    database = connect("sqlite://")
    yield database
    database.close()
