"""When the next thing is to be done, of whatever kind: one question instead of four, asked with every event."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

import sqlalchemy as sa
from sqlmodel import Session, col, func, select

from storage.asked.nudges import NOT_OVER
from storage.base.prepared import PreparedStatement
from storage.queue.outbox_statements import A_FREE_ONE
from storage.tables import Due, Nudge, NudgeState, OutboxItem, OutboxState

_WORK = select(func.min(Due.due_at)).where(col(Due.done_at).is_(None)).scalar_subquery()
_SEND = select(func.min(Nudge.due_at)).where(col(Nudge.state) == NudgeState.PLANNED).scalar_subquery()
_END = select(func.min(Nudge.expires_at)).where(col(Nudge.state).in_(NOT_OVER)).scalar_subquery()
_SAY = (
    select(func.min(OutboxItem.not_before))
    .where(col(OutboxItem.state) == OutboxState.WAITING)
    .scalar_subquery()
)
_ROUND = sa.select(_WORK, _SEND, _END)
_ALL = sa.select(_WORK, _SEND, _END, _SAY)
_ROUND_OR_FREE = PreparedStatement(sa.select(_WORK, _SEND, _END, A_FREE_ONE))


def next_round(session: Session) -> datetime | None:
    """Return when due work, a nudge to send or a nudge to end comes next, late ones included."""
    return _first(session.execute(_ROUND).one())


def next_moment(session: Session) -> datetime | None:
    """Return when anything comes next, messages that wait included."""
    return _first(session.execute(_ALL).one())


def anything(session: Session, now: datetime) -> bool:
    """Whether something is due or a message may be claimed, what this transaction has written included."""
    [(*moments, free)] = _ROUND_OR_FREE.rows(session, {"now": now})
    coming = _first(moments)
    return bool(free) or (coming is not None and coming <= now)


def _first(moments: Iterable[datetime | None]) -> datetime | None:
    return min((moment for moment in moments if moment is not None), default=None)
