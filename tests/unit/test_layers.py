"""The house rules about imports, read from the source with `ast`: also lazy imports and those for types."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from fnmatch import fnmatch
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
ROOMS = ("bot", "scheduler", "storage")
FILES = sorted(path for room in ROOMS for path in (ROOT / room).rglob("*.py"))

# An outside library, and the only files that may import it.
AT_HOME = {
    "telegram": ["bot/chat/telegram/*.py"],
    "nio": ["bot/chat/matrix/*.py"],
    "sqlmodel": ["storage/*.py", "storage/migrations/*.py"],
    "sqlalchemy": ["storage/*.py", "storage/migrations/*.py"],
    "alembic": ["storage/migrations/*.py"],
    "psycopg": ["storage/*.py"],
    "apscheduler": ["bot/app.py"],
}

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


def imports_of(source: str, path: str) -> Iterator[str]:
    """Yield the dotted name of everything that a file imports, relative imports resolved."""
    package = path.removesuffix(".py").replace("/", ".").split(".")
    package = package[:-1]
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = package[: len(package) - node.level + 1] if node.level else []
            module = ".".join([*base, *([node.module] if node.module else [])])
            yield module
            yield from (f"{module}.{alias.name}" for alias in node.names)


def forbidden(source: str, path: str) -> list[str]:
    """Say which imports of a file break a rule."""
    room = path.split("/")[0]
    problems = []
    for name in imports_of(source, path):
        top = name.split(".")[0]
        if room == "scheduler" and top in ROOMS and top != "scheduler":
            problems.append(f"{path}: the scheduler imports nothing of ours, but {name}")
        if room == "storage" and top == "bot":
            problems.append(f"{path}: the storage knows no bot, but imports {name}")
        if room == "storage" and top == "scheduler" and not is_value(name):
            problems.append(f"{path}: the storage may import scheduler.values only, not {name}")
        if top in AT_HOME and not any(fnmatch(path, place) for place in AT_HOME[top]):
            problems.append(f"{path}: {top} belongs to {', '.join(AT_HOME[top])}")
        if top == "tests":
            problems.append(f"{path}: the program imports its tests: {name}")
    return problems


def is_value(name: str) -> bool:
    """Whether an import of the scheduler names its values (or the package on the way to them)."""
    return name == "scheduler" or name == "scheduler.values" or name.startswith("scheduler.values.")


def clock_reads(source: str) -> list[str]:
    """Return the calls in a file that read the wall clock or wait on it."""
    calls = (node.func for node in ast.walk(ast.parse(source)) if isinstance(node, ast.Call))
    names = (ast.unparse(call) for call in calls if isinstance(call, ast.Attribute))
    return [name for name in names if ".".join(name.split(".")[-2:]) in WALL_CLOCK]


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(ROOT)))
def test_imports_point_one_way_and_libraries_stay_at_home(path: Path):
    assert forbidden(path.read_text("utf-8"), path.relative_to(ROOT).as_posix()) == []


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(ROOT)))
def test_only_the_clock_reads_the_real_time(path: Path):
    if path.relative_to(ROOT).as_posix() != "bot/clock.py":
        assert clock_reads(path.read_text("utf-8")) == []


def test_the_three_rooms_are_looked_at():
    assert {path.relative_to(ROOT).parts[0] for path in FILES} == set(ROOMS)
    assert clock_reads((ROOT / "bot/clock.py").read_text("utf-8"))


@pytest.mark.parametrize(
    ("path", "source"),
    [
        ("scheduler/plan/planner.py", "import storage.tables"),
        ("scheduler/plan/planner.py", "from bot import clock"),
        ("storage/queue/outbox.py", "from bot.chat.port import Message"),
        ("storage/asked/answers.py", "from scheduler import memory"),
        ("storage/asked/answers.py", "from scheduler.model.memory import predict"),
        ("bot/service/engine/loop.py", "from sqlmodel import Session"),
        ("bot/chat/terminal.py", "def f():\n    import telegram.ext"),
        ("bot/talk/student.py", "if TYPE_CHECKING:\n    from nio import AsyncClient"),
        ("bot/service/engine/loop.py", "from apscheduler.schedulers.asyncio import AsyncIOScheduler"),
        ("storage/files/reading/sheet.py", "from ....bot import clock"),
        ("bot/app.py", "from tests.servers import postgres"),
    ],
)
def test_a_forbidden_import_is_found(path: str, source: str):
    assert forbidden(source, path)


@pytest.mark.parametrize(
    ("path", "source"),
    [
        ("storage/asked/reviews.py", "from scheduler.values import Plan"),
        ("storage/asked/reviews.py", "from scheduler import values"),
        ("bot/service/engine/loop.py", "from storage import outbox\nfrom scheduler import planner"),
        ("bot/chat/telegram/text.py", "import telegram"),
        ("scheduler/plan/planner.py", "from . import memory\nimport numpy"),
    ],
)
def test_an_allowed_import_is_let_through(path: str, source: str):
    assert forbidden(source, path) == []


@pytest.mark.parametrize(
    "call", ["datetime.now(UTC)", "datetime.datetime.now()", "date.today()", "time.time()"]
)
def test_reading_the_clock_is_found(call: str):
    assert clock_reads(f"x = {call}")
