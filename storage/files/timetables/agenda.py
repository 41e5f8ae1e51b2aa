"""Timetables that come as calendars: one event per entry, its title saying what it is."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Iterator
from dataclasses import replace
from datetime import date, timedelta

from storage.files.folding import fold
from storage.files.headings import did_you_mean, plain_heading
from storage.files.problem import UNDECIDED, Choices, Problem, problem
from storage.files.reading import limits
from storage.files.reading.opened import OpenedFile
from storage.files.timetables.events import Occurrence, events_from_plain
from storage.files.timetables.kinds import TitleKind, kind_named, kind_of_title
from storage.files.timetables.plan import (
    PlanSoFar,
    day_notes,
    homework_text,
    resolve_topics,
    topic_list,
    unnamed,
)
from storage.files.timetables.timetable_fields import FIELDS
from storage.files.values import (
    HolidayRow,
    KnownSchoolDays,
    LessonRow,
    QuizRow,
    Reading,
    TimetableFile,
)
from storage.values import QuizKind

_DESCRIPTION_LINE = re.compile(r"\s*(?P<what>[^:\n]{1,30}):\s*(?P<text>.+)")
_SAME_TITLES = 5


def read_calendar(
    opened_file: OpenedFile,
    zone: str,
    today: date,
    known_topics: Collection[str],
    school: KnownSchoolDays,
    choices: Choices = UNDECIDED,
) -> Reading[TimetableFile]:
    """Read every occurrence of a calendar around today."""
    reach = timedelta(days=limits.WINDOW_DAYS)
    details = {"zone": zone, "first": (today - reach).isoformat(), "last": (today + reach).isoformat()}
    if "encoding" in choices:
        details["encoding"] = choices["encoding"]
    events = events_from_plain(opened_file.events(**details))
    titles = frozenset(
        plain_heading(title) for title in [*known_topics, *(one.title for one in events.occurrences)]
    )
    found = PlanSoFar(titles=titles, tests=choices.get("tests"))
    problems = list(events.problems)
    quizzes: list[QuizRow] = []
    for one in events.occurrences:
        problems.extend(_take_event(one, found, quizzes))
    problems.extend(_check_event_quizzes(quizzes, found, known_topics))
    problems.extend(_calendar_notes(found))
    problems.extend(replace(doubt, place="event") for doubt in found.doubts())
    file = found.file()
    notes = [replace(note, place="event") for note in day_notes(file, school)]
    ordered = sorted([*problems, *notes], key=lambda one: one.row or 0)
    return Reading(file, tuple(ordered), events.count, opened_file.name, "ics")


def _take_event(one: Occurrence, found: PlanSoFar, quizzes: list[QuizRow]) -> Iterator[Problem]:
    """Put one occurrence where it belongs, giving a problem if that is not clear."""
    kind = _event_kind(one, found)
    if kind is None:
        return
    days = (one.last_day - one.first_day).days + 1
    lines = dict(_description_lines(one.description))
    if kind.written == "holiday":
        if days > limits.HOLIDAY_DAYS:
            yield _event_problem(one, problem("holiday_long", size=days, limit=limits.HOLIDAY_DAYS))
        else:
            found.holidays.append(HolidayRow(one.number, one.first_day, one.last_day, kind.rest or "Holiday"))
    elif days > 1:
        yield _event_problem(one, problem("event_span", found=one.title, size=days))
    elif kind.written == "lesson":
        topic = found.spelling(kind.rest)
        homework = homework_text(lines["homework"]) if "homework" in lines else None
        found.lessons.append(LessonRow(one.number, topic, one.first_day, one.start, one.end, homework))
    else:
        written: QuizKind = "exam" if kind.written == "exam" else "quiz"
        title = kind.rest or unnamed(written, one.first_day)
        topics = topic_list(lines.get("topics"))
        quizzes.append(QuizRow(one.number, title, one.first_day, one.start, topics, written))


def _event_kind(one: Occurrence, found: PlanSoFar) -> TitleKind | None:
    """Tell the kind of an event from its title, a category, or holiday words in an all-day title; None in doubt."""
    named = next((kind for word in one.categories if (kind := kind_named(word))), None)
    plain = kind_of_title(one.title, anywhere=one.start is None)
    if named and (plain.written == "lesson" or plain.doubtful):
        return TitleKind(named, plain.rest)
    return found.kind(one.number, one.title, anywhere=one.start is None)


def _description_lines(description: str) -> Iterator[tuple[str, str]]:
    """Give the lines of a description that begin with a known heading and a colon."""
    known = {word: part.name for part in FIELDS if part.name in ("homework", "topics") for word in part.words}
    for line in description.splitlines():
        found = _DESCRIPTION_LINE.fullmatch(line)
        if found and fold(found["what"]) in known:
            yield known[fold(found["what"])], found["text"].strip()


def _check_event_quizzes(
    quizzes: list[QuizRow], found: PlanSoFar, known_topics: Collection[str]
) -> Iterator[Problem]:
    """Take over the quizzes of a calendar whose topics are known."""
    known = {fold(topic): topic for topic in known_topics} | found.spellings
    for quiz in quizzes:
        topics, unknown = resolve_topics(quiz.topics or (), known)
        for topic in unknown:
            hint = did_you_mean(topic, list(known.values()))
            yield replace(problem("topic_unknown", found=topic, hint=hint), row=quiz.row, place="event")
        if not unknown:
            found.quizzes.append(replace(quiz, topics=topics or None))


def _calendar_notes(found: PlanSoFar) -> Iterator[Problem]:
    """Note titles that stand for many lessons: then the title is probably the subject, not a topic."""
    for title, count in Counter(lesson.topic for lesson in found.lessons).items():
        if count >= _SAME_TITLES:
            yield problem("events_same_title", found=title, size=count)


def _event_problem(one: Occurrence, what: Problem) -> Problem:
    return replace(what, row=one.number, place="event")
