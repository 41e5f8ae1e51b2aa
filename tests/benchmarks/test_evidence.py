"""How long a teacher waits: a class of 30 with a term of answers, numbers to picture and workbook.

The baseline is matplotlib's own drawing of as many plain texts and lines as the picture holds, in the same run, so
that a busy machine slows both.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from time import perf_counter

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from bot.evidence.questions.numbers import question_table
from bot.evidence.shared.snapshot import Snapshot
from bot.evidence.week.numbers import week_report
from bot.evidence.week.picture import week_picture
from bot.evidence.week.tables import week_workbook
from bot.evidence.week.text import week_text
from bot.evidence.week.values import WeekData
from bot.grading.keys import ChoiceKey, to_dict
from bot.words import words
from scheduler.values import Retention
from storage.history.evidence_rows import (
    AskedRecord,
    ClassRecord,
    ClassRecords,
    QuestionRecord,
    StudentRecord,
    TopicRecord,
)
from storage.values import QuizInfo

MONDAY = datetime(2026, 11, 30, tzinfo=UTC)
STUDENTS, TOPICS, WEEKS = 30, 60, 12
ENGLISH = words("en")


@pytest.fixture(scope="module")
def term() -> tuple[WeekData, tuple[QuestionRecord, ...]]:
    rng = np.random.default_rng(1)
    start = MONDAY - timedelta(weeks=WEEKS - 1)
    group = ClassRecord(1, "10B", "10b", "Physics", "Europe/London", "en")
    people = tuple(StudentRecord(n, f"Student {n:02d}", "active", True, start) for n in range(STUDENTS))
    topics = tuple(TopicRecord(n, f"Topic {n:02d}", start + timedelta(days=n)) for n in range(TOPICS))
    quiz = QuizInfo(
        1, "", "quiz", MONDAY + timedelta(days=11), date(2026, 12, 11), tuple(range(TOPICS - 12, TOPICS))
    )
    rows = ClassRecords(group, people, topics, (quiz,))
    asked: list[AskedRecord] = []
    for day in range(WEEKS * 7 - 3):
        at = start + timedelta(days=day, hours=18)
        for student in range(STUDENTS if at.weekday() < 5 else 0):
            for topic in rng.integers(0, TOPICS, 3):
                right = bool(rng.random() < 0.7)
                asked.append(
                    AskedRecord(
                        student, int(topic), 4 * int(topic) + int(rng.integers(4)), at, predicted=0.7,
                        verdict="right" if right else "wrong", answered_at=at + timedelta(hours=1), on_time=True,
                        option=0 if right else 1, taken_s=20.0, review_id=len(asked),
                    )
                )  # fmt: skip
    mean = rng.uniform(0.2, 0.9, (STUDENTS, TOPICS))
    retention = Retention(mean, mean - 0.1, mean + 0.1)
    shape = (STUDENTS, TOPICS)
    made = [
        Snapshot(
            at,
            tuple(range(STUDENTS)),
            tuple(range(TOPICS)),
            retention,
            np.full(shape, 3),
            np.ones(shape, bool),
        )
        for at in (MONDAY + timedelta(days=4), quiz.at)
    ]
    key = to_dict(ChoiceKey("right", ("slip", "odd", "other")))
    questions = tuple(
        QuestionRecord(4 * t + n, t, "choice", f"{t}.{n}?", key) for t in range(TOPICS) for n in range(4)
    )
    data = WeekData(rows, 2026, 49, MONDAY + timedelta(days=4), tuple(asked), made[0], quiz, made[1])
    return data, questions


def _baseline_s() -> float:
    start = perf_counter()
    figure = Figure(figsize=(3.9, 6.5), dpi=200)
    for number in range(40):
        figure.text(0.1, number / 40, f"Some words {number}", fontsize=9)
    FigureCanvasAgg(figure).draw()
    return perf_counter() - start


def test_a_weekly_report_of_a_class_of_30_takes_about_a_second(
    term: tuple[WeekData, tuple[QuestionRecord, ...]], capsys: pytest.CaptureFixture[str]
) -> None:
    data, _ = term
    week_picture(week_report(data), ENGLISH)  # fonts are found once in a process
    _baseline_s()
    start = perf_counter()
    report = week_report(data)
    numbers_s = perf_counter() - start
    week_text(report, ENGLISH)
    week_picture(report, ENGLISH)
    week_workbook(report, ENGLISH)
    whole_s, baseline_s = perf_counter() - start, _baseline_s()
    with capsys.disabled():
        print(
            f"\nweekly report, 30 students, {len(data.asked)} questions: {whole_s:.2f} s "
            f"(numbers {numbers_s:.2f} s), {whole_s / baseline_s:.1f} times a plain figure"
        )
    assert whole_s < 25 * baseline_s


def test_question_statistics_of_a_term_take_about_a_second(
    term: tuple[WeekData, tuple[QuestionRecord, ...]], capsys: pytest.CaptureFixture[str]
) -> None:
    data, questions = term
    start = perf_counter()
    table = question_table(data.rows, questions, data.asked, data.generated_at)
    whole_s, baseline_s = perf_counter() - start, _baseline_s()
    with capsys.disabled():
        print(
            f"\nquestion statistics, {len(questions)} questions: {whole_s:.2f} s, "
            f"{whole_s / baseline_s:.1f} times a plain figure"
        )
    assert len(table.questions) == 240
    assert whole_s < 25 * baseline_s
