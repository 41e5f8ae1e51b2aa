"""The child process that parses one file of a stranger: limits first, then the libraries, then one JSON answer.

In: one line of JSON (task, name, details), then the file. Out: one JSON object with what the task found,
``refused`` (a problem for the teacher) or ``failed`` (the kind of exception; the file is damaged).
"""

from __future__ import annotations

import json
import resource
import sys
from datetime import date
from typing import Any

from storage.files.reading import limits
from storage.files.reading.child import problem_to_plain
from storage.files.reading.sheet import FileRefused, Sheet, to_plain
from storage.files.timetables.events import events_to_plain


def limit_self() -> None:
    """Set limits that this process can no longer lift: memory, processor time, no files written, no children."""
    hard = (
        (resource.RLIMIT_AS, limits.CHILD_MEMORY_BYTES),
        (resource.RLIMIT_CPU, limits.CHILD_CPU_S),
        (resource.RLIMIT_FSIZE, 0),
        (resource.RLIMIT_CORE, 0),
        (resource.RLIMIT_NOFILE, 64),
    )
    for what, value in hard:
        _soft, allowed = resource.getrlimit(what)
        lower = value if allowed == resource.RLIM_INFINITY else min(value, allowed)
        resource.setrlimit(what, (lower, lower))


def do_task(head: dict[str, str], data: bytes) -> dict[str, Any]:
    """Do what the parent asked for; large libraries are imported here, under the limits."""
    name = head["name"]
    if head["task"] == "ics":
        from storage.files.timetables.calendar import read_events

        first, last = date.fromisoformat(head["first"]), date.fromisoformat(head["last"])
        encoding = head.get("encoding")
        return events_to_plain(
            read_events(data, name, zone=head["zone"], first=first, last=last, encoding=encoding)
        )
    if head["task"] == "qti":
        from storage.files.qti.items import read_items

        return read_items(data, name)
    # openpyxl would import numpy if it found it: half of the start time, for nothing that is used here.
    sys.modules.setdefault("numpy", None)  # type: ignore[arg-type]
    if head["task"] == "xlsx":
        from storage.files.reading.workbook import read_workbook

        return sheet_to_plain(read_workbook(data, name))
    return sheet_to_plain(_read(head["task"], data, name, head.get("encoding")))


def _read(task: str, data: bytes, name: str, encoding: str | None) -> Sheet:
    match task:
        case "xls":
            from storage.files.reading.oldworkbook import read_old_workbook

            return read_old_workbook(data, name)
        case "docx":
            from storage.files.reading.textdocument import read_text_document

            return read_text_document(data, name)
        case "html":
            from storage.files.reading.webpage import read_web_page

            return read_web_page(data, name, encoding)
        case "odt":
            from storage.files.reading.opendocument import read_text_of_opendocument

            return read_text_of_opendocument(data, name)
        case "pdf":
            from storage.files.reading.page_layout import read_pages

            return read_pages(data, name)
        case _:
            from storage.files.reading.opendocument import read_opendocument

            return read_opendocument(data, name)


def sheet_to_plain(sheet: Sheet) -> dict[str, Any]:
    """Turn a sheet into something JSON can carry."""
    rows = [[to_plain(cell) for cell in row] for row in sheet.rows]
    return {
        "kind": sheet.kind,
        "rows": rows,
        "notes": [problem_to_plain(note) for note in sheet.notes],
        "hidden_rows": list(sheet.hidden_rows),
        "hidden_columns": list(sheet.hidden_columns),
    }


def main() -> None:
    """Read the task and the file, answer, and end."""
    limit_self()
    head = json.loads(sys.stdin.buffer.readline())
    data = sys.stdin.buffer.read()
    try:
        answer = do_task(head, data)
    except FileRefused as refused:
        answer = {"refused": problem_to_plain(refused.problem)}
    except (
        Exception
    ) as fault:  # libraries raise anything on damaged files; the parent needs to know only that
        answer = {"failed": type(fault).__name__}
    sys.stdout.write(json.dumps(answer))
