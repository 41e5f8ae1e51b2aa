"""A command imports what it uses: the heavy libraries of others would cost it a second and more.

What is held is which modules a process has at its end; tests/benchmarks/test_start.py measures the time.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from storage.base.database import connect
from tests.taught import fill

RUN = (
    "import sys; from pathlib import Path; from bot.cli import main\n"
    "try: main()\n"
    "finally: Path('modules.txt').write_text('\\n'.join(sys.modules))\n"
)
CHATS = {"telegram", "nio", "aiohttp", "httpx", "apscheduler", "bot.service.engine.loop", "bot.talk.router"}
FILES = {"openpyxl", "docx", "pdfplumber", "xlrd", "icalendar"}
MATCHING = {"rapidfuzz", "charset_normalizer", "storage.files.headings"}
PICTURES = {"matplotlib", "PIL", "fontTools", "xlsxwriter", "weasyprint"}
OTHERS = {
    "rich",
    "scipy",
    "alembic",
    "sqlalchemy.dialects.postgresql",
    "sqlalchemy.ext.asyncio",
    "scheduler.simulation",
}
OTHER_PAPERS = {
    "bot.grading.drawn",
    "bot.grading.keys",
    "bot.evidence.starter.numbers",
    "bot.evidence.quiz.numbers",
}
ALWAYS_LATER = CHATS | FILES | OTHERS

COMMANDS = {
    "the text of a report": (
        "report --class 10b --as-of 2026-12-04T15:30 --no-files",
        ALWAYS_LATER | MATCHING | PICTURES | OTHER_PAPERS,
    ),
    "a report": ("report --class 10b --as-of 2026-12-04T15:30", ALWAYS_LATER | MATCHING | OTHER_PAPERS),
    "the classes": ("class list", ALWAYS_LATER | MATCHING | PICTURES | OTHER_PAPERS | {"numpy"}),
    "a file looked at": ("import roster names.csv --class 10b --check", ALWAYS_LATER | PICTURES),
    "the doctor who asks nobody": (
        "doctor --offline",
        ALWAYS_LATER | MATCHING | OTHER_PAPERS | {"xlsxwriter"},
    ),
}


@pytest.fixture(scope="module")
def school(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make a folder with the database of a class of six, `10b`, and a list of names."""
    folder = tmp_path_factory.mktemp("school")
    shutil.copy(sqlite_template, folder / "school.db")
    database = connect(f"sqlite:///{folder}/school.db")
    with database.begin() as session:
        fill(session)
    database.close()
    (folder / "names.csv").write_text("Name\nJonas\nElif\n")
    return folder


@pytest.mark.parametrize("name", COMMANDS)
def test_a_command_imports_no_library_that_it_does_not_use(name: str, school: Path) -> None:
    words, unused = COMMANDS[name]
    own = {
        "HOLDFAST_DATABASE_URL": f"sqlite:///{school}/school.db",
        "HOLDFAST_DATA_DIR": str(school / "data"),
    }
    done = subprocess.run(
        [sys.executable, "-c", RUN, *words.split()],
        cwd=school,
        env=os.environ | own | {"PYTHONPATH": os.pathsep.join(sys.path)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == (1 if "doctor" in words else 0), (
        done.stderr
    )  # no chat is set up: the doctor says so
    imported = set((school / "modules.txt").read_text().split())
    assert "bot.cli.group" in imported
    assert sorted(unused & imported) == []
