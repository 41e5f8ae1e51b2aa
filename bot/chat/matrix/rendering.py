"""What Matrix is given: one place where text becomes an event, buttons signs to tap, and sizes are kept.

Matrix has no buttons. The choices stand in the text, lettered there (clients number lists in their own way), and
the bot puts one reaction for each below the message: a tap on it answers. Typing the letter or the words does the
same. Reactions travel unencrypted even in encrypted rooms, so they are letters and things, never the words. None is a
digit: below a question a digit may be the answer, typed or tapped, and it must not mean "Not sure".
"""

from __future__ import annotations

import html
import io
import json
import re
from dataclasses import dataclass, replace
from typing import Any

from bot.chat import formulas, wording
from bot.chat.port import Attachment, Button, Message
from bot.chat.wording import WORD_JOINER, clean, cut_line, disarmed, trimmed
from bot.words import Words, words
from bot.words.rich import Rich, Span

TEXT_COST = 36_000
"""Most bytes of one text. An event may have 65,536 (specification, "Size limits"): the text stands in it twice,
plain and formatted, and encryption makes four bytes of three."""

_FALLBACK_CHARACTERS = 400
_NAME_CHARACTERS = 60
_ALT_CHARACTERS = 1000

ACTIONS = "holdfast.actions"
"""Our own field of a message: what each sign means. Read back when the database does not know the message yet."""

# Everyday things that say nothing about right or wrong and are told apart without colour.
_THINGS = tuple("🔑☕⛵🌙🎈📎🚲🌵⚓🏠")
_OTHER_THINGS = tuple("🐟🔔🌻🧭🎒📌🌂🚀🍋🍀")
_FIRST_LETTER = ord("🇦")
_VARIATION = "\ufe0e\ufe0f"
_EN_SPACE = "\u2002"
_NO_BREAK = "\u00a0"

# Whole-room mentions, people (@name:server), aliases (#room:server), rooms (!id) and links to any of them.
_MENTION = re.compile(
    r"@(?=room)|[@#!](?=[^\s:]+:\w)|(?<=matrix)(?=\.to\b)|(?<=matrix)(?=:[a-z]+/)", re.IGNORECASE
)


# ---------------------------------------------------------------- text


def unmentioned(text: str) -> str:
    """Return `text` with an invisible joiner in whatever would call a person or a room, or lead to one."""
    return _MENTION.sub(lambda found: found[0] + WORD_JOINER, text)


def shown(rich: Rich) -> tuple[Rich, tuple[str, ...]]:
    """Clean a text and make its formulas readable; also return the formulas worth a picture."""
    spans: list[Span] = []
    to_draw: list[str] = []
    for span in rich.spans:
        seen = formulas.shown(clean(span.text))
        spans.append(replace(span, text=seen.text))
        to_draw.extend(seen.to_draw)
    return trimmed(disarmed(Rich(tuple(spans)), _MENTION)), tuple(to_draw)


def to_html(rich: Rich) -> str:
    """Write spans in Matrix's HTML. Every character of every span is escaped here and nowhere else."""
    return "".join(
        f"<strong>{_escaped(span.text)}</strong>"
        if span.strong and span.text.strip()
        else _escaped(span.text)
        for span in rich.spans
    )


def _escaped(text: str) -> str:
    text = re.sub(" {2,}", lambda run: " " + _NO_BREAK * (len(run[0]) - 1), html.escape(text, quote=False))
    return text.replace("\n", "<br>")


def cost(text: str) -> int:
    """Bytes that `text` takes in an event, plain and formatted. The library writes JSON in ASCII."""
    escaped = html.escape(text, quote=False).replace(" ", _NO_BREAK).replace("\n", "<br>")
    return len(json.dumps(text)) + len(json.dumps(escaped)) - 4


# ---------------------------------------------------------------- buttons


@dataclass(frozen=True, slots=True)
class Tap:
    """One reaction of ours: its sign, and the button that it stands for."""

    key: str
    button: Button


def taps(message: Message) -> tuple[Tap, ...]:
    """Return the reactions that a message is to have.

    A choice has its letter as a sign, other buttons things. A message that takes another's place has other things
    than that one: a person's old reaction stays, and must not stand for something new.
    """
    things = iter(_OTHER_THINGS if message.replaces else _THINGS)
    found: list[Tap] = []
    for button in message.all_buttons:
        key = _letter_sign(button.letter) if button.letter else next(things, "")
        if key:
            found.append(Tap(key, button))
    return tuple(found)


def _letter_sign(letter: str) -> str:
    # Regional indicators: every client draws them as a letter in a box.
    return chr(_FIRST_LETTER + ord(letter[0].upper()) - ord("A")) if "A" <= letter[0].upper() <= "Z" else ""


def normal_key(key: str) -> str:
    """Return how signs are compared: without invisible marks that clients add or drop; a letter is its sign."""
    bare = key.translate(dict.fromkeys(map(ord, _VARIATION))).strip()
    if len(bare) == 1 and bare.isascii() and bare.isalpha():
        return _letter_sign(bare)
    return {"🅰": "🇦", "🅱": "🇧"}.get(bare, bare)


def actions(message: Message) -> dict[str, str]:
    """Return what each sign of a message means."""
    return {normal_key(tap.key): tap.button.action for tap in taps(message)}


def with_buttons(text: Rich, message: Message) -> Rich:
    """Add the buttons to a text, one per line, and how to press them."""
    if not message.all_buttons:
        return text
    ours = words(message.language)
    signs = {id(tap.button): tap.key for tap in taps(message)}
    rich = text + Rich.of("\n\n" if text.spans else "")
    for number, button in enumerate(message.all_buttons):
        rich = rich + Rich.of("\n" if number else "") + _line(button, signs.get(id(button), "•"), ours)
    return rich + Rich.of("\n\n") + ours.say(f"matrix.tap.{_kinds(message)}")


def _line(button: Button, sign: str, ours: Words) -> Rich:
    label, _ = shown(Rich.of(cut_line(button.label, 500, len)))
    if button.letter:
        same = label.plain == button.letter
        return Rich.of(button.letter, strong=True) + (Rich() if same else Rich.of(_EN_SPACE) + label)
    line = Rich.of(f"{sign}{_EN_SPACE}") + label
    typed = button.typed[0] if button.typed else ""
    if typed.casefold() in ("", button.label.casefold()):
        return line
    return line + Rich.of(" ") + ours.say("matrix.typed", typed=unmentioned(clean(typed)))


def _kinds(message: Message) -> str:
    lettered = [bool(button.letter) for button in message.all_buttons]
    return "letter" if all(lettered) else "both" if any(lettered) else "other"


# ---------------------------------------------------------------- events


@dataclass(frozen=True, slots=True)
class Plan:
    """What a message comes to: files first, then its text, whose last part has the reactions below it."""

    files: tuple[Attachment, ...]
    texts: tuple[Rich, ...]
    taps: tuple[Tap, ...]
    actions: dict[str, str]


def plan(message: Message) -> Plan:
    """Divide a message into events.

    A picture goes first, described by its alternative text; the question stands below it, where the thumb is, and
    can be edited in place. Not every client shows captions, so nothing that matters stands in one.
    """
    text, to_draw = shown(message.text)
    picture = formulas.picture(to_draw)
    drawn = (
        () if picture is None else (Attachment("formula.png", "image/png", picture, _formula_alt(to_draw)),)
    )
    files = (*((message.attachment,) if message.attachment else ()), *drawn)
    texts = wording.split(with_buttons(text, message), TEXT_COST, wording.MOST_PARTS, cost)
    return Plan(files, texts, taps(message), actions(message))


def _formula_alt(to_draw: tuple[str, ...]) -> str:
    return "; ".join(formulas.readable(formula).text for formula in to_draw)


def text_content(rich: Rich) -> dict[str, Any]:
    """Return an ``m.text``: plain always, formatted only where something stands out. It mentions nobody."""
    content: dict[str, Any] = {"msgtype": "m.text", "body": rich.plain, "m.mentions": {}}
    if any(span.strong for span in rich.spans):
        content |= {"format": "org.matrix.custom.html", "formatted_body": to_html(rich)}
    return content


def edit_content(rich: Rich, meaning: dict[str, str], reference: str) -> dict[str, Any]:
    """Return the event that puts a text in the place of the message `reference`."""
    new = text_content(rich)
    if meaning:
        new[ACTIONS] = meaning
    return {
        "msgtype": "m.text",
        # Only for clients that know no edits.
        "body": f"* {_shortened(rich)}",
        "m.mentions": {},
        "m.new_content": new,
        "m.relates_to": {"rel_type": "m.replace", "event_id": reference},
    }


def _shortened(rich: Rich) -> str:
    """Return a text for clients that show an edit below as one more message: how it begins, and what it comes to."""
    whole = rich.plain
    _, _, last = whole.rpartition("\n")
    room = _FALLBACK_CHARACTERS - len(last) - 1
    if len(whole) <= _FALLBACK_CHARACTERS or room < _FALLBACK_CHARACTERS // 2:
        return wording.cut(rich, _FALLBACK_CHARACTERS, len).plain
    return f"{wording.cut(rich, room, len).plain}\n{last}"


def file_content(file: Attachment, where: dict[str, Any]) -> dict[str, Any]:
    """Return the event of an uploaded file; `where` is its ``url`` or, encrypted, its ``file``."""
    name = cut_line(unmentioned(file.name), _NAME_CHARACTERS, len) or "file"
    alt = unmentioned(cut_line(file.alt, _ALT_CHARACTERS, len)) if file.is_picture else ""
    return {
        "msgtype": "m.image" if is_drawn(file) else "m.file",
        "body": alt or name,
        "filename": name,
        "info": {"mimetype": file.media_type, "size": len(file.data), **_dimensions(file)},
        "m.mentions": {},
        **where,
    }


def is_drawn(file: Attachment) -> bool:
    """Whether clients show the file in the chat."""
    return file.media_type in {"image/png", "image/jpeg", "image/webp", "image/gif"}


def _dimensions(file: Attachment) -> dict[str, int]:
    """Width and height, so that the chat does not jump when the picture comes; nothing for what is no picture."""
    if not is_drawn(file):
        return {}
    from PIL import Image, UnidentifiedImageError

    try:
        with Image.open(io.BytesIO(file.data)) as picture:
            return {"w": picture.width, "h": picture.height}
    except (UnidentifiedImageError, OSError, ValueError):
        return {}
