"""A file that nobody can keep in mind is split along its jobs."""

from __future__ import annotations

from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
LONGEST = 500
TABLES = {
    "storage/tables.py",  # one table after another
    "storage/migrations/versions/0001_first_tables.py",  # revisions never change
}
PRODUCT = sorted(path for room in ("bot", "scheduler", "storage") for path in (ROOT / room).rglob("*.py"))


def lines(path: Path) -> int:
    return len(path.read_text(encoding="utf-8").splitlines())


def test_the_product_was_found() -> None:
    assert len(PRODUCT) > 300
    assert {path.relative_to(ROOT).as_posix() for path in PRODUCT} >= TABLES


@pytest.mark.parametrize("path", PRODUCT, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_no_file_has_more_lines_than_can_be_kept_in_mind(path: Path) -> None:
    name = path.relative_to(ROOT).as_posix()
    if name not in TABLES:
        assert lines(path) <= LONGEST, f"{name} has {lines(path)} lines; split it along its jobs"
