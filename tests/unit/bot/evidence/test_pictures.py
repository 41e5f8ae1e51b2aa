"""Every picture in every language as it is drawn: each text lies whole on the page and apart from the others.

The boxes are those of the finished figure, so what axes write (ticks, labels of curves) is measured too. Where a
picture is read in a chat it is looked at as wide as a phone shows it, and as the narrowest client does (290 px).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from html import escape
from itertools import combinations

import numpy as np
import pytest
from matplotlib.text import Text

from bot.chat.port import Attachment
from bot.evidence.effect.numbers import ReviewEffect
from bot.evidence.forecast.numbers import forecast
from bot.evidence.forecast.picture import forecast_picture
from bot.evidence.illustration.numbers import Exposure, illustration
from bot.evidence.illustration.picture import illustration_picture
from bot.evidence.illustration.simulation_picture import compared, simulation_picture
from bot.evidence.quiz.numbers import quiz_comparison
from bot.evidence.quiz.picture import quiz_picture
from bot.evidence.shared.drawing import PHONE, DrawnPage
from bot.evidence.shared.figures import IntervalEstimate
from bot.evidence.starter.numbers import starter
from bot.evidence.starter.picture import starter_pictures
from bot.evidence.student.drawing import student_picture_png
from bot.evidence.student.letter import Letter, LetterTopic
from bot.evidence.student.letter_html import letters_page
from bot.evidence.student.numbers import student_picture
from bot.evidence.week.numbers import week_report
from bot.evidence.week.picture import week_picture
from bot.words import LANGUAGES, Words, words
from storage.history.evidence_rows import ClassRecord
from tests.unit.bot.evidence import conftest as made

GROUP = ClassRecord(1, "10B", "10b", "Physics", "Europe/London", "en")
MONDAY = date(2026, 9, 7)
SMALLEST = {PHONE: 11.0, 290: 8.0}
"""Least size of letters at a width of the picture: 11 px at arm's length, 8 px held closer. Common practice, no
source. [px]"""


@dataclass(frozen=True)
class Box:
    """A text as drawn, with its ink. [px of the page, y downward]"""

    text: str
    size: float
    left: float
    top: float
    right: float
    bottom: float


@dataclass
class Page:
    """A drawn page."""

    width: float
    height: float
    boxes: list[Box]


@pytest.fixture
def pages(monkeypatch: pytest.MonkeyPatch) -> list[Page]:
    """Measure every text of every page when it is finished."""
    found: list[Page] = []
    real = DrawnPage.png

    def png(self: DrawnPage) -> bytes:
        data = real(self)
        found.append(Page(self.width, self.height, _boxes(self)))
        return data

    monkeypatch.setattr(DrawnPage, "png", png)
    return found


def _boxes(sheet: DrawnPage) -> list[Box]:
    renderer, boxes = sheet.canvas.get_renderer(), []
    per_px = sheet.figure.dpi / 100.0
    for text in sheet.figure.findobj(Text):
        assert isinstance(text, Text)
        if not text.get_visible() or not text.get_text().strip() or _tick_outside(text):
            continue
        ink = text.get_window_extent(renderer)
        boxes.append(
            Box(
                text.get_text(), float(text.get_fontsize()) / 0.72, ink.x0 / per_px, sheet.height - ink.y1 / per_px,
                ink.x1 / per_px, sheet.height - ink.y0 / per_px,
            )
        )  # fmt: skip
    return boxes


def _tick_outside(text: Text) -> bool:
    """Whether it is the label of a tick that lies outside the limits: matplotlib keeps it, and draws it not."""
    axes = text.axes
    if axes is None or text not in (*axes.get_xticklabels(), *axes.get_yticklabels()):
        return False
    x, y = text.get_position()
    low, high = axes.get_xlim() if text in axes.get_xticklabels() else axes.get_ylim()
    return not low <= (x if text in axes.get_xticklabels() else y) <= high


def check(pages: Sequence[Page], smallest: float) -> None:
    """Nothing off the page, nothing on each other, nothing too small, none of our own words cut."""
    assert pages
    for page in pages:
        off = [
            box.text
            for box in page.boxes
            if box.left < -0.5
            or box.top < -0.5
            or box.right > page.width + 0.5
            or box.bottom > page.height + 0.5
        ]
        assert off == []
        covered = [
            (one.text, two.text)
            for one, two in combinations(page.boxes, 2)
            if min(one.right, two.right) - max(one.left, two.left) > 1.0
            and min(one.bottom, two.bottom) - max(one.top, two.top)
            > 2.5  # the height of a line is not all ink
        ]
        assert covered == []
        assert [box.text for box in page.boxes if "…" in box.text] == []
        assert min(box.size for box in page.boxes) >= smallest - 1e-6


def _illustration(spoken: Words, *, measured: bool = True, quizzes: int = 2) -> Attachment:
    lessons = [(MONDAY + timedelta(days=4 * n), n) for n in range(12)]
    tests = [(MONDAY + timedelta(days=20 + 20 * n), tuple(range(4))) for n in range(quizzes)]
    rng = np.random.default_rng(2)
    exposures = [
        Exposure(student, int(days), reviews, bool(rng.random() < 0.9 - 0.15 * (3 - reviews)))
        for student in range(12)
        for reviews in range(4)
        for days in (1, 3, 5, 10, 20, 25)
        for _ in range(2)
    ]
    shown = illustration(
        GROUP, lessons, tests, exposures if measured else (), today=MONDAY + timedelta(days=10)
    )
    return illustration_picture(shown, spoken)


def _crowded(spoken: Words) -> Attachment:
    """Two quizzes on neighbouring days, in a short timetable."""
    lessons = [(MONDAY, 1), (MONDAY + timedelta(days=1), 2)]
    tests = [(MONDAY + timedelta(days=12 + n), (1, 2)) for n in range(3)]
    return illustration_picture(illustration(GROUP, lessons, tests), spoken)


def _simulation(spoken: Words) -> Attachment:
    runs = {
        "personal": [0.61, 0.7, 0.66], "fixed": [0.58, 0.68, 0.6], "threshold": [0.5, 0.6, 0.58],
        "expanding": [0.1, 0.9, 0.3], "oracle": [0.66, 0.74, 0.7],
    }  # fmt: skip
    measures = ("Known at quizzes and exam", "Pairs below one half at a quiz")
    return simulation_picture([row for name in measures for row in compared(name, runs)], spoken)


SURE, LOW = IntervalEstimate(0.64, 0.55, 0.99), IntervalEstimate(0.02, 0.0, 0.12)
EFFECT = ReviewEffect(31, SURE, LOW, 400, 20)
EARLY = replace(EFFECT, answers=3)


def _with_effect(spoken: Words, effect: ReviewEffect) -> None:
    week_picture(week_report(replace(made.week_data(), effect=effect)), spoken)
    forecast_picture(forecast(replace(made.forecast_data(), effect=effect)), spoken)
    student_picture_png(student_picture(replace(made.student_data(), effect=effect)), spoken)


PHONES: dict[str, Callable[[Words], object]] = {
    "week": lambda spoken: week_picture(week_report(made.week_data()), spoken),
    "forecast": lambda spoken: forecast_picture(forecast(made.forecast_data()), spoken),
    "quiz": lambda spoken: quiz_picture(quiz_comparison(made.quiz_data()), spoken),
    "student": lambda spoken: student_picture_png(student_picture(made.student_data()), spoken),
    "with and without reviews": lambda spoken: _with_effect(spoken, EFFECT),
    "with and without reviews, too early": lambda spoken: _with_effect(spoken, EARLY),
    "illustration": _illustration,
    "illustration without answers": lambda spoken: _illustration(spoken, measured=False),
    "illustration without a quiz": lambda spoken: _illustration(spoken, quizzes=0),
    "illustration with quizzes side by side": _crowded,
    "simulation": _simulation,
}


@pytest.mark.parametrize("language", sorted(LANGUAGES))
@pytest.mark.parametrize("drawn", PHONES)
def test_f30_every_picture_for_a_chat_in_every_language(pages: list[Page], drawn: str, language: str) -> None:
    PHONES[drawn](words(language))
    for width, smallest in SMALLEST.items():
        check(pages, smallest * PHONE / width)


@pytest.mark.parametrize("language", sorted(LANGUAGES))
@pytest.mark.parametrize("long_texts", [False, True])
def test_f30_the_starter_in_every_language(pages: list[Page], language: str, long_texts: bool) -> None:
    data = made.starter_data(5)
    if long_texts:
        data = replace(
            data,
            questions=tuple(replace(row, prompt=f"{row.prompt} {'Say why. ' * 8}") for row in data.questions),
        )
    starter_pictures(starter(data), words(language))
    check(pages, 20.0)  # read from the last row of a classroom; common practice, no source


# ---------------------------------------------------------------- letters


LONG = "Bartholomew-Alexander van der Heijden-Ravenscroft, genannt Bartholomäus zu Ravenscroft-Hohenfeldt"


def _longest() -> Letter:
    """Return a letter with everything that a letter can hold, all names as long as they may be."""
    topics = [
        LetterTopic(
            f"{n} {'Wärmeleitung in festen Körpern und Gasen ' * 4}"[:200],
            IntervalEstimate(0.6, 0.4, 0.8),
            3,
            5,
        )
        for n in range(24)
    ]
    group = replace(GROUP, name="10B" + "x" * 77, subject="Physics" * 11, teacher="Okafor-" * 11)
    scores = tuple((MONDAY + timedelta(days=n), f"Quiz {n} {LONG}", 3.5, 20.0) for n in range(5))
    return Letter(
        group, LONG[:80], MONDAY, MONDAY, 60, 50, 40, 3, (4, 5), scores, tuple(topics[:8]), tuple(topics[:8]),
        tuple(topics[8:16]), tuple(row.name for row in topics[16:]), EFFECT,
    )  # fmt: skip


@pytest.mark.parametrize("language", sorted(LANGUAGES))
def test_f30_a_letter_with_the_longest_names_hides_nothing(language: str) -> None:
    spoken = words(language)
    page = letters_page((_longest(),), spoken)
    style, body = page.split("</style>")
    assert not re.search(r"overflow:\s*hidden|text-overflow|max-height|[^-]height:\s*2\d\dmm", style)
    headings = ("done", "solid", "between", "work", "read", "notes")
    assert re.findall(r"<h2>(.*?)</h2>", body) == [escape(spoken.text(f"letter.{name}")) for name in headings]
    # What is not listed is counted: of eight topics under each of three headings four, of eight unknown ones one, of
    # five scores two.
    assert body.count(escape(spoken.text("letter.more", n=4))) == 3
    assert body.count(escape(spoken.text("letter.more", n=1))) == 1
    assert escape(spoken.text("letter.done.earlier", n=2)) in body
    assert body.count('<div class="lines">') == 3


def test_f30_the_printed_letter_has_every_section_whatever_the_names() -> None:
    """Printed by the optional library: every heading lies inside a page."""
    library = pytest.importorskip("weasyprint", reason="the optional extra pdf is not installed")
    spoken = words("de")
    document = library.HTML(string=letters_page((_longest(), _longest()), spoken)).render()
    seen: list[str] = []
    for printed in document.pages:
        for box in printed._page_box.descendants():
            if box.element_tag == "h2" and getattr(box, "position_y", None) is not None:
                assert box.position_y + box.height <= printed.height
                seen.append(box.element.text or "")
    for name in ("done", "solid", "between", "work", "read", "notes"):
        assert seen.count(spoken.text(f"letter.{name}")) >= 2
