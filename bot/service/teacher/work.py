"""What carrying out a teacher's effects has in common: rights, refusals, plans that follow."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from functools import wraps
from typing import Any, TypeVar

from bot.service.asking import planning
from bot.service.engine.effects import Work
from bot.service.engine.facts import words_for
from bot.service.engine.refusals import why_to
from bot.talk.core import Effect, Result
from bot.talk.teacher.effects import Refused
from bot.words import Words
from bot.words.problems import why
from storage.base.errors import NotAllowed, StorageError, refused
from storage.base.rows import id_of
from storage.school import channels, classes, uploads
from storage.school.change_journal import Journal
from storage.tables import SchoolClass, Upload, UploadKind

E = TypeVar("E", bound=Effect)
Carrier = Callable[[Work, E], Sequence[Result]]


def guarded(carrier: Callable[[Work, E], Sequence[Result]]) -> Callable[[Work, E], Sequence[Result]]:
    """Turn what the storage refuses into an answer; nothing of a refused effect stays."""

    @wraps(carrier)
    def carried(work: Work, effect: E) -> Sequence[Result]:
        nested = work.session.begin_nested()
        try:
            results = carrier(work, effect)
        except StorageError as problem:
            nested.rollback()
            return _refused(work, effect, problem)
        nested.commit()
        return results

    return carried


def _refused(work: Work, effect: Effect, problem: StorageError) -> Sequence[Result]:
    """Say why, in private also when it was said in a class place; nobody to tell: silence."""
    if work.speaker.place == "private":
        return [Refused(why_to(work, problem))]
    teacher = teacher_of(work, getattr(effect, "class_id", 0))
    return [] if teacher is None else [Refused(why(problem, words_to(work, teacher)), teacher)]


def class_for(work: Work, class_id: int) -> SchoolClass:
    """Return a class to somebody who teaches it. Raises `NotAllowed` for anybody else."""
    if work.person_id is None:
        raise refused(NotAllowed, "not_teacher")
    return classes.for_teacher(work.session, work.person_id, class_id)


def class_in_place(work: Work, class_id: int) -> SchoolClass:
    """Return a class to its teacher, or to what a teacher posts in a place that is bound to it."""
    if work.speaker.place == "class":
        bound = channels.find(work.session, work.speaker.platform, work.speaker.address)
        if bound is not None and bound.class_id == class_id:
            return classes.get(work.session, class_id)
        raise refused(NotAllowed, "not_teacher")
    return class_for(work, class_id)


def teacher_of(work: Work, class_id: int) -> int | None:
    """Return whom to tell about what was said in a class's place: its author, else the class's first teacher."""
    if work.speaker.place == "private":
        return None
    teachers = [one.person_id for one in classes.teachers(work.session, class_id)]
    if work.person_id in teachers:
        return work.person_id
    return teachers[0] if teachers else None


def upload_for(work: Work, upload_id: int) -> Upload:
    """Return an upload to a teacher of its class. Raises `NotFound` or `NotAllowed`."""
    upload = uploads.get(work.session, upload_id)
    class_for(work, upload.class_id)
    return upload


def replan(work: Work, class_id: int) -> None:
    """Let all plans of a class follow a change at once."""
    planning.look_soon(work.session, class_id, work.now)


LONGEST_LABEL = 110


def kept_as(what: str, value: str | date) -> dict[str, str]:
    """Return a change as it is stored: a text ``teacher.kept.WHAT`` with a name or a day."""
    if isinstance(value, date):
        return {"what": what, "day": value.isoformat()}
    return {"what": what, "value": value[:LONGEST_LABEL]}


def label_of(texts: Words, kept: Mapping[str, str]) -> str:
    """Return what ``undo`` calls a change in a language, a day as people say it."""
    said = texts.day(date.fromisoformat(kept["day"])) if "day" in kept else kept["value"]
    return texts.text(f"teacher.kept.{kept['what']}", value=said)[:LONGEST_LABEL]


def name_of(texts: Words, upload: Upload) -> str:
    """Return what somebody who takes an upload back calls it: a change in their language, a file by its name."""
    kept = upload.content.get("kept", {})
    # An erased student's name goes out of every stored text, whatever else it may have meant there.
    known = f"teacher.kept.{kept.get('what')}" in texts.keys("teacher.kept.")
    whole = known and not kept.keys().isdisjoint({"day", "value"})
    return label_of(texts, kept) if whole else upload.file_name


def keep(
    work: Work, journal: Journal, class_id: int, what: str, value: str | date, kind: UploadKind | None = None
) -> int:
    """Keep what a change did, so that ``undo`` can take it back; return the id that does so."""
    kept = kept_as(what, value)
    record = uploads.record(
        journal,
        class_id,
        kind or UploadKind.TIMETABLE,
        label_of(work.words, kept),
        work.now,
        kept=kept,
        person_id=work.person_id,
    )
    return id_of(record)


def words_to(work: Work, person_id: int | None) -> Words:
    """Return the words to write to somebody in who is told in private; None for whoever the step answers."""
    return work.words if person_id is None else words_for(work.session, work.app_context, person_id)


def no_result(*_: Any) -> Sequence[Result]:
    """Return nothing: the step said everything."""
    return []
