"""Joining, carried out: codes, enrolments, a first time of day."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from bot.service.asking import planning
from bot.service.engine.effects import Work, carries
from bot.service.engine.refusals import why_to
from bot.talk.core import Result
from bot.talk.joining_effects import (
    ChooseTime,
    ClassInvited,
    Join,
    Joined,
    Moved,
    NoDoor,
    NotJoined,
    Permitted,
    TimeKept,
    TimeRefused,
    TryCode,
    WhichName,
)
from bot.teaching.school_days import class_rules, moments_of_day, next_day_moment, student_rules, wishes_of
from scheduler.calendar.school_days import local_day
from storage.asked import reviews
from storage.base.errors import InvalidValue, NotAllowed, NotFound
from storage.base.rows import id_of
from storage.school import classes, codes, enrolments, people
from storage.tables import Code, CodeKind, Contact, Enrolment, EnrolmentState


@carries(TryCode)
def try_code(work: Work, effect: TryCode) -> Sequence[Result]:
    """See which door a code opens."""
    speaker = work.speaker
    looked = codes.look(work.session, effect.code, platform=speaker.platform, user=speaker.user, now=work.now)
    code = looked.code
    if code is None:
        return [NoDoor("too_many" if looked.too_many else "wrong")]
    if code.kind is CodeKind.CLASS:
        return [_invite(work, code)]
    from bot.service.teacher import code_effects  # here, because it needs the loop's registries too

    if code.kind is CodeKind.CHANNEL and (misplaced := code_effects.misplaced(work, code)) is not None:
        return [misplaced]
    if not codes.use(work.session, id_of(code), work.now):
        return [NoDoor("wrong")]
    if code.kind is CodeKind.MOVE:
        return [_move(work, code)]
    if code.kind is CodeKind.PERMISSION:
        return [_permit(work, code)]
    return code_effects.accept(work, code, effect.name)


def _invite(work: Work, code: Code) -> Result:
    class_id = code.class_id or 0
    if classes.get(work.session, class_id).closed_at is not None:
        return NoDoor("wrong")
    known = None if work.person_id is None else enrolments.find(work.session, class_id, work.person_id)
    return ClassInvited(class_id, known is not None and known.state is not EnrolmentState.LEFT)


def _move(work: Work, code: Code) -> Result:
    try:
        with work.session.begin_nested():  # a refusal half-way leaves nothing of it
            people.move_contact(work.session, id_of(_meet(work)), code.person_id or 0)
    except (InvalidValue, NotFound) as problem:
        return Moved(why_to(work, problem))
    return Moved()


def _permit(work: Work, code: Code) -> Result:
    student = enrolments.permit(work.session, code.enrolment_id or 0)
    planning.look_soon(work.session, student.class_id, work.now)
    return Permitted(student.name, classes.get(work.session, student.class_id).name, student.person_id)


@carries(Join)
def join(work: Work, effect: Join) -> Sequence[Result]:
    """Put the speaker into the class, under the name of the class list that is theirs."""
    session = work.session
    roster_id = effect.roster_id
    if roster_id is None:
        matches = enrolments.match_roster(session, effect.class_id, effect.name)
        whole = [row for row in matches if enrolments.fold(row.name) == enrolments.fold(effect.name)]
        if len(whole) == 1:
            roster_id = whole[0].id
        elif matches:
            return [WhichName(tuple((id_of(row), row.name) for row in matches[:8]))]
    try:
        with session.begin_nested():
            person_id = _meet(work).person_id
            student = enrolments.join(
                session, effect.class_id, person_id, effect.name, work.now, roster_id=roster_id or None
            )
    except (InvalidValue, NotFound) as problem:
        return [NotJoined(why_to(work, problem))]
    planning.look_soon(session, effect.class_id, work.now)
    return [Joined(id_of(student), student.name, student.state is EnrolmentState.WAITING)]


def _meet(work: Work) -> Contact:
    """Return the speaker's private chat, from now on known to us."""
    speaker = work.speaker
    return people.meet(
        work.session, speaker.platform, speaker.user, speaker.address, work.now, language=speaker.language
    )


@carries(ChooseTime)
def choose_time(work: Work, effect: ChooseTime) -> Sequence[Result]:
    """Keep when a new student wants their questions, and say when the first can come."""
    try:
        student = enrolments.for_person(work.session, work.person_id or 0, effect.enrolment_id)
        student = enrolments.set_times(work.session, id_of(student), nudge_minute=effect.minute)
    except (InvalidValue, NotAllowed) as problem:
        return [TimeRefused(why_to(work, problem))]
    planning.look_soon(work.session, student.class_id, work.now)
    waiting = student.state is EnrolmentState.WAITING
    return [TimeKept(effect.minute, first_moment(work, student), waiting)]


def first_moment(work: Work, student: Enrolment) -> datetime | None:
    """Return when the first nudge of a student can come; None while the class has nothing to ask about."""
    school_class = classes.get(work.session, student.class_id)
    ready = reviews.first_taught(work.session, student.class_id)
    if ready is None:
        return None  # nothing can be asked yet: no day can be promised
    wanted = wishes_of(work.session, student, school_class)
    rules, after = student_rules(class_rules(work.session, school_class), wanted), max(ready, work.now)
    that_day = moments_of_day(local_day(after, rules.home), wanted.minute, rules, school_class.nudges_per_day)
    coming = [at for at in that_day if at > after and at - planning.LEAD >= ready]
    return coming[0] if coming else next_day_moment(after, wanted.minute, rules)
