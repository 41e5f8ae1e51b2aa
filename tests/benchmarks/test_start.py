"""How long the program takes to be ready, and how much memory it holds when nothing happens. Prints both."""

from __future__ import annotations

import asyncio
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from storage import migrations
from tests.conftest import NOW
from tests.endtoend.test_workers import chat_says, free_port, start
from tests.servers.botapi import BotApi

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


def bare_s() -> float:
    """Return the processor time of an interpreter that loads the libraries and ends [s]."""
    before = os.times()
    subprocess.run([sys.executable, "-c", IMPORTS], check=True)
    after = os.times()
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
