"""A file that was read, on its way to the class: kept, previewed, applied, taken back.

`bot.service.teacher.upload_reading` reads it; what is here is short and runs in the caller's transaction. The
conversation and ``holdfast import`` use the same functions, so a file means the same wherever it comes from.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from pydantic import TypeAdapter

from bot.grading.keys import from_dict, shown
from bot.grading.kinds import KINDS
from bot.service.teacher.upload_reading import PreparedUpload
from bot.talk.teacher.effects import ListLine, Preview
from storage.base.database import Session
from storage.base.errors import InvalidValue, NotFound, refused
from storage.base.rows import id_of
from storage.files.timetables.difference import Change, TopicChange
from storage.files.values import (
    RosterFile,
    ScoresFile,
    TimetableFile,
)
from storage.school import classes, enrolments, questions, scores, timetable, timetable_change, uploads
from storage.school.change_journal import Journal
from storage.school.questions import QuestionDraft
from storage.tables import Enrolment, EnrolmentState, Upload, UploadKind, UploadState

QUIZZES_OFFERED = 6


@dataclass(frozen=True)
class Applied:
    """What applying an upload came to; `counts` says how much of what: ``lessons``, ``moved``, ``students``."""

    class_id: int
    kind: UploadKind
    file_name: str
    counts: Mapping[str, int] = field(default_factory=dict)


_ADAPTERS: Mapping[UploadKind, TypeAdapter[Any]] = {
    UploadKind.TIMETABLE: TypeAdapter(TimetableFile),
    UploadKind.ROSTER: TypeAdapter(RosterFile),
    UploadKind.SCORES: TypeAdapter(ScoresFile),
}


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
    everything: list[Change[Any]] = [
        *changed.difference.lessons,
        *changed.difference.quizzes,
        *changed.difference.holidays,
    ]
    return found + [line for one in everything if (line := _line(one)) is not None]


def _topic_line(one: TopicChange) -> ListLine:
    return ListLine("renamed" if one.sure else "guessed", {"before": one.before, "after": one.after})


def _line(one: Change[Any]) -> ListLine | None:
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
    return tuple((one.id, f"{one.name or one.kind}, {one.day.isoformat()}") for one in latest)


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
    # These know the planner and every conversation; who only checks a file waits for none of them.
    from bot.service.asking import planning
    from bot.service.teacher.calendar import ensure_class_work

    ensure_class_work(session, class_id, now)
    planning.look_soon(session, class_id, now)
