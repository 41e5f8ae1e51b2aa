"""Times of day as students and teachers type them, read without guessing."""

from __future__ import annotations

import re
import unicodedata
from datetime import time

from storage.files.timetables.dates import read_time

_TIME = re.compile(r"(\d{1,2})(?:[:.h ]?(\d{2}))?\s*(am|pm|a\.m\.|p\.m\.|h|o'clock|uhr)?")
_BEFORE = re.compile(r"^(?:at|um) ")
_FROM = re.compile(r"^(?:from|von) ")
_BETWEEN = re.compile(r"\s*(?:-|–|—|to|until|till|bis)\s*")


def minute_of_day(text: str) -> int | None:
    """Return minutes after midnight for ``18:30``, ``18.30``, ``1830``, ``6 pm``, ``7``; None for anything else.

    "Half six" is two times for people of two countries and therefore none here.

    Examples
    --------
    >>> minute_of_day("18:30"), minute_of_day("6 pm"), minute_of_day("7.05"), minute_of_day("half six")
    (1110, 1080, 425, None)
    >>> minute_of_day("um 18.30 Uhr"), minute_of_day("at 6:30 pm"), minute_of_day("25:00")
    (1110, 1110, None)
    """
    plain = _BEFORE.sub("", " ".join(unicodedata.normalize("NFKC", text).casefold().split()), count=1)
    found = _TIME.fullmatch(plain)
    if found is None:
        read = read_time(plain)
        return read.hour * 60 + read.minute if isinstance(read, time) else None
    hour, minute, half = int(found[1]), int(found[2] or 0), (found[3] or "").replace(".", "")
    if half in ("am", "pm"):
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if half == "pm" else 0)
    return hour * 60 + minute if hour < 24 and minute < 60 else None


def minutes_between(text: str, *, same: bool = False) -> tuple[int, int] | None:
    """Return start and end for ``21:00-07:00`` or ``9 pm to 7 am``; None for anything else.

    Parameters
    ----------
    text : str
        As typed.
    same : bool
        Whether start and end may be the same time.

    Examples
    --------
    >>> minutes_between("21:00 – 7"), minutes_between("von 21 bis 7 Uhr")
    ((1260, 420), (1260, 420))
    """
    parts = _BETWEEN.split(_FROM.sub("", " ".join(text.casefold().split()), count=1))
    if len(parts) != 2:
        return None
    start, end = minute_of_day(parts[0]), minute_of_day(parts[1])
    return None if start is None or end is None or (start == end and not same) else (start, end)
