"""Facts for a step, loaded from the database: who speaks, what is theirs, and nothing of anybody else."""

from __future__ import annotations

from datetime import datetime

from bot.service.desk import Desk
from bot.service.facts_student import load_learning
from bot.service.facts_teacher import load_teaching
from bot.service.work import Speaker
from bot.talk.core import Event, State
from bot.talk.facts import ClassFacts, Facts, StudentFacts
from bot.talk.joining import Invited
from bot.talk.words import words
from storage import channels, classes, enrolments, people
from storage.database import Session
from storage.tables import ConsentRule, Enrolment, SchoolClass


def load_facts(
    session: Session, desk: Desk, speaker: Speaker, state: State, event: Event | None, now: datetime
) -> Facts:
    """Load what the conversation of a speaker may know for one step.

    `event` matters where it names a row (a pressed button): facts say what that row is to the speaker.
    """
    contact = people.find_contact(session, speaker.platform, speaker.user) if speaker.user else None
    person_id = None if contact is None else contact.person_id
    channel = _channel(session, speaker)
    invited = _invited(session, state, event)
    own = () if person_id is None else _students(session, person_id)
    taught = () if person_id is None else _taught(session, person_id)
    return Facts(
        now=now,
        words=words(*_languages(session, desk, speaker, person_id, own, channel, invited)),
        platform=speaker.platform,
        user=speaker.user,
        place=speaker.place,
        address=speaker.address,
        person_id=person_id,
        students=own,
        teaches=taught,
        staff=person_id is not None and people.staff(session, person_id) is not None,
        channel=channel,
        invited=invited,
        learning=load_learning(session, own, event, now),
        teaching=load_teaching(session, taught, state, event, now),
        home_zone=desk.zone,
    )


def class_facts(row: SchoolClass, teachers: tuple[str, ...] = ()) -> ClassFacts:
    """Return a class as its people may see it. `teachers` are named to somebody who is invited."""
    assert row.id is not None  # noqa: S101 - it came from the database
    return ClassFacts(
        id=row.id,
        name=row.name,
        subject=row.subject,
        zone=row.zone,
        language=row.language,
        teachers=teachers,
        quiet_from=row.quiet_from,
        quiet_until=row.quiet_until,
        nudge_minute=row.nudge_minute,
        nudges_per_day=row.nudges_per_day,
        questions_per_nudge=row.questions_per_nudge,
        needs_permission=row.consent is ConsentRule.SCHOOL,
        retain_until=row.retain_until,
    )


def _students(session: Session, person_id: int) -> tuple[StudentFacts, ...]:
    rows = ((row, classes.get(session, row.class_id)) for row in enrolments.of_person(session, person_id))
    return tuple(_student(row, group) for row, group in rows if group.closed_at is None)


def _student(row: Enrolment, group: SchoolClass) -> StudentFacts:
    assert row.id is not None  # noqa: S101 - it came from the database
    known = class_facts(group)
    return StudentFacts(
        id=row.id,
        school_class=known,
        name=row.name,
        state=row.state.value,
        zone=row.zone or group.zone,
        nudge_minute=known.nudge_minute if row.nudge_minute is None else row.nudge_minute,
        quiet_from=known.quiet_from if row.quiet_from is None else row.quiet_from,
        quiet_until=known.quiet_until if row.quiet_until is None else row.quiet_until,
        paused_until=row.paused_until,
    )


def _taught(session: Session, person_id: int) -> tuple[ClassFacts, ...]:
    return tuple(class_facts(row) for row in classes.of_teacher(session, person_id))


def _channel(session: Session, speaker: Speaker) -> ClassFacts | None:
    if speaker.place != "class":
        return None
    bound = channels.find(session, speaker.platform, speaker.address)
    return None if bound is None else class_facts(classes.get(session, bound.class_id))


def _invited(session: Session, state: State, event: Event | None) -> ClassFacts | None:
    """Return the class whose code the speaker has just shown, or showed and has not joined yet."""
    class_id = state.data.get("join") if state.name.startswith("joining.") else None
    if isinstance(event, Invited):
        class_id = event.class_id
    if class_id is None:
        return None
    names = tuple(teacher.name for teacher in classes.teachers(session, class_id) if teacher.name)
    return class_facts(classes.get(session, class_id), names)


def _languages(
    session: Session,
    desk: Desk,
    speaker: Speaker,
    person_id: int | None,
    own: tuple[StudentFacts, ...],
    channel: ClassFacts | None,
    invited: ClassFacts | None,
) -> tuple[str, ...]:
    """Return the languages to speak in, the best first: the class's in its place, else the speaker's own choice."""
    if channel is not None:
        return (channel.language, desk.language)
    chosen = "" if person_id is None else people.get(session, person_id).language
    group = invited or (own[0].school_class if own else None)
    return (chosen, speaker.language, group.language if group else "", desk.language)
