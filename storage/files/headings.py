"""Headings in any order, case and spelling: which column fills which field.

Synonyms are common practice in English, German, French and Spanish staff rooms (no source). A heading that is close to
a known one but not equal is never taken silently: it is named in the message as what may have been meant.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, replace

from rapidfuzz import fuzz, process

from storage.files.problem import Phrase, Problem, problem
from storage.files.reading.sheet import Cell, FileRefused, Sheet, column_letter, filled_rows, shown
from storage.files.timetables.dates import order_in_heading
from storage.files.values import ColumnUse

_SEARCHED_ROWS = 15
_CLOSE = 78.0


@dataclass(frozen=True)
class Field:
    """What a column can hold.

    Attributes
    ----------
    name : str
        The field's name in code, and the heading proposed to the teacher.
    words : tuple of str
        All headings understood, in plain lower case.
    required : bool
        Whether the sheet is of no use without it.
    several : bool
        Whether more than one column may fill it, with numbers if wanted (``wrong 1``, ``wrong 2``).
    pattern : re.Pattern or None
        Further headings, in plain lower case.
    at_least : int
        How many columns there must be: a single ``A`` is no option.
    """

    name: str
    words: tuple[str, ...]
    required: bool = False
    several: bool = False
    pattern: re.Pattern[str] | None = None
    at_least: int = 1


@dataclass(frozen=True)
class Headings:
    """The heading row of a sheet, understood.

    Attributes
    ----------
    row : int
        Its number; rows below hold the entries. 0 if there is none and the first row is an entry.
    columns : dict of str to tuple of int
        Column numbers (from 0) of each field that was found.
    uses : tuple of ColumnUse
        Every column, for the preview.
    orders : dict of int to bool
        Day-first (True) or month-first (False) where a heading says so.
    problems : tuple of Problem
        Notes on columns that are not read.
    width : int
        Number of columns with a heading.
    """

    row: int
    columns: dict[str, tuple[int, ...]]
    uses: tuple[ColumnUse, ...]
    orders: dict[int, bool]
    problems: tuple[Problem, ...]
    width: int

    def heading(self, column: int) -> str:
        """Give the heading of a column as written in the file."""
        return self.uses[column].heading if column < len(self.uses) else ""


def plain_heading(text: str) -> str:
    """Reduce a heading to what counts: no case, accents, brackets or punctuation.

    Examples
    --------
    >>> plain_heading("  Prüfungs-Datum (TT.MM.JJJJ) *"), plain_heading("Wrong option 3")
    ('prufungs datum', 'wrong option 3')
    """
    folded = unicodedata.normalize("NFKD", unicodedata.normalize("NFKC", text).casefold())
    letters = "".join(char for char in folded if not unicodedata.combining(char))
    letters = re.sub(r"\([^)]*\)|\[[^\]]*\]", " ", letters)
    letters = re.sub(
        r"\b[dtj]{1,2}[-./]m{1,3}[-./][yja]{2,4}\b|\bm{1,2}[-./][dtj]{1,2}[-./][yja]{2,4}\b", " ", letters
    )
    return re.sub(r"[\W_]+", " ", letters).strip()


def understand(sheet: Sheet, fields: Sequence[Field], name: str) -> Headings:
    """Find the heading row and say which column fills which field.

    Parameters
    ----------
    sheet : Sheet
        The table; a title or blank rows may stand above the headings.
    fields : sequence of Field
        What is looked for.
    name : str
        Name of the file, for messages.

    Returns
    -------
    Headings

    Raises
    ------
    FileRefused
        If no row looks like headings, a required field has no column, or two columns mean the same.
    """
    best = max(
        list(filled_rows(sheet))[:_SEARCHED_ROWS],
        key=lambda numbered: (len(matches(numbered[1], fields)), -numbered[0]),
    )
    number, cells = best
    columns = matches(cells, fields)
    if not columns:
        wanted = ", ".join(field.name for field in fields if field.required)
        raise FileRefused(problem("headings_none", name=name, wanted=wanted))
    _refuse_twice(columns, fields, cells, number)
    _refuse_missing(columns, fields, cells, number)
    by_column = {column: field for field, found in columns.items() for column in found}
    uses = tuple(
        ColumnUse(column_letter(column), shown(cell), by_column.get(column))
        for column, cell in enumerate(cells)
    )
    orders = {
        column: order
        for column, cell in enumerate(cells)
        if (order := order_in_heading(shown(cell))) is not None
    }
    return Headings(number, columns, uses, orders, _unread(uses, columns, fields), len(cells))


def matches(cells: Sequence[Cell], fields: Sequence[Field]) -> dict[str, tuple[int, ...]]:
    """Give the columns of each field whose words a row holds."""
    known = {word: field.name for field in fields for word in field.words}
    numbered = {word: field.name for field in fields if field.several for word in field.words}
    found: dict[str, tuple[int, ...]] = {}
    for column, cell in enumerate(cells):
        plain = plain_heading(shown(cell)) if isinstance(cell, str | int) else ""
        field = known.get(plain) or numbered.get(re.sub(r"\s*\d+$", "", plain)) or _by_pattern(plain, fields)
        if field:
            found[field] = (*found.get(field, ()), column)
    few = {field.name for field in fields if len(found.get(field.name, ())) < field.at_least}
    return {name: columns for name, columns in found.items() if name not in few}


def _by_pattern(plain: str, fields: Sequence[Field]) -> str | None:
    return next((field.name for field in fields if field.pattern and field.pattern.fullmatch(plain)), None)


def _refuse_twice(
    columns: dict[str, tuple[int, ...]], fields: Sequence[Field], cells: Sequence[Cell], row: int
) -> None:
    for field in fields:
        found = columns.get(field.name, ())
        if len(found) > 1 and not field.several:
            named = " and ".join(f'"{shown(cells[column])}" ({column_letter(column)})' for column in found)
            raise FileRefused(replace(problem("heading_twice", wanted=field.name, found=named), row=row))


def _refuse_missing(
    columns: dict[str, tuple[int, ...]], fields: Sequence[Field], cells: Sequence[Cell], row: int
) -> None:
    """Refuse a sheet without a required column, naming the heading that comes close."""
    for field in fields:
        if field.required and field.name not in columns:
            free = {column: cell for column, cell in enumerate(cells) if not _is_used(column, columns)}
            close = [
                f'"{shown(cell)}" ({column_letter(column)})'
                for column, cell in free.items()
                if isinstance(cell, str) and closest(plain_heading(cell), field.words)
            ]
            hint = Phrase("hint.close", (("word", close[0]),)) if close else ""
            also = ", ".join(field.words[1:5])
            raise FileRefused(
                replace(problem("heading_missing", wanted=field.name, hint=hint, also=also), row=row)
            )


def _is_used(column: int, columns: dict[str, tuple[int, ...]]) -> bool:
    return any(column in found for found in columns.values())


def closest(text: str, words: Sequence[str]) -> str | None:
    """Give the known word that a text comes close to, if any.

    Examples
    --------
    >>> closest("dtae", ("date", "day")), closest("colour", ("date", "day"))
    ('date', None)
    """
    found = process.extractOne(text[:60], words, scorer=_likeness, score_cutoff=_CLOSE)
    return found[0] if found else None


def _likeness(one: str, other: str, *, score_cutoff: float | None = None) -> float:
    """Edit likeness that forgives two exchanged letters (Damerau-Levenshtein), 0 to 100."""
    from rapidfuzz.distance import DamerauLevenshtein

    if len(one) < 3:
        return 0.0
    exchanged = 100 * (1 - DamerauLevenshtein.distance(one, other) / max(len(one), len(other)))
    forgiving = exchanged + (6.0 if sorted(one) == sorted(other) else 0.0)
    return max(fuzz.ratio(one, other), forgiving)


def did_you_mean(text: str, words: Sequence[str]) -> Phrase | str:
    """Give the known word that may have been meant, as words to fill in; empty if none comes close.

    Examples
    --------
    >>> did_you_mean("lessson", ("lesson", "quiz"))
    Phrase(key='hint.meant', values=(('word', 'lesson'),))
    """
    folded = {plain_heading(word): word for word in words}
    found = closest(plain_heading(text), list(folded))
    return Phrase("hint.meant", (("word", folded[found]),)) if found else ""


def _unread(
    uses: tuple[ColumnUse, ...], columns: dict[str, tuple[int, ...]], fields: Sequence[Field]
) -> tuple[Problem, ...]:
    """Name the columns that are not read, and the field that one of them may have been meant for."""
    idle = [use for use in uses if use.field is None and use.heading]
    if not idle:
        return ()
    words = {word: field.name for field in fields if field.name not in columns for word in field.words}
    hints = [
        Phrase("hint.meant_with", (("word", words[near]), ("heading", use.heading)))
        for use in idle
        if (near := closest(plain_heading(use.heading), list(words)))
    ]
    named = ", ".join(f'"{use.heading}" ({use.letter})' for use in idle)
    return (problem("columns_unread", found=named, hint=hints[0] if hints else ""),)
