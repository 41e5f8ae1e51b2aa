"""How much a student may be asked: the room of a day, and what is left of a class's allowance for the term.

What a class asks a day is in `storage.values.Rules`; the limits, which no teacher can raise, stand beside it.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime

from bot.teaching.school_days import day_span
from scheduler.calendar.school_days import SchoolDays
from storage.asked import evenings, nudges
from storage.base.database import Session
from storage.history.class_history import ClassStory
from storage.tables import Enrolment, SchoolClass
from storage.values import QUESTIONS_A_DAY_AT_MOST


def room_of_day(
    session: Session, student: Enrolment, day: date, own: SchoolDays, *, settled: bool = False
) -> int:
    """Return how many questions a person's day still has room for, over all classes.

    With `settled`, what is planned and was never sent takes no room yet.
    """
    person_id, span = student.person_id or 0, day_span(day, own)
    used = evenings.questions_of_day(session, person_id, day, span, settled=settled)
    return QUESTIONS_A_DAY_AT_MOST - used


def allowance_left(
    session: Session, school_class: SchoolClass, told: ClassStory, until: datetime | None = None
) -> Mapping[int, int] | None:
    """Return the questions left of the term's allowance for each student; None where the class has none.

    Parameters
    ----------
    session : Session
    school_class : SchoolClass
    told : ClassStory
        Says when the term began: with its first lesson.
    until : datetime or None
        Questions sent later do not count; None counts all.
    """
    if school_class.term_allowance is None or not told.lessons:
        return None
    used = nudges.asked_since(session, told.class_id, told.lessons[0][0], until)
    return {student: max(school_class.term_allowance - used.get(student, 0), 0) for student in told.students}
