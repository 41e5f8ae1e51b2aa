"""Facts for a step, loaded from the database: who speaks, what is theirs, and nothing of anybody else."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from bot.service.engine.context import AppContext
from bot.service.engine.effects import Speaker
from bot.service.engine.facts_student import load_learning
from bot.service.engine.facts_teacher import load_teaching
from bot.talk.core import Event, Result, State
from bot.talk.facts import Facts, StudentFacts
from bot.talk.joining_effects import ClassInvited
from bot.words import Words, words
from storage.asked import evenings
from storage.asked.evenings import Wishes
from storage.base.database import Session
from storage.school import channels, classes, people, speakers
from storage.school.speakers import Membership
from storage.values import ClassInfo


@dataclass(frozen=True, slots=True)
class Identity:
    """Who speaks, as several steps of one transaction may know it.

    Attributes
    ----------
    language : str
        The language that they chose, or empty.
    """

    person_id: int | None = None
    language: str = ""
    staff: bool = False
    students: tuple[StudentFacts, ...] = ()
    teaches: tuple[ClassInfo, ...] = ()


def load_identity(session: Session, speaker: Speaker) -> Identity:
    """Load who speaks."""
    known = speakers.find(session, speaker.platform, speaker.user) if speaker.user else None
    if known is None:
        return Identity()
    students = _students(known.memberships)
    taught = _taught(session, known.person_id) if known.teaches else ()
    return Identity(known.person_id, known.language, known.staff, students, taught)


def load_facts(
    session: Session,
    app_context: AppContext,
    speaker: Speaker,
    state: State,
    event: Event | None,
    now: datetime,
    identity: Identity | None = None,
) -> Facts:
    """Load what the conversation of a speaker may know for one step.

    `event` matters where it names a row (a pressed button): facts say what that row is to the speaker. `identity` is
    who speaks, where that was loaded before and nothing has changed it.
    """
    who = load_identity(session, speaker) if identity is None else identity
    channel = _channel(session, speaker)
    hearers = event.hearers if isinstance(event, Result) else ()
    invited, invited_by = _invited(session, state, event)
    return Facts(
        now=now,
        words=words(*_languages(app_context, speaker, who, channel, invited)),
        platform=speaker.platform,
        user=speaker.user,
        place=speaker.place,
        address=speaker.address,
        person_id=who.person_id,
        students=who.students,
        teaches=who.teaches,
        staff=who.staff,
        channel=channel,
        invited=invited,
        invited_by=invited_by,
        learning=load_learning(session, who.students, event, now),
        teaching=load_teaching(session, who.teaches, state, event, now) if who.teaches else None,
        home_zone=app_context.zone,
        hearers={person_id: words_for(session, app_context, person_id) for person_id in hearers},
    )


def words_for(session: Session, app_context: AppContext, person_id: int) -> Words:
    """Return the words to tell a person something in: those in which they would be answered in private.

    What their platform says counts only as far as it is stored: it says so when they write, and here they do not.
    """
    contact = people.reachable(session, person_id)
    if contact is None:  # they cannot be told
        return words(app_context.language)
    return words_of(session, app_context, Speaker(contact.platform, contact.user, contact.address))


def words_of(session: Session, app_context: AppContext, speaker: Speaker) -> Words:
    """Return the words to answer a speaker in in private."""
    return words(*_languages(app_context, speaker, load_identity(session, speaker), None, None))


def _students(memberships: Sequence[tuple[Membership, ClassInfo]]) -> tuple[StudentFacts, ...]:
    """Return somebody's places in classes; when they want to be asked is the same in all of them."""
    if not memberships:
        return ()
    wanted = evenings.resolve([(row, one.rules.nudge_minute, one.rules.zone) for row, one in memberships])
    return tuple(_student(row, school_class, wanted) for row, school_class in memberships)


def _student(row: Membership, school_class: ClassInfo, wanted: Wishes) -> StudentFacts:
    return StudentFacts(
        id=row.id,
        school_class=school_class,
        name=row.name,
        state=row.state.value,
        zone=wanted.zone,
        nudge_minute=wanted.minute,
        paused_until=row.paused_until,
    )


def _taught(session: Session, person_id: int) -> tuple[ClassInfo, ...]:
    return tuple(classes.info(row) for row in classes.of_teacher(session, person_id))


def _channel(session: Session, speaker: Speaker) -> ClassInfo | None:
    if speaker.place != "class":
        return None
    bound = channels.find(session, speaker.platform, speaker.address)
    return None if bound is None else classes.info(classes.get(session, bound.class_id))


def _invited(session: Session, state: State, event: Event | None) -> tuple[ClassInfo | None, tuple[str, ...]]:
    """Return the class whose code the speaker has just shown, or showed and has not joined yet, and its teachers."""
    class_id = state.data.get("join") if state.name.startswith("joining.") else None
    if isinstance(event, ClassInvited):
        class_id = event.class_id
    if class_id is None:
        return None, ()
    names = tuple(teacher.name for teacher in classes.teachers(session, class_id) if teacher.name)
    return classes.info(classes.get(session, class_id)), names


def _languages(
    app_context: AppContext,
    speaker: Speaker,
    who: Identity,
    channel: ClassInfo | None,
    invited: ClassInfo | None,
) -> tuple[str, ...]:
    """Return the languages to speak in, the best first: the class's in its place, else the speaker's own choice.

    Then comes what their platform says, then what is spoken in their class, then the installation's language.
    """
    if channel is not None:
        return (channel.language, app_context.language)
    own = (*(one.school_class for one in who.students), *who.teaches)
    school_class = invited or next(iter(own), None)
    return (
        who.language,
        speaker.language,
        school_class.language if school_class else "",
        app_context.language,
    )
