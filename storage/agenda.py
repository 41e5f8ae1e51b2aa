"""When the next thing is to be done, of whatever kind: one question instead of four, asked after every event."""

from __future__ import annotations

from datetime import datetime

from sqlmodel import Session, col, func, select

from storage.nudges import NOT_OVER
from storage.tables import Due, Nudge, NudgeState, OutboxItem, OutboxState

_WORK = select(func.min(Due.due_at)).where(col(Due.done_at).is_(None)).scalar_subquery()
_SEND = select(func.min(Nudge.due_at)).where(col(Nudge.state) == NudgeState.PLANNED).scalar_subquery()
_END = select(func.min(Nudge.expires_at)).where(col(Nudge.state).in_(NOT_OVER)).scalar_subquery()
_SAY = (
    select(func.min(OutboxItem.not_before))
    .where(col(OutboxItem.state) == OutboxState.WAITING)
    .scalar_subquery()
)
_ROUND = select(_WORK, _SEND, _END)
_ALL = select(_WORK, _SEND, _END, _SAY)


def next_round(session: Session) -> datetime | None:
    """Return when due work, a nudge to send or a nudge to end comes next, late ones included."""
    return _first(session.exec(_ROUND).one())


def next_moment(session: Session) -> datetime | None:
    """Return when anything comes next, messages that wait included."""
    return _first(session.exec(_ALL).one())


def _first(moments: tuple[datetime | None, ...]) -> datetime | None:
    return min((moment for moment in moments if moment is not None), default=None)
