"""What Telegram is given: one place where text becomes HTML, buttons a keyboard, and lengths are kept.

Lengths are counted as Telegram counts them, in UTF-16 code units of the text after its markup has been
read (Bot API, "MessageEntity" and "sendMessage").
"""

from __future__ import annotations

import html
import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import groupby

from telegram import BotCommand, InlineKeyboardButton, InlineKeyboardMarkup

from bot.chat import formulas, wording
from bot.chat.port import Attachment, Button, MenuEntry, Message
from bot.chat.wording import MOST_PARTS, clean, disarmed, trimmed
from bot.words.rich import Rich, Span

TEXT_UNITS = 4096
CAPTION_UNITS = 1024

_ROW_UNITS = 30  # what fits beside each other on a phone 390 points wide (measured by eye, no source)
_ROW_BUTTONS = 8
_LABEL_UNITS = 64
_DRAWN_TYPES = frozenset({"image/png", "image/jpeg", "image/webp"})
_PHOTO_BYTES = 10_000_000

# Rather too many than too few: nobody has said before which letters of other scripts a mention may follow.
_MENTION = re.compile(r"(?<![0-9A-Za-z_@])@(?=\w)")
_EN_SPACE = "\u2002"


# ---------------------------------------------------------------- text


def units(text: str) -> int:
    """Length as Telegram counts it: UTF-16 code units."""
    return len(text) if text.isascii() else len(text) + sum(one > "\uffff" for one in text)


def shown(rich: Rich, *, in_class: bool = False) -> tuple[Rich, tuple[str, ...]]:
    """Clean every span and make its formulas readable; also return the formulas worth a picture.

    In a channel or group an ``@name`` typed by somebody must not call that person: an invisible word
    joiner takes its meaning, not its look.
    """
    spans: list[Span] = []
    to_draw: list[str] = []
    for span in rich.spans:
        seen = formulas.shown(clean(span.text))
        spans.append(replace(span, text=seen.text))
        to_draw.extend(seen.to_draw)
    whole = Rich(tuple(spans))
    return trimmed(disarmed(whole, _MENTION) if in_class else whole), tuple(to_draw)


def to_html(rich: Rich) -> str:
    """Write spans in Telegram's HTML; what is aside becomes a quotation that opens on a tap."""
    runs = ((aside, "".join(map(_marked_up, spans))) for aside, spans in groupby(rich.spans, _is_aside))
    return "".join(
        f"<blockquote expandable>{text}</blockquote>" if aside and text.strip() else text
        for aside, text in runs
    )


def _is_aside(span: Span) -> bool:
    return span.aside


def _marked_up(span: Span) -> str:
    """Escape the characters of a span: here and nowhere else."""
    text = html.escape(span.text, quote=False)
    return f"<b>{text}</b>" if span.strong and span.text.strip() else text


def split(rich: Rich, limit: int = TEXT_UNITS, most: int = MOST_PARTS) -> tuple[Rich, ...]:
    """Divide a text into parts of at most `limit` units; see `bot.chat.wording.split`."""
    return wording.split(rich, limit, most, units)


def cut(rich: Rich, limit: int) -> Rich:
    """Return `rich` shortened to `limit` units, ending in an ellipsis if something is missing."""
    return wording.cut(rich, limit, units)


def cut_text(text: str, limit: int) -> str:
    """Return `text` as one clean line of at most `limit` units."""
    return wording.cut_line(text, limit, units)


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
class ApiCall:
    """One call of the Bot API: a text, or a file with a caption. The last part carries the keyboard."""

    text: Rich
    file: Attachment | None = None
    as_photo: bool = False


def plan(message: Message, *, in_class: bool = False) -> tuple[ApiCall, ...]:
    """Divide a message into what Telegram can take.

    A file takes the text as its caption where that fits; otherwise the file goes first, described by its
    alternative text, and the text with the buttons below it, where the thumb is.
    """
    text, to_draw = shown(message.text, in_class=in_class)
    file = message.attachment or _formula_picture(to_draw)
    if file is None:
        return tuple(ApiCall(part) for part in split(text))
    photo = is_photo(file)
    if in_class:
        file = replace(file, alt=disarmed(Rich.of(file.alt), _MENTION).plain)
    whole = caption(text, file)
    if units(whole.plain) <= CAPTION_UNITS:
        return (ApiCall(whole, file, photo),)
    if units(text.plain) <= CAPTION_UNITS:
        return (ApiCall(text, file, photo),)
    first = ApiCall(cut(caption(Rich(), file), CAPTION_UNITS), file, photo)
    return (first, *(ApiCall(part) for part in split(text)))


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
