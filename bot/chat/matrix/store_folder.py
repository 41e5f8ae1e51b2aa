"""The store folder: keys, token and device belong together and to this user alone."""

from __future__ import annotations

import contextlib
import json
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any


def open_folder(folder: Path) -> None:
    """Make the folder, and close it to everybody else."""
    with private_umask():
        folder.mkdir(parents=True, exist_ok=True)
    folder.chmod(0o700)


@contextlib.contextmanager
def private_umask() -> Iterator[None]:
    """Make files that only this user can read. The mask is the whole process's, so nothing is awaited inside."""
    before = os.umask(0o077)
    try:
        yield
    finally:
        os.umask(before)


def write_private(path: Path, content: dict[str, Any]) -> None:
    """Write a small file so that it is there whole or not at all, and readable for this user alone."""
    draft = path.with_suffix(".new")
    draft.unlink(missing_ok=True)
    with os.fdopen(
        os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="utf-8"
    ) as file:
        json.dump(content, file)
        file.flush()
        os.fsync(file.fileno())
    draft.replace(path)


def read_private(path: Path) -> dict[str, Any] | None:
    """Read it, None if it is not there. Raises `ValueError` when it is damaged."""
    if not path.exists():
        return None
    content = json.loads(path.read_text(encoding="utf-8"))
    if not isinstance(content, dict):
        raise ValueError(f"{path} is damaged.")
    return content
