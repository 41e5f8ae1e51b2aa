"""The nightly fit: at night a class with enough new answers has its model fitted anew."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from datetime import datetime, timedelta

from bot.service.asking.planning import FIT, ClassDay
from bot.service.engine.due_work import DueItem, WorkContext, does, finish
from bot.teaching import memories as models
from bot.teaching.memories import FIT_MINUTE, LEAST_ANSWERS
from scheduler.calendar.school_days import local_day, local_moment
from scheduler.model.fitting import fit
from scheduler.values import Parameters
from storage.base.database import Session
from storage.history import class_history
from storage.history.class_history import ClassStory
from storage.queue import due

WORTH_A_FIT = 0.1
"""New answers, as a share of those that the last fit knew, that are worth a new one. Every answer is learned from at
once all the same; a fit only moves what the class has in common. Chosen: some thirty fits in a term."""


def plan_fit(session: Session, day: ClassDay, now: datetime) -> None:
    """See that the coming night fits the class's model, if there is something new to learn from."""
    answers = class_history.answers_of(day.story)
    known = class_history.answers_at_last_fit(session, day.class_id)
    if answers < LEAST_ANSWERS or answers - known < WORTH_A_FIT * known:
        return
    tomorrow = local_day(now, day.rules.zone) + timedelta(days=1)
    at = local_moment(tomorrow, FIT_MINUTE, day.rules.zone)
    due.ensure(session, f"{FIT}:{day.class_id}:{tomorrow}", FIT, at, subject=day.class_id)


@does(FIT)
async def nightly_fit(work_context: WorkContext, item: DueItem) -> None:
    """Fit the class's model to all its answers."""
    now, class_id = work_context.clock.now(), item.subject or 0
    told, others = await work_context.db.run(_read_story, class_id, now)
    fitted = await asyncio.to_thread(_fit, told, others)
    await work_context.db.run(_keep_fit, item, class_id, fitted, now)
    work_context.app_context.memories.forget(class_id)


def _read_story(session: Session, class_id: int, now: datetime) -> tuple[ClassStory, tuple[Parameters, ...]]:
    told = class_history.of_class(session, class_id, now)
    others = tuple(Parameters.from_dict(one) for one in class_history.fits_of_others(session, class_id, now))
    return told, others


def _fit(told: ClassStory, others: Sequence[Parameters]) -> Parameters:
    # Always from what other classes are like, not from the last fit: the same answers must not count twice.
    prior = models.prior_of(told, others, own=False)
    return fit(models.build(told, others, own=False), prior)


def _keep_fit(session: Session, item: DueItem, class_id: int, fitted: Parameters, now: datetime) -> None:
    finish(session, item, now)
    class_history.keep_fit(session, class_id, fitted.to_dict(), fitted.answers, now)
