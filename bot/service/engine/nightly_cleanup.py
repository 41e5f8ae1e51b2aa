"""Forgetting in time: once a night, what has been kept long enough is deleted.

The work goes in small transactions, so that nobody waits long behind it, and steps back for other work when
there is much of it. The log tells numbers of rows, nothing else.
"""

from __future__ import annotations

import logging
from collections import Counter
from datetime import datetime, timedelta
from functools import partial

from bot.service.engine.due_work import DueItem, WorkContext, does, finish
from scheduler.calendar.zones import local_day, local_moment
from storage.base.database import Session
from storage.privacy import cleanup
from storage.queue import due

log = logging.getLogger(__name__)

FORGET = "forget"
FORGET_MINUTE = 3 * 60 + 40
"""Local time of the nightly forgetting, after the nightly fit: nobody answers."""
AT_ONCE = 20
"""Transactions that one cleanup makes before other work may go on."""
STEP_BACK = timedelta(minutes=1)


def ensure_forgetting(session: Session, zone: str, now: datetime) -> None:
    """See that the coming night's forgetting is planned."""
    day = local_day(now, zone)
    if local_moment(day, FORGET_MINUTE, zone) <= now:
        day += timedelta(days=1)
    due.ensure(session, f"{FORGET}:{day.isoformat()}", FORGET, local_moment(day, FORGET_MINUTE, zone))


@does(FORGET)
async def forget(work_context: WorkContext, item: DueItem) -> None:
    """Delete what has been kept long enough, and plan the next night."""
    gone: Counter[str] = Counter()
    for _ in range(AT_ONCE):
        counts = await work_context.db.run(cleanup.forget, work_context.clock.now())
        gone += Counter(counts)
        work_context.beat()
        if not counts:
            await work_context.db.run(_end, item, work_context.app_context.zone, work_context.clock.now())
            await work_context.db.tidy()
            break
    else:
        until = work_context.clock.now() + STEP_BACK
        await work_context.db.run(partial(due.postpone, lease_token=item.lease_token), item.id, until)
    log.info("Forgotten: %s", ", ".join(f"{name} {gone[name]}" for name in sorted(gone)) or "nothing")


def _end(session: Session, item: DueItem, zone: str, now: datetime) -> None:
    finish(session, item, now)
    ensure_forgetting(session, zone, now)
