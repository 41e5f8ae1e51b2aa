"""Text tables going out, safe to open in a spreadsheet program."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from datetime import date, datetime, time

Value = str | int | float | bool | date | datetime | time | None

# OWASP, "CSV Injection" (community page, August 2025): cells that begin with = + - @ tab, carriage return or line
# feed may run as formulas. Guarded here also behind blanks and after a line break inside the cell.
_SIGNS = ("=", "+", "-", "@")
_BREAKS = ("\t", "\r", "\n")


def safe_cell(value: Value) -> Value:
    r"""Make a value harmless in a spreadsheet: a text that could run as a formula gets an apostrophe in front.

    Numbers stay numbers, also negative ones: only texts can be formulas.

    Parameters
    ----------
    value : str, int, float, bool, date, datetime, time or None
        What shall stand in the cell.

    Returns
    -------
    same type
        The value, or the text with a leading apostrophe; one more where it has some already, so that `bare_text`
        gives it back.

    References
    ----------
    OWASP Foundation, "CSV Injection", community page.

    Examples
    --------
    >>> safe_cell("=1+2"), safe_cell("Hooke's law"), safe_cell(-3.5), safe_cell("-3.5"), safe_cell("a\n=1+2")
    ("'=1+2", "Hooke's law", -3.5, "'-3.5", "'a\n=1+2")
    """
    if isinstance(value, str) and _could_run(value.lstrip("'")):
        return f"'{value}"
    return value


def bare_text(text: str) -> str:
    """Take back what `safe_cell` puts in front, so that a sheet of ours is read as it was written.

    Examples
    --------
    >>> bare_text("'=1+2"), bare_text("'tis")
    ('=1+2', "'tis")
    """
    return text[1:] if text.startswith("'") and _could_run(text.lstrip("'")) else text


def _could_run(text: str) -> bool:
    """Whether a spreadsheet program might take a text, or what it makes of its lines, for a formula."""
    return text.startswith(_BREAKS) or any(line.lstrip().startswith(_SIGNS) for line in text.splitlines())


def write_csv(rows: Iterable[Sequence[Value]]) -> bytes:
    r"""Write rows as CSV that spreadsheet programs open rightly and safely.

    Parameters
    ----------
    rows : iterable of sequences
        Headings first. Days and times are written in ISO form, None as an empty cell.

    Returns
    -------
    bytes
        UTF-8 with byte order mark, commas, CRLF, every text in quotation marks (RFC 4180; OWASP asks for the quotes).

    Examples
    --------
    >>> write_csv([["topic", "about"], ["Forces", 0.6]])
    b'\xef\xbb\xbf"topic","about"\r\n"Forces",0.6\r\n'
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, quoting=csv.QUOTE_NONNUMERIC, lineterminator="\r\n")
    for row in rows:
        writer.writerow([_plain(safe_cell(value)) for value in row])
    return out.getvalue().encode("utf-8-sig")


def _plain(value: Value) -> str | int | float:
    """Write what is neither text nor number as a text."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return value.isoformat(sep=" ", timespec="minutes")
    return value.isoformat() if isinstance(value, date | time) else value
