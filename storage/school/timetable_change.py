"""A whole timetable file on top of what a class has: the difference, and applying it.

The file counts as the whole timetable, with one exception: what the teacher added by hand since (a topic post, a
holiday, a quiz named in a post) stays when the file does not know it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from sqlmodel import Session, col, select

from storage.base.rows import id_of
from storage.files.folding import fold
from storage.files.timetables.coverage import quiz_topics
from storage.files.timetables.difference import Change, Difference, TopicChange, compare
from storage.files.values import HolidayRow, LessonRow, QuizRow, TimetableFile
from storage.school import timetable
from storage.school.change_journal import Journal
from storage.school.questions import folded, topics_named
from storage.school.uploads import added_by_hand
from storage.tables import Holiday, Lesson, Question, Quiz, QuizKind, QuizTopic, SchoolClass, Topic


@dataclass(frozen=True)
class TimetableChange:
    """A file beside what the class has.

    Attributes
    ----------
    first : bool
        Whether the class had no timetable.
    known : TimetableFile
        What it had, without what was added by hand and is not in the file.
    file : TimetableFile
        What the file says.
    difference : Difference
        Between the two.
    """

    first: bool
    known: TimetableFile
    file: TimetableFile
    difference: Difference


def change(
    session: Session,
    school_class: SchoolClass,
    file: TimetableFile,
    *,
    not_renamed: Collection[tuple[str, str]] = (),
) -> TimetableChange:
    """Compare a file with what a class has; nothing is changed.

    Parameters
    ----------
    session : Session
        An open transaction.
    school_class : SchoolClass
        The class.
    file : TimetableFile
        As `storage.files.timetables.timetable` read it.
    not_renamed : collection of (str, str)
        Pairs of topics of which the teacher has said that they are two.
    """
    everything = known(session, school_class)
    theirs = _without_hand_made(session, school_class, everything, file)
    tidy = replace(file, quizzes=_explicit(file.lessons, file.quizzes))
    return TimetableChange(
        first=not (everything.lessons or everything.quizzes or everything.holidays),
        known=theirs,
        file=file,
        difference=compare(theirs, tidy, not_renamed=not_renamed),
    )


def known(session: Session, school_class: SchoolClass) -> TimetableFile:
    """Return what a class has, as the comparison wants it: local days and times, topics by name."""
    class_id, zone = id_of(school_class), ZoneInfo(school_class.zone)
    names = {one.id: one.name for one in session.exec(select(Topic).where(Topic.class_id == class_id))}
    lessons = tuple(
        LessonRow(
            one.id,
            one.topic,
            one.day,
            timetable.clock_of(one.starts_at, zone),
            None if one.ends_at is None else one.ends_at.astimezone(zone).time(),
            one.homework,
        )
        for one in timetable.lessons(session, class_id)
    )
    quizzes = tuple(
        QuizRow(
            one.id,
            one.name,
            one.day,
            timetable.clock_of(one.at, zone),
            tuple(names[topic] for topic in one.topics),
            one.kind,
        )
        for one in timetable.quizzes(session, class_id)
    )
    holidays = tuple(
        HolidayRow(one.id, one.first_day, one.last_day, one.name)
        for one in timetable.holidays(session, class_id)
    )
    return TimetableFile(lessons, quizzes, holidays)


def apply(journal: Journal, school_class: SchoolClass, changed: TimetableChange, now: datetime) -> None:
    """Bring a class to what the file says, row by row."""
    class_id = id_of(school_class)
    difference = changed.difference
    _topics(journal, class_id, difference.topics, now)
    named = [one.after.topic for one in difference.lessons if one.after is not None]
    named += [
        topic for one in difference.quizzes if one.after is not None for topic in one.after.topics or ()
    ]
    topics = topics_named(journal, class_id, named)
    journal.add(
        *(row for one in difference.lessons if (row := _lesson(journal, school_class, one, topics, now)))
    )
    for holiday in difference.holidays:
        _holiday(journal, class_id, holiday)
    rows = {id(quiz.after): _quiz(journal, school_class, quiz, now) for quiz in difference.quizzes}
    _coverage(journal, school_class, changed, rows)
    journal.session.flush()


# ---------------------------------------------------------------- before the comparison


def _without_hand_made(
    session: Session, school_class: SchoolClass, everything: TimetableFile, file: TimetableFile
) -> TimetableFile:
    """Leave out what was added by hand and the file does not know; tell implied topics of quizzes from named ones."""
    made = added_by_hand(session, id_of(school_class))
    topics = {fold(row.topic) for row in file.lessons}
    quiz_days = {row.day for row in file.quizzes}
    days = {(row.first_day, row.last_day) for row in file.holidays}
    lessons = tuple(
        one for one in everything.lessons if one.row not in made["lesson"] or fold(one.topic) in topics
    )
    quizzes = tuple(one for one in everything.quizzes if one.row not in made["quiz"] or one.day in quiz_days)
    holidays = tuple(
        one
        for one in everything.holidays
        if one.row not in made["holiday"] or (one.first_day, one.last_day) in days
    )
    return TimetableFile(lessons, _known_explicit(everything, quizzes), holidays)


def _known_explicit(everything: TimetableFile, quizzes: tuple[QuizRow, ...]) -> tuple[QuizRow, ...]:
    """Let topics be None where they are just those since the last quiz: so does a file that names none."""
    open_ended = [replace(one, topics=None) for one in everything.quizzes]
    implied = dict(
        zip((one.row for one in open_ended), quiz_topics(everything.lessons, open_ended), strict=True)
    )
    return tuple(
        replace(one, topics=None if _same_names(one.topics or (), implied[one.row]) else one.topics)
        for one in quizzes
    )


def _explicit(lessons: Iterable[LessonRow], quizzes: tuple[QuizRow, ...]) -> tuple[QuizRow, ...]:
    """Do the same to the file's quizzes."""
    open_ended = [replace(one, topics=None) for one in quizzes]
    implied = quiz_topics(list(lessons), open_ended)
    return tuple(
        replace(one, topics=None) if one.topics is not None and _same_names(one.topics, names) else one
        for one, names in zip(quizzes, implied, strict=True)
    )


def _same_names(some: Iterable[str], others: Iterable[str]) -> bool:
    return {fold(name) for name in some} == {fold(name) for name in others}


# ---------------------------------------------------------------- topics


def _topics(journal: Journal, class_id: int, changes: Iterable[TopicChange], now: datetime) -> None:
    """Rename, and drop what is gone. New topics come with their lessons."""
    rows = {
        fold(row.name): row
        for row in journal.session.exec(
            select(Topic).where(Topic.class_id == class_id, col(Topic.dropped_at).is_(None))
        )
    }
    renames = []
    for one in changes:
        row = rows.get(fold(one.before)) if one.before is not None else None
        if row is None:
            continue
        if one.after is None:
            journal.change(row, dropped_at=now)
        else:
            renames.append((row, one.after))
    _rename(journal, class_id, renames, now)


def _rename(journal: Journal, class_id: int, renames: list[tuple[Topic, str]], now: datetime) -> None:
    """Rename topics, also in a cycle: names are unique, so all step aside first."""
    if not renames:
        return
    for row, _ in renames:
        journal.change(row, name=f"~{row.id} {row.name}"[:200])
    journal.session.flush()
    heirs = {fold(name): row for row, name in renames}
    everybody = journal.session.exec(select(Topic).where(Topic.class_id == class_id)).all()
    for row in everybody:
        heir = heirs.get(fold(row.name))
        if heir is not None and heir is not row:
            _step_aside(journal, row, heir, now)
    journal.session.flush()
    for row, name in renames:
        journal.change(row, name=name)
    journal.session.flush()


def _step_aside(journal: Journal, row: Topic, heir: Topic, now: datetime) -> None:
    """Free a name that a dropped topic, or one that has no lesson, still holds; its questions go to the heir."""
    for question in journal.session.exec(select(Question).where(Question.topic_id == row.id)).all():
        journal.change(question, topic_id=heir.id)
    journal.change(row, name=f"~{row.id} {row.name}"[:200], dropped_at=row.dropped_at or now)


# ---------------------------------------------------------------- lessons, holidays, quizzes


def _lesson(
    journal: Journal,
    school_class: SchoolClass,
    one: Change[LessonRow],
    topics: Mapping[str, Topic],
    now: datetime,
) -> Lesson | None:
    """Change a lesson that is known; return one that is new."""
    row = None if one.before is None else journal.session.get(Lesson, one.before.row)
    if one.after is None:
        if row is not None:
            journal.change(row, dropped_at=now)
        return None
    start = one.after.start or (one.before.start if one.before else None)
    values: dict[str, Any] = {
        "topic_id": topics[folded(one.after.topic)].id,
        "starts_at": timetable.moment(one.after.day, start, school_class.zone),
        "ends_at": _end(one, school_class),
        "homework": one.after.homework,
    }
    if row is None:
        return Lesson(class_id=id_of(school_class), **values)
    journal.change(row, **values)
    return None


def _end(one: Change[LessonRow], school_class: SchoolClass) -> datetime | None:
    if one.after is None:
        return None
    end = one.after.end or (one.before.end if one.before and one.after.start is None else None)
    return None if end is None else timetable.moment(one.after.day, end, school_class.zone)


def _holiday(journal: Journal, class_id: int, one: Change[HolidayRow]) -> None:
    row = None if one.before is None else journal.session.get(Holiday, one.before.row)
    if one.after is None:
        if row is not None:
            journal.remove(row)
        return
    values: dict[str, Any] = {
        "first_day": one.after.first_day,
        "last_day": one.after.last_day,
        "name": one.after.name[:120],
    }
    if row is None:
        journal.add(Holiday(class_id=class_id, **values))
    else:
        journal.change(row, **values)


def _quiz(journal: Journal, school_class: SchoolClass, one: Change[QuizRow], now: datetime) -> Quiz | None:
    row = None if one.before is None else journal.session.get(Quiz, one.before.row)
    if one.after is None:
        if row is not None:
            journal.change(row, dropped_at=now)
        return None
    start = one.after.start or (one.before.start if one.before else None)
    values: dict[str, Any] = {
        "name": one.after.name[:120],
        "kind": QuizKind(one.after.kind),
        "at": timetable.moment(one.after.day, start, school_class.zone),
    }
    if row is None:
        row = Quiz(class_id=id_of(school_class), **values)
        journal.add(row)
    else:
        journal.change(row, **values)
    return row


def _coverage(
    journal: Journal,
    school_class: SchoolClass,
    changed: TimetableChange,
    rows: Mapping[int, Quiz | None],
) -> None:
    """Let every quiz of the file cover what it names, or what was taught since the last one."""
    quizzes = [one.after for one in changed.difference.quizzes if one.after is not None]
    covered = quiz_topics(known(journal.session, school_class).lessons, quizzes)
    topics = topics_named(journal, id_of(school_class), [name for names in covered for name in names])
    for quiz, names in zip(quizzes, covered, strict=True):
        row = rows.get(id(quiz))
        if row is not None:
            _cover_exactly(journal, row, {id_of(topics[folded(name)]) for name in names})


def _cover_exactly(journal: Journal, quiz: Quiz, wanted: set[int]) -> None:
    session = journal.session
    have = {row.topic_id: row for row in session.exec(select(QuizTopic).where(QuizTopic.quiz_id == quiz.id))}
    journal.add(
        *(QuizTopic(quiz_id=id_of(quiz), topic_id=topic_id) for topic_id in sorted(wanted - set(have)))
    )
    for topic_id in sorted(set(have) - wanted):
        journal.remove(have[topic_id])
