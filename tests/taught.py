"""A class of six in a database, taught four topics and asked for five weeks, with one quiz written and one to come."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
from sqlmodel import Session

from bot.grading.keys import ChoiceKey, to_dict
from storage.tables import (
    Answer,
    Enrolment,
    Lesson,
    Nudge,
    NudgeState,
    Person,
    Question,
    Quiz,
    QuizTopic,
    Review,
    ReviewState,
    SchoolClass,
    Score,
    Topic,
    Verdict,
)

START = datetime(2026, 11, 2, 9, 0, tzinfo=UTC)
NOW = datetime(2026, 12, 4, 15, 30, tzinfo=UTC)
QUIZ = datetime(2026, 12, 11, 9, 0, tzinfo=UTC)
WRITTEN = datetime(2026, 11, 27, 9, 0, tzinfo=UTC)
NAMES = ("Amira", "Ben", "Cora", "Dilan", "Elif", "Farid")
TOPICS = ("Density", "Moments", "Pressure", "Buoyancy")


def _add(session: Session, row: object) -> int:
    session.add(row)
    session.flush()
    number = row.id  # type: ignore[attr-defined]  # every table used here has one
    assert isinstance(number, int)
    return number


def _class(session: Session) -> int:
    group = _add(
        session,
        SchoolClass(
            name="10B", slug="10b", subject="Physics", zone="Europe/London", created_at=START, term_allowance=200
        ),
    )  # fmt: skip
    for number, name in enumerate(TOPICS):
        topic = _add(session, Topic(class_id=group, name=name))
        at = START + timedelta(days=7 * number)
        session.add(Lesson(class_id=group, topic_id=topic, starts_at=at))
        key = to_dict(ChoiceKey("right", ("slip", "odd")))
        for prompt in ("First?", "Second?"):
            session.add(
                Question(
                    topic_id=topic, kind="choice", prompt=f"{name}: {prompt}", answer=key, chance=1 / 3,
                    created_at=START,
                )
            )  # fmt: skip
    session.add(Lesson(class_id=group, topic_id=1, starts_at=NOW + timedelta(days=3)))
    return group


def _quizzes(session: Session, group: int) -> None:
    written = _add(session, Quiz(class_id=group, name="Forces 1", at=WRITTEN))
    coming = _add(session, Quiz(class_id=group, name="Forces 2", at=QUIZ))
    session.add_all([QuizTopic(quiz_id=written, topic_id=topic) for topic in (1, 2)])
    session.add_all([QuizTopic(quiz_id=coming, topic_id=topic) for topic in (1, 2, 3, 4)])
    for student in range(1, len(NAMES) + 1):
        for topic in (1, 2):
            reached = float((student + topic) % 5)
            session.add(
                Score(
                    quiz_id=written, enrolment_id=student, topic_id=topic, reached=reached, out_of=4.0, at=NOW
                )
            )


def _answers(session: Session, student: int) -> None:
    """Two questions on every weekday evening; Elif, the fifth, answers none in the last ten days."""
    rng = np.random.default_rng(student)
    for day in range(1, 32):
        sent = START + timedelta(days=day, hours=9)
        if sent.weekday() > 4:
            continue
        nudge = _add(
            session,
            Nudge(
                enrolment_id=student, day=sent.date(), state=NudgeState.DONE, due_at=sent, sent_at=sent,
                expires_at=sent + timedelta(days=1),
            ),
        )  # fmt: skip
        for position in (1, 2):
            topic = 1 + int(rng.integers(0, 1 + min(3, day // 7)))
            silent = student == 5 and day > 21
            state = ReviewState.EXPIRED if silent else ReviewState.ANSWERED
            question = 2 * topic - int(rng.integers(0, 2))
            review = _add(
                session,
                Review(
                    nudge_id=nudge, enrolment_id=student, topic_id=topic, question_id=question, position=position,
                    state=state, predicted=0.6, planned_at=sent, asked_at=sent, closed_at=sent,
                ),
            )  # fmt: skip
            if not silent:
                option = int(rng.choice([0, 0, 0, 1, 2]))
                session.add(
                    Answer(
                        review_id=review, enrolment_id=student, topic_id=topic, question_id=question,
                        verdict=Verdict.RIGHT if option == 0 else Verdict.WRONG, option=option, chance=1 / 3,
                        on_time=True, at=sent + timedelta(hours=1, minutes=position), taken_s=20.0,
                    )
                )  # fmt: skip


def fill(session: Session) -> int:
    """Store the class; return its id."""
    group = _class(session)
    for number, name in enumerate(NAMES, start=1):
        person = _add(session, Person(created_at=START))
        session.add(
            Enrolment(
                id=number, class_id=group, person_id=person, name=name, joined_at=START - timedelta(days=9),
                last_answer_at=START + timedelta(days=20),
            )
        )  # fmt: skip
    session.flush()
    _quizzes(session, group)
    for student in range(1, len(NAMES) + 1):
        _answers(session, student)
    return group
