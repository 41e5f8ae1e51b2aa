"""What a platform calls a file that was sent there before, so that it need not travel again."""

from __future__ import annotations

from sqlmodel import Session

from storage.base.statements import upsert
from storage.tables import Blob, PlatformFile

LONGEST_REF = 255


def get(session: Session, platform: str, digest: str) -> str | None:
    """Return the platform's own identifier of the bytes with this digest, or None."""
    row = session.get(PlatformFile, (digest, platform), populate_existing=True)
    return None if row is None else row.file_ref


def put(session: Session, platform: str, digest: str, file_ref: str) -> bool:
    """Remember it; say whether it was kept.

    Only of bytes that we keep ourselves, and as long as we keep them: a formula that is drawn for one message
    has no row that its identifier could go with.
    """
    if len(file_ref) > LONGEST_REF or session.get(Blob, digest) is None:
        return False
    row = {"digest": digest, "platform": platform, "file_ref": file_ref}
    upsert(session, PlatformFile, row, ["digest", "platform"], ["file_ref"])
    return True
