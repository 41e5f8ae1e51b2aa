"""Time zones as people type them: the place where they live."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from functools import cache
from zoneinfo import ZoneInfo, available_timezones

_YEARS = range(2020, 2036)
"""Years in which zones are compared: the database has them beside the long history in which nobody plans."""


def zones_named(text: str, most: int = 6) -> tuple[str, ...]:
    """Return the IANA zones that a typed place may mean: its full name, else its city.

    Examples
    --------
    >>> zones_named("berlin"), zones_named("New York"), zones_named("Atlantis")
    (('Europe/Berlin',), ('America/New_York',), ())
    """
    wanted = "_".join(text.casefold().split())
    if not wanted:
        return ()
    names = _zones()
    if wanted in names:
        return (names[wanted],)
    found = [name for folded, name in names.items() if folded.rsplit("/", 1)[-1] == wanted]
    return distinct_zones(found)[:most]


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
