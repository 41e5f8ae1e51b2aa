"""What reviewing did: numbers, one line, a pair of bars, on every paper."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from bot.evidence.effect.numbers import OF_A_CLASS, ReviewEffect, effect_of
from bot.evidence.effect.picture import bars_height, draw_bars
from bot.evidence.effect.text import NAMED, OWN, effect_line
from bot.evidence.forecast.numbers import forecast
from bot.evidence.forecast.tables import forecast_workbook
from bot.evidence.forecast.text import forecast_text
from bot.evidence.load_effect import class_effect, student_effect
from bot.evidence.shared.drawing import DrawnPage, grey_phone
from bot.evidence.shared.figures import ENOUGH, IntervalEstimate
from bot.evidence.student.drawing import student_text
from bot.evidence.student.letter import LetterData, letter
from bot.evidence.student.letter_html import letters_page
from bot.evidence.student.numbers import student_picture
from bot.evidence.week.numbers import week_report
from bot.evidence.week.tables import week_tables
from bot.evidence.week.text import week_text
from bot.words import LANGUAGES, words
from scheduler.model.memory import ClassMemory
from scheduler.values import Floats, Retention
from tests.unit.bot.evidence import conftest as made

MONDAY = datetime(2026, 9, 7, 9, 0, tzinfo=UTC)
EFFECT = ReviewEffect(
    31, IntervalEstimate(0.64, 0.58, 0.70), IntervalEstimate(0.29, 0.19, 0.39), 400, OF_A_CLASS
)
EARLY = replace(EFFECT, answers=OF_A_CLASS - 1)


def _memory(answers: int) -> ClassMemory:
    memory, rng = ClassMemory(["1", "2", "3", "4"], ["10", "20", "30"]), np.random.default_rng(1)
    for number, topic in enumerate(memory.topics):
        memory.taught(topic, MONDAY + timedelta(days=number))
    for n in range(answers):
        at = MONDAY + timedelta(days=4 + n)
        for student in memory.students:
            memory.answered(student, memory.topics[n % 3], at, bool(rng.random() < 0.8), 0.25)
    return memory


def test_h3_the_line_says_natural_frequencies_first() -> None:
    line = effect_line(EFFECT, words("en"))
    assert line is not None
    assert line.plain == (
        "A typical student knows about 20 of 31 topics today (18–22); "
        "without reviews it would be about 9 (6–12)."
    )


@pytest.mark.parametrize("language", sorted(LANGUAGES))
@pytest.mark.parametrize("who", ["class", OWN, NAMED])
def test_h3_every_line_has_its_figures_in_every_language(language: str, who: str) -> None:
    line = effect_line(EFFECT, words(language), who, "Ida")
    assert line is not None
    assert all(part in line.plain for part in ("20", "31", "18–22", "9", "6–12"))
    assert ("Ida" in line.plain) == (who == NAMED)
    assert "{" not in line.plain


@pytest.mark.parametrize("language", sorted(LANGUAGES))
def test_h3_with_few_answers_no_figure_is_said(language: str) -> None:
    line = effect_line(EARLY, words(language))
    assert line is not None
    assert not any(char.isdigit() for char in line.plain)
    assert effect_line(None, words(language)) is None


def test_h3_the_class_knows_more_than_it_would_without() -> None:
    found = class_effect(_memory(9), {1, 2, 3, 4}, MONDAY + timedelta(days=20))
    assert found is not None
    assert not found.too_early
    assert (found.topics, found.answers) == (3, 36)
    assert found.without.mean < found.known.mean
    for share in (found.known, found.without):
        assert share.low < share.mean < share.high


def test_h3_a_student_needs_as_many_answers_as_any_other_figure() -> None:
    at = MONDAY + timedelta(days=40)
    few, enough = (student_effect(_memory(n), 2, at) for n in (ENOUGH - 1, ENOUGH))
    assert few is not None
    assert few.too_early
    assert enough is not None
    assert not enough.too_early


def test_h3_nothing_is_said_before_the_first_lesson_or_of_nobody() -> None:
    memory = _memory(0)
    assert class_effect(memory, {1, 2}, MONDAY - timedelta(days=1)) is None
    assert class_effect(memory, set(), MONDAY + timedelta(days=9)) is None
    assert class_effect(ClassMemory([], ["10"]), set(), MONDAY) is None


def test_h3_topics_are_those_that_a_student_has_met() -> None:
    """Two students met two topics, one met one: a typical one has met two of three."""
    rows = made.class_rows()
    shot = made.snapshot(rows, MONDAY)
    taught = np.zeros(shot.taught.shape, bool)
    taught[:2, :2], taught[2, 0] = True, True
    shot = replace(shot, taught=taught)
    bare = replace(shot, retention=Retention(*(0.5 * one for one in _parts(shot.retention))))
    found = effect_of(shot, bare, shot.students)
    assert found is not None
    assert found.topics == 2
    assert found.without.mean == pytest.approx(0.5 * found.known.mean)


def _parts(retention: Retention) -> tuple[Floats, ...]:
    return retention.mean, retention.low, retention.high


@pytest.mark.parametrize("language", sorted(LANGUAGES))
def test_h3_every_paper_carries_the_line(language: str) -> None:
    spoken = words(language)
    of_class, own = effect_line(EFFECT, spoken), effect_line(EFFECT, spoken, OWN)
    assert of_class is not None
    assert own is not None
    report = week_report(replace(made.week_data(), effect=EFFECT))
    ahead = forecast(replace(made.forecast_data(), effect=EFFECT))
    mine = student_picture(replace(made.student_data(), effect=EFFECT))
    assert of_class.plain in week_text(report, spoken).plain
    assert of_class.plain in forecast_text(ahead, spoken).plain
    assert of_class.plain in forecast_workbook(ahead, spoken).alt
    assert own.plain in student_text(mine, spoken).plain


@pytest.mark.parametrize("language", sorted(LANGUAGES))
def test_h3_a_letter_has_the_line_and_its_bars(language: str) -> None:
    spoken, rows = words(language), made.class_rows()
    student = rows.students[0]
    data = LetterData(rows, student.id, made.week_data().generated_at, None, effect=EFFECT)
    page = letters_page((letter(data),), spoken)
    line = effect_line(EFFECT, spoken, NAMED, student.name)
    assert line is not None
    assert line.plain in page
    assert page.count("<svg") == 2
    early = letters_page((letter(replace(data, effect=EARLY)),), spoken)
    assert spoken.text("effect.too_early") in early
    assert "<svg" not in early


def test_h3_the_workbook_has_both_figures_and_none_too_early() -> None:
    def cells(effect: ReviewEffect | None) -> dict[str, object]:
        table = week_tables(week_report(replace(made.week_data(), effect=effect)), words("en"))[2]
        return dict(zip((column.key for column in table.columns), table.rows[0], strict=True))

    assert cells(EFFECT)["known_now"] == pytest.approx(0.64)
    assert cells(EFFECT)["without_reviews_high"] == pytest.approx(0.39)
    assert cells(EARLY)["known_now"] is cells(None)["without_reviews"] is None


def test_h3_the_bars_differ_without_colour() -> None:
    """Read back from the grey picture: with reviews is filled dark, without is light."""
    sheet = DrawnPage(bars_height(EFFECT) + 8)
    draw_bars(sheet, 4, EFFECT, words("en"))
    grey = _grey(grey_phone(sheet.png()))
    label = max(
        sheet.text_width(words("en").text(f"effect.picture.{key}"), 12) for key in ("known", "without")
    )
    x = round(14 + label + 8 + 12)
    known, without = (grey[round(4 + 24 + 20 * row + 9 - 4), x : x + 20].mean() for row in (0, 1))
    assert known < 140 < without


def _grey(data: bytes) -> Floats:

    return np.asarray(Image.open(BytesIO(data)).convert("L"), float)
