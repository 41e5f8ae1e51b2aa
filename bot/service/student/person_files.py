"""Everything stored about a person, as files to take along: one to read, one for programs."""

from __future__ import annotations

import json
from datetime import datetime

from bot.chat.port import Attachment
from bot.words import words
from storage.base.database import Session
from storage.privacy import export


def files_of(session: Session, person_id: int, now: datetime, language: str) -> tuple[Attachment, ...]:
    """Return everything stored about a person as plain text and as JSON."""
    stored, said = export.of_person(session, person_id, now), words(language)
    whole = json.dumps(stored, ensure_ascii=False, indent=1)
    headings = {name: said.text(f"account.stored.{name}") for name in export.KINDS}
    readable = export.readable(stored, headings)
    name = f"{said.text('account.data.file')}-{now:%Y-%m-%d}"
    return (
        Attachment(f"{name}.txt", "text/plain", readable.encode(), said.text("account.data.read")),
        Attachment(f"{name}.json", "application/json", whole.encode(), said.text("account.data.programs")),
    )
