"""When a student of a class may be asked: the stored rules as the scheduler's `SchoolDays`."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Protocol

from scheduler.calendar.allowed_moments import allowed_moment, nudge_moment, open_spans
from scheduler.calendar.quiet_hours import quiet_hours
from scheduler.calendar.school_days import (
    HolidayPeriod,
    LessonHours,
    SchoolDayError,
    SchoolDays,
    is_school_day,
    local_day,
    local_moment,
)
from scheduler.calendar.zones import DAY_MIN, time_of
from storage.asked import evenings
from storage.asked.evenings import Wishes
from storage.base.database import Session
from storage.base.rows import id_of
from storage.school import timetable
from storage.school.rules import rules_of
from storage.tables import Enrolment, SchoolClass

SECOND_NUDGE_BEFORE_MIN = 180
SECOND_NUDGE_AFTER_MIN = 120
NUDGES_APART = timedelta(hours=1)
LONGEST_OPEN = timedelta(hours=72)
"""A nudge that nobody answers is over after this at the latest, also over a weekend."""

WEEKDAYS = frozenset(range(5))
"""Monday to Friday. Common practice, no source; a class that is asked on other days too has said its school days."""


def class_rules(session: Session, school_class: SchoolClass) -> SchoolDays:
    """Return when the students of a class may be asked."""
    rules, off = rules_of(school_class), timetable.holidays(session, id_of(school_class))
    return SchoolDays(
        zone=rules.zone,
        weekdays=frozenset(rules.school_weekdays),
        holidays=tuple(HolidayPeriod(one.first_day, one.last_day) for one in off),
        quiet=rules.quiet,
        lessons=tuple(
            LessonHours(weekday, time_of(start), time_of(end % DAY_MIN))
            for weekday, start, end in rules.lesson_hours
        ),
        nudges_on_holidays=rules.on_holidays,
    )


def open_on(weekdays: Collection[int]) -> frozenset[int]:
    """Return the weekdays on which a school is open whose class is asked on some.

    A class that is asked on the three days of its subject is still at school on five; one that is asked on a Saturday
    or Sunday has named all its days.
    """
    return WEEKDAYS if WEEKDAYS.issuperset(weekdays) else frozenset(weekdays)


def at_school(rules: SchoolDays) -> SchoolDays:
    """Return the rules of a class with all days on which it is at school, asked on them or not."""
    return replace(rules, weekdays=open_on(rules.weekdays))


def without_school(session: Session, school_class: SchoolClass, *days: date) -> tuple[date, ...]:
    """Return those of some days on which a class has no school, in order, each once."""
    rules = at_school(class_rules(session, school_class))
    return tuple(day for day in sorted(set(days)) if not is_school_day(day, rules))


@dataclass(frozen=True, slots=True)
class Planned:
    """A lesson (`kind` is ``lesson``) or a quiz that stands on a day, and what it is called."""

    day: date
    kind: str
    name: str


def planned_without_school(session: Session, school_class: SchoolClass, now: datetime) -> tuple[Planned, ...]:
    """Return the lessons and quizzes from today on that stand on a day without school, in order of days."""
    rules = at_school(class_rules(session, school_class))
    today, class_id = local_day(now, school_class.zone), id_of(school_class)
    ahead = [Planned(one.day, "lesson", one.topic) for one in timetable.lessons(session, class_id)]
    ahead += [Planned(one.day, one.kind, one.name) for one in timetable.quizzes(session, class_id)]
    off = [one for one in ahead if one.day >= today and not is_school_day(one.day, rules)]
    return tuple(sorted(off, key=lambda one: one.day))


def wishes_of(session: Session, student: Enrolment, school_class: SchoolClass) -> Wishes:
    """Return when a student wants to be asked, in whatever class they said so: there is one nudge for all."""
    found = None
    if student.person_id is not None:
        found = evenings.wishes(session, [student.person_id]).get(student.person_id)
    return found or own_wishes(student, school_class)


def own_wishes(student: Enrolment, school_class: SchoolClass) -> Wishes:
    """Return what a student said in one class, and where they said nothing, what the class has."""
    return evenings.resolve([(student, school_class.nudge_minute, school_class.zone)])


class Wanted(Protocol):
    """Own zone and quiet hours, of `Enrolment` or `Wishes`."""

    @property
    def zone(self) -> str | None: ...  # noqa: D102 - described above

    @property
    def quiet_from(self) -> int | None: ...  # noqa: D102

    @property
    def quiet_until(self) -> int | None: ...  # noqa: D102


def student_rules(rules: SchoolDays, student: Wanted) -> SchoolDays:
    """Return the class's rules with a student's own zone and quiet hours.

    Own quiet hours that would leave no time at all are left out: the class's still hold.
    """
    zone = student.zone if student.zone != rules.zone else None
    own = quiet_hours(student.quiet_from, student.quiet_until)
    try:
        return rules.for_student(zone=zone, quiet=own)
    except SchoolDayError:
        return rules.for_student(zone=zone)


def rules_for(session: Session, student: Enrolment, school_class: SchoolClass) -> SchoolDays:
    """Return when a student may be asked in a class, on their own clock wherever they said what it is."""
    return student_rules(class_rules(session, school_class), wishes_of(session, student, school_class))


def moments_of_day(day: date, minute: int, rules: SchoolDays, count: int) -> list[datetime]:
    """Return when a student's nudges of a day go out, in order; none where the day is closed.

    One is at the student's own time. A second stands before it, in the afternoon, or where lessons leave no
    room there, after it.
    """
    own = nudge_moment(day, minute, rules)
    if own is None:
        return []
    if count > 1:
        earlier = nudge_moment(day, max(minute - SECOND_NUDGE_BEFORE_MIN, 0), rules)
        if earlier is not None and earlier + NUDGES_APART <= own:
            return [earlier, own]
        later = nudge_moment(day, min(minute + SECOND_NUDGE_AFTER_MIN, DAY_MIN - 1), rules)
        if later is not None and own + NUDGES_APART <= later:
            return [own, later]
    return [own]


def next_day_moment(after: datetime, minute: int, rules: SchoolDays, *, days: int = 200) -> datetime | None:
    """Return the first moment for a nudge on a local day later than today's."""
    today = local_day(after, rules.home)
    for ahead in range(1, days + 1):
        moment = nudge_moment(today + timedelta(days=ahead), minute, rules)
        if moment is not None:
            return moment
    return None


def over_at(now: datetime, minute: int, rules: SchoolDays) -> datetime:
    """Return when a nudge is over at the latest: when the next day's comes, or after `LONGEST_OPEN`."""
    coming = next_day_moment(now, minute, rules, days=4)
    return now + LONGEST_OPEN if coming is None else min(coming, now + LONGEST_OPEN)


def day_span(day: date, rules: SchoolDays) -> tuple[datetime, datetime]:
    """Return the start of a student's local day and the start of the next."""
    return local_moment(day, 0, rules.home), local_moment(day + timedelta(days=1), 0, rules.home)


def closes_at(now: datetime, rules: SchoolDays) -> datetime:
    """Return when the open time ends that `now` is in, at the latest at the end of the local day."""
    _, end = day_span(local_day(now, rules.home), rules)
    for start_s, end_s in open_spans(now, end, rules).tolist():
        if start_s <= now.timestamp():
            return datetime.fromtimestamp(end_s, now.tzinfo)
    return now


def later_today(at: datetime, day: date, rules: SchoolDays) -> datetime | None:
    """Return the first allowed moment at or after `at` if it is still that local day."""
    try:
        moment = allowed_moment(at, rules)
    except SchoolDayError:
        return None
    return moment if local_day(moment, rules.home) == day else None
