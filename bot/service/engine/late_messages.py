"""Keeps what became late out of quiet hours.

A message is written when somebody waits for it or when it is due, both at a moment that suits. After an outage it may
leave much later. Then it waits for the end of the quiet hours of whoever reads it: a student's own and their classes',
a teacher's classes', the class's for a class place. Somebody who has just written is awake and is answered.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta

from bot.teaching.school_days import class_rules, rules_for
from scheduler.calendar.allowed_moments import is_quiet
from scheduler.calendar.school_days import SchoolDays
from storage.base.database import Session
from storage.school import channels, classes, enrolments, people

LATE = timedelta(minutes=15)
"""A message that leaves so long after it was written is late."""
STEP = timedelta(minutes=5)
LONGEST = timedelta(days=1)


def quiet_until(session: Session, platform: str, address: str, now: datetime) -> datetime | None:
    """Return when the quiet hours end that an address is in; None when it is in none."""
    rules = list(_rules_at(session, platform, address))
    at = now
    # Quiet hours of several classes may follow one another; they are set to the minute, most often to five of them.
    while any(is_quiet(at, one) for one in rules):
        at = _next_step(at)
        if at - now > LONGEST:
            return None  # quiet all day is no quiet hours
    return None if at == now else at


def _next_step(at: datetime) -> datetime:
    passed = timedelta(minutes=at.minute % 5, seconds=at.second, microseconds=at.microsecond)
    return at - passed + STEP


def _rules_at(session: Session, platform: str, address: str) -> Iterable[SchoolDays]:
    place = channels.find(session, platform, address)
    if place is not None:
        yield class_rules(session, classes.get(session, place.class_id))
        return
    contact = people.contact_at(session, platform, address)
    if contact is None:
        return
    for student in enrolments.of_person(session, contact.person_id):
        yield rules_for(session, student, classes.get(session, student.class_id))
    for school_class in classes.of_teacher(session, contact.person_id):
        yield class_rules(session, school_class)
