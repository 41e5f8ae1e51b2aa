"""A file that was sent, read once and understood as often as wanted.

What somebody sends may be a timetable, questions, a class list or scores. To find out, it is understood as each of
them. The file itself is parsed only once: that is what costs, a process of its own for every workbook and calendar.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any, TypeVar

from storage.files.problem import Problem
from storage.files.reading.archive import Content, content_of
from storage.files.reading.child import problem_from_plain, read_in_child
from storage.files.reading.delimited import read_delimited
from storage.files.reading.encodings import decode
from storage.files.reading.sheet import FileRefused, Sheet, from_plain, shown

T = TypeVar("T")

_SAYS_ENCODING = re.compile(rb"charset\s*=", re.IGNORECASE)
_HEAD_BYTES = 4096


class OpenedFile:
    """The bytes and the name of a file, and what was found in it so far.

    Every method gives the same answer, or raises `FileRefused` with the same problem, as often as it is called.

    Parameters
    ----------
    data : bytes
        Its content decides what it is.
    name : str
        For messages only.
    """

    def __init__(self, data: bytes, name: str) -> None:
        self.data, self.name = data, name
        self._found: dict[tuple[object, ...], Any] = {}

    @property
    def content(self) -> Content:
        """What the content turns out to be."""
        return self._once(("content",), lambda: content_of(self.data, self.name))

    def sheet(self, encoding: str | None = None) -> Sheet:
        """Return the table of a text file, read with that encoding, or of a workbook."""
        if self.content == "csv":
            return self._once(("csv", encoding), lambda: read_delimited(self.data, self.name, encoding))
        if self.content == "html" and not _SAYS_ENCODING.search(self.data[:_HEAD_BYTES]):
            return self._once(("html", encoding), lambda: self._decoded_page(encoding))
        return self._once(("sheet",), lambda: self._in_child(self.data))

    def lines(self, encoding: str | None = None) -> list[str]:
        """Return the lines of a text, or the rows of anything else with tabs between their cells."""
        if self.content == "csv":
            return self._once(
                ("lines", encoding), lambda: decode(self.data, self.name, encoding).splitlines()
            )
        return ["\t".join(shown(cell) for cell in row) for row in self.sheet(encoding).rows]

    def items(self) -> list[dict[str, Any]]:
        """Return the questions that the child found in a file of the standard QTI."""
        return self._once(("qti",), lambda: list(read_in_child("qti", self.data, self.name)["items"]))

    def events(self, **details: str) -> dict[str, Any]:
        """Return what the child found in a calendar; see ``reading_child`` for the details."""
        asked = ("ics", *sorted(details.items()))
        return self._once(asked, lambda: read_in_child("ics", self.data, self.name, **details))

    def _decoded_page(self, encoding: str | None) -> Sheet:
        """Read a web page that does not say its encoding: it is found out, or asked about, as for a text table."""
        text = decode(self.data, self.name, encoding)
        return self._in_child(text.encode("utf-8", "replace"), encoding="utf-8")

    def _in_child(self, data: bytes, **details: str) -> Sheet:
        answer = read_in_child(self.content, data, self.name, **details)
        rows = tuple(tuple(from_plain(cell) for cell in row) for row in answer["rows"])
        notes = tuple(problem_from_plain(note) for note in answer["notes"])
        hidden = tuple(answer["hidden_rows"]), tuple(answer["hidden_columns"])
        return Sheet(self.content, rows, notes, *hidden)

    def _once(self, asked: tuple[object, ...], find: Callable[[], T]) -> T:
        if asked not in self._found:
            try:
                self._found[asked] = find()
            except FileRefused as refused:
                self._found[asked] = refused.problem
        found: T | Problem = self._found[asked]
        if isinstance(found, Problem):
            raise FileRefused(found)
        return found


def opened(data: bytes | OpenedFile, name: str) -> OpenedFile:
    """Return a file to read, the one that is given where it was opened before."""
    return data if isinstance(data, OpenedFile) else OpenedFile(data, name)
