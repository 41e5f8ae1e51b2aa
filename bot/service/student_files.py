"""Everything stored about a student, as files to take along: one for programs, one to read."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from datetime import date, datetime
from typing import Any

from bot.chat.port import Attachment
from storage import export
from storage.database import Session


def files_of(session: Session, person_id: int, now: datetime) -> tuple[Attachment, ...]:
    """Return everything stored about a person as JSON and as plain text."""
    stored = export.of_person(session, person_id, now)
    day = f"{now:%Y-%m-%d}"
    whole = json.dumps(stored, ensure_ascii=False, indent=1, default=_plain)
    text = "\n".join([f"Everything stored about you on {day}", "", *_lines(stored), ""])
    return (
        Attachment(f"my-data-{day}.txt", "text/plain", text.encode(), "Your data, to read."),
        Attachment(f"my-data-{day}.json", "application/json", whole.encode(), "Your data, for programs."),
    )


def _plain(value: object) -> str:
    if isinstance(value, datetime | date):
        return value.isoformat()
    raise TypeError(f"{type(value).__name__} cannot be written as JSON.")


def _lines(value: Any, depth: int = 0) -> Iterator[str]:
    """Write nested values as an indented list: names, then what they hold."""
    indent = "  " * depth
    if isinstance(value, Mapping):
        for name, inner in value.items():
            if isinstance(inner, Mapping | list | tuple):
                yield f"{indent}{name}:"
                yield from _lines(inner, depth + 1)
            else:
                yield f"{indent}{name}: {inner}"
    elif isinstance(value, list | tuple):
        for number, inner in enumerate(value, start=1):
            if isinstance(inner, Mapping | list | tuple):
                yield f"{indent}{number}."
                yield from _lines(inner, depth + 1)
            else:
                yield f"{indent}- {inner}"
