"""Excel workbooks (.xlsx), as values only. Imported only by the limited child process.

openpyxl reads row by row; ``defusedxml`` must be there, because without it openpyxl expands entities.
Formulas count
with the result saved beside them; a formula without one becomes a fault of its cell. Links to other files, charts,
styles and everything else are not followed and not read.
"""

from __future__ import annotations

import io
import warnings
import zipfile
from typing import Any

import openpyxl
from openpyxl.cell.read_only import ReadOnlyCell

from storage.files.archive import xml_parts
from storage.files.problem import Problem, problem
from storage.files.sheet import Cell, Fault, Refused, Sheet, SheetBuilder, moment_cell, text_cell

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
    Refused
        If it declares entities, passes a limit or holds nothing.
    """
    if not openpyxl.DEFUSEDXML:
        raise RuntimeError("defusedxml is not installed: workbooks of strangers are not read without it")
    formulas = _look_through(data, name)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # openpyxl warns of every feature that it leaves out
        sheet, title, others = _first_filled(data, name)
        rows = list(sheet.rows)
        if formulas:
            rows = _mark_unsaved(rows, data, title)
    if not rows:
        raise Refused(problem("file_empty", name=name))
    notes: tuple[Problem, ...] = ()
    if others:
        notes = (problem("sheets_more", found=title, size=others),)
    return Sheet("xlsx", tuple(rows), notes)


def _look_through(data: bytes, name: str) -> bool:
    """Check every XML part; tell whether any sheet holds a formula."""
    found = False
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        for part, content in xml_parts(archive, name):
            if part.startswith("xl/worksheets/"):
                found = found or any(mark in content for mark in _FORMULA_MARKS)
    return found


def _first_filled(data: bytes, name: str) -> tuple[SheetBuilder, str, int]:
    """Read visible sheets until one holds something; count the other visible ones that do."""
    book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True, keep_links=False)
    chosen, title, others = SheetBuilder(name), "", 0
    for sheet in book.worksheets:
        if sheet.sheet_state != "visible":
            continue
        if not chosen.rows:
            chosen, title = _read(sheet, name), sheet.title
        else:
            others += _holds_anything(sheet)
    return chosen, title, others


def _read(sheet: Any, name: str) -> SheetBuilder:
    """Read one sheet to its last row and column, whatever size it declares."""
    built = SheetBuilder(name)
    sheet.reset_dimensions()
    for number, row in enumerate(sheet.iter_rows(), start=1):
        built.add(number, [_cell(cell) for cell in row])
    return built


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
