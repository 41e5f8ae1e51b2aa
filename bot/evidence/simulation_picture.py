"""Policies of reviewing compared on simulated classes, as text and picture.

Question answered: *Which way of reviewing leaves most, and is the difference more than chance?* One panel for each
measure, one line for each policy in the same order throughout; a bar is two standard errors on each side. The
policy that is ours is drawn as a disc, the ceiling as a triangle, the others as squares.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from bot.chat.port import Attachment, Rich
from bot.evidence.drawing import BLACK, BLUE, GREEN, GREY, PALE, VERMILLION, Shape, Sheet, picture
from bot.evidence.phrases import stacked
from bot.talk.words import Words

MARGIN, NAME, ROW = 14.0, 92.0, 22.0
OURS, CEILING = "personal", "oracle"


@dataclass(frozen=True)
class SimulationRow:
    """Mean of a measure under a policy over simulated classes, with its standard error.

    Attributes
    ----------
    mean, error : float
        Of the same unit for all policies of a measure; shares of 0..1 are shown in percent.
    percent : bool
        Whether the measure is a share.
    """

    policy: str
    measure: str
    mean: float
    error: float
    percent: bool = True


def simulation_text(rows: Sequence[SimulationRow], words: Words) -> Rich:
    """Write the means with two standard errors."""
    lines = [words.say("simulation.title")]
    for measure, own in _by_measure(rows).items():
        values = [
            words.text(
                "simulation.value",
                policy=row.policy,
                mean=_figure(row.mean, row.percent),
                error=_figure(2 * row.error, row.percent),
            )
            for row in own
        ]
        lines.append(words.say("simulation.line", measure=measure, values=words.listed(values)))
    return stacked(*lines, words.say("simulation.how"))


def simulation_picture(
    rows: Sequence[SimulationRow], words: Words, name: str = "simulation.png"
) -> Attachment:
    """Draw the means; the alternative text is the text.

    Raises
    ------
    ValueError
        When there is nothing to draw.
    """
    if not rows:
        raise ValueError("There is no result of a simulation to draw.")
    panels = _by_measure(rows)
    sheet = Sheet(76 + sum(62 + ROW * len(own) for own in panels.values()) + 20)
    y = sheet.paragraph(MARGIN, 24, words.text("simulation.title"), 15, sheet.width - 2 * MARGIN, strong=True)
    sheet.text(MARGIN, y, words.text("simulation.subtitle"), 11, colour=GREY)
    y += 8
    for measure, own in panels.items():
        y = _panel(sheet, y, measure, own)
    sheet.text(MARGIN, sheet.height - 12, words.text("simulation.how"), 11, colour=GREY)
    return picture(name, sheet.png(), simulation_text(rows, words).plain)


def _by_measure(rows: Sequence[SimulationRow]) -> Mapping[str, list[SimulationRow]]:
    panels: dict[str, list[SimulationRow]] = {}
    for row in rows:
        panels.setdefault(row.measure, []).append(row)
    return panels


def _figure(value: float, percent: bool) -> str:
    return f"{100 * value:.1f}\u00a0%" if percent else f"{value:.3g}"


def _panel(sheet: Sheet, y: float, measure: str, rows: Sequence[SimulationRow]) -> float:
    sheet.line(MARGIN, y + 6, sheet.width - MARGIN, y + 6, PALE)
    sheet.text(MARGIN, y + 25, measure, 13, strong=True, room=sheet.width - 2 * MARGIN)
    low = min(row.mean - 2 * row.error for row in rows)
    high = max(row.mean + 2 * row.error for row in rows)
    room = (high - low) * 0.06 or 0.01
    low, high = low - room, high + room
    left, width = MARGIN + NAME, sheet.width - 2 * MARGIN - NAME - 56

    def at(value: float) -> float:
        return left + width * (value - low) / (high - low)

    top = y + 34
    for row in rows:
        middle = top + ROW / 2
        shape, colour = _style(row.policy)
        ours = row.policy == OURS
        sheet.line(left, middle, left + width, middle, PALE)
        sheet.text(MARGIN, middle + 5, row.policy, 13, strong=ours, room=NAME - 6)
        sheet.line(at(row.mean - 2 * row.error), middle, at(row.mean + 2 * row.error), middle, colour, 3)
        sheet.mark(at(row.mean), middle, shape, colour)
        figure = _figure(row.mean, row.percent)
        sheet.text(sheet.width - MARGIN, middle + 5, figure, 13, strong=ours, side="right")
        top += ROW
    sheet.line(left, top + 2, left + width, top + 2, BLACK)
    sheet.text(left, top + 15, _figure(low, rows[0].percent), 11, colour=GREY)
    sheet.text(left + width, top + 15, _figure(high, rows[0].percent), 11, colour=GREY, side="right")
    return top + 22


def _style(policy: str) -> tuple[Shape, str]:
    if policy == OURS:
        return "disc", VERMILLION
    return ("triangle", GREEN) if policy == CEILING else ("square", BLUE)
