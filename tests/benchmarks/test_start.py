"""How long the program takes to be ready, how much memory it holds when nothing happens, what short commands take.

Prints all of it.
"""

from __future__ import annotations

import asyncio
import os
import signal
import subprocess
import sys
import time
from collections.abc import Mapping
from pathlib import Path

import pytest

from storage import migrations
from storage.base.database import connect
from tests.conftest import NOW
from tests.endtoend.test_workers import chat_says, free_port, start
from tests.servers.botapi import BotApi
from tests.taught import fill

pytestmark = pytest.mark.slow

MOST_MB = 250.0
"""Of the service unit's limit (deploy/systemd/holdfast.service) a part; the rest is for models and pictures."""


def memory_mb(pid: int) -> tuple[float, float]:
    """Return the resident size of a process, and how much of it nobody shares [MB]."""
    lines = Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines()
    sizes = {line.split(":")[0]: int(line.split()[1]) for line in lines[1:] if line.endswith("kB")}
    return sizes["Rss"] / 1e3, (sizes["Private_Clean"] + sizes["Private_Dirty"]) / 1e3


def used_s(pid: int) -> float:
    """Return the processor time of a process [s]."""
    fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / 100


IMPORTS = "import alembic, apscheduler, numpy, sqlmodel, telegram.ext"
"""The baseline: what an interpreter needs to load the libraries that the program cannot do without."""


def bare_s(code: str = IMPORTS) -> float:
    """Return the processor time of an interpreter that runs some code and ends [s]."""
    return _children_s([sys.executable, "-c", code], os.environ)


def _children_s(command: list[str], environment: Mapping[str, str], ends: int = 0) -> float:
    """Return the processor time of a program that ends with the code `ends` [s]."""
    before = os.times()
    done = subprocess.run(command, env=environment, capture_output=True, text=True, check=False)
    after = os.times()
    assert done.returncode == ends, done.stderr
    return after.children_user + after.children_system - before.children_user - before.children_system


async def test_the_program_starts_soon_and_is_small_when_nothing_happens(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    url, port = f"sqlite:///{tmp_path / 'school.db'}", free_port()
    migrations.upgrade(url, now=NOW)
    async with BotApi() as api:
        began = time.perf_counter()
        program = await start(tmp_path, api, url, port)
        try:
            assert "answered" in await chat_says(port)
            ready_s, busy_s = time.perf_counter() - began, used_s(program.pid)
            await asyncio.sleep(5.0)  # idle is what is measured
            idle = (used_s(program.pid) - busy_s) / 5.0
            resident, own = memory_mb(program.pid)
            program.send_signal(signal.SIGTERM)
            stopping = time.perf_counter()
            assert await asyncio.wait_for(program.wait(), 60) == 0
            stop_s = time.perf_counter() - stopping
        finally:
            if program.returncode is None:
                program.kill()
                await program.wait()
    baseline_s = await asyncio.to_thread(bare_s)
    with capsys.disabled():
        sys.stdout.write(
            f"\nholdfast run: ready after {ready_s:.1f} s ({busy_s:.1f} s of the processor, "
            f"{busy_s / baseline_s:.1f} times what loading its libraries takes), idle {resident:.0f} MB "
            f"resident ({own:.0f} MB its own) and {100 * idle:.1f} % of a processor at ticks of half a second, "
            f"stopped in {stop_s:.1f} s\n"
        )
    assert resident < MOST_MB
    assert busy_s < 10 * baseline_s


FEWEST_IMPORTS = "import numpy, sqlalchemy"
"""What no command that looks into the database and counts can do without."""
RUNS = 3
"""Of which the least is taken: the first compiles, and others use the machine, too."""
COMMANDS = {
    "report": ("report --class 10b --as-of 2026-12-04T15:30 --out out", 0),
    "report --no-files": ("report --class 10b --as-of 2026-12-04T15:30 --no-files", 0),
    "class list": ("class list", 0),
    "import --check": ("import roster names.csv --class 10b --check", 0),
    "doctor --offline": ("doctor --offline", 1),  # no chat is set up
}


def test_what_short_commands_take(
    sqlite_url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
):
    database = connect(sqlite_url)
    with database.begin() as session:
        fill(session)
    database.close()
    (tmp_path / "names.csv").write_text("Name\nJonas\nElif\n")
    environment = os.environ | {
        "HOLDFAST_DATABASE_URL": sqlite_url,
        "HOLDFAST_DATA_DIR": str(tmp_path / "data"),
        "PYTHONPATH": os.pathsep.join(sys.path),
    }
    monkeypatch.chdir(tmp_path)
    program = [sys.executable, "-c", "from bot.cli import main; main()"]
    baseline_s = min(bare_s(FEWEST_IMPORTS) for _ in range(RUNS))
    for name, (words, ends) in COMMANDS.items():
        taken = min(_children_s([*program, *words.split()], environment, ends) for _ in range(RUNS))
        with capsys.disabled():
            sys.stdout.write(
                f"\nholdfast {name}: {taken:.2f} s of processor time, {taken / baseline_s:.1f} times "
                f"a bare `{FEWEST_IMPORTS}` ({baseline_s:.2f} s)"
            )
