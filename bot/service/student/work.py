"""Due work around students: choosing more questions, and progress."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from bot.evidence import load
from bot.evidence.load_student import student_data
from bot.evidence.student.numbers import student_picture
from bot.service.asking import planning
from bot.service.asking.opening import open_next
from bot.service.asking.planning import Choice, ClassDay
from bot.service.engine.due_work import DueItem, WorkContext, does, finish
from bot.service.engine.effects import Speaker
from bot.service.engine.loop import resume
from bot.talk.student.effects import NothingLeft, Progress, QuestionShown
from bot.teaching.memories import Memories
from bot.words import Words, words
from storage.asked import nudge_questions, nudges, reviews
from storage.base.database import Session
from storage.base.rows import id_of
from storage.school import enrolments, people
from storage.tables import EnrolmentState

# ---------------------------------------------------------------- more


@does("ask_more")
async def ask_more(work_context: WorkContext, item: DueItem) -> None:
    """Choose more questions for a student who asked for them, and show the first."""
    now = work_context.clock.now()
    looked = await work_context.db.run(_look_for, item.payload["enrolments"], now)
    found = await asyncio.to_thread(_best, work_context.app_context.memories, looked, now)
    await work_context.db.run(_ask_more, work_context, item, looked, found, now)


def _look_for(session: Session, ids: Sequence[int], now: datetime) -> list[ClassDay]:
    days = []
    for enrolment_id in ids:
        row = enrolments.get(session, enrolment_id)
        if row.state is EnrolmentState.ACTIVE:
            days.append(planning.look(session, row.class_id, now, only=enrolment_id))
    return [day for day in days if day is not None]


@dataclass(frozen=True)
class _BestChoice:
    """The class in which more questions gain most, and the choice there."""

    day: ClassDay
    choice: Choice


def _best(memories: Memories, looked: Sequence[ClassDay], now: datetime) -> _BestChoice | None:
    found = [
        _BestChoice(day, planning.choose(memories, day, now)) for day in looked if day.student_days[0].cap > 0
    ]
    worth = [(max(q.reason["gain"] for q in qs), one) for one in found for qs in one.choice.values() if qs]
    return max(worth, key=lambda pair: pair[0])[1] if worth else None


def _ask_more(
    session: Session,
    work_context: WorkContext,
    item: DueItem,
    looked: Sequence[ClassDay],
    found: _BestChoice | None,
    now: datetime,
) -> None:
    finish(session, item, now)
    if found is None:
        result: NothingLeft | QuestionShown = NothingLeft(_why(looked))
    else:
        result = _plan_and_open(session, found, now)
    resume(session, work_context.app_context, item.speaker, result, now)


def _why(looked: Sequence[ClassDay]) -> str:
    if looked and all(day.student_days[0].cap <= 0 for day in looked):
        return "cap"
    return "nothing" if any(day.askable for day in looked) else "empty"


def _plan_and_open(session: Session, found: _BestChoice, now: datetime) -> NothingLeft | QuestionShown:
    student_day = found.day.student_days[0]
    already = reviews.open_one(session, [student_day.enrolment_id])
    if already is not None:  # a nudge was started meanwhile
        return QuestionShown(already.review_id, True)
    nudge_id = nudges.plan(
        session,
        student_day.enrolment_id,
        student_day.day,
        now,
        student_day.over_at,
        found.choice[student_day.enrolment_id],
        now,
        number=nudges.next_number(session, student_day.enrolment_id, student_day.day),
        asked_for=True,
    )
    lines = [] if nudge_id is None else nudge_questions.lines(session, nudge_id)
    review_id = open_next(session, lines, now)
    return NothingLeft("nothing") if review_id is None else QuestionShown(review_id)


# ---------------------------------------------------------------- progress


@does("progress")
async def progress(work_context: WorkContext, item: DueItem) -> None:
    """Work out a student's own predicted retention, one message for each class."""
    now = work_context.clock.now()
    looked = await work_context.db.run(_look_at_own, item.subject or 0, item.speaker, now)
    shown = await asyncio.to_thread(_progress_of_all, work_context.app_context.memories, looked)
    await work_context.db.run(_say_progress, work_context, item, shown, now)


@dataclass(frozen=True)
class _Own:
    """A student's place in one class, and what their progress there needs."""

    enrolment_id: int
    read: load.ClassEvidence
    words: Words


def _look_at_own(session: Session, person_id: int, speaker: Speaker, now: datetime) -> list[_Own]:
    own_language = people.get(session, person_id).language
    found = []
    for row in enrolments.of_person(session, person_id):
        read = load.read(session, row.class_id, now)
        found.append(
            _Own(id_of(row), read, words(own_language, speaker.language, read.rows.school_class.language))
        )
    return found


def _progress_of_all(memories: Memories, looked: Sequence[_Own]) -> list[Progress]:
    return [_progress(memories, own) for own in looked]


def _progress(memories: Memories, own: _Own) -> Progress:
    from bot.evidence.student.drawing import (  # draws, so it is slow to import
        student_picture_png,
        student_text,
    )

    name = own.read.rows.school_class.name
    try:
        with memories.of(own.read.story, own.read.others) as memory:
            shown = student_picture(student_data(own.read, own.enrolment_id, memory))
    except load.NothingThere:
        return Progress(name)
    return Progress(name, student_text(shown, own.words), student_picture_png(shown, own.words))


def _say_progress(
    session: Session, work_context: WorkContext, item: DueItem, shown: Sequence[Progress], now: datetime
) -> None:
    finish(session, item, now)
    for one in shown:
        resume(session, work_context.app_context, item.speaker, one, now)
