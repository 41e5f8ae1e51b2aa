"""One nudge for a person and evening: what is sent holds the questions of all their classes.

Each class has planned a nudge of its own (`bot.service.asking.planning`). The one that is due first takes in what the
others have planned for that day: best first over all of them, no subject left out for ever
(`storage.asked.evenings.fair`), and never more than the day's ten. A person gets as many nudges a day as the most
generous of these classes allows: two at most, one unless a class says two.

Left undone: a class whose quiet hours, or lessons of every single day, never leave a moment in common with the
person's other classes is not in their nudge, and where the other classes come first, not asked about.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from bot.teaching.caps import room_of_day
from bot.teaching.school_days import later_today, rules_for
from scheduler.calendar.allowed_moments import is_allowed
from scheduler.calendar.school_days import SchoolDays, zone_named
from storage.asked import evenings, nudge_questions, nudges, reviews
from storage.base.database import Session
from storage.base.rows import id_of
from storage.school import enrolments, timetable
from storage.tables import Enrolment, EnrolmentState, Nudge, NudgeState, ReviewState, SchoolClass

LESSON_LASTS = timedelta(minutes=45)
TALKING = timedelta(minutes=15)
"""Somebody who is answering is not interrupted for so long."""


@dataclass(frozen=True)
class Place:
    """A student in one class, with the rules that hold for them there."""

    student: Enrolment
    school_class: SchoolClass
    rules: SchoolDays


def place_of(session: Session, student: Enrolment, school_class: SchoolClass) -> Place:
    """Return a student's place in a class."""
    return Place(student, school_class, rules_for(session, student, school_class))


def places_in(session: Session, nudge: Nudge) -> list[Place]:
    """Return whose questions wait in a nudge: the host's place first."""
    return [place_of(session, *pair) for pair in evenings.members(session, nudge)]


# ---------------------------------------------------------------- whether now


def free_moment(session: Session, places: Sequence[Place], day: date, now: datetime) -> datetime | None:
    """Return now if nothing stands against a nudge, else when to look again; None for not on this day.

    Parameters
    ----------
    places : sequence of Place
        Whose questions it holds, the host first: the rules of all of them count, and the lessons of all classes.
    day : date
        The local day that it belongs to.
    """
    host = places[0]
    lesson_ends = _lesson_ends(session, host.student, now)
    if lesson_ends is not None:
        return lesson_ends
    answered = answering_until(session, host.student, now)
    if answered is not None and later_today(answered, day, host.rules) is not None:
        return answered
    moment: datetime | None = now
    for place in places:
        moment = None if moment is None else later_today(moment, day, place.rules)
    return moment


def _lesson_ends(session: Session, student: Enrolment, now: datetime) -> datetime | None:
    """Return when the lesson ends that one of the person's classes is being held in now."""
    own = [student] if student.person_id is None else enrolments.of_person(session, student.person_id)
    ends = [_ends(session, row.class_id, now) for row in own if row.state is EnrolmentState.ACTIVE]
    return max((at for at in ends if at is not None), default=None)


def _ends(session: Session, class_id: int, now: datetime) -> datetime | None:
    zone = None
    for lesson in timetable.lessons(session, class_id, since=now - timedelta(hours=4), until=now):
        zone = zone or zone_named(session.get_one(SchoolClass, class_id).zone)
        timed = lesson.starts_at.astimezone(zone).time() != timetable.NO_TIME_GIVEN
        ends = lesson.ends_at or lesson.starts_at + LESSON_LASTS
        if now < ends and (timed or lesson.ends_at is not None):
            return ends
    return None


def answering_until(session: Session, student: Enrolment, now: datetime) -> datetime | None:
    """Return until when somebody is left alone who is in the middle of questions, of whatever class."""
    asked = _in_hand(session, student)
    shown = None if asked is None else asked.asked_at
    return shown + TALKING if shown is not None and shown + TALKING > now else None


def being_answered(session: Session, student: Enrolment, now: datetime) -> reviews.Instance | None:
    """Return the question that somebody is just answering: the day's nudge does not end it."""
    return None if answering_until(session, student, now) is None else _in_hand(session, student)


def _in_hand(session: Session, student: Enrolment) -> reviews.Instance | None:
    own = enrolments.of_person(session, student.person_id or 0)
    return reviews.open_one(session, [id_of(row) for row in own])


# ---------------------------------------------------------------- gathering


@dataclass(frozen=True)
class Party:
    """What one nudge is made of: the host's and the guests' nudges, and their places in the same order."""

    nudges: tuple[Nudge, ...]
    places: tuple[Place, ...]

    @property
    def guests(self) -> tuple[Nudge, ...]:
        """The nudges that the first one takes in."""
        return self.nudges[1:]


def party_of(session: Session, nudge: Nudge, host: Place, now: datetime) -> Party | datetime | None:
    """Return what goes out with a nudge that was never sent.

    Returns
    -------
    Party or datetime or None
        A moment: wait until then, another class's questions can come along. None: the day has had its nudges.
    """
    person_id = host.student.person_id or 0
    others = evenings.planned_with(session, nudge, person_id)
    had = evenings.nudges_of_day(session, person_id, nudge.day)
    allowed = evenings.nudges_allowed(session, person_id)
    if had >= allowed:
        return None
    is_last = had + 1 >= allowed
    taken, places = [nudge], [host]
    for other, student, school_class in others:
        if other.due_at > now and not (is_last and student.id != nudge.enrolment_id):
            continue
        place = place_of(session, student, school_class)
        if is_allowed(now, place.rules):
            taken.append(other)
            places.append(place)
        elif (at := _in_common(host, place, max(now, other.due_at), nudge.day)) is not None:
            return at
    return Party(tuple(taken), tuple(places))


def _in_common(host: Place, guest: Place, after: datetime, day: date) -> datetime | None:
    """Return the first moment of a day at which both may be asked."""
    at = later_today(after, day, guest.rules)
    return at if at is not None and at > after - TALKING and is_allowed(at, host.rules) else None


def gather(session: Session, party: Party, now: datetime) -> int:
    """Make one nudge of a party's questions; return how many it has."""
    host, first = party.nudges[0], party.places[0]
    for nudge in party.nudges:
        drop_stale(session, nudge, now)
    busy = being_answered(session, first.student, now)
    found = [
        one
        for one in evenings.candidates(session, [id_of(nudge) for nudge in party.nudges])
        if busy is None or (one.enrolment_id, one.topic_id) != (busy.enrolment_id, busy.topic_id)
    ]
    room = room_of_day(session, first.student, host.day, first.rules, settled=True)
    asked_at = evenings.last_asked(session, {one.enrolment_id for one in found})
    kept = evenings.fair(found, room, asked_at)
    evenings.gather(session, host, party.guests, kept)
    return len(kept)


def drop_stale(session: Session, nudge: Nudge, now: datetime) -> int:
    """Drop questions that cannot be asked any more, or whose topic was answered meanwhile; return how many are left."""
    planned = [
        line for line in nudge_questions.lines(session, id_of(nudge)) if line.state is ReviewState.PLANNED
    ]
    stale = [line for line in planned if line.met or line.to_ask is None]
    for line in stale:
        reviews.drop(session, line.review_id, now)
    return len(planned) - len(stale)


def begin_early(session: Session, nudge: Nudge, now: datetime) -> None:
    """Begin a nudge before its time because the student asks for it, with what all classes have planned by now."""
    evenings.hold(session, id_of(nudge))
    host = place_of(session, *nudges.class_of(session, nudge))
    others = evenings.planned_with(session, nudge, host.student.person_id or 0)
    of_others = [one for one in others if one[1].id != nudge.enrolment_id]
    taken = (nudge, *(other for other, _, _ in of_others))
    places = (host, *(place_of(session, student, school_class) for _, student, school_class in of_others))
    gather(session, Party(taken, places), now)
    nudges.close_earlier(session, nudge, now)
    nudge.sent_at = now
    session.add(nudge)
    session.flush()


def end_party(session: Session, party: Party, now: datetime, state: NudgeState = NudgeState.EXPIRED) -> None:
    """End everything that would have gone out."""
    for nudge in party.nudges:
        nudges.close(session, id_of(nudge), state, now)
