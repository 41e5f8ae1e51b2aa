"""Text documents (.docx): their tables, else their lines. Imported only by the limited child process.

References
----------
ECMA-376, Office Open XML File Formats, part 1 (5th edition, 2016), 17.3 and 17.4: runs, tables, merged cells.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterator
from typing import Any

import docx
from docx.oxml.ns import qn

from storage.files.reading import limits
from storage.files.reading.archive import xml_parts
from storage.files.reading.found_tables import FoundTable, one_sheet, spread
from storage.files.reading.raised import Place, placed
from storage.files.reading.sheet import Cell, Sheet, text_cell

_PLACES: dict[str, Place] = {"superscript": "raised", "subscript": "lowered"}
_HALF_POINTS = re.compile(r"-?[0-9]{1,4}")
_TABLE, _PARAGRAPH, _TEXT, _RUN = (qn(f"w:{tag}") for tag in ("tbl", "p", "t", "r"))
_SIGNS = {qn("w:tab"): "\t", qn("w:br"): "\n", qn("w:cr"): "\n", qn("w:noBreakHyphen"): "-"}
_LEFT_OUT = {qn("w:del"), qn("w:moveFrom")}


def read_text_document(data: bytes, name: str) -> Sheet:
    """Read the tables of a text document, else its lines.

    Parameters
    ----------
    data : bytes
        The file, already checked by ``archive.content_of``.
    name : str
        Its name, for messages only.

    Returns
    -------
    Sheet
        What was deleted while changes are recorded is left out, what was added is read.

    Raises
    ------
    FileRefused
        If it declares entities, passes a limit or holds nothing.
    """
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        for _part in xml_parts(archive, name):
            pass
    body = docx.Document(io.BytesIO(data)).element.body
    tables = [_table(element) for element in body.iter(_TABLE) if not _within_table(element)]
    lines = [_paragraph(element) for element in body.iter(_PARAGRAPH) if not _within_table(element)]
    return one_sheet("docx", tables, [line for text in lines for line in text.split("\n")], name)


def _within_table(element: Any) -> bool:
    return any(True for _ in element.iterancestors(_TABLE))


def _table(table: Any) -> FoundTable:
    found = FoundTable()
    above: dict[int, tuple[Cell, int]] = {}
    for row in table.tr_lst:
        cells: list[tuple[Cell, int, int]] = []
        place = row.grid_before
        cells += [(None, 1, 1)] * min(place, limits.COLUMNS + 1)
        for cell in row.tc_lst:
            held = _above(found, place) if cell.vMerge == "continue" else _cell(cell)
            cells.append((held, min(cell.grid_span, limits.COLUMNS + 1), 1))
            place += cell.grid_span
        found.rows.append(spread(cells, above))
    return found


def _above(found: FoundTable, place: int) -> Cell:
    row = found.rows[-1] if found.rows else []
    return row[place] if place < len(row) else None


def _cell(cell: Any) -> Cell:
    return text_cell("\n".join(_paragraph(one) for one in cell.iterchildren(_PARAGRAPH)))


def _paragraph(paragraph: Any) -> str:
    """Join the runs of a paragraph, raised and lowered ones as such."""
    text = ""
    for run in _runs(paragraph):
        written = "".join(
            _SIGNS.get(part.tag, part.text or "") for part in run if part.tag in (_TEXT, *_SIGNS)
        )
        place = _place(run)
        text += placed(written, place, text) if place else written
    return text


def _place(run: Any) -> Place | None:
    """Tell whether a run stands raised or lowered: as such, or moved up or down by half points."""
    named = run.find(f"{qn('w:rPr')}/{qn('w:vertAlign')}")
    if named is not None and (place := _PLACES.get(named.get(qn("w:val"), ""))):
        return place
    moved = run.find(f"{qn('w:rPr')}/{qn('w:position')}")
    written = "" if moved is None else moved.get(qn("w:val"), "")
    if not _HALF_POINTS.fullmatch(written) or int(written) == 0:
        return None
    return "lowered" if int(written) < 0 else "raised"


def _runs(element: Any) -> Iterator[Any]:
    for child in element:
        if child.tag == _RUN:
            yield child
        elif child.tag not in _LEFT_OUT:
            yield from _runs(child)
