"""The dates that a class works towards, as the planner and the evidence read them."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np

from scheduler.calendar.allowed_moments import nudge_moments
from scheduler.calendar.school_days import SchoolDays, day_array, local_day
from scheduler.values import Dates
from storage.history.class_history import ClassStory


def dates_of(told: ClassStory, known: SchoolDays, minute: int, now: datetime) -> Dates:
    """Return the dates that a class's plan works towards, topics by their ids as text."""
    return Dates(
        quizzes=tuple((at, tuple(map(str, topics))) for at, topics in told.quizzes),
        exams=tuple((at, tuple(map(str, topics))) for at, topics in told.exams),
        lessons=tuple((at, str(topic)) for at, topic in told.lessons),
        evenings=_evenings(told, known, minute, now),
    )


def _evenings(told: ClassStory, known: SchoolDays, minute: int, now: datetime) -> tuple[datetime, ...]:
    """Return the moments ahead at which an average student can be asked, up to the last date that counts."""
    last = max((at for at, _ in (*told.lessons, *told.quizzes, *told.exams)), default=now)
    count = min(max((last - now).days + 1, 28), 300)
    days = day_array(local_day(now, known.home) + timedelta(days=1), count)  # today is the planner's own
    seconds = nudge_moments(days, minute, known)
    return tuple(datetime.fromtimestamp(at, now.tzinfo) for at in seconds[np.isfinite(seconds)].tolist())
