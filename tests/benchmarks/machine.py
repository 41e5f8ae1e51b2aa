"""When, where and on which commit figures were measured: the line that belongs beside them in RESULTS.md."""

from __future__ import annotations

import os
import platform
import re
import subprocess
from datetime import datetime
from pathlib import Path

TOP = Path(__file__).parents[2]


def measured(now: datetime, folder: Path = TOP) -> str:
    """Return date, machine and commit as a sentence.

    Parameters
    ----------
    now : datetime
        The moment, aware.
    folder : Path
        The checkout. Outside one, or without git, the commit is said to be unknown.
    """
    load = os.getloadavg()[0]
    return (
        f"Measured on {now:%Y-%m-%d}; {os.cpu_count()} cores ({processor()}), load {load:.1f} at the end; "
        f"Python {platform.python_version()}; {commit(folder)}."
    )


def processor() -> str:
    """Return the processor's name, or its architecture where the system does not tell."""
    try:
        names = re.findall(r"^model name\s*: (.+)$", Path("/proc/cpuinfo").read_text(), re.MULTILINE)
    except OSError:
        names = []
    return names[0] if names else platform.machine()


def commit(folder: Path) -> str:
    """Return the commit, and whether files differ from it."""
    short = _git(folder, "rev-parse", "--short", "HEAD")
    if not short:
        return "commit unknown"
    changed = _git(folder, "status", "--porcelain", "--untracked-files=no")
    return f"commit {short}" + (" with changes" if changed else "")


def _git(folder: Path, *words: str) -> str:
    try:
        done = subprocess.run(["git", "-C", folder, *words], capture_output=True, text=True, check=False)
    except OSError:
        return ""
    return done.stdout.strip() if done.returncode == 0 else ""
