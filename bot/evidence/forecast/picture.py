"""The forecast as one picture for a phone.

Question answered, from above downward: *How will the class do on that day, with and without the reviews still
planned? Which topics should I teach again? Whom should I talk to, and how sure is that?* A filled mark with its
bar: with the planned reviews; an open one on the same line: without. A disc: surely below half; a square: not.
"""

from __future__ import annotations

from collections.abc import Sequence

from bot.chat.port import Attachment
from bot.evidence.effect.picture import bars_height, draw_bars
from bot.evidence.forecast.numbers import Forecast, StudentForecast, TopicForecast
from bot.evidence.forecast.text import forecast_text, nobody_key, occasion, points
from bot.evidence.shared.drawing import BLACK, BLUE, GREY, PALE, PHONE, VERMILLION, DrawnPage, Scale, picture
from bot.evidence.shared.figures import ENOUGH, IntervalEstimate, Standing
from bot.evidence.shared.phrases import bounds, moment, rounded, title_of
from bot.evidence.week.text import few
from bot.words import Words

MARGIN, ROW, STUDENT_ROW, LINE = 14.0, 38.0, 26.0, 20.0
TOPICS, STUDENTS = 7, 7


def forecast_picture(forecast: Forecast, words: Words) -> Attachment:
    """Draw the forecast; its alternative text is the forecast's text."""
    topics = _shown(forecast)
    students = _low_and_unknown(forecast)[0][:STUDENTS]
    again, unknown = _again(forecast, words), _unknown(forecast, words)
    sheet = DrawnPage(_height(forecast, topics, students, len(again), len(unknown)))
    y = _title(sheet, forecast, words)
    y = _class(sheet, y, forecast, words)
    y = draw_bars(sheet, y + 4, forecast.effect, words) - 4 if forecast.effect else y
    y = _topics(sheet, y, forecast, topics, again, words)
    _students(sheet, y, forecast, students, unknown, words)
    sheet.text(MARGIN, sheet.height - 14, words.text("evidence.how_sure"), 11, colour=GREY)
    name = f"{forecast.school_class.slug}-forecast-{forecast.day.isoformat()}.png"
    return picture(name, sheet.png(), forecast_text(forecast, words).plain)


def _shown(forecast: Forecast) -> Sequence[TopicForecast]:
    """Return the topics to draw: those to teach again, in that order, then the lowest."""
    again = {row.id for row in forecast.teach_again}
    others = [row for row in forecast.topics if row.planned is not None and row.id not in again]
    others.sort(key=lambda row: row.planned.mean if row.planned else 1.0)
    return [*forecast.teach_again, *others][:TOPICS]


def _again(forecast: Forecast, words: Words) -> list[str]:
    """Return the lines that say what to teach again, in the order of what it would gain."""
    names = [row.name for row in forecast.teach_again]
    if names:
        text = words.text("forecast.picture.again", names=words.listed(names))
    elif forecast.too_early:
        text = words.text("forecast.picture.again_unknown", enough=ENOUGH)
    else:
        text = words.text("forecast.picture.again_none")
    return DrawnPage(1.0).wrap(text, PHONE - 2 * MARGIN, 14, strong=True, lines=2)


def _unknown(forecast: Forecast, words: Words) -> list[str]:
    """Return the lines that name those with too few answers."""
    names = [row.name for row in _low_and_unknown(forecast)[1]]
    if not names:
        return []
    text = words.text("forecast.picture.unknown", names=few(names, words))
    return DrawnPage(1.0).wrap(text, PHONE - 2 * MARGIN, 13, lines=2)


def _height(
    forecast: Forecast,
    topics: Sequence[TopicForecast],
    students: Sequence[StudentForecast],
    again: int,
    unknown: int,
) -> float:
    more = sum(row.planned is not None for row in forecast.topics) > len(topics)
    lines = max(1, len(students)) + 1 + (len(_low_and_unknown(forecast)[0]) > len(students))
    above = 60 + 2 * ROW + 10 + bars_height(forecast.effect)
    middle = 36 + LINE * again + ROW * max(1, len(topics)) + 22 + 20 * more
    below = 36 + STUDENT_ROW * (lines + bool(forecast.unknown)) + LINE * unknown + 36
    return above + middle + below


def _low_and_unknown(forecast: Forecast) -> tuple[list[StudentForecast], list[StudentForecast]]:
    """Part those to talk to into surely below half and too few answers to tell."""
    low = [row for row in forecast.talk_to if row.standing is Standing.BELOW]
    return low, [row for row in forecast.talk_to if row.standing is not Standing.BELOW]


def _title(sheet: DrawnPage, forecast: Forecast, words: Words) -> float:
    title = words.text("forecast.picture.title", what=occasion(forecast, words))
    sheet.text(MARGIN, 26, title, 18, strong=True, room=sheet.width - 2 * MARGIN)
    at = moment(words, forecast.generated_at, forecast.school_class.zone)
    line = words.text("week.as_of", span=title_of(forecast.school_class), moment=at)
    sheet.text(MARGIN, 45, line, 12, colour=GREY, room=sheet.width - 2 * MARGIN)
    return 56.0


def _class(sheet: DrawnPage, y: float, forecast: Forecast, words: Words) -> float:
    scale = sheet.scale(MARGIN + 8, sheet.width - 2 * MARGIN - 16, y + 2, y + 2 * ROW - 2, labels=False)
    lines = (
        ("forecast.picture.planned", forecast.overall, True),
        ("forecast.picture.stands", forecast.overall_as_it_stands, False),
    )
    for key, estimate, filled in lines:
        _label(sheet, y, words.text(key), _figure(estimate, words), strong=filled)
        if estimate is not None:
            scale.estimate(y + 28, estimate, "square" if filled else "open square", BLUE if filled else GREY)
        y += ROW
    return y + 4.0


def _figure(estimate: IntervalEstimate | None, words: Words) -> str:
    return (
        words.text("evidence.too_few")
        if estimate is None
        else f"{rounded(estimate)}\u00a0% ({bounds(estimate)})"
    )


def _label(sheet: DrawnPage, y: float, name: str, figure: str, *, strong: bool, aside: str = "") -> None:
    """Write a name with what belongs to it on the left, its figure on the right, on white over the scale."""
    width = sheet.text_width(figure, 13, strong=strong)
    beside = sheet.text_width(aside, 12) + 8 if aside else 0.0
    shown = sheet.cut(name, sheet.width - 2 * MARGIN - width - beside - 12, 13, strong=strong)
    end = MARGIN + sheet.text_width(shown, 13, strong=strong)
    sheet.box(MARGIN - 2, y + 4, end + beside - MARGIN + 5, 16, "white")
    sheet.box(sheet.width - MARGIN - width - 3, y + 4, width + 5, 16, "white")
    sheet.text(MARGIN, y + 17, shown, 13, strong=strong)
    sheet.text(sheet.width - MARGIN, y + 17, figure, 13, strong=strong, side="right")
    if aside:
        sheet.text(end + 8, y + 17, aside, 12)


def _heading(sheet: DrawnPage, y: float, lines: Sequence[str]) -> float:
    sheet.line(MARGIN, y + 8, sheet.width - MARGIN, y + 8, PALE)
    for line in lines:
        sheet.text(MARGIN, y + 27, line, 14, strong=True)
        y += LINE
    return y + 34.0 - LINE


def _topics(
    sheet: DrawnPage,
    y: float,
    forecast: Forecast,
    topics: Sequence[TopicForecast],
    again_lines: Sequence[str],
    words: Words,
) -> float:
    y = _heading(sheet, y, again_lines)
    order = words.text("forecast.picture.then" if forecast.teach_again else "forecast.picture.topics")
    legend = words.text("forecast.picture.legend")
    sheet.text(MARGIN, y + 10, order, 11, colour=GREY)
    sheet.text(sheet.width - MARGIN, y + 10, legend, 11, colour=GREY, side="right")
    y += LINE
    if not topics:
        sheet.text(MARGIN, y + 15, words.text("forecast.unknown"), 12, room=sheet.width - 2 * MARGIN)
        return y + ROW
    bottom = y + ROW * len(topics)
    scale = sheet.scale(MARGIN + 8, sheet.width - 2 * MARGIN - 16, y + 2, bottom)
    again = {row.id for row in forecast.teach_again}
    for row in topics:
        _topic(sheet, scale, y, row, row.id in again, words)
        y += ROW
    y += 20.0
    more = sum(row.planned is not None for row in forecast.topics) - len(topics)
    if more:
        sheet.text(MARGIN, y + 12, words.text("forecast.picture.more_topics", n=more), 12, colour=GREY)
        y += 20.0
    return y


def _topic(sheet: DrawnPage, scale: Scale, y: float, row: TopicForecast, again: bool, words: Words) -> None:
    unknown = row.standing is Standing.TOO_FEW
    gain = words.text("forecast.picture.teach", gain=points(row.gain)) if again else ""
    figure = _figure(None if unknown else row.planned, words)
    _label(sheet, y, row.name, figure, strong=again, aside=gain)
    if unknown or row.planned is None:
        sheet.mark(scale.at(0.5), y + 28, "cross", GREY)
    else:
        if row.as_it_stands is not None:
            sheet.mark(scale.at(row.as_it_stands.mean), y + 28, "ring", GREY, 7)
        below = row.standing is Standing.BELOW
        scale.estimate(y + 28, row.planned, "disc" if below else "square", VERMILLION if below else BLUE)


def _students(
    sheet: DrawnPage,
    y: float,
    forecast: Forecast,
    students: Sequence[StudentForecast],
    unknown: Sequence[str],
    words: Words,
) -> None:
    y = _heading(sheet, y, [words.text("forecast.picture.students")])
    x, width = 136.0, sheet.width - 136.0 - 112.0
    if not students:
        sheet.text(MARGIN, y + 15, words.text(nobody_key(forecast)), 13)
        y += STUDENT_ROW
    for row in students:
        sheet.text(MARGIN, y + 16, row.name, 14, strong=True, room=x - MARGIN - 10)
        if row.planned is not None:
            scale = Scale(sheet, x, width)
            sheet.line(scale.at(0), y + 11, scale.at(1), y + 11, PALE)
            sheet.line(scale.at(0.5), y + 1, scale.at(0.5), y + 22, BLACK, 1.2, "--")
            scale.estimate(y + 11, row.planned, "disc", VERMILLION)
            sheet.text(sheet.width - MARGIN, y + 16, _figure(row.planned, words), 13, side="right")
        y += STUDENT_ROW
    low = _low_and_unknown(forecast)[0]
    if len(low) > len(students):
        more = words.text("evidence.more", n=len(low) - len(students))
        sheet.text(MARGIN, y + 15, more, 13, colour=GREY)
        y += STUDENT_ROW
    for line in unknown:
        sheet.text(MARGIN, y + 15, line, 13)
        y += LINE
    y += 6.0 * bool(unknown)
    if forecast.unknown:
        sheet.text(MARGIN, y + 15, words.text("forecast.picture.unknown_students", n=forecast.unknown), 13)
        y += STUDENT_ROW
    rest = sum(row.active for row in forecast.students) - len(forecast.talk_to) - forecast.unknown
    sheet.text(MARGIN, y + 15, words.text("forecast.picture.rest", n=rest), 13, colour=GREY)
