"""What was so at a moment, told from what is stored today: a paper of the past uses nothing that came later.

Answers, scores, reports of homework, starters, questions, fits and what was dropped carry their moments. What has no
history stands as it is today: names and wordings, rules and holidays, absences, pauses that are over. What was erased
is gone from the past as well.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, col, func, select

from storage.tables import Answer, Enrolment, EnrolmentState, Nudge


def there(dropped_at: datetime | None, now: datetime) -> Any:
    """Return the condition that a row had not been dropped by a moment (`dropped_at` is the column)."""
    return col(dropped_at).is_(None) | (col(dropped_at) > now)


def joined(session: Session, class_id: int, now: datetime) -> tuple[int, ...]:
    """Return the enrolments that had joined by a moment, in order of their ids; those who left since are among them.

    Somebody who came back has a later moment of joining, and the answers of before.
    """
    early = select(Answer.enrolment_id).where(Answer.enrolment_id == Enrolment.id, Answer.at <= now)
    stmt = select(Enrolment.id).where(
        Enrolment.class_id == class_id,
        col(Enrolment.person_id).is_not(None),
        (col(Enrolment.joined_at) <= now) | early.exists(),
    )
    return tuple(row for row in session.exec(stmt.order_by(col(Enrolment.id))) if row is not None)


def enrolled(session: Session, class_id: int, now: datetime) -> list[Enrolment]:
    """Return the students who had not left by a moment, the roster included, in order of their ids."""
    stmt = select(Enrolment).where(
        Enrolment.class_id == class_id,
        (col(Enrolment.state) != EnrolmentState.LEFT) | (col(Enrolment.left_at) > now),
    )
    return list(session.exec(stmt.order_by(col(Enrolment.id))))


def pauses_since(session: Session, class_id: int, now: datetime) -> frozenset[int]:
    """Return the students whose present pause began after a moment: a question of ours reached them since."""
    stmt = (
        select(Nudge.enrolment_id)
        .join(Enrolment, col(Enrolment.id) == col(Nudge.enrolment_id))
        .where(
            Enrolment.class_id == class_id,
            Enrolment.state == EnrolmentState.PAUSED,
            col(Nudge.sent_at) > now,
            col(Nudge.asked_for).is_(False),
        )
    )
    return frozenset(session.exec(stmt))


def last_answers(session: Session, class_id: int, now: datetime) -> Mapping[int, datetime]:
    """Return when each student answered last by a moment, of those who have answered since."""
    later = sa.select(col(Enrolment.id)).where(
        col(Enrolment.class_id) == class_id, col(Enrolment.last_answer_at) > now
    )
    stmt = (
        select(Answer.enrolment_id, func.max(Answer.at))
        .where(col(Answer.enrolment_id).in_(later), Answer.at <= now)
        .group_by(col(Answer.enrolment_id))
    )
    return dict(session.exec(stmt).all())
