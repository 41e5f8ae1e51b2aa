"""Everything that a teacher pulls, from classes in which something is missing: made, or refused with a reason."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from datetime import timedelta

import pytest
from sqlmodel import Session, delete, select

from bot.evidence.load import ClassEvidence, NothingThere, read
from bot.evidence.week.text import TooFewStudents
from bot.service.teacher.pulling import MAKERS, Maker
from bot.teaching.memories import build
from bot.words import Words
from scheduler.model.memory import ClassMemory
from storage.base.database import Database, connect
from storage.tables import (
    Absence,
    Answer,
    Enrolment,
    EnrolmentState,
    Lesson,
    Nudge,
    QuizTopic,
    Review,
    StarterResult,
    Topic,
)
from tests.taught import NOW, fill

Change = Callable[[Session], None]


def no_answers(session: Session) -> None:
    for table in (Answer, Review, Nudge):
        session.exec(delete(table))


def nobody_joined(session: Session) -> None:
    no_answers(session)  # scores stay: a teacher's list holds the whole roster
    for row in session.exec(select(Enrolment)):
        row.person_id = None


def everybody_left(session: Session) -> None:
    for row in session.exec(select(Enrolment)):
        row.state = EnrolmentState.LEFT


def everybody_absent(session: Session) -> None:
    for lesson in session.exec(select(Lesson)).all():
        session.add_all(Absence(lesson_id=lesson.id or 0, enrolment_id=student) for student in range(1, 7))


def every_topic_dropped(session: Session) -> None:
    for row in session.exec(select(Topic)):
        row.dropped_at = NOW


def quizzes_without_topics(session: Session) -> None:
    session.exec(delete(QuizTopic))


def nothing_taught_yet(session: Session) -> None:
    for row in session.exec(select(Lesson)):
        row.starts_at = NOW + timedelta(days=30)


def starters_counted(session: Session) -> None:
    for question, at in ((1, NOW), (3, NOW), (5, NOW - timedelta(days=400))):
        session.add(StarterResult(class_id=1, question_id=question, asked=6, right=question, at=at))


CHANGES: tuple[Change, ...] = (
    no_answers,
    nobody_joined,
    everybody_left,
    everybody_absent,
    every_topic_dropped,
    quizzes_without_topics,
    nothing_taught_yet,
    starters_counted,
)


@pytest.fixture(scope="module")
def school() -> Iterator[Database]:
    database = connect("sqlite://")
    with database.begin() as session:
        fill(session)
    yield database
    database.close()


def changed(database: Database, change: Change) -> ClassEvidence:
    """Read the class with a change that is taken back again."""
    with contextlib.suppress(_TakenBack), database.begin() as session:
        change(session)
        session.flush()
        found = read(session, 1, NOW)
        raise _TakenBack
    return found


class _TakenBack(Exception):
    """Ends a transaction without a trace."""


def said(maker: Maker, found: ClassEvidence, memory: ClassMemory, words: Words) -> list[str]:
    """Return what a maker says: beside its pieces, or why there are none."""
    given = {"stored": {}, "home": "https://rowan-hill.example", "key": b"0123456789abcdef", "percent": 75}
    try:
        return [piece.text.plain for piece in maker(found, memory, words, given).pieces]
    except (NothingThere, TooFewStudents) as refused:
        return [str(refused)]


@pytest.mark.parametrize("change", CHANGES, ids=lambda change: change.__name__)
def test_everything_is_made_or_refused_with_a_reason(
    school: Database, change: Change, english: Words
) -> None:
    found = changed(school, change)
    memory = build(found.story, found.others)
    texts = {what: said(maker, found, memory, english) for what, maker in MAKERS.items()}
    assert [what for what, lines in texts.items() if not lines or not all(lines)] == []


def test_the_change_is_taken_back(school: Database) -> None:
    assert changed(school, everybody_left).rows.students == ()
    assert len(changed(school, lambda session: None).rows.students) == 6
