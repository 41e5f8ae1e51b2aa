"""Where the conversation with each user of a platform stands."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlmodel import Session, col, delete, select

from storage.statements import upsert
from storage.tables import Dialogue

IDLE = "idle"


def load(session: Session, platform: str, user: str) -> tuple[str, dict[str, Any]]:
    """Return state and data of the dialogue with a user: ``("idle", {})`` when there is none.

    On PostgreSQL the row stays locked until the end of the transaction, so that two workers cannot move
    the same conversation on at once.
    """
    asked = select(Dialogue).where(Dialogue.platform == platform, Dialogue.user == user)
    row = session.exec(asked.with_for_update().execution_options(populate_existing=True)).first()
    return (IDLE, {}) if row is None else (row.state, dict(row.data))


def save(
    session: Session, platform: str, user: str, state: str, data: Mapping[str, Any], now: datetime
) -> None:
    """Keep where the dialogue with a user stands. `data` is small and JSON-able."""
    row = {"platform": platform, "user": user, "state": state, "data": dict(data), "updated_at": now}
    upsert(session, Dialogue, row, ["platform", "user"], ["state", "data", "updated_at"])


def forget(session: Session, platform: str, user: str) -> None:
    """Drop the dialogue with a user."""
    session.exec(delete(Dialogue).where(col(Dialogue.platform) == platform, col(Dialogue.user) == user))
