"""Questions are opened one at a time: which question of the topic, in which order of options."""

from __future__ import annotations

import logging
import random
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from bot.grading.drawn import BadDraw, BadTemplate, ask
from bot.grading.keys import AnswerKey, BadKey, from_dict
from bot.grading.kinds import recipe_of
from bot.service.engine import faults
from storage.asked import reviews
from storage.asked.nudge_questions import NudgeQuestion
from storage.base.database import Session
from storage.tables import ReviewState

log = logging.getLogger(__name__)


def open_next(session: Session, lines: Sequence[NudgeQuestion], now: datetime) -> int | None:
    """Open the next question of a nudge and return its review; None when none is left.

    A nudge has at most one open question: if one is open, that one is returned. Topics whose last question was
    retired meanwhile, or that were answered since in another nudge, are passed over.

    Parameters
    ----------
    lines : sequence of NudgeQuestion
        The nudge's questions, from `storage.asked.nudge_questions.lines`.
    """
    already = open_in(lines)
    if already is not None:
        return already
    for line in lines:
        if line.state is ReviewState.PLANNED:
            if not line.met and _open(session, line, now):
                return line.review_id
            reviews.drop(session, line.review_id, now)
    return None


def open_in(lines: Sequence[NudgeQuestion]) -> int | None:
    """Return the review of a nudge that waits for an answer."""
    return next((line.review_id for line in lines if line.state is ReviewState.OPEN), None)


def _open(session: Session, line: NudgeQuestion, now: datetime) -> bool:
    if line.to_ask is None or line.key is None:
        return False
    try:
        again = line.shown == line.to_ask
        drawn = line.drawn if again else _drawn(session, line, line.to_ask)
        key = from_dict(line.key if drawn is None else drawn["answer"])
    except (BadKey, BadDraw, BadTemplate) as problem:
        # A damaged question is logged and passed over.
        faults.note(log, f"Reading question {line.to_ask}", problem)
        return False
    order = line.option_order if again else shuffled(key, line)
    reviews.show(session, line.review_id, line.to_ask, order, now, drawn)
    return True


def _drawn(session: Session, line: NudgeQuestion, question_id: int) -> Mapping[str, Any] | None:
    """Draw the values of a question that has some: others than this student had, the same if it is done again."""
    if line.template is None:
        return None
    before = reviews.drawn_before(session, line.enrolment_id, question_id)
    return ask(line.template, f"{line.enrolment_id}:{question_id}:{len(before)}", before)


def shuffled(key: AnswerKey, line: NudgeQuestion) -> list[int]:
    """Return the order in which options are shown: the same whenever it is asked about; empty without options."""
    order = list(range(len(recipe_of(key).options(key))))
    # Seeded by the review, so that a worker that dies half-way and one that comes after show the same.
    random.Random(f"{line.review_id}:{line.enrolment_id}").shuffle(order)  # noqa: S311 - no secret
    return order
