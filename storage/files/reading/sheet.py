"""A sheet as it came out of any file: rows of typed cells, numbered as the spreadsheet numbers them."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta

from storage.files.problem import Problem, problem
from storage.files.reading import limits
from storage.files.values import FileKind


class FileRefused(Exception):
    """The file as a whole cannot be used; ``problem`` says why.

    Only the readers see it: they turn it into a ``Reading`` with that one problem.
    """

    def __init__(self, what: Problem) -> None:
        super().__init__(what.code)
        self.problem = what


@dataclass(frozen=True)
class Fault:
    """A cell without a usable value: ``code`` as in ``words.WORDS``, ``found`` as it is shown."""

    code: str
    found: str
    size: int = 0


Cell = str | bool | int | float | date | datetime | time | Fault | None
Plain = str | bool | int | float | list[str] | None


@dataclass(frozen=True)
class Sheet:
    """Rows of cells; ``rows[0]`` is what the spreadsheet calls row 1.

    Attributes
    ----------
    kind : {'csv', 'xlsx', 'ods'}
        Where it came from.
    rows : tuple of tuple of Cell
        Ragged: a row ends with its last cell that is not empty.
    notes : tuple of Problem
        What the teacher should know about how the file was read.
    hidden_rows, hidden_columns : tuple of int
        What holds something and does not show in the spreadsheet (hidden or filtered out): rows as numbered
        there, columns counted from 0.
    """

    kind: FileKind
    rows: tuple[tuple[Cell, ...], ...]
    notes: tuple[Problem, ...] = ()
    hidden_rows: tuple[int, ...] = ()
    hidden_columns: tuple[int, ...] = ()

    def filled(self, rows: Iterable[int], columns: Iterable[int]) -> tuple[tuple[int, ...], tuple[int, ...]]:
        """Of some rows (from 1) and columns (from 0), give those that hold something."""
        held_rows = {number for number, row in enumerate(self.rows, start=1) if row}
        held_columns = {place for row in self.rows for place, cell in enumerate(row) if cell is not None}
        return tuple(sorted(held_rows & set(rows))), tuple(sorted(held_columns & set(columns)))

    def without_hidden(self) -> Sheet:
        """Leave out what does not show; the other rows keep their numbers."""
        rows = tuple(
            ()
            if number in self.hidden_rows
            else without_tail(
                [None if place in self.hidden_columns else cell for place, cell in enumerate(row)]
            )
            for number, row in enumerate(self.rows, start=1)
        )
        return Sheet(self.kind, rows, self.notes)


@dataclass
class SheetBuilder:
    """Collects rows under the limits; blank rows cost nothing until something stands below them."""

    name: str
    rows: list[tuple[Cell, ...]] = field(default_factory=list)
    characters: int = 0

    def add(self, number: int, cells: Sequence[Cell]) -> None:
        """Put a row at its number (1 for the first); blank rows are skipped.

        Raises
        ------
        FileRefused
            If the row lies beyond the last allowed row or column, or the text in all becomes too much.
        """
        row = without_tail(cells)
        if not row:
            return
        if number > limits.ROWS + 1:
            raise FileRefused(problem("rows_many", name=self.name, limit=limits.ROWS))
        if len(row) > limits.COLUMNS:
            raise FileRefused(
                problem("columns_many", name=self.name, limit=column_letter(limits.COLUMNS - 1))
            )
        self.characters += sum(len(cell) for cell in row if isinstance(cell, str))
        if self.characters > limits.TEXT_CHARACTERS:
            raise FileRefused(problem("text_much", name=self.name, limit=limits.TEXT_CHARACTERS))
        self.rows.extend(() for _ in range(number - 1 - len(self.rows)))
        self.rows.append(row)


def without_tail(cells: Sequence[Cell]) -> tuple[Cell, ...]:
    """Cut the empty cells at the end of a row."""
    last = len(cells)
    while last and cells[last - 1] is None:
        last -= 1
    return tuple(cells[:last])


def text_cell(text: str) -> str | Fault | None:
    r"""Tidy a text of a file: outer blanks and invisible marks go; what cannot be shown is a fault.

    Examples
    --------
    >>> text_cell(" Hooke\u2019s law\u200b ")
    'Hooke’s law'
    >>> text_cell("   ") is None
    True
    >>> text_cell("a\x01b")
    Fault(code='cell_control', found='a b', size=0)
    """
    plain = text.isascii() and text.isprintable()  # most cells: nothing to look for, and ten times faster
    shown = (
        text.strip()
        if plain
        else "".join(char for char in text if unicodedata.category(char) != "Cf").strip()
    )
    if not shown:
        return None
    if len(shown) > limits.CELL_CHARACTERS:
        return Fault("cell_long", shown[:60], len(shown))
    if not plain and any(_hidden(char) for char in shown):
        return Fault("cell_control", "".join(" " if _hidden(char) else char for char in shown)[:60])
    return shown


def _hidden(char: str) -> bool:
    """Whether a character is a control character (line breaks and tabs apart) or stands for a lost one."""
    return char not in "\n\r\t" and (unicodedata.category(char) in ("Cc", "Cs", "Cn") or char == "\ufffd")


def shown(cell: Cell) -> str:
    """Write a cell as a person would: numbers without noise in the last digits, dates in ISO form.

    Examples
    --------
    >>> shown(3.0), shown(0.1 + 0.2), shown(True)
    ('3', '0.3', 'true')
    """
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "true" if cell else "false"
    if isinstance(cell, float):
        return f"{cell:.15g}"
    if isinstance(cell, datetime):
        return f"{cell:%Y-%m-%d %H:%M}"
    if isinstance(cell, time):
        return f"{cell:%H:%M}"
    if isinstance(cell, Fault):
        return cell.found
    return str(cell)


def column_letter(index: int) -> str:
    """Letter of a column counted from 0.

    Examples
    --------
    >>> column_letter(0), column_letter(25), column_letter(26), column_letter(39)
    ('A', 'Z', 'AA', 'AN')
    """
    letters = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def moment_cell(value: datetime | date | time | timedelta) -> Cell:
    """Reduce a moment from a workbook to what was meant: midnight is a day, a duration under a day is a time.

    Workbooks keep times as fractions of a day, so they are off by microseconds: rounded to the minute's
    second.
    """
    if isinstance(value, timedelta):
        seconds = round(value.total_seconds())
        if not 0 <= seconds < 86400:
            return Fault("cell_error", str(value)[:60])
        return time(seconds // 3600, seconds // 60 % 60, seconds % 60)
    if isinstance(value, datetime):
        value = (value.replace(tzinfo=None) + timedelta(microseconds=500_000)).replace(microsecond=0)
        return value.date() if value.time() == time(0) else value
    if isinstance(value, time):
        whole = datetime.combine(date(2000, 1, 1), value) + timedelta(microseconds=500_000)
        return whole.time().replace(microsecond=0, tzinfo=None)
    return value


def to_plain(cell: Cell) -> Plain:
    """Turn a cell into something JSON can carry; ``from_plain`` is its inverse.

    Examples
    --------
    >>> from_plain(to_plain(date(2026, 11, 25)))
    datetime.date(2026, 11, 25)
    """
    if isinstance(cell, Fault):
        return ["fault", cell.code, cell.found, str(cell.size)]
    if isinstance(cell, datetime):
        return ["moment", cell.isoformat()]
    if isinstance(cell, date):
        return ["day", cell.isoformat()]
    if isinstance(cell, time):
        return ["time", cell.isoformat()]
    return cell


def from_plain(value: Plain) -> Cell:
    """Turn what ``to_plain`` gave back into a cell."""
    if not isinstance(value, list):
        return value
    kind, first, *more = value
    if kind == "fault":
        return Fault(first, more[0], int(more[1]))
    if kind == "moment":
        return datetime.fromisoformat(first)
    return date.fromisoformat(first) if kind == "day" else time.fromisoformat(first)


def filled_rows(sheet: Sheet) -> Iterator[tuple[int, tuple[Cell, ...]]]:
    """Give every row with something in it, with its number."""
    for number, row in enumerate(sheet.rows, start=1):
        if any(cell is not None for cell in row):
            yield number, row
