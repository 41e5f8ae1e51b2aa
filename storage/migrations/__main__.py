"""``python -m storage.migrations renew``: write the only revision anew from ``storage/tables.py``.

Allowed while nothing has been released: databases made before are then of an unknown make and have to be
made anew. After the first release use ``add "What changes"``, which appends a revision.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence

import sqlalchemy as sa
from alembic import command

from storage import migrations

FIRST = "0001"


def renew() -> None:
    """Replace revision 0001 by what the tables are now."""
    folder = migrations.HERE / "versions"
    folder.mkdir(exist_ok=True)
    for old in folder.glob("*.py"):
        if not old.name.startswith(FIRST):
            raise SystemExit(f"{old.name} was released: add a revision instead of renewing the first one.")
        old.unlink()
    _write(FIRST, "First tables", upgraded=False)


def add(message: str) -> None:
    """Append a revision that brings the tables from the last revision to what they are now."""
    number = max(int(revision) for revision in migrations.known()) + 1
    _write(f"{number:04}", message, upgraded=True)


def _write(revision: str, message: str, *, upgraded: bool) -> None:
    engine = sa.create_engine("sqlite://")
    with engine.begin() as connection:
        configuration = migrations.config(connection)
        if upgraded:
            command.upgrade(configuration, "head")
        command.revision(configuration, message, autogenerate=True, rev_id=revision)
    engine.dispose()


def main(words: Sequence[str]) -> int:
    """Run the command line; return its exit code."""
    match words:
        case ["renew"]:
            renew()
        case ["add", message]:
            add(message)
        case _:
            sys.stderr.write(__doc__ or "")
            return 2
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
