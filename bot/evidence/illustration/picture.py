"""The illustration as text and as a picture to show to the class.

Question answered: *What would be left of our own term on the quiz, if we never looked back, and if we looked back
once, twice, three times?* And beneath, where there is data: *what do our own answers say about that?* Each number of
reviews has its own line style, marker, hatch and label besides its colour.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

import numpy as np
from babel.dates import format_skeleton

from bot.chat.port import Attachment
from bot.evidence.illustration.numbers import Illustration, Measured, MeasuredCurve
from bot.evidence.shared.drawing import (
    BLACK,
    BLUE,
    GREEN,
    GREY,
    PALE,
    VERMILLION,
    DrawnPage,
    axes_font,
    picture,
)
from bot.evidence.shared.phrases import about, stacked, title_of
from bot.words import Words
from bot.words.rich import Rich

MARGIN, GAP, EDGE = 14.0, 8.0, 6.0

STYLES = (
    (VERMILLION, ":", "o", "...."),
    (GREY, "--", "s", "////"),
    (BLUE, "-.", "^", "\\\\\\\\"),
    (GREEN, "-", "D", ""),
)
"""Colour, line, marker and hatch for 0, 1, 2 and 3 reviews."""


def illustration_text(shown: Illustration, words: Words) -> Rich:
    """Write what the picture shows, with its figures."""
    lines = [words.say("illustration.lead", title=title_of(shown.school_class)), _levels_line(shown, words)]
    lines += [_measured_line(curve, words) for curve in shown.measured]
    if not shown.measured:
        lines.append(words.say("illustration.not_measured"))
    return stacked(*lines)


def _levels(shown: Illustration) -> tuple[date, tuple[float, ...], bool]:
    """Return day and levels to show: of the quiz, or of the last day of the timetable."""
    if shown.quiz is not None:
        return shown.quiz[0], shown.quiz[1], True
    return shown.days[-1], tuple(float(level) for level in shown.curves[:, -1]), False


def _levels_heading(shown: Illustration, words: Words) -> str:
    day, _, is_quiz = _levels(shown)
    return words.text("illustration.quiz" if is_quiz else "illustration.end", day=words.day(day))


def _levels_line(shown: Illustration, words: Words) -> Rich:
    none, one, two, three = (round(level) for level in _levels(shown)[1])
    levels = words.say("illustration.levels", none=none, one=one, two=two, three=three)
    return Rich.of(_levels_heading(shown, words) + " ") + levels


def _measured_line(curve: MeasuredCurve, words: Words) -> Rich:
    """Write where a measured curve begins and ends: what lies between is in the picture."""
    ends = curve.points if len(curve.points) < 3 else (curve.points[0], curve.points[-1])
    points = [
        words.text(
            "illustration.measured_point", days=_days(point, words), figure=about(words, point.right.estimate)
        )
        for point in ends
    ]
    reviews = words.text(f"illustration.reviews.{'many' if curve.reviews >= 3 else curve.reviews}")
    return words.say("illustration.measured_line", reviews=reviews, points=words.listed(points))


def _days(point: Measured, words: Words) -> str:
    if point.first_day == point.last_day:
        return words.text("illustration.days", n=point.first_day)
    return words.text("illustration.day_range", first=point.first_day, last=point.last_day)


def illustration_picture(shown: Illustration, words: Words) -> Attachment:
    """Draw the illustration; its alternative text is the text with the same figures."""
    sheet = DrawnPage(714.0 if shown.measured else 534.0)
    sheet.text(MARGIN, 26, words.text("illustration.title"), 18, strong=True, room=sheet.width - 2 * MARGIN)
    subtitle = words.text("illustration.subtitle", title=title_of(shown.school_class))
    sheet.text(MARGIN, 45, subtitle, 12, colour=GREY, room=sheet.width - 2 * MARGIN)
    _curves(sheet, shown, words)
    _bars(sheet, 349.0, shown, words)
    if shown.measured:
        _measured(sheet, 519.0, shown, words)
    sheet.text(MARGIN, sheet.height - 12, words.text("illustration.how"), 11, colour=GREY)
    name = f"{shown.school_class.slug}-illustration.png"
    return picture(name, sheet.png(), illustration_text(shown, words).plain)


def _review_names(words: Words) -> list[str]:
    return [words.text(f"illustration.reviews.{place}") for place in range(len(STYLES))]


def _label_room(sheet: DrawnPage, labels: Sequence[str], size: float, *, strong: bool) -> float:
    """Return the room that the longest of some labels takes, with the gap before it. [px]."""
    return max(sheet.text_width(label, size, strong=strong) for label in labels) + GAP


def _axes(sheet: DrawnPage, top: float, height: float, labels: Sequence[str]) -> Any:
    """Return axes that leave the labels of their curves room on the right, however long a language makes them."""
    left, right = 40.0, _label_room(sheet, labels, 12, strong=True) + EDGE
    box = (
        left / sheet.width,
        1.0 - (top + height) / sheet.height,
        (sheet.width - left - right) / sheet.width,
        height / sheet.height,
    )
    axes: Any = sheet.figure.add_axes(box)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    axes.set_ylim(0, 102)
    axes.set_yticks([0, 50, 100])
    axes.grid(axis="y", color=PALE, linewidth=0.7)
    axes.set_axisbelow(True)
    return axes


def _ticks(axes: Any) -> None:
    for label in (*axes.get_xticklabels(), *axes.get_yticklabels()):
        label.set(**axes_font(11))


def _curves(sheet: DrawnPage, shown: Illustration, words: Words) -> None:
    names = _review_names(words)
    axes = _axes(sheet, 86.0, 218.0, names)
    days = [day.toordinal() for day in shown.days]
    for reviews, (colour, line, marker, _) in enumerate(STYLES):
        every = max(1, len(days) // 6)
        axes.plot(
            days, shown.curves[reviews], color=colour, linestyle=line, linewidth=1.6, marker=marker, markersize=4,
            markevery=(reviews * every // 4, every),
        )  # fmt: skip
    for place, level in zip(range(len(STYLES)), _apart([curve[-1] for curve in shown.curves]), strict=True):
        _beside(axes, names[place], level, STYLES[place][0])
    axes.set_xlim(days[0], max(days[-1], days[0] + 1))
    _quiz_marks(sheet, axes, shown, words)
    shown_days = shown.days[:: max(1, len(days) // 4)][:4]
    axes.set_xticks(
        [day.toordinal() for day in shown_days], labels=[_short(day, words) for day in shown_days]
    )
    _ticks(axes)
    sheet.text(MARGIN, 62, words.text("illustration.axis"), 11, colour=GREY)


def _beside(axes: Any, label: str, level: float, colour: str) -> None:
    """Write what a curve is to the right of its end."""
    axes.annotate(
        label, (1.0, level / 102.0), xytext=(GAP * 0.72, 0.0), textcoords="offset points", xycoords="axes fraction",
        va="center", color=colour, annotation_clip=False, **axes_font(12, strong=True),
    )  # fmt: skip


def _quiz_marks(sheet: DrawnPage, axes: Any, shown: Illustration, words: Words) -> None:
    """Draw a line on every quiz day, and its name where the one before leaves room for it."""
    label = words.text("illustration.quiz_mark")
    first, last = axes.get_xlim()
    wide = sheet.text_width(label, 11) + 4.0
    room = wide * (last - first) / (axes.get_position().width * sheet.width)
    free = float("-inf")
    for day in sorted(day.toordinal() for day, _levels_there in shown.on_quiz_days):
        axes.axvline(day, color=BLACK, linewidth=0.9, linestyle=(0, (4, 3)))
        if day - room / 2 >= free:
            axes.annotate(label, (day, 103), ha="center", annotation_clip=False, **axes_font(11))
            free = day + room / 2


def _short(day: date, words: Words) -> str:
    return str(format_skeleton("MMMd", day, locale="en_GB" if words.language == "en" else words.language))


def _apart(levels: list[float], gap: float = 8.0) -> list[float]:
    """Return heights for the labels, moved apart so that none covers another."""
    order = np.argsort(levels)
    placed = [0.0] * len(levels)
    lowest = 2.0
    for place in order:
        placed[place] = max(float(levels[place]), lowest)
        lowest = placed[place] + gap
    # Not above the picture's own 100.
    over = max(0.0, max(placed, default=0.0) - 100.0)
    return [height - over for height in placed]


def _bars(sheet: DrawnPage, top: float, shown: Illustration, words: Words) -> None:
    sheet.line(MARGIN, top - 8, sheet.width - MARGIN, top - 8, PALE)
    sheet.text(MARGIN, top + 12, _levels_heading(shown, words), 14, strong=True)
    names = _review_names(words)
    x = MARGIN + _label_room(sheet, names, 13, strong=False)
    room = sheet.width - x - 50.0
    for reviews, level in enumerate(_levels(shown)[1]):
        y = top + 26 + 30 * reviews
        colour, _, _, hatch = STYLES[reviews]
        sheet.text(MARGIN, y + 15, names[reviews], 13)
        sheet.box(x, y, room * level / 100.0, 20, colour if not hatch else "white", hatch, colour)
        sheet.text(x + room * level / 100.0 + 6, y + 15, str(round(level)), 14, strong=True)


def _measured(sheet: DrawnPage, top: float, shown: Illustration, words: Words) -> None:
    sheet.line(MARGIN, top - 14, sheet.width - MARGIN, top - 14, PALE)
    sheet.text(MARGIN, top + 6, words.text("illustration.measured"), 14, strong=True)
    names = [
        words.text(f"illustration.reviews.{'many' if curve.reviews >= 3 else curve.reviews}")
        for curve in shown.measured
    ]
    axes = _axes(sheet, top + 20, 112.0, names)
    ends: list[float] = []
    for curve in shown.measured:
        colour, line, marker, _ = STYLES[curve.reviews]
        days = np.array([(point.first_day + point.last_day) / 2.0 for point in curve.points])
        days = days * 0.9 * 1.08**curve.reviews
        middle = np.array([100.0 * (point.right.value or 0.0) for point in curve.points])
        low = middle - np.array([100.0 * point.right.low for point in curve.points])
        high = np.array([100.0 * point.right.high for point in curve.points]) - middle
        axes.errorbar(
            days, middle, yerr=np.clip([low, high], 0, None), color=colour, linestyle=line, marker=marker,
            markersize=5, linewidth=1.4, capsize=2,
        )  # fmt: skip
        ends.append(float(middle[-1]))
    for curve, label, level in zip(shown.measured, names, _apart(ends, 16.0), strict=True):
        _beside(axes, label, level, STYLES[curve.reviews][0])
    axes.set_xscale("log")
    axes.set_xlim(0.8, 30)
    axes.set_xticks([1, 2, 5, 10, 20], labels=["1", "2", "5", "10", "20"])
    axes.minorticks_off()
    _ticks(axes)
    sheet.text(
        sheet.width / 2 - 20,
        top + 162,
        words.text("illustration.measured_axis"),
        11,
        colour=GREY,
        side="center",
    )
