"""Text tables: any of the dialects and encodings that spreadsheet programs really write.

Encoding: see ``encodings``.

Separator: a first line ``sep=;`` decides; else of ``; , tab |`` the one that cuts most records into the
same number
of fields. ``csv.Sniffer`` is not used: it fails on one column and its patterns can take very long on
hostile text.
"""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from dataclasses import replace

from storage.files.problem import Problem, problem
from storage.files.reading.encodings import decode
from storage.files.reading.sheet import FileRefused, Sheet, SheetBuilder, text_cell

SEPARATORS = (";", ",", "\t", "|")
_SAMPLE_RECORDS = 200
_SEPARATOR_LINE = re.compile(r'"?sep=(.)"?\r?\n|"?sep=(.)"?\r', re.IGNORECASE)
_END = "end of the file"


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
    named = _SEPARATOR_LINE.match(text)
    if named:
        text = text[named.end() :]
    separator = (named.group(1) or named.group(2)) if named else best_separator(text)
    sheet = SheetBuilder(name)
    records = _records(text, separator)
    for number, record in enumerate(records, start=1):
        sheet.add(number, [text_cell(field) for field in record])
    return Sheet("csv", tuple(sheet.rows))


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
    several = Counter(width for width in widths if width > 1)
    if not several:
        return 0.0, 0
    width, count = several.most_common(1)[0]
    return count / len(widths) * (1.0 if widths[0] == width else 0.5), width
