"""A file from its bytes to something that can be kept: read, its answer keys tried, put into words.

Everything slow is here (the file is parsed in a child process) and nothing that touches the class; what follows is in
`bot.service.teacher.uploads`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import date, datetime
from typing import Any

from pydantic import TypeAdapter

from bot.service.teacher.question_rows import MadeQuestion, RowProblem, first_examples, language_of, made_of
from bot.teaching.school_days import open_on
from bot.words import Words, words
from bot.words.problems import label, sentence
from scheduler.calendar.zones import local_day
from storage.base.database import Session
from storage.base.rows import id_of
from storage.files.problem import UNDECIDED, Choices, Problem
from storage.files.questions import read_questions
from storage.files.reading.opened import OpenedFile
from storage.files.roster import read_roster
from storage.files.scores import read_scores
from storage.files.timetables.plan import DAY_NOTES
from storage.files.timetables.timetable import read_timetable
from storage.files.values import (
    KnownSchoolDays,
    QuestionsFile,
    Reading,
    RosterFile,
    ScoresFile,
    TimetableFile,
)
from storage.school import classes, timetable, uploads
from storage.tables import SchoolClass, UploadKind

ANY_QUIZ = "?"
"""The quiz of a score whose sheet names none: the teacher is asked."""


@dataclass(frozen=True)
class KnownClass:
    """What reading a file needs to know of the class; `language` is that of who sends it."""

    class_id: int
    zone: str
    today: date
    topics: tuple[str, ...]
    school: KnownSchoolDays
    language: str = "en"
    class_language: str = ""


@dataclass(frozen=True)
class PreparedUpload:
    """A file that was read: JSON-able `content` for the upload, and what was wrong.

    Attributes
    ----------
    usable : bool
        Whether there are rows that can be stored.
    problems : tuple of str
        Sentences with row and column.
    doubtful : bool
        Whether there is more among them than mere notes: something is left out, or may be meant otherwise.
    asks : tuple of (str, str, str)
        The readings to choose from where the file is doubtful: what about, what to choose, and how it is shown.
    reading : Reading or None
        What the reader gave, as values; None where nothing was read.
    refused_rows : tuple of RowProblem
        What is wrong in rows of a question sheet that cannot be used although their cells could be read.
    """

    kind: UploadKind
    name: str
    content: Mapping[str, Any]
    usable: bool
    problems: tuple[str, ...] = ()
    doubtful: bool = False
    asks: tuple[tuple[str, str, str], ...] = ()
    reading: Reading[Any] | None = None
    refused_rows: tuple[RowProblem, ...] = ()


def known_class(session: Session, class_id: int, now: datetime) -> KnownClass:
    """Return what reading a file needs to know of a class."""
    school_class = classes.get(session, class_id)
    names = tuple(one.name for one in timetable.topics(session, class_id, now))
    return KnownClass(
        class_id,
        school_class.zone,
        local_day(now, school_class.zone),
        names,
        _school_days(session, school_class),
        class_language=school_class.language or "",
    )


def _school_days(session: Session, school_class: SchoolClass) -> KnownSchoolDays:
    """Return the weekdays on which the class is at school, and the holidays that a new timetable leaves in place."""
    class_id = id_of(school_class)
    by_hand = uploads.added_by_hand(session, class_id)["holiday"]
    holidays = tuple(
        replace(one, name=one.name or one.first_day.isoformat())
        for one in timetable.holidays(session, class_id)
        if one.id in by_hand
    )
    hours = tuple((weekday, begins, ends) for weekday, begins, ends in school_class.lesson_hours)
    return KnownSchoolDays(open_on(school_class.school_weekdays), holidays, hours)


def prepare(
    kind: UploadKind,
    data: bytes | OpenedFile,
    name: str,
    known: KnownClass,
    *,
    choices: Choices = UNDECIDED,
) -> PreparedUpload:
    """Read a file as one kind. Takes up to some seconds: never within a transaction or the event loop.

    `choices` is what the teacher has decided about it so far, see `storage.files.problem.Choices`.
    """
    match kind:
        case UploadKind.TIMETABLE:
            reading: Reading[Any] = read_timetable(
                data,
                name,
                zone=known.zone,
                today=known.today,
                choices=choices,
                known_topics=known.topics,
                school=known.school,
            )
        case UploadKind.QUESTIONS:
            reading = read_questions(data, name, known_topics=known.topics or None, choices=choices)
            return _with_keys(reading, name, known, choices)
        case UploadKind.ROSTER:
            reading = read_roster(data, name, choices=choices)
        case UploadKind.SCORES:
            reading = read_scores(data, name, quiz=ANY_QUIZ, choices=choices)
    problems = tuple(sentence(one, words(known.language)) for one in reading.problems)
    content = {"file": _as_json(reading.value), "choices": dict(choices)}
    return _prepared(kind, name, reading, content, len(reading.value), problems, (), words(known.language))


def recognise(data: bytes, name: str, known: KnownClass) -> PreparedUpload | None:
    """Read a file as the kind that its content shows; None when it could be several, or none.

    It is parsed once, and understood as each kind.
    """
    file = OpenedFile(data, name)
    tried = [prepare(kind, file, name, known) for kind in UploadKind]
    fitting = _fitting(tried)
    if not fitting and all(one.content["refused"] for one in tried):
        return tried[0]  # nothing at all can be read from it: the first says why
    if not fitting:
        # A question that comes before all reading, such as the encoding: the kind shows under any answer to it.
        fitting = _fitting([_supposed(one, file, known) for one in tried])
        kinds = {one.kind for one in fitting}
        fitting = [one for one in tried if one.kind in kinds]
    return fitting[0] if len(fitting) == 1 else None


def _fitting(tried: Sequence[PreparedUpload]) -> list[PreparedUpload]:
    """Return the readings that understood most columns."""
    usable = [one for one in tried if one.usable]
    best = max((one.content["columns"] for one in usable), default=0)
    return [one for one in usable if one.content["columns"] == best]


def _supposed(one: PreparedUpload, file: OpenedFile, known: KnownClass) -> PreparedUpload:
    """Read on as if the first reading were always chosen, to see the kind of a file; nothing of it is kept."""
    supposed: dict[str, str] = {}
    while one.asks and one.asks[0][0] not in supposed:
        about, chosen, _shown = one.asks[0]
        supposed[about] = chosen
        one = prepare(one.kind, file, one.name, known, choices=supposed)
    return one


def _with_keys(
    reading: Reading[QuestionsFile], name: str, known: KnownClass, choices: Choices
) -> PreparedUpload:
    drafts, refused_rows, used = [], list[RowProblem](), list[MadeQuestion]()
    said, language = words(known.language), language_of(known.class_language, known.language)
    problems = [sentence(one, said) for one in reading.problems]
    for row in reading.value.questions:
        made = made_of(row, language, said)
        if made.draft is None:
            refused_rows += made.problems
            problems += [one.sentence for one in made.problems]
            continue
        if row.picture:
            problems.append(said.text("file.picture", row=row.row, picture=row.picture))
        drafts.append(made.draft)
        used.append(made)
    content = {
        "drafts": [asdict(draft) for draft in drafts],
        "choices": dict(choices),
        "examples": first_examples(used),
        "unexplained": sum(one.unexplained for one in used),
    }
    return _prepared(UploadKind.QUESTIONS, name, reading, content, len(drafts), problems, refused_rows, said)


def _prepared(
    kind: UploadKind,
    name: str,
    reading: Reading[Any],
    content: Mapping[str, Any],
    good: int,
    problems: Sequence[str],
    refused_rows: Sequence[RowProblem],
    said: Words,
) -> PreparedUpload:
    asked = next((one.options for one in reading.questions if one.options), ())
    options = [[label(one, said), one.about, one.chosen] for one in asked]
    return PreparedUpload(
        kind,
        name,
        {
            **content,
            "rows_read": reading.rows_read,
            "good_rows": good,
            "problems": list(problems),
            "bad_rows": len({*reading.rows_with_problems, *(one.row for one in refused_rows)}),
            "options": options,
            "refused": reading.refused,
            "columns": sum(1 for one in reading.columns if one.field) or (9 if reading.kind == "ics" else 0),
        },
        usable=not reading.refused and good > 0,
        problems=tuple(problems),
        doubtful=len(problems) > sum(is_mere_note(one) for one in reading.problems),
        asks=tuple((about, chosen, shown) for shown, about, chosen in options),
        reading=reading,
        refused_rows=tuple(refused_rows),
    )


_MERE_NOTES = DAY_NOTES | {
    "columns_unread",
    "column_total",
    "people_left",
    "sheets_hidden",
    "events_outside",
    "heading_assumed",
    "year_added",
    "table_turned",
    "table_grid",
}


def is_mere_note(one: Problem) -> bool:
    """Whether a problem only says how a file was read, and nothing is doubtful: no column comes close to another."""
    return one.code in _MERE_NOTES and not dict(one.fields).get("hint")


def _as_json(value: TimetableFile | RosterFile | ScoresFile) -> Any:
    adapter: TypeAdapter[Any] = TypeAdapter(type(value))
    return adapter.dump_python(value, mode="json")
