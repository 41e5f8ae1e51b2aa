"""Timetables are laid out in many ways; here each becomes a sheet with a column of dates and one of topics.

Only what can be meant in one way is put right; cells keep their rows and columns, so that problems name the place in
the file. What stands in a grid (days across, lessons down) or on its side becomes rows of its own.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta

from storage.files.headings import matches, plain_heading
from storage.files.problem import Choices, PossibleReading, problem
from storage.files.reading.sheet import Cell, FileRefused, Sheet, column_letter, shown, without_tail
from storage.files.timetables.dates import read_day, read_time, split_range
from storage.files.timetables.names import WEEKDAYS, unaccented
from storage.files.timetables.timetable_fields import FIELDS

_SEARCHED_ROWS = 15
_WEEKS = frozenset(
    ["kw", "kalenderwoche", "calendar week", "cw", "week", "week number", "week no", "wk", "woche", "semaine", "semana"]
)  # fmt: skip
_GERMAN_WEEKS = frozenset(["kw", "kalenderwoche", "calendar week", "cw"])
_OF_A_WEEK = frozenset(
    ["commencing", "beginning", "wc", "woche", "wochen", "week", "weeks", "semaine", "semana", "ab"]
)
_OF_LESSONS = frozenset(
    ["unterricht", "lesson", "lessons", "class", "stunde", "stunden", "cours", "clase", "les"]
)
_WEEKDAY_HEADINGS = frozenset(["wochentag", "weekday", "day of week", "day of the week"])
_PERIODS = frozenset(
    ["", "std", "stunde", "stunden", "period", "periods", "lesson", "zeit", "time", "uhrzeit", "block", "hour", "heure"]
)  # fmt: skip
_DITTO = frozenset(
    ['"', "''", "“", "”", "„", "〃", '-"-', '- " -', "ditto", "dito", "idem", "do.", "s.o.", "s. o."]
)

Rows = list[list[Cell]]


def straightened(sheet: Sheet, today: date, name: str, choices: Choices) -> tuple[Sheet, ...]:
    """Lay a timetable out as a list of entries.

    Parameters
    ----------
    sheet : Sheet
        As it was read.
    today : date
        For days without a year.
    name : str
        Name of the file, for messages only.
    choices : mapping
        What the teacher has decided; ``weekday`` where the file gives weeks and no days.

    Returns
    -------
    tuple of Sheet
        Several where tables stand side by side. A sheet that is laid out as usual comes back as it is.

    Raises
    ------
    FileRefused
        If it is a plan of weekdays without dates, or gives weeks only and nothing is decided about them.
    """
    grid = _grid(sheet, today)
    if grid is not None:
        return (grid,)
    if _is_weekly(sheet):
        raise FileRefused(problem("plan_weekly", name=name))
    sheet = _upright(sheet, today)
    return tuple(_settled(part, today, name, choices) for part in _side_by_side(sheet))


def _settled(sheet: Sheet, today: date, name: str, choices: Choices) -> Sheet:
    for step in (
        _without_ditto,
        _weeks_and_weekdays,
        _one_date_column,
        _one_topic_column,
        _moments_as_dates,
    ):
        sheet = _step(sheet, step, today)
    return _weeks_as_days(_with_unnamed_dates(sheet, today), today, name, choices)


def _step(sheet: Sheet, step: Callable[[Rows, int, date], None], today: date) -> Sheet:
    rows = [list(row) for row in sheet.rows]
    step(rows, _heading_row(sheet), today)
    return replace(sheet, rows=tuple(without_tail(row) for row in rows))


def _heading_row(sheet: Sheet) -> int:
    """Return the place of the row that looks most like headings."""
    rows = sheet.rows[:_SEARCHED_ROWS]
    return max(range(len(rows)), key=lambda place: (len(matches(rows[place], FIELDS)), -place), default=0)


def _columns(rows: Rows, heading: int) -> dict[str, tuple[int, ...]]:
    return matches(rows[heading], FIELDS) if heading < len(rows) else {}


def _cell(row: Sequence[Cell], column: int) -> Cell:
    return row[column] if column < len(row) else None


def _below(rows: Rows, heading: int, column: int) -> list[Cell]:
    """Return what stands in a column below its heading."""
    cells = (_cell(row, column) for row in rows[heading + 1 :])
    return [cell for cell in cells if cell is not None]


def _weekday(cell: Cell) -> str | None:
    """Return a cell that is a weekday's name and nothing else."""
    if not isinstance(cell, str):
        return None
    word = cell.strip().rstrip(".,")
    return word if unaccented(word) in WEEKDAYS else None


def _is_day(cell: Cell, today: date) -> bool:
    if isinstance(cell, date):
        return True
    if not isinstance(cell, str) or not any(sign.isdigit() for sign in cell):
        return False
    read = read_day(cell, day_first=None, today=today)
    return read.day is not None


def _put(row: list[Cell], column: int, cell: Cell) -> None:
    row.extend([None] * (column + 1 - len(row)))
    row[column] = cell


def _clear(rows: Rows, heading: int, column: int) -> None:
    """Take a column out, heading and all: what it says is said by another."""
    for row in rows[heading:]:
        if column < len(row):
            row[column] = None


# ---------------------------------------------------------------- columns that are settled by what stands in them


def _without_ditto(rows: Rows, heading: int, _today: date) -> None:
    """Write what stands above in place of a sign that means it."""
    for columns in _columns(rows, heading).values():
        for column in columns:
            for above, row in zip(rows[heading + 1 :], rows[heading + 2 :], strict=False):
                cell = _cell(row, column)
                if (
                    isinstance(cell, str)
                    and cell.strip().casefold() in _DITTO
                    and _cell(above, column) is not None
                ):
                    _put(row, column, _cell(above, column))


def _weeks_and_weekdays(rows: Rows, heading: int, _today: date) -> None:
    """Join a column of weeks and one of weekdays to dates: 49 and Tue."""
    if heading >= len(rows):
        return
    plain = [plain_heading(shown(cell)) for cell in rows[heading]]
    weeks = [place for place, word in enumerate(plain) if word in _WEEKS]
    known = _columns(rows, heading).get("date", ())
    days = [
        place
        for place, word in enumerate(plain)
        if (place in known or word in _WEEKDAY_HEADINGS)
        and (cells := _below(rows, heading, place))
        and all(_weekday(cell) for cell in cells)
    ]
    if len(weeks) != 1 or len(days) != 1 or len(known) > 1:
        return
    word = "KW" if plain[weeks[0]] in _GERMAN_WEEKS else "week"
    week = ""
    for row in rows[heading + 1 :]:
        written = shown(_cell(row, weeks[0])).strip()
        week = written or week
        digits = "".join(sign for sign in week if sign.isdigit())
        if _weekday(_cell(row, days[0])) and digits:
            word = "KW" if "kw" in week.casefold() else word
            _put(row, days[0], f"{word} {digits}, {_weekday(_cell(row, days[0]))}")
    if days[0] not in known:
        _put(rows[heading], days[0], f"Date ({shown(rows[heading][days[0]])})")
    _clear(rows, heading, weeks[0])


def _one_date_column(rows: Rows, heading: int, _today: date) -> None:
    """Where one column has the date and another its weekday: put both together, so that one confirms the other."""
    columns = _columns(rows, heading).get("date", ())
    named = [column for column in columns if all(map(_weekday, _below(rows, heading, column)))]
    if len(columns) != 2 or len(named) != 1:
        return
    (date_column,) = (column for column in columns if column not in named)
    for row in rows[heading + 1 :]:
        weekday, cell = _weekday(_cell(row, named[0])), _cell(row, date_column)
        if weekday and isinstance(cell, date):
            _put(row, date_column, f"{weekday} {cell:%Y-%m-%d}")
        elif weekday and isinstance(cell, str) and cell[:1].isdigit():
            _put(row, date_column, f"{weekday} {cell}")
    _clear(rows, heading, named[0])


def _one_topic_column(rows: Rows, heading: int, _today: date) -> None:
    """Where a column has the subject, the same in every row, and another the topic: the topic is meant."""
    columns = _columns(rows, heading).get("topic", ())
    said = {
        column: {shown(cell).strip().casefold() for cell in _below(rows, heading, column)}
        for column in columns
    }
    same = [column for column in columns if len(said[column]) <= 1 < len(_below(rows, heading, column))]
    if len(columns) - len(same) == 1 and same:
        for column in same:
            _clear(rows, heading, column)


def _moments_as_dates(rows: Rows, heading: int, today: date) -> None:
    """Where there is no date, but a start with day and time: take it for both."""
    columns = _columns(rows, heading)
    start = columns.get("start", ())
    if "date" in columns or len(start) != 1:
        return
    cells = _below(rows, heading, start[0])
    if cells and all(_is_day(cell, today) for cell in cells):
        _put(rows[heading], start[0], f"Date ({shown(rows[heading][start[0]])})")


def _with_unnamed_dates(sheet: Sheet, today: date) -> Sheet:
    """Where no heading means the date, but one column has nothing else: take it, and say so.

    Nothing is said where the heading is empty or speaks of lessons or weeks: a column of due dates looks the same.
    """
    rows, heading = [list(row) for row in sheet.rows], _heading_row(sheet)
    columns = _columns(rows, heading)
    if "date" in columns or "topic" not in columns:
        return sheet
    used = {column for found in columns.values() for column in found}
    dated = [
        column
        for column in range(max(map(len, rows)))
        if column not in used
        and len(cells := _below(rows, heading, column)) > 1
        and all(_is_day(cell, today) or _starts_range(cell) for cell in cells)
    ]
    if len(dated) != 1:
        return sheet
    written = shown(_cell(rows[heading], dated[0]))
    _put(rows[heading], dated[0], f"Date ({written})")
    sure = not written or set(plain_heading(written).split()) & (_OF_A_WEEK | _OF_LESSONS)
    note = replace(problem("date_assumed", found=written), row=heading + 1, column=column_letter(dated[0]))
    notes = sheet.notes if sure else (*sheet.notes, note)
    return replace(sheet, rows=tuple(without_tail(row) for row in rows), notes=notes)


def _starts_range(cell: Cell) -> bool:
    return isinstance(cell, str) and split_range(cell) is not None


def _weeks_as_days(sheet: Sheet, today: date, name: str, choices: Choices) -> Sheet:
    """Where the dates are those of weeks: ask on which weekday the lesson is, and take that day of each."""
    rows, heading = [list(row) for row in sheet.rows], _heading_row(sheet)
    columns = _columns(rows, heading).get("date", ())
    if len(columns) != 1:
        return sheet
    words = set(plain_heading(shown(rows[heading][columns[0]]).replace("(", "").replace(")", "")).split())
    cells = _below(rows, heading, columns[0])
    ranges = [cell for cell in cells if _starts_range(cell)]
    if not (words & _OF_A_WEEK and not any(map(_says_weekday, cells))) and not (
        cells and len(ranges) == len(cells)
    ):
        return sheet
    firsts = [_first_day(cell, today) for cell in cells]
    if not all(firsts):
        return sheet
    if choices.get("weekday") not in ("0", "1", "2", "3", "4"):
        asked = problem("weeks_only", name=name, found=shown(cells[0]))
        options = tuple(PossibleReading("weekday", str(number)) for number in range(5))
        raise FileRefused(replace(asked, options=options))
    weekday = int(choices["weekday"])
    for row in rows[heading + 1 :]:
        first = _first_day(_cell(row, columns[0]), today)
        if first is not None:
            _put(row, columns[0], first - timedelta(days=first.weekday()) + timedelta(days=weekday))
    return replace(sheet, rows=tuple(map(tuple, rows)))


def _says_weekday(cell: Cell) -> bool:
    return isinstance(cell, str) and any(_weekday(word) for word in cell.replace(",", " ").split())


def _first_day(cell: Cell, today: date) -> date | None:
    if isinstance(cell, datetime):
        return cell.date()
    if isinstance(cell, date):
        return cell
    parts = split_range(cell) if isinstance(cell, str) else None
    text = parts[0] if parts else cell
    return read_day(text, day_first=None, today=today).day if isinstance(text, str) else None


# ---------------------------------------------------------------- tables side by side, on their side, and grids


def _side_by_side(sheet: Sheet) -> Iterator[Sheet]:
    """Give each of the tables that stand side by side under the same headings, in its place."""
    heading = _heading_row(sheet)
    columns = matches(sheet.rows[heading], FIELDS) if sheet.rows else {}
    dates, topics = columns.get("date", ()), columns.get("topic", ())
    pairs = list(zip(dates, topics, strict=False))
    starts = [min(pair) for pair in pairs]
    apart = all(max(pair) < start for pair, start in zip(pairs, starts[1:], strict=False))
    words = [plain_heading(shown(cell)) for cell in sheet.rows[heading]] if sheet.rows else []
    repeated = len({(words[one], words[other]) for one, other in pairs}) == 1
    if len(dates) < 2 or len(dates) != len(topics) or not apart or not repeated:
        yield sheet
        return
    ends = [*starts[1:], max(map(len, sheet.rows))]
    for start, end in zip(starts, ends, strict=True):
        rows = tuple(
            row
            if place < heading
            else without_tail([cell if start <= at < end else None for at, cell in enumerate(row)])
            for place, row in enumerate(sheet.rows)
        )
        yield replace(sheet, rows=rows, notes=sheet.notes if start == starts[0] else ())


def _upright(sheet: Sheet, today: date) -> Sheet:
    """Turn a table whose headings stand in its first column."""
    first = [_cell(row, 0) for row in sheet.rows]
    in_column = matches(first, FIELDS)
    in_row = max((len(matches(row, FIELDS)) for row in sheet.rows[:_SEARCHED_ROWS]), default=0)
    dated = [
        place
        for place, row in enumerate(sheet.rows)
        if len(row) > 2 and all(_is_day(cell, today) for cell in row[1:] if cell is not None)
    ]
    if "topic" not in in_column or len(dated) != 1 or in_row > len(in_column):
        return sheet
    width = max(map(len, sheet.rows))
    turned: Rows = [[_cell(row, column) for row in sheet.rows] for column in range(width)]
    if "date" not in in_column:
        _put(turned[0], dated[0], f"Date ({shown(turned[0][dated[0]])})")
    rows = tuple(without_tail(row) for row in turned)
    return replace(sheet, rows=rows, notes=(*sheet.notes, problem("table_turned")))


def _grid(sheet: Sheet, today: date) -> Sheet | None:
    """Make entries of a grid with days as headings and periods or times in its first column; None for no grid."""
    for place, row in enumerate(sheet.rows[:_SEARCHED_ROWS]):
        days = [column for column, cell in enumerate(row) if column and _is_day(cell, today)]
        named = plain_heading(shown(_cell(row, 0))).split(" ")[0] in _PERIODS
        rest = [cell for column, cell in enumerate(row) if column and cell is not None]
        if len(days) < 2 or len(days) != len(rest) or not named:
            continue
        below = sheet.rows[place + 1 :]
        if not any(_is_period(_cell(line, 0)) for line in below):
            return None
        entries: Rows = [["date", "start", "topic"]]
        for column in days:
            for line in below:
                if (topic := _cell(line, column)) is not None:
                    entries.append([row[column], _time_in(_cell(line, 0)), topic])
        return replace(sheet, rows=tuple(map(tuple, entries)), notes=(*sheet.notes, problem("table_grid")))
    return None


def _is_weekly(sheet: Sheet) -> bool:
    """Whether the headings are weekdays and no dates: what is taught each week, not when which topic is."""
    heading = _heading_row(sheet)
    if sheet.rows and {"date", "topic"} <= matches(sheet.rows[heading], FIELDS).keys():
        return False
    return any(sum(_weekday(cell) is not None for cell in row) > 2 for row in sheet.rows[:_SEARCHED_ROWS])


def _is_period(cell: Cell) -> bool:
    return isinstance(cell, int) or (isinstance(cell, str) and any(sign.isdigit() for sign in cell))


def _time_in(cell: Cell) -> Cell:
    """Return the time of day that a period names, if it names one: ``1 (08:00)``."""
    if not isinstance(cell, str):
        return cell if read_time(cell) is not None else None
    inner = cell.split("(", 1)[-1].rstrip(") ")
    return inner if read_time(inner) is not None else None
