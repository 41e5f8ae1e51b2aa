"""OpenDocument spreadsheets (.ods), as values only. Imported only by the limited child process.

Our own short reader of ``content.xml``: the library at hand (python-calamine) ends the whole interpreter on a
small file with one far cell, and drops number formats, whereas here a percent cell stays "75 %".
``defusedxml`` refuses entities. Repeated empty rows and columns, with which these files are padded to a million
rows, cost nothing.

References
----------
OASIS, Open Document Format for Office Applications 1.3 (2021), part 3: tables, typed cells, white space.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from xml.etree.ElementTree import Element

from defusedxml.ElementTree import iterparse

from storage.files import limits
from storage.files.archive import xml_parts
from storage.files.problem import Problem, problem
from storage.files.sheet import Cell, Fault, Refused, Sheet, SheetBuilder, moment_cell, text_cell

_TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
_TEXT = "{urn:oasis:names:tc:opendocument:xmlns:text:1.0}"
_STYLE = "{urn:oasis:names:tc:opendocument:xmlns:style:1.0}"
_ERROR_KIND = "{urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0}value-type"
_CELLS = (f"{_TABLE}table-cell", f"{_TABLE}covered-table-cell")
_DURATION = re.compile(r"PT(\d{1,6})H(\d{1,2})M(\d{1,2})(?:[.,]\d+)?S")


def read_opendocument(data: bytes, name: str) -> Sheet:
    """Read the first visible sheet of an OpenDocument spreadsheet that holds anything.

    Parameters
    ----------
    data : bytes
        The file, already checked by ``archive.content_of``.
    name : str
        Its name, for messages only.

    Returns
    -------
    Sheet

    Raises
    ------
    Refused
        If it declares entities, passes a limit or holds nothing.
    """
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        parts = dict(xml_parts(archive, name))
    tables = _tables(parts["content.xml"], name)
    chosen, title = next(tables, (SheetBuilder(name), ""))
    if not chosen.rows:
        raise Refused(problem("file_empty", name=name))
    others = sum(1 for _ in tables)
    notes: tuple[Problem, ...] = (problem("sheets_more", found=title, size=others),) if others else ()
    return Sheet("ods", tuple(chosen.rows), notes)


def _tables(content: bytes, name: str) -> Iterator[tuple[SheetBuilder, str]]:
    """Give each visible table that holds something, with its title, reading the XML as it goes."""
    hidden: set[str] = set()
    depth, number, built, title = 0, 0, SheetBuilder(name), ""
    for event, element in iterparse(io.BytesIO(content), events=("start", "end")):
        if event == "start" and element.tag == f"{_TABLE}table":
            depth += 1
            if depth == 1:
                number, built, title = 0, SheetBuilder(name), element.get(f"{_TABLE}name", "")
                visible = element.get(f"{_TABLE}style-name", "") not in hidden
        elif event == "end" and element.tag == f"{_STYLE}style":
            if _hides(element):
                hidden.add(element.get(f"{_STYLE}name", ""))
        elif event == "end" and element.tag == f"{_TABLE}table-row" and depth == 1:
            number = _add_row(element, number, built) if visible else number
            element.clear()
        elif event == "end" and element.tag == f"{_TABLE}table":
            depth -= 1
            element.clear()
            if depth == 0 and built.rows:
                yield built, title


def _hides(style: Element) -> bool:
    properties = style.find(f"{_STYLE}table-properties")
    return properties is not None and properties.get(f"{_TABLE}display") == "false"


def _add_row(element: Element, number: int, built: SheetBuilder) -> int:
    """Add a row as often as it is repeated; give the number of the last row so far."""
    times = _count(element, f"{_TABLE}number-rows-repeated")
    cells = _row(element)
    if not any(cell is not None for cell in cells):
        return number + times
    for offset in range(1, times + 1):  # a filled row repeated beyond the limits ends in Refused
        built.add(number + offset, cells)
    return number + times


def _row(element: Element) -> list[Cell]:
    """Read the cells of a row; repeated empty ones are only counted until something follows."""
    cells: list[Cell] = []
    gap = 0
    for child in element:
        if child.tag not in _CELLS:
            continue
        times = _count(child, f"{_TABLE}number-columns-repeated")
        value = _cell(child) if child.tag == _CELLS[0] else None
        if value is None:
            gap += times
            continue
        # One cell beyond the limit is enough for the builder to refuse the row.
        cells.extend([None] * min(gap, limits.COLUMNS + 1 - min(len(cells), limits.COLUMNS + 1)))
        cells.extend([value] * min(times, limits.COLUMNS + 1))
        gap = 0
    return cells


def _count(element: Element, attribute: str) -> int:
    written = element.get(attribute, "1")
    return max(1, int(written)) if written.isascii() and written.isdigit() and len(written) < 10 else 1


def _cell(element: Element) -> Cell:
    """Reduce a cell to a plain value by the type it declares."""
    kind = element.get(f"{_OFFICE}value-type")
    formula = element.get(f"{_TABLE}formula")
    if element.get(_ERROR_KIND) == "error":
        return Fault("cell_error", _shown_text(element)[:60])
    if kind is None and formula is not None:
        return Fault("cell_formula", formula[:60])
    if kind in (None, "string"):
        return text_cell(element.get(f"{_OFFICE}string-value") or _shown_text(element))
    try:
        return _typed(kind, element)
    except (ValueError, OverflowError):
        return Fault("cell_error", _shown_text(element)[:60])


def _typed(kind: str | None, element: Element) -> Cell:
    """Read a number, percentage, truth value, date or time; ValueError if it is none."""
    if kind in ("float", "currency", "percentage"):
        number = float(element.get(f"{_OFFICE}value", ""))
        if kind == "percentage":
            return f"{number * 100:.12g} %"
        return int(number) if number.is_integer() and abs(number) < 1e15 else number
    if kind == "boolean":
        return element.get(f"{_OFFICE}boolean-value") == "true"
    if kind == "date":
        return _date(element.get(f"{_OFFICE}date-value", ""))
    if kind == "time":
        return _time(element.get(f"{_OFFICE}time-value", ""))
    return text_cell(_shown_text(element))


def _date(written: str) -> Cell:
    if "T" in written:
        return moment_cell(datetime.fromisoformat(written[:19]))
    return date.fromisoformat(written)


def _time(written: str) -> Cell:
    found = _DURATION.fullmatch(written)
    if found is None:
        raise ValueError(written)
    hours, minutes, seconds = (int(part) for part in found.groups())
    return moment_cell(timedelta(hours=hours, minutes=minutes, seconds=seconds))


def _shown_text(element: Element) -> str:
    """Join the paragraphs of a cell; its comments are not part of it."""
    return "\n".join(_paragraph(child) for child in element if child.tag == f"{_TEXT}p")


def _paragraph(element: Element) -> str:
    """Read a paragraph with its spans, and with the blanks that OpenDocument writes as elements."""
    pieces = [element.text or ""]
    for child in element:
        if child.tag == f"{_TEXT}s":
            pieces.append(" " * min(_count(child, f"{_TEXT}c"), limits.CELL_CHARACTERS))
        elif child.tag == f"{_TEXT}tab":
            pieces.append("\t")
        elif child.tag == f"{_TEXT}line-break":
            pieces.append("\n")
        elif child.tag != f"{_OFFICE}annotation":
            pieces.append(_paragraph(child))
        pieces.append(child.tail or "")
    return "".join(pieces)
