"""Excel workbooks (.xlsx), as values only. Imported only by the limited child process.

openpyxl reads row by row; ``defusedxml`` must be there, because without it openpyxl expands entities.
Formulas count
with the result saved beside them; a formula without one becomes a fault of its cell. Of formatting only what changes
the meaning counts: percent cells, raised and lowered characters, hidden rows and columns. Links to other files,
charts and everything else are not followed and not read.
"""

from __future__ import annotations

import io
import re
import warnings
import zipfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from typing import Any

import openpyxl
from defusedxml.ElementTree import iterparse
from openpyxl.cell.read_only import ReadOnlyCell
from openpyxl.cell.rich_text import CellRichText
from openpyxl.utils import column_index_from_string as column_number

from storage.files.problem import Problem, problem
from storage.files.reading import limits
from storage.files.reading.archive import xml_parts
from storage.files.reading.raised import Place, placed
from storage.files.reading.sheet import Cell, Fault, FileRefused, Sheet, SheetBuilder, moment_cell, text_cell

_COLUMN = re.compile(r"[A-Z]{1,3}")
_PLACES: dict[str, Place] = {"superscript": "raised", "subscript": "lowered"}
_FORMULA_MARKS = (b"<f>", b"<f ", b"<f/")


def read_workbook(data: bytes, name: str) -> Sheet:
    """Read the first visible sheet of a workbook that holds anything.

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
    if not openpyxl.DEFUSEDXML:
        raise RuntimeError("defusedxml is not installed: workbooks of strangers are not read without it")
    formulas = _look_through(data, name)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # openpyxl warns of every feature that it leaves out
        found = _first_filled(data, name)
        rows = list(found.built.rows)
        if formulas:
            rows = _mark_unsaved(rows, data, found.title)
    if not rows:
        raise FileRefused(problem("file_empty", name=name))
    notes: list[Problem] = []
    if found.others:
        notes.append(problem("sheets_more", found=found.title, size=found.others))
    if found.hidden:
        notes.append(problem("sheets_hidden", name=name, size=found.hidden))
    sheet = Sheet("xlsx", tuple(rows), tuple(notes))
    rows_unseen, columns_unseen = sheet.filled(*found.unseen)
    return replace(sheet, hidden_rows=rows_unseen, hidden_columns=columns_unseen)


@dataclass
class _FoundSheet:
    """The first sheet that holds something, its title, what of it is unseen, and how many other sheets there are."""

    built: SheetBuilder
    title: str = ""
    unseen: tuple[set[int], set[int]] = field(default_factory=lambda: (set(), set()))
    others: int = 0
    hidden: int = 0


def _look_through(data: bytes, name: str) -> bool:
    """Check every XML part; tell whether any sheet holds a formula."""
    found = False
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        for part, content in xml_parts(archive, name):
            if part.startswith("xl/worksheets/"):
                found = found or any(mark in content for mark in _FORMULA_MARKS)
    return found


def _first_filled(data: bytes, name: str) -> _FoundSheet:
    """Read visible sheets until one holds something; count the others that do."""
    book = openpyxl.load_workbook(
        io.BytesIO(data), read_only=True, data_only=True, keep_links=False, rich_text=True
    )
    found = _FoundSheet(SheetBuilder(name))
    for sheet in book.worksheets:
        if sheet.sheet_state != "visible":
            found.hidden += _holds_anything(sheet)
        elif not found.built.rows:
            looks = _looks(data, sheet)
            found.built, found.title, found.unseen = _read(sheet, name, looks), sheet.title, looks.unseen
        else:
            found.others += _holds_anything(sheet)
    return found


def _read(sheet: Any, name: str, looks: _Looks) -> SheetBuilder:
    """Read one sheet to its last row and column, whatever size it declares."""
    built = SheetBuilder(name)
    sheet.reset_dimensions()
    for number, row in enumerate(sheet.iter_rows(), start=1):
        cells = [_cell(cell) for cell in row]
        for column, text in looks.inline.get(number, {}).items():
            if column < len(cells):
                cells[column] = text_cell(text)
        built.add(number, cells)
    return built


@dataclass
class _Looks:
    """What openpyxl's reading mode does not tell of a sheet: what is hidden, and texts formatted within the cell."""

    unseen: tuple[set[int], set[int]] = field(default_factory=lambda: (set(), set()))
    inline: dict[int, dict[int, str]] = field(default_factory=dict)


def _looks(data: bytes, sheet: Any) -> _Looks:
    """Go through the XML of a sheet once more, for hidden rows and columns and raised characters in place."""
    looks = _Looks()
    rows, columns = looks.unseen
    number = column = 0
    with zipfile.ZipFile(io.BytesIO(data)) as archive, archive.open(sheet._worksheet_path) as part:
        for event, element in iterparse(part, events=("start", "end")):
            tag = element.tag.rpartition("}")[2]
            if event == "start" and tag == "row":
                number, column = int(element.get("r") or number + 1), 0
                if _unseen(element, "ht"):
                    rows.add(number)
            elif event == "start" and tag == "c":
                place = _COLUMN.match(element.get("r") or "")
                column = column_number(place[0]) if place else column + 1
            elif event == "end" and tag == "col" and _unseen(element, "width"):
                first, last = int(element.get("min", 0)), int(element.get("max", 0))
                columns.update(range(first - 1, min(last, limits.COLUMNS)))
            elif event == "end" and tag == "is":
                looks.inline.setdefault(number, {})[column - 1] = _rich(_runs(element))
            elif event == "end" and tag == "row":
                element.clear()
    return looks


def _unseen(element: Any, size: str) -> bool:
    """Whether a row or column is hidden, by filter or by hand, or has no height or width."""
    given = element.get(size)
    return element.get("hidden") in ("1", "true") or (given is not None and float(given) == 0)


def _runs(element: Any) -> Iterator[tuple[str, str | None]]:
    """Give the pieces of a text in place, each with its vertical alignment."""
    for piece in element:
        tag = piece.tag.rpartition("}")[2]
        if tag == "t":
            yield piece.text or "", None
        elif tag == "r":
            inner = list(piece.iter())
            texts = [one.text or "" for one in inner if one.tag.endswith("}t")]
            aligned = [one.get("val") for one in inner if one.tag.endswith("}vertAlign")]
            yield "".join(texts), aligned[0] if aligned else None


def _rich(runs: Iterable[tuple[str, str | None]]) -> str:
    """Join the pieces of a formatted text, raised and lowered ones as such."""
    text = ""
    for piece, aligned in runs:
        place = _PLACES.get(aligned or "")
        text += placed(piece, place, text) if place else piece
    return text


def _holds_anything(sheet: Any) -> bool:
    sheet.reset_dimensions()
    return any(value is not None for row in sheet.iter_rows(values_only=True) for value in row)


def _cell(cell: ReadOnlyCell) -> Cell:
    """Reduce an openpyxl cell to a plain value."""
    value = cell.value
    if value is None:
        return None
    if cell.data_type == "e":
        return Fault("cell_error", str(value)[:60])
    if isinstance(value, CellRichText):
        runs = ((one, None) if isinstance(one, str) else (one.text, one.font.vertAlign) for one in value)
        return text_cell(_rich(runs))
    if isinstance(value, str):
        return text_cell(value)
    if isinstance(value, bool):
        return value
    if isinstance(value, int | float):
        return _percent(value) if "%" in (cell.number_format or "") else value
    return moment_cell(value)


def _percent(value: float) -> str:
    """Write 0.75 in a percent cell as the teacher sees it.

    Examples
    --------
    >>> _percent(0.75)
    '75 %'
    """
    return f"{value * 100:.12g} %"


def _mark_unsaved(rows: list[tuple[Cell, ...]], data: bytes, title: str) -> list[tuple[Cell, ...]]:
    """Make a fault of each formula that has no saved result: it would look like an empty cell."""
    book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=False, keep_links=False)
    sheet = book[title]
    sheet.reset_dimensions()
    marked = list(rows)
    for index, written in enumerate(sheet.iter_rows()):
        unsaved = {
            column: Fault("cell_formula", str(cell.value)[:60])
            for column, cell in enumerate(written)
            if cell.data_type == "f"
        }
        if unsaved:
            marked.extend(() for _ in range(index + 1 - len(marked)))
            marked[index] = _fill_gaps(marked[index], unsaved)
    return marked


def _fill_gaps(row: tuple[Cell, ...], unsaved: dict[int, Fault]) -> tuple[Cell, ...]:
    """Put faults where a row has nothing, and leave saved results alone."""
    width = max(len(row), max(unsaved) + 1)
    padded = [*row, *([None] * (width - len(row)))]
    return tuple(unsaved.get(column) if cell is None else cell for column, cell in enumerate(padded))
