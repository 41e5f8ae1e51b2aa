"""Every picture for a phone: its words lie on the page, none covers another, and they say what the picture is for."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Any

import pytest

from bot.evidence.forecast.numbers import ForecastData, forecast
from bot.evidence.forecast.picture import forecast_picture
from bot.evidence.quiz.numbers import QuizData, quiz_comparison
from bot.evidence.quiz.picture import quiz_picture
from bot.evidence.shared.drawing import DrawnPage
from bot.evidence.student.drawing import student_picture_png
from bot.evidence.student.numbers import StudentData, student_picture
from bot.evidence.week.numbers import week_report
from bot.evidence.week.picture import week_picture
from bot.evidence.week.values import Note, Reason, WeekData
from bot.words import LANGUAGES, Words, words
from storage.history.evidence_rows import ClassRecords

SMALLEST = 11.0
"""Size below which text cannot be read on a phone held at arm's length. Common practice, no source. [px]"""


@dataclass(frozen=True)
class Written:
    """A text on a sheet with the box it takes. [px]"""

    text: str
    size: float
    left: float
    right: float
    top: float
    bottom: float

    def covers(self, other: Written) -> bool:
        """Whether two texts lie on each other, a pixel aside."""
        wide = min(self.right, other.right) - max(self.left, other.left)
        high = min(self.bottom, other.bottom) - max(self.top, other.top)
        return wide > 1.0 and high > 1.0


@pytest.fixture
def written(monkeypatch: pytest.MonkeyPatch) -> list[Written]:
    """Note every text that is written on a sheet, with the sheet's own edges checked at once."""
    found: list[Written] = []
    real = DrawnPage.text

    def text(self: DrawnPage, x: float, y: float, text: str, size: float = 13.0, **more: Any) -> float:
        width = real(self, x, y, text, size, **more)
        left = {"left": x, "center": x - width / 2, "right": x - width}[more.get("side", "left")]
        found.append(Written(text, size, left, left + width, y - 0.75 * size, y + 0.2 * size))
        assert left >= 0.0, f"{text} begins left of the page"
        assert left + width <= self.width, f"{text} ends right of the page"
        assert y - 0.75 * size >= 0.0, f"{text} lies above the page"
        assert y + 0.2 * size <= self.height, f"{text} lies below the page"
        return width

    monkeypatch.setattr(DrawnPage, "text", text)
    return found


@pytest.fixture(params=sorted(LANGUAGES))
def spoken(request: pytest.FixtureRequest) -> Words:
    """Speak each language in turn: some are longer than others."""
    return words(request.param)


def check(written: Sequence[Written]) -> None:
    covered = [(one.text, two.text) for one, two in combinations(written, 2) if one.covers(two)]
    assert covered == []
    assert min(one.size for one in written) >= SMALLEST


LONG = "Bartholomew-Alexander van der Heijden-Ravenscroft"


def crowded(week: WeekData) -> WeekData:
    """Give everybody and every topic a long name."""
    return replace(week, rows=long_names(week.rows))


def long_names(rows: ClassRecords) -> ClassRecords:
    return replace(
        rows,
        students=tuple(replace(row, name=f"{LONG} {row.id}") for row in rows.students),
        topics=tuple(
            replace(row, name=f"{row.name}, its causes, effects and uses in the home") for row in rows.topics
        ),
    )


def test_the_week(written: list[Written], made_week: WeekData, spoken: Words) -> None:
    week_picture(week_report(made_week), spoken)
    check(written)


def test_the_week_with_long_names(written: list[Written], made_week: WeekData, spoken: Words) -> None:
    week_picture(week_report(crowded(made_week)), spoken)
    check(written)


def test_everybody_to_talk_to_is_named_in_the_picture_silent_ones_first(
    written: list[Written], made_week: WeekData, english: Words
) -> None:
    report = week_report(made_week)
    reasons = [Reason.BELOW_HALF, Reason.SLOWER, Reason.UNANSWERED]
    notes = tuple(Note(row.id, row.name, reasons[row.id % 3], 0.3, 0.2) for row in report.students[:14])
    week_picture(replace(report, talk_to=notes), english)
    check(written)
    said = " ".join(one.text for one in written)
    assert all(note.name in said for note in notes)
    names = {note.name for note in notes}
    rows = [one.text for one in written if one.text in names and one.size == 14]
    silent = [note.name for note in notes if note.reason is Reason.UNANSWERED]
    assert rows[: len(silent)] == silent
    assert len(rows) == 6


def test_the_forecast(written: list[Written], made_forecast: ForecastData, english: Words) -> None:
    made = forecast(made_forecast)
    forecast_picture(made, english)
    check(written)
    (again,) = [one.text for one in written if one.text.startswith("Teach again: ")]
    named = [row.name for row in made.teach_again]
    assert again == f"Teach again: {', '.join(named)}"
    topics = {row.name for row in made.topics}
    assert [one.text for one in written if one.text in topics][: len(named)] == named


def test_the_forecast_with_long_names(
    written: list[Written], make_forecast: Callable[..., ForecastData], made_week: WeekData, spoken: Words
) -> None:
    forecast_picture(forecast(make_forecast(long_names(made_week.rows))), spoken)
    check(written)


def test_the_forecast_says_when_teaching_again_gains_little(
    written: list[Written], made_forecast: ForecastData, english: Words
) -> None:
    forecast_picture(replace(forecast(made_forecast), teach_again=()), english)
    check(written)
    assert any(one.text == "Teach again: nothing would gain much" for one in written)


def test_a_quiz(written: list[Written], made_quiz: QuizData, english: Words) -> None:
    quiz_picture(quiz_comparison(made_quiz), english)
    check(written)
    said = [one.text for one in written]
    assert "That is lower than predicted." in said
    assert "ring: predicted · filled: actual · figure: points between" in said


def test_a_students_picture(written: list[Written], made_student: StudentData, spoken: Words) -> None:
    student_picture_png(student_picture(made_student), spoken)
    check(written)


def test_a_forecast_and_a_quiz_in_every_language(
    written: list[Written], made_forecast: ForecastData, made_quiz: QuizData, spoken: Words
) -> None:
    forecast_picture(forecast(made_forecast), spoken)
    check(written)
    written.clear()
    quiz_picture(quiz_comparison(made_quiz), spoken)
    check(written)
