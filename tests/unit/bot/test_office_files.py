"""Files as office programs make them: each gives the rows that are in it, or asks; none is read silently wrong.

The files are made by tests/samples/office/make.py with LibreOffice, Gnumeric and pandoc, none of which the project
reads with. They are parsed here without the child process that a stranger's file is parsed in: the same readers, so
many files in a few seconds.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import numpy  # noqa: F401 - the child does without it, and this process must not
import pytest

from bot.cli.file_check import rows_of
from bot.service.teacher import upload_reading
from bot.service.teacher.upload_reading import KnownClass, PreparedUpload
from storage.files.reading import opened, reading_child
from storage.files.reading.sheet import FileRefused
from storage.files.values import KnownSchoolDays
from storage.tables import UploadKind
from tests.samples.office.contents import CONTENTS, Content

FOLDER = Path(__file__).parents[2] / "samples" / "office"
FILES = sorted(path for path in FOLDER.iterdir() if path.suffix not in (".py", "") and path.is_file())
ASKED = {
    "roster_lines.html",  # a web page without a table may be anything: an answer of a proxy, too
    "roster_lines.semicolon.csv",  # of a single word with a letter beyond ASCII no code page can be told
    "roster_two_columns.semicolon.csv",
}
KNOWN = KnownClass(1, "Europe/Berlin", date(2026, 11, 30), (), KnownSchoolDays())


@pytest.fixture(autouse=True)
def _parsed_here(monkeypatch):
    """Parse in this process, with the task that the child would do."""

    def parse(task: str, data: bytes, name: str, **details: str) -> dict[str, Any]:
        try:
            return reading_child.do_task({"task": task, "name": name, **details}, data)
        except FileRefused as refused:
            raise refused from None

    monkeypatch.setattr(opened, "read_in_child", parse)


def _content(path: Path) -> Content:
    return CONTENTS[path.name.split(".")[0]]


def _prepared(path: Path, **choices: str) -> PreparedUpload:
    return upload_reading.prepare(
        UploadKind(_content(path).kind), path.read_bytes(), path.name, KNOWN, choices=choices
    )


def outcome(path: Path) -> str:
    """Return ``right``, ``asked`` (something is asked or reported first, and nothing is wrong) or ``wrong``."""
    content, prepared = _content(path), _prepared(path)
    rows = [dict(one) for one in rows_of(prepared)] if prepared.usable else []
    expected = list(content.expected)
    if prepared.doubtful or prepared.asks or prepared.content["refused"]:
        return "asked" if all(row in expected for row in rows) else "wrong"
    return "right" if rows == expected else "wrong"


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_a_file_of_an_office_program_gives_what_is_in_it(path):
    assert outcome(path) == ("asked" if path.name in ASKED else "right"), _prepared(path).problems
