"""What comes to teachers by itself: the weekly report at the class's hour, reminders of missing questions."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta

from bot.service.engine.due_work import DueItem, WorkContext, does
from bot.service.engine.facts import words_for
from bot.service.engine.loop import post, speaker_of
from bot.talk.core import Outgoing
from bot.talk.teacher.reminding import reminder
from bot.teaching.school_days import class_rules
from scheduler.calendar.school_days import SchoolDays, is_school_day
from scheduler.calendar.zones import local_day, local_moment
from storage.base.database import Session
from storage.base.rows import id_of
from storage.queue import due
from storage.school import classes, timetable
from storage.tables import SchoolClass

REMINDER = "topic_reminder"
REPORT = "week_report"
REMIND_AT = time(15)
"""When teachers are reminded: after lessons, before the evening. (Common practice, no source.)"""

HORIZON_DAYS = 200


def ensure_class_work(session: Session, class_id: int, now: datetime) -> None:
    """See that a class's next reminder and weekly report are planned, at the hours that its rules say.

    Looked at for every class at every start and every hour (`bot.service.rounds`).
    """
    school_class = classes.get(session, class_id)
    if school_class.closed_at is not None:
        return
    _ensure_reminder(session, school_class, now)
    _ensure_report(session, school_class, now)


def _ensure_reminder(session: Session, school_class: SchoolClass, now: datetime) -> None:
    today = local_day(now, school_class.zone)
    still_today = local_moment(today, REMIND_AT, school_class.zone) > now
    if still_today and is_school_day(today, class_rules(session, school_class)):
        day: date | None = today
    else:
        day = next_school_day(session, school_class, now)
    if day is not None:
        at = local_moment(day, REMIND_AT, school_class.zone)
        due.ensure(
            session, f"{REMINDER}:{school_class.id}:{day.isoformat()}", REMINDER, at, subject=school_class.id
        )


def _ensure_report(session: Session, school_class: SchoolClass, now: datetime) -> None:
    """Plan the next report. Its key names the week, so a week has one, and a new hour moves it."""
    today = local_day(now, school_class.zone)
    monday = today - timedelta(days=today.weekday())
    for week in (monday, monday + timedelta(days=7)):
        at = report_moment(school_class, week)
        key = f"{REPORT}:{school_class.id}:{week.isoformat()}"
        if at <= now:
            continue
        if not due.ensure(
            session, key, REPORT, at, subject=school_class.id, payload={"week": week.isoformat()}
        ):
            due.move(session, key, at)
        return


def report_moment(school_class: SchoolClass, monday: date) -> datetime:
    """Return when the report of the week from that Monday on is due."""
    day = monday + timedelta(days=school_class.report_weekday)
    return local_moment(day, school_class.report_minute, school_class.zone)


# ---------------------------------------------------------------- reminders


def next_school_day(session: Session, school_class: SchoolClass, now: datetime) -> date | None:
    """Return the next school day after today."""
    rules = class_rules(session, school_class)
    today = local_day(now, school_class.zone)
    coming = (today + timedelta(days=ahead) for ahead in range(1, HORIZON_DAYS))
    return next((day for day in coming if is_school_day(day, rules)), None)


def last_school_day(rules: SchoolDays, today: date) -> date:
    """Return the last school day before today; a year ago at the earliest."""
    past = (today - timedelta(days=back) for back in range(1, 366))
    return next((day for day in past if is_school_day(day, rules)), today - timedelta(days=1))


@does(REMINDER)
async def remind(work_context: WorkContext, item: DueItem) -> None:
    """Tell a class's teachers which of the last school day's topics have no questions."""
    await work_context.db.run(_remind, work_context, item, work_context.clock.now())


def _remind(session: Session, work_context: WorkContext, item: DueItem, now: datetime) -> None:
    if not due.done(session, item.id, now, lease_token=item.lease_token) or item.subject is None:
        return
    school_class = classes.get(session, item.subject)
    ensure_class_work(session, item.subject, now)
    today = local_day(now, school_class.zone)
    if school_class.closed_at is not None or local_day(item.due_at, school_class.zone) != today:
        return  # the day it was meant for is over: what it would say is no news any more
    missing = unasked_topics(session, school_class, now)
    if not missing:
        return
    for teacher in classes.teachers(session, item.subject):
        speaker = speaker_of(session, teacher.person_id)
        if speaker is not None:
            texts = words_for(session, work_context.app_context, teacher.person_id)
            said = reminder(texts, item.subject, school_class.name, missing)
            post(session, speaker, [Outgoing(said, person_id=teacher.person_id)], now)


def unasked_topics(session: Session, school_class: SchoolClass, now: datetime) -> list[tuple[int, str]]:
    """Return the topics first taught since the last school day that have no questions."""
    today = local_day(now, school_class.zone)
    since = last_school_day(class_rules(session, school_class), today)
    return [
        (one.id, one.name)
        for one in timetable.topics(session, id_of(school_class), now)
        if one.first_taught is not None
        and not one.questions
        and since <= local_day(one.first_taught, school_class.zone) < today
    ]
