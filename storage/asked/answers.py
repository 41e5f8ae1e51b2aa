"""Answers: the first one to a question counts, once."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlmodel import Session, col, select

from storage.asked.reviews import InHand
from storage.base.statements import change, insert_new
from storage.tables import Answer, Enrolment, NudgeState, Review, ReviewState, Topic, Verdict

GIVEN_LONGEST = 500
COUNTS_AFTER_CLOSING = timedelta(minutes=15)
"""Chosen: as long as somebody who is answering is left alone."""


@dataclass(frozen=True, slots=True)
class AnswerLine:
    """An answer with what it was about, for the student who gave it."""

    topic: str
    asked_at: datetime | None
    at: datetime
    verdict: Verdict
    given: str
    on_time: bool


def still_counts(
    state: ReviewState,
    nudge_state: NudgeState,
    asked_at: datetime | None,
    closed_at: datetime | None,
    now: datetime,
) -> bool:
    """Whether an answer to a closed question still counts: it was shown, and its time went by minutes ago.

    Somebody may have been writing it. What the student declined, or was answered, stays closed.
    """
    went_by = state is ReviewState.EXPIRED and nudge_state is NudgeState.EXPIRED
    return (
        went_by and asked_at is not None and closed_at is not None and now - closed_at <= COUNTS_AFTER_CLOSING
    )


def record(
    session: Session,
    review: InHand,
    verdict: Verdict,
    now: datetime,
    *,
    given: str,
    option: int | None,
    chance: float,
    on_time: bool,
) -> bool:
    """Record the answer to an open question, or to one closed minutes ago, and close it.

    Parameters
    ----------
    review : Review
        Locked in this transaction (`storage.asked.reviews.of_student`).
    given : str
        What was typed or chosen, cut to what fits.
    option : int or None
        Place of the chosen option in the stored question, from 0.
    chance : float
        Probability of a right answer without knowing anything. [0..1)
    on_time : bool
        Whether it came on the day of its nudge.

    Returns
    -------
    bool
        False when the question was not open (nor until minutes ago, `still_counts`), or was answered before: nothing
        has changed.
    """
    waits = review.state is ReviewState.OPEN or still_counts(
        review.state, review.nudge_state, review.asked_at, review.closed_at, now
    )
    if not waits or review.question_id is None:
        return False
    row = {
        "review_id": review.id,
        "enrolment_id": review.enrolment_id,
        "topic_id": review.topic_id,
        "question_id": review.question_id,
        "verdict": verdict,
        "given": _storable(given),
        "option": option,
        "chance": chance,
        "on_time": on_time,
        "at": now,
        "taken_s": None if review.asked_at is None else (now - review.asked_at).total_seconds(),
    }
    if insert_new(session, Answer, row) is None:
        return False
    change(session, Review, review.id, state=ReviewState.ANSWERED, closed_at=now)
    change(session, Enrolment, review.enrolment_id, last_answer_at=now)
    return True


def of_student(session: Session, enrolment_id: int) -> list[AnswerLine]:
    """Return all answers of a student in one class, oldest first."""
    stmt = (
        select(Answer, Topic.name, Review.asked_at)
        .join(Topic, col(Topic.id) == col(Answer.topic_id))
        .join(Review, col(Review.id) == col(Answer.review_id))
        .where(Answer.enrolment_id == enrolment_id)
        .order_by(col(Answer.at), col(Answer.id))
    )
    return [
        AnswerLine(topic, asked_at, row.at, row.verdict, row.given, row.on_time)
        for row, topic, asked_at in session.exec(stmt)
    ]


def _storable(given: str) -> str:
    return given.replace("\x00", "")[:GIVEN_LONGEST]
