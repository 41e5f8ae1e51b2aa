"""Nudges go out, once, at an allowed moment; and end when their time is over.

A nudge is sent by the transaction that moves it on: its message goes to the outbox there, marked to be dropped
should quiet hours begin before it leaves. What is planned may be out of date by the time it is due, so every
fact is looked at again: still a student, not paused, still that day, still allowed, not answered meanwhile.

After two days off, what was planned for those days has gone by and is over unsent; the class is planned for
today, and one nudge goes out.
"""

from __future__ import annotations

import logging
from datetime import datetime, timedelta

from bot.service import faults
from bot.service.desk import Desk
from bot.service.duework import House
from bot.service.loop import resume, speaker_in
from bot.service.planning import minute_of
from bot.service.schooldays import (
    class_rules,
    closes_at,
    day_span,
    later_today,
    next_day_moment,
    student_rules,
)
from bot.service.work import Speaker
from bot.talk.student.effects import NudgeDue, SilenceNoticed
from scheduler.schoolday import SchoolDays, is_allowed, local_day, zone_named
from storage import enrolments, homework, nudges, people, reviews, sheets, timetable
from storage.database import Session
from storage.tables import Enrolment, EnrolmentState, Nudge, NudgeState, ReviewState, SchoolClass

log = logging.getLogger(__name__)

BATCH = 20
TALKING = timedelta(minutes=15)
"""Somebody who is answering in another class is not interrupted for so long."""
SILENT_AFTER = timedelta(days=7)
SILENT_NUDGES = 3
LONGEST_OPEN = timedelta(hours=72)
LESSON_LASTS = timedelta(minutes=45)
RETRY = timedelta(minutes=10)


async def send_nudges(house: House) -> int:
    """Send every nudge that is due; return how many were looked at."""
    looked = 0
    while True:
        now = house.clock.now()
        ids = await house.db.run(_due, now)
        for nudge_id in ids:
            await _send(house, nudge_id, now)
        looked += len(ids)
        if ids:
            house.wake()
        if len(ids) < BATCH:
            return looked


async def end_nudges(house: House) -> int:
    """End every nudge whose time is over; return how many there were."""
    ended = 0
    while True:
        count = await house.db.run(end_some, house.clock.now())
        ended += count
        if count < BATCH:
            return ended


def _due(session: Session, now: datetime) -> list[int]:
    return [nudge.id for nudge in nudges.due(session, now, limit=BATCH) if nudge.id is not None]


async def _send(house: House, nudge_id: int, now: datetime) -> None:
    try:
        await house.db.run(send_one, house.desk, nudge_id, now)
    except Exception as problem:
        faults.note(log, f"Nudge {nudge_id}", problem)
        await house.db.run(_put_off_fault, nudge_id, now)


def _put_off_fault(session: Session, nudge_id: int, now: datetime) -> None:
    """Let others go first: a nudge that fails must not hold up the rest. It is over when its day is."""
    nudge = nudges.get(session, nudge_id)
    if nudge is not None and nudge.state is NudgeState.PLANNED:
        nudges.put_off(session, nudge, now + RETRY)


# ---------------------------------------------------------------- one nudge


def send_one(session: Session, desk: Desk, nudge_id: int, now: datetime) -> bool:
    """Send one nudge if everything still speaks for it; return whether it went out."""
    nudge = nudges.lock(session, nudge_id)
    if nudge is None or nudge.state is not NudgeState.PLANNED or nudge.due_at > now:
        return False
    student, group = nudges.class_of(session, nudge)
    rules = student_rules(class_rules(session, group), student)
    chats = people.contacts(session, student.person_id or 0)
    speaker = speaker_in(chats)
    if speaker is None:
        nudges.close(session, nudge.id or 0, NudgeState.EXPIRED, now)
    if speaker is None or not _may_go(session, nudge, student, group, rules, now):
        return False
    left = _drop_stale(session, nudge, now)
    if _is_silent(session, student, max(chat.last_heard_at for chat in chats), now):
        return _ask_whether_there(session, desk, nudge, student, speaker, rules, now)
    if not left and not _homework(session, student, nudge, rules, now):
        nudges.close(session, nudge.id or 0, NudgeState.DONE, now)
        return False
    nudges.close_earlier(session, nudge, now)
    nudges.sent(session, nudge, now, _over_at(student, group, rules, now))
    return _say(session, desk, nudge, group, speaker, rules, now)


def _may_go(
    session: Session, nudge: Nudge, student: Enrolment, group: SchoolClass, rules: SchoolDays, now: datetime
) -> bool:
    """Look at the facts again; put the nudge off within its day, or end it."""
    gone = student.state is not EnrolmentState.ACTIVE or group.closed_at is not None
    if gone or student.person_id is None:
        nudges.close(session, nudge.id or 0, NudgeState.EXPIRED, now)
        return False
    at = _free_moment(session, student, group, rules, now)
    if at == now:
        return True
    later = None if at is None else later_today(at, nudge.day, rules)
    if later is None or local_day(now, rules.home) != nudge.day:
        nudges.close(session, nudge.id or 0, NudgeState.EXPIRED, now)
    else:
        nudges.put_off(session, nudge, later)
    return False


def _free_moment(
    session: Session, student: Enrolment, group: SchoolClass, rules: SchoolDays, now: datetime
) -> datetime | None:
    """Return now if nothing stands against it, else when to look again; None for not on this day."""
    lesson_ends = _lesson_ends(session, group, now)
    if lesson_ends is not None:
        return lesson_ends
    if _is_answering(session, student, now):
        return now + TALKING
    if is_allowed(now, rules):
        return now
    return later_today(now, local_day(now, rules.home), rules)


def _lesson_ends(session: Session, group: SchoolClass, now: datetime) -> datetime | None:
    """Return when the lesson of the class ends that is being held now."""
    near = timetable.lessons(session, group.id or 0, since=now - timedelta(hours=4), until=now)
    for lesson in near:
        timed = lesson.starts_at.astimezone(zone_named(group.zone)).time() != timetable.NO_TIME_GIVEN
        ends = lesson.ends_at or lesson.starts_at + LESSON_LASTS
        if now < ends and (timed or lesson.ends_at is not None):
            return ends
    return None


def _is_answering(session: Session, student: Enrolment, now: datetime) -> bool:
    """Whether the student is in the middle of the questions of another class."""
    others = [
        row.id or 0 for row in enrolments.of_person(session, student.person_id or 0) if row.id != student.id
    ]
    asked = reviews.open_one(session, others) if others else None
    return asked is not None and asked.asked_at is not None and asked.asked_at > now - TALKING


def _drop_stale(session: Session, nudge: Nudge, now: datetime) -> int:
    """Drop questions that cannot be asked any more, or whose topic was answered meanwhile; return how many are left."""
    planned = [line for line in sheets.lines(session, nudge.id or 0) if line.state is ReviewState.PLANNED]
    stale = [line for line in planned if line.met or line.to_ask is None]
    for line in stale:
        reviews.drop(session, line.review_id, now)
    return len(planned) - len(stale)


def _homework(session: Session, student: Enrolment, nudge: Nudge, rules: SchoolDays, now: datetime) -> bool:
    start, _ = day_span(nudge.day, rules)
    return bool(homework.unreported(session, student.id or 0, start, now))


def _over_at(student: Enrolment, group: SchoolClass, rules: SchoolDays, now: datetime) -> datetime:
    coming = next_day_moment(now, minute_of(student, group), rules, days=4)
    return now + LONGEST_OPEN if coming is None else min(coming, now + LONGEST_OPEN)


def _say(
    session: Session,
    desk: Desk,
    nudge: Nudge,
    group: SchoolClass,
    speaker: Speaker,
    rules: SchoolDays,
    now: datetime,
) -> bool:
    due = NudgeDue(nudge.id or 0, closes_at(now, rules), _quiz_tomorrow(session, group, nudge))
    resume(session, desk, speaker, due, now)
    return True


def _quiz_tomorrow(session: Session, group: SchoolClass, nudge: Nudge) -> str | None:
    """Return the name of a quiz on the next day, empty when it has none; None when there is no quiz."""
    start, end = nudge.day + timedelta(days=1), nudge.day + timedelta(days=2)
    for quiz in timetable.quizzes(session, group.id or 0, since=nudge.due_at):
        if start <= quiz.day < end:
            return quiz.name
    return None


# ---------------------------------------------------------------- silence


def _is_silent(session: Session, student: Enrolment, heard_at: datetime, now: datetime) -> bool:
    """Whether a week of nudges went by without a word, not counting holidays and days off."""
    since = nudges.heard_of(student, heard_at)
    unanswered = nudges.unanswered_run(session, student.id or 0, since)
    return len(unanswered) >= SILENT_NUDGES and unanswered[0] <= now - SILENT_AFTER


def _ask_whether_there(
    session: Session,
    desk: Desk,
    nudge: Nudge,
    student: Enrolment,
    speaker: Speaker,
    rules: SchoolDays,
    now: datetime,
) -> bool:
    """Send one message instead of the nudge; nothing more follows until the student is heard of."""
    nudges.close(session, nudge.id or 0, NudgeState.EXPIRED, now)
    nudges.note_silence(session, student, now)
    resume(session, desk, speaker, SilenceNoticed(student.id or 0, closes_at(now, rules)), now)
    return True


# ---------------------------------------------------------------- over


def end_some(session: Session, now: datetime) -> int:
    """End some nudges whose time is over; return how many."""
    found = nudges.over(session, now, limit=BATCH)
    for nudge in found:
        if nudge.sent_at is not None and nudges.never_arrived(session, nudge):
            nudge.sent_at = None  # the student never saw it: not a nudge that went unanswered
        nudges.close(session, nudge.id or 0, NudgeState.EXPIRED, now)
    return len(found)
