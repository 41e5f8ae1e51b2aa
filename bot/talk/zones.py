"""Time zones as people type them: the place where they live."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from functools import cache
from zoneinfo import ZoneInfo, available_timezones

_YEARS = range(2020, 2036)
"""Years in which zones are compared: the database has them beside the long history in which nobody plans."""


def zones_named(text: str, *, parts: bool = False, most: int = 6) -> tuple[str, ...]:
    """Return the IANA zones that a typed place may mean: its full name, else its city.

    Parameters
    ----------
    text : str
    parts : bool
        Where there is no such city, take those with the text in their name, too. Somebody who was asked for a place
        means one; in the middle of a conversation it may be any word.
    most : int
        No more than so many.

    Examples
    --------
    >>> zones_named("berlin"), zones_named("New York"), zones_named("Atlantis")
    (('Europe/Berlin',), ('America/New_York',), ())
    >>> zones_named("kathm", parts=True)
    ('Asia/Kathmandu',)
    """
    wanted = "_".join(text.casefold().split())
    if not wanted:
        return ()
    names = _zones()
    if wanted in names:
        return (names[wanted],)
    cities = [name for folded, name in names.items() if folded.rsplit("/", 1)[-1] == wanted]
    if cities or not parts or len(wanted) < 3:
        return distinct_zones(cities)[:most]
    return tuple(name for folded, name in names.items() if wanted in folded)[:most]


def distinct_zones(names: Sequence[str]) -> tuple[str, ...]:
    """Return zones without those that are another name of one before: the zone database keeps old names.

    Examples
    --------
    >>> distinct_zones(["Europe/Istanbul", "Asia/Istanbul", "Europe/London"])
    ('Europe/Istanbul', 'Europe/London')
    """
    kept: dict[tuple[object, ...], str] = {}
    for name in names:
        kept.setdefault(_offsets(name), name)
    return tuple(kept.values())


@cache
def _offsets(name: str) -> tuple[object, ...]:
    """Return the offsets of a zone through some years: zones that share them all are one for a timetable."""
    zone = ZoneInfo(name)
    return tuple(zone.utcoffset(datetime(year, month, 15, 12)) for year in _YEARS for month in range(1, 13))  # noqa: DTZ001


@cache
def _zones() -> dict[str, str]:
    """Zones by folded name. Names without a place (EST, posix/…) mean no place where somebody lives."""
    elsewhere = ("Etc/", "posix/", "right/", "SystemV/")
    found = sorted(name for name in available_timezones() if "/" in name and not name.startswith(elsewhere))
    return {name.casefold(): name for name in [*found, "UTC"]}
