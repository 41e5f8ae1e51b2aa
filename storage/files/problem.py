"""What is wrong with an uploaded file, as data: what, where, and the values that its words need.

`bot.words.problems` makes a sentence of it in the teacher's language: place, what is wrong, what to do.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from types import MappingProxyType
from typing import Literal

from storage.files.levels import LEVELS, Level

DAY_FIRST, MONTH_FIRST = "day-first", "month-first"


Choices = Mapping[str, str]
"""What the teacher has decided about a file: the answer (``PossibleReading.chosen``) to each question (``.about``)."""

UNDECIDED: Choices = MappingProxyType({})


@dataclass(frozen=True)
class Phrase:
    """Words inside a sentence, which every language says in its own way.

    Attributes
    ----------
    key : str
        The text is ``file.KEY``, for example ``kind.workbook``.
    values : tuple of (str, str or int)
        What the text is filled in with.
    """

    key: str
    values: tuple[tuple[str, str | int], ...] = ()


@dataclass(frozen=True)
class Weekday:
    """A day of the week, Monday is 0."""

    number: int


@dataclass(frozen=True)
class DateOrder:
    """How the parts of a date follow each other: ``day.month.year``.

    Attributes
    ----------
    parts : tuple of {'day', 'month', 'year'}
    separator : str
    """

    parts: tuple[str, ...]
    separator: str


Value = str | date | Weekday | DateOrder | Phrase
"""A value in a sentence. A `str` is the same in every language: what stands in the file, a figure, an ISO date."""


@dataclass(frozen=True)
class PossibleReading:
    """One of the ways to read what is doubtful.

    Attributes
    ----------
    about : str
        Which question it answers: ``days``, ``encoding``, ``hidden``, …
    chosen : str
        The answer; hand ``{about: chosen}`` to the reader again to choose this reading for the whole file.
    label : str
        What a button can show, as it stands in the file; empty where a day, or the words for ``about`` and ``chosen``,
        say it.
    day : date or None
        The day this reading gives, for a doubtful date.
    """

    about: str
    chosen: str
    label: str = ""
    day: date | None = None

    @property
    def day_first(self) -> bool:
        """Whether this reading of a date has the day first."""
        return self.chosen == DAY_FIRST


@dataclass(frozen=True)
class Problem:
    """One thing that is wrong, or that the teacher should know.

    Attributes
    ----------
    code : str
        Key of ``LEVELS``.
    row : int or None
        Row as the spreadsheet shows it (a heading in the first row is row 1); in a calendar, the number of
        the event.
    column : str or None
        Column letter, ``A`` to ``AN``.
    heading : str or None
        Heading of that column as written in the file.
    found : str or None
        The value as written in the file, cut to 60 characters.
    fields : tuple of (str, Value)
        What else the sentence needs.
    options : tuple of PossibleReading
        The readings to choose from when ``level`` is ``question``; none where only the file can be corrected.
    rows : tuple of int
        All rows that the same question concerns.
    place : {'row', 'event', 'item'}
        Whether ``row`` counts rows of a sheet, events of a calendar or items of a set of questions.
    """

    code: str
    row: int | None = None
    column: str | None = None
    heading: str | None = None
    found: str | None = None
    fields: tuple[tuple[str, Value], ...] = ()
    options: tuple[PossibleReading, ...] = ()
    rows: tuple[int, ...] = ()
    place: Literal["row", "event", "item"] = "row"

    @property
    def level(self) -> Level:
        """How much is lost: ``file``, ``row``, ``question`` or ``note``."""
        return LEVELS[self.code]


def problem(code: str, *, found: object = None, **fields: object) -> Problem:
    """Build a problem that has no place yet; ``rows.Entries.add`` gives it one.

    Parameters
    ----------
    code : str
        Key of ``LEVELS``.
    found : object, optional
        The value as written in the file; shown cut to 60 characters and without control characters.
    **fields : object
        What the words of this code ask for; what is no `Value` is shown as `str` writes it.
    """
    return Problem(code, found=None if found is None else excerpt(str(found)), fields=_sorted(fields))


def excerpt(text: str, longest: int = 60) -> str:
    """Cut a text to what fits into a sentence, on one line, without characters that cannot be shown."""
    line = "".join(char if char.isprintable() else " " for char in text[: longest * 4])
    line = " ".join(line.split())
    return line if len(line) <= longest else line[: longest - 1].rstrip() + "…"


def _sorted(fields: dict[str, object]) -> tuple[tuple[str, Value], ...]:
    return tuple(
        sorted(((name, _value(value)) for name, value in fields.items()), key=lambda field: field[0])
    )


def _value(value: object) -> Value:
    if isinstance(value, Phrase):
        inside = (
            (name, excerpt(part, 200) if isinstance(part, str) else part) for name, part in value.values
        )
        return Phrase(value.key, tuple(inside))
    return value if isinstance(value, date | Weekday | DateOrder) else excerpt(str(value), 200)
