"""Files that teachers send: fetched and read outside transactions, applied within one."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from bot.chat.port import SendFailed, SendRefused
from bot.service.engine.due_work import DueItem, WorkContext, does, finish
from bot.service.engine.effects import Work, carries
from bot.service.engine.loop import resume
from bot.service.teacher import bank, upload_reading
from bot.service.teacher import uploads as files
from bot.service.teacher.question_rows import language_of
from bot.service.teacher.upload_reading import KnownClass, PreparedUpload
from bot.service.teacher.work import class_for, guarded, name_of, replan, upload_for
from bot.talk.core import Result, once
from bot.talk.teacher.effects import (
    ChangesShown,
    Done,
    DropUpload,
    FileFailed,
    FileRead,
    FileUnknown,
    ReadFile,
    Reread,
    ShowChanges,
    TakeBack,
    Undo,
    Undone,
    UploadApplied,
    UseUpload,
)
from bot.teaching.doses import needed_by_timetable
from bot.words import words
from storage.base import blobs
from storage.base.database import Session
from storage.base.errors import NotFound, refused
from storage.queue import due
from storage.school import classes, timetable, uploads
from storage.tables import Upload, UploadKind, UploadState

READ = "read_upload"


# ---------------------------------------------------------------- asking for it


@carries(ReadFile)
@guarded
def read_file(work: Work, effect: ReadFile) -> Sequence[Result]:
    """Plan to fetch and read a document."""
    class_for(work, effect.class_id)
    payload = {
        "speaker": work.speaker.as_data(),
        "class": effect.class_id,
        "person": work.person_id,
        "handle": effect.handle,
        "name": effect.name,
        "kind": effect.kind,
        "key": effect.key,
        "language": work.words.language,
    }
    _plan(work, f"{READ}:{work.speaker.platform}:{effect.key}:{work.now.isoformat()}", payload)
    return []


@carries(Reread)
@guarded
def reread(work: Work, effect: Reread) -> Sequence[Result]:
    """Look at a pending upload again; only another kind or a doubt settled needs its bytes."""
    upload = upload_for(work, effect.upload_id)
    files.pending(work.session, effect.upload_id)
    key = once("upload", effect.upload_id)
    if not effect.kind and effect.choice is None:
        seen = files.settle(
            work.session, effect.upload_id, quiz_id=effect.quiz_id, not_renamed=effect.not_renamed
        )
        return [FileRead(key, seen)]
    payload = {
        "speaker": work.speaker.as_data(),
        "class": upload.class_id,
        "person": work.person_id,
        "upload": effect.upload_id,
        "name": upload.file_name,
        "kind": effect.kind or upload.kind.value,
        "choices": _choices(upload, effect),
        "key": key,
        "language": work.words.language,
    }
    _plan(work, f"{READ}:{effect.upload_id}:{work.now.isoformat()}", payload)
    return []


def _choices(upload: Upload, effect: Reread) -> dict[str, str]:
    """Return all that the teacher has decided about a file; what was decided before stays decided."""
    earlier = upload.content.get("choices", {})
    return {**earlier, **(dict([effect.choice]) if effect.choice else {})}


def _plan(work: Work, key: str, payload: dict[str, object]) -> None:
    due.ensure(work.session, key[:120], READ, work.now, payload=payload)


# ---------------------------------------------------------------- reading


@does(READ)
async def read(work_context: WorkContext, item: DueItem) -> None:
    """Fetch a file, read it in a child process, and show the teacher what it holds."""
    data = await _bytes(work_context, item)
    now = work_context.clock.now()
    if data is None:
        why = (words(item.payload["language"]).text("refusal.file_gone"),)
        failed = FileFailed(item.payload["key"], item.payload["name"], why)
        await work_context.db.run(_finish, work_context, item, failed, now)
        return
    known = await work_context.db.read(upload_reading.known_class, item.payload["class"], now)
    known = replace(known, language=item.payload["language"])
    prepared = await asyncio.to_thread(_prepare, item, data, known)
    await work_context.db.run(_keep, work_context, item, data, prepared, now)


async def _bytes(work_context: WorkContext, item: DueItem) -> bytes | None:
    """Return the bytes: kept from the first reading, else from the chat; None when the chat has them no more."""
    if "upload" in item.payload:
        return await work_context.db.read(_kept_bytes, item.payload["upload"])
    try:
        return await work_context.chats[item.speaker.platform].fetch(item.payload["handle"])
    except SendRefused:
        return None
    except SendFailed:
        if item.attempts >= due.GIVE_UP_AFTER:
            return None  # the teacher hears about it instead of waiting for ever
        raise


def _kept_bytes(session: Session, upload_id: int) -> bytes | None:
    return blobs.get(session, uploads.get(session, upload_id).content.get("blob", ""))


def _prepare(item: DueItem, data: bytes, known: KnownClass) -> PreparedUpload | None:
    kind, name = item.payload["kind"], item.payload["name"]
    if not kind:
        return upload_reading.recognise(data, name, known)
    return upload_reading.prepare(
        UploadKind(kind), data, name, known, choices=item.payload.get("choices") or {}
    )


def _keep(
    session: Session,
    work_context: WorkContext,
    item: DueItem,
    data: bytes,
    prepared: PreparedUpload | None,
    now: datetime,
) -> None:
    """Keep what was read, and tell; all in one transaction."""
    payload = item.payload
    upload_id = payload.get("upload")
    if upload_id is not None and uploads.get(session, upload_id).state is not UploadState.PENDING:
        finish(session, item, now)  # dealt with while it was read again
        return
    if prepared is None:
        unknown = PreparedUpload(UploadKind.TIMETABLE, payload["name"], {}, usable=False)
        upload_id = files.store(session, payload["class"], unknown, now, person_id=payload["person"])
        result: Result = FileUnknown(payload["key"], upload_id, payload["name"])
    else:
        upload_id = files.store(
            session, payload["class"], prepared, now, person_id=payload["person"], upload_id=upload_id
        )
        result = FileRead(payload["key"], files.preview(session, upload_id))
    upload = uploads.get(session, upload_id)
    digest = blobs.keep(session, data, "application/octet-stream", now)
    uploads.refill(session, upload, upload.kind, {**upload.content, "blob": digest})
    _finish(session, work_context, item, result, now)


def _finish(
    session: Session, work_context: WorkContext, item: DueItem, result: Result, now: datetime
) -> None:
    finish(session, item, now)
    resume(session, work_context.app_context, item.speaker, result, now)


# ---------------------------------------------------------------- the teacher's word


@carries(UseUpload)
@guarded
def use(work: Work, effect: UseUpload) -> Sequence[Result]:
    """Apply an upload; plans follow."""
    upload = upload_for(work, effect.upload_id)
    digest = upload.content.get("blob", "")
    done = files.apply(work.session, effect.upload_id, work.now)
    blobs.forget(work.session, digest)
    missing, in_bank, needs = 0, 0, None
    if done.kind is UploadKind.TIMETABLE:
        found = timetable.topics(work.session, done.class_id, work.now)
        missing = sum(1 for one in found if not one.questions)
        school_class = classes.get(work.session, done.class_id)
        language = language_of(school_class.language or "", work.words.language)
        in_bank = len(bank.offers(work.session, school_class, language, work.now))
        needs = needed_by_timetable(work.session, school_class, work.now)
    dose = None if needs is None else needs.of_timetable()
    return [
        UploadApplied(done.kind.value, done.file_name, done.counts, missing, dose, done.class_id, in_bank)
    ]


@carries(DropUpload)
@guarded
def drop(work: Work, effect: DropUpload) -> Sequence[Result]:
    """Forget an upload."""
    upload = upload_for(work, effect.upload_id)
    files.pending(work.session, effect.upload_id)
    _forget(work, upload)
    return [Done("dropped")]


def _forget(work: Work, upload: Upload) -> None:
    digest = upload.content.get("blob", "")
    uploads.cancel(work.session, upload)
    blobs.forget(work.session, digest)


@carries(ShowChanges)
@guarded
def show_changes(work: Work, effect: ShowChanges) -> Sequence[Result]:
    """List what an upload would change."""
    upload_for(work, effect.upload_id)
    seen = files.preview(work.session, effect.upload_id)
    return [ChangesShown(effect.upload_id, seen.kind, seen.lines, seen.doubtful)]


@carries(Undo)
@guarded
def undo(work: Work, effect: Undo) -> Sequence[Result]:
    """Take back what was applied last."""
    class_for(work, effect.class_id)
    upload = files.undo_last(work.session, effect.class_id, work.now)
    if upload is None:
        return [Undone(None)]
    return [Undone(name_of(work.words, upload))]


@carries(TakeBack)
@guarded
def take_back(work: Work, effect: TakeBack) -> Sequence[Result]:
    """Take a topic post back, or forget one that waits for the teacher's word."""
    upload = upload_for(work, effect.upload_id)
    if upload.state is UploadState.PENDING:
        _forget(work, upload)
        return [Done("topic.forgotten")]
    if not uploads.undo(work.session, upload, work.now):
        raise refused(NotFound, "taken_back")
    replan(work, upload.class_id)
    return [Done("topic.taken_back")]
