"""Reading what a stranger sent in a process of its own, which may die without harm.

Workbooks and calendars go through large libraries, and small files can make these use gigabytes or minutes. So the
parent only looks at the file from outside (``archive``), and a child with hard limits on memory, processor time and
open files parses it and answers in JSON. Whatever happens to the child, the parent gets an answer or a problem.

Text tables are read in the parent: the standard library reads them in a time that grows with their size only.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

from storage.files.problem import Phrase, PossibleReading, Problem, Value, problem
from storage.files.reading import limits
from storage.files.reading.sheet import FileRefused

_START = (
    "import sys; sys.path[:0] = sys.argv[1:2]; from storage.files.reading.reading_child import main; main()"
)
_ROOT = str(Path(__file__).resolve().parents[3])
_KINDS = {
    **dict.fromkeys(("xlsx", "xls", "ods"), Phrase("kind.workbook")),
    "ics": Phrase("kind.calendar"),
    **dict.fromkeys(("docx", "odt"), Phrase("kind.docx")),
    "html": Phrase("kind.web"),
    "pdf": Phrase("kind.pdf"),
    "qti": Phrase("kind.qti"),
}


def read_in_child(task: str, data: bytes, name: str, **details: str) -> dict[str, Any]:
    """Let a limited child process parse a file.

    Parameters
    ----------
    task : {'xlsx', 'xls', 'ods', 'odt', 'ics', 'docx', 'html', 'pdf'}
        What to do; see ``reading_child``.
    data : bytes
        The file.
    name : str
        Its name, for messages only.
    **details : str
        What the task needs to know besides (zone and dates of a calendar).

    Returns
    -------
    dict
        What the task answered.

    Raises
    ------
    FileRefused
        If the child refused the file, ran into a limit, or could not be started.
    """
    head = json.dumps({"task": task, "name": name, **details}).encode()
    command = [sys.executable, "-I", "-c", _START, _ROOT]
    try:
        done = subprocess.run(  # noqa: S603 - our own interpreter, no shell, nothing of the user in the command
            command,
            input=head + b"\n" + data,
            capture_output=True,
            timeout=limits.CHILD_WALL_S,
            env={},
            check=False,
        )
    except subprocess.TimeoutExpired:
        raise FileRefused(problem("file_costly", name=name)) from None
    except OSError:
        raise FileRefused(problem("file_reader_lost", name=name)) from None
    return _answer(done.returncode, done.stdout, task, name)


def _answer(code: int, output: bytes, task: str, name: str) -> dict[str, Any]:
    """Turn the end of the child into its answer, or into the problem that it found or was."""
    if code < 0:  # ended by a signal: a limit was reached
        raise FileRefused(problem("file_costly", name=name))
    try:
        answer = json.loads(output)
    except ValueError:
        raise FileRefused(problem("file_broken", name=name, kind=_KINDS[task])) from None
    if "refused" in answer:
        raise FileRefused(problem_from_plain(answer["refused"]))
    if "failed" in answer:
        what = "file_costly" if answer["failed"] in ("MemoryError", "RecursionError") else "file_broken"
        raise FileRefused(problem(what, name=name, kind=_KINDS[task]))
    return dict(answer)


def problem_to_plain(one: Problem) -> dict[str, Any]:
    """Turn a problem found in the child into something JSON can carry."""
    return {
        "code": one.code,
        "row": one.row,
        "found": one.found,
        "fields": {name: _value_to_plain(value) for name, value in one.fields},
        "place": one.place,
        "options": [[one.about, one.chosen, one.label] for one in one.options],
    }


def problem_from_plain(plain: dict[str, Any]) -> Problem:
    """Turn what ``problem_to_plain`` gave back into a problem."""
    fields = tuple((str(name), _value_from_plain(value)) for name, value in plain["fields"].items())
    options = tuple(PossibleReading(about, chosen, label) for about, chosen, label in plain["options"])
    return Problem(
        plain["code"],
        row=plain["row"],
        found=plain["found"],
        fields=fields,
        options=options,
        place=plain["place"],
    )


def _value_to_plain(value: Value) -> object:
    if isinstance(value, str):
        return value
    if isinstance(value, Phrase):
        return {"phrase": value.key, "values": dict(value.values)}
    raise TypeError(f"The child does not find {type(value).__name__} in a file.")


def _value_from_plain(plain: str | dict[str, Any]) -> Value:
    return plain if isinstance(plain, str) else Phrase(plain["phrase"], tuple(plain["values"].items()))
