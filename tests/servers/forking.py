"""Lives of a program for the drills that kill it: loaded once, forked for each, since loading takes seconds.

The program that is forked runs `fork_a_life_per_line` in a module of its own; the drill runs `forking` of that module.
"""

from __future__ import annotations

import asyncio
import json
import os
import signal
import sys
import traceback
from collections.abc import AsyncIterator, Callable, Coroutine
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]


def fork_a_life_per_line(live: Callable[[dict[str, Any]], Coroutine[Any, Any, None]]) -> None:
    """For each line of JSON that is read, fork, let the child `live` by it, and print the child's process id."""
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)  # nobody waits for the killed
    _print("ready")
    for line in sys.stdin:
        child = os.fork()
        if child == 0:
            _live_and_end(live(json.loads(line)))
        _print(str(child))


def _print(what: str) -> None:
    sys.stdout.write(f"{what}\n")
    sys.stdout.flush()


def _live_and_end(life: Coroutine[Any, Any, None]) -> None:
    status = 1
    try:
        asyncio.run(life)
        status = 0
    except Exception:
        traceback.print_exc()
    finally:
        sys.stderr.flush()
        os._exit(status)


@dataclass
class Forker:
    """The loaded program, as the drill sees it."""

    process: asyncio.subprocess.Process
    pids: list[int] = field(default_factory=list)

    async def begin(self, order: dict[str, Any]) -> int:
        """Begin a life; return its process id."""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.write(json.dumps(order).encode() + b"\n")
        self.pids.append(int(await self.process.stdout.readline()))
        return self.pids[-1]

    async def end(self, pid: int, how: signal.Signals) -> None:
        """End a life and wait until it is gone."""
        assert lives(pid), "it ended by itself"
        os.kill(pid, how)
        async with asyncio.timeout(120):
            while lives(pid):  # noqa: ASYNC110 - another process
                await asyncio.sleep(0.005)


def lives(pid: int) -> bool:
    """Whether a process is there."""
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return True


@asynccontextmanager
async def forking(module: str) -> AsyncIterator[Forker]:
    """Load a program; whatever lives at the end is killed."""
    pipe = asyncio.subprocess.PIPE
    process = await asyncio.create_subprocess_exec(
        sys.executable, "-m", module, cwd=ROOT, stdin=pipe, stdout=pipe
    )
    assert process.stdin is not None
    assert process.stdout is not None
    running = Forker(process)
    try:
        assert await process.stdout.readline() == b"ready\n"
        yield running
    finally:
        for pid in running.pids:
            if lives(pid):
                os.kill(pid, signal.SIGKILL)
        process.stdin.close()
        await process.wait()
