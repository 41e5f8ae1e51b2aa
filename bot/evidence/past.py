"""The class's model as it was at a moment that is past, where a fit was made since."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

from bot.evidence.load import ClassEvidence, before
from bot.teaching.memories import FIT_MINUTE, LEAST_ANSWERS, build, prior_of
from scheduler.calendar.school_days import local_day, local_moment
from scheduler.model.fitting import fit
from storage.history.class_history import answers_of


def as_fitted_then(read: ClassEvidence) -> ClassEvidence:
    """Return the evidence with parameters that rest on nothing later than its moment.

    Only the last fit of a class is kept. Where it was made after the moment, the fit of the night before the moment is
    made once more from what had happened by then, as the nightly one is; with too few answers for one there was none.
    That fit may differ a little from the one of then, which can be some nights older.
    """
    if not read.story.fitted_later:
        return read
    night = _last_night(read.now, read.rows.school_class.zone)
    told = before(read, night)
    if answers_of(told) < LEAST_ANSWERS:
        return read
    fitted = fit(build(told, read.others, own=False), prior_of(told, read.others, own=False))
    return replace(read, story=replace(read.story, parameters=fitted.to_dict(), fitted_at=night))


def _last_night(now: datetime, zone: str) -> datetime:
    """Return the last moment of a nightly fit before a moment."""
    today = local_moment(local_day(now, zone), FIT_MINUTE, zone)
    return today if today < now else local_moment(local_day(now, zone) - timedelta(days=1), FIT_MINUTE, zone)
