"""Timetable files: lessons, quizzes and holidays from a sheet or a calendar.

A sheet has one row per entry: its kind (a lesson if nothing is said), the topic (or the name of the quiz or
holiday), the date, and optionally times, homework, the last day of a holiday and the topics of a quiz. A calendar
has one event per entry; its title says what it is ("Quiz: Forces", "Holiday: half-term", otherwise the topic of a
lesson), and lines such as "Homework: page 12" or "Topics: Forces; Springs" in its description say the rest.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from datetime import date, time
from zoneinfo import ZoneInfo

from storage.files.folding import fold
from storage.files.headings import Headings, did_you_mean, plain_heading, understand
from storage.files.problem import DAY_FIRST, UNDECIDED, Choices, Phrase, problem
from storage.files.reading import limits
from storage.files.reading.opened import OpenedFile, opened
from storage.files.reading.sheet import Cell, Fault, FileRefused, Sheet, shown
from storage.files.reading.table import read_sheet
from storage.files.rows import Entries, SheetRow, fault_problem
from storage.files.timetables.agenda import read_calendar
from storage.files.timetables.dates import ISO_ORDER, read_day, read_time, split_range
from storage.files.timetables.kinds import KINDS, TitleKind, kind_named
from storage.files.timetables.layouts import straightened
from storage.files.timetables.plan import (
    PlanSoFar,
    day_notes,
    homework_text,
    resolve_topics,
    topic_list,
    unnamed,
)
from storage.files.timetables.quiz_titles import quiz_in_title
from storage.files.timetables.timetable_fields import FIELDS
from storage.files.timetables.topic_list import dated
from storage.files.values import (
    HolidayRow,
    KnownSchoolDays,
    LessonRow,
    QuizRow,
    Reading,
    TimetableFile,
)
from storage.values import QuizKind

EVERY_DAY = KnownSchoolDays()

_GERMAN = frozenset(
    ["thema", "themen", "datum", "titel", "inhalt", "art", "tag", "uhrzeit", "stundenthema", "beginn"]
)


def read_timetable(
    data: bytes | OpenedFile,
    name: str,
    *,
    zone: str,
    today: date,
    day_first: bool | None = None,
    known_topics: Collection[str] = (),
    school: KnownSchoolDays = EVERY_DAY,
    choices: Choices = UNDECIDED,
) -> Reading[TimetableFile]:
    r"""Read a timetable from a text table, a workbook or a calendar.

    Parameters
    ----------
    data : bytes or OpenedFile
        The file; its content decides what it is.
    name : str
        Its name, for messages only.
    zone : str
        IANA name of the class's time zone; times of a calendar are brought to it.
    today : date
        Middle of the window of allowed days (``limits.WINDOW_DAYS`` on both sides).
    day_first : bool, optional
        The teacher's choice where 03/04/2027 can be two days; None to find out or ask.
    known_topics : collection of str
        Topics the class already has, besides those of the file; quizzes may name them.
    school : KnownSchoolDays, optional
        On which days the class has school; what falls on another is taken all the same, and noted.
    choices : mapping
        What the teacher has decided where the file was doubtful; see ``problem.Choices``.

    Returns
    -------
    Reading of TimetableFile
        The good rows, and every problem. Nothing about the file's content raises.

    Raises
    ------
    zoneinfo.ZoneInfoNotFoundError
        If the class's own zone is unknown (a fault of the caller, not of the file).

    Examples
    --------
    >>> read = read_timetable(b"Thema;Datum\nKraft;01.12.2026\nFeder;31.11.2026", "plan.csv", zone="Europe/Berlin",
    ...                       today=date(2026, 11, 25))
    >>> [lesson.topic for lesson in read.value.lessons], [one.sentence for one in read.problems]  # doctest: +ELLIPSIS
    (['Kraft'], ['Row 3, column "Datum" (B): "31.11.2026" is not a day that exists. ...'])
    """
    ZoneInfo(zone)
    if day_first is None and "days" in choices:
        day_first = choices["days"] == DAY_FIRST
    try:
        file = opened(data, name)
        if file.content == "ics":
            return read_calendar(file, zone, today, known_topics, school, choices)
        return _read_table(file, name, today, day_first, known_topics, school, choices)
    except FileRefused as refused:
        return Reading(TimetableFile(), (refused.problem,), name=name)


def _read_table(
    data: bytes | OpenedFile,
    name: str,
    today: date,
    day_first: bool | None,
    known_topics: Collection[str],
    school: KnownSchoolDays,
    choices: Choices,
) -> Reading[TimetableFile]:
    """Read every row of a sheet, however it is laid out."""
    sheet = read_sheet(data, name, Phrase("wanted.timetable"), choices)
    listed = dated(sheet, school, today, choices, name)
    if listed is not None:
        parts = [_read_list(*listed, today, day_first, known_topics, choices, name)]
    else:
        parts = [
            _read_list(part, understand(part, FIELDS, name), today, day_first, known_topics, choices, name)
            for part in straightened(sheet, today, name, choices)
        ]
    file = TimetableFile(
        tuple(one for part in parts for one in part.value.lessons),
        tuple(one for part in parts for one in part.value.quizzes),
        tuple(one for part in parts for one in part.value.holidays),
    )
    problems = (*(one for part in parts for one in part.problems), *day_notes(file, school))
    uses = tuple(one for part in parts for one in part.columns)
    return Reading(file, problems, sum(part.rows_read for part in parts), name, sheet.kind, uses)


def _read_list(
    sheet: Sheet,
    headings: Headings,
    today: date,
    day_first: bool | None,
    known_topics: Collection[str],
    choices: Choices,
    name: str,
) -> Reading[TimetableFile]:
    """Read the rows of a table with one entry a row."""
    entries = Entries(sheet, headings, today, problems=[*sheet.notes, *headings.problems], choices=choices)
    if not entries.count:
        raise FileRefused(problem("rows_none", name=name))
    columns = tuple(
        column for part in ("date", "last day", "end") for column in headings.columns.get(part, ())
    )
    entries.learn_orders(columns, day_first)
    found = PlanSoFar(
        titles=_titles(entries, known_topics),
        german=any(plain_heading(use.heading) in _GERMAN for use in headings.uses),
        tests=choices.get("tests"),
    )
    named: list[tuple[SheetRow, QuizRow]] = []
    for entry in entries:
        _read_entry(entry, found, named)
    _check_quiz_topics(named, found, known_topics)
    entries.problems.extend(found.doubts())
    return Reading(found.file(), entries.sorted_problems(), entries.count, name, sheet.kind, headings.uses)


def _titles(entries: Entries, known_topics: Collection[str]) -> frozenset[str]:
    """Give all titles of the file and all topics of the class, in plain lower case."""
    return frozenset(
        plain_heading(title) for title in [*known_topics, *(one.peek("topic") for one in entries)]
    )


def _read_entry(entry: SheetRow, found: PlanSoFar, named: list[tuple[SheetRow, QuizRow]]) -> None:
    """Read one row into a lesson, quiz or holiday; leave it out if anything is wrong with it."""
    entry.refuse_extra_cells()
    if entry.failed:
        return  # its cells stand in the wrong columns
    title = entry.text("topic")
    kind = _kind(entry, title, found)
    if kind is None:
        if entry.cell("date") is not None:
            entry.day(entry.cell("date"), "date")
        return
    if kind.written == "holiday":
        _read_holiday(entry, kind.rest, found)
    elif kind.written == "lesson":
        _read_lesson(entry, kind.rest, found)
    else:
        _read_quiz(entry, kind, found, named)


def _kind(entry: SheetRow, title: str | None, found: PlanSoFar) -> TitleKind | None:
    """Tell the kind of a row from its kind column, or else from the beginning of its title."""
    written = entry.text("kind")
    if written is None:
        return found.kind(entry.number, title or "", anywhere=_fills_days(entry))
    named = kind_named(written)
    if named is None and (guess := quiz_in_title(written)) is not None and guess.sure:
        named = guess.written
    if named is None:
        entry.fail(problem("kind_unknown", found=written, hint=did_you_mean(written, list(KINDS))), "kind")
        return None
    return TitleKind(named, title or "")


def _fills_days(entry: SheetRow) -> bool:
    """Whether a row gives a range of days: then a word such as Herbstferien in its title makes it a holiday."""
    _first, last, _name = _holiday_cells(entry)
    return last is not None and last != entry.cell("date")


def _read_lesson(entry: SheetRow, topic: str, found: PlanSoFar) -> None:
    """Read a lesson: a topic, one day, perhaps times and homework."""
    if not topic and not isinstance(entry.cell("topic"), Fault):
        entry.fail(problem("cell_missing", wanted=Phrase("wanted.topic")), "topic")
    day, start, end = _day_and_times(entry)
    homework = _homework(entry)
    if topic:
        topic = found.spelling(topic)
    if entry.failed or day is None:
        return
    lesson = LessonRow(entry.number, topic, day, start, end, homework)
    twin = next((one for one in found.lessons if _same_lesson(one, lesson)), None)
    if twin is not None:
        entry.fail(problem("row_twice", found=f"{topic}, {day.isoformat()}", other=twin.row))
        return
    found.lessons.append(lesson)


def _same_lesson(one: LessonRow, other: LessonRow) -> bool:
    return (one.topic, one.day, one.start) == (other.topic, other.day, other.start)


def _read_quiz(
    entry: SheetRow, kind: TitleKind, found: PlanSoFar, named: list[tuple[SheetRow, QuizRow]]
) -> None:
    """Read a quiz or exam: a day, perhaps a name, a start and the topics it covers."""
    written: QuizKind = "exam" if kind.written == "exam" else "quiz"
    day, start, _end = _day_and_times(entry)
    topics = topic_list(entry.text("topics"))
    if entry.failed or day is None:
        return
    quiz = QuizRow(entry.number, kind.rest or unnamed(written, day), day, start, topics, written)
    twin = next(
        (one for one in found.quizzes if (fold(one.name), one.day) == (fold(quiz.name), quiz.day)), None
    )
    if twin is not None:
        entry.fail(problem("row_twice", found=f"{quiz.name}, {day.isoformat()}", other=twin.row))
        return
    found.quizzes.append(quiz)
    if topics is not None:
        named.append((entry, quiz))


def _read_holiday(entry: SheetRow, name: str, found: PlanSoFar) -> None:
    """Read a holiday: one day, a range in one cell, or a first and a last day."""
    first_cell, last_cell, last_name = _holiday_cells(entry)
    if first_cell is None:
        entry.fail(problem("cell_missing", wanted=Phrase("wanted.first_day")), "date")
        return
    first = entry.day(first_cell, "date")
    last = entry.day(last_cell, last_name) if last_cell is not None else first
    if first is None or last is None or first.day is None or last.day is None:
        return
    days = (last.day - first.day).days + 1
    if days < 1:
        entry.fail(problem("date_order", found=shown(last_cell), first=first.day.isoformat()), last_name)
    elif days > limits.HOLIDAY_DAYS:
        entry.fail(problem("holiday_long", size=days, limit=limits.HOLIDAY_DAYS), last_name)
    if entry.failed:
        return
    row = HolidayRow(entry.number, first.day, last.day, name or "Holiday")
    twin = next((one for one in found.holidays if replace(one, row=row.row) == row), None)
    if twin is not None:
        entry.fail(problem("row_twice", found=row.name, other=twin.row))
        return
    found.holidays.append(row)


def _holiday_cells(entry: SheetRow) -> tuple[Cell, Cell, str]:
    """Give the cells of the first and last day, and the field of the second."""
    first = entry.cell("date")
    parts = split_range(first) if isinstance(first, str) else None
    if parts:
        return parts[0], parts[1], "date"
    if entry.cell("last day") is not None:
        return first, entry.cell("last day"), "last day"
    end = entry.cell("end")
    return first, None if read_time(end) is not None else end, "end"


def _day_and_times(entry: SheetRow) -> tuple[date | None, time | None, time | None]:
    """Read the day of a lesson or quiz, its start and its end."""
    cell = entry.cell("date")
    if cell is None:
        entry.fail(problem("cell_missing", wanted=Phrase("wanted.date")), "date")
        return None, None, None
    read = entry.day(cell, "date")
    start, end = _start_and_end(entry)
    if read is None or read.day is None:
        return None, start, end
    for part in ("last day", "end"):
        _check_one_day(entry, part, read.day)
    return read.day, start if start is not None else read.clock, end


def _check_one_day(entry: SheetRow, part: str, day: date) -> None:
    """Refuse a lesson or quiz whose last day is another day than its first."""
    cell = entry.cell(part)
    if cell is None or isinstance(cell, Fault) or read_time(cell) is not None:
        return
    column = entry.columns(part)[0]
    last = read_day(cell, day_first=entry.entries.orders.get(column), today=entry.entries.today)
    if last.day is not None and day not in (last.day, last.other):
        entry.fail(problem("lesson_span", found=shown(cell), first=day.isoformat()), part)
    elif last.day is None:
        code = "time_unread" if part == "end" else "date_unread"
        entry.fail(
            problem(
                code,
                found=shown(cell),
                order=ISO_ORDER,
                example=day.isoformat(),
            ),
            part,
        )


def _start_and_end(entry: SheetRow) -> tuple[time | None, time | None]:
    """Read the times; a cell of the start column may hold both."""
    cell = entry.cell("start")
    start = _time(entry, cell, "start")
    end_cell = entry.cell("end")
    end = read_time(end_cell) if end_cell is not None else None
    if isinstance(start, tuple):
        first, second = start
        start, end = first, second if end is None else end
    if isinstance(end, tuple):
        end = end[1]
    if isinstance(end_cell, Fault):
        _time(entry, end_cell, "end")
    if start is not None and end is not None and end <= start:
        entry.fail(problem("time_order", found=f"{end:%H:%M}", first=f"{start:%H:%M}"), "end")
    return start, end


def _time(entry: SheetRow, cell: Cell, name: str) -> time | tuple[time, time] | None:
    """Read a cell as one or two times, remembering a problem if it is none."""
    if cell is None:
        return None
    read = read_time(cell)
    if read is None:
        found = fault_problem(cell) if isinstance(cell, Fault) else problem("time_unread", found=shown(cell))
        entry.fail(found, name)
    return read


def _homework(entry: SheetRow) -> str | None:
    """Read homework: its text, ``homework`` for a plain yes, None for a plain no or nothing."""
    written = entry.text("homework")
    return homework_text(written) if written else None


def _check_quiz_topics(
    named: list[tuple[SheetRow, QuizRow]], found: PlanSoFar, known_topics: Collection[str]
) -> None:
    """Bring the topics a quiz names to their spelling in the lessons; leave out quizzes with unknown ones."""
    known = {fold(topic): topic for topic in known_topics} | found.spellings
    for entry, quiz in named:
        topics, unknown = resolve_topics(quiz.topics or (), known)
        for topic in unknown:
            hint = did_you_mean(topic, list(known.values()))
            entry.fail(problem("topic_unknown", found=topic, hint=hint), "topics")
        position = found.quizzes.index(quiz)
        found.quizzes[position : position + 1] = [] if unknown else [replace(quiz, topics=topics)]
