"""What teachers sent in: kept pending until they say so, applied as a whole, taken back exactly.

Anything that changes a class's timetable, questions, roster or scores is such a row, with the journal of what it
changed: a file, but also a topic post or a moved quiz. So one word, `undo`, takes back whatever came last.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlmodel import Session, col, select

from storage.base.errors import NotFound, refused
from storage.school.change_journal import Journal, take_back
from storage.tables import Upload, UploadKind, UploadState


def store(
    session: Session,
    class_id: int,
    kind: UploadKind,
    file_name: str,
    content: Mapping[str, Any],
    now: datetime,
    *,
    person_id: int | None = None,
) -> Upload:
    """Keep what was read until the teacher says what to do with it. Nothing of the class changes."""
    upload = Upload(
        class_id=class_id,
        person_id=person_id,
        kind=kind,
        file_name=_short(file_name),
        content=dict(content),
        created_at=now,
    )
    session.add(upload)
    session.flush()
    return upload


def get(session: Session, upload_id: int) -> Upload:
    """Return an upload. Raises `NotFound`."""
    upload = session.get(Upload, upload_id)
    if upload is None:
        raise refused(NotFound, "no_upload")
    return upload


def refill(session: Session, upload: Upload, kind: UploadKind, content: Mapping[str, Any]) -> None:
    """Put what was read anew into a pending upload."""
    upload.kind, upload.content = kind, dict(content)
    session.add(upload)
    session.flush()


def applied(
    session: Session,
    upload: Upload,
    journal: Journal,
    now: datetime,
    content: Mapping[str, Any] | None = None,
) -> None:
    """Note that an upload is in force, and what it changed. What was read is no longer kept, only `content`."""
    upload.before, upload.content = journal.as_data(), dict(content or {})
    upload.state, upload.applied_at = UploadState.APPLIED, now
    session.add(upload)
    session.flush()


def record(
    journal: Journal,
    class_id: int,
    kind: UploadKind,
    label: str,
    now: datetime,
    *,
    kept: Mapping[str, str] | None = None,
    person_id: int | None = None,
) -> Upload:
    """Keep a change that came without a file, so that it can be taken back like one.

    `label` calls it something in the language of whoever made it; `kept` says the same for every language.
    """
    upload = store(journal.session, class_id, kind, label, {}, now, person_id=person_id)
    applied(journal.session, upload, journal, now, {"by_hand": True, "kept": dict(kept or {})})
    return upload


def added_by_hand(session: Session, class_id: int) -> dict[str, frozenset[int]]:
    """Return the ids of lessons, quizzes and holidays that came without a file, by table."""
    found: dict[str, set[int]] = {"lesson": set(), "quiz": set(), "holiday": set()}
    stmt = select(Upload).where(Upload.class_id == class_id, Upload.state == UploadState.APPLIED)
    for upload in session.exec(stmt):
        if not upload.content.get("by_hand"):
            continue
        for entry in upload.before.get("entries", ()):
            if entry["before"] is None and entry["table"] in found:
                found[entry["table"]].add(entry["key"]["id"])
    return {table: frozenset(ids) for table, ids in found.items()}


def cancel(session: Session, upload: Upload) -> None:
    """Forget a pending upload."""
    upload.state, upload.content = UploadState.CANCELLED, {}
    session.add(upload)
    session.flush()


def last_applied(session: Session, class_id: int) -> Upload | None:
    """Return what was applied last and not taken back."""
    stmt = (
        select(Upload)
        .where(Upload.class_id == class_id, Upload.state == UploadState.APPLIED)
        .order_by(col(Upload.applied_at).desc(), col(Upload.id).desc())
        .limit(1)
    )
    return session.exec(stmt).first()


def undo(session: Session, upload: Upload, now: datetime) -> bool:
    """Take an applied upload back exactly; say whether it was in force."""
    if upload.state != UploadState.APPLIED:
        return False
    take_back(session, upload.before, now)
    upload.state, upload.before = UploadState.UNDONE, {}
    session.add(upload)
    session.flush()
    return True


def _short(name: str) -> str:
    """Cut a file's name to its column, its end kept, on one line and without control characters."""
    line = " ".join("".join(c if c.isprintable() else " " for c in name).split())
    return line if len(line) <= 120 else f"{line[:80]}…{line[-39:]}"
