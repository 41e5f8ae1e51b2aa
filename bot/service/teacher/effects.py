"""Carrying out what teachers ask about their classes: classes, rules, students, the calendar."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta

from bot.service.engine.effects import Work, carries
from bot.service.teacher import class_lifecycle
from bot.service.teacher.calendar import ensure_class_work
from bot.service.teacher.work import class_for, guarded, keep, replan
from bot.talk.core import Result
from bot.talk.teacher.effects import (
    AddHoliday,
    ChangeRules,
    ClassCreated,
    CloseClass,
    CreateClass,
    Done,
    DropHoliday,
    HomeworkListed,
    LeftStanding,
    ListHomework,
    MarkAbsent,
    MoveQuiz,
    PermissionCode,
    Permit,
    Refused,
    RemoveStudent,
    RenameStudent,
    RulesChanged,
    SetHomework,
    SetHomeworkText,
)
from bot.teaching.school_days import Planned, planned_without_school, without_school
from scheduler.calendar.zones import local_day
from storage.base.errors import NotFound, refused
from storage.base.rows import id_of
from storage.school import classes, codes, enrolments, people, timetable
from storage.school.change_journal import Journal
from storage.tables import CodeKind, Enrolment, EnrolmentState
from storage.values import ConsentRule

PERMISSION_LASTS = timedelta(days=30)

# ---------------------------------------------------------------- classes


@carries(CreateClass)
@guarded
def create_class(work: Work, effect: CreateClass) -> Sequence[Result]:
    """Make a class. Only somebody with a teacher's code, or who teaches already, can."""
    person = work.person_id
    if person is None or not (
        people.staff(work.session, person) or classes.of_teacher(work.session, person, closed=True)
    ):
        return [Refused(work.words.text("refusal.only_teachers_make_classes"))]
    made = class_lifecycle.begin(
        work.session,
        name=effect.name,
        subject=effect.subject,
        zone=effect.zone,
        language=work.words.language,
        teacher_id=person,
        teacher_name=effect.teacher,
        now=work.now,
    )
    return [ClassCreated(id_of(made), made.name)]


@carries(CloseClass)
@guarded
def close_class(work: Work, effect: CloseClass) -> Sequence[Result]:
    """End a class: its codes open nothing any more, nobody is asked, its data go at the end of their period."""
    school_class = class_for(work, effect.class_id)
    class_lifecycle.end(work.session, effect.class_id, work.now)
    return [Done("closed", {"name": school_class.name})]


@carries(ChangeRules)
@guarded
def change_rules(work: Work, effect: ChangeRules) -> Sequence[Result]:
    """Change rules of a class; plans and the weekly report follow."""
    school_class = class_for(work, effect.class_id)
    before = planned_without_school(work.session, school_class, work.now)
    changes = dict(effect.changes)
    if "consent" in changes:
        changes["consent"] = ConsentRule(changes["consent"])
    classes.change_rules(work.session, effect.class_id, **changes)
    ensure_class_work(work.session, effect.class_id, work.now)
    replan(work, effect.class_id)
    return [RulesChanged(effect.class_id), *_left_standing(work, effect.class_id, before)]


# ---------------------------------------------------------------- students


@carries(Permit)
@guarded
def permit(work: Work, effect: Permit) -> Sequence[Result]:
    """Note a permission, or all that are missing."""
    class_for(work, effect.class_id)
    waiting = [
        one
        for one in enrolments.roster(work.session, effect.class_id)
        if one.state is EnrolmentState.WAITING
        and one.person_id is not None
        and effect.enrolment_id in (None, one.id)
    ]
    for one in waiting:
        enrolments.permit(work.session, id_of(one))
    if not waiting:
        return [Done("nobody_waits")]
    replan(work, effect.class_id)
    return [Done("permitted", {"n": len(waiting), "names": ", ".join(one.name for one in waiting)})]


@carries(PermissionCode)
@guarded
def permission_code(work: Work, effect: PermissionCode) -> Sequence[Result]:
    """Make a single-use code that parents, or the student with them, send to the bot."""
    student = _student(work, effect.class_id, effect.enrolment_id)
    issued = codes.issue(
        work.session,
        CodeKind.PERMISSION,
        now=work.now,
        class_id=effect.class_id,
        enrolment_id=effect.enrolment_id,
        uses=1,
        lasts=PERMISSION_LASTS,
    )
    return [Done("permission_code", {"name": student.name, "code": issued.text})]


@carries(RemoveStudent)
@guarded
def remove_student(work: Work, effect: RemoveStudent) -> Sequence[Result]:
    """Take a student out of a class; a name that never joined goes altogether."""
    student = _student(work, effect.class_id, effect.enrolment_id)
    name = student.name
    enrolments.leave(work.session, effect.enrolment_id, work.now)
    replan(work, effect.class_id)
    return [Done("removed", {"name": name})]


@carries(RenameStudent)
@guarded
def rename_student(work: Work, effect: RenameStudent) -> Sequence[Result]:
    """Call a student something else."""
    _student(work, effect.class_id, effect.enrolment_id)
    renamed = enrolments.rename(work.session, effect.enrolment_id, effect.name)
    return [Done("student_renamed", {"name": renamed.name})]


def _student(work: Work, class_id: int, enrolment_id: int) -> Enrolment:
    class_for(work, class_id)
    row = enrolments.get(work.session, enrolment_id)
    if row.class_id != class_id or row.state is EnrolmentState.LEFT:
        raise refused(NotFound, "no_student")
    return row


# ---------------------------------------------------------------- the calendar


@carries(MarkAbsent)
@guarded
def mark_absent(work: Work, effect: MarkAbsent) -> Sequence[Result]:
    """Note that a student missed a lesson, or did not."""
    class_for(work, effect.class_id)
    journal = Journal(work.session)
    if timetable.set_absent(journal, effect.class_id, effect.lesson_id, effect.enrolment_id, effect.absent):
        replan(work, effect.class_id)
    return []


@carries(ListHomework)
@guarded
def list_homework(work: Work, effect: ListHomework) -> Sequence[Result]:
    """Look up who did a homework."""
    class_for(work, effect.class_id)
    lesson = timetable.lesson_of(work.session, effect.class_id, effect.lesson_id)
    lines = timetable.homework(work.session, effect.class_id, effect.lesson_id)
    return [
        HomeworkListed(
            effect.class_id,
            effect.lesson_id,
            timetable.topic_of(work.session, effect.class_id, lesson.topic_id).name,
            tuple((one.enrolment_id, one.name, one.done) for one in lines),
        )
    ]


@carries(SetHomework)
@guarded
def set_homework(work: Work, effect: SetHomework) -> Sequence[Result]:
    """Keep the teacher's word on a homework."""
    class_for(work, effect.class_id)
    timetable.set_homework(
        work.session, effect.class_id, effect.lesson_id, effect.enrolment_id, effect.done, work.now
    )
    replan(work, effect.class_id)
    return []


@carries(SetHomeworkText)
@guarded
def set_homework_text(work: Work, effect: SetHomeworkText) -> Sequence[Result]:
    """Set or clear the homework of a lesson."""
    class_for(work, effect.class_id)
    journal = Journal(work.session)
    lesson = timetable.lesson_of(work.session, effect.class_id, effect.lesson_id)
    topic = timetable.topic_of(work.session, effect.class_id, lesson.topic_id).name
    if journal.change(lesson, homework=effect.text or None):
        keep(work, journal, effect.class_id, "homework", topic)
        replan(work, effect.class_id)
    if not effect.text:
        return [Done("topic.homework_cleared", {"topic": topic})]
    return [Done("topic.homework_set", {"topic": topic, "text": effect.text})]


@carries(AddHoliday)
@guarded
def add_holiday(work: Work, effect: AddHoliday) -> Sequence[Result]:
    """Add days without school."""
    school_class = class_for(work, effect.class_id)
    before = planned_without_school(work.session, school_class, work.now)
    journal = Journal(work.session)
    if not timetable.add_holiday(journal, effect.class_id, effect.first, effect.last, effect.name):
        return [Done("holiday_known")]
    keep(work, journal, effect.class_id, "holiday", effect.first)
    replan(work, effect.class_id)
    key = "holiday_added_day" if effect.first == effect.last else "holiday_added"
    done = Done(key, {"first": effect.first, "last": effect.last})
    return [done, *_left_standing(work, effect.class_id, before)]


def _left_standing(work: Work, class_id: int, before: Sequence[Planned]) -> list[Result]:
    """Tell what stands on days that had school before; nothing else is news."""
    now_off = planned_without_school(work.session, class_for(work, class_id), work.now)
    new = [one for one in now_off if one not in before]
    return [LeftStanding(tuple((one.day, one.kind, one.name) for one in new))] if new else []


@carries(DropHoliday)
@guarded
def drop_holiday(work: Work, effect: DropHoliday) -> Sequence[Result]:
    """Take a holiday away."""
    class_for(work, effect.class_id)
    journal = Journal(work.session)
    gone = timetable.drop_holiday(journal, effect.class_id, effect.holiday_id)
    keep(work, journal, effect.class_id, "no_holiday", gone.first_day)
    replan(work, effect.class_id)
    key = "holiday_dropped_day" if gone.first_day == gone.last_day else "holiday_dropped"
    return [Done(key, {"first": gone.first_day, "last": gone.last_day})]


@carries(MoveQuiz)
@guarded
def move_quiz(work: Work, effect: MoveQuiz) -> Sequence[Result]:
    """Put a quiz on another day; what it covers stays."""
    school_class = class_for(work, effect.class_id)
    journal = Journal(work.session)
    before = local_day(timetable.quiz_of(work.session, effect.class_id, effect.quiz_id).at, school_class.zone)
    days_off = without_school(work.session, school_class, effect.day)
    if before == effect.day:
        return [Done("quiz_same", {"day": effect.day}, days_off)]
    timetable.move_quiz(journal, effect.class_id, effect.quiz_id, effect.day)
    keep(work, journal, effect.class_id, "quiz", before)
    replan(work, effect.class_id)
    return [Done("quiz_moved", {"day": effect.day}, days_off)]
