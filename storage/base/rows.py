"""What holds for every row of a table."""

from __future__ import annotations

from typing import Protocol


class Stored(Protocol):
    """A row whose key the database chooses when the row is written."""

    id: int | None


def id_of(row: Stored) -> int:
    """Return the key of a row that the database knows.

    Raises
    ------
    ValueError
        When the row was not written yet: a key that is made up would point at nothing, or at another's row.
    """
    if row.id is None:
        raise ValueError(f"This {type(row).__name__} has no id yet: flush the session before its id is used.")
    return row.id
