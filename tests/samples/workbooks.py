"""Workbooks made on the spot for tests: honest ones, damaged ones, hostile ones."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence
from datetime import date, time
from typing import Any
from xml.sax.saxutils import escape

import openpyxl

ODS_NAMES = (
    'xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" '
    'xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" '
    'xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0" '
    'xmlns:style="urn:oasis:names:tc:opendocument:xmlns:style:1.0" '
    'xmlns:calcext="urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0"'
)


def xlsx(
    rows: Sequence[Sequence[Any]], formats: dict[str, str] | None = None, **others: Sequence[Sequence[Any]]
) -> bytes:
    """Make a workbook of one sheet, with number formats by cell and further sheets by name."""
    book = openpyxl.Workbook()
    sheet = book.active
    for row in rows:
        sheet.append(list(row))
    for cell, shape in (formats or {}).items():
        sheet[cell].number_format = shape
    for title, content in others.items():
        more = book.create_sheet(title)
        for row in content:
            more.append(list(row))
    return saved(book)


def saved(book: Any) -> bytes:
    """Save a workbook into memory."""
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def ods_cell(value: Any) -> str:
    """Write one cell of an OpenDocument sheet; a text that begins with < is taken as it is."""
    if value is None:
        return "<table:table-cell/>"
    if isinstance(value, str) and value.startswith("<"):
        return value
    if isinstance(value, bool):
        return f'<table:table-cell office:value-type="boolean" office:boolean-value="{str(value).lower()}"/>'
    if isinstance(value, int | float):
        return f'<table:table-cell office:value-type="float" office:value="{value}"/>'
    if isinstance(value, date):
        return f'<table:table-cell office:value-type="date" office:date-value="{value.isoformat()}"/>'
    if isinstance(value, time):
        return f'<table:table-cell office:value-type="time" office:time-value="PT{value:%HH%MM%SS}"/>'
    return f'<table:table-cell office:value-type="string"><text:p>{escape(value)}</text:p></table:table-cell>'


def ods_row(cells: Sequence[Any], attributes: str = "") -> str:
    """Write one row of an OpenDocument sheet."""
    return f"<table:table-row{attributes}>{''.join(ods_cell(cell) for cell in cells)}</table:table-row>"


def ods(rows: Sequence[Sequence[Any]], *, more: str = "", before: str = "", styles: str = "") -> bytes:
    """Make an OpenDocument spreadsheet; ``more`` are further rows, ``before`` tables in front, as XML."""
    table = "".join(ods_row(row) for row in rows) + more
    content = (
        f'<?xml version="1.0" encoding="UTF-8"?><office:document-content {ODS_NAMES}>'
        f"<office:automatic-styles>{styles}</office:automatic-styles><office:body><office:spreadsheet>{before}"
        f'<table:table table:name="Plan">{table}</table:table>'
        f"</office:spreadsheet></office:body></office:document-content>"
    )
    return ods_of(content.encode())


def ods_of(content: bytes, **parts: bytes) -> bytes:
    """Pack the content of an OpenDocument spreadsheet, with further parts (their / written as __)."""
    kind = b"application/vnd.oasis.opendocument.spreadsheet"
    return packed(
        {"mimetype": kind, "content.xml": content}
        | {key.replace("__", "/"): data for key, data in parts.items()}
    )


def packed(parts: dict[str, bytes]) -> bytes:
    """Pack parts into an archive."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in parts.items():
            archive.writestr(name, data)
    return out.getvalue()


def repacked(archive: bytes, changed: dict[str, bytes]) -> bytes:
    """Replace or add parts of an archive."""
    with zipfile.ZipFile(io.BytesIO(archive)) as old:
        parts = {part.filename: old.read(part) for part in old.infolist()}
    return packed(parts | changed)


def part(archive: bytes, name: str) -> bytes:
    """Take one part out of an archive."""
    with zipfile.ZipFile(io.BytesIO(archive)) as old:
        return old.read(name)
