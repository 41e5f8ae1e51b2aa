"""Which questions work."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import UTC, datetime, timedelta
from io import BytesIO

import numpy as np
import pytest
from openpyxl import load_workbook

from bot.evidence.questions.findings import QuestionFinding
from bot.evidence.questions.numbers import QuestionStat, QuestionTable, question_table
from bot.evidence.questions.tables import questions_workbook
from bot.evidence.questions.text import correlation, questions_text, verdict
from bot.words import Words, words
from scheduler.statistics.items import Band
from storage.history.evidence_rows import (
    AskedRecord,
    ClassRecord,
    ClassRecords,
    QuestionRecord,
    StudentRecord,
    TopicRecord,
)

NOW = datetime(2026, 12, 4, 12, tzinfo=UTC)
STUDENTS = 30


def _rows() -> ClassRecords:
    people = tuple(StudentRecord(n, f"S{n:02d}", "active", True, NOW) for n in range(STUDENTS))
    group = ClassRecord(1, "10B", "10b", "Physics", "Europe/London", "en")
    return ClassRecords(group, people, (TopicRecord(1, "Density", NOW - timedelta(days=20)),))


def _answer(
    student: int, question: int, right: bool, option: int | None = None, **more: float | None
) -> AskedRecord:
    at = NOW - timedelta(days=10) + timedelta(minutes=student)
    chosen = option if option is not None else (0 if right else 1)
    return AskedRecord(
        student, 1, question, at, verdict="right" if right else "wrong", option=chosen, chance=0.25,
        answered_at=at, predicted=more.get("predicted", 0.6), taken_s=more.get("taken_s", 20.0),
        review_id=student * 100 + question,
    )  # fmt: skip


def _background(questions: Iterable[int], seed: int = 2) -> list[AskedRecord]:
    """Answers of strong students (high numbers) and weak ones to some ordinary questions."""
    rng = np.random.default_rng(seed)
    return [
        _answer(student, question, bool(rng.random() < 0.15 + 0.7 * student / STUDENTS))
        for question in questions
        for student in range(STUDENTS)
    ]


@pytest.fixture
def table(make_choice: Callable[..., QuestionRecord]) -> Callable[[list[AskedRecord]], QuestionTable]:
    questions = [make_choice(n, 1, f"Question {n}?", "right", "slip", "odd", "other") for n in range(1, 9)]

    def made(of_first: list[AskedRecord]) -> QuestionTable:
        return question_table(_rows(), questions, [*of_first, *_background(range(2, 9))], NOW)

    return made


Made = Callable[[list[AskedRecord]], QuestionTable]


def _first(found: QuestionTable) -> QuestionStat:
    return found.questions[0]


def test_a_good_question_has_no_finding(table: Made, english: Words) -> None:
    stat = _first(table([_answer(n, 1, n >= 14) for n in range(STUDENTS)]))
    assert stat.band is Band.VERY_GOOD
    assert stat.findings in ((), (QuestionFinding.IDLE_OPTION,))
    assert stat.discrimination is not None
    assert stat.item_rest is not None
    assert stat.item_rest == pytest.approx(0.65, abs=0.01)
    assert (
        0.3 < stat.discrimination.low < stat.discrimination.mean < stat.item_rest
    )  # pulled towards the others


def test_a_wrong_key_is_noticed_by_who_chooses_what(table: Made, english: Words) -> None:
    found = table([_answer(n, 1, n < 14, option=0 if n < 14 else 2) for n in range(STUDENTS)])
    stat = _first(found)
    assert stat.findings[0] is QuestionFinding.CHECK_KEY
    assert stat.misleading == ("“odd”",)
    assert "tend to choose “odd”" in verdict(stat, english)
    assert 1 in found.avoid


def test_a_question_that_nearly_everybody_has_right_is_too_easy(table: Made) -> None:
    assert QuestionFinding.TOO_EASY in _first(table([_answer(n, 1, True) for n in range(STUDENTS)])).findings


def test_a_question_that_hardly_anybody_has_right_is_too_hard(table: Made) -> None:
    stat = _first(table([_answer(n, 1, n in (28, 29)) for n in range(STUDENTS)]))
    assert stat.findings[0] is QuestionFinding.TOO_HARD


def test_a_question_harder_than_the_predictions_of_the_same_answers_is_noticed(table: Made) -> None:
    stat = _first(table([_answer(n, 1, n >= 22, predicted=0.95) for n in range(STUDENTS)]))
    assert QuestionFinding.HARDER in stat.findings
    assert stat.surprise is not None
    assert stat.surprise < -2


def test_a_class_below_all_its_predictions_blames_no_single_question(
    make_choice: Callable[..., QuestionRecord],
) -> None:
    questions = [make_choice(n, 1, f"Question {n}?", "right", "slip", "odd") for n in range(1, 7)]
    rng = np.random.default_rng(4)
    rows = [
        _answer(student, question, bool(rng.random() < 0.5), predicted=0.9)
        for question in range(1, 7)
        for student in range(STUDENTS)
    ]
    found = question_table(_rows(), questions, rows, NOW)
    assert not any(QuestionFinding.HARDER in row.findings for row in found.questions)


def test_a_question_that_tells_nothing_is_flat_once_there_are_answers_enough_to_say_so(
    table: Made, monkeypatch: pytest.MonkeyPatch
) -> None:
    few = _first(table([_answer(n, 1, n % 2 == 0) for n in range(STUDENTS)]))
    assert QuestionFinding.FLAT not in few.findings  # thirty students: that may be chance
    monkeypatch.setattr("tests.unit.bot.evidence.questions.test_numbers.STUDENTS", 150)
    many = _first(table([_answer(n, 1, n % 2 == 0) for n in range(150)]))
    assert QuestionFinding.FLAT in many.findings
    assert many.band in (Band.POOR, Band.NEGATIVE)


def test_an_option_that_nobody_takes_is_idle(table: Made) -> None:
    stat = _first(table([_answer(n, 1, n >= 14) for n in range(STUDENTS)]))
    assert stat.idle == ("“odd”", "“other”")


def test_under_ten_students_there_is_no_verdict(table: Made, english: Words) -> None:
    stat = _first(table([_answer(n, 1, False) for n in range(9)]))
    assert stat.findings == ()
    assert verdict(stat, english) == "Too few answers to tell (9 of 10 students)."


def test_under_fifteen_students_there_is_no_discrimination(table: Made) -> None:
    stat = _first(table([_answer(n, 1, n > 6) for n in range(14)]))
    assert stat.discrimination is None
    assert stat.band is Band.UNKNOWN


def test_only_the_first_answer_of_a_student_counts_for_facility(table: Made) -> None:
    first = [_answer(n, 1, False) for n in range(12)]
    later = [
        AskedRecord(n, 1, 1, NOW, verdict="right", answered_at=NOW, option=0, review_id=9000 + n)
        for n in range(12)
    ]
    stat = _first(table([*later, *first]))
    assert (stat.facility.count, stat.facility.of, stat.answers) == (0, 12, 24)


def test_guessing_is_taken_off(table: Made) -> None:
    """80 right and 46 wrong with five options give 68.5 (public test booklet); here 12 of 30, 4 options."""
    stat = _first(table([_answer(n, 1, n < 12) for n in range(STUDENTS)]))
    assert stat.corrected == pytest.approx((12 - 18 / 3) / 30)


def test_times_are_median_and_quartiles(table: Made) -> None:
    stat = _first(table([_answer(n, 1, True, taken_s=float(n + 1)) for n in range(5)]))
    assert (stat.seconds_low, stat.seconds, stat.seconds_high) == (2.0, 3.0, 4.0)


def test_random_answers_seldom_accuse_a_key(make_choice: Callable[..., QuestionRecord]) -> None:
    accused = 0
    for seed in range(10):
        rng = np.random.default_rng(seed)
        questions = [
            make_choice(n, 1, f"Question {n}?", "right", "slip", "odd", "other") for n in range(1, 21)
        ]
        rows = [
            _answer(student, question, option == 0, option=int(option))
            for question in range(1, 21)
            for student, option in enumerate(rng.integers(0, 4, STUDENTS))
        ]
        found = question_table(_rows(), questions, rows, NOW)
        accused += sum(QuestionFinding.CHECK_KEY in row.findings for row in found.questions)
    assert accused <= 0.08 * 200


def test_a_question_without_answers_and_one_with_a_damaged_key_are_shown(
    make_choice: Callable[..., QuestionRecord], english: Words
) -> None:
    damaged = QuestionRecord(2, 1, "choice", "Broken?", {"kind": "choice"})
    found = question_table(_rows(), [make_choice(1, 1, "New?", "a", "b", "c"), damaged], [], NOW)
    assert [row.answers for row in found.questions] == [0, 0]
    assert (
        "2 questions in use: 0 to look at, 0 without a finding, 2 with too few"
        in questions_text(found, english).plain
    )


def test_no_questions_at_all_is_said(english: Words) -> None:
    assert (
        "There are no questions yet." in questions_text(question_table(_rows(), [], [], NOW), english).plain
    )


def test_the_workbook_lists_questions_and_options(table: Made, english: Words) -> None:
    found = table([_answer(n, 1, n >= 14) for n in range(STUDENTS)])
    book = load_workbook(BytesIO(questions_workbook(found, english).data))
    assert book.sheetnames == ["Questions", "Options", "Read me"]
    assert book["Questions"].max_row == 9
    assert book["Options"].max_row == 1 + 8 * 4
    assert book["Questions"].freeze_panes == "C2"


def test_a_correlation_is_written_without_its_leading_zero(table: Made, english: Words) -> None:
    stat = _first(table([_answer(n, 1, n % 2 == 0) for n in range(STUDENTS)]))
    assert correlation(stat.discrimination, english).startswith(("−.", "."))
    assert correlation(stat.discrimination, words("de")).startswith(("−0,", "0,"))
    assert correlation(None, english) == "–"
