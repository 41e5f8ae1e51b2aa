"""A school with at least one row in every table, so that nothing can be forgotten by export, erasure or copy."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from sqlmodel import Session, select

from storage.base import blobs, key_values
from storage.queue import conversations, due, inbox, outbox, pacing
from storage.queue.outbox_messages import Enclosed
from storage.school import classes, codes, enrolments, people
from storage.tables import (
    Absence,
    Answer,
    Channel,
    ClassFit,
    CodeKind,
    CodeTry,
    Enrolment,
    Holiday,
    HomeworkReport,
    Lesson,
    Nudge,
    PlatformFile,
    Question,
    Quiz,
    QuizTopic,
    Review,
    SchoolClass,
    Score,
    StarterResult,
    Topic,
    Upload,
    UploadKind,
    Verdict,
)
from tests.contracts.storage_school import NOW, Said, later, said, school_class, student


@dataclass(frozen=True)
class School:
    """Who is who."""

    group: int
    teacher: int
    mira: Enrolment
    tom: Enrolment
    topic: int
    question: int
    picture: str


def furnish(session: Session) -> School:
    """Fill every table."""
    group = school_class(session)
    assert group.id is not None
    teacher = classes.teachers(session, group.id)[0].person_id
    people.make_staff(session, teacher, "Ms Okafor", NOW)
    mira, tom = student(session, group, "Mira"), student(session, group, "Tom")
    topic, question, picture = _taught(session, group)
    for who in (mira, tom):
        _asked(session, group.id, who, topic, question)
    _sent(session, mira)
    key_values.put(session, "matrix sync", "s42", NOW)
    pacing.hold(session, "telegram", NOW.timestamp())
    return School(group.id, teacher, mira, tom, topic, question, picture)


def _taught(session: Session, group: SchoolClass) -> tuple[int, int, str]:
    assert group.id is not None
    topic = Topic(class_id=group.id, name="Hooke’s law")
    session.add(topic)
    session.flush()
    assert topic.id is not None
    picture = blobs.keep(session, b"\x89PNG spring", "image/png", NOW)
    question = Question(
        topic_id=topic.id,
        kind="number",
        prompt="A spring stretches 4 cm under 2 N. How far under 5 N?",
        answer={"value": "10", "unit": "cm"},
        picture=picture,
        chance=0.25,
        created_at=NOW,
    )
    lesson = Lesson(class_id=group.id, topic_id=topic.id, starts_at=NOW, homework="p. 12")
    quiz = Quiz(class_id=group.id, at=later(days=30), name="Forces")
    session.add_all([question, lesson, quiz])
    session.flush()
    assert question.id is not None
    assert quiz.id is not None
    session.add_all(
        [
            QuizTopic(quiz_id=quiz.id, topic_id=topic.id),
            Holiday(
                class_id=group.id, first_day=date(2026, 10, 26), last_day=date(2026, 10, 30), name="Half-term"
            ),
            Channel(class_id=group.id, platform="telegram", address="-100", title="10B", bound_at=NOW),
            ClassFit(class_id=group.id, parameters={"rate": 0.1}, answers=2, fitted_at=NOW),
            StarterResult(class_id=group.id, question_id=question.id, asked=24, right=18, at=NOW),
            PlatformFile(digest=picture, platform="telegram", file_ref="AgAC"),
            Upload(
                class_id=group.id,
                person_id=classes.teachers(session, group.id)[0].person_id,
                kind=UploadKind.ROSTER,
                file_name="10B.csv",
                content={"rows": [{"name": "MIRA", "row": 2}, {"name": "Tom", "row": 3}]},
                before={"enrolment": [["1", {"name": "Mira"}]]},
                created_at=NOW,
            ),
        ]
    )
    session.flush()
    return topic.id, question.id, picture


def _asked(session: Session, group: int, who: Enrolment, topic: int, question: int) -> None:
    assert who.id is not None
    assert who.person_id is not None
    nudge = Nudge(enrolment_id=who.id, day=date(2026, 9, 2), due_at=later(days=1), expires_at=later(days=2))
    session.add(nudge)
    session.flush()
    assert nudge.id is not None
    review = Review(
        nudge_id=nudge.id,
        enrolment_id=who.id,
        topic_id=topic,
        question_id=question,
        position=1,
        planned_at=NOW,
    )
    session.add(review)
    session.flush()
    assert review.id is not None
    session.add_all(
        [
            Answer(
                review_id=review.id,
                enrolment_id=who.id,
                topic_id=topic,
                question_id=question,
                verdict=Verdict.RIGHT,
                given="10 cm",
                chance=0.25,
                on_time=True,
                at=later(days=1),
                taken_s=12.5,
            ),
            *_marks(session, who.id),
        ]
    )
    outbox.put(session, "terminal", f"chat-{who.name.lower()}", said("3 checks"), now=NOW, nudge_id=nudge.id)
    codes.issue(session, CodeKind.PERMISSION, now=NOW, enrolment_id=who.id, class_id=group)
    codes.issue(session, CodeKind.MOVE, now=NOW, person_id=who.person_id, lasts=timedelta(days=1))
    _talked(session, who)


def _marks(session: Session, enrolment: int) -> list[Absence | HomeworkReport | Score]:
    lesson = session.exec(select(Lesson.id)).first() or 0
    quiz = session.exec(select(Quiz.id)).first() or 0
    return [
        Absence(lesson_id=lesson, enrolment_id=enrolment),
        HomeworkReport(lesson_id=lesson, enrolment_id=enrolment, done=True, at=NOW),
        Score(quiz_id=quiz, enrolment_id=enrolment, reached=7.5, out_of=10, at=NOW),
    ]


def _talked(session: Session, who: Enrolment) -> None:
    user = who.name.lower()
    speaker = {"platform": "terminal", "user": user, "address": f"chat-{user}"}
    key = f"progress:{who.person_id}:now"
    due.ensure(session, key, "progress", NOW, subject=who.person_id, payload={"speaker": speaker})
    conversations.save(session, "terminal", user, "asking", {"review": 1}, NOW)
    inbox.record(
        session, platform="terminal", key=f"delivery-{who.id}-1", user=user, event={"text": "10 cm"}, now=NOW
    )
    session.add(CodeTry(platform="terminal", user=user, at=NOW))
    session.flush()


def _sent(session: Session, mira: Enrolment) -> None:
    """Give the teacher mail about the class, some of it naming Mira."""
    report = Said(
        {"text": [["Silent all week: Mira.", False]]}, Enclosed("week.png", "image/png", b"week chart")
    )
    for message in (report, said("Talk to: MIRA"), said("The quiz is on 1 October.")):
        outbox.put(session, "terminal", "chat-okafor", message, now=NOW)
    number = inbox.record(
        session, platform="terminal", key="o-1", user="okafor", event={"text": "rename Mira"}, now=NOW
    )
    inbox.done(session, number or 0, NOW)
    due.ensure(session, f"plan:{mira.class_id}:x", "plan", NOW, subject=mira.class_id)
    enrolments.add_to_roster(session, mira.class_id, ["Elif"], NOW)
