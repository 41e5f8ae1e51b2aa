"""Parts that timetable sheets and calendars share: what has been read so far, and the meaning of single cells."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import date

from storage.files.problem import Problem, problem
from storage.files.rows import fold
from storage.files.values import HolidayRow, LessonRow, QuizKind, QuizRow, TimetableFile

_YES = {"x", "yes", "y", "ja", "oui", "si", "true", "1", "✓", "✔"}
_NO = {"no", "n", "nein", "non", "-", "–", "none", "keine", "false", "0"}


@dataclass
class PlanSoFar:
    """What has been read so far, and the first spelling of every topic."""

    lessons: list[LessonRow] = field(default_factory=list)
    quizzes: list[QuizRow] = field(default_factory=list)
    holidays: list[HolidayRow] = field(default_factory=list)
    spellings: dict[str, str] = field(default_factory=dict)

    def spelling(self, topic: str) -> str:
        """Give the first spelling of a topic, so that case and quotes make no second one."""
        return self.spellings.setdefault(fold(topic), topic)

    def file(self) -> TimetableFile:
        """Give what has been read as one value."""
        return TimetableFile(tuple(self.lessons), tuple(self.quizzes), tuple(self.holidays))


def unnamed(written: QuizKind, day: date) -> str:
    """Name a quiz that has no name by its day."""
    return f"{written.capitalize()} {day.isoformat()}"


def homework_text(written: str) -> str | None:
    """Give the text of a homework cell.

    Examples
    --------
    >>> homework_text("p. 12, no. 3"), homework_text("ja"), homework_text("-")
    ('p. 12, no. 3', 'homework', None)
    """
    word = fold(written).rstrip(".")
    if word in _NO:
        return None
    return "homework" if word in _YES else written


def topic_list(written: str | None) -> tuple[str, ...] | None:
    """Cut a list of topics at ; | and line breaks; None (since the last quiz) if nothing is written."""
    parts = [part.strip() for part in re.split(r"[;|\n]", written or "")]
    return tuple(part for part in parts if part) or None


def resolve_topics(
    written: tuple[str, ...], known: dict[str, str]
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Give the known spelling of each topic, and those that are unknown.

    A part with commas is one topic if there is such a topic, else a list.

    Examples
    --------
    >>> resolve_topics(("forces, springs",), {"forces": "Forces", "springs": "Springs"})
    (('Forces', 'Springs'), ())
    """
    parts = [part for one in written for part in ([one] if fold(one) in known else one.split(","))]
    topics = [known.get(fold(part)) for part in parts]
    unknown = tuple(
        part.strip() for part, topic in zip(parts, topics, strict=True) if topic is None and part.strip()
    )
    return tuple(dict.fromkeys(topic for topic in topics if topic is not None)), unknown


def holiday_notes(file: TimetableFile) -> Iterator[Problem]:
    """Note lessons that fall into a holiday, one note for each holiday."""
    for holiday in file.holidays:
        inside = [one for one in file.lessons if holiday.first_day <= one.day <= holiday.last_day]
        if inside:
            found = problem("lesson_in_holiday", found=inside[0].topic, other=holiday.name, size=len(inside))
            yield replace(found, row=inside[0].row)
