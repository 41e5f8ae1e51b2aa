"""Where the conversation with each user of a platform stands."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session

from storage.base.prepared import PreparedStatement
from storage.base.statements import upsert
from storage.tables import Dialogue

IDLE = "idle"

# Put together once and past the ORM: both take longer than the database.
_T: sa.Table = Dialogue.__table__  # type: ignore[attr-defined]
_OF_USER = (_T.c.platform == sa.bindparam("platform"), _T.c.user == sa.bindparam("user"))
_DIALOGUE = PreparedStatement(sa.select(_T.c.state, _T.c.data).where(*_OF_USER).with_for_update())
_FORGET = PreparedStatement(sa.delete(_T).where(*_OF_USER))


def load(session: Session, platform: str, user: str) -> tuple[str, dict[str, Any]]:
    """Return state and data of the dialogue with a user: ``("idle", {})`` when there is none.

    On PostgreSQL the row stays locked until the end of the transaction, so that two workers cannot move
    the same conversation on at once.
    """
    row = _DIALOGUE.first(session, {"platform": platform, "user": user})
    return (IDLE, {}) if row is None else (row.state, dict(row.data))


def save(
    session: Session, platform: str, user: str, state: str, data: Mapping[str, Any], now: datetime
) -> None:
    """Keep where the dialogue with a user stands. `data` is small and JSON-able."""
    row = {"platform": platform, "user": user, "state": state, "data": dict(data), "updated_at": now}
    upsert(session, Dialogue, row, ["platform", "user"], ["state", "data", "updated_at"])


def forget(session: Session, platform: str, user: str) -> None:
    """Drop the dialogue with a user."""
    _FORGET.run(session, {"platform": platform, "user": user})
