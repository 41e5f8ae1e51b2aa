"""The planning of a class's day as due work: look, choose, keep."""

from __future__ import annotations

import asyncio
from datetime import datetime

from bot.service.asking import planning
from bot.service.asking.nightly_fit import plan_fit
from bot.service.asking.planning import PLAN, Choice, ClassDay
from bot.service.engine.due_work import DueItem, WorkContext, does, finish
from storage.base.database import Session


@does(PLAN)
async def plan_class(work_context: WorkContext, item: DueItem) -> None:
    """Plan a class's day: what is planned and unsent is planned anew; the next look is planned."""
    now = work_context.clock.now()
    day = await work_context.db.run(planning.look, item.subject or 0, now)
    choice: Choice = {}
    if day is not None:
        choice = await asyncio.to_thread(planning.choose, work_context.app_context.memories, day, now)
    await work_context.db.run(_keep_plan, item, day, choice, now)


def _keep_plan(session: Session, item: DueItem, day: ClassDay | None, choice: Choice, now: datetime) -> None:
    finish(session, item, now)
    if day is not None:
        planning.keep(session, day, choice, now)
        plan_fit(session, day, now)
