"""Going through the rows of an understood sheet, cell by cell, collecting every problem with its place."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time

from storage.files.csv_out import bare_text
from storage.files.headings import Headings
from storage.files.problem import Choices, Phrase, PossibleReading, Problem, excerpt, problem
from storage.files.reading import limits
from storage.files.reading.sheet import Cell, Fault, Sheet, column_letter, filled_rows, shown
from storage.files.timetables.dates import DayRead, options, order_of, read_day

_ANSWERS = frozenset(["answer", "also accepted", "wrong options", "option", "options"])
_CLOCK = re.compile(r"0\d:[0-5]\d(?::[0-5]\d)?")  # how a spreadsheet writes 2:1 into a text file


@dataclass
class Entries:
    """The entries of a sheet below its headings, and every problem found in them so far.

    Attributes
    ----------
    sheet, headings
        The table and how its columns were understood.
    today : date
        For examples in messages and the window of allowed days.
    orders : dict of int to bool or None
        For each column of dates: day first, month first or unknown.
    problems : list of Problem
        In the order found; ``sorted_problems`` gives them in the order of the file.
    choices : mapping
        What the teacher has decided; see ``problem.Choices``.
    years_added : dict of int to list
        For each column: row, reading and text of the days that name no year.
    """

    sheet: Sheet
    headings: Headings
    today: date
    orders: dict[int, bool | None] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    choices: Choices = field(default_factory=dict)
    years_added: dict[int, list[tuple[int, DayRead, str]]] = field(default_factory=dict)
    _doubts: dict[int, list[tuple[int, DayRead, str]]] = field(default_factory=dict)

    def __iter__(self) -> Iterator[SheetRow]:
        for number, cells in filled_rows(self.sheet):
            if number > self.headings.row:
                yield SheetRow(self, number, cells)

    @property
    def count(self) -> int:
        """How many rows hold anything."""
        return sum(1 for number, _cells in filled_rows(self.sheet) if number > self.headings.row)

    def add(self, one: Problem, row: int | None, column: int | None = None) -> None:
        """Remember a problem at its place."""
        heading = excerpt(self.headings.heading(column)) if column is not None else None
        letter = column_letter(column) if column is not None else None
        self.problems.append(replace(one, row=row, column=letter, heading=heading or None))

    def doubt(self, row: int, column: int, read: DayRead, found: str) -> None:
        """Remember a cell that can be two days; the column is asked about once."""
        self._doubts.setdefault(column, []).append((row, read, found))

    def learn_orders(self, columns: tuple[int, ...], day_first: bool | None) -> None:
        """Find out for each column of dates whether the day comes first: chosen, in its heading, or by its rows."""
        for column in columns:
            cells = [entry.cells[column] for entry in self if column < len(entry.cells)]
            reads = [read_day(cell, day_first=None, today=self.today) for cell in cells if cell is not None]
            named = self.headings.orders.get(column)
            known = day_first if day_first is not None else named
            self.orders[column] = known if known is not None else order_of(reads)
            self._warn_of_mixture(column, reads, cells)

    def _warn_of_mixture(self, column: int, reads: list[DayRead], cells: list[Cell]) -> None:
        """Real dates that all have small days, beside texts with large ones: a spreadsheet has exchanged some."""
        real = [read.day for read in reads if not read.typed and read.day]
        large = [
            shown(cell) for cell, read in zip(_filled(cells), reads, strict=True) if read.order is not None
        ]
        if len(real) >= 3 and large and all(day.day <= 12 for day in real):
            self.add(problem("dates_mixed", found=large[0]), None, column)

    def sorted_problems(self) -> tuple[Problem, ...]:
        """Give all problems in the order of the file, the questions about days among them."""
        for column, doubts in self._doubts.items():
            self._ask(column, doubts)
        self._doubts.clear()
        for column, added in self.years_added.items():
            self._note_years(column, added)
        self.years_added.clear()
        return tuple(
            sorted(self.problems, key=lambda one: (one.row or 0, len(one.column or ""), one.column or ""))
        )

    def _note_years(self, column: int, added: list[tuple[int, DayRead, str]]) -> None:
        """Say once for a column which year its days without one were given."""
        row, read, found = added[0]
        assert read.day is not None  # noqa: S101 - only days are noted
        self.add(problem("year_added", found=found, meant=read.day.isoformat(), n=len(added)), row, column)

    def _ask(self, column: int, doubts: list[tuple[int, DayRead, str]]) -> None:
        """Make one question of all doubtful cells of a column."""
        row, read, found = doubts[0]
        both = options(read)
        count = len({number for number, _read, _found in doubts}) - 1
        more = Phrase("rows_more", (("n", count),)) if count else ""
        asked = problem("date_two_ways", found=found, first=both[0].day, second=both[1].day, more=more)
        rows = tuple(sorted({number for number, _read, _found in doubts}))
        self.add(replace(asked, options=both, rows=rows), row, column)


def _filled(cells: list[Cell]) -> list[Cell]:
    return [cell for cell in cells if cell is not None]


@dataclass
class SheetRow:
    """One row of a sheet. Its methods read a field and remember what is wrong with it.

    Attributes
    ----------
    entries : Entries
        The sheet it belongs to.
    number : int
        Row as the spreadsheet shows it.
    cells : tuple of Cell
        All cells of the row.
    failed : bool
        Whether something makes this row unusable.
    """

    entries: Entries
    number: int
    cells: tuple[Cell, ...]
    failed: bool = False

    def columns(self, name: str) -> tuple[int, ...]:
        """Give the columns of a field."""
        return self.entries.headings.columns.get(name, ())

    def cell(self, name: str) -> Cell:
        """Give the cell of a field; None if it is empty or there is no such column."""
        column = next(iter(self.columns(name)), None)
        return self.cells[column] if column is not None and column < len(self.cells) else None

    def fail(self, one: Problem, name: str | None = None) -> None:
        """Remember a problem of this row, at the column of a field if one is named."""
        column = next(iter(self.columns(name)), None) if name else None
        self.failed = self.failed or one.level in ("row", "question")
        self.entries.add(one, self.number, column)

    def text(
        self, name: str, wanted: Phrase | None = None, longest: int = limits.CELL_CHARACTERS
    ) -> str | None:
        """Read a text; with ``wanted`` it may not be empty (``wanted`` says what belongs there).

        A date cell is a problem: the spreadsheet has turned something like 3/4 into a day.
        """
        cell = self.cell(name)
        if cell is None and wanted:
            self.fail(problem("cell_missing", wanted=wanted), name)
        return self._as_text(cell, name, longest)

    def text_at(self, column: int, name: str) -> str | None:
        """Read the text in one of the columns of a field."""
        cell = self.cells[column] if column < len(self.cells) else None
        return self._as_text(cell, name, limits.CELL_CHARACTERS)

    def peek(self, name: str) -> str:
        """Give what stands in a field without remembering any problem; empty if nothing does."""
        return shown(self.cell(name)).strip()

    def texts(self, name: str) -> list[str]:
        """Read a field that several columns may fill, in their order, empty ones left out."""
        cells = [self.cells[column] for column in self.columns(name) if column < len(self.cells)]
        read = [self._as_text(cell, name, limits.CELL_CHARACTERS) for cell in cells]
        return [text for text in read if text]

    def _as_text(self, cell: Cell, name: str, longest: int) -> str | None:
        if cell is None:
            return None
        if isinstance(cell, Fault):
            self.fail(fault_problem(cell), name)
            return None
        if isinstance(cell, date | datetime):
            self.fail(problem("cell_became_date", found=shown(cell)), name)
            return None
        text = bare_text(shown(cell))
        if isinstance(cell, time) or (name in _ANSWERS and _CLOCK.fullmatch(text)):
            return self._ratio(cell, text, name)
        if len(text) > longest:
            self.fail(problem("cell_long", found=text, size=len(text), limit=longest), name)
            return None
        return text

    def _ratio(self, cell: Cell, text: str, name: str) -> str | None:
        """Read a time of day where none is expected: a spreadsheet makes one of 2:1."""
        parts = [int(part) for part in text.split(":")]
        if isinstance(cell, time) and cell.second:
            parts.append(cell.second)
        ratio = ":".join(str(part) for part in parts)
        chosen = self.entries.choices.get("times")
        if chosen is None:
            options = (PossibleReading("times", "ratio"), PossibleReading("times", "time"))
            asked = problem("cell_became_time", found=text, first=ratio)
            self.failed = True
            self.fail(replace(asked, options=options, rows=(self.number,)), name)
            return None
        return ratio if chosen == "ratio" else text

    def day(self, cell: Cell, name: str) -> DayRead | None:
        """Read a cell as a day within the allowed window; None (and a problem) if it is none or doubtful."""
        column = next(iter(self.columns(name)))
        if isinstance(cell, Fault):
            self._as_text(cell, name, limits.CELL_CHARACTERS)
            return None
        read = read_day(cell, day_first=self.entries.orders.get(column), today=self.entries.today)
        if read.other is not None:
            self.failed = True
            self.entries.doubt(self.number, column, read, shown(cell))
            return None
        if read.fault is not None or read.day is None:
            self.fail(read.fault or problem("date_unread", found=shown(cell)), name)
            return None
        far = far_off(read.day, self.entries.today, shown(cell))
        if far is not None:
            self.fail(far, name)
            return None
        if read.year_added:
            self.entries.years_added.setdefault(column, []).append((self.number, read, shown(cell)))
        return read

    def refuse_extra_cells(self) -> None:
        """Refuse a row that is longer than the headings: a separator stands inside a text without quotes."""
        width = self.entries.headings.width
        if len(self.cells) > width:
            self.fail(problem("cells_extra", size=len(self.cells), limit=width))


def fault_problem(cell: Fault) -> Problem:
    """Give the problem of a cell without a usable value."""
    size = {"size": cell.size, "limit": limits.CELL_CHARACTERS} if cell.code == "cell_long" else {}
    return problem(cell.code, found=cell.found, **size)


def far_off(day: date, today: date, found: str) -> Problem | None:
    """Give the problem of a day that lies outside a school year around today, or None."""
    if abs((day - today).days) <= limits.WINDOW_DAYS:
        return None
    return problem("date_far", found=found, meant=day.isoformat(), limit=limits.WINDOW_DAYS)
