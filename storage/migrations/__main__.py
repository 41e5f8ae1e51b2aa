"""``python -m storage.migrations add "What changes"``: append a revision.

It brings the tables from the last revision to what ``storage/tables.py`` says now. Revisions are never changed
afterwards: databases that were made with them are in use.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence

import sqlalchemy as sa
from alembic import command

from storage import migrations
from storage.base import revisions


def add(message: str) -> None:
    """Append a revision that brings the tables from the last revision to what they are now."""
    number = max(int(revision) for revision in revisions.known()) + 1
    engine = sa.create_engine("sqlite://")
    with engine.begin() as connection:
        configuration = migrations.config(connection)
        command.upgrade(configuration, "head")
        command.revision(configuration, message, autogenerate=True, rev_id=f"{number:04}")
    engine.dispose()


def main(words: Sequence[str]) -> int:
    """Run the command line; return its exit code."""
    match words:
        case ["add", message]:
            add(message)
        case _:
            sys.stderr.write(__doc__ or "")
            return 2
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
