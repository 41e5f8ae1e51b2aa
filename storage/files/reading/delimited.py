"""Text tables: any of the dialects and encodings that spreadsheet programs really write.

Encoding: see ``encodings``.

Separator: a first line ``sep=;`` decides; else of ``; , tab |`` the one that cuts most records into the
same number
of fields. ``csv.Sniffer`` is not used: it fails on one column and its patterns can take very long on
hostile text.

Text that nobody meant for a program is read too: a table of Markdown (bars, and a line of dashes under the headings),
and columns that stand below each other, with two blanks or more between them.
"""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import replace

from storage.files.problem import Problem, problem
from storage.files.reading.columns import Piece, in_columns
from storage.files.reading.encodings import decode
from storage.files.reading.raised import Place, placed
from storage.files.reading.sheet import FileRefused, Sheet, SheetBuilder, text_cell

SEPARATORS = (";", ",", "\t", "|")
_SAMPLE_RECORDS = 200
_SEPARATOR_LINE = re.compile(r'"?sep=(.)"?\r?\n|"?sep=(.)"?\r', re.IGNORECASE)
_END = "end of the file"
_RULE = re.compile(r"\s*\|?(?:\s*:?-{2,}:?\s*\|)+(?:\s*:?-{2,}:?\s*)?")
_PLACES: dict[str, Place] = {"sup": "raised", "sub": "lowered"}
_RAISED = re.compile(r"<(?P<tag>sup|sub)>(?P<inner>.*?)</(?P=tag)>", re.IGNORECASE)
_BARS = re.compile(r"(?<!\\)\|")
_TOGETHER = re.compile(r"\S+(?: \S+)*")


def read_delimited(data: bytes, name: str, encoding: str | None = None) -> Sheet:
    r"""Read a text table (RFC 4180 and its relatives with other separators).

    Parameters
    ----------
    data : bytes
        The file.
    name : str
        Its name, for messages only.
    encoding : str, optional
        The encoding that the teacher chose, where it was asked about.

    Returns
    -------
    Sheet
        Cells are texts or None; blank lines keep their row numbers; a line ``sep=;`` is no row.

    Raises
    ------
    FileRefused
        If it is no text, its encoding is doubtful, a quotation mark never closes, or a limit is passed.

    References
    ----------
    Y. Shafranovich, RFC 4180 (2005), section 2: quoting, line breaks in cells, no heading required.

    Examples
    --------
    >>> read_delimited(b'topic;date\r\n"Forces; first look";2026-11-25\r\n', "t.csv").rows
    (('topic', 'date'), ('Forces; first look', '2026-11-25'))
    """
    text = decode(data, name, encoding)
    sheet = SheetBuilder(name)
    for number, record in enumerate(_cut(text), start=1):
        sheet.add(number, [text_cell(field) for field in record])
    return Sheet("csv", tuple(sheet.rows))


def _cut(text: str) -> list[list[str]]:
    """Cut a text into records by what parts its fields."""
    named = _SEPARATOR_LINE.match(text)
    if named:
        return _records(text[named.end() :], named.group(1) or named.group(2))
    lines = text.splitlines()
    if any(_RULE.fullmatch(line) for line in lines[:_SAMPLE_RECORDS]):
        return [_between_bars(line) for line in lines]
    separator = best_separator(text)
    pieces = [_pieces(line) for line in lines] if "  " in text else []
    if (
        pieces
        and _evenness(text[:100_000], separator)[0] < _evenness_of(map(len, pieces[:_SAMPLE_RECORDS]))[0]
    ):
        return in_columns(pieces)
    return _records(text, separator)


def _between_bars(line: str) -> list[str]:
    """Cut a row of a Markdown table; what stands around the table is no row of it, nor is the line of dashes."""
    if "|" not in line or _RULE.fullmatch(line):
        return []
    inner = line.strip().removeprefix("|")
    inner = inner[:-1] if inner.endswith("|") and not inner.endswith("\\|") else inner
    return [_unmarked(cell.strip()) for cell in _BARS.split(inner)]


def _unmarked(cell: str) -> str:
    """Take the marks of Markdown out of a cell: escaped signs, stress, raised and lowered letters, line breaks."""
    cell = re.sub(r"<br\s*/?>", "\n", cell, flags=re.IGNORECASE)
    cell = _RAISED.sub(_raised, cell)
    cell = re.sub(r"(\*\*|__)(\S(?:.*?\S)?)\1", r"\2", cell)
    return re.sub(r"\\([\\`*_{}\[\]<>()#+.!|~^-])", r"\1", cell)


def _raised(found: re.Match[str]) -> str:
    return placed(found["inner"], _PLACES[found["tag"].lower()], found.string[: found.start()])


def _pieces(line: str) -> list[Piece]:
    """Cut a line where two blanks or more stand between its words."""
    return [Piece(found[0], *found.span()) for found in _TOGETHER.finditer(line.expandtabs())]


def _records(text: str, separator: str) -> list[list[str]]:
    """Cut a text into records, refusing a quotation mark that never closes.

    A last record of our own is added; if it does not come back alone, an open quotation mark has
    swallowed it.
    """
    records: list[list[str]] = []
    reader = csv.reader(io.StringIO(f"{text}\n{_END}", newline=""), delimiter=separator)
    try:
        records.extend(reader)
    except csv.Error:  # a field of over 128 KiB: nothing but an open quotation mark makes one
        records.append([])
    if records[-1] != [_END]:
        raise FileRefused(_with_row(len(records)))
    return records[:-1]


def _with_row(row: int) -> Problem:
    return replace(problem("quote_open"), row=row)


def best_separator(text: str) -> str:
    """Choose the separator that cuts most records of the beginning into the same number of fields.

    Parameters
    ----------
    text : str
        The file.

    Returns
    -------
    str
        One of ``; , tab |``; a comma if none cuts anything (one column).
    """
    return max(SEPARATORS, key=lambda separator: _evenness(text[:100_000], separator)) or ","


def _evenness(text: str, separator: str) -> tuple[float, int]:
    """Share of records with the commonest width above 1 (halved if the first has another), and that width."""
    widths = []
    try:
        for record in csv.reader(io.StringIO(text, newline=""), delimiter=separator):
            if record:
                widths.append(len(record))
            if len(widths) >= _SAMPLE_RECORDS:
                break
    except csv.Error:
        return 0.0, 0
    return _evenness_of(widths)


def _evenness_of(lengths: Iterable[int]) -> tuple[float, int]:
    widths = [width for width in lengths if width]
    several = Counter(width for width in widths if width > 1)
    if not several:
        return 0.0, 0
    width, count = several.most_common(1)[0]
    return count / len(widths) * (1.0 if widths[0] == width else 0.5), width
