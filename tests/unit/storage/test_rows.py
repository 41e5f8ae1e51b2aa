"""The key of a row is what the database gave it, never one that is made up."""

from datetime import UTC, datetime

import pytest

from storage.base.rows import id_of
from storage.tables import Person

NOW = datetime(2026, 9, 1, tzinfo=UTC)


def test_id_of_a_stored_row():
    assert id_of(Person(id=7, created_at=NOW)) == 7


def test_a_row_that_was_not_written_has_no_id():
    with pytest.raises(ValueError, match="This Person has no id yet"):
        id_of(Person(created_at=NOW))
