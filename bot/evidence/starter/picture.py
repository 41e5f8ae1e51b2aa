"""The starter as pictures to project: pages with questions, then pages with the answers.

Question answered: *What shall everybody work out now?* and on the pages after: *What was right, and why?* Nothing
else stands on them. Letters are as large as the page allows, never so small that the last row cannot read them;
what does not fit goes to a further page.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from bot.chat.formulas import shown
from bot.chat.port import Attachment
from bot.evidence.shared.drawing import GREY, PALE, DrawnPage, picture, printable
from bot.evidence.shared.phrases import title_of
from bot.evidence.starter.numbers import LETTERS, Starter, StarterQuestion
from bot.evidence.starter.text import answer_of
from bot.words import Words

WIDTH, HEIGHT = 960.0, 540.0
MARGIN, TOP, BOTTOM = 36.0, 84.0, 510.0
SIZES = (32.0, 30.0, 28.0, 26.0)
"""Letter sizes tried, largest first. The smallest is a twentieth of the height: readable from the last row."""


HANG = 44.0
"""Room left of a text for its number or letter."""


@dataclass(frozen=True)
class _Part:
    """A text with the number or letter that hangs before it."""

    head: str
    text: str
    strong: bool = False
    indent: float = 0.0


@dataclass(frozen=True)
class _Row:
    """What stands on one line of the page: texts with where they begin."""

    placed: tuple[tuple[float, str, bool], ...]


@dataclass(frozen=True)
class Block:
    """A question or an answer, with what the page says to somebody who cannot see it."""

    parts: tuple[_Part, ...]
    alt: str


def starter_pictures(starter: Starter, words: Words) -> tuple[Attachment, ...]:
    """Draw the questions, then the answers."""
    questions = [_question_block(n, question) for n, question in enumerate(starter.questions, start=1)]
    answers = [_answer_block(n, question, words) for n, question in enumerate(starter.questions, start=1)]
    first = _pages(starter, questions, "questions", words)
    return first + _pages(starter, answers, "answers", words)


def _question_block(number: int, question: StarterQuestion) -> Block:
    prompt = shown(question.prompt).text
    options = [
        _Part(letter, shown(option).text, indent=HANG)
        for letter, option in zip(LETTERS, question.options, strict=False)
    ]
    alt = " ".join([f"{number}: {prompt}", *(f"{part.head}: {part.text}." for part in options)])
    return Block((_Part(str(number), prompt, strong=True), *options), alt)


def _answer_block(number: int, question: StarterQuestion, words: Words) -> Block:
    answer = _Part(str(number), answer_of(question, words), strong=True)
    why = shown(question.explanation).text
    parts = (answer, _Part("", why)) if why else (answer,)
    return Block(parts, f"{number}: {answer.text}. {why}".strip())


def _pages(starter: Starter, blocks: Sequence[Block], name: str, words: Words) -> tuple[Attachment, ...]:
    size, pages = _layout(blocks)
    found = []
    for number, page in enumerate(pages, start=1):
        sheet = DrawnPage(HEIGHT, WIDTH, scale=4 / 3)
        sheet.text(MARGIN, 48, words.text(f"starter.page.{name}"), 32, strong=True)
        label = words.text(
            "starter.page_of", title=title_of(starter.school_class), page=number, pages=len(pages)
        )
        sheet.text(WIDTH - MARGIN, 48, label, 20, colour=GREY, side="right")
        sheet.line(MARGIN, 62, WIDTH - MARGIN, 62, PALE, 2)
        _draw(sheet, page, size)
        file = f"{starter.school_class.slug}-starter-{starter.lesson_day.isoformat()}-{name}-{number}.png"
        alt = words.text(f"starter.alt.{name}", text=" ".join(block.alt for block in page))
        found.append(picture(file, sheet.png(), alt))
    return tuple(found)


def _layout(blocks: Sequence[Block]) -> tuple[float, list[list[Block]]]:
    """Return the largest letters that need one page, else the smallest and as many pages as that takes."""
    sheet = DrawnPage(HEIGHT, WIDTH)
    for size in SIZES:
        if sum(_height(sheet, block, size) for block in blocks) <= BOTTOM - TOP:
            return size, [list(blocks)]
    return SIZES[-1], _split(blocks, lambda block: _height(sheet, block, SIZES[-1]))


def _split(blocks: Sequence[Block], height: Callable[[Block], float]) -> list[list[Block]]:
    pages: list[list[Block]] = [[]]
    used = 0.0
    for block in blocks:
        if pages[-1] and used + height(block) > BOTTOM - TOP:
            pages.append([])
            used = 0.0
        pages[-1].append(block)
        used += height(block)
    return pages


def _rows(sheet: DrawnPage, block: Block, size: float) -> list[_Row]:
    """Return the lines of a block, wrapped; short options share a line."""
    head, rest = block.parts[0], block.parts[1:]
    rows = _wrapped(sheet, head, size, 4)
    beside = _side_by_side(sheet, rest, size) if len(rest) > 1 else None
    return rows + ([beside] if beside else [row for part in rest for row in _wrapped(sheet, part, size, 3)])


def _wrapped(sheet: DrawnPage, part: _Part, size: float, lines: int) -> list[_Row]:
    left = MARGIN + part.indent
    room = WIDTH - MARGIN - left - HANG
    texts = sheet.wrap(part.text, room, size, strong=part.strong, lines=lines)
    rows = [_Row(((left + HANG, text, part.strong),)) for text in texts]
    return [_Row(((left, part.head, True), *rows[0].placed)), *rows[1:]] if part.head else rows


def _side_by_side(sheet: DrawnPage, parts: Sequence[_Part], size: float) -> _Row | None:
    x = MARGIN + HANG
    placed: list[tuple[float, str, bool]] = []
    for part in parts:
        placed += [(x, part.head, True), (x + HANG, part.text, False)]
        x += HANG + sheet.text_width(printable(part.text), size) + 1.4 * size
    return _Row(tuple(placed)) if x - 1.4 * size <= WIDTH - MARGIN else None


def _height(sheet: DrawnPage, block: Block, size: float) -> float:
    return len(_rows(sheet, block, size)) * 1.3 * size + 0.6 * size


def _draw(sheet: DrawnPage, page: Sequence[Block], size: float) -> None:
    y = TOP + size
    for block in page:
        for row in _rows(sheet, block, size):
            for x, text, strong in row.placed:
                sheet.text(x, y, text, size, strong=strong)
            y += 1.3 * size
        y += 0.6 * size
