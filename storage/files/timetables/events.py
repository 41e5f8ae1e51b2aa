"""What a calendar file holds, as plain values that pass between the reading child and its parent."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, time
from typing import Any

from storage.files.problem import Problem
from storage.files.reading.child import problem_from_plain, problem_to_plain


@dataclass(frozen=True)
class Occurrence:
    """One event on one day, in the class's own time.

    Attributes
    ----------
    number : int
        Which event of the file it comes from, counted from 1.
    title, description : str
        As written; the description may be empty.
    categories : tuple of str
        As written.
    first_day, last_day : date
        Both included.
    start, end : time or None
        None for an all-day event; ``end`` is None too if the event has no length or passes midnight.
    """

    number: int
    title: str
    description: str
    categories: tuple[str, ...]
    first_day: date
    last_day: date
    start: time | None
    end: time | None


@dataclass(frozen=True)
class CalendarEvents:
    """What a calendar holds: occurrences in order of time, how many events it has, and every problem."""

    occurrences: tuple[Occurrence, ...]
    count: int
    problems: tuple[Problem, ...]


def events_to_plain(events: CalendarEvents) -> dict[str, Any]:
    """Turn events into something JSON can carry."""
    return {
        "count": events.count,
        "problems": [problem_to_plain(one) for one in events.problems],
        "occurrences": [
            {
                "number": one.number,
                "title": one.title,
                "description": one.description,
                "categories": list(one.categories),
                "first_day": one.first_day.isoformat(),
                "last_day": one.last_day.isoformat(),
                "start": one.start.isoformat() if one.start else None,
                "end": one.end.isoformat() if one.end else None,
            }
            for one in events.occurrences
        ],
    }


def events_from_plain(plain: dict[str, Any]) -> CalendarEvents:
    """Turn what ``events_to_plain`` gave back into events."""
    occurrences = tuple(
        Occurrence(
            number=one["number"],
            title=one["title"],
            description=one["description"],
            categories=tuple(one["categories"]),
            first_day=date.fromisoformat(one["first_day"]),
            last_day=date.fromisoformat(one["last_day"]),
            start=time.fromisoformat(one["start"]) if one["start"] else None,
            end=time.fromisoformat(one["end"]) if one["end"] else None,
        )
        for one in plain["occurrences"]
    )
    return CalendarEvents(
        occurrences, plain["count"], tuple(problem_from_plain(one) for one in plain["problems"])
    )
