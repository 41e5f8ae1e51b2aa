"""Everything stored about a student, as files to take along: one to read, one for programs."""

from __future__ import annotations

import json
from datetime import datetime

from bot.chat.port import Attachment
from storage import export
from storage.database import Session


def files_of(session: Session, person_id: int, now: datetime) -> tuple[Attachment, ...]:
    """Return everything stored about a person as plain text and as JSON."""
    stored = export.of_person(session, person_id, now)
    whole = json.dumps(stored, ensure_ascii=False, indent=1)
    name = f"my-data-{now:%Y-%m-%d}"
    return (
        Attachment(f"{name}.txt", "text/plain", export.readable(stored).encode(), "Your data, to read."),
        Attachment(f"{name}.json", "application/json", whole.encode(), "Your data, for programs."),
    )
