"""Parts that timetable sheets and calendars share: what has been read so far, and the meaning of single cells."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from storage.files.folding import fold
from storage.files.problem import Phrase, PossibleReading, Problem, Weekday, problem
from storage.files.timetables.kinds import TitleKind, kind_of_title
from storage.files.values import HolidayRow, KnownSchoolDays, LessonRow, QuizRow, TimetableFile
from storage.values import HolidayInfo, QuizKind

_YES = {"x", "yes", "y", "ja", "oui", "si", "true", "1", "✓", "✔"}
_NO = {"no", "n", "nein", "non", "-", "–", "none", "keine", "false", "0"}


@dataclass
class PlanSoFar:
    """What has been read so far, and the first spelling of every topic.

    Attributes
    ----------
    titles : frozenset of str
        All titles of the file and topics of the class, in plain lower case.
    german : bool
        Whether the file is German.
    tests : {'quiz', 'lesson', None}
        What the teacher has decided about titles that can be a quiz or the topic of a lesson.
    doubtful : list of (int, str)
        Row and title of those that have to be asked about.
    """

    lessons: list[LessonRow] = field(default_factory=list)
    quizzes: list[QuizRow] = field(default_factory=list)
    holidays: list[HolidayRow] = field(default_factory=list)
    spellings: dict[str, str] = field(default_factory=dict)
    titles: frozenset[str] = frozenset()
    german: bool = False
    tests: str | None = None
    doubtful: list[tuple[int, str]] = field(default_factory=list)

    def kind(self, number: int, title: str, *, anywhere: bool = False) -> TitleKind | None:
        """Tell the kind of an entry from its title; None for one that has to be asked about first."""
        kind = kind_of_title(title, anywhere=anywhere, topics=self.titles, german=self.german)
        if not kind.doubtful:
            return kind
        if self.tests == "lesson":
            return TitleKind("lesson", kind.rest)
        if self.tests == "quiz":
            return kind
        self.doubtful.append((number, title.strip()))
        return None

    def doubts(self) -> Iterator[Problem]:
        """Ask once about all titles that can be a quiz or the topic of a lesson."""
        if self.doubtful:
            number, title = self.doubtful[0]
            count = len(self.doubtful) - 1
            more = Phrase("same_rows", (("n", count),)) if count else ""
            yield replace(
                problem("title_two_ways", found=title, more=more),
                row=number,
                rows=tuple(sorted({row for row, _title in self.doubtful})),
                options=(PossibleReading("tests", "quiz"), PossibleReading("tests", "lesson")),
            )

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


DAY_NOTES = frozenset({"lesson_in_holiday", "quiz_in_holiday", "lesson_off_weekday", "quiz_off_weekday"})
"""What `day_notes` can note: nothing is wrong with such a row, the teacher decides."""


def day_notes(file: TimetableFile, school: KnownSchoolDays) -> Iterator[Problem]:
    """Note what falls on days without school: one note for each holiday, and one for all weekdays without school."""
    spans = {(one.first_day, one.last_day) for one in file.holidays}
    more = [one for one in school.holidays if (one.first_day, one.last_day) not in spans]
    holidays: list[HolidayRow | HolidayInfo] = [*file.holidays, *more]
    for kind, rows in (("lesson", file.lessons), ("quiz", file.quizzes)):
        for holiday in holidays:
            yield from _note(
                f"{kind}_in_holiday", [one for one in rows if _inside(one, holiday)], holiday.name
            )
        free = [one for one in rows if not any(_inside(one, holiday) for holiday in holidays)]
        yield from _note(
            f"{kind}_off_weekday", [one for one in free if one.day.weekday() not in school.weekdays]
        )


def _inside(row: LessonRow | QuizRow, holiday: HolidayRow | HolidayInfo) -> bool:
    return holiday.first_day <= row.day <= holiday.last_day


def _note(code: str, rows: Sequence[LessonRow | QuizRow], holiday: str = "") -> Iterator[Problem]:
    if rows:
        first = rows[0]
        title = first.topic if isinstance(first, LessonRow) else first.name
        weekday = Weekday(first.day.weekday())
        yield replace(
            problem(code, found=title, other=holiday, size=len(rows), weekday=weekday), row=first.row
        )
