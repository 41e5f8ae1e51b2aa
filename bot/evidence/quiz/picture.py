"""A quiz against its predictions, as one picture for a phone.

Question answered: *Could I trust the predictions, and where were they off?* Above: points on the dashed line were
predicted exactly, points beneath it came out worse than predicted; the bar says how sure the result is. Beneath:
for each topic the prediction as a ring and the result filled, with the distance in points.
"""

from __future__ import annotations

from typing import Any

from bot.chat.port import Attachment
from bot.evidence.quiz.numbers import CalibrationPoint, Compared, Fit, QuizComparison
from bot.evidence.quiz.text import quiz_name, quiz_text, signed
from bot.evidence.shared.drawing import (
    BLACK,
    BLUE,
    GREY,
    PALE,
    VERMILLION,
    DrawnPage,
    Scale,
    axes_font,
    picture,
)
from bot.evidence.shared.phrases import bounds, rounded, title_of
from bot.words import Words

MARGIN, ROW, TOPICS = 14.0, 38.0, 8
_GROUND = {"facecolor": "white", "edgecolor": "none", "pad": 0.8}
"""Behind figures that the dashed line would cross."""

PLOT_TOP, PLOT_SIZE = 98.0, 250.0


def quiz_picture(comparison: QuizComparison, words: Words) -> Attachment:
    """Draw the comparison; its alternative text is the comparison's text."""
    topics = _furthest_off(comparison)
    below = PLOT_TOP + PLOT_SIZE + 52
    sheet = DrawnPage(below + (52 + ROW * len(topics) + 22 if topics else 0) + 30)
    sheet.text(MARGIN, 26, words.text("quiz.picture.title"), 18, strong=True)
    subtitle = words.text(
        "quiz.picture.subtitle",
        title=title_of(comparison.school_class),
        what=quiz_name(comparison, words),
        n=len(comparison.students),
    )
    sheet.text(MARGIN, 45, subtitle, 12, colour=GREY, room=sheet.width - 2 * MARGIN)
    _verdict(sheet, comparison, words)
    _calibration(sheet, comparison, words)
    if topics:
        _topics(sheet, below, topics, words)
    sheet.text(MARGIN, sheet.height - 12, words.text("quiz.picture.how"), 11, colour=GREY)
    name = f"{comparison.school_class.slug}-quiz-{comparison.quiz.day.isoformat()}.png"
    return picture(name, sheet.png(), quiz_text(comparison, words).plain)


def _verdict(sheet: DrawnPage, comparison: QuizComparison, words: Words) -> None:
    """Write the answer before the details: the class's mean, predicted and actual, and whether that is off."""
    line = words.text(
        "quiz.picture.overall",
        predicted=f"{rounded(comparison.predicted)}\u00a0% ({bounds(comparison.predicted)})",
        actual=f"{rounded(comparison.actual)}\u00a0%",
    )
    sheet.text(MARGIN, 68, line, 13, strong=True, room=sheet.width - 2 * MARGIN)
    fit = words.text(f"quiz.fit.{comparison.fit.name.lower()}")
    sheet.text(MARGIN, 85, fit, 12, room=sheet.width - 2 * MARGIN)


def _furthest_off(comparison: QuizComparison) -> list[Compared]:
    """Return the topics shown: those furthest off, in the order taught."""
    chosen = sorted(comparison.topics, key=lambda row: -abs(row.difference))[:TOPICS]
    return [row for row in comparison.topics if row in chosen]


def _calibration(sheet: DrawnPage, comparison: QuizComparison, words: Words) -> None:
    left = 52.0
    width = sheet.width - left - 24
    axes: Any = sheet.figure.add_axes(
        (
            left / sheet.width,
            1 - (PLOT_TOP + PLOT_SIZE) / sheet.height,
            width / sheet.width,
            PLOT_SIZE / sheet.height,
        )
    )
    axes.set(xlim=(0, 100), ylim=(0, 100), xticks=[0, 25, 50, 75, 100], yticks=[0, 25, 50, 75, 100])
    axes.grid(color=PALE, linewidth=0.7)
    axes.set_axisbelow(True)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    axes.plot([0, 100], [0, 100], color=BLACK, linestyle="--", linewidth=1.0)
    axes.annotate(words.text("quiz.picture.exact"), _free(comparison), rotation=36, **axes_font(11))
    for point in comparison.points:
        middle = 100 * point.actual.mean
        spread = [[middle - 100 * point.actual.low], [100 * point.actual.high - middle]]
        axes.errorbar(
            100 * point.predicted, middle, yerr=spread, color=BLUE, marker="s", markersize=6, capsize=3,
            linewidth=1.6,
        )  # fmt: skip
        _count(axes, point)
    if not comparison.points:
        axes.annotate(words.text("quiz.picture.few"), (50, 50), ha="center", **axes_font(13))
    for label in (*axes.get_xticklabels(), *axes.get_yticklabels()):
        label.set(**axes_font(11))
    axes.set_xlabel(words.text("quiz.picture.predicted"), **axes_font(12))
    axes.set_ylabel(words.text("quiz.picture.actual"), **axes_font(12))


def _count(axes: Any, point: CalibrationPoint) -> None:
    """Write how many scores are behind a point: beneath its bar, or above where the axis is too near."""
    above = point.actual.low < 0.1
    y = 100 * point.actual.high + 2.5 if above else 100 * point.actual.low - 2.5
    axes.annotate(
        str(point.pairs),
        (100 * point.predicted, y),
        ha="center",
        va="bottom" if above else "top",
        bbox=_GROUND,
        **axes_font(11),
    )


def _free(comparison: QuizComparison) -> tuple[float, float]:
    """Return where beside the dashed line the word that explains it meets no point: near an end of the line."""
    lowest = min((point.predicted for point in comparison.points), default=1.0)
    return (4.0, 12.0) if lowest > 0.25 else (78.0, 86.0)


def _topics(sheet: DrawnPage, y: float, topics: list[Compared], words: Words) -> None:
    sheet.line(MARGIN, y + 4, sheet.width - MARGIN, y + 4, PALE)
    sheet.text(MARGIN, y + 23, words.text("quiz.picture.topics"), 14, strong=True)
    sheet.text(
        MARGIN, y + 40, words.text("quiz.picture.legend"), 11, colour=GREY, room=sheet.width - 2 * MARGIN
    )
    y += 48
    scale = sheet.scale(MARGIN + 8, sheet.width - 2 * MARGIN - 16, y + 2, y + ROW * len(topics))
    for row in topics:
        _topic(sheet, scale, y, row, words)
        y += ROW


def _topic(sheet: DrawnPage, scale: Scale, y: float, row: Compared, words: Words) -> None:
    off = row.fit is not Fit.AS_PREDICTED
    figure = signed(row.difference)
    if off:
        figure = f"{figure} {words.text(f'fit.{row.fit.name.lower()}')}"
    width = sheet.text_width(figure, 12, strong=off)
    name = sheet.cut(row.name, sheet.width - 2 * MARGIN - width - 12, 13, strong=off)
    sheet.box(MARGIN - 2, y + 4, sheet.text_width(name, 13, strong=off) + 5, 16, "white")
    sheet.box(sheet.width - MARGIN - width - 3, y + 4, width + 5, 16, "white")
    sheet.text(MARGIN, y + 17, name, 13, strong=off)
    sheet.text(sheet.width - MARGIN, y + 17, figure, 12, strong=off, side="right")
    scale.estimate(
        y + 28, row.actual, "disc" if row.fit is Fit.LOWER else "square", VERMILLION if off else BLUE
    )
    sheet.mark(scale.at(row.predicted.mean), y + 28, "ring", BLACK, 9)
