"""A look at everything that is due: work, nudges to send, nudges that are over, and the calendar that plans them.

This module also imports every other one that carries out effects or does due work, so that all are registered.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import bot.service.asking.class_day
import bot.service.asking.nightly_fit
import bot.service.engine.nightly_cleanup
import bot.service.student.account
import bot.service.student.effects
import bot.service.student.joining
import bot.service.student.work
import bot.service.teacher.bank
import bot.service.teacher.code_effects
import bot.service.teacher.effects
import bot.service.teacher.evidence
import bot.service.teacher.files
import bot.service.teacher.topics  # noqa: F401 - each registers what it carries out
from bot.service.asking.nudges import end_nudges, send_nudges
from bot.service.asking.planning import ensure_look
from bot.service.engine.due_work import WorkContext, do_due
from bot.service.engine.nightly_cleanup import ensure_forgetting
from bot.service.teacher.calendar import ensure_class_work
from storage.base.database import Session
from storage.queue import next_due
from storage.school import classes

CALENDAR_EVERY = timedelta(hours=1)
"""How often it is looked whether every class has its next plan, report and reminder. They plan one another;
this only mends what was lost, such as after a restore."""

CLASSES_AT_ONCE = 20
"""So many classes are looked at in one transaction: some 50 ms."""


@dataclass
class Rounds:
    """Looks again and again whether something is due, and does it."""

    work_context: WorkContext
    _calendar_at: datetime | None = None

    async def go(self) -> int:
        """Do whatever is due now, until nothing is; return how much that was."""
        await self._keep_calendar()
        done = 0
        while now_done := await self._once():
            done += now_done
            self.work_context.beat()
        return done

    async def _once(self) -> int:
        if not await self.work_context.db.read(_is_due, self.work_context.clock.now()):
            return 0
        # Ends come first: a new nudge takes the place of an old one that is over.
        ended = await end_nudges(self.work_context)
        worked = await do_due(self.work_context)
        sent = await send_nudges(self.work_context)
        return ended + worked + sent

    async def _keep_calendar(self) -> None:
        now = self.work_context.clock.now()
        if self._calendar_at is None or not self._calendar_at <= now < self._calendar_at + CALENDAR_EVERY:
            await keep_calendar(self.work_context)
            self._calendar_at = now


async def keep_calendar(work_context: WorkContext) -> None:
    """See that every open class has its next plan, report and reminder, and the night its forgetting.

    A few classes in a transaction: nobody's answer waits until a whole district is looked at.
    """
    now = work_context.clock.now()
    ids = await work_context.db.read(classes.open_ids)
    for first in range(0, len(ids), CLASSES_AT_ONCE):
        await work_context.db.run(_keep_classes, ids[first : first + CLASSES_AT_ONCE], now)
        work_context.beat()
    await work_context.db.run(ensure_forgetting, work_context.app_context.zone, now)


def _keep_classes(session: Session, class_ids: Sequence[int], now: datetime) -> None:
    for class_id in class_ids:
        ensure_look(session, class_id, now)
        ensure_class_work(session, class_id, now)


def _is_due(session: Session, now: datetime) -> bool:
    """Look before anything is locked: most looks find nothing."""
    coming = next_due.next_round(session)
    return coming is not None and coming <= now


def next_moment(session: Session, now: datetime) -> datetime | None:
    """Return the next moment at which something is due or may be sent; None when nothing is planned."""
    coming = next_due.next_moment(session)
    return None if coming is None else max(coming, now)
