"""What is wrong with an uploaded file, as one sentence a teacher can act on.

Every problem says what is wrong, where (row and column as the spreadsheet shows them) and what to do.
The words stand in ``words.py``; a problem itself carries data only.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from types import MappingProxyType
from typing import Literal

from storage.files.words import WORDS, Level

DAY_FIRST, MONTH_FIRST = "day-first", "month-first"


Choices = Mapping[str, str]
"""What the teacher has decided about a file: the answer (``PossibleReading.chosen``) to each question (``.about``)."""

UNDECIDED: Choices = MappingProxyType({})


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
        What a button can show, for example ``3 April``; empty where the words for ``about`` and ``chosen`` say it.
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
        Key of ``WORDS``.
    row : int or None
        Row as the spreadsheet shows it (a heading in the first row is row 1); in a calendar, the number of
        the event.
    column : str or None
        Column letter, ``A`` to ``AN``.
    heading : str or None
        Heading of that column as written in the file.
    found : str or None
        The value as written in the file, cut to 60 characters.
    fields : tuple of (str, str)
        What else the sentence needs.
    options : tuple of PossibleReading
        The readings to choose from when ``level`` is ``question``; none where only the file can be corrected.
    rows : tuple of int
        All rows that the same question concerns.
    place : {'row', 'event'}
        Whether ``row`` counts rows of a sheet or events of a calendar.
    """

    code: str
    row: int | None = None
    column: str | None = None
    heading: str | None = None
    found: str | None = None
    fields: tuple[tuple[str, str], ...] = ()
    options: tuple[PossibleReading, ...] = ()
    rows: tuple[int, ...] = ()
    place: Literal["row", "event"] = "row"

    @property
    def level(self) -> Level:
        """How much is lost: ``file``, ``row``, ``question`` or ``note``."""
        return WORDS[self.code][0]

    @property
    def where(self) -> str:
        """The place in words, for example ``Row 7, column "date" (C)``; empty for the file as a whole."""
        parts = []
        if self.row is not None:
            parts.append(f"{self.place} {self.row}")
        if self.column is not None:
            parts.append(
                f'column "{self.heading}" ({self.column})' if self.heading else f"column {self.column}"
            )
        return _capital(", ".join(parts))

    @property
    def what(self) -> str:
        """What is wrong, without place and advice."""
        return self._fill(WORDS[self.code][1])

    @property
    def todo(self) -> str:
        """What the teacher can do about it."""
        return self._fill(WORDS[self.code][2])

    @property
    def sentence(self) -> str:
        r"""Place, what is wrong, what to do.

        Examples
        --------
        >>> Problem("time_unread", 7, "C", "start", "8 hrs").sentence
        'Row 7, column "start" (C): "8 hrs" is not a time of day. Write hours and minutes, for example 08:30.'
        """
        where = self.where
        named = WORDS[self.code][1].startswith("{name}")  # a file's name is never capitalised
        what = self.what if where or named else _capital(self.what)
        return f"{where}: {what}. {self.todo}" if where else f"{what}. {self.todo}"

    def _fill(self, words: str) -> str:
        """Put the values into the words; a field that is not given stays empty."""
        values = {"found": self.found or "", "hint": "", "more": "", "name": "The file"} | dict(self.fields)
        return words.format_map(values)


def problem(code: str, *, found: object = None, **fields: object) -> Problem:
    """Build a problem that has no place yet; ``rows.Entries.add`` gives it one.

    Parameters
    ----------
    code : str
        Key of ``WORDS``.
    found : object, optional
        The value as written in the file; shown cut to 60 characters and without control characters.
    **fields : object
        What the words of this code ask for.
    """
    return Problem(code, found=None if found is None else excerpt(str(found)), fields=_sorted(fields))


def excerpt(text: str, longest: int = 60) -> str:
    """Cut a text to what fits into a sentence, on one line, without characters that cannot be shown."""
    line = "".join(char if char.isprintable() else " " for char in text[: longest * 4])
    line = " ".join(line.split())
    return line if len(line) <= longest else line[: longest - 1].rstrip() + "…"


def _printable(text: str) -> str:
    """Keep the blanks of a phrase, and replace what cannot be shown."""
    return "".join(char if char.isprintable() else " " for char in text)


def _sorted(fields: dict[str, object]) -> tuple[tuple[str, str], ...]:
    return tuple(
        sorted(
            (name, excerpt(str(value), 200) if name != "hint" else _printable(str(value)))
            for name, value in fields.items()
        )
    )


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
