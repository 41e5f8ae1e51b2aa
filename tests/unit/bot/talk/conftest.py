"""A school without classes, and its teacher with one."""

from __future__ import annotations

import pytest

from storage.base.database import Database
from tests.teaching import School, Talker


@pytest.fixture
def school(memory_db: Database) -> School:
    """Open a school; a file of tests may fill it by a fixture of its own."""
    return School(memory_db)


@pytest.fixture
def teacher(school: School) -> Talker:
    """Let a teacher make a class in it."""
    return school.teacher()
