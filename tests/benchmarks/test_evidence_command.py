"""How long the papers of a week take from the database on: a class of 30 after ten weeks, read, predicted, written.

The baseline is matplotlib's own drawing of a plain figure in the same run, so that a busy machine slows both.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from time import process_time

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from sqlmodel import Session, SQLModel

from bot.evidence.load import read
from bot.evidence.papers import save, week_papers
from bot.grading.keys import ChoiceKey, to_dict
from bot.service.memories import build
from bot.talk.words import words
from storage.database import Database
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
    Topic,
    Verdict,
)

START = datetime(2026, 9, 21, 9, 0, tzinfo=UTC)
NOW = START + timedelta(days=67, hours=6, minutes=30)  # a Friday, 15:30 in London
STUDENTS, TOPICS, PER_TOPIC, DAYS = range(1, 31), range(1, 31), 4, 68


def _school(session: Session) -> None:
    session.add(SchoolClass(id=1, name="10B", slug="10b", zone="Europe/London", created_at=START))
    session.flush()
    session.add(Quiz(id=1, class_id=1, name="Waves", at=START + timedelta(days=81)))
    session.flush()
    key = to_dict(ChoiceKey("right", ("slip", "odd", "other")))
    for topic in TOPICS:
        at = START + timedelta(days=2 * topic)
        session.add(Topic(id=topic, class_id=1, name=f"Topic {topic:02d}"))
        session.flush()
        session.add(QuizTopic(quiz_id=1, topic_id=topic))
        session.add(Lesson(class_id=1, topic_id=topic, starts_at=at))
        session.add_all(
            Question(topic_id=topic, kind="choice", prompt=f"{n}?", answer=key, chance=0.25, created_at=START)
            for n in range(PER_TOPIC)
        )
    session.add_all(Person(id=number, created_at=START) for number in STUDENTS)
    session.flush()
    session.add_all(
        Enrolment(id=n, class_id=1, person_id=n, name=f"Student {n:02d}", joined_at=START, last_answer_at=NOW)
        for n in STUDENTS
    )
    session.flush()


def _answers(session: Session) -> int:
    """Three questions on every school day, seven of ten answered; return how many were asked."""
    rng = np.random.default_rng(3)
    nudges: list[Nudge] = []
    reviews: list[Review] = []
    answers: list[Answer] = []
    for day in range(3, DAYS):
        sent = START + timedelta(days=day, hours=8)
        for student in STUDENTS if sent.weekday() < 5 and sent < NOW else ():
            nudges.append(
                Nudge(
                    id=len(nudges) + 1, enrolment_id=student, day=sent.date(), state=NudgeState.DONE, due_at=sent,
                    sent_at=sent, expires_at=sent + timedelta(hours=6),
                )
            )  # fmt: skip
            answers_it = rng.random() < 0.7
            for topic in rng.integers(1, 1 + min(len(TOPICS), day // 2), 3):
                number, question = len(reviews) + 1, PER_TOPIC * (int(topic) - 1) + int(rng.integers(1, 5))
                state = ReviewState.ANSWERED if answers_it else ReviewState.EXPIRED
                reviews.append(
                    Review(
                        id=number, nudge_id=len(nudges), enrolment_id=student, topic_id=int(topic),
                        question_id=question, position=1 + number % 3, state=state, predicted=0.6, planned_at=sent,
                        asked_at=sent, closed_at=sent,
                    )
                )  # fmt: skip
                if answers_it:
                    right = bool(rng.random() < 0.6)
                    answers.append(
                        Answer(
                            review_id=number, enrolment_id=student, topic_id=int(topic), question_id=question,
                            verdict=Verdict.RIGHT if right else Verdict.WRONG, option=0 if right else 1, chance=0.25,
                            on_time=True, at=sent + timedelta(minutes=number % 50), taken_s=20.0,
                        )
                    )  # fmt: skip
    rows: list[list[SQLModel]] = [[*nudges], [*reviews], [*answers]]
    for kind in rows:
        session.add_all(kind)
        session.flush()
    return len(reviews)


def _baseline_s() -> float:
    start = process_time()
    figure = Figure(figsize=(3.9, 6.5), dpi=200)
    for number in range(40):
        figure.text(0.1, number / 40, f"Some words {number}", fontsize=9)
    FigureCanvasAgg(figure).draw()
    return process_time() - start


def _papers_s(database: Database, folder: Path) -> float:
    start = process_time()
    with database.reading() as session:
        found = read(session, 1, NOW)
    save(week_papers(found, build(found.story, found.others), 2026, 48, words("en")), folder)
    return process_time() - start


def test_the_papers_of_a_week_take_about_a_second_from_the_database_on(
    memory_db: Database, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with memory_db.begin() as session:
        _school(session)
        asked = _answers(session)
    first_s = _papers_s(memory_db, tmp_path)  # finds fonts, compiles statements
    _baseline_s()
    again_s, baseline_s = _papers_s(memory_db, tmp_path), _baseline_s()
    with capsys.disabled():
        print(
            f"\npapers of a week, 30 students, {asked} questions: {first_s:.2f} s at first, then {again_s:.2f} s of "
            f"processor time, {again_s / baseline_s:.0f} times a plain figure"
        )
    assert sorted(path.suffix for path in tmp_path.iterdir()) == [".csv", ".csv", ".png", ".txt", ".xlsx"]
    assert again_s < 50 * baseline_s
    assert again_s < 8.0
