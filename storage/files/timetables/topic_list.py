"""A bare list of topics in the order in which they are taught: dated by the lesson hours and holidays of the class."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, time, timedelta

from storage.files.headings import Headings, matches
from storage.files.problem import Choices, PossibleReading, problem
from storage.files.reading import limits
from storage.files.reading.sheet import FileRefused, Sheet, column_letter, filled_rows
from storage.files.timetables.timetable_fields import FIELDS
from storage.files.values import ColumnUse, KnownSchoolDays

_NUMBER = re.compile(r"\s*(?:[-•*]|\(?\d{1,3}\s*[.):])\s+(?=\S)")
_HEADINGS = ("topic", "date", "start")
_FIRST_DAYS = 4


def dated(
    sheet: Sheet, school: KnownSchoolDays, today: date, choices: Choices, name: str
) -> tuple[Sheet, Headings] | None:
    """Give each topic of a list the next lesson of the class.

    Parameters
    ----------
    sheet : Sheet
    school : KnownSchoolDays
        The lesson hours of the class, and its holidays.
    today : date
        The first lesson is not before it.
    choices : mapping
        What the teacher has decided: ``start`` is the day of the first lesson.
    name : str
        Name of the file, for messages only.

    Returns
    -------
    tuple of Sheet and Headings, or None
        A row for each topic, in the row of the list; None where the file is no such list.

    Raises
    ------
    FileRefused
        Where the class has no lesson hours, or with the question on which day the list begins.
    """
    rows = list(filled_rows(sheet))
    if len(rows) > 1 and set(matches(rows[0][1], FIELDS)) == {"topic"}:
        rows = rows[1:]
    lines = [(number, cells[0]) for number, cells in rows if len(cells) == 1]
    if len(lines) < 2 or len(lines) != len(rows) or not all(_is_topic(cell) for _, cell in lines):
        return None
    if not school.lesson_hours:
        raise FileRefused(problem("hours_unknown", name=name))
    start = _start(school, today, choices, name)
    lessons = _lessons(school, start)
    built: list[tuple[str | date | time, ...]] = [()] * len(sheet.rows)
    for number, topic in lines:
        day, begins = next(lessons)
        if (day - today).days > limits.WINDOW_DAYS:
            raise FileRefused(problem("list_long", name=name, size=len(lines)))
        built[number - 1] = (_NUMBER.sub("", str(topic), count=1), day, begins)
    uses = tuple(ColumnUse(column_letter(place), one, one) for place, one in enumerate(_HEADINGS))
    columns: dict[str, tuple[int, ...]] = {one: (place,) for place, one in enumerate(_HEADINGS)}
    return replace(sheet, rows=tuple(built)), Headings(0, columns, uses, {}, (), len(_HEADINGS))


def _is_topic(cell: object) -> bool:
    return isinstance(cell, str) and any(sign.isalpha() for sign in cell)


def _start(school: KnownSchoolDays, today: date, choices: Choices, name: str) -> date:
    """Return the day of the first lesson, which is never guessed."""
    try:
        start = date.fromisoformat(choices.get("start", ""))
    except ValueError:
        start = date.max
    if abs((start - today).days) <= limits.WINDOW_DAYS:
        return start
    lessons = _lessons(school, today)
    days = list(dict.fromkeys(next(lessons)[0] for _ in range(_FIRST_DAYS * len(school.lesson_hours))))
    asked = problem("list_start", name=name)
    options = tuple(PossibleReading("start", day.isoformat(), day=day) for day in days[:_FIRST_DAYS])
    raise FileRefused(replace(asked, options=options))


def _lessons(school: KnownSchoolDays, start: date) -> Iterator[tuple[date, time]]:
    """Yield days and beginnings of the lessons of the class from a day on, without its holidays."""
    hours = sorted((weekday, minute) for weekday, minute, _ in school.lesson_hours)
    day = start
    while True:
        free = any(one.first_day <= day <= one.last_day for one in school.holidays)
        for weekday, minute in hours:
            if weekday == day.weekday() and not free:
                yield day, time(minute // 60, minute % 60)
        day += timedelta(days=1)
