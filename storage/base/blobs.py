"""Bytes of pictures and documents, each kept once under its digest."""

from __future__ import annotations

import hashlib
from datetime import datetime

from sqlmodel import Session, select

from storage.base.statements import insert_new
from storage.tables import Blob, OutboxItem, PlatformFile, Question, Upload, UploadState


def keep(session: Session, data: bytes, media_type: str, now: datetime) -> str:
    """Store bytes once and return their digest (SHA-256, hexadecimal)."""
    digest = hashlib.sha256(data).hexdigest()
    insert_new(session, Blob, {"digest": digest, "media_type": media_type, "data": data, "created_at": now})
    return digest


def get(session: Session, digest: str) -> bytes | None:
    """Return the bytes of a digest, or None when they are not kept (any more)."""
    row = session.get(Blob, digest)
    return None if row is None else row.data


def media_type(session: Session, digest: str) -> str:
    """Return the media type of a digest; empty when it is not kept."""
    row = session.get(Blob, digest)
    return "" if row is None else row.media_type


def forget(session: Session, digest: str) -> bool:
    """Delete the bytes of a digest unless somebody still needs them; say whether they went."""
    row = session.get(Blob, digest) if digest else None
    if row is None or _needed(session, digest):
        return False
    for sent in session.exec(select(PlatformFile).where(PlatformFile.digest == digest)):
        session.delete(sent)
    session.flush()  # first what names the blob: the session knows no order between the two
    session.delete(row)
    session.flush()
    return True


def _needed(session: Session, digest: str) -> bool:
    if session.exec(select(Question.id).where(Question.picture == digest).limit(1)).first() is not None:
        return True
    if session.exec(select(OutboxItem.id).where(OutboxItem.blob == digest).limit(1)).first() is not None:
        return True
    # Another pending upload of the very same file: its content names the digest.
    waiting = select(Upload.content).where(Upload.state == UploadState.PENDING)
    return any(content.get("blob") == digest for content in session.exec(waiting))
