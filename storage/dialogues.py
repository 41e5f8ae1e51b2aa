"""Where the conversation with each user of a platform stands."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, col, select

from storage.statements import upsert
from storage.tables import Dialogue

IDLE = "idle"

# Put together once: that takes longer than to run it.
_DIALOGUE = (
    select(Dialogue)
    .where(col(Dialogue.platform) == sa.bindparam("platform"), col(Dialogue.user) == sa.bindparam("user"))
    .with_for_update()
    .execution_options(populate_existing=True)
)

_FORGET = sa.delete(Dialogue.__table__).where(  # type: ignore[attr-defined]
    col(Dialogue.platform) == sa.bindparam("platform"), col(Dialogue.user) == sa.bindparam("user")
)


def load(session: Session, platform: str, user: str) -> tuple[str, dict[str, Any]]:
    """Return state and data of the dialogue with a user: ``("idle", {})`` when there is none.

    On PostgreSQL the row stays locked until the end of the transaction, so that two workers cannot move
    the same conversation on at once.
    """
    row = session.exec(_DIALOGUE, params={"platform": platform, "user": user}).first()
    return (IDLE, {}) if row is None else (row.state, dict(row.data))


def save(
    session: Session, platform: str, user: str, state: str, data: Mapping[str, Any], now: datetime
) -> None:
    """Keep where the dialogue with a user stands. `data` is small and JSON-able."""
    row = {"platform": platform, "user": user, "state": state, "data": dict(data), "updated_at": now}
    upsert(session, Dialogue, row, ["platform", "user"], ["state", "data", "updated_at"])


def forget(session: Session, platform: str, user: str) -> None:
    """Drop the dialogue with a user."""
    session.exec(_FORGET, params={"platform": platform, "user": user})
