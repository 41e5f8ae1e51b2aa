"""A student's own picture as text and as a picture for the phone.

Question answered: *What do I still know, what will be left on quiz day, and what would one review tonight do?* A
square is now, a ring is the quiz as things stand, a triangle the quiz with one review tonight.
"""

from __future__ import annotations

from bot.chat.port import Attachment
from bot.evidence.effect.picture import bars_height, draw_bars
from bot.evidence.effect.text import OWN, effect_line
from bot.evidence.shared.drawing import BLUE, GREEN, GREY, VERMILLION, DrawnPage, Scale, picture
from bot.evidence.shared.figures import ENOUGH
from bot.evidence.shared.phrases import about, briefly, never_certain, stacked, title_of
from bot.evidence.student.numbers import Evening, OwnTopic, StudentPicture, to_show
from bot.words import Words
from bot.words.rich import Rich

MARGIN, ROW, SHOWN = 14.0, 40.0, 9
NAMED = 3
"""Topics named in one line of the text; the picture has more."""


def student_text(own: StudentPicture, words: Words) -> Rich:
    """Write what stays, what is on the way, what that comes to, and what tonight would do."""
    title = words.say("own.title", title=title_of(own.school_class))
    if own.now is None or own.later is None:
        return stacked(title, words.say("own.nothing"))
    lines: list[Rich | None] = [title, *_strengths(own, words)]
    if own.too_early:
        return stacked(
            *lines, words.say("own.too_early"), effect_line(own.effect, words, OWN), _tonight(own, words)
        )
    lines += [
        words.say("own.now", now=about(words, never_certain(own.now)), n=len(own.topics)),
        words.say("own.later", target=target(own, words), later=about(words, never_certain(own.later))),
        effect_line(own.effect, words, OWN),
        _tonight(own, words),
    ]
    if own.answers < ENOUGH * len(own.topics):
        lines.append(words.say("own.thin"))
    return stacked(*lines, words.say("evidence.no_grade"))


def target(own: StudentPicture, words: Words) -> str:
    """Write what the picture looks ahead to."""
    kind = "date" if own.quiz is None else own.quiz.kind
    return words.text(f"own.target.{kind}", day=words.day(own.target_day))


def _strengths(own: StudentPicture, words: Words) -> list[Rich]:
    """Write what stays and what is on the way, best first; nothing where there is neither."""
    lines = []
    for key, rows in (
        ("own.stays", [row for row in own.topics if row.stays]),
        ("own.on_the_way", [row for row in own.topics if row.on_the_way]),
    ):
        if rows:
            rows.sort(key=lambda row: (-row.now.mean, row.name))
            names = [row.name for row in rows[:NAMED]]
            if len(rows) > NAMED:
                names.append(words.text("own.more", n=len(rows) - NAMED))
            lines.append(words.say(key, topics=words.listed(names)))
    return lines


_EVENINGS = {
    Evening.NOTHING_NEEDED: "own.tonight_none",
    Evening.NO_QUESTIONS: "own.tonight_no_questions",
    Evening.LITTLE_ALONE: "own.tonight_little",
}


def _tonight(own: StudentPicture, words: Words) -> Rich:
    if own.evening is not Evening.ADVICE:
        return words.say(_EVENINGS[own.evening], target=target(own, words))
    topics = [
        words.text(
            "own.tonight_topic",
            topic=row.name,
            before=words.about(row.later.mean),
            after=words.about(row.reviewed),
        )
        for row in own.tonight
    ]
    return words.say("own.tonight", target=target(own, words), topics=words.listed(topics))


def student_picture_png(own: StudentPicture, words: Words) -> Attachment:
    """Draw the student's own topics; the alternative text is the text."""
    topics = to_show(own, SHOWN)
    more = len(own.topics) - len(topics)
    bars = bars_height(own.effect)
    sheet = DrawnPage(bars + 118 + ROW * max(1, len(topics)) + 26 + 20 * bool(more) + 26)
    sheet.text(MARGIN, 26, words.text("own.picture.title"), 18, strong=True)
    subtitle = words.text("own.picture.subtitle", title=title_of(own.school_class), target=target(own, words))
    sheet.text(MARGIN, 45, subtitle, 12, colour=GREY, room=sheet.width - 2 * MARGIN)
    draw_bars(sheet, 52, own.effect, words)
    _legend(sheet, bars, own, words)
    y = 112.0 + bars
    if topics:
        scale = sheet.scale(MARGIN + 8, sheet.width - 2 * MARGIN - 16, y, y + ROW * len(topics))
        for row in topics:
            _topic(sheet, scale, y, row, own, words)
            y += ROW
    else:
        sheet.text(MARGIN, y + 16, words.text("own.nothing"), 13, room=sheet.width - 2 * MARGIN)
    if more:
        sheet.text(MARGIN, sheet.height - 34, words.text("own.picture.more", n=more), 12, colour=GREY)
    sheet.text(MARGIN, sheet.height - 12, words.text("evidence.how_sure"), 11, colour=GREY)
    return picture(f"{own.school_class.slug}-my-topics.png", sheet.png(), student_text(own, words).plain)


def _legend(sheet: DrawnPage, y: float, own: StudentPicture, words: Words) -> None:
    sheet.mark(MARGIN + 5, y + 62, "square", BLUE)
    width = sheet.text(MARGIN + 16, y + 66, words.text("own.picture.legend_now"), 12)
    x = MARGIN + 16 + width + 18
    sheet.mark(x + 5, y + 62, "triangle", GREEN)
    sheet.text(x + 16, y + 66, words.text("own.picture.legend_reviewed"), 12)
    sheet.mark(MARGIN + 5, y + 82, "ring", VERMILLION)
    later = words.text("own.picture.legend_later", target=target(own, words))
    sheet.text(MARGIN + 16, y + 86, later, 12, room=sheet.width - 2 * MARGIN - 16)


def _topic(
    sheet: DrawnPage, scale: Scale, y: float, row: OwnTopic, own: StudentPicture, words: Words
) -> None:
    strong = row in own.tonight
    figure = (
        f"{briefly(never_certain(row.later))} → {words.about(row.reviewed)}"
        if strong
        else briefly(never_certain(row.later))
    )
    width = sheet.text_width(figure, 12, strong=strong)
    name = sheet.cut(row.name, sheet.width - 2 * MARGIN - width - 12, 13, strong=strong)
    sheet.box(MARGIN - 2, y + 3, sheet.text_width(name, 13, strong=strong) + 5, 17, "white")
    sheet.box(sheet.width - MARGIN - width - 3, y + 3, width + 5, 17, "white")
    sheet.text(MARGIN, y + 16, name, 13, strong=strong)
    sheet.text(sheet.width - MARGIN, y + 16, figure, 12, strong=strong, side="right")
    middle = y + 29
    sheet.line(scale.at(row.later.mean), middle, scale.at(row.reviewed), middle, GREEN, 1.4, ":")
    scale.estimate(middle, row.later, "ring", VERMILLION, 2.0)
    sheet.mark(scale.at(row.now.mean), middle, "square", BLUE, 8)
    if strong:
        sheet.mark(scale.at(row.reviewed), middle, "triangle", GREEN, 9)
