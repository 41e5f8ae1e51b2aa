"""Quiet hours: the hours of a day in which nobody is asked anything.

This is the rule's one home. The class's hours and a student's own hold together; whose clock they are on is
said in `scheduler.calendar.allowed_moments`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import time

from scheduler.calendar.zones import SchoolDayError, time_of


class ImpossibleHours(SchoolDayError):
    """Hours that cannot be, or that leave no time for a nudge."""


@dataclass(frozen=True, slots=True)
class QuietHours:
    """Local hours from `start` (included) to `end` (excluded); they wrap midnight when end is before start.

    Raises
    ------
    ImpossibleHours
        When start and end are equal: that would be the whole day, or nothing.
    """

    start: time
    end: time

    def __post_init__(self) -> None:
        if self.start == self.end:
            raise ImpossibleHours(
                f"Hours from {self.start:%H:%M} to {self.end:%H:%M} have no length. "
                "Give two different times, for example 20:00-07:30, or no hours at all."
            )

    def __contains__(self, moment: time) -> bool:
        if self.start < self.end:
            return self.start <= moment < self.end
        return moment >= self.start or moment < self.end

    def __str__(self) -> str:
        return f"{self.start:%H:%M}-{self.end:%H:%M}"


QUIET_FROM, QUIET_UNTIL = 20 * 60, 7 * 60 + 30
"""What holds where nothing else is said [min after local midnight]."""

DEFAULT_QUIET = QuietHours(time_of(QUIET_FROM), time_of(QUIET_UNTIL))


def quiet_hours(start: int | None, end: int | None) -> tuple[QuietHours, ...]:
    """Return quiet hours as they are stored; none where an end is missing or they have no length.

    Parameters
    ----------
    start, end : int or None
        Minutes after local midnight [0..1439].
    """
    if start is None or end is None or start == end:
        return ()
    return (QuietHours(time_of(start), time_of(end)),)


def in_quiet_hours(clock: time | int, quiet: Iterable[QuietHours]) -> bool:
    """Whether a time of day, or a minute after midnight, lies in some of the quiet hours.

    Parameters
    ----------
    clock : time or int
        Local time of day; an int is minutes after midnight.
    quiet : iterable of QuietHours
        Stretches of the day; one may go over midnight.
    """
    now = time_of(clock)
    return any(now in hours for hours in quiet)
