"""What is wrong with an uploaded file, with a key in it, or with what is asked of the storage, as a sentence to act on.

The readers of `storage.files` and of `bot.grading.upload` say it as a code with values. A value that is no `str`
(a date, a weekday, a hint) is worded here, in the teacher's language.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from bot.grading.drawn import TemplateProblem
from bot.grading.upload import KeyProblem
from bot.words import Words
from storage.base.errors import StorageError
from storage.files.problem import DateOrder, Phrase, PossibleReading, Problem, Value, Weekday

_DIGITS = frozenset({"size", "limit"})
"""Values that are figures, with the decimal sign of the language."""


def sentence(problem: Problem, said: Words) -> str:
    """Return place, what is wrong and what to do as one sentence.

    Examples
    --------
    >>> from bot.words import words
    >>> sentence(Problem("time_unread", 7, "C", "start", "8 hrs"), words("en"))
    'Row 7, column "start" (C): "8 hrs" is not a time of day. Write hours and minutes, for example 08:30.'
    """
    where = place(problem, said)
    named = dict(problem.fields).get("name")
    what = description(problem, said)
    if not where and not (
        isinstance(named, str) and what.startswith(named)
    ):  # a file's name is never capitalised
        what = _capital(what)
    return f"{where}: {what}. {advice(problem, said)}" if where else f"{what}. {advice(problem, said)}"


def place(problem: Problem, said: Words) -> str:
    """Return where it is, for example ``Row 7, column "date" (C)``; empty for the file as a whole."""
    parts = []
    if problem.row is not None:
        parts.append(said.text(f"file.place.{problem.place}", row=problem.row))
    if problem.column is not None and problem.heading:
        parts.append(said.text("file.place.column", heading=problem.heading, column=problem.column))
    elif problem.column is not None:
        parts.append(said.text("file.place.bare", column=problem.column))
    return _capital(", ".join(parts))


def description(problem: Problem, said: Words) -> str:
    """Return what is wrong, without place and advice."""
    return said.text(f"file.{problem.code}", **_values(problem, said))


def advice(problem: Problem, said: Words) -> str:
    """Return what the teacher can do about it."""
    return said.text(f"file.{problem.code}.todo", **_values(problem, said))


def key_sentence(row: int, problem: KeyProblem, said: Words) -> str:
    """Return what is wrong with the key in a row of a question sheet."""
    where = said.text("file.place.sheet", row=row, heading=problem.column)
    return f"{where}: {key_description(problem, said)}"


def key_description(problem: KeyProblem, said: Words) -> str:
    """Return what is wrong with a key and what to do, without its place."""
    return said.text(f"key.{problem.code}", **_with_reason(problem.values, said))


def template_sentence(problem: TemplateProblem, said: Words) -> str:
    """Return what is wrong with a question with drawn values, what to do, and with which values it shows.

    Examples
    --------
    >>> from bot.words import words
    >>> template_sentence(TemplateProblem("divided_by_zero", "answer", example={"b": "0"}), words("en"))[-23:]
    'For example with b = 0.'
    """
    told = said.text(f"drawn.problem.{problem.code}", **_with_reason(problem.data, said))
    if not problem.example:
        return told
    values = ", ".join(f"{name} = {value}" for name, value in problem.example.items())
    return said.text("drawn.problem_with", problem=told, values=values)


def why(problem: StorageError, said: Words) -> str:
    """Return why the storage refused; what has no code is for technicians, and English."""
    return said.text(f"refusal.{problem.code}", **problem.values) if problem.code else str(problem)


def label(option: PossibleReading, said: Words) -> str:
    """Return one of the ways to read what is doubtful, for a button: ``3 April``, ``Kräfte``, ``Leave out``."""
    if option.day is not None:
        return said.day_and_month(option.day)
    return option.label or said.text(f"file.option.{option.about}.{option.chosen}")


def _with_reason(values: Mapping[str, Any], said: Words) -> Mapping[str, Any]:
    """Word why a formula cannot be read, which is a code of `bot.grading.formulas` until now."""
    if "why" not in values:
        return values
    return {**values, "why": said.text(f"formula.{values['why']}", **{"sign": "", **values})}


def _values(problem: Problem, said: Words) -> dict[str, str]:
    values = {"found": problem.found or "", "hint": "", "more": "", "name": said.text("file.the_file")}
    return values | {name: _worded(name, value, said) for name, value in problem.fields}


def _worded(name: str, value: Value, said: Words) -> str:
    match value:
        case Phrase():
            return said.text(f"file.{value.key}", **dict(value.values))
        case DateOrder():
            return value.separator.join(said.text(f"file.{part}") for part in value.parts)
        case Weekday():
            return said.weekday(date(2023, 1, 2 + value.number))  # 2 January 2023 was a Monday
        case date():
            return said.long_day(value) if name == "example" else said.day_and_month(value)
        case _:
            return said.figure(value) if name in _DIGITS else value


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
