"""How often answers were right, beside how probable that was said to be.

Question answered: *Can the predictions be taken at their word?* Each row is a range of predictions: the mark is the
share that was right, its bar the 95 % interval (Wilson 1927), the thin line what was predicted.
"""

from __future__ import annotations

from bot.chat.port import Attachment
from bot.evidence.shared.drawing import BLACK, GREY, PALE, VERMILLION, DrawnPage, picture
from bot.evidence.shared.phrases import stacked
from bot.words import Words
from bot.words.rich import Rich
from scheduler.statistics.calibration import Reliability

MARGIN, NAME, ROW, COUNT = 14.0, 86.0, 24.0, 62.0


def calibration_text(found: Reliability, words: Words) -> Rich:
    """Write what was predicted and what was right, range by range."""
    values = [
        words.text(
            "calibration.value",
            predicted=round(100 * predicted),
            observed=round(100 * observed),
            n=int(count),
        )
        for predicted, observed, count in zip(found.predicted, found.observed, found.counts, strict=True)
    ]
    line = words.say("calibration.line", values=words.listed(values))
    return stacked(words.say("calibration.title"), line, words.say("calibration.how"))


def calibration_picture(found: Reliability, words: Words, name: str = "calibration.png") -> Attachment:
    """Draw the shares that were right beside the predictions; the alternative text is the text."""
    probe = DrawnPage(1.0)
    room = probe.width - 2 * MARGIN
    title, how = words.text("calibration.title"), words.text("calibration.how")
    lines = 15 * len(probe.wrap(title, room, 15, strong=True)) + 11 * len(probe.wrap(how, room, 11))
    sheet = DrawnPage(24 + 1.35 * lines + ROW * len(found.counts) + 62)
    y = sheet.paragraph(MARGIN, 24, title, 15, room, strong=True)
    y = sheet.paragraph(MARGIN, y, how, 11, room, colour=GREY)
    left, right = MARGIN + NAME, sheet.width - MARGIN - COUNT
    sheet.text(MARGIN, y + 12, words.text("calibration.said"), 11, colour=GREY, room=NAME - 6)
    sheet.text(sheet.width - MARGIN, y + 12, words.text("calibration.answers"), 11, colour=GREY, side="right")
    top = y + 20
    for place in range(len(found.counts)):
        _row(sheet, top + ROW * place + ROW / 2, left, right, found, place)
    bottom = top + ROW * len(found.counts)
    sheet.line(left, bottom + 2, right, bottom + 2, BLACK)
    for share in (0.0, 0.5, 1.0):
        sheet.text(_at(share, left, right), bottom + 15, f"{share:.0%}", 11, colour=GREY, side="center")
    return picture(name, sheet.png(), calibration_text(found, words).plain)


def _at(share: float, left: float, right: float) -> float:
    return left + (right - left) * share


def _row(sheet: DrawnPage, middle: float, left: float, right: float, found: Reliability, place: int) -> None:
    predicted = found.predicted[place]
    sheet.line(left, middle, right, middle, PALE)
    sheet.text(MARGIN, middle + 5, f"{predicted:.0%}", 13)
    said = _at(predicted, left, right)
    sheet.line(said, middle - ROW / 2 + 2, said, middle + ROW / 2 - 2, GREY, 1.5)
    low, high = (_at(end[place], left, right) for end in (found.low, found.high))
    sheet.line(low, middle, high, middle, VERMILLION, 3)
    sheet.mark(_at(found.observed[place], left, right), middle, "disc", VERMILLION)
    sheet.text(sheet.width - MARGIN, middle + 5, str(found.counts[place]), 13, side="right")
