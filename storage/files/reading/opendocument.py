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
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from xml.etree.ElementTree import Element

from defusedxml.ElementTree import iterparse

from storage.files.problem import Problem, problem
from storage.files.reading import limits
from storage.files.reading.archive import xml_parts
from storage.files.reading.found_tables import FoundTable, one_sheet
from storage.files.reading.raised import Place, placed
from storage.files.reading.sheet import Cell, Fault, FileRefused, Sheet, SheetBuilder, moment_cell, text_cell

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
    FileRefused
        If it declares entities, passes a limit or holds nothing.
    """
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        parts = dict(xml_parts(archive, name))
    tables = list(_tables(parts["content.xml"], name))
    seen = [one for one in tables if one.visible]
    if not seen:
        raise FileRefused(problem("file_empty", name=name))
    chosen, notes = seen[0], list[Problem]()
    if len(seen) > 1:
        notes.append(problem("sheets_more", found=chosen.title, size=len(seen) - 1))
    if len(tables) > len(seen):
        notes.append(problem("sheets_hidden", name=name, size=len(tables) - len(seen)))
    sheet = Sheet("ods", tuple(chosen.built.rows), tuple(notes))
    rows, columns = sheet.filled(chosen.hidden_rows, chosen.hidden_columns)
    return replace(sheet, hidden_rows=rows, hidden_columns=columns)


def read_text_of_opendocument(data: bytes, name: str) -> Sheet:
    """Read the tables of an OpenDocument text (.odt), else its lines; as `read_opendocument`."""
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        content = dict(xml_parts(archive, name))["content.xml"]
    tables = [FoundTable([list(row) for row in one.built.rows]) for one in _tables(content, name)]
    lines = [] if tables else list(_lines(content))
    return one_sheet("odt", tables, lines, name)


def _lines(content: bytes) -> Iterator[str]:
    """Give the paragraphs of a text."""
    styles = _Styles()
    for _event, element in iterparse(io.BytesIO(content), events=("end",)):
        if element.tag == f"{_STYLE}style":
            styles.learn(element)
        elif element.tag in (f"{_TEXT}p", f"{_TEXT}h"):
            yield from _paragraph(element, styles).split("\n")


@dataclass
class _Table:
    """A table while it is read: where it has come to, and what of it does not show."""

    built: SheetBuilder
    title: str = ""
    visible: bool = True
    number: int = 0
    width: int = 0
    hidden_rows: set[int] = field(default_factory=set)
    hidden_columns: set[int] = field(default_factory=set)


@dataclass
class _Styles:
    """Names of the styles that hide a table, and of those that raise or lower text."""

    hiding: set[str] = field(default_factory=set)
    places: dict[str, Place] = field(default_factory=dict)

    def learn(self, style: Element) -> None:
        """Remember what a style means."""
        name = style.get(f"{_STYLE}name", "")
        table, text = (style.find(f"{_STYLE}{kind}-properties") for kind in ("table", "text"))
        if table is not None and table.get(f"{_TABLE}display") == "false":
            self.hiding.add(name)
        if text is not None and (place := _place(text.get(f"{_STYLE}text-position", ""))):
            self.places[name] = place


def _place(position: str) -> Place | None:
    """Read where a text stands: ``super 58%``, ``sub``, or how far up or down in percent of its height."""
    first = position.split(" ")[0]
    if first in ("super", "sub"):
        return "raised" if first == "super" else "lowered"
    if re.fullmatch(r"-?\d{1,4}(?:\.\d{1,4})?%", first) and float(first[:-1]) != 0:
        return "lowered" if first.startswith("-") else "raised"
    return None


def _tables(content: bytes, name: str) -> Iterator[_Table]:
    """Give each table that holds something, reading the XML as it goes."""
    styles = _Styles()
    depth, table = 0, _Table(SheetBuilder(name))
    for event, element in iterparse(io.BytesIO(content), events=("start", "end")):
        if event == "start" and element.tag == f"{_TABLE}table":
            depth += 1
            if depth == 1:
                table = _Table(SheetBuilder(name), element.get(f"{_TABLE}name", ""))
                table.visible = element.get(f"{_TABLE}style-name", "") not in styles.hiding
        elif event == "end" and element.tag == f"{_STYLE}style":
            styles.learn(element)
        elif event == "end" and element.tag == f"{_TABLE}table-column" and depth == 1:
            _add_column(element, table)
        elif event == "end" and element.tag == f"{_TABLE}table-row" and depth == 1:
            _add_row(element, table, styles)
            element.clear()
        elif event == "end" and element.tag == f"{_TABLE}table":
            depth -= 1
            element.clear()
            if depth == 0 and table.built.rows:
                yield table


def _unseen(element: Element) -> bool:
    """Whether a row or column is hidden (``collapse``) or filtered out (``filter``)."""
    return element.get(f"{_TABLE}visibility", "visible") != "visible"


def _add_column(element: Element, table: _Table) -> None:
    times = min(_count(element, f"{_TABLE}number-columns-repeated"), limits.COLUMNS + 1)
    if _unseen(element):
        table.hidden_columns.update(range(table.width, table.width + times))
    table.width += times


def _add_row(element: Element, table: _Table, styles: _Styles) -> None:
    """Add a row as often as it is repeated."""
    times = _count(element, f"{_TABLE}number-rows-repeated")
    first = table.number + 1
    table.number += times
    cells = _row(element, styles)
    if not any(cell is not None for cell in cells):
        return
    if not table.visible:  # that it holds something is all that is told of it
        table.built.rows = [("",)]
        return
    for number in range(first, first + times):  # a filled row repeated beyond the limits ends in FileRefused
        table.built.add(number, cells)
    if _unseen(element):
        table.hidden_rows.update(range(first, first + times))


def _row(element: Element, styles: _Styles) -> list[Cell]:
    """Read the cells of a row; repeated empty ones are only counted until something follows."""
    cells: list[Cell] = []
    gap = 0
    for child in element:
        if child.tag not in _CELLS:
            continue
        times = _count(child, f"{_TABLE}number-columns-repeated")
        value = _cell(child, styles) if child.tag == _CELLS[0] else None
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


def _cell(element: Element, styles: _Styles) -> Cell:
    """Reduce a cell to a plain value by the type it declares."""
    kind = element.get(f"{_OFFICE}value-type")
    formula = element.get(f"{_TABLE}formula")
    if element.get(_ERROR_KIND) == "error":
        return Fault("cell_error", _shown_text(element)[:60])
    if kind is None and formula is not None:
        return Fault("cell_formula", formula[:60])
    if kind in (None, "string"):
        return text_cell(element.get(f"{_OFFICE}string-value") or _shown_text(element, styles))
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


def _shown_text(element: Element, styles: _Styles | None = None) -> str:
    """Join the paragraphs of a cell; its comments are not part of it."""
    return "\n".join(_paragraph(child, styles or _Styles()) for child in element if child.tag == f"{_TEXT}p")


def _paragraph(element: Element, styles: _Styles) -> str:
    """Read a paragraph with its spans, raised ones as such, and with the blanks that are written as elements."""
    pieces = [element.text or ""]
    for child in element:
        if child.tag == f"{_TEXT}s":
            pieces.append(" " * min(_count(child, f"{_TEXT}c"), limits.CELL_CHARACTERS))
        elif child.tag == f"{_TEXT}tab":
            pieces.append("\t")
        elif child.tag == f"{_TEXT}line-break":
            pieces.append("\n")
        elif child.tag != f"{_OFFICE}annotation":
            place = styles.places.get(child.get(f"{_TEXT}style-name", ""))
            inner = _paragraph(child, styles)
            pieces.append(placed(inner, place, "".join(pieces)) if place else inner)
        pieces.append(child.tail or "")
    return "".join(pieces)
