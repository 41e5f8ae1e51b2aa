"""Tables of web pages: many school programs write them, often under the name of a spreadsheet.

Imported only by the limited child process.

References
----------
WHATWG, HTML Living Standard, 4.9.12 (tables): colspan and rowspan.
"""

from __future__ import annotations

from typing import Any

import lxml.html
from lxml.etree import ParserError

from storage.files.problem import Phrase, problem
from storage.files.reading import limits
from storage.files.reading.found_tables import FoundTable, one_sheet, spread
from storage.files.reading.raised import Place, placed
from storage.files.reading.sheet import Cell, FileRefused, Sheet, text_cell

_PLACES: dict[str, Place] = {"sup": "raised", "sub": "lowered"}
_BLOCKS = frozenset(["p", "div", "li"])
_NO_TEXT = frozenset(["script", "style", "template"])


def read_web_page(data: bytes, name: str, encoding: str | None = None) -> Sheet:
    """Read the tables of a web page.

    Parameters
    ----------
    data : bytes
        The page.
    name : str
        Its name, for messages only.
    encoding : str or None
        Where the page itself says none.

    Raises
    ------
    FileRefused
        If it has no table, or passes a limit.
    """
    parser = lxml.html.HTMLParser(encoding=encoding, no_network=True, huge_tree=False)
    try:
        page = lxml.html.document_fromstring(data, parser=parser)
    except ParserError:
        raise FileRefused(problem("file_kind", name=name, kind=Phrase("kind.web"))) from None
    tables = [_table(one) for one in page.iter("table") if not any(True for _ in one.iterancestors("table"))]
    if not any(one.filled for one in tables):
        raise FileRefused(problem("file_kind", name=name, kind=Phrase("kind.web")))
    return one_sheet("html", tables, (), name)


def _table(table: Any) -> FoundTable:
    found = FoundTable()
    above: dict[int, tuple[Cell, int]] = {}
    for row in table.iter("tr"):
        if next(row.iterancestors("table")) is not table:
            continue  # of a table within a cell
        cells = [
            (_cell(one), _span(one, "colspan"), _span(one, "rowspan")) for one in row.iterchildren("td", "th")
        ]
        found.rows.append(spread(cells, above))
    return found


def _span(cell: Any, name: str) -> int:
    written = (cell.get(name) or "1").strip()
    number = int(written) if written.isascii() and written.isdigit() and len(written) < 6 else 1
    return min(max(number, 1), limits.COLUMNS + 1 if name == "colspan" else limits.ROWS + 1)


def _cell(cell: Any) -> Cell:
    lines = (" ".join(line.split()) for line in _text(cell).split("\n"))
    return text_cell("\n".join(line for line in lines if line))


def _text(element: Any) -> str:
    pieces = [" ".join((element.text or "").split("\n"))]
    for child in element:
        if child.tag == "br":
            pieces.append("\n")
        elif isinstance(child.tag, str) and child.tag not in _NO_TEXT:
            inner = _text(child)
            place = _PLACES.get(child.tag)
            inner = placed(inner, place, "".join(pieces)) if place else inner
            pieces.append(f"\n{inner}\n" if child.tag in _BLOCKS else inner)
        pieces.append(" ".join((child.tail or "").split("\n")))
    return "".join(pieces)
