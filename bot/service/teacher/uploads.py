"""A file from its bytes to the class: read, kept, previewed, applied, taken back.

`prepare` does everything slow (the file is parsed in a child process, every answer key is tried) and touches no
database; the others are short and run in the caller's transaction. The conversation and ``holdfast import`` use
the same functions, so a file means the same wherever it comes from.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from datetime import date, datetime
from typing import Any

from pydantic import TypeAdapter

from bot.grading.drawn import TemplateProblem
from bot.grading.keys import from_dict, shown
from bot.grading.kinds import KINDS
from bot.grading.upload import KeyProblem
from bot.service.asking import planning
from bot.service.teacher.calendar import ensure_class_work
from bot.service.teacher.question_rows import MadeQuestion, column_of, first_examples, language_of, made_of
from bot.talk.teacher.effects import ListLine, Preview
from bot.words import Words, words
from bot.words.problems import label, sentence
from scheduler.calendar.zones import local_day
from storage.base.database import Session
from storage.base.errors import InvalidValue, NotFound, refused
from storage.base.rows import id_of
from storage.files.problem import UNDECIDED, Choices, Problem
from storage.files.questions import read_questions
from storage.files.roster import read_roster
from storage.files.scores import read_scores
from storage.files.timetables.difference import Change, TopicChange
from storage.files.timetables.plan import DAY_NOTES
from storage.files.timetables.timetable import read_timetable
from storage.files.values import (
    HolidayRow,
    KnownSchoolDays,
    QuestionsFile,
    Reading,
    RosterFile,
    ScoresFile,
    TimetableFile,
)
from storage.school import classes, enrolments, questions, scores, timetable, timetable_change, uploads
from storage.school.change_journal import Journal
from storage.school.questions import QuestionDraft
from storage.tables import Enrolment, EnrolmentState, SchoolClass, Upload, UploadKind, UploadState

ANY_QUIZ = "?"
"""The quiz of a score whose sheet names none: the teacher is asked."""

QUIZZES_OFFERED = 6


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
    key_problems : tuple of (int, KeyProblem)
        Rows of a question sheet whose answer cannot be used, and why.
    template_problems : tuple of (int, str, TemplateProblem)
        Rows whose values cannot be drawn, the column, and why.
    """

    kind: UploadKind
    name: str
    content: Mapping[str, Any]
    usable: bool
    problems: tuple[str, ...] = ()
    doubtful: bool = False
    asks: tuple[tuple[str, str, str], ...] = ()
    reading: Reading[Any] | None = None
    key_problems: tuple[tuple[int, KeyProblem], ...] = ()
    template_problems: tuple[tuple[int, str, TemplateProblem], ...] = ()

    @property
    def refused_rows(self) -> set[int]:
        """Rows of a question sheet that the reader understood, but that cannot be used."""
        return {row for row, _ in self.key_problems} | {row for row, _, _ in self.template_problems}


@dataclass(frozen=True)
class Applied:
    """What applying an upload came to; `counts` says how much of what: ``lessons``, ``moved``, ``students``."""

    class_id: int
    kind: UploadKind
    file_name: str
    counts: Mapping[str, int] = field(default_factory=dict)


# ---------------------------------------------------------------- reading


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
    """Return the class's school weekdays and the holidays that a new timetable leaves in place: those added by hand."""
    class_id = id_of(school_class)
    by_hand = uploads.added_by_hand(session, class_id)["holiday"]
    holidays = tuple(
        HolidayRow(0, one.first_day, one.last_day, one.name or one.first_day.isoformat())
        for one in timetable.holidays(session, class_id)
        if one.id in by_hand
    )
    return KnownSchoolDays(frozenset(school_class.school_weekdays), holidays)


def prepare(
    kind: UploadKind, data: bytes, name: str, known: KnownClass, *, choices: Choices = UNDECIDED
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
    """Read a file as the kind that its content shows; None when it could be several, or none."""
    tried = [prepare(kind, data, name, known) for kind in UploadKind]
    fitting = _fitting(tried)
    if not fitting and all(one.content["refused"] for one in tried):
        return tried[0]  # nothing at all can be read from it: the first says why
    if not fitting:
        # A question that comes before all reading, such as the encoding: the kind shows under any answer to it.
        fitting = _fitting([_supposed(one, data, known) for one in tried])
        kinds = {one.kind for one in fitting}
        fitting = [one for one in tried if one.kind in kinds]
    return fitting[0] if len(fitting) == 1 else None


def _fitting(tried: Sequence[PreparedUpload]) -> list[PreparedUpload]:
    """Return the readings that understood most columns."""
    usable = [one for one in tried if one.usable]
    best = max((one.content["columns"] for one in usable), default=0)
    return [one for one in usable if one.content["columns"] == best]


def _supposed(one: PreparedUpload, data: bytes, known: KnownClass) -> PreparedUpload:
    """Read on as if the first reading were always chosen, to see the kind of a file; nothing of it is kept."""
    supposed: dict[str, str] = {}
    while one.asks and one.asks[0][0] not in supposed:
        about, chosen, _shown = one.asks[0]
        supposed[about] = chosen
        one = prepare(one.kind, data, one.name, known, choices=supposed)
    return one


def _with_keys(
    reading: Reading[QuestionsFile], name: str, known: KnownClass, choices: Choices
) -> PreparedUpload:
    drafts, used = [], list[MadeQuestion]()
    refused_templates: list[tuple[int, str, TemplateProblem]] = []
    refused_keys: list[tuple[int, KeyProblem]] = []
    said, language = words(known.language), language_of(known.class_language, known.language)
    problems = [sentence(one, said) for one in reading.problems]
    for row in reading.value.questions:
        made = made_of(row, language, said)
        problems += made.problems
        if made.draft is None:
            refused_keys += [(row.row, one) for one in made.key_problems]
            refused_templates += [
                (row.row, column_of(one, is_choice=bool(row.wrong_options)), one)
                for one in made.template_problems
            ]
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
    return _prepared(
        UploadKind.QUESTIONS,
        name,
        reading,
        content,
        len(drafts),
        problems,
        refused_keys,
        said,
        refused_templates,
    )


def _prepared(
    kind: UploadKind,
    name: str,
    reading: Reading[Any],
    content: Mapping[str, Any],
    good: int,
    problems: Sequence[str],
    refused_keys: Sequence[tuple[int, KeyProblem]],
    said: Words,
    refused_templates: Sequence[tuple[int, str, TemplateProblem]] = (),
) -> PreparedUpload:
    asked = next((one.options for one in reading.questions if one.options), ())
    refused_rows = {row for row, *_ in (*refused_keys, *refused_templates)}
    options = [[label(one, said), one.about, one.chosen] for one in asked]
    return PreparedUpload(
        kind,
        name,
        {
            **content,
            "rows_read": reading.rows_read,
            "good_rows": good,
            "problems": list(problems),
            "bad_rows": len({*reading.rows_with_problems, *refused_rows}),
            "options": options,
            "refused": reading.refused,
            "columns": sum(1 for one in reading.columns if one.field) or (9 if reading.kind == "ics" else 0),
        },
        usable=not reading.refused and good > 0,
        problems=tuple(problems),
        doubtful=len(problems) > sum(is_mere_note(one) for one in reading.problems),
        asks=tuple((about, chosen, shown) for shown, about, chosen in options),
        reading=reading,
        key_problems=tuple(refused_keys),
        template_problems=tuple(refused_templates),
    )


_MERE_NOTES = DAY_NOTES | {"columns_unread", "column_total", "people_left", "sheets_hidden", "events_outside"}


def is_mere_note(one: Problem) -> bool:
    """Whether a problem only says how a file was read, and nothing is doubtful: no column comes close to another."""
    return one.code in _MERE_NOTES and not dict(one.fields).get("hint")


_ADAPTERS: Mapping[UploadKind, TypeAdapter[Any]] = {
    UploadKind.TIMETABLE: TypeAdapter(TimetableFile),
    UploadKind.ROSTER: TypeAdapter(RosterFile),
    UploadKind.SCORES: TypeAdapter(ScoresFile),
}


def _as_json(value: TimetableFile | RosterFile | ScoresFile) -> Any:
    adapter: TypeAdapter[Any] = TypeAdapter(type(value))
    return adapter.dump_python(value, mode="json")


def _file(upload: Upload) -> Any:
    return _ADAPTERS[upload.kind].validate_python(upload.content["file"])


def _drafts(upload: Upload) -> list[QuestionDraft]:
    return [QuestionDraft(**draft) for draft in upload.content["drafts"]]


# ---------------------------------------------------------------- keeping


def store(
    session: Session,
    class_id: int,
    prepared: PreparedUpload,
    now: datetime,
    *,
    person_id: int | None = None,
    upload_id: int | None = None,
) -> int:
    """Keep a file that was read until somebody says what to do with it; the class stays as it is."""
    content = {**prepared.content, "usable": prepared.usable}
    if upload_id is None:
        kept = uploads.store(
            session, class_id, prepared.kind, prepared.name, content, now, person_id=person_id
        )
        return id_of(kept)
    upload = pending(session, upload_id)
    old = {name: value for name, value in upload.content.items() if name in ("blob", "key")}
    uploads.refill(session, upload, prepared.kind, {**old, **content})
    return upload_id


def pending(session: Session, upload_id: int) -> Upload:
    """Return an upload that waits for a word. Raises `NotFound` for one that was dealt with."""
    upload = uploads.get(session, upload_id)
    if upload.state != UploadState.PENDING:
        raise refused(NotFound, "file_done")
    return upload


# ---------------------------------------------------------------- looking


def preview(session: Session, upload_id: int) -> Preview:
    """Return what an upload holds and would change, for a teacher to look at."""
    return _seen(session, pending(session, upload_id))


def outlook(
    session: Session,
    class_id: int,
    prepared: PreparedUpload,
    now: datetime,
    *,
    quiz_id: int | None = None,
    not_renamed: Sequence[tuple[str, str]] = (),
) -> Preview:
    """Return what a file would change if it was stored; nothing is written.

    Parameters
    ----------
    session : Session
        An open transaction; it may be one that only reads.
    class_id : int
        The class that the file is for.
    prepared : PreparedUpload
        The file as it was read.
    now : datetime
        The present moment.
    quiz_id : int, optional
        The quiz of the scores, where the file does not tell.
    not_renamed : sequence of (str, str)
        Pairs of old and new topics that are two topics each.
    """
    content = {
        **prepared.content,
        "usable": prepared.usable,
        "not_renamed": [list(one) for one in not_renamed],
    }
    if quiz_id is not None:
        timetable.quiz_of(session, class_id, quiz_id)
        content["quiz_id"] = quiz_id
    unstored = Upload(
        class_id=class_id, kind=prepared.kind, file_name=prepared.name, content=content, created_at=now
    )
    return _seen(session, unstored)


def _seen(session: Session, upload: Upload) -> Preview:
    content = upload.content
    looks = {
        UploadKind.TIMETABLE: _timetable_preview,
        UploadKind.QUESTIONS: _questions_preview,
        UploadKind.ROSTER: _roster_preview,
        UploadKind.SCORES: _scores_preview,
    }
    more = looks[upload.kind](session, upload) if content["usable"] else {"counts": {}}
    return Preview(
        upload_id=upload.id or 0,  # 0: it was not stored
        kind=upload.kind.value,
        name=upload.file_name,
        rows_read=content["rows_read"],
        good_rows=content["good_rows"],
        problems=tuple(content["problems"]),
        rows_with_problems=content["bad_rows"],
        options=tuple((text, about, chosen) for text, about, chosen in content["options"]),
        **{"usable": content["usable"], **more},
    )


def _timetable_preview(session: Session, upload: Upload) -> dict[str, Any]:
    file, changed = _timetable(session, upload)
    counts = {
        "lessons": len(file.lessons),
        "quizzes": len(file.quizzes),
        "holidays": len(file.holidays),
    }
    if changed.first:
        return {"counts": counts}
    return {
        "counts": counts,
        "changes": _changes(changed),
        "lines": tuple(_lines(changed)),
        "doubtful": bool(changed.difference.doubtful),
    }


def _timetable(session: Session, upload: Upload) -> tuple[TimetableFile, timetable_change.TimetableChange]:
    file: TimetableFile = _file(upload)
    school_class = classes.get(session, upload.class_id)
    not_renamed = [(old, new) for old, new in upload.content.get("not_renamed", ())]
    return file, timetable_change.change(session, school_class, file, not_renamed=not_renamed)


def _changes(changed: timetable_change.TimetableChange) -> dict[str, int]:
    """Add up what happens to lessons, quizzes and holidays; a renamed topic counts once."""
    tallies = changed.difference.counts().values()
    found = {what: sum(one[what] for one in tallies) for what in ("moved", "changed", "new", "dropped")}
    renamed = sum(1 for one in changed.difference.topics if one.renamed)
    renamed += (
        changed.difference.counts()["quizzes"]["renamed"] + changed.difference.counts()["holidays"]["renamed"]
    )
    return {"moved": found["moved"], "renamed": renamed, **found}


def _lines(changed: timetable_change.TimetableChange) -> list[ListLine]:
    found = [_topic_line(one) for one in changed.difference.topics if one.renamed]
    everything: list[Change[Any, Any]] = [
        *changed.difference.lessons,
        *changed.difference.quizzes,
        *changed.difference.holidays,
    ]
    return found + [line for one in everything if (line := _line(one)) is not None]


def _topic_line(one: TopicChange) -> ListLine:
    return ListLine("renamed" if one.sure else "guessed", {"before": one.before, "after": one.after})


def _line(one: Change[Any, Any]) -> ListLine | None:
    if one.new:
        return ListLine("new", {"what": _title(one.after), "day": _day(one.after)})
    if one.dropped:
        return ListLine("dropped", {"what": _title(one.before), "day": _day(one.before)})
    if one.moved:
        return ListLine(
            "moved", {"what": _title(one.after), "before": _when(one.before), "after": _when(one.after)}
        )
    if one.same or one.renamed:
        return None
    return ListLine("changed", {"what": _title(one.after), "day": _day(one.after)})


def _title(entry: Any) -> str:
    return getattr(entry, "topic", None) or entry.name or "–"


def _day(entry: Any) -> date:
    return entry.day if hasattr(entry, "day") else entry.first_day  # type: ignore[no-any-return]


def _when(entry: Any) -> date:
    return _day(entry)


def _questions_preview(session: Session, upload: Upload) -> dict[str, Any]:
    drafts = _drafts(upload)
    change = questions.compare(session, upload.class_id, drafts)
    kinds = {kind: sum(1 for one in drafts if one.kind == kind) for kind in KINDS}
    counts = {
        **kinds,
        "topics": len({questions.folded(one.topic) for one in drafts}),
        "new_topics": len(change.new_topics),
    }
    more = {
        "counts": counts,
        "lines": tuple(_question_line(one) for one in drafts),
        "examples": tuple(upload.content.get("examples", ())),
        "unexplained": upload.content.get("unexplained", 0),
    }
    if not (change.same or change.changed):
        return more
    return {**more, "changes": {"changed": change.changed, "new": change.added}}


def _question_line(draft: QuestionDraft) -> ListLine:
    """Show how a question was understood."""
    answer = shown(from_dict(draft.answer))
    return ListLine(draft.kind, {"topic": draft.topic, "prompt": draft.prompt[:80], "answer": answer})


def _roster_preview(session: Session, upload: Upload) -> dict[str, Any]:
    names = _names(upload)
    new = _new_names(session, upload)
    more: dict[str, Any] = {"counts": {"students": len(names)}}
    return more if len(new) == len(names) else {**more, "changes": {"new": len(new)}}


def _names(upload: Upload) -> list[str]:
    file: RosterFile = _file(upload)
    return [row.alias or row.name for row in file.students]


def _new_names(session: Session, upload: Upload) -> list[str]:
    there = {enrolments.fold(one.name) for one in enrolments.roster(session, upload.class_id)}
    new: dict[str, str] = {}
    for name in _names(upload):
        if enrolments.fold(name) not in there:
            new.setdefault(enrolments.fold(name), enrolments.tidy_name(name))
    return list(new.values())


def _scores_preview(session: Session, upload: Upload) -> dict[str, Any]:
    matched = _matched(session, upload)
    change = scores.compare(session, matched)
    unmatched = (
        *(ListLine("unknown_student", {"row": row, "name": name}) for row, name in matched.students),
        *(ListLine("unknown_topic", {"row": row, "name": name}) for row, name in matched.topics),
    )
    more: dict[str, Any] = {"counts": {"scores": len(matched.rows)}, "usable": bool(matched.rows)}
    if matched.quizzes:
        # Which quiz is asked first; then everything else is looked at anew.
        return {**more, "usable": True, "quizzes": _offered(session, upload), "unmatched": unmatched}
    if change.same or change.changed:
        more["changes"] = {"changed": change.changed, "new": change.added}
    return {**more, "unmatched": unmatched}


def _matched(session: Session, upload: Upload) -> scores.ScoreMatch:
    file: ScoresFile = _file(upload)
    return scores.match(session, upload.class_id, file.scores, quiz_id=upload.content.get("quiz_id"))


def _offered(session: Session, upload: Upload) -> tuple[tuple[int, str], ...]:
    known = [one for one in timetable.quizzes(session, upload.class_id) if one.at <= upload.created_at]
    latest = known[-QUIZZES_OFFERED:][::-1] or timetable.quizzes(session, upload.class_id)[:QUIZZES_OFFERED]
    return tuple((one.id, f"{one.name or one.kind.value}, {one.day.isoformat()}") for one in latest)


def changes(session: Session, upload_id: int) -> tuple[ListLine, ...]:
    """Return what an upload would change, line by line."""
    return preview(session, upload_id).lines


def settle(
    session: Session, upload_id: int, *, quiz_id: int | None = None, not_renamed: bool = False
) -> Preview:
    """Settle a doubt that needs no new reading, and look again."""
    upload = pending(session, upload_id)
    content = dict(upload.content)
    if quiz_id is not None:
        timetable.quiz_of(session, upload.class_id, quiz_id)
        content["quiz_id"] = quiz_id
    if not_renamed and upload.kind == UploadKind.TIMETABLE:
        _, changed = _timetable(session, upload)
        pairs = [[one.before, one.after] for one in changed.difference.doubtful]
        content["not_renamed"] = [*content.get("not_renamed", []), *pairs]
    uploads.refill(session, upload, upload.kind, content)
    return preview(session, upload_id)


# ---------------------------------------------------------------- applying


def apply(session: Session, upload_id: int, now: datetime) -> Applied:
    """Bring an upload into force: everything of it, or nothing.

    Raises
    ------
    NotFound
        It was dealt with already.
    InvalidValue
        There is nothing in it that can be stored.
    """
    upload = pending(session, upload_id)
    if not upload.content.get("usable"):
        raise refused(InvalidValue, "file_useless", field="file", name=upload.file_name)
    applying = {
        UploadKind.TIMETABLE: _apply_timetable,
        UploadKind.QUESTIONS: _apply_questions,
        UploadKind.ROSTER: _apply_roster,
        UploadKind.SCORES: _apply_scores,
    }
    journal = Journal(session)
    counts = applying[upload.kind](journal, upload, now)
    uploads.applied(session, upload, journal, now)
    _follow(session, upload.class_id, now)
    return Applied(upload.class_id, upload.kind, upload.file_name, counts)


def _apply_timetable(journal: Journal, upload: Upload, now: datetime) -> dict[str, int]:
    file, changed = _timetable(journal.session, upload)
    timetable_change.apply(journal, classes.get(journal.session, upload.class_id), changed, now)
    if not changed.first:
        return _changes(changed)
    return {"lessons": len(file.lessons), "quizzes": len(file.quizzes), "holidays": len(file.holidays)}


def _apply_questions(journal: Journal, upload: Upload, now: datetime) -> dict[str, int]:
    change = questions.apply(journal, upload.class_id, _drafts(upload), now)
    return {"added_questions": change.added, "changed_questions": change.changed}


def _apply_roster(journal: Journal, upload: Upload, now: datetime) -> dict[str, int]:
    names = _new_names(journal.session, upload)
    for name in names:
        journal.add(
            Enrolment(class_id=upload.class_id, name=name, state=EnrolmentState.WAITING, joined_at=now)
        )
    return {"students": len(names)}


def _apply_scores(journal: Journal, upload: Upload, now: datetime) -> dict[str, int]:
    matched = _matched(journal.session, upload)
    if matched.quizzes:
        raise refused(InvalidValue, "which_quiz", field="quiz")
    change = scores.apply(journal, matched, now)
    return {"added_scores": change.added, "changed_scores": change.changed}


def undo_last(session: Session, class_id: int, now: datetime) -> Upload | None:
    """Take back what was applied last in a class; return it, or None when there is nothing."""
    upload = uploads.last_applied(session, class_id)
    if upload is None or not uploads.undo(session, upload, now):
        return None
    _follow(session, class_id, now)
    return upload


def _follow(session: Session, class_id: int, now: datetime) -> None:
    """Let all plans of a class follow at once, wherever the change came from."""
    ensure_class_work(session, class_id, now)
    planning.look_soon(session, class_id, now)
