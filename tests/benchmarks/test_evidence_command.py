"""How long the papers of a week take from the database on: classes of 30 after ten weeks, read, predicted, written.

The baseline is matplotlib's own drawing of a plain figure in the same run, so that a busy machine slows both.
"""

from __future__ import annotations

import os
from datetime import UTC, datetime, timedelta
from pathlib import Path
from time import process_time

import numpy as np
import pytest
from click.testing import CliRunner
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from sqlmodel import Session, SQLModel, insert

from bot.cli.group import holdfast
from bot.evidence.load import read
from bot.evidence.papers import save, week_papers
from bot.grading.keys import ChoiceKey, to_dict
from bot.teaching.memories import build
from bot.words import words
from storage.base.database import Database, connect
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
CLASSES = int(os.environ.get("HOLDFAST_BENCHMARK_CLASSES", "3"))
APART = 100_000  # numbers of rows of one class, so that those of several do not meet


def _school(session: Session, number: int = 0) -> None:
    group, first = number + 1, number * APART
    session.add(
        SchoolClass(id=group, name="10B", slug=f"10b-{number}", zone="Europe/London", created_at=START)
    )
    session.flush()
    session.add(Quiz(id=group, class_id=group, name="Waves", at=START + timedelta(days=81)))
    session.flush()
    key = to_dict(ChoiceKey("right", ("slip", "odd", "other")))
    for topic in TOPICS:
        at = START + timedelta(days=2 * topic)
        session.add(Topic(id=first + topic, class_id=group, name=f"Topic {topic:02d}"))
        session.flush()
        session.add(QuizTopic(quiz_id=group, topic_id=first + topic))
        session.add(Lesson(class_id=group, topic_id=first + topic, starts_at=at))
        session.add_all(
            Question(
                id=first + PER_TOPIC * (topic - 1) + n, topic_id=first + topic, kind="choice", prompt=f"{n}?",
                answer=key, chance=0.25, created_at=START,
            )
            for n in range(1, PER_TOPIC + 1)
        )  # fmt: skip
    session.add_all(Person(id=first + student, created_at=START) for student in STUDENTS)
    session.flush()
    session.add_all(
        Enrolment(
            id=first + n, class_id=group, person_id=first + n, name=f"Student {n:02d}", joined_at=START,
            last_answer_at=NOW,
        )
        for n in STUDENTS
    )  # fmt: skip
    session.flush()


def _answers(session: Session, number: int = 0) -> int:
    """Three questions on every school day, seven of ten answered; return how many were asked."""
    rng, first = np.random.default_rng(3 + number), number * APART
    rows: dict[type[SQLModel], list[dict[str, object]]] = {Nudge: [], Review: [], Answer: []}
    for day in range(3, DAYS):
        sent = START + timedelta(days=day, hours=8)
        for student in STUDENTS if sent.weekday() < 5 and sent < NOW else ():
            whose = {"enrolment_id": first + student}
            nudge = {
                "id": first + len(rows[Nudge]) + 1,
                "day": sent.date(),
                "state": NudgeState.DONE,
                "due_at": sent,
            }
            rows[Nudge].append(nudge | whose | {"sent_at": sent, "expires_at": sent + timedelta(hours=6)})
            answers_it = rng.random() < 0.7
            for topic in rng.integers(1, 1 + min(len(TOPICS), day // 2), 3):
                review = first + len(rows[Review]) + 1
                question = first + PER_TOPIC * (int(topic) - 1) + int(rng.integers(1, 5))
                about = whose | {"topic_id": first + int(topic), "question_id": question}
                state = ReviewState.ANSWERED if answers_it else ReviewState.EXPIRED
                asked = {
                    "nudge_id": nudge["id"],
                    "position": 1 + review % 3,
                    "state": state,
                    "predicted": 0.6,
                }
                moments = {"planned_at": sent, "asked_at": sent, "closed_at": sent}
                rows[Review].append({"id": review} | about | asked | moments)
                if answers_it:
                    right = bool(rng.random() < 0.6)
                    verdict = Verdict.RIGHT if right else Verdict.WRONG
                    said = {"verdict": verdict, "option": 0 if right else 1, "chance": 0.25, "on_time": True}
                    at = sent + timedelta(minutes=review % 50)
                    rows[Answer].append({"review_id": review, "at": at, "taken_s": 20.0} | about | said)
    for kind, made in rows.items():
        session.execute(insert(kind), made)
    return len(rows[Review])


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


def test_the_papers_of_many_classes_cost_as_much_as_those_of_one_times_their_number(
    sqlite_url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    database = connect(sqlite_url)
    for number in range(CLASSES):
        with database.begin() as session:
            _school(session, number)
            _answers(session, number)
    one_s = min(_papers_s(database, tmp_path / "one") for _ in range(2))
    database.close()
    monkeypatch.setenv("HOLDFAST_DATABASE_URL", sqlite_url)
    words = [
        "report",
        "--all",
        "--week",
        "2026-W48",
        "--as-of",
        f"{NOW:%Y-%m-%dT%H:%M}",
        "--out",
        str(tmp_path),
    ]
    start = process_time()
    done = CliRunner().invoke(holdfast, words)
    all_s = process_time() - start
    assert done.exit_code == 0, done.output
    assert f"{CLASSES} of {CLASSES} classes" in done.stderr
    assert len(list(tmp_path.glob("10b-*/*.xlsx"))) == CLASSES
    with capsys.disabled():
        print(
            f"\npapers of {CLASSES} classes in one run: {all_s:.1f} s of processor time, "
            f"{all_s / CLASSES / one_s:.2f} times one class, each"
        )
    assert all_s < 3 * CLASSES * one_s
