"""The house rules about imports: the contracts of pyproject.toml, held by import-linter, and what it cannot say."""

from __future__ import annotations

import ast
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
ROOMS = ("bot", "scheduler", "storage")
FILES = sorted(path for room in ROOMS for path in (ROOT / room).rglob("*.py"))

WALL_CLOCK = {
    "datetime.now",
    "datetime.utcnow",
    "datetime.today",
    "date.today",
    "time.time",
    "time.time_ns",
    "time.localtime",
    "time.gmtime",
    "time.sleep",
}

# One import for each contract and each of its parts: file, what is added to it, the arrow that the report has to name.
FORBIDDEN = [
    # the three rooms
    (
        "scheduler/plan/planner.py",
        "import storage.files.values",
        "scheduler.plan.planner -> storage.files.values",
    ),
    ("scheduler/model/memory.py", "from bot import clock", "scheduler.model.memory -> bot.clock"),
    ("storage/queue/due.py", "from bot.chat.port import Message", "storage.queue.due -> bot.chat.port"),
    (
        "storage/asked/answers.py",
        "import scheduler.plan.planner",
        "storage.asked.answers -> scheduler.plan.planner",
    ),
    # layers inside a room
    ("bot/service/engine/loop.py", "import bot.app", "bot.service.engine.loop -> bot.app"),
    ("bot/evidence/load.py", "import bot.service.rounds", "bot.evidence.load -> bot.service.rounds"),
    ("bot/evidence/week/text.py", "import bot.talk.core", "bot.evidence.week.text -> bot.talk.core"),
    (
        "bot/chat/telegram/updates.py",
        "from ...service import rounds",
        "bot.chat.telegram.updates -> bot.service.rounds",
    ),
    ("bot/words/rich.py", "import bot.chat.port", "bot.words.rich -> bot.chat.port"),
    (
        "bot/teaching/dates_that_count.py",
        "def f():\n    import bot.words",
        "bot.teaching.dates_that_count -> bot.words",
    ),
    ("bot/grading/signs.py", "import bot.words.rich", "bot.grading.signs -> bot.words.rich"),
    (
        "bot/service/engine/pace.py",
        "import bot.service.teacher",
        "bot.service.engine.pace -> bot.service.teacher",
    ),
    (
        "bot/evidence/shared/figures.py",
        "import bot.evidence.week.values",
        "bot.evidence.shared.figures -> bot.evidence.week.values",
    ),
    ("bot/talk/teacher/drafts.py", "import bot.talk.student", "bot.talk.teacher.drafts -> bot.talk.student"),
    (
        "bot/chat/terminal.py",
        "import bot.chat.telegram.rendering",
        "bot.chat.terminal -> bot.chat.telegram.rendering",
    ),
    ("storage/base/limits.py", "import storage.migrations", "storage.base.limits -> storage.migrations"),
    (
        "storage/migrations/__init__.py",
        "import storage.copies.backup",
        "storage.migrations -> storage.copies.backup",
    ),
    ("scheduler/values.py", "import scheduler.model.memory", "scheduler.values -> scheduler.model.memory"),
    # outside libraries at home
    ("bot/service/engine/sender.py", "from sqlmodel import Session", "bot.service.engine.sender -> sqlmodel"),
    ("bot/cli/database.py", "def f():\n    import sqlalchemy.exc", "bot.cli.database -> sqlalchemy"),
    ("bot/chat/backoff.py", "def f():\n    import telegram.ext", "bot.chat.backoff -> telegram"),
    (
        "bot/doctor/checks.py",
        "if TYPE_CHECKING:\n    from nio import AsyncClient",
        "bot.doctor.checks -> nio",
    ),
    (
        "bot/running.py",
        "from apscheduler.schedulers.asyncio import AsyncIOScheduler",
        "bot.running -> apscheduler",
    ),
    ("storage/queue/pacing.py", "import alembic.command", "storage.queue.pacing -> alembic"),
    ("storage/files/roster.py", "import sqlmodel", "storage.files.roster -> sqlmodel"),
    # purity
    ("bot/talk/zones.py", "import asyncio", "bot.talk.zones -> asyncio"),
    ("bot/grading/texts.py", "from pathlib import Path", "bot.grading.texts -> pathlib"),
    ("scheduler/statistics/__init__.py", "import os", "scheduler.statistics -> os"),
    ("bot/talk/help.py", "import storage.school.classes", "bot.talk.help -> storage.school.classes"),
    # … also when somebody else reads the clock or the files for them
    ("bot/words/__init__.py", "import httpx", "bot.words -> httpx"),
]


def lint_imports(folder: Path) -> subprocess.CompletedProcess[str]:
    """Run import-linter on the program in a folder, as ``deploy/test.sh`` does."""
    return subprocess.run(
        [Path(sys.executable).with_name("lint-imports"), "--no-cache", "--no-logo"],
        cwd=folder,
        env=os.environ | {"PYTHONPATH": str(folder), "COLUMNS": "200"},
        capture_output=True,
        text=True,
        check=False,
    )


def imports_of(source: str) -> Iterator[str]:
    """Yield the dotted name of everything that a file imports by its full name."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and not node.level:
            yield str(node.module)
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def imported_tests(source: str) -> list[str]:
    """Return what a file imports of the tests."""
    return [name for name in imports_of(source) if name.split(".")[0] == "tests"]


def clock_reads(source: str) -> list[str]:
    """Return the calls in a file that read the wall clock or wait on it."""
    calls = (node.func for node in ast.walk(ast.parse(source)) if isinstance(node, ast.Call))
    names = (ast.unparse(call) for call in calls if isinstance(call, ast.Attribute))
    return [name for name in names if ".".join(name.split(".")[-2:]) in WALL_CLOCK]


# ---------------------------------------------------------------- contracts


def test_imports_keep_every_contract():
    done = lint_imports(ROOT)
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> str:
    """Return what import-linter says of a copy of the program with every import of `FORBIDDEN`."""
    folder = tmp_path_factory.mktemp("house")
    shutil.copy(ROOT / "pyproject.toml", folder)
    for path in FILES:
        copy = folder / path.relative_to(ROOT)
        copy.parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(path, copy)
    for place, source, _arrow in FORBIDDEN:
        assert (folder / place).is_file(), f"{place} is no file of the program any more: name another"
        with (folder / place).open("a", encoding="utf-8") as file:
            file.write(f"\n{source}\n")
    done = lint_imports(folder)
    assert done.returncode == 1, done.stdout + done.stderr
    return done.stdout


@pytest.mark.parametrize("arrow", [arrow for _path, _source, arrow in FORBIDDEN])
def test_a_forbidden_import_is_found(report: str, arrow: str):
    assert f"{arrow} (l." in report


def test_no_contract_is_kept_by_the_copy_that_breaks_them_all(report: str):
    assert " 0 kept" in report
    assert " KEPT" not in report


def test_a_new_folder_needs_a_layer(tmp_path: Path):
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    for room in ROOMS:
        shutil.copytree(ROOT / room, tmp_path / room, ignore=shutil.ignore_patterns("__pycache__"))
    (tmp_path / "bot/attic").mkdir()
    (tmp_path / "bot/attic/__init__.py").touch()
    done = lint_imports(tmp_path)
    assert done.returncode == 1
    assert "attic" in done.stdout


# ---------------------------------------------------------------- what import-linter cannot say


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(ROOT)))
def test_only_the_clock_reads_the_real_time(path: Path):
    if path.relative_to(ROOT).as_posix() != "bot/clock.py":
        assert clock_reads(path.read_text("utf-8")) == []


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(ROOT)))
def test_the_program_imports_no_tests(path: Path):
    assert imported_tests(path.read_text("utf-8")) == []


def test_a_revision_imports_nothing_of_ours():
    """Their folder is no package, so that import-linter does not see it: old revisions need none of our code."""
    found = [path for path in FILES if not (path.parent / "__init__.py").exists()]
    assert {path.parent for path in found} == {ROOT / "storage/migrations/versions"}
    for path in found:
        assert {name.split(".")[0] for name in imports_of(path.read_text("utf-8"))}.isdisjoint(ROOMS), path


def test_the_three_rooms_are_looked_at():
    assert {path.relative_to(ROOT).parts[0] for path in FILES} == set(ROOMS)
    assert clock_reads((ROOT / "bot/clock.py").read_text("utf-8"))


@pytest.mark.parametrize(
    "source", ["from tests.servers import postgres", "def f():\n    import tests.dialogues"]
)
def test_an_import_of_the_tests_is_found(source: str):
    assert imported_tests(source)


def test_a_module_taken_from_its_package_is_named_in_full():
    """`tests/unit/test_security.py` asks for ``urllib.request``."""
    assert "urllib.request" in imports_of("from urllib import request")


@pytest.mark.parametrize(
    "call", ["datetime.now(UTC)", "datetime.datetime.now()", "date.today()", "time.time()"]
)
def test_reading_the_clock_is_found(call: str):
    assert clock_reads(f"x = {call}")
