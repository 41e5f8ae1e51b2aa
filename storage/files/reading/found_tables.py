"""Documents hold several tables, and text around them: which of it is the sheet that was meant."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from storage.files.folding import fold
from storage.files.problem import problem
from storage.files.reading.sheet import Cell, FileRefused, Sheet, SheetBuilder, shown, text_cell, without_tail
from storage.files.values import FileKind


@dataclass
class FoundTable:
    """A table of a document.

    Attributes
    ----------
    rows : list of list of Cell
        Ragged rows of cells.
    goes_on : bool
        Whether it stands where the table before it may go on: at the top of the next page.
    """

    rows: list[list[Cell]] = field(default_factory=list)
    goes_on: bool = False

    @property
    def filled(self) -> int:
        """How many cells hold anything."""
        return sum(1 for row in self.rows for cell in row if cell is not None)

    @property
    def width(self) -> int:
        """How many columns hold anything."""
        return max((len(without_tail(row)) for row in self.rows), default=0)

    @property
    def heading(self) -> tuple[str, ...]:
        """The first row, as it is compared."""
        return tuple(fold(shown(cell)) for cell in without_tail(self.rows[0])) if self.rows else ()


def one_sheet(kind: FileKind, tables: Sequence[FoundTable], lines: Sequence[str], name: str) -> Sheet:
    """Make the one sheet of what a document holds.

    Tables with the same first row are one table, and so is one that goes on over pages. Of several the largest is
    taken, and it is said that there are more, or much text beside it. Without a table each line of text is a row.

    Parameters
    ----------
    kind : str
        Which kind of file it is.
    tables : sequence of FoundTable
        In the order of the document.
    lines : sequence of str
        Its text outside of tables, in order.
    name : str
        Name of the file, for messages only.

    Returns
    -------
    Sheet
        Rows are numbered within the table, the first is 1; without one, within the lines.

    Raises
    ------
    FileRefused
        If nothing is there, or a limit is passed.
    """
    joined = _joined([one for one in tables if one.filled])
    if not joined:
        rows = [_cells(line) for line in lines]
        if not any(rows):
            raise FileRefused(problem("file_empty", name=name))
        return Sheet(kind, _built(rows, name))
    main = max(joined, key=lambda one: one.filled)
    found = next((shown(cell) for row in main.rows for cell in row if cell is not None), "")
    # What has one column beside a table of several is layout: a frame around a title or a signature.
    more = sum(one is not main and (one.width > 1 or main.width == 1) for one in joined)
    notes = [problem("tables_more", found=found, size=more)] if more else []
    beside = sum(bool(line.strip()) for line in lines)
    if beside > len(main.rows):  # more than a title and a remark
        notes.append(problem("text_beside", size=beside))
    return Sheet(kind, _built(main.rows, name), tuple(notes))


def _joined(tables: Sequence[FoundTable]) -> list[FoundTable]:
    joined: list[FoundTable] = []
    for one in tables:
        last = joined[-1] if joined else None
        if last is not None and one.heading == last.heading and len(one.rows) > 1:
            last.rows += one.rows[1:]
        elif last is not None and one.goes_on and one.width == last.width:
            last.rows += one.rows
        else:
            joined.append(FoundTable(list(one.rows), one.goes_on))
    return joined


def _cells(line: str) -> list[Cell]:
    """Cut a line of text at its tabs."""
    return [text_cell(part) for part in line.split("\t")]


def _built(rows: Sequence[Sequence[Cell]], name: str) -> tuple[tuple[Cell, ...], ...]:
    built = SheetBuilder(name)
    for number, row in enumerate(rows, start=1):
        built.add(number, row)
    return tuple(built.rows)


def spread(cells: Sequence[tuple[Cell, int, int]], above: dict[int, tuple[Cell, int]]) -> list[Cell]:
    """Put the cells of a row into their columns, where some reach over several rows or columns.

    Parameters
    ----------
    cells : sequence of (Cell, int, int)
        What each holds, and how many columns and rows it spans.
    above : dict of int to (Cell, int)
        For columns that a cell from above reaches into: what it holds, and for how many rows more. Is changed.

    Returns
    -------
    list of Cell
        A cell that spans rows stands in each of them: what is merged is meant for all. One that spans columns stands
        in the first of them only.
    """
    row: list[Cell] = []

    def take_above() -> None:
        while len(row) in above:
            held, left = above.pop(len(row))
            if left > 1:
                above[len(row)] = held, left - 1
            row.append(held)

    for cell, columns, rows in cells:
        take_above()
        for place in range(columns):
            held = cell if place == 0 else None
            if rows > 1:
                above[len(row)] = held, rows - 1
            row.append(held)
    take_above()
    return row
