"""Policies of reviewing compared on simulated classes, as text and picture.

Question answered: *Which way of reviewing leaves most, and is the difference more than chance?* All policies were run
on the same classes, so what counts is the difference within a class: one panel for each measure, one line for each
policy in the same order throughout, drawn at its gain over the policy that is ours (the first, where ours is not there)
with its 95 % interval; the mean stands beside it. The line at nought is ours: a bar beside it is no chance.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from bot.chat.port import Attachment
from bot.evidence.shared.drawing import BLACK, BLUE, GREEN, GREY, PALE, VERMILLION, DrawnPage, Shape, picture
from bot.evidence.shared.figures import IntervalEstimate, paired_mean
from bot.evidence.shared.phrases import stacked
from bot.words import Words
from bot.words.rich import Rich

MARGIN, NAME, ROW, FIGURE = 14.0, 82.0, 22.0, 58.0
OURS, CEILING = "personal", "oracle"
LEAST_REACH = 0.01
"""The axis of a panel reaches at least so far to either side: a hundredth of differences is not blown up."""


@dataclass(frozen=True)
class SimulationRow:
    """A measure under a policy over simulated classes.

    Attributes
    ----------
    mean : float
        Of the same unit for all policies of a measure; shares of 0..1 are shown in percent.
    gain : IntervalEstimate or None
        Mean difference to the reference within the same class, with its 95 % interval; None for the reference itself,
        and with fewer than two classes.
    percent : bool
        Whether the measure is a share.
    """

    policy: str
    measure: str
    mean: float
    gain: IntervalEstimate | None = None
    percent: bool = True


def reference(policies: Sequence[str]) -> str:
    """Return the policy that the others are compared with: ours, else the first."""
    return OURS if OURS in policies else policies[0]


def compared(
    measure: str, values: Mapping[str, Sequence[float]], *, percent: bool = True
) -> list[SimulationRow]:
    """Compare policies on the same classes.

    Parameters
    ----------
    measure : str
        What is measured, as a heading.
    values : mapping of str to sequence of float, shape (n_classes,)
        By policy, the classes in the same order.
    """
    base = values[reference(list(values))]
    return [
        SimulationRow(
            policy,
            measure,
            sum(own) / len(own),
            None if own is base else paired_mean([a - b for a, b in zip(own, base, strict=True)]),
            percent,
        )
        for policy, own in values.items()
    ]


def simulation_text(rows: Sequence[SimulationRow], words: Words) -> Rich:
    """Write the means, and the paired gains with their intervals."""
    lines = [words.say("simulation.title")]
    for measure, own in _by_measure(rows).items():
        values = [_value(row, words) for row in own]
        lines.append(words.say("simulation.line", measure=measure, values=words.listed(values)))
    return stacked(*lines, words.say("simulation.how", policy=_reference(rows)))


def _value(row: SimulationRow, words: Words) -> str:
    mean = _figure(row.mean, row.percent)
    if row.gain is None:
        return words.text("simulation.value", policy=row.policy, mean=mean)
    gain, low, high = (_step(value, row.percent) for value in (row.gain.mean, row.gain.low, row.gain.high))
    return words.text("simulation.gain", policy=row.policy, mean=mean, gain=gain, low=low, high=high)


def simulation_picture(
    rows: Sequence[SimulationRow], words: Words, name: str = "simulation.png"
) -> Attachment:
    """Draw the paired gains; the alternative text is the text.

    Raises
    ------
    ValueError
        When there is nothing to draw.
    """
    if not rows:
        raise ValueError("There is no result of a simulation to draw.")
    panels = _by_measure(rows)
    sheet = DrawnPage(_height(panels, words, _reference(rows)))
    room = sheet.width - 2 * MARGIN
    y = sheet.paragraph(MARGIN, 24, words.text("simulation.title"), 15, room, strong=True)
    for key in ("simulation.subtitle", "simulation.how"):
        y = sheet.paragraph(MARGIN, y, words.text(key, policy=_reference(rows)), 11, room, colour=GREY)
    for measure, own in panels.items():
        y = _panel(sheet, y, measure, own)
    return picture(name, sheet.png(), simulation_text(rows, words).plain)


def _height(panels: Mapping[str, Sequence[SimulationRow]], words: Words, policy: str) -> float:
    probe = DrawnPage(1.0)
    room = probe.width - 2 * MARGIN
    title = len(probe.wrap(words.text("simulation.title"), room, 15, strong=True))
    lines = sum(
        len(probe.wrap(words.text(key, policy=policy), room, 11))
        for key in ("simulation.subtitle", "simulation.how")
    )
    return 24 + 1.35 * (15 * title + 11 * lines) + sum(60 + ROW * len(own) for own in panels.values()) + 8


def _by_measure(rows: Sequence[SimulationRow]) -> Mapping[str, list[SimulationRow]]:
    panels: dict[str, list[SimulationRow]] = {}
    for row in rows:
        panels.setdefault(row.measure, []).append(row)
    return panels


def _reference(rows: Sequence[SimulationRow]) -> str:
    return reference([row.policy for row in rows])


def _figure(value: float, percent: bool) -> str:
    return f"{100 * value:.1f}\u00a0%" if percent else f"{value:.3g}"


def _step(value: float, percent: bool) -> str:
    """Write a difference with its sign; of shares in points of 100."""
    size = f"{abs(100 * value):.1f}" if percent else f"{abs(value):.3g}"
    return f"{'−' if value < 0 else '+'}{size}"


def _reach(rows: Sequence[SimulationRow]) -> float:
    """Return how far the axis goes to either side of nought; a difference of shares is never beyond 100 points."""
    ends = [abs(end) for row in rows if row.gain for end in (row.gain.low, row.gain.high)]
    reach = max([LEAST_REACH, *ends]) * 1.08
    return min(1.0, reach) if rows[0].percent else reach


def _panel(sheet: DrawnPage, y: float, measure: str, rows: Sequence[SimulationRow]) -> float:
    sheet.line(MARGIN, y + 2, sheet.width - MARGIN, y + 2, PALE)
    sheet.text(MARGIN, y + 20, measure, 13, strong=True, room=sheet.width - 2 * MARGIN)
    reach, percent = _reach(rows), rows[0].percent
    left, width = MARGIN + NAME, sheet.width - 2 * MARGIN - NAME - FIGURE

    def at(value: float) -> float:
        return left + width * (min(1.0, max(-1.0, value / reach)) + 1.0) / 2.0

    top = y + 28
    sheet.line(at(0.0), top, at(0.0), top + ROW * len(rows), BLACK, 1.2, "--")
    for row in rows:
        _row(sheet, top + ROW / 2, row, at(-reach), at(reach), at)
        top += ROW
    sheet.line(left, top + 2, left + width, top + 2, BLACK)
    sheet.text(at(-reach), top + 15, _step(-reach, percent), 11, colour=GREY)
    sheet.text(at(0.0), top + 15, "0", 11, colour=GREY, side="center")
    sheet.text(at(reach), top + 15, _step(reach, percent), 11, colour=GREY, side="right")
    return top + 24


def _row(
    sheet: DrawnPage,
    middle: float,
    row: SimulationRow,
    left: float,
    right: float,
    at: Callable[[float], float],
) -> None:
    shape, colour = _style(row.policy)
    ours = row.policy == OURS
    sheet.line(left, middle, right, middle, PALE)
    sheet.text(MARGIN, middle + 5, row.policy, 13, strong=ours, room=NAME - 12)
    if row.gain is not None:
        sheet.line(at(row.gain.low), middle, at(row.gain.high), middle, colour, 3)
    sheet.mark(at(row.gain.mean if row.gain else 0.0), middle, shape, colour)
    sheet.text(
        sheet.width - MARGIN, middle + 5, _figure(row.mean, row.percent), 13, strong=ours, side="right"
    )


def _style(policy: str) -> tuple[Shape, str]:
    if policy == OURS:
        return "disc", VERMILLION
    return ("triangle", GREEN) if policy == CEILING else ("square", BLUE)
