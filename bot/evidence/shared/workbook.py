"""Writing workbooks: real types, frozen headings, a note on every heading, a sheet that explains.

Text is written as text whatever it begins with, so that no name or topic can become a formula or a link.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from io import BytesIO
from typing import Any

import xlsxwriter

from bot.evidence.shared.tables import Column, Table, Value
from bot.words import Words

MEDIA_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"

CELL_LIMIT = 32_767
"""Most characters of a cell that spreadsheet programs accept."""

_FORMATS = {
    "text": "@",
    "count": "0",
    "number": "0.00",
    "share": "0 %",
    "date": "yyyy-mm-dd",
    "moment": "yyyy-mm-dd hh:mm",
    "hours": "0.0",
}


def workbook(
    tables: Sequence[Table], words: Words, *, title: str, explained: Sequence[str], created: datetime
) -> bytes:
    """Return an XLSX workbook with one sheet per table and a last one that explains them.

    Parameters
    ----------
    title : str
        Stands in the document's properties and on the last sheet.
    explained : sequence of str
        Paragraphs of the last sheet.
    created : datetime
        The moment of the report; nothing else in the file depends on when it is written.
    """
    buffer = BytesIO()
    options = {
        "in_memory": True,
        "strings_to_formulas": False,
        "strings_to_urls": False,
        "strings_to_numbers": False,
        "remove_timezone": True,
        "nan_inf_to_errors": False,
    }
    book = xlsxwriter.Workbook(buffer, options)
    book.set_properties({"title": title, "author": "Holdfast", "created": created})
    book.set_size(2400, 1600)
    formats = _formats(book)
    for table in tables:
        _sheet(book, table, words, formats)
    _explanation(book, tables, words, title, explained, formats)
    book.close()
    return buffer.getvalue()


def _formats(book: Any) -> dict[str, Any]:
    made = {kind: book.add_format({"num_format": code, "valign": "top"}) for kind, code in _FORMATS.items()}
    made["text"].set_indent(1)
    heading = {"bold": True, "text_wrap": True, "valign": "top", "bottom": 1, "bg_color": "#EDEDED"}
    made["heading text"] = book.add_format({**heading, "indent": 1})
    made["heading number"] = book.add_format({**heading, "align": "right"})
    made["title"] = book.add_format({"bold": True, "font_size": 14})
    made["wrapped"] = book.add_format({"text_wrap": True, "valign": "top"})
    made["strong"] = book.add_format({"bold": True, "valign": "top"})
    # Bold and framed as well as coloured: it has to stand out in grey too.
    made["low"] = book.add_format({"bold": True, "bg_color": "#FBE3D6", "font_color": "#7A3300", "border": 1})
    return made


def _sheet(book: Any, table: Table, words: Words, formats: dict[str, Any]) -> None:
    sheet = book.add_worksheet(_sheet_name(table.title(words)))
    for place, column in enumerate(table.columns):
        _heading(sheet, place, column, words, formats)
    for number, row in enumerate(table.rows, start=1):
        for place, (column, value) in enumerate(zip(table.columns, row, strict=True)):
            _cell(sheet, number, place, column, value, formats)
    last = max(len(table.rows), 1)
    for place, column in enumerate(table.columns):
        if column.low_below is not None:
            _mark_low(sheet, place, last, column.low_below, formats)
    sheet.set_row(0, 48)
    sheet.freeze_panes(1, table.frozen_columns)
    sheet.autofilter(0, 0, last, len(table.columns) - 1)
    sheet.set_landscape()
    sheet.set_paper(9)
    sheet.fit_to_pages(1, 0)
    sheet.repeat_rows(0)


def _sheet_name(title: str) -> str:
    r"""Return a name that every spreadsheet program takes: at most 31 characters, none of ``[]:*?/\``."""
    kept = "".join(" " if char in "[]:*?/\\" else char for char in title).strip("' ")
    return kept[:31] or "Sheet"


def _heading(sheet: Any, place: int, column: Column, words: Words, formats: dict[str, Any]) -> None:
    sheet.set_column(place, place, column.width)
    sheet.write_string(0, place, column.heading(words), formats[_heading_style(column)])
    sheet.write_comment(0, place, column.note(words), {"x_scale": 2, "y_scale": 1.2, "author": "Holdfast"})


def _heading_style(column: Column) -> str:
    """Set headings over their values: text to the left, numbers to the right."""
    return "heading text" if column.kind == "text" else "heading number"


def _cell(sheet: Any, number: int, place: int, column: Column, value: Value, formats: dict[str, Any]) -> None:
    style = formats[column.kind]
    if value is None or value == "":
        sheet.write_blank(number, place, None, style)
    elif isinstance(value, str):
        sheet.write_string(number, place, value[:CELL_LIMIT], style)
    elif isinstance(value, datetime | date):
        sheet.write_datetime(number, place, value, style)
    elif value != value:
        sheet.write_blank(number, place, None, style)
    else:
        sheet.write_number(number, place, value, style)


def _mark_low(sheet: Any, place: int, last: int, below: float, formats: dict[str, Any]) -> None:
    first = xlsxwriter.utility.xl_rowcol_to_cell(1, place)
    criteria = f"=AND(ISNUMBER({first}),{first}<{below})"
    sheet.conditional_format(
        1, place, last, place, {"type": "formula", "criteria": criteria, "format": formats["low"]}
    )


def _explanation(
    book: Any,
    tables: Sequence[Table],
    words: Words,
    title: str,
    explained: Sequence[str],
    formats: dict[str, Any],
) -> None:
    sheet = book.add_worksheet(_sheet_name(words.text("table.readme")))
    sheet.set_column(0, 0, 26)
    sheet.set_column(1, 1, 90)
    sheet.write_string(0, 0, title, formats["title"])
    number = 2
    for paragraph in explained:
        sheet.merge_range(number, 0, number, 1, "", formats["wrapped"])
        sheet.write_string(number, 0, paragraph, formats["wrapped"])
        sheet.set_row(number, 15 * (1 + len(paragraph) // 105))
        number += 1
    for table in tables:
        number += 1
        sheet.write_string(number, 0, table.title(words), formats["strong"])
        number += 1
        for heading, note in _explained_columns(table, words):
            sheet.write_string(number, 0, heading, formats["wrapped"])
            sheet.write_string(number, 1, note, formats["wrapped"])
            number += 1
    sheet.set_portrait()
    sheet.set_paper(9)
    sheet.fit_to_pages(1, 0)


def _explained_columns(table: Table, words: Words) -> list[tuple[str, str]]:
    """Return heading and note once per kind of column: thirty topics share one line."""
    found: dict[str, tuple[str, str]] = {}
    for column in table.columns:
        heading = words.text(f"column.{column.key}") if column.name else column.heading(words)
        found.setdefault(column.key, (heading, column.note(words)))
    return list(found.values())
