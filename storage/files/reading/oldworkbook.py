"""Workbooks of the old binary kind (.xls), as values only. Imported only by the limited child process."""

from __future__ import annotations

import sys
from dataclasses import replace
from typing import Any

import xlrd
from xlrd.xldate import xldate_as_datetime

from storage.files.problem import Phrase, Problem, problem
from storage.files.reading import limits
from storage.files.reading.sheet import Cell, Fault, FileRefused, Sheet, SheetBuilder, moment_cell, text_cell


def read_old_workbook(data: bytes, name: str) -> Sheet:
    """Read the first visible sheet of an old workbook that holds anything.

    Parameters
    ----------
    data : bytes
        The file.
    name : str
        Its name, for messages only.

    Raises
    ------
    FileRefused
        If it is no workbook, locked, passes a limit or holds nothing.
    """
    try:
        # Its remarks would stand in the child's answer, which goes to stdout.
        book = xlrd.open_workbook(
            file_contents=data, formatting_info=True, on_demand=True, logfile=sys.stderr
        )
    except xlrd.XLRDError as error:
        locked = "encrypted" in str(error).lower()
        found = (
            problem("file_locked", name=name)
            if locked
            else problem("file_kind", name=name, kind=Phrase("kind.old"))
        )
        raise FileRefused(found) from None
    sheets = [book.sheet_by_index(place) for place in range(min(book.nsheets, limits.ARCHIVE_MEMBERS))]
    filled = [one for one in sheets if _holds_anything(one)]
    seen = [one for one in filled if one.visibility == 0]
    if not seen:
        raise FileRefused(problem("file_empty", name=name))
    chosen, notes = seen[0], list[Problem]()
    if len(seen) > 1:
        notes.append(problem("sheets_more", found=chosen.name, size=len(seen) - 1))
    if len(filled) > len(seen):
        notes.append(problem("sheets_hidden", name=name, size=len(filled) - len(seen)))
    built = SheetBuilder(name)
    for number in range(chosen.nrows):
        built.add(number + 1, [_cell(book, one) for one in chosen.row(number)])
    sheet = Sheet("xls", tuple(built.rows), tuple(notes))
    rows = [number + 1 for number, look in chosen.rowinfo_map.items() if look.hidden]
    columns = [number for number, look in chosen.colinfo_map.items() if look.hidden]
    hidden_rows, hidden_columns = sheet.filled(rows, columns)
    return replace(sheet, hidden_rows=hidden_rows, hidden_columns=hidden_columns)


def _holds_anything(sheet: Any) -> bool:
    return any(
        kind not in (xlrd.XL_CELL_EMPTY, xlrd.XL_CELL_BLANK)
        for row in range(sheet.nrows)
        for kind in sheet.row_types(row)
    )


def _cell(book: Any, cell: Any) -> Cell:
    match cell.ctype:
        case xlrd.XL_CELL_TEXT:
            return text_cell(cell.value)
        case xlrd.XL_CELL_NUMBER:
            return _number(book, cell)
        case xlrd.XL_CELL_DATE:
            return _moment(cell.value, book.datemode)
        case xlrd.XL_CELL_BOOLEAN:
            return bool(cell.value)
        case xlrd.XL_CELL_ERROR:
            return Fault("cell_error", xlrd.error_text_from_code.get(cell.value, "#?"))
    return None


def _number(book: Any, cell: Any) -> Cell:
    value = float(cell.value)
    form = book.format_map[book.xf_list[cell.xf_index].format_key].format_str
    if form.rstrip().endswith("%"):
        return f"{value * 100:.12g} %"
    return int(value) if value.is_integer() and abs(value) < 1e15 else value


def _moment(value: float, datemode: int) -> Cell:
    try:
        moment = xldate_as_datetime(value, datemode)
    except (ValueError, OverflowError):
        return Fault("cell_error", f"{value:g}")
    return moment_cell(moment.time() if 0 <= value < 1 else moment)
