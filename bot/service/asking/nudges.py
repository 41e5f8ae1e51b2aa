"""Nudges go out, once, at an allowed moment; and end when their time is over.

A nudge is sent by the transaction that moves it on: its message goes to the outbox there, marked to be dropped
should quiet hours begin before it leaves. What is planned may be out of date by the time it is due, so every
fact is looked at again: still a student, not paused, still that day, still allowed, not answered meanwhile.

After two days off, what was planned for those days has gone by and is over unsent; the class is planned for
today, and one nudge goes out.
"""

from __future__ import annotations

import logging
from collections.abc import Sequence
from datetime import datetime, timedelta

from bot.service.asking import evening
from bot.service.asking.evening import Party, Place
from bot.service.engine import faults
from bot.service.engine.context import AppContext
from bot.service.engine.due_work import WorkContext
from bot.service.engine.effects import Speaker
from bot.service.engine.loop import resume, speaker_in
from bot.talk.student.effects import NudgeDue, SilenceNoticed
from bot.teaching.school_days import closes_at, day_span, later_today, over_at, wishes_of
from bot.teaching.silence import is_silent
from scheduler.calendar.school_days import local_day
from storage.asked import evenings, homework, nudges
from storage.base.database import Session
from storage.base.rows import id_of
from storage.school import people, timetable
from storage.tables import EnrolmentState, Nudge, NudgeState
from storage.values import QuizInfo

log = logging.getLogger(__name__)

BATCH = 20
RETRY = timedelta(minutes=10)


async def send_nudges(work_context: WorkContext) -> int:
    """Send every nudge that is due; return how many were looked at."""
    looked = 0
    while True:
        now = work_context.clock.now()
        ids = await work_context.db.run(_due, now)
        for nudge_id in ids:
            await _send(work_context, nudge_id, now)
        looked += len(ids)
        if ids:
            work_context.wake()
        if len(ids) < BATCH:
            return looked


async def end_nudges(work_context: WorkContext) -> int:
    """End every nudge whose time is over; return how many there were."""
    ended = 0
    while True:
        count = await work_context.db.run(end_some, work_context.clock.now())
        ended += count
        if count < BATCH:
            return ended


def _due(session: Session, now: datetime) -> list[int]:
    return [nudge.id for nudge in nudges.due(session, now, limit=BATCH) if nudge.id is not None]


async def _send(work_context: WorkContext, nudge_id: int, now: datetime) -> None:
    try:
        await work_context.db.run(send_one, work_context.app_context, nudge_id, now)
    except Exception as problem:
        faults.note(log, f"Nudge {nudge_id}", problem)
        await work_context.db.run(_put_off_fault, nudge_id, now)


def _put_off_fault(session: Session, nudge_id: int, now: datetime) -> None:
    """Let others go first: a nudge that fails must not hold up the rest. It is over when its day is."""
    nudge = nudges.get(session, nudge_id)
    if nudge is not None and nudge.state is NudgeState.PLANNED:
        nudges.put_off(session, nudge, now + RETRY)


# ---------------------------------------------------------------- one nudge


def send_one(session: Session, app_context: AppContext, nudge_id: int, now: datetime) -> bool:
    """Send one nudge if everything still speaks for it; return whether it went out."""
    evenings.hold(session, nudge_id)
    nudge = nudges.lock(session, nudge_id)
    if nudge is None or nudge.state is not NudgeState.PLANNED or nudge.due_at > now:
        return False
    chats = people.contacts(session, nudges.class_of(session, nudge)[0].person_id or 0)
    speaker = speaker_in(chats)
    if speaker is None:
        nudges.close(session, id_of(nudge), NudgeState.EXPIRED, now)
        return False
    places = evening.places_in(session, nudge)
    if not _may_go(session, nudge, places, now):
        return False
    party = _party(session, nudge, places, now)
    if party is None:
        return False
    if is_silent(session, party.places[0].student, max(chat.last_heard_at for chat in chats), now):
        return _ask_whether_there(session, app_context, party, speaker, now)
    return _send_party(session, app_context, party, speaker, now)


def _send_party(
    session: Session, app_context: AppContext, party: Party, speaker: Speaker, now: datetime
) -> bool:
    nudge, host = party.nudges[0], party.places[0]
    asks_homework = any(_homework(session, place, nudge, now) for place in party.places)
    left = (
        evening.gather(session, party, now)
        if nudge.sent_at is None
        else evening.drop_stale(session, nudge, now)
    )
    if not left and not asks_homework:
        evening.end_party(session, party, now, NudgeState.DONE)
        return False
    busy = evening.being_answered(session, host.student, now)
    nudges.close_earlier(session, nudge, now, but=None if busy is None else busy.review_id)
    nudges.sent(session, nudge, now, _over_at(session, host, now))
    closes = min(closes_at(now, place.rules) for place in party.places)
    quiz, of_class = _quiz_tomorrow(session, nudge)
    resume(session, app_context, speaker, NudgeDue(id_of(nudge), closes, quiz, of_class), now)
    return True


def _party(session: Session, nudge: Nudge, places: Sequence[Place], now: datetime) -> Party | None:
    """Return what goes out now; None after the nudge was put off, or ended because the day has had its nudges."""
    if nudge.sent_at is not None:  # put off by the student: it is whole already
        return Party((nudge,), tuple(places))
    found = evening.party_of(session, nudge, places[0], now)
    if isinstance(found, datetime):
        nudges.put_off(session, nudge, found)
        return None
    if found is None:
        nudges.close(session, id_of(nudge), NudgeState.EXPIRED, now)
    return found


def _may_go(session: Session, nudge: Nudge, places: Sequence[Place], now: datetime) -> bool:
    """Look at the facts again; put the nudge off within its day, or end it."""
    student, school_class, rules = places[0].student, places[0].school_class, places[0].rules
    gone = student.state is not EnrolmentState.ACTIVE or school_class.closed_at is not None
    if gone or student.person_id is None:
        nudges.close(session, id_of(nudge), NudgeState.EXPIRED, now)
        return False
    at = evening.free_moment(session, places, nudge.day, now)
    if at == now:
        return True
    later = None if at is None else later_today(at, nudge.day, rules)
    if later is None or local_day(now, rules.home) != nudge.day:
        nudges.close(session, id_of(nudge), NudgeState.EXPIRED, now)
    else:
        nudges.put_off(session, nudge, later)
    return False


def _homework(session: Session, place: Place, nudge: Nudge, now: datetime) -> bool:
    start, _ = day_span(nudge.day, place.rules)
    return bool(homework.unreported(session, id_of(place.student), start, now))


def _over_at(session: Session, host: Place, now: datetime) -> datetime:
    minute = wishes_of(session, host.student, host.school_class).minute
    return over_at(now, minute, host.rules)


def _quiz_tomorrow(session: Session, nudge: Nudge) -> tuple[QuizInfo | None, str]:
    """Return a quiz on the next day, and the name of its class where the nudge has questions of several."""
    asked = [school_class for _, school_class in evenings.members(session, nudge, with_host=False)]
    for school_class in asked:
        for quiz in timetable.quizzes(session, id_of(school_class), since=nudge.due_at):
            if quiz.day == nudge.day + timedelta(days=1):
                return quiz, school_class.name if len(asked) > 1 else ""
    return None, ""


# ---------------------------------------------------------------- silence


def _ask_whether_there(
    session: Session, app_context: AppContext, party: Party, speaker: Speaker, now: datetime
) -> bool:
    """Send one message instead of the nudge; nothing more follows until the student is heard of."""
    host = party.places[0]
    evening.end_party(session, party, now)
    nudges.note_silence(session, host.student, now)
    resume(
        session, app_context, speaker, SilenceNoticed(id_of(host.student), closes_at(now, host.rules)), now
    )
    return True


# ---------------------------------------------------------------- over


def end_some(session: Session, now: datetime) -> int:
    """End some nudges whose time is over; return how many."""
    found = nudges.over(session, now, limit=BATCH)
    for nudge in found:
        if nudge.state in nudges.UNDER_WAY and _goes_on(session, nudge, now):
            continue
        if nudge.sent_at is not None and nudges.never_arrived(session, nudge):
            nudge.sent_at = None  # the student never saw it: not a nudge that went unanswered
        nudges.close(session, id_of(nudge), NudgeState.EXPIRED, now)
    return len(found)


def _goes_on(session: Session, nudge: Nudge, now: datetime) -> bool:
    """Leave a nudge open whose question is just being answered, until nobody does."""
    student, _ = nudges.class_of(session, nudge)
    busy, until = (
        evening.being_answered(session, student, now),
        evening.answering_until(session, student, now),
    )
    if busy is None or until is None or busy.nudge_id != nudge.id:
        return False
    nudge.expires_at = until
    session.add(nudge)
    session.flush()
    return True
