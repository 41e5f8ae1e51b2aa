"""What reviewing did as a small pair of bars, for the pictures of other papers."""

from __future__ import annotations

from bot.evidence.effect.numbers import ReviewEffect
from bot.evidence.effect.text import bounds
from bot.evidence.shared.drawing import BLACK, BLUE, GREY, PALE, DrawnPage
from bot.evidence.shared.figures import IntervalEstimate
from bot.words import Words

MARGIN, HEAD, ROW, BAR = 14.0, 24.0, 20.0, 12.0


def bars_height(effect: ReviewEffect | None) -> float:
    """Return the room that the bars take [px]; none where no topic was met yet."""
    if effect is None:
        return 0.0
    return HEAD + ROW * (1 if effect.too_early else 2) + 8.0


def draw_bars(sheet: DrawnPage, y: float, effect: ReviewEffect | None, words: Words) -> float:
    """Draw the pair of bars, each with its interval; return where they end.

    Parameters
    ----------
    sheet : DrawnPage
        What is drawn on.
    y : float
        Where the bars begin, downward. [px]
    effect : ReviewEffect or None
        The numbers; nothing is drawn without.
    words : Words
        The reader's language.
    """
    if effect is None:
        return y
    room = sheet.width - 2 * MARGIN
    sheet.text(
        MARGIN, y + 17, words.text("effect.picture.title", n=effect.topics), 13, strong=True, room=room
    )
    if effect.too_early:
        sheet.text(MARGIN, y + HEAD + 13, words.text("effect.picture.too_early"), 12, room=room)
        return y + bars_height(effect)
    rows = (
        (words.text("effect.picture.known"), effect.known, BLUE, ""),
        (words.text("effect.picture.without"), effect.without, PALE, "////"),
    )
    figures = [_figure(effect, share) for _, share, _, _ in rows]
    left = max(sheet.text_width(label, 12) for label, *_ in rows) + 8
    right = max(sheet.text_width(one, 12, strong=True) for one in figures) + 8
    for number, ((label, share, colour, hatch), figure) in enumerate(zip(rows, figures, strict=True)):
        _bar(sheet, y + HEAD + ROW * number, (left, room - left - right), label, figure, share, colour, hatch)
    return y + bars_height(effect)


def _figure(effect: ReviewEffect, share: IntervalEstimate) -> str:
    return f"{effect.counted(share)[0]} ({bounds(effect, share)})"


def _bar(
    sheet: DrawnPage,
    y: float,
    place: tuple[float, float],
    label: str,
    figure: str,
    share: IntervalEstimate,
    colour: str,
    hatch: str,
) -> None:
    left, length = place
    x, middle = MARGIN + left, y + 9.0
    sheet.text(MARGIN, y + 13, label, 12)
    sheet.box(x, middle - BAR / 2, length, BAR, "white", "", GREY)
    sheet.box(x, middle - BAR / 2, length * share.mean, BAR, colour, hatch, BLACK)
    sheet.box(x + length * share.low - 2, middle - 2.5, length * (share.high - share.low) + 4, 5, "white")
    sheet.line(x + length * share.low, middle, x + length * share.high, middle, BLACK, 1.6)
    for end in (share.low, share.high):
        sheet.line(x + length * end, middle - 4, x + length * end, middle + 4, BLACK, 1.6)
    sheet.text(sheet.width - MARGIN, y + 13, figure, 12, strong=True, side="right")
