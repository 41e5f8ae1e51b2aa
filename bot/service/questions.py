"""Questions are opened one at a time: which question of the topic, in which order of options."""

from __future__ import annotations

import logging
import random
from datetime import datetime

from bot.grading.keys import AnswerKey, BadKey, ChoiceKey, from_dict
from bot.service import faults
from storage import nudges, reviews
from storage.database import Session
from storage.tables import Nudge, NudgeState, Question, Review

log = logging.getLogger(__name__)


def open_next(session: Session, nudge: Nudge, now: datetime) -> int | None:
    """Open the next question of a nudge and return its review; None when none is left.

    A nudge has at most one open question: if one is open, that one is returned. Topics whose last question was
    retired meanwhile are passed over.
    """
    already = reviews.open_of_nudge(session, nudge.id or 0)
    if already is not None:
        return already
    for review in reviews.planned_in(session, nudge.id or 0):
        if _open(session, review, now):
            if nudge.state is not NudgeState.STARTED:
                nudges.set_state(session, nudge, NudgeState.STARTED)
            return review.id
        reviews.drop(session, review, now)
    return None


def _open(session: Session, review: Review, now: datetime) -> bool:
    question = _question(session, review)
    key = None if question is None else _key(question)
    if question is None or key is None:
        return False
    order = list(review.option_order) if review.question_id == question.id else shuffled(key, review)
    reviews.show(session, review, question, order, now)
    return True


def _question(session: Session, review: Review) -> Question | None:
    """Return the question that was shown before, if it is still in use, else the one to ask."""
    if review.question_id is not None:
        known = reviews.question(session, review.question_id)
        if known is not None and known.retired_at is None:
            return known
    return reviews.question_for(session, review.enrolment_id, review.topic_id)


def _key(question: Question) -> AnswerKey | None:
    """Return the key of a question; a damaged one is logged, and the question passed over."""
    try:
        return from_dict(question.answer)
    except BadKey as problem:
        faults.note(log, f"Reading the key of question {question.id}", problem)
        return None


def shuffled(key: AnswerKey, review: Review) -> list[int]:
    """Return the order in which the options of a choice are shown: the same whenever it is asked about."""
    if not isinstance(key, ChoiceKey):
        return []
    order = list(range(len(key.options)))
    # Seeded by the review, so that a worker that dies half-way and one that comes after show the same.
    random.Random(f"{review.id}:{review.enrolment_id}").shuffle(order)  # noqa: S311 - no secret
    return order
