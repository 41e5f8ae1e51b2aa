"""Which revision of the tables a database has, and which ones this program knows."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import sqlalchemy as sa
from sqlalchemy.engine import Engine

from storage.base.errors import DatabaseNotReady

FOLDER = Path(__file__).parents[1] / "migrations" / "versions"

_NAMED = re.compile(r"^(revision|down_revision)(?:\s*:[^=]+)?\s*=\s*['\"](\w+)['\"]", re.MULTILINE)


@cache
def _revisions() -> dict[str, str | None]:
    """Return every revision with the one before it, read from the files themselves.

    Every command asks for them; Alembic, which would import the files, takes longer to start than the rest of a look.
    """
    found: dict[str, str | None] = {}
    for file in FOLDER.glob("*.py"):
        named = dict(_NAMED.findall(file.read_text(encoding="utf-8")))
        if "revision" in named:
            found[named["revision"]] = named.get("down_revision") or None
    return found


def head() -> str:
    """Return the revision that this program needs."""
    followed = set(_revisions().values())
    last = [revision for revision in _revisions() if revision not in followed]
    if len(last) != 1:
        raise DatabaseNotReady(
            f"The program is incomplete: storage/migrations/versions has {len(last)} last revisions instead of one."
        )
    return last[0]


def known() -> set[str]:
    """Return every revision that this program can bring up to date."""
    return set(_revisions())


def current(engine: Engine) -> str | None:
    """Return the revision of the database of an engine, or None when it has none of our tables."""
    with engine.connect() as connection:
        if not sa.inspect(connection).has_table("alembic_version"):
            return None
        found: str | None = connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar()
        return found
