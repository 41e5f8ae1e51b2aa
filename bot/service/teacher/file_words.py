"""What is wrong with an uploaded file, in the teacher's language.

The readers of `storage.files` say it as a code with values. The sentences are texts like all others; values that
are themselves English words (what kind of file it is, what belongs into a cell) are found again and worded anew.
What is not known here stays as it is.
"""

from __future__ import annotations

import re
from datetime import date
from functools import cache

from bot.grading.upload import KeyProblem
from bot.words import Words, words
from storage.files.problem import PossibleReading, Problem
from storage.files.timetables.names import MONTHS

_WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_DATE = re.compile(r"(\d{1,2}) ([A-Z][a-z]+)(?: (\d{4}))?")
_MEANT = re.compile(r' \(did you mean "(.+?)"(?: with "(.+)")?\?\)')
_CLOSE = re.compile(r" \((.+) comes close\)")
_DAY_NUMBER = re.compile(r" \(as a spreadsheet's day number it would be (.+)\)")
_SAME_ROWS = re.compile(r"; the same goes for (\d+) more rows?")
_MORE_ROWS = re.compile(r"; so can the days in (\d+) more rows?")


def sentence(problem: Problem, said: Words) -> str:
    """Return place, what is wrong and what to do as one sentence."""
    if said.language == "en":
        return problem.sentence
    values = {"found": problem.found or "", "hint": "", "more": "", "name": said.text("file.the_file")}
    values |= {name: _worded(name, value, said) for name, value in problem.fields}
    what, todo = (said.text(f"file.{problem.code}{part}", **values) for part in ("", ".todo"))
    where = _where(problem, said)
    return f"{where}: {what}. {todo}" if where else f"{what[:1].upper()}{what[1:]}. {todo}"


def key_sentence(row: int, problem: KeyProblem, said: Words) -> str:
    """Return what is wrong with the key in a row of a question sheet."""
    place = said.text("file.place.sheet", row=row, heading=problem.column)
    return f"{place}: {said.text(f'key.{problem.code}', **problem.values)}"


def label(option: PossibleReading, said: Words) -> str:
    """Return one of the ways to read what is doubtful, for a button: ``3 April``, ``Kräfte``, ``Leave out``."""
    if option.day is not None:
        return said.day_and_month(option.day)
    return option.label or said.text(f"file.option.{option.about}.{option.chosen}")


def _where(problem: Problem, said: Words) -> str:
    parts = []
    if problem.row is not None:
        parts.append(said.text(f"file.place.{problem.place}", row=problem.row))
    if problem.column is not None and problem.heading:
        parts.append(said.text("file.place.column", heading=problem.heading, column=problem.column))
    elif problem.column is not None:
        parts.append(said.text("file.place.bare", column=problem.column))
    where = ", ".join(parts)
    return where[:1].upper() + where[1:]


def _worded(name: str, value: str, said: Words) -> str:
    """Word one value of a problem in another language."""
    match name:
        case "hint" | "more":
            return _hint(value, said)
        case "order":
            parts = {"day": "file.day", "month": "file.month", "year": "file.year"}
            return re.sub(r"day|month|year", lambda found: said.text(parts[found[0]]), value)
        case "kind" | "wanted" | "other":
            key = _phrases(name).get(value)
            return value if key is None else said.text(key)
        case "weekday" if value in _WEEKDAYS:
            return said.weekday(date(2023, 1, 2 + _WEEKDAYS.index(value)))  # 2 January 2023 was a Monday
        case "first" | "second" | "example":
            return _dated(value, said)
        case "size" | "limit":
            return said.figure(value)
        case _:
            return value


def _dated(value: str, said: Words) -> str:
    found = _DATE.fullmatch(value)
    month = MONTHS.get(found[2].casefold()) if found else None
    if found is None or month is None:
        return value
    day = date(int(found[3] or 2024), month, int(found[1]))  # 2024 has a 29 February
    return said.long_day(day) if found[3] else said.day_and_month(day)


def _hint(value: str, said: Words) -> str:
    if found := _MEANT.fullmatch(value):
        key = "file.hint.meant_with" if found[2] else "file.hint.meant"
        return said.text(key, word=found[1], **({"heading": found[2]} if found[2] else {}))
    if found := _CLOSE.fullmatch(value):
        return said.text("file.hint.close", word=found[1])
    if found := _DAY_NUMBER.fullmatch(value):
        return said.text("file.hint.day_number", day=found[1])
    if found := _MORE_ROWS.fullmatch(value):
        return said.text("file.rows_more", n=int(found[1]))
    if found := _SAME_ROWS.fullmatch(value):
        return said.text("file.same_rows", n=int(found[1]))
    return value


@cache
def _phrases(name: str) -> dict[str, str]:
    """Return the keys of the English phrases that a value can be."""
    english = words("en")
    return {english.text(key): key for key in english.keys(f"file.{name}.")}
