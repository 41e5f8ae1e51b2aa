"""What a student's conversation wants done, carried out. Every id is checked to be the speaker's own."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Sequence
from datetime import date, datetime, timedelta
from functools import wraps
from typing import TypeVar

from bot.service.asking import evening, planning
from bot.service.asking.opening import open_in, open_next
from bot.service.engine.effects import Work, carries
from bot.service.engine.refusals import why_to
from bot.talk.core import Effect, Result
from bot.talk.student.effects import (
    AnswerTaken,
    AskMore,
    Changed,
    Decline,
    Leave,
    NotChanged,
    NothingLeft,
    NotYours,
    Pause,
    PutOff,
    PutOffUntil,
    QuestionShown,
    ReportHomework,
    Resume,
    SetTimes,
    ShowProgress,
    Start,
    TakeAnswer,
    Working,
)
from bot.teaching.school_days import later_today, rules_for
from scheduler.calendar.school_days import local_day
from storage.asked import answers, evenings, homework, nudge_questions, nudges, reviews
from storage.asked.reviews import InHand
from storage.base.errors import InvalidValue, NotAllowed
from storage.base.rows import id_of
from storage.queue import due
from storage.school import enrolments
from storage.tables import Enrolment, EnrolmentState, Nudge, NudgeState, ReviewState, Verdict

PUT_OFF = timedelta(hours=1)

E = TypeVar("E", bound=Effect)


def own_only(carrier: Callable[[Work, E], Sequence[Result]]) -> Callable[[Work, E], Sequence[Result]]:
    """Answer somebody who names what is another student's. The storage says so before anything is changed."""

    @wraps(carrier)
    def carried(work: Work, effect: E) -> Sequence[Result]:
        try:
            return carrier(work, effect)
        except NotAllowed:
            return [NotYours()]

    return carried


# ---------------------------------------------------------------- nudges and answers


@carries(Start)
@own_only
def start(work: Work, effect: Start) -> Sequence[Result]:
    """Show the first question of a nudge that is still to be answered."""
    nudge = nudges.of_student(work.session, effect.nudge_id, work.person_id)
    if nudge.state not in nudges.NOT_OVER:
        return [NothingLeft("over")]
    return [_show_next(work, nudge)]


def _show_next(work: Work, nudge: Nudge) -> Result:
    lines = nudge_questions.lines(work.session, id_of(nudge))
    review_id = open_next(work.session, lines, work.now)
    if review_id is None:
        nudges.close(work.session, id_of(nudge), NudgeState.DONE, work.now)
        return NothingLeft("over")
    if nudge.state is not NudgeState.STARTED:
        nudges.set_state(work.session, id_of(nudge), NudgeState.STARTED)
    return QuestionShown(review_id, open_in(lines) is not None)


@carries(PutOff)
@own_only
def put_off(work: Work, effect: PutOff) -> Sequence[Result]:
    """Send a nudge once more in an hour, if that is still today and allowed."""
    nudge = nudges.of_student(work.session, effect.nudge_id, work.person_id)
    if nudge.state not in nudges.NOT_OVER:
        return [NothingLeft("over")]
    student, school_class = nudges.class_of(work.session, nudge)
    known = rules_for(work.session, student, school_class)
    at = later_today(work.now + PUT_OFF, local_day(work.now, known.home), known)
    if at is None:
        return [PutOffUntil(effect.nudge_id, None, effect.review_id)]
    nudges.put_off(work.session, nudge, at)
    return [PutOffUntil(effect.nudge_id, at, effect.review_id)]


@carries(Decline)
@own_only
def decline(work: Work, effect: Decline) -> Sequence[Result]:
    """Leave a nudge for today."""
    nudge = nudges.of_student(work.session, effect.nudge_id, work.person_id)
    if nudge.state in nudges.NOT_OVER:
        nudges.close(work.session, id_of(nudge), NudgeState.DECLINED, work.now)
    return []


@carries(TakeAnswer)
@own_only
def take_answer(work: Work, effect: TakeAnswer) -> Sequence[Result]:
    """Record an answer, the first one only, and open the next question."""
    review = reviews.of_student(work.session, effect.review_id, work.person_id)
    at = _given_at(work, review)
    counted = answers.record(
        work.session,
        review,
        Verdict(effect.verdict),
        at,
        given=effect.given,
        option=effect.option,
        chance=review.chance,
        on_time=local_day(at, review.zone) <= review.day,
    )
    if not counted:
        return [AnswerTaken(effect.review_id, False, effect.verdict, effect.given, effect.option)]
    return [_taken(work, effect, review)]


def _given_at(work: Work, review: InHand) -> datetime:
    """Return when an answer was given: when it was said, though it may have waited for us or the platform for hours.

    The platform's clock may be wrong, so it counts neither before its question was asked nor in the future.
    """
    said_at = work.now if work.said_at is None else work.said_at
    return min(work.now, said_at if review.asked_at is None else max(said_at, review.asked_at))


def _taken(work: Work, effect: TakeAnswer, review: InHand) -> Result:
    lines = nudge_questions.lines(work.session, review.nudge_id)
    next_id = open_next(work.session, lines, work.now)
    if review.nudge_state not in nudges.NOT_OVER:
        pass  # it was over minutes ago: the answer counts, the rest of it stays closed
    elif next_id is None:
        nudges.close(work.session, review.nudge_id, NudgeState.DONE, work.now)
    elif review.nudge_state is not NudgeState.STARTED:
        nudges.set_state(work.session, review.nudge_id, NudgeState.STARTED)
    answered = sum(line.state is ReviewState.ANSWERED for line in lines)
    right = sum(line.verdict is Verdict.RIGHT for line in lines)
    return AnswerTaken(
        effect.review_id,
        True,
        effect.verdict,
        effect.given,
        effect.option,
        back_on=_back_on(review, effect.verdict),
        next_id=next_id,
        right=right,
        answered=answered,
        questions=answered,
    )


def _back_on(review: InHand, verdict: str) -> date | None:
    """Return the day on which the planner expects the topic back after such an answer."""
    moment = review.reason.get("right" if verdict == "right" else "wrong")
    return None if moment is None else local_day(datetime.fromisoformat(moment), review.zone)


# ---------------------------------------------------------------- more


@carries(AskMore)
def ask_more(work: Work, effect: AskMore) -> Sequence[Result]:
    """Show what waits; else have new questions chosen, which takes a moment."""
    del effect
    own = enrolments.of_person(work.session, work.person_id or 0)
    ids = [id_of(row) for row in own]
    asked = reviews.open_one(work.session, ids)
    if asked is not None:
        return [QuestionShown(asked.review_id, True)]
    waiting = nudges.next_waiting(work.session, ids, work.now)
    if waiting is not None:
        if waiting.sent_at is None:
            evening.begin_early(work.session, waiting, work.now)
        return [_show_next(work, waiting)]
    asking = [row for row in own if row.state is EnrolmentState.ACTIVE]
    if not asking:
        return [NothingLeft(_why_none(own))]
    return [_choose_later(work, asking)]


def _why_none(own: Sequence[Enrolment]) -> str:
    states = {row.state for row in own}
    return "waiting" if EnrolmentState.WAITING in states else "paused"


def _choose_later(work: Work, asking: Sequence[Enrolment]) -> Result:
    return _later(work, "ask_more", enrolments=[row.id for row in asking])


@carries(ReportHomework)
@own_only
def report_homework(work: Work, effect: ReportHomework) -> Sequence[Result]:
    """Note the student's word on homework."""
    noted = homework.report(work.session, work.person_id, effect.lesson_id, effect.done, work.now)
    topic = homework.topic_of(work.session, effect.lesson_id)
    what = ("homework" if effect.done else "homework_open") if noted else "homework_teacher"
    return [Changed(what, {"topic": topic})]


# ---------------------------------------------------------------- settings


@carries(SetTimes)
def set_times(work: Work, effect: SetTimes) -> Sequence[Result]:
    """Change times in all classes of the speaker, or in none."""
    own = enrolments.of_person(work.session, work.person_id or 0)
    try:
        with work.session.begin_nested():
            for row in own:
                enrolments.set_times(work.session, id_of(row), **effect.changes)
    except InvalidValue as problem:
        return [NotChanged(why_to(work, problem))]
    for row in own:
        planning.look_soon(work.session, row.class_id, work.now)
    return [_times_done(dict(effect.changes))]


def _times_done(changes: dict[str, str | int | None]) -> Result:
    if "zone" in changes:
        return Changed("zone", {"zone": changes["zone"]})
    if "nudge_minute" in changes:
        return Changed("time", {"minute": changes["nudge_minute"]})
    if changes.get("quiet_from") is None:
        return Changed("quiet_off")
    return Changed("quiet", {"start": changes["quiet_from"], "end": changes["quiet_until"]})


@carries(Pause)
def pause(work: Work, effect: Pause) -> Sequence[Result]:
    """Pause in all classes in which the speaker is asked."""
    own = enrolments.of_person(work.session, work.person_id or 0)
    asked = [row for row in own if row.state in (EnrolmentState.ACTIVE, EnrolmentState.PAUSED)]
    if not asked:
        return [NothingLeft("waiting")]
    for row in asked:
        enrolments.pause(work.session, id_of(row), effect.until)
        evenings.stop(work.session, id_of(row), work.now)
    return [Changed("paused") if effect.until is None else Changed("paused_until", {"day": effect.until})]


@carries(Resume)
def resume(work: Work, effect: Resume) -> Sequence[Result]:
    """Go on in all classes."""
    del effect
    own = enrolments.of_person(work.session, work.person_id or 0)
    resting = [row for row in own if row.state is EnrolmentState.PAUSED or row.silence_noted_at is not None]
    for row in resting:
        enrolments.resume(work.session, id_of(row))
        nudges.note_silence(work.session, row, None)
        planning.look_soon(work.session, row.class_id, work.now)
    return [Changed("resumed" if resting else "not_paused")]


@carries(Leave)
@own_only
def leave(work: Work, effect: Leave) -> Sequence[Result]:
    """Leave a class."""
    row = enrolments.for_person(work.session, work.person_id or 0, effect.enrolment_id)
    evenings.stop(work.session, id_of(row), work.now)
    enrolments.leave(work.session, id_of(row), work.now)
    return []


# ---------------------------------------------------------------- progress


@carries(ShowProgress)
def show_progress(work: Work, effect: ShowProgress) -> Sequence[Result]:
    """Have the speaker's predicted retention worked out."""
    del effect
    return [_later(work, "progress")]


def _later(work: Work, kind: str, **more: object) -> Result:
    """Have something worked out; asking for it twice before it is done asks once."""
    person = work.person_id or 0
    if not due.is_open(work.session, kind, person):
        key = f"{kind}:{person}:{secrets.token_hex(8)}"
        payload = {"speaker": work.speaker.as_data(), **more}
        due.ensure(work.session, key, kind, work.now, subject=person, payload=payload)
    return Working(kind)
