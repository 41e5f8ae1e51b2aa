"""An invented class with five weeks of questions, and the predictions a model might make of it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from bot.evidence.forecast.numbers import ForecastData
from bot.evidence.quiz.numbers import QuizData
from bot.evidence.shared.snapshot import Snapshot
from bot.evidence.starter.numbers import StarterData
from bot.evidence.student.numbers import StudentData
from bot.evidence.week.values import WeekData
from bot.grading.keys import Amount, ChoiceKey, NumberKey, TextKey, to_dict
from bot.words import Words, words
from scheduler.values import Retention
from storage.history.evidence_rows import (
    AskedRecord,
    ClassRecord,
    ClassRecords,
    QuestionRecord,
    ScoreRecord,
    StudentRecord,
    TopicRecord,
)
from storage.values import QuizInfo

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


def class_row() -> ClassRecord:
    return ClassRecord(1, "10B", "10b", "Physics", "Europe/London", "en", "Ms Okafor")


def class_rows(names: list[str] | None = None) -> ClassRecords:
    students = tuple(
        StudentRecord(
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
        TopicRecord(n, name, START + timedelta(days=4 * n, hours=9)) for n, name in enumerate(TOPICS, start=1)
    )
    quiz = QuizInfo(
        1, "Forces", "quiz", datetime(2026, 12, 11, 9, tzinfo=UTC), date(2026, 12, 11), (2, 3, 4, 5, 6)
    )
    lessons = tuple((row.taught_at, row.id) for row in topics if row.taught_at)
    due = {row.id: 2 for row in students}
    return ClassRecords(class_row(), students, topics, (quiz,), lessons, due)


def asked_rows(rows: ClassRecords, seed: int = 7) -> tuple[AskedRecord, ...]:
    """Three questions on four days a week; Elif and Jonas fall silent, Tom becomes slow, Mira comes back."""
    rng = np.random.default_rng(seed)
    found: list[AskedRecord] = []
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
                    AskedRecord(
                        student.id, int(topic), int(topic) * 10 + int(rng.integers(4)), sent,
                        predicted=0.65, chance=0.25, verdict=verdict, on_time=answers and wait < 1.9,
                        answered_at=sent + timedelta(hours=wait) if answers else None,
                        option=int(rng.integers(4)), taken_s=float(rng.uniform(8, 60)), review_id=len(found) + 1,
                    )
                )  # fmt: skip
    return tuple(found)


def snapshot(
    rows: ClassRecords, at: datetime, lift: float = 0.0, seed: int = 3, answers: int = 6
) -> Snapshot:
    """Return retention around .45 to .85 by topic, with Pressure in liquids lowest."""
    rng = np.random.default_rng(seed)
    students, topics = len(rows.students), len(rows.topics)
    by_topic = np.array([0.82, 0.74, 0.66, 0.49, 0.36, 0.58, 0.7, 0.8])[:topics]
    by_student = rng.normal(0, 0.08, students) - 0.2 * np.isin([row.name for row in rows.students], ["Sami"])
    mean = np.clip(
        by_topic[None, :] + by_student[:, None] + rng.normal(0, 0.03, (students, topics)) + lift, 0.03, 0.98
    )
    half = 0.12
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


def forecast_data(rows: ClassRecords | None = None) -> ForecastData:
    """Return a forecast's data: Dilan has no answer, the rest six a topic."""
    rows = rows or class_rows()
    quiz = rows.quizzes[0]
    planned = snapshot(rows, quiz.at, 0.06)
    if len(rows.students) > 3:
        planned.answers[3, :] = 0
    stands, again = snapshot(rows, quiz.at, -0.04), snapshot(rows, quiz.at, 0.13)
    return ForecastData(rows, FRIDAY, quiz.at, quiz.topics, planned, stands, again, quiz)


def choice(number: int, topic: int, prompt: str, right: str, *wrong: str, why: str = "") -> QuestionRecord:
    key = to_dict(ChoiceKey(right, wrong))
    return QuestionRecord(number, topic, "choice", prompt, key, why, 1 / (1 + len(wrong)))


def question_rows() -> tuple[QuestionRecord, ...]:
    """Return one question for most topics of the quiz, of several kinds; Pressure in solids has none."""
    number = to_dict(NumberKey((Amount(98.1, "kPa", 3, -1),)))
    return (
        choice(
            10, 2, "A 270 g block has a volume of 100 cm³. What is its density?", "2.7 g/cm³", "27 g/cm³",
            "0.37 g/cm³", "2.7 kg/cm³", why="Mass divided by volume.",
        ),
        choice(11, 4, "A 2 m lever carries 30 N at its end. What is the moment?", "60 N m", "15 N m", "32 N m"),
        QuestionRecord(
            12, 5, "number", "How large is $\\rho g h$ at 10 m? Give kPa.", number, "1000 × 9.81 × 10", 0.02
        ),
        choice(13, 6, "When does a body float?", "its density is lower", "it is light", "it is hollow"),
        QuestionRecord(14, 6, "text", "Who found it?", to_dict(TextKey(("Archimedes",))), "", 0.02, retired=True),
    )  # fmt: skip


def starter_data(count: int = 4) -> StarterData:
    rows = class_rows()
    quiz = rows.quizzes[0]
    gain = np.tile(np.array([0.01, 0.03, 0.04, 0.06, 0.09, 0.05, 0.02, 0.0]), (len(rows.students), 1))
    return StarterData(
        rows, FRIDAY, FRIDAY + timedelta(days=3), quiz.at, quiz, quiz.topics, gain, snapshot(rows, FRIDAY),
        question_rows(), count=count,
    )  # fmt: skip


def quiz_data(seed: int = 5) -> QuizData:
    """Return scores of all but Zoë by topic: Moments comes out far lower than predicted, and so does Tom."""
    rows = class_rows()
    quiz, rng = rows.quizzes[0], np.random.default_rng(seed)
    before, after = snapshot(rows, quiz.at, 0.1), snapshot(rows, quiz.at, 0.08)
    scores = []
    for student in rows.students[:-1]:
        for topic in quiz.topics:
            off = 0.25 * (topic == 4) + 0.4 * (student.name == "Tom")
            p = float(np.clip(before.retention.mean[student.id - 1, topic - 1] - off, 0.02, 0.98))
            scores.append(ScoreRecord(student.id, topic, float(rng.binomial(4, p)), 4.0))
    return QuizData(rows, FRIDAY, quiz, tuple(scores), before, after)


def student_data(student_id: int = 13) -> StudentData:
    rows = class_rows()
    quiz = rows.quizzes[0]
    gain = np.random.default_rng(1).uniform(0.0, 0.25, (len(rows.students), len(rows.topics)))
    return StudentData(
        rows, student_id, FRIDAY, quiz.at, quiz, snapshot(rows, FRIDAY, 0.15), snapshot(rows, quiz.at), gain
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


@pytest.fixture(scope="session")
def made_forecast() -> ForecastData:
    return forecast_data()


@pytest.fixture(scope="session")
def make_forecast() -> Callable[..., ForecastData]:
    return forecast_data


@pytest.fixture(scope="session")
def make_rows() -> Callable[..., ClassRecords]:
    return class_rows


@pytest.fixture(scope="session")
def make_asked() -> Callable[[ClassRecords], tuple[AskedRecord, ...]]:
    return asked_rows


@pytest.fixture(scope="session")
def make_snapshot() -> Callable[..., Snapshot]:
    return snapshot


@pytest.fixture(scope="session")
def make_starter() -> Callable[..., StarterData]:
    return starter_data


@pytest.fixture(scope="session")
def make_choice() -> Callable[..., QuestionRecord]:
    return choice


@pytest.fixture(scope="session")
def made_questions() -> tuple[QuestionRecord, ...]:
    return question_rows()


@pytest.fixture(scope="session")
def made_quiz() -> QuizData:
    return quiz_data()


@pytest.fixture(scope="session")
def made_student() -> StudentData:
    return student_data()
