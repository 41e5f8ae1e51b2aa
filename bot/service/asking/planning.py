"""A class's day, planned at once: what to ask which student when, and why.

Three steps, so that no transaction is open while numbers are worked out: `look` reads what is needed, `choose`
runs the planner on the class's model, `keep` writes nudges and reviews and plans the next look. Planning the
same day twice changes nothing that was sent: the unique key of a nudge (student, day, number) refuses it, and
what was planned but not sent is dropped and planned anew.

Classes are planned one by one, but a person has one evening: the moment is the same in all their classes
(`storage.asked.evenings.wishes`), so all of them are planned before it comes, and what is sent then is one nudge
with the questions of all (`bot.service.asking.evening`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bot.teaching.caps import allowance_left, room_of_day
from bot.teaching.dates_that_count import dates_of
from bot.teaching.memories import Memories
from bot.teaching.school_days import (
    class_rules,
    day_span,
    moments_of_day,
    next_day_moment,
    over_at,
    own_wishes,
    student_rules,
    wishes_of,
)
from bot.teaching.silence import is_left_alone
from scheduler.calendar.allowed_moments import is_allowed
from scheduler.calendar.school_days import SchoolDays, local_day, local_moment
from scheduler.model.memory import ClassMemory
from scheduler.model.parts import ModelPart
from scheduler.plan.planner import explain, next_moments, plan_day
from scheduler.values import Parameters, PlannedReview
from storage.asked import evenings, homework, nudges, reviews
from storage.asked.evenings import Wishes
from storage.asked.nudges import PlannedQuestion
from storage.base.database import Session
from storage.base.rows import id_of
from storage.history import class_history
from storage.history.class_history import ClassStory
from storage.queue import due
from storage.school import classes, enrolments, timetable
from storage.school.rules import rules_of
from storage.tables import Enrolment, EnrolmentState, SchoolClass
from storage.values import Rules

LEAD = timedelta(minutes=15)
"""A class is planned this long before its first nudge of the day: late enough to know the day's lessons."""

PLAN = "plan_class"
FIT = "nightly_fit"


@dataclass(frozen=True)
class StudentDay:
    """A student who is to be asked today.

    Attributes
    ----------
    day : date
        The student's local day.
    moments : tuple of (int, datetime)
        Numbers and moments of the nudges of that day that are still to come.
    cap : int
        Questions that the day still has room for.
    over_at : datetime
        When a nudge of today is over at the latest: when the next one comes.
    """

    enrolment_id: int
    rules: SchoolDays
    day: date
    moments: tuple[tuple[int, datetime], ...]
    cap: int
    over_at: datetime


@dataclass(frozen=True)
class ClassDay:
    """What planning a class's day needs, read in one transaction."""

    class_id: int
    story: ClassStory
    others: tuple[Parameters, ...]
    rules: SchoolDays
    class_rules: Rules
    askable: frozenset[int]
    waiting: frozenset[tuple[int, int]]  # out already, or answered today
    student_days: tuple[StudentDay, ...]
    left: Mapping[int, int] | None
    target: float | None  # share to be known on the dates that count
    next_look: datetime | None


Choice = Mapping[int, Sequence[PlannedQuestion]]
"""Questions to ask, best first, by enrolment."""


# ---------------------------------------------------------------- look


def look(session: Session, class_id: int, now: datetime, *, only: int | None = None) -> ClassDay | None:
    """Read what planning a class's day needs; None when the class has ended.

    `only` looks at one student who asks for more: whatever the hour and the target, with what is left of the day's cap.
    """
    school_class = classes.get(session, class_id)
    if school_class.closed_at is not None:
        return None
    _end_pauses(session, school_class, now)
    known, own_rules = class_rules(session, school_class), rules_of(school_class)
    student_days = (
        _student_days(session, school_class, known, now)
        if only is None
        else _student_day_of_one(session, school_class, known, only, now)
    )
    told = class_history.of_class(session, class_id, now)
    return ClassDay(
        class_id=class_id,
        story=told,
        others=_others(session, told, now),
        rules=known,
        class_rules=own_rules,
        askable=frozenset(reviews.topics_with_questions(session, class_id)),
        waiting=frozenset(
            _still_waiting(session, class_id, student_days if only is None else ())
            | reviews.answered_pairs(session, class_id, _morning(school_class, now))
        ),
        student_days=student_days,
        left=allowance_left(session, school_class, told),
        target=None if only is not None else own_rules.target_share,
        next_look=_next_look(session, school_class, known, now),
    )


def _morning(school_class: SchoolClass, now: datetime) -> datetime:
    """Return the start of the school's day: what was answered since then is not asked once more today."""
    return local_moment(local_day(now, school_class.zone), 0, school_class.zone)


def _still_waiting(
    session: Session, class_id: int, student_days: Sequence[StudentDay]
) -> set[tuple[int, int]]:
    """Return the pairs of which a question waits, but for those that the evening being planned will end.

    What was left unanswered on an earlier day is over when the day's nudge comes, so it can be asked in it.
    """
    today = {student_day.enrolment_id: student_day.day for student_day in student_days}
    out = reviews.waiting(session, class_id)
    return {pair for pair, day in out.items() if day >= today.get(pair[0], day)}


def _others(session: Session, told: ClassStory, now: datetime) -> tuple[Parameters, ...]:
    if told.parameters is not None:
        return ()
    return tuple(
        Parameters.from_dict(one) for one in class_history.fits_of_others(session, told.class_id, now)
    )


def _end_pauses(session: Session, school_class: SchoolClass, now: datetime) -> None:
    for student in enrolments.roster(session, id_of(school_class)):
        until, today = student.paused_until, local_day(now, student.zone or school_class.zone)
        if until is not None and student.state is EnrolmentState.PAUSED and until <= today:
            enrolments.resume(session, id_of(student))


def _student_days(
    session: Session, school_class: SchoolClass, known: SchoolDays, now: datetime
) -> tuple[StudentDay, ...]:
    class_id = id_of(school_class)
    settled = nudges.settled(session, class_id, local_day(now, school_class.zone) - timedelta(days=2))
    active = nudges.active_at(session, class_id)
    asked = enrolments.asked(session, class_id)
    wanted = evenings.wishes(session, [student.person_id or 0 for student in asked])
    found = []
    for student in asked:
        if not is_left_alone(student, active):
            student_day = _student_day(
                session, school_class, known, student, wanted[student.person_id or 0], settled, now
            )
            if student_day is not None:
                found.append(student_day)
    return tuple(found)


def _student_day(
    session: Session,
    school_class: SchoolClass,
    known: SchoolDays,
    student: Enrolment,
    wanted: Wishes,
    settled: set[tuple[int, date, int]],
    now: datetime,
) -> StudentDay | None:
    own, student_id = student_rules(known, wanted), id_of(student)
    day, minute = local_day(now, own.home), wanted.minute
    moments = moments_of_day(day, minute, own, school_class.nudges_per_day)
    coming = tuple(
        (number, at)
        for number, at in enumerate(moments, start=1)
        if (student_id, day, number) not in settled and _can_go(at, student, own, now)
    )
    # What went by while nobody was there becomes one nudge.
    late = [entry for entry in coming if entry[1] <= now]
    coming = (*late[-1:], *(entry for entry in coming if entry[1] > now))
    cap = min(
        school_class.questions_per_nudge * len(coming), room_of_day(session, student, day, own, settled=True)
    )
    if not coming or cap < 0:
        return None
    return StudentDay(student_id, own, day, coming, cap, over_at(now, minute, own))


def _can_go(at: datetime, student: Enrolment, own: SchoolDays, now: datetime) -> bool:
    """Say whether a nudge can go: one that is late only while asking is allowed, and to who had joined."""
    return at > now or (student.joined_at <= at and is_allowed(now, own))


def _student_day_of_one(
    session: Session, school_class: SchoolClass, known: SchoolDays, student_id: int, now: datetime
) -> tuple[StudentDay, ...]:
    student = enrolments.get(session, student_id)
    wanted = wishes_of(session, student, school_class)
    own = student_rules(known, wanted)
    day = local_day(now, own.home)
    room = room_of_day(session, student, day, own)
    cap = max(min(school_class.questions_per_nudge, room), 0)
    return (StudentDay(student_id, own, day, (), cap, over_at(now, wanted.minute, own)),)


def _next_look(
    session: Session, school_class: SchoolClass, known: SchoolDays, now: datetime
) -> datetime | None:
    """Return when the class is to be planned next: shortly before a nudge, once what it asks about is taught.

    That is today if a lesson is still to come before somebody's nudge of today, else before the first nudge of
    another day.
    """
    students = [
        student
        for student in enrolments.roster(session, id_of(school_class))
        if student.person_id is not None and student.state in (EnrolmentState.ACTIVE, EnrolmentState.PAUSED)
    ]
    wanted = evenings.wishes(session, [student.person_id or 0 for student in students])
    ahead = timetable.lessons(session, id_of(school_class), since=now, until=now + timedelta(days=1))
    taught = min((one.starts_at for one in ahead if one.starts_at > now), default=None)
    coming = []
    for student in students:
        wishes = wanted.get(student.person_id or 0) or own_wishes(student, school_class)
        own = student_rules(known, wishes)
        coming += _looks(wishes.minute, own, school_class.nudges_per_day, taught, now)
    return min(coming, default=None)


def _looks(
    minute: int, own: SchoolDays, count: int, taught: datetime | None, now: datetime
) -> list[datetime]:
    """Return when to plan a student's nudges: today's after a lesson at `taught`, and those of another day."""
    looks = []
    if taught is not None:
        today = moments_of_day(local_day(now, own.home), minute, own, count)
        looks = [at - LEAD for at in today if at - LEAD >= taught][:1]
    after = next_day_moment(now, minute, own)
    if after is not None:
        day = local_day(after, own.home)
        first = moments_of_day(day, minute, own, count)[0]
        looks.append(max(first - LEAD, day_span(day, own)[0]))
    return looks


# ---------------------------------------------------------------- choose


def choose(memories: Memories, day: ClassDay, now: datetime) -> Choice:
    """Run the planner for a class's day. Slow: not within a transaction."""
    if not day.student_days or not day.story.topics:
        return {}
    with memories.of(day.story, day.others) as memory:
        return _choose(memory, day, now)


def _choose(memory: ClassMemory, day: ClassDay, now: datetime) -> Choice:
    part = ModelPart(memory, _askable(memory, day))
    dates = dates_of(day.story, day.rules, day.class_rules.nudge_minute, now)
    askable = {str(topic) for topic in day.askable}
    dates = replace(dates, lessons=tuple((at, topic) for at, topic in dates.lessons if topic in askable))
    caps, left = _caps(memory, day), _allowance(memory, day)
    plan = plan_day(part, dates, now, per_student_cap=caps, allowance_left=left, target=day.target)
    planned = [review for found in plan.reviews.values() for review in found]
    if not planned:
        return {}
    pairs = [(review.student, review.topic) for review in planned]
    usual = np.full(len(memory.students), day.class_rules.questions_per_nudge)
    back = [
        next_moments(
            part.after(pairs, now, right),
            dates,
            now,
            per_student_cap=usual,
            allowance_left=left,
            target=day.target,
        )
        for right in (True, False)
    ]
    return {
        int(student): [_question(memory, review, rank, back) for rank, review in enumerate(found)]
        for student, found in plan.reviews.items()
        if found
    }


def _askable(memory: ClassMemory, day: ClassDay) -> NDArray[np.bool_]:
    """Return the pairs that may be asked about today.

    The student is to be asked, a question exists, and none of the topic is out already.
    """
    seated = {student_day.enrolment_id for student_day in day.student_days if student_day.cap > 0}
    students = np.array([int(student) in seated for student in memory.students], dtype=bool)
    topics = np.array([int(topic) in day.askable for topic in memory.topics], dtype=bool)
    allowed = np.outer(students, topics)
    row = {student: number for number, student in enumerate(memory.students)}
    column = {topic: number for number, topic in enumerate(memory.topics)}
    for student, topic in day.waiting:
        if str(student) in row and str(topic) in column:
            allowed[row[str(student)], column[str(topic)]] = False
    return allowed


def _caps(memory: ClassMemory, day: ClassDay) -> NDArray[np.int64]:
    caps = {str(student_day.enrolment_id): student_day.cap for student_day in day.student_days}
    return np.array([caps.get(student, 0) for student in memory.students], dtype=np.int64)


def _allowance(memory: ClassMemory, day: ClassDay) -> NDArray[np.float64] | None:
    if day.left is None:
        return None
    return np.array([day.left.get(int(student), 0) for student in memory.students], dtype=float)


def _question(
    memory: ClassMemory, review: PlannedReview, rank: int, back: Sequence[NDArray[np.datetime64]]
) -> PlannedQuestion:
    row, column = memory.students.index(review.student), memory.topics.index(review.topic)
    right, wrong = (_moment_text(moments[row, column]) for moments in back)
    reason = {**_plain(explain(review)), "rank": rank, "right": right, "wrong": wrong}
    return PlannedQuestion(int(review.topic), review.now, reason)


def _plain(numbers: Mapping[str, Any]) -> dict[str, Any]:
    """Return the planner's numbers as JSON has them."""
    plain: dict[str, Any] = {}
    for name, value in numbers.items():
        if isinstance(value, datetime):
            plain[name] = value.isoformat()
        elif isinstance(value, float):
            plain[name] = round(value, 5)
        elif name not in ("student", "topic"):
            plain[name] = value
    return plain


def _moment_text(moment: np.datetime64) -> str | None:
    return None if np.isnat(moment) else f"{moment.astype('datetime64[s]').item().isoformat()}+00:00"


# ---------------------------------------------------------------- keep


def keep(session: Session, day: ClassDay, choice: Choice, now: datetime) -> int:
    """Write the day's nudges and plan the next look; return how many nudges are new."""
    if classes.get(session, day.class_id).closed_at is not None:
        return 0
    nudges.drop_planned(session, [student_day.enrolment_id for student_day in day.student_days])
    made = sum(
        _keep_student_day(session, student_day, day.class_rules.questions_per_nudge, choice, now)
        for student_day in day.student_days
    )
    if day.next_look is not None:
        look_again(session, day.class_id, day.next_look)
    return made


def _keep_student_day(
    session: Session, student_day: StudentDay, per_nudge: int, choice: Choice, now: datetime
) -> int:
    student = enrolments.get(session, student_day.enrolment_id)
    if student.state is not EnrolmentState.ACTIVE:
        return 0
    questions, made = list(choice.get(student_day.enrolment_id, ())), 0
    start, _ = day_span(student_day.day, student_day.rules)
    last = student_day.moments[-1][0]
    for number, at in student_day.moments:
        mine, questions = questions[:per_nudge], questions[per_nudge:]
        asks_homework = number == last and homework.unreported(session, student_day.enrolment_id, start, at)
        if mine or asks_homework:
            made += (
                nudges.plan(
                    session,
                    student_day.enrolment_id,
                    student_day.day,
                    at,
                    student_day.over_at,
                    mine,
                    now,
                    number=number,
                )
                is not None
            )
    return made


def look_again(session: Session, class_id: int, at: datetime) -> None:
    """Plan to look at a class at a moment."""
    due.ensure(session, f"{PLAN}:{class_id}:{at:%Y%m%dT%H%M}", PLAN, at, subject=class_id)


def look_soon(session: Session, class_id: int, now: datetime) -> None:
    """Plan to look at a class within a minute: a student joined or changed their time."""
    look_again(session, class_id, now.replace(second=0, microsecond=0) + timedelta(minutes=1))


def look_at_all(session: Session, now: datetime) -> int:
    """See that every class has a next look; return how many had none."""
    return sum(
        ensure_look(session, id_of(school_class), now) for school_class in classes.open_classes(session)
    )


def ensure_look(session: Session, class_id: int, now: datetime) -> bool:
    """See that a class has a next look; return whether it had none."""
    if due.is_open(session, PLAN, class_id):
        return False
    look_soon(session, class_id, now)
    return True
