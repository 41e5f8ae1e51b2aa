"""The student's part of the facts: their own reviews and nothing of anybody else."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import date, datetime, timedelta

from bot.chat.port import Attachment, ButtonPressed, Incoming
from bot.grading.choices import LETTERS
from bot.grading.keys import ChoiceKey, from_dict
from bot.service.schooldays import class_rules, day_span, student_rules
from bot.talk.core import Event, Result
from bot.talk.facts import StudentFacts
from bot.talk.student_facts import Asked, HomeworkFacts, Learning, NudgeFacts, Option, QuizAhead
from scheduler.schoolday import SchoolDays, is_nudge_day, local_day
from storage import classes, enrolments, homework, nudges, reviews, timetable
from storage.database import Session
from storage.reviews import Instance
from storage.tables import Nudge

REVIEW_VERBS = frozenset({"pick", "unsure", "later", "unit"})
NUDGE_VERBS = frozenset({"start", "hour", "decline"})


def load_learning(
    session: Session, own: tuple[StudentFacts, ...], event: Event | None, now: datetime
) -> Learning:
    """Load the speaker's own reviews, with the rows that an event names.

    Pictures and dates ahead are loaded for results only: what comes in is not answered with them at once.
    """
    if not own:
        return Learning()
    ids, zones = [student.id for student in own], {student.id: student.zone for student in own}
    is_result = isinstance(event, Result)
    named_review, named_nudge = _named(event)
    asked = reviews.open_one(session, ids)
    open_now = None if asked is None else _asked(session, asked, zones, picture=is_result)
    named = None if named_review is None else reviews.instance(session, named_review, ids)
    last = reviews.last_one(session, ids)
    return Learning(
        open=open_now,
        named=None if named is None else _asked(session, named, zones),
        last=None if last is None else _asked(session, last, zones),
        nudge=_nudge(session, named_nudge, ids, own, now),
        quizzes=_quizzes(session, own, now) if is_result else (),
    )


def _named(event: Event | None) -> tuple[int | None, int | None]:
    """Return the review and the nudge that an event names."""
    if isinstance(event, Result):
        return getattr(event, "review_id", None), getattr(event, "nudge_id", None)
    if isinstance(event, Incoming) and isinstance(event.content, ButtonPressed):
        conversation, *parts = event.content.action.split(":")
        if conversation == "student" and len(parts) > 1:
            return _id(parts, REVIEW_VERBS), _id(parts, NUDGE_VERBS)
    return None, None


def _id(parts: list[str], verbs: frozenset[str]) -> int | None:
    verb, text = parts[0], parts[1]
    return int(text) if verb in verbs and text.isascii() and text.isdigit() and len(text) < 16 else None


# ---------------------------------------------------------------- questions


def _asked(session: Session, row: Instance, zones: Mapping[int, str], *, picture: bool = False) -> Asked:
    return Asked(
        review_id=row.review_id,
        nudge_id=row.nudge_id,
        enrolment_id=row.enrolment_id,
        class_id=row.class_id,
        position=row.position,
        of=row.of,
        topic=row.topic,
        kind=row.kind,
        prompt=row.prompt,
        answer=row.answer,
        explanation=row.explanation,
        options=_options(row),
        state=row.state.value,
        chance=row.chance,
        zone=zones[row.enrolment_id],
        picture=_picture(session, row) if picture else None,
        reason=row.reason,
        asked_at=row.asked_at,
    )


def _options(row: Instance) -> tuple[Option, ...]:
    if row.kind != "choice":
        return ()
    key = from_dict(row.answer)
    assert isinstance(key, ChoiceKey)  # noqa: S101 - the kind of a question is that of its key
    options = key.options
    order = row.option_order if sorted(row.option_order) == list(range(len(options))) else range(len(options))
    return tuple(Option(LETTERS[place], number, options[number]) for place, number in enumerate(order))


def _picture(session: Session, row: Instance) -> Attachment | None:
    found = None if row.picture is None else reviews.picture(session, row.picture)
    if found is None:
        return None
    ending = {"image/jpeg": "jpg", "image/webp": "webp", "image/gif": "gif"}.get(found.media_type, "png")
    return Attachment(f"question.{ending}", found.media_type, found.data, row.picture_alt)


# ---------------------------------------------------------------- nudges


def _nudge(
    session: Session, named: int | None, ids: Collection[int], own: tuple[StudentFacts, ...], now: datetime
) -> NudgeFacts | None:
    row = nudges.under_way(session, ids) if named is None else nudges.get(session, named)
    student = next((one for one in own if row is not None and one.id == row.enrolment_id), None)
    return None if row is None or student is None else _nudge_facts(session, row, student, now)


def _nudge_facts(session: Session, row: Nudge, student: StudentFacts, now: datetime) -> NudgeFacts:
    assert row.id is not None  # noqa: S101 - it came from the database
    total, answered, _right, left = reviews.left_in(session, row.id)
    rules = _rules(session, student)
    start, _ = day_span(row.day, rules)
    waiting = homework.unreported(session, student.id, start, now)
    return NudgeFacts(
        id=row.id,
        enrolment_id=student.id,
        class_id=student.school_class.id,
        class_name=student.school_class.name,
        zone=student.zone,
        state=row.state.value,
        day=row.day,
        asked_for=row.asked_for,
        questions=total,
        answered=answered,
        left=left,
        lesson_days=_lesson_days(session, row.id, student.school_class.zone, now),
        homework=tuple(HomeworkFacts(one.lesson_id, student.id, one.topic, one.text) for one in waiting),
    )


def _lesson_days(session: Session, nudge_id: int, zone: str, now: datetime) -> tuple[date, ...]:
    waiting = [row.topic_id for row in reviews.of_nudge(session, nudge_id) if row.state in reviews.WAITING]
    taught = reviews.last_taught(session, waiting, now)
    return tuple(local_day(taught[topic], zone) for topic in waiting if topic in taught)


def _rules(session: Session, student: StudentFacts) -> SchoolDays:
    group = classes.get(session, student.school_class.id)
    return student_rules(class_rules(session, group), enrolments.get(session, student.id))


# ---------------------------------------------------------------- dates ahead


def _quizzes(session: Session, own: tuple[StudentFacts, ...], now: datetime) -> tuple[QuizAhead, ...]:
    found = (_quiz(session, student, now) for student in own)
    return tuple(quiz for quiz in found if quiz is not None)


def _quiz(session: Session, student: StudentFacts, now: datetime) -> QuizAhead | None:
    class_id = student.school_class.id
    coming = timetable.quizzes(session, class_id, since=now)
    if not coming:
        return None
    quiz, rules = coming[0], _rules(session, student)
    today = local_day(now, rules.home)
    days = [today + timedelta(days=ahead) for ahead in range(1, min((quiz.day - today).days, 200))]
    evenings = sum(is_nudge_day(day, rules) for day in days)
    return QuizAhead(class_id, quiz.name, quiz.kind.value, quiz.day, evenings)
