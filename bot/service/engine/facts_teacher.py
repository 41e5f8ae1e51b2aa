"""The teacher's part of the facts: the one class at hand, and no other."""

from __future__ import annotations

from datetime import datetime, timedelta

from bot.chat.port import ButtonPressed, Incoming
from bot.talk.core import Event, Result, State
from bot.talk.teacher_facts import (
    ChannelFacts,
    PupilFacts,
    TeachingFacts,
    TopicFacts,
)
from scheduler.calendar.zones import local_day
from storage.base.database import Session
from storage.base.rows import id_of
from storage.school import channels, classes, enrolments, timetable
from storage.school.rules import rules_of
from storage.tables import SchoolClass
from storage.values import ClassInfo

AROUND = timedelta(weeks=4)
"""Lessons this far on both sides are at hand for homework and absences."""

QUIZZES_PAST = timedelta(weeks=8)


def load_teaching(
    session: Session, taught: tuple[ClassInfo, ...], state: State, event: Event | None, now: datetime
) -> TeachingFacts | None:
    """Load the class that a teacher is at work on; None for somebody who teaches none.

    It is the one that a pressed button or a result names, else the one remembered, else the first. A class that
    the speaker does not teach is never loaded, whatever names it.
    """
    ids = [one.id for one in taught]
    wanted = [_named(event), state.data.get("class"), *ids[:1]]
    class_id = next((one for one in wanted if one in ids), None)
    return None if class_id is None else _teaching(session, class_id, now)


def _named(event: Event | None) -> int | None:
    """Return the class that an event names."""
    if isinstance(event, Result):
        found = getattr(event, "class_id", None)
        return found if isinstance(found, int) else None
    if isinstance(event, Incoming) and isinstance(event.content, ButtonPressed):
        parts = event.content.action.split(":")
        if len(parts) > 2 and parts[0] == "teacher" and parts[2].isascii() and parts[2].isdigit():
            return int(parts[2][:18])
    return None


def _teaching(session: Session, class_id: int, now: datetime) -> TeachingFacts:
    school_class = classes.get(session, class_id)
    today = local_day(now, school_class.zone)
    lessons = timetable.lessons(session, class_id, since=now - AROUND, until=now + AROUND)
    return TeachingFacts(
        class_id=class_id,
        today=today,
        rules=rules_of(school_class),
        topics=_topics(session, school_class, now),
        lessons=tuple(lessons),
        missed_by=timetable.absences(session, [one.id for one in lessons]),
        quizzes=tuple(timetable.quizzes(session, class_id, since=now - QUIZZES_PAST)),
        holidays=tuple(timetable.holidays(session, class_id, since=today)),
        students=tuple(
            PupilFacts(id_of(one), one.name, one.state.value, one.person_id is not None)
            for one in enrolments.roster(session, class_id)
        ),
        channels=tuple(
            ChannelFacts(id_of(one), one.platform, one.address, one.title, one.can_write)
            for one in channels.of_class(session, class_id)
        ),
    )


def _topics(session: Session, school_class: SchoolClass, now: datetime) -> tuple[TopicFacts, ...]:
    return tuple(
        TopicFacts(
            one.id,
            one.name,
            None if one.first_taught is None else local_day(one.first_taught, school_class.zone),
            one.questions,
            None if one.quiz_at is None else local_day(one.quiz_at, school_class.zone),
        )
        for one in timetable.topics(session, id_of(school_class), now)
    )
