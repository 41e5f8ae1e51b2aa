"""The student's part of the facts: their own reviews and nothing of anybody else."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import datetime, timedelta
from functools import cached_property

from bot.chat.port import Attachment, ButtonPressed, Incoming, TextSaid
from bot.grading.choices import LETTERS
from bot.grading.keys import from_dict
from bot.grading.kinds import KINDS
from bot.talk.core import Event, Result
from bot.talk.facts import StudentFacts
from bot.talk.student_facts import (
    AskedQuestion,
    HomeworkFacts,
    Learned,
    Learning,
    NudgeFacts,
    QuizAhead,
    ShownOption,
)
from bot.teaching.school_days import rules_for
from scheduler.calendar.school_days import SchoolDays, is_nudge_day, local_day, local_moment
from storage.asked import answers, homework, nudge_questions, nudges, reviews
from storage.asked.reviews import Instance
from storage.base.database import Session
from storage.queue import outbox
from storage.school import classes, enrolments, questions, timetable
from storage.tables import Nudge, ReviewState

REVIEW_VERBS = frozenset({"pick", "unsure", "later", "unit", "answer"})
NUDGE_VERBS = frozenset({"start", "hour", "decline"})
WORD_KINDS = tuple(kind for kind, recipe in KINDS.items() if recipe.needs_others)


class LoadedLearning:
    """The speaker's own reviews, loaded when they are looked at, within the transaction of the step."""

    def __init__(
        self, session: Session, own: tuple[StudentFacts, ...], event: Event | None, now: datetime
    ) -> None:
        self._session, self._own, self._now = session, own, now
        self._ids = [student.id for student in own]
        self._places = {student.id: student for student in own}
        self._named = _named(event)
        self._event = event
        self._with_pictures = isinstance(
            event, Result
        )  # what comes in is not answered with a question at once

    @cached_property
    def _open_and_named(self) -> tuple[AskedQuestion | None, AskedQuestion | None]:
        waiting, named = reviews.open_and_named(self._session, self._ids, self._named[0])
        return self._asked(waiting), self._asked(named)

    @property
    def open(self) -> AskedQuestion | None:
        """The question that waits for an answer."""
        return self._open_and_named[0]

    @property
    def named(self) -> AskedQuestion | None:
        """The review that the event names, if it is the speaker's own."""
        return self._open_and_named[1]

    @cached_property
    def replied(self) -> AskedQuestion | None:
        """The speaker's own question whose message a text replies to."""
        review_id = _replied(self._session, self._event)
        if review_id is None:
            return None
        return self._asked(reviews.open_and_named(self._session, self._ids, review_id)[1])

    @cached_property
    def last(self) -> AskedQuestion | None:
        """The question asked last."""
        return self._asked(reviews.last_one(self._session, self._ids))

    @cached_property
    def nudge(self) -> NudgeFacts | None:
        """The nudge that the event names, else the one under way."""
        return _nudge(self._session, self._named[1], self._ids, self._own, self._now)

    def quiz(self, class_id: int) -> QuizAhead | None:
        """Return the next quiz of one of the speaker's classes."""
        student = next((one for one in self._own if one.school_class.id == class_id), None)
        return None if student is None else _quiz(self._session, student, self._now)

    def others(self, asked: AskedQuestion) -> tuple[str, ...]:
        """Return the answers to the other text questions of a question's topic."""
        keys = questions.keys_of(self._session, asked.topic_id, WORD_KINDS)
        return tuple(text for key in keys if key != asked.answer for text in key.get("answers", ()))

    def _asked(self, row: Instance | None) -> AskedQuestion | None:
        if row is None:
            return None
        return _asked(self._session, row, self._places, self._now, picture=self._with_pictures)


def load_learning(
    session: Session, own: tuple[StudentFacts, ...], event: Event | None, now: datetime
) -> Learning:
    """Return the speaker's own reviews, with the rows that an event names."""
    return LoadedLearning(session, own, event, now) if own else Learned()


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


def _replied(session: Session, event: Event | None) -> int | None:
    """Return the review of the message that a text replies to, as we named it when it was sent."""
    if not (isinstance(event, Incoming) and isinstance(event.content, TextSaid) and event.content.reply_to):
        return None
    message = outbox.by_ref(session, event.platform, event.address, event.content.reply_to)
    kind, _, number = str(message.body.get("key", "")).partition(":") if message is not None else ("", "", "")
    return int(number) if kind == "review" and number.isdigit() else None


# ---------------------------------------------------------------- questions


def _asked(
    session: Session, row: Instance, places: Mapping[int, StudentFacts], now: datetime, *, picture: bool
) -> AskedQuestion:
    place = places[row.enrolment_id]
    return AskedQuestion(
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
        feedback=row.feedback,
        options=_options(row),
        state=row.state.value,
        chance=row.chance,
        zone=place.zone,
        picture=_picture(session, row) if picture else None,
        reason=row.reason,
        asked_at=row.asked_at,
        topic_id=row.topic_id,
        class_name=place.school_class.name if len(places) > 1 else "",
        still_counts=answers.still_counts(row.state, row.nudge_state, row.asked_at, row.closed_at, now),
    )


def _options(row: Instance) -> tuple[ShownOption, ...]:
    recipe = KINDS[row.kind]
    if not recipe.is_tapped:
        return ()
    options = recipe.options(from_dict(row.answer))
    order = row.option_order if sorted(row.option_order) == list(range(len(options))) else range(len(options))
    return tuple(ShownOption(LETTERS[place], number, options[number]) for place, number in enumerate(order))


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
    return None if row is None or student is None else _nudge_facts(session, row, student, own, now)


def _nudge_facts(
    session: Session, row: Nudge, student: StudentFacts, own: tuple[StudentFacts, ...], now: datetime
) -> NudgeFacts:
    assert row.id is not None  # noqa: S101 - it came from the database
    lines = nudge_questions.taught(session, row.id, now)
    taught = [line.taught_at for line in lines if line.waits and line.taught_at is not None]
    asked = {line.enrolment_id for line in lines if line.waits} or {student.id}
    names = [one.school_class.name for one in own if one.id in asked]
    return NudgeFacts(
        id=row.id,
        enrolment_id=student.id,
        class_id=student.school_class.id,
        class_name=", ".join(names),
        zone=student.zone,
        state=row.state.value,
        day=row.day,
        asked_for=row.asked_for,
        questions=len(lines),
        answered=sum(line.state is ReviewState.ANSWERED for line in lines),
        left=sum(line.waits for line in lines),
        lesson_days=tuple(local_day(at, student.school_class.rules.zone) for at in taught),
        homework=_homework(session, row, student, own, now),
    )


def _homework(
    session: Session, row: Nudge, student: StudentFacts, own: tuple[StudentFacts, ...], now: datetime
) -> tuple[HomeworkFacts, ...]:
    """Return the homework of the nudge's day in all classes in which the speaker is asked."""
    found = []
    for one in own:
        if one.state == "active" or one.id == student.id:
            start = local_moment(row.day, 0, one.zone)
            waiting = homework.unreported(session, one.id, start, now)
            found += [HomeworkFacts(each.lesson_id, one.id, each.topic, each.text) for each in waiting]
    return tuple(found)


def _rules(session: Session, student: StudentFacts) -> SchoolDays:
    school_class = classes.get(session, student.school_class.id)
    row = enrolments.get(session, student.id)
    return rules_for(session, row, school_class)


# ---------------------------------------------------------------- dates ahead


def _quiz(session: Session, student: StudentFacts, now: datetime) -> QuizAhead | None:
    class_id = student.school_class.id
    coming = timetable.quizzes(session, class_id, since=now)
    if not coming:
        return None
    quiz, rules = coming[0], _rules(session, student)
    today = local_day(now, rules.home)
    days = [today + timedelta(days=ahead) for ahead in range(1, min((quiz.day - today).days, 200))]
    evenings = sum(is_nudge_day(day, rules) for day in days)
    return QuizAhead(class_id, quiz, evenings)
