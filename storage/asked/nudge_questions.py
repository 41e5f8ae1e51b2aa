"""The questions of one nudge as a whole: how far each has come, what is asked next, when it was taught.

One statement each: they run with every answer.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import aliased
from sqlmodel import Session, col, func, select

from storage.asked.reviews import WAITING
from storage.base.prepared import PreparedStatement
from storage.tables import Answer, Lesson, Question, Review, ReviewState, UtcDateTime, Verdict


@dataclass(frozen=True, slots=True)
class NudgeQuestion:
    """One question of a nudge.

    Attributes
    ----------
    shown : int or None
        The question that was shown, `option_order` the order of its options, `drawn` what it was with drawn values.
    verdict : Verdict or None
        What its answer was, if it has one.
    to_ask : int or None
        What can be asked where the line is still planned: the question that was shown before, if it is in use; else
        the one with drawn values that the student's last answer on the topic was wrong to, so that it comes back with
        others; else the one in use of the topic that the student was not asked for longest (those never asked first,
        in an order of the student's own: see `_own_place`). `key` is its key, `template` what it is drawn from.
    met : bool
        Whether, where the line is still planned, a question on its topic was answered since it was.
    """

    review_id: int
    enrolment_id: int
    state: ReviewState
    shown: int | None
    option_order: list[int]
    verdict: Verdict | None
    to_ask: int | None
    key: Mapping[str, Any] | None
    met: bool
    template: Mapping[str, Any] | None = None
    drawn: Mapping[str, Any] | None = None


@dataclass(frozen=True, slots=True)
class QuestionTaught:
    """One question of a nudge, and when its topic was last taught (None: not yet)."""

    enrolment_id: int
    state: ReviewState
    taught_at: datetime | None

    @property
    def waits(self) -> bool:
        """Whether it can still be answered."""
        return self.state in WAITING


_PLANNED = col(Review.state) == ReviewState.PLANNED
_KEPT = aliased(Question)
_IN_USE = aliased(Question)
_BEFORE = aliased(Review)
_OWN = aliased(Review)
_SHOWN_BEFORE = (
    select(_KEPT.id)
    .where(_KEPT.id == Review.question_id, col(_KEPT.retired_at).is_(None))
    .correlate(Review)
    .scalar_subquery()
)
_LAST_ASKED = func.max(_BEFORE.asked_at)


def _own_place(question: Any, enrolment: Any, topic: Any) -> Any:
    """Return the place of a question in a student's own order: a number mixed from all three, so it never changes.

    Were the order that of the file, the first question of a topic would be the first that everybody gets: how hard
    it is and how much a first review does could not be told apart, and answers would pass from desk to desk.

    A quadratic residue of a linear mix, in statements that SQLite and PostgreSQL count alike (both within 64 bits;
    the primes are arbitrary): a linear one alone would only turn one cycle of questions round.
    """
    mixed = (
        sa.cast(question, sa.BigInteger) * sa.literal_column("7368787")
        + sa.cast(enrolment, sa.BigInteger) * sa.literal_column("15485863")
        + sa.cast(topic, sa.BigInteger) * sa.literal_column("32452843")
    ) % sa.literal_column("1000003")
    return mixed * (mixed + sa.literal_column("17")) % sa.literal_column("999983")


_LONGEST_AGO = (
    select(_IN_USE.id)
    .join(_OWN, col(_OWN.id) == col(Review.id))  # SQLite does not order groups by what stands outside of them
    .outerjoin(
        _BEFORE,
        (col(_BEFORE.question_id) == col(_IN_USE.id))
        & (col(_BEFORE.enrolment_id) == col(Review.enrolment_id))
        & (col(_BEFORE.topic_id) == col(Review.topic_id)),
    )
    .where(col(_IN_USE.topic_id) == col(Review.topic_id), col(_IN_USE.retired_at).is_(None))
    .group_by(col(_IN_USE.id), col(_IN_USE.topic_id), col(_OWN.enrolment_id))
    .order_by(
        _LAST_ASKED.is_not(None),
        _LAST_ASKED,
        _own_place(col(_IN_USE.id), col(_OWN.enrolment_id), col(_IN_USE.topic_id)),
        col(_IN_USE.id),
    )
    .limit(1)
    .correlate(Review)
    .scalar_subquery()
)
_LAST = aliased(Answer)
_LATEST = aliased(Answer)
_MISSED = aliased(Question)
_LAST_ANSWER = (
    select(_LATEST.id)
    .where(_LATEST.enrolment_id == Review.enrolment_id, _LATEST.topic_id == Review.topic_id)
    .order_by(col(_LATEST.at).desc(), col(_LATEST.id).desc())
    .limit(1)
    .correlate(Review)
    .scalar_subquery()
)
_PARALLEL = (
    select(_MISSED.id)
    .join(_LAST, col(_LAST.question_id) == col(_MISSED.id))
    .where(
        col(_LAST.id) == _LAST_ANSWER,
        _LAST.verdict != Verdict.RIGHT,
        _MISSED.topic_id == Review.topic_id,
        col(_MISSED.template).is_not(None),
        col(_MISSED.retired_at).is_(None),
    )
    .correlate(Review)
    .scalar_subquery()
)
_MET = (
    select(_BEFORE.id)
    .where(
        _BEFORE.enrolment_id == Review.enrolment_id,
        _BEFORE.topic_id == Review.topic_id,
        _BEFORE.state == ReviewState.ANSWERED,
        col(_BEFORE.closed_at) >= col(Review.planned_at),
    )
    .correlate(Review)
    .exists()
)
_LINES = PreparedStatement(
    sa.select(
        col(Review.id).label("review_id"),
        col(Review.enrolment_id),
        col(Review.state),
        col(Review.question_id).label("shown"),
        col(Review.option_order),
        col(Answer.verdict),
        col(Question.id).label("to_ask"),
        col(Question.answer).label("key"),
        sa.and_(_PLANNED, _MET).label("met"),
        col(Question.template),
        col(Review.drawn),
    )
    .select_from(Review)
    .outerjoin(Answer, col(Answer.review_id) == col(Review.id))
    .outerjoin(
        Question,
        sa.and_(_PLANNED, col(Question.id) == sa.func.coalesce(_SHOWN_BEFORE, _PARALLEL, _LONGEST_AGO)),
    )
    .where(col(Review.nudge_id) == sa.bindparam("nudge"))
    .order_by(col(Review.position))
    .with_for_update(of=Review)
)
_TAUGHT = (
    sa.select(
        col(Review.enrolment_id),
        col(Review.state),
        select(func.max(Lesson.starts_at))
        .where(
            col(Lesson.topic_id) == col(Review.topic_id),
            col(Lesson.starts_at) < sa.bindparam("before", type_=UtcDateTime()),
            col(Lesson.dropped_at).is_(None),
        )
        .correlate(Review)
        .scalar_subquery()
        .label("taught_at"),
    )
    .where(col(Review.nudge_id) == sa.bindparam("nudge"))
    .order_by(col(Review.position))
)


def lines(session: Session, nudge_id: int) -> list[NudgeQuestion]:
    """Return the questions of a nudge in order, locked for this transaction."""
    return [NudgeQuestion(*row) for row in _LINES.rows(session, {"nudge": nudge_id})]


def taught(session: Session, nudge_id: int, before: datetime) -> list[QuestionTaught]:
    """Return the questions of a nudge in order, with when their topics were last taught before a moment."""
    return [QuestionTaught(*row) for row in session.execute(_TAUGHT, {"nudge": nudge_id, "before": before})]
