"""An invented class with five weeks of questions, and the predictions a model might make of it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from bot.evidence.snapshot import Snapshot
from bot.evidence.week import WeekData
from bot.talk.words import Words, words
from scheduler.values import Retention
from storage.evidence_rows import AskedRow, ClassRow, ClassRows, QuizRow, StudentRow, TopicRow

NAMES = [
    "Amira",
    "Ben",
    "Cora",
    "Dilan",
    "Elif",
    "Farid",
    "Grace",
    "Hugo",
    "Ines",
    "Jonas",
    "Kaito",
    "Lena",
    "Mira",
    "Noah",
    "Olga",
    "Pia",
    "Quentin",
    "Rosa",
    "Sami",
    "Tom",
    "Uma",
    "Vera",
    "Will",
    "Xenia",
    "Yusuf",
    "Zoë",
]
TOPICS = (
    "Hooke's law",
    "Density",
    "Pressure in solids",
    "Moments",
    "Pressure in liquids",
    "Buoyancy",
    "Work and energy",
    "Power",
)
MONDAY = datetime(2026, 11, 30, tzinfo=UTC)  # week 49, London keeps UTC in winter
FRIDAY = MONDAY + timedelta(days=4, hours=15, minutes=30)
START = MONDAY - timedelta(weeks=5)


def class_row() -> ClassRow:
    return ClassRow(1, "10B", "10b", "Physics", "Europe/London", "en", "Ms Okafor")


def class_rows(names: list[str] | None = None) -> ClassRows:
    students = tuple(
        StudentRow(
            number,
            name,
            "active",
            True,
            START,
            FRIDAY - timedelta(days=10 if name in ("Elif", "Jonas") else 1),
        )
        for number, name in enumerate(names or NAMES, start=1)
    )
    topics = tuple(
        TopicRow(n, name, START + timedelta(days=4 * n, hours=9)) for n, name in enumerate(TOPICS, start=1)
    )
    quiz = QuizRow(1, "Forces", "quiz", datetime(2026, 12, 11, 9, tzinfo=UTC), (2, 3, 4, 5, 6))
    lessons = tuple((row.taught_at, row.id) for row in topics if row.taught_at)
    due = {row.id: 2 for row in students}
    return ClassRows(class_row(), students, topics, (quiz,), lessons, due)


def asked_rows(rows: ClassRows, seed: int = 7) -> tuple[AskedRow, ...]:
    """Three questions on four days a week; Elif and Jonas fall silent, Tom becomes slow, Mira comes back."""
    rng = np.random.default_rng(seed)
    found: list[AskedRow] = []
    for day in range(5 * 7 + 4):
        sent = START + timedelta(days=day, hours=18)
        if sent.weekday() > 3:
            continue
        this_week, last_week = day >= 35, 28 <= day < 35
        for student in rows.students:
            taught = [topic.id for topic in rows.topics if topic.taught_at and topic.taught_at < sent]
            silent = (
                student.name in ("Elif", "Jonas") and (this_week or (sent.weekday() > 1 and last_week))
            ) or (student.name == "Mira" and last_week)
            wait = 9.0 if this_week and student.name == "Tom" else float(rng.uniform(0.2, 2.0))
            for topic in rng.choice(taught, size=min(3, len(taught)), replace=False) if taught else []:
                answers = not silent and (rng.random() < 0.88 or student.name in ("Mira", "Tom"))
                verdict = str(rng.choice(["right", "right", "right", "wrong", "unsure"])) if answers else None
                found.append(
                    AskedRow(
                        student.id, int(topic), int(topic) * 10 + int(rng.integers(4)), sent,
                        predicted=0.65, chance=0.25, verdict=verdict, on_time=answers and wait < 1.9,
                        answered_at=sent + timedelta(hours=wait) if answers else None,
                        option=int(rng.integers(4)), taken_s=float(rng.uniform(8, 60)), review_id=len(found) + 1,
                    )
                )  # fmt: skip
    return tuple(found)


def snapshot(rows: ClassRows, at: datetime, lift: float = 0.0, seed: int = 3, answers: int = 6) -> Snapshot:
    """Return retention around .45 to .85 by topic, with Pressure in liquids lowest."""
    rng = np.random.default_rng(seed)
    students, topics = len(rows.students), len(rows.topics)
    by_topic = np.array([0.82, 0.74, 0.66, 0.49, 0.36, 0.58, 0.7, 0.8])[:topics]
    by_student = rng.normal(0, 0.08, students) - 0.2 * np.isin([row.name for row in rows.students], ["Sami"])
    mean = np.clip(
        by_topic[None, :] + by_student[:, None] + rng.normal(0, 0.03, (students, topics)) + lift, 0.03, 0.98
    )
    half = 0.14
    retention = Retention(mean, np.clip(mean - half, 0, 1), np.clip(mean + half, 0, 1))
    taught = np.array([[row.taught_at is not None and row.taught_at <= at for row in rows.topics]] * students)
    counts = np.full((students, topics), answers)
    counts[:, 5] = 0
    ids = tuple(row.id for row in rows.students)
    return Snapshot(at, ids, tuple(row.id for row in rows.topics), retention, counts, taught)


def week_data(names: list[str] | None = None) -> WeekData:
    rows = class_rows(names)
    quiz = rows.quizzes[0]
    return WeekData(
        rows, 2026, 49, FRIDAY, asked_rows(rows), snapshot(rows, FRIDAY, 0.1), quiz, snapshot(rows, quiz.at)
    )


@pytest.fixture(scope="session")
def english() -> Words:
    return words("en")


@pytest.fixture(scope="session")
def made_week() -> WeekData:
    return week_data()


@pytest.fixture(scope="session")
def make_week() -> Callable[..., WeekData]:
    return week_data
