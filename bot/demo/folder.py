"""The folder that a demo writes into, and how it knows the folder for its own.

A demo that starts clean removes what an earlier one wrote. Names prove nothing: a school's own database is called
``holdfast.db`` as well. So the demo leaves a mark, and writes only where it finds that mark or nothing at all.
"""

from __future__ import annotations

import shutil
from pathlib import Path

MARK = "holdfast-demo.txt"
DATABASE = "holdfast.db"
PAPERS = "papers"
SENT = "sent"

_MARK_TEXT = (
    "The folder of a demo: `holdfast demo` replaces the database and the folders papers/ and sent/ in it without "
    "asking.\nKeep nothing of your own here.\n"
)


class NotADemoFolder(Exception):
    """The folder holds something that no demo wrote. Nothing in it was changed."""


def claim(out: Path, *, go_on: bool) -> None:
    """Make the folder the demo's own, and start clean unless the demo goes on.

    Parameters
    ----------
    out : Path
        An absent or empty folder, or one that an earlier demo has marked.
    go_on : bool
        Keep what the earlier demo wrote.

    Raises
    ------
    NotADemoFolder
        The folder holds something and has no mark. Nothing was changed.
    """
    out.mkdir(parents=True, exist_ok=True)
    mark = out / MARK
    if not mark.is_file():
        held = sorted(path.name for path in out.iterdir())
        if held:
            raise NotADemoFolder(_refusal(out, held))
        mark.write_text(_MARK_TEXT, encoding="utf-8")
    if not go_on:
        _clear(out)


def _refusal(out: Path, held: list[str]) -> str:
    shown = ", ".join(held[:3]) + (f" and {len(held) - 3} more" if len(held) > 3 else "")
    return (
        f"The folder {out} was not made by a demo and is not empty (it holds {shown}), so nothing was written "
        "there. Name an empty or a new folder: holdfast demo --out FOLDER"
    )


def _clear(out: Path) -> None:
    """Remove what an earlier demo wrote, and nothing else."""
    for name in (DATABASE, f"{DATABASE}-wal", f"{DATABASE}-shm"):
        (out / name).unlink(missing_ok=True)
    for name in (PAPERS, SENT):
        if (out / name).exists():
            shutil.rmtree(out / name)
