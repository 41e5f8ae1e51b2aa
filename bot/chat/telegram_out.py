"""What Telegram is given: one place where text becomes HTML, buttons a keyboard, and lengths are kept.

Lengths are counted as Telegram counts them, in UTF-16 code units of the text after its markup has been
read (Bot API, "MessageEntity" and "sendMessage").
"""

from __future__ import annotations

import html
import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass

from telegram import BotCommand, InlineKeyboardButton, InlineKeyboardMarkup

from bot.chat import formulas
from bot.chat.port import Attachment, Button, MenuEntry, Message, Rich, Span

TEXT_UNITS = 4096
CAPTION_UNITS = 1024
MOST_PARTS = 4
"""A text too long for one message is continued in others, but nobody is sent a book."""

_ROW_UNITS = 30  # what fits beside each other on a phone 390 points wide (measured by eye, no source)
_ROW_BUTTONS = 8
_LABEL_UNITS = 64
_DRAWN_TYPES = frozenset({"image/png", "image/jpeg", "image/webp"})
_PHOTO_BYTES = 10_000_000

# C0 and C1 controls except the line feed; embeddings, overrides and isolates of direction, which would
# turn round whatever follows a name; halves of surrogate pairs, which no UTF-8 can carry.
_UNWANTED = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\ud800-\udfff]")
_LINE_BREAKS = re.compile("\r\n?|\u2028|\u2029|\x0b|\x0c|\x85")
_MENTION = re.compile(r"(?<![\w@])@(?=\w)")
_WORD_JOINER = "\u2060"
_EN_SPACE = "\u2002"


# ---------------------------------------------------------------- text


def clean(text: str) -> str:
    """Return `text` without control characters and turns of direction; a tab becomes a space."""
    return _UNWANTED.sub("", _LINE_BREAKS.sub("\n", text).replace("\t", " "))


def units(text: str) -> int:
    """Length as Telegram counts it: UTF-16 code units."""
    return len(text) + sum(character > "\uffff" for character in text)


def shown(rich: Rich, *, in_class: bool = False) -> tuple[Rich, tuple[str, ...]]:
    """Clean every span and make its formulas readable; also return the formulas worth a picture.

    In a channel or group an ``@name`` typed by somebody must not call that person: an invisible word
    joiner takes its meaning, not its look.
    """
    spans: list[Span] = []
    to_draw: list[str] = []
    for span in rich.spans:
        seen = formulas.shown(clean(span.text))
        text = _MENTION.sub("@" + _WORD_JOINER, seen.text) if in_class else seen.text
        spans.append(Span(text, span.strong))
        to_draw.extend(seen.to_draw)
    return trimmed(Rich(tuple(spans))), tuple(to_draw)


def to_html(rich: Rich) -> str:
    """Write spans in Telegram's HTML. Every character of every span is escaped here and nowhere else."""
    return "".join(
        f"<b>{html.escape(span.text, quote=False)}</b>"
        if span.strong and span.text.strip()
        else html.escape(span.text, quote=False)
        for span in rich.spans
    )


def trimmed(rich: Rich) -> Rich:
    """Drop white space at both ends, as Telegram does by itself."""
    plain = rich.plain
    start = len(plain) - len(plain.lstrip())
    return _slice(rich, start, len(plain.rstrip()))


def _slice(rich: Rich, start: int, end: int) -> Rich:
    """Characters `start` to `end` of the plain text, with their emphasis."""
    spans: list[Span] = []
    at = 0
    for span in rich.spans:
        text = span.text[max(0, start - at) : max(0, end - at)]
        if text:
            spans.append(Span(text, span.strong))
        at += len(span.text)
    return Rich(tuple(spans))


def split(rich: Rich, limit: int = TEXT_UNITS, most: int = MOST_PARTS) -> tuple[Rich, ...]:
    """Divide a text into parts of at most `limit` units, at paragraphs, lines or words where possible.

    What does not fit into `most` parts is left out, and an ellipsis says so.
    """
    parts: list[Rich] = []
    rest = trimmed(rich)
    while rest.spans:
        if units(rest.plain) <= limit:
            return (*parts, rest)
        if len(parts) == most - 1:
            return (*parts, cut(rest, limit))
        end = _break_before(rest.plain, limit)
        parts.append(trimmed(_slice(rest, 0, end)))
        rest = trimmed(_slice(rest, end, len(rest.plain)))
    return tuple(parts)


def cut(rich: Rich, limit: int) -> Rich:
    """Return `rich` shortened to `limit` units, ending in an ellipsis if something is missing."""
    plain = rich.plain
    if units(plain) <= limit:
        return rich
    end = _whole_characters(plain, limit - 1)
    kept = trimmed(_slice(rich, 0, end))
    return kept + Rich.of("…")


def cut_text(text: str, limit: int) -> str:
    """Return `text` as one clean line of at most `limit` units."""
    return cut(trimmed(Rich.of(" ".join(clean(text).split()))), limit).plain


def _break_before(plain: str, limit: int) -> int:
    """Where to break so that the first part has at most `limit` units and is at least half full."""
    end = _whole_characters(plain, limit)
    for mark in ("\n\n", "\n", " "):
        at = plain.rfind(mark, end // 2, end)
        if at > 0:
            return at
    return end


def _whole_characters(plain: str, limit: int) -> int:
    """Count of leading code points within `limit` units that does not part a sign from its accents."""
    end, used = 0, 0
    for character in plain:
        used += units(character)
        if used > limit:
            break
        end += 1
    whole = end
    while 0 < whole < len(plain) and _joins(plain[whole]):
        whole -= 1
    return whole or end


def _joins(character: str) -> bool:
    return (
        unicodedata.combining(character) > 0
        or character in "\u200d\ufe0e\ufe0f"
        or ("\U0001f3fb" <= character <= "\U0001f3ff")
    )


# ---------------------------------------------------------------- buttons and menus


def keyboard(rows: Iterable[Iterable[Button]]) -> InlineKeyboardMarkup | None:
    """Buttons below a message; a row too long for a phone becomes one button per row."""
    laid_out = [laid for row in rows for laid in _lay_out([(_label(b), b.action) for b in row])]
    if not laid_out:
        return None
    return InlineKeyboardMarkup(
        [[InlineKeyboardButton(text, callback_data=action) for text, action in row] for row in laid_out]
    )


def _lay_out(row: list[tuple[str, str]]) -> list[list[tuple[str, str]]]:
    # Telegram makes the buttons of a row equally wide, so the longest label counts for each.
    widest = max((units(text) for text, _ in row), default=0)
    if len(row) > 1 and widest * len(row) > _ROW_UNITS:
        return [[button] for button in row]
    return [row[at : at + _ROW_BUTTONS] for at in range(0, len(row), _ROW_BUTTONS)]


def _label(button: Button) -> str:
    words = cut_text(formulas.shown(button.label).text, _LABEL_UNITS)
    if button.letter and words != button.letter:
        words = f"{button.letter}{_EN_SPACE}{words}".rstrip()
    return words or button.letter or "·"


def commands(menu: Iterable[MenuEntry]) -> list[BotCommand]:
    """Entries for Telegram's command menu, within its lengths (1-32 and 1-256 characters, at most 100)."""
    return [
        BotCommand(entry.command.lower()[:32], cut_text(entry.description, 256) or entry.command)
        for entry in menu
    ][:100]


# ---------------------------------------------------------------- a whole message


@dataclass(frozen=True, slots=True)
class Part:
    """One call of the Bot API: a text, or a file with a caption. The last part carries the keyboard."""

    text: Rich
    file: Attachment | None = None
    as_photo: bool = False


def plan(message: Message, *, in_class: bool = False) -> tuple[Part, ...]:
    """Divide a message into what Telegram can take.

    A file takes the text as its caption where that fits; otherwise the file goes first, described by its
    alternative text, and the text with the buttons below it, where the thumb is.
    """
    text, to_draw = shown(message.text, in_class=in_class)
    file = message.attachment or _formula_picture(to_draw)
    if file is None:
        return tuple(Part(part) for part in split(text))
    photo = is_photo(file)
    whole = caption(text, file)
    if units(whole.plain) <= CAPTION_UNITS:
        return (Part(whole, file, photo),)
    if units(text.plain) <= CAPTION_UNITS:
        return (Part(text, file, photo),)
    first = Part(cut(caption(Rich(), file), CAPTION_UNITS), file, photo)
    return (first, *(Part(part) for part in split(text)))


def caption(text: Rich, file: Attachment) -> Rich:
    """Text of a file: a picture's alternative text belongs to it unless the text already says it.

    Telegram has no field for alternative text, and a screen reader reads captions.
    """
    alt = clean(file.alt).strip()
    if not alt or not file.is_picture or alt in text.plain:
        return text
    return trimmed(text + Rich.of(f"\n\n{alt}"))


def is_photo(file: Attachment) -> bool:
    """Whether Telegram shows the file in the chat; other kinds of pictures travel as documents."""
    return file.media_type in _DRAWN_TYPES and len(file.data) <= _PHOTO_BYTES


def _formula_picture(to_draw: tuple[str, ...]) -> Attachment | None:
    data = formulas.picture(to_draw)
    # No alternative text: the caption holds the same formulas as readable text already.
    return None if data is None else Attachment("formula.png", "image/png", data)
