"""The weekly report as one picture for a phone.

Question answered, from above downward, within ten seconds: *Who answered? Whom should I talk to? What should I
teach again before the quiz, and how sure is that?* A full disc whose bar lies left of half: surely below; an
open ring whose bar crosses half: perhaps; a cross: too few answers to tell.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from bot.chat.port import Attachment
from bot.evidence.effect.picture import bars_height, draw_bars
from bot.evidence.shared.drawing import (
    BLACK,
    BLUE,
    GREY,
    PALE,
    PHONE,
    SKY,
    VERMILLION,
    DrawnPage,
    Scale,
    Shape,
    picture,
)
from bot.evidence.shared.figures import ENOUGH, IntervalEstimate, Standing
from bot.evidence.shared.phrases import bounds, moment, percent, rounded, span, sureness, title_of
from bot.evidence.week.text import note_reason, quiz_name, week_text
from bot.evidence.week.values import Note, Reason, TopicWeek, WeekReport
from bot.words import Words

MARGIN = 14.0
NAMED = 6
ALSO_LINES = 3
TOPICS = 6
GAP = 30.0

_SHAPES: dict[Reason, tuple[Shape, str]] = {
    Reason.UNANSWERED: ("ring", VERMILLION),
    Reason.SLOWER: ("triangle", BLUE),
    Reason.BELOW_HALF: ("disc", VERMILLION),
}


def week_picture(report: WeekReport, words: Words) -> Attachment:
    """Draw the report; its alternative text is the report's text."""
    topics = _topics(report)
    people, also = _named(report)
    good = [note for note in report.congratulate if note.reason is not Reason.ALL_ON_TIME][:3]
    lines = _also_lines(also, words)
    sheet = DrawnPage(_height(report, people, len(lines), topics, good))
    y = _title(sheet, report, words)
    y = _completion(sheet, y, report, words)
    y = draw_bars(sheet, y + 4, report.effect, words) - 4 if report.effect else y
    y = _people(sheet, y, report, people, lines, words)
    y = _teach(sheet, y, report, topics, words)
    _good(sheet, y, report, good, words)
    sheet.text(MARGIN, sheet.height - 14, words.text("evidence.how_sure"), 11, colour=GREY)
    slug, week = report.school_class.slug, f"{report.week:02d}"
    name = words.text("week.picture.file", slug=slug, year=report.year, week=week)
    return picture(name, sheet.png(), week_text(report, words).plain)


def _named(report: WeekReport) -> tuple[Sequence[Note], Sequence[str]]:
    """Return who is shown with the reason, and the names of the others: by reason, alphabetical within each.

    The reasons are in the order in which a teacher can wait least; nothing is said about who is better.
    """
    order = (Reason.UNANSWERED, Reason.BELOW_HALF, Reason.SLOWER)
    grouped = sorted(report.talk_to, key=lambda note: order.index(note.reason))
    # A line of its own for one more name costs no less than showing it.
    shown = len(grouped) if len(grouped) <= NAMED + 1 else NAMED
    return grouped[:shown], [note.name for note in grouped[shown:]]


def _also_lines(names: Sequence[str], words: Words) -> list[str]:
    if not names:
        return []
    text = words.text("week.picture.also", names=words.listed(list(names)))
    return DrawnPage(1.0).wrap(text, PHONE - 2 * MARGIN - 18, 13, lines=ALSO_LINES)


def _topics(report: WeekReport) -> Sequence[TopicWeek]:
    """Return the topics worth showing: those of the quiz that stand below half or cannot be told, lowest first.

    When none stands below half, or no quiz is planned, the lowest are shown all the same.
    """

    def lowest(row: TopicWeek) -> tuple[bool, float]:
        estimate = _estimate(row, report)
        return row.standing is Standing.TOO_FEW and row.in_quiz, estimate.mean if estimate else 0.0

    known = sorted((row for row in report.topics if _estimate(row, report) is not None), key=lowest)
    if report.quiz is None:
        return known[:TOPICS]
    pressing = [row for row in known if row.standing.under or row.standing is Standing.TOO_FEW]
    return pressing[:TOPICS] if any(row.standing.under for row in pressing) else known[:3]


def _estimate(row: TopicWeek, report: WeekReport) -> IntervalEstimate | None:
    """Return what a topic is judged by: the quiz, or now when none is planned."""
    return row.quiz if report.quiz else row.now


def _others(report: WeekReport, topics: Sequence[TopicWeek]) -> int:
    """Return how many topics of the quiz are not shown."""
    return sum(_estimate(row, report) is not None for row in report.topics) - len(topics)


@dataclass(frozen=True)
class _Block:
    heading: float = 36.0
    row: float = 23.0
    topic: float = 36.0


_SIZE = _Block()


def _height(
    report: WeekReport, people: Sequence[Note], more: int, topics: Sequence[TopicWeek], good: Sequence[Note]
) -> float:
    steady = report.totals.all_on_time > 0
    return (
        142
        + bars_height(report.effect)
        + _SIZE.heading * 3
        + _SIZE.row * (max(1, len(people)) + more + max(1, len(good) + steady))
        + (_SIZE.topic * len(topics) + 22 if topics else _SIZE.row)
        + 20 * (_others(report, topics) > 0)
        + 20 * _too_early(report)
        + 40
    )


def _title(sheet: DrawnPage, report: WeekReport, words: Words) -> float:
    title = words.text("week.title_plain", title=title_of(report.school_class), week=report.week)
    sheet.text(MARGIN, 26, title, 18, strong=True, room=sheet.width - 2 * MARGIN)
    days = span(words, report.first_day, report.last_day)
    at = moment(words, report.generated_at, report.school_class.zone)
    sheet.text(MARGIN, 45, words.text("week.as_of", span=days, moment=at), 12, colour=GREY)
    return 52.0


def _completion(sheet: DrawnPage, y: float, report: WeekReport, words: Words) -> float:
    totals = report.totals
    checks = words.text("week.picture.checks", answered=totals.answered, asked=totals.asked)
    once = words.text("week.picture.students", once=totals.answered_once, students=totals.students)
    sheet.text(MARGIN, y + 20, checks, 14, strong=True)
    sheet.text(sheet.width - MARGIN, y + 20, once, 12, side="right")
    parts = (
        ("on_time", totals.on_time, BLUE, ""),
        ("late", totals.late, SKY, "////"),
        ("waiting", totals.waiting, "white", ".."),
        ("unanswered", totals.unanswered, PALE, ""),
    )
    x, room = MARGIN, sheet.width - 2 * MARGIN
    for _, count, colour, hatch in parts:
        if count:
            part = room * count / max(totals.asked, 1)
            sheet.box(x, y + 30, part, 18, colour, hatch, BLACK)
            x += part
    _legend(sheet, y + 67, parts, words)
    before = totals.completion_before.value
    if totals.trend != "unknown" and before is not None:
        trend = words.text(f"week.trend.{totals.trend}", before=percent(before))
        sheet.text(MARGIN, y + 87, trend, 12, colour=GREY)
    return y + 90.0


def _legend(sheet: DrawnPage, y: float, parts: Sequence[tuple[str, int, str, str]], words: Words) -> None:
    x = MARGIN
    for key, count, colour, hatch in parts:
        if count:
            sheet.box(x, y - 9, 10, 10, colour, hatch, BLACK)
            x += 14 + sheet.text(x + 14, y, words.text(f"week.picture.{key}", n=count), 12) + 10


def _heading(sheet: DrawnPage, y: float, text: str) -> float:
    sheet.line(MARGIN, y + 10, sheet.width - MARGIN, y + 10, PALE)
    sheet.text(MARGIN, y + 29, text, 14, strong=True, room=sheet.width - 2 * MARGIN)
    return y + _SIZE.heading


def _people(
    sheet: DrawnPage, y: float, report: WeekReport, people: Sequence[Note], also: Sequence[str], words: Words
) -> float:
    y = _heading(sheet, y, words.text("week.picture.talk_to"))
    if not people:
        sheet.text(MARGIN, y + 15, words.text("week.nobody"), 13)
        return y + _SIZE.row
    for note in people:
        shape, colour = _SHAPES[note.reason]
        sheet.mark(MARGIN + 5, y + 10.5, shape, colour, 10)
        width = sheet.text(MARGIN + 18, y + 15, note.name, 14, strong=True, room=124)
        reason = note_reason(note, words, report.school_class.zone)
        sheet.text(MARGIN + 26 + width, y + 15, reason, 13, room=sheet.width - 2 * MARGIN - 26 - width)
        y += _SIZE.row
    for line in also:
        sheet.text(MARGIN + 18, y + 15, line, 13)
        y += _SIZE.row
    return y


def _teach(
    sheet: DrawnPage, y: float, report: WeekReport, topics: Sequence[TopicWeek], words: Words
) -> float:
    y = _heading(sheet, y, _teach_heading(report, topics, words))
    if to_do := _to_do(report, words):
        sheet.text(MARGIN, y + 12, to_do, 12, room=sheet.width - 2 * MARGIN)
        y += 20.0
    if not topics:
        sheet.text(MARGIN, y + 15, words.text("week.picture.unknown"), 13)
        return y + _SIZE.row
    bottom = y + _SIZE.topic * len(topics)
    scale = sheet.scale(MARGIN + 8, sheet.width - 2 * MARGIN - 16, y + 4, bottom)
    for row in topics:
        _topic(sheet, scale, y, row, report, words)
        y += _SIZE.topic
    y += 22.0
    others = _others(report, topics)
    if others > 0:
        key = "week.picture.higher" if len(topics) < TOPICS and not _too_early(report) else "evidence.more"
        sheet.text(MARGIN, y + 12, words.text(key, n=others), 12, colour=GREY)
        y += 20.0
    return y


def _teach_heading(report: WeekReport, topics: Sequence[TopicWeek], words: Words) -> str:
    if report.quiz is None:
        return words.text("week.picture.teach_later")
    key = "week.picture.teach" if any(row.standing.under for row in topics) else "week.picture.teach_none"
    if _too_early(report):
        key = "week.picture.teach_unknown"
    return words.text(key, quiz=quiz_name(report.quiz, words))


def _too_early(report: WeekReport) -> bool:
    """Whether nothing can be said of any topic of the quiz: silence is no good news."""
    covered = [row for row in report.topics if row.in_quiz]
    return report.quiz is not None and all(row.standing is Standing.TOO_FEW for row in covered)


def _to_do(report: WeekReport, words: Words) -> str:
    """Write what helps when it is too early to tell; empty when there is something to tell."""
    return words.text("week.picture.unknown_do", enough=ENOUGH) if _too_early(report) else ""


def _topic(
    sheet: DrawnPage, scale: Scale, y: float, row: TopicWeek, report: WeekReport, words: Words
) -> None:
    estimate = _estimate(row, report)
    unknown = estimate is None or row.answers_ever < ENOUGH
    right = (
        words.text("evidence.too_few")
        if unknown or estimate is None
        else f"{rounded(estimate)}\u00a0% ({bounds(estimate)})"
    )
    low = row.standing.under and report.quiz is not None
    figure = sheet.text_width(right, 12, strong=low)
    # A white ground keeps the words readable over the lines of the scale.
    name = sheet.cut(row.name, sheet.width - 2 * MARGIN - figure - 12, 13, strong=low)
    sheet.box(MARGIN - 2, y + 4, sheet.text_width(name, 13, strong=low) + 5, 16, "white")
    sheet.box(sheet.width - MARGIN - figure - 3, y + 4, figure + 5, 16, "white")
    sheet.text(MARGIN, y + 16, name, 13, strong=low)
    sheet.text(sheet.width - MARGIN, y + 16, right, 12, strong=low, side="right")
    if unknown or estimate is None:
        sheet.mark(scale.at(0.5), y + 27, "cross", GREY)
    elif row.standing is Standing.BELOW and report.quiz:
        scale.estimate(y + 27, estimate, "disc", VERMILLION)
    else:
        scale.estimate(y + 27, estimate, "ring" if low else "square", VERMILLION if low else BLUE)
    if low and estimate is not None:
        _sureness(
            sheet, y, sureness(words, row.standing), estimate, sheet.text_width(name, 13, strong=low) + figure
        )


def _sureness(sheet: DrawnPage, y: float, sure: str, estimate: IntervalEstimate, used: float) -> None:
    """Write how sure it is: beside the bar, or between name and figure when the bar is too long."""
    width = sheet.text_width(sure, 12)
    if estimate.high < 0.66:
        sheet.box(sheet.width - MARGIN - width - 3, y + 20, width + 5, 14, "white")
        sheet.text(sheet.width - MARGIN, y + 31, sure, 12, side="right")
    elif used + width + 40 < sheet.width - 2 * MARGIN:
        x = MARGIN + (sheet.width - 2 * MARGIN - width) / 2
        sheet.box(x - 3, y + 4, width + 6, 16, "white")
        sheet.text(x, y + 16, sure, 12)


def _good(sheet: DrawnPage, y: float, report: WeekReport, good: Sequence[Note], words: Words) -> None:
    y = _heading(sheet, y, words.text("week.picture.good"))
    for note in good:
        width = sheet.text(MARGIN, y + 15, note.name, 13, strong=True, room=150)
        sheet.text(
            MARGIN + 8 + width,
            y + 15,
            note_reason(note, words, report.school_class.zone),
            13,
            room=sheet.width - 2 * MARGIN - width,
        )
        y += _SIZE.row
    steady = report.totals.all_on_time
    if steady:
        sheet.text(MARGIN, y + 15, words.text("week.picture.all", n=steady), 13)
    elif not good:
        sheet.text(MARGIN, y + 15, words.text("week.picture.nobody_good"), 13)
