"""How the bot is doing, in one look that only reads: what waits and since when. Counts and moments, no names."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlmodel import Session, col, func, select

from storage.base import key_values
from storage.queue import inbox, outbox
from storage.tables import (
    Answer,
    Due,
    Enrolment,
    Nudge,
    NudgeState,
    Person,
    Question,
    Review,
    SchoolClass,
    Topic,
)

LOOKED_AT = "health check"
BACKED_UP = "last backup"
RECENT = timedelta(hours=1)


@dataclass(frozen=True, slots=True)
class QueueStatistics:
    """What waits in the database.

    Attributes
    ----------
    inbox, outbox, due : int
        Events to handle, messages to send and work to do whose moment has come.
    inbox_since, outbox_since, due_since : datetime or None
        Since when the oldest of them waits; None when nothing does.
    nudges_planned, nudges_overdue : int
        Nudges still to be sent, and those of them whose moment has come.
    answers_recent : int
        Answers stored within the last hour.
    held : bool
        Whether sending is held: a restored copy sends nothing until it is told to.
    backed_up_at : datetime or None
        When this database was last saved by ``holdfast backup``.
    """

    inbox: int
    inbox_since: datetime | None
    outbox: int
    outbox_since: datetime | None
    due: int
    due_since: datetime | None
    nudges_planned: int
    nudges_overdue: int
    answers_recent: int
    held: bool
    backed_up_at: datetime | None


def take(session: Session, now: datetime) -> QueueStatistics:
    """Look at what waits. Every question is answered from an index."""
    came_in, since = inbox.waiting(session)
    goes_out, oldest = outbox.waiting(session, now)
    late, latest = _due(session, now)
    return QueueStatistics(
        inbox=came_in,
        inbox_since=since,
        outbox=goes_out,
        outbox_since=oldest,
        due=late,
        due_since=latest,
        nudges_planned=_nudges(session),
        nudges_overdue=_nudges(session, now),
        answers_recent=_answers(session, now - RECENT),
        held=outbox.sending_held(session),
        backed_up_at=backed_up_at(session),
    )


def counts(session: Session) -> dict[str, int]:
    """Return how much there is of what the bot is about."""
    tables = {
        "classes": SchoolClass,
        "people": Person,
        "students in classes": Enrolment,
        "topics": Topic,
        "questions": Question,
        "questions asked": Review,
        "answers": Answer,
    }
    return {
        name: session.exec(select(func.count()).select_from(table)).one() for name, table in tables.items()
    }


def write_something(session: Session, now: datetime) -> None:
    """Prove that the database takes changes; fails where it does not."""
    key_values.put(session, LOOKED_AT, now.isoformat(), now)


def note_backup(session: Session, now: datetime) -> None:
    """Keep when this database was saved, for whoever watches."""
    key_values.put(session, BACKED_UP, now.isoformat(), now)


def backed_up_at(session: Session) -> datetime | None:
    """Return when this database was last saved."""
    found = key_values.get(session, BACKED_UP)
    return datetime.fromisoformat(found) if found else None


def _due(session: Session, now: datetime) -> tuple[int, datetime | None]:
    stmt = select(func.count(), func.min(Due.due_at)).where(
        col(Due.done_at).is_(None), col(Due.due_at) <= now
    )
    count, oldest = session.exec(stmt).one()
    return count, oldest


def _nudges(session: Session, until: datetime | None = None) -> int:
    stmt = select(func.count()).select_from(Nudge).where(Nudge.state == NudgeState.PLANNED)
    return session.exec(stmt if until is None else stmt.where(col(Nudge.due_at) <= until)).one()


def _answers(session: Session, since: datetime) -> int:
    return session.exec(select(func.count()).select_from(Answer).where(col(Answer.at) > since)).one()
