"""Names of months and weekdays as people write them, from the Unicode CLDR that comes with Babel."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator

from babel import Locale

LANGUAGES = ("en", "de", "de_AT", "fr", "es", "it", "nl", "pt")
"""The languages whose names are read. Another one is added here; its short forms may make others doubtful."""

# What is common in writing and not in the CLDR (common practice, no source).
_MORE_MONTHS = {"feber": 2, "mrz": 3, "setiembre": 9}
_MORE_WEEKDAYS = {
    **{"tues": 1, "thur": 3, "thurs": 3, "sonnabend": 5},
    **{"segunda": 0, "terca": 1, "quarta": 2, "quinta": 3, "sexta": 4},
}


def unaccented(word: str) -> str:
    """Return a word in lower case without accents: what people leave out on a foreign keyboard.

    Examples
    --------
    >>> unaccented("März"), unaccented("Miércoles")
    ('marz', 'miercoles')
    """
    marks = unicodedata.normalize("NFKD", word.casefold())
    return "".join(char for char in marks if not unicodedata.combining(char))


def _written(kind: str, widths: tuple[str, ...]) -> Iterator[tuple[str, int]]:
    """Yield each name of the months or days with its number (January 1, Monday 0), in every language."""
    for language in LANGUAGES:
        names = getattr(Locale.parse(language), kind)
        for use in ("format", "stand-alone"):
            for width in widths:
                for number, name in names[use].get(width, {}).items():
                    yield unaccented(name).rstrip("."), number


def _months() -> dict[str, int]:
    """Return every name and every beginning of at least three letters that means one month only."""
    found: dict[str, set[int]] = {}
    for name, number in (*_written("months", ("wide", "abbreviated")), *_MORE_MONTHS.items()):
        for length in range(min(3, len(name)), len(name) + 1):
            found.setdefault(name[:length], set()).add(number)
    return {name: numbers.pop() for name, numbers in found.items() if len(numbers) == 1}


def _weekdays() -> dict[str, frozenset[int]]:
    """Return names and short forms; a short form may mean different days in different languages."""
    found: dict[str, frozenset[int]] = {}
    for name, number in (*_written("days", ("wide", "abbreviated", "short")), *_MORE_WEEKDAYS.items()):
        found[name] = found.get(name, frozenset()) | {number}
    return found


MONTHS = _months()
WEEKDAYS = _weekdays()
