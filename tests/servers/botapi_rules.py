"""What a request to the Bot API may hold: fields, types, lengths, markup.

From the published Bot API documentation, version 10.1 (11 June 2026), core.telegram.org/bots/api: the
section of each method, "InlineKeyboardMarkup", "Formatting options" (HTML style), "Sending files".
`tests/servers/test_botapi.py` compares the tables with a machine-readable copy where one is at hand.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any


class Wrong(Exception):
    """A request that the documentation does not allow. The text is what the server answers."""


# ---------------------------------------------------------------- fields of methods

# name: (type, required)
Fields = Mapping[str, tuple[str, bool]]

_SENT = {
    "business_connection_id": ("String", False),
    "chat_id": ("Chat", True),
    "message_thread_id": ("Integer", False),
    "direct_messages_topic_id": ("Integer", False),
    "parse_mode": ("String", False),
    "disable_notification": ("Boolean", False),
    "protect_content": ("Boolean", False),
    "allow_paid_broadcast": ("Boolean", False),
    "message_effect_id": ("String", False),
    "suggested_post_parameters": ("JSON", False),
    "reply_parameters": ("ReplyParameters", False),
    "reply_markup": ("InlineKeyboardMarkup", False),
}
_CAPTIONED = {
    "caption": ("String", False),
    "caption_entities": ("JSON", False),
}
_EDITED = {
    "business_connection_id": ("String", False),
    "chat_id": ("Chat", False),
    "message_id": ("Integer", False),
    "inline_message_id": ("String", False),
    "reply_markup": ("InlineKeyboardMarkup", False),
}
METHODS: Mapping[str, Fields] = {
    "getMe": {},
    "getUpdates": {
        "offset": ("Integer", False),
        "limit": ("Integer", False),
        "timeout": ("Integer", False),
        "allowed_updates": ("Strings", False),
    },
    "setWebhook": {
        "url": ("String", True),
        "certificate": ("File", False),
        "ip_address": ("String", False),
        "max_connections": ("Integer", False),
        "allowed_updates": ("Strings", False),
        "drop_pending_updates": ("Boolean", False),
        "secret_token": ("String", False),
    },
    "deleteWebhook": {"drop_pending_updates": ("Boolean", False)},
    "sendMessage": {
        **_SENT,
        "text": ("String", True),
        "entities": ("JSON", False),
        "link_preview_options": ("LinkPreviewOptions", False),
    },
    "sendPhoto": {
        **_SENT,
        **_CAPTIONED,
        "photo": ("File", True),
        "show_caption_above_media": ("Boolean", False),
        "has_spoiler": ("Boolean", False),
    },
    "sendDocument": {
        **_SENT,
        **_CAPTIONED,
        "document": ("File", True),
        "thumbnail": ("File", False),
        "disable_content_type_detection": ("Boolean", False),
    },
    "editMessageText": {
        **_EDITED,
        "text": ("String", False),
        "parse_mode": ("String", False),
        "entities": ("JSON", False),
        "link_preview_options": ("LinkPreviewOptions", False),
        "rich_message": ("JSON", False),
    },
    "editMessageCaption": {
        **_EDITED,
        **_CAPTIONED,
        "parse_mode": ("String", False),
        "show_caption_above_media": ("Boolean", False),
    },
    "editMessageMedia": {**_EDITED, "media": ("InputMedia", True)},
    "editMessageReplyMarkup": dict(_EDITED),
    "answerCallbackQuery": {
        "callback_query_id": ("String", True),
        "text": ("String", False),
        "show_alert": ("Boolean", False),
        "url": ("String", False),
        "cache_time": ("Integer", False),
    },
    "getFile": {"file_id": ("String", True)},
    "setMyCommands": {
        "commands": ("BotCommands", True),
        "scope": ("BotCommandScope", False),
        "language_code": ("String", False),
    },
    "deleteMyCommands": {"scope": ("BotCommandScope", False), "language_code": ("String", False)},
}

# Fields of the objects that travel as JSON: all that are allowed, and which of them must be there.
OBJECTS: Mapping[str, tuple[frozenset[str], frozenset[str]]] = {
    "InlineKeyboardMarkup": (frozenset({"inline_keyboard"}), frozenset({"inline_keyboard"})),
    "InlineKeyboardButton": (
        frozenset(
            {
                "text",
                "icon_custom_emoji_id",
                "style",
                "url",
                "callback_data",
                "web_app",
                "login_url",
                "switch_inline_query",
                "switch_inline_query_current_chat",
                "switch_inline_query_chosen_chat",
                "copy_text",
                "callback_game",
                "pay",
            }
        ),
        frozenset({"text"}),
    ),
    "LinkPreviewOptions": (
        frozenset({"is_disabled", "url", "prefer_small_media", "prefer_large_media", "show_above_text"}),
        frozenset(),
    ),
    "ReplyParameters": (
        frozenset(
            {
                "message_id",
                "chat_id",
                "allow_sending_without_reply",
                "quote",
                "quote_parse_mode",
                "quote_entities",
                "quote_position",
                "checklist_task_id",
                "poll_option_id",
            }
        ),
        frozenset({"message_id"}),
    ),
    "BotCommand": (frozenset({"command", "description"}), frozenset({"command", "description"})),
    "BotCommandScopeAllPrivateChats": (frozenset({"type"}), frozenset({"type"})),
    "BotCommandScopeChat": (frozenset({"type", "chat_id"}), frozenset({"type", "chat_id"})),
    "InputMediaPhoto": (
        frozenset(
            {
                "type",
                "media",
                "caption",
                "parse_mode",
                "caption_entities",
                "show_caption_above_media",
                "has_spoiler",
            }
        ),
        frozenset({"type", "media"}),
    ),
    "InputMediaDocument": (
        frozenset(
            {
                "type",
                "media",
                "thumbnail",
                "caption",
                "parse_mode",
                "caption_entities",
                "disable_content_type_detection",
            }
        ),
        frozenset({"type", "media"}),
    ),
}

UPDATE_KINDS = frozenset(
    {
        "message",
        "edited_message",
        "channel_post",
        "edited_channel_post",
        "callback_query",
        "my_chat_member",
        "chat_member",
        "message_reaction",
        "poll_answer",
    }
)


def checked(method: str, raw: Mapping[str, str], files: Mapping[str, Upload]) -> dict[str, Any]:
    """Turn form fields into values, or raise `Wrong`."""
    fields = METHODS[method]
    unknown = (set(raw) | {name for name in files if not name.startswith("attached")}) - set(fields)
    if unknown:
        raise Wrong(f"unknown fields: {', '.join(sorted(unknown))}")
    missing = [
        name for name, (_, needed) in fields.items() if needed and name not in raw and name not in files
    ]
    if missing:
        raise Wrong(f"missing fields: {', '.join(missing)}")
    values: dict[str, Any] = {name: _value(fields[name][0], name, text, files) for name, text in raw.items()}
    values.update({name: upload for name, upload in files.items() if name in fields})
    return values


@dataclass(frozen=True, slots=True)
class Upload:
    """A file in a request."""

    name: str
    data: bytes


def _value(kind: str, name: str, text: str, files: Mapping[str, Upload]) -> Any:
    match kind:
        case "String" | "File":
            return text
        case "Integer":
            return _integer(name, text)
        case "Boolean":
            if text not in ("true", "false"):
                raise Wrong(f"{name}: {text!r} is no Boolean")
            return text == "true"
        case "Chat":
            return text if text.startswith("@") else _integer(name, text)
    return _structure(kind, name, _json(name, text), files)


def _integer(name: str, text: str) -> int:
    try:
        return int(text)
    except ValueError:
        raise Wrong(f"{name}: {text!r} is no integer") from None


def _json(name: str, text: str) -> Any:
    try:
        return json.loads(text)
    except ValueError:
        raise Wrong(f"can't parse {name} JSON object") from None


def _structure(kind: str, name: str, value: Any, files: Mapping[str, Upload]) -> Any:
    match kind:
        case "Strings":
            if not isinstance(value, list) or set(value) - UPDATE_KINDS:
                raise Wrong(f"{name}: unknown kinds of updates in {value}")
        case "InlineKeyboardMarkup":
            check_keyboard(value)
        case "BotCommands":
            check_commands(value)
        case "BotCommandScope":
            everybody = isinstance(value, dict) and value.get("type") == "all_private_chats"
            fields("BotCommandScopeAllPrivateChats" if everybody else "BotCommandScopeChat", value)
        case "InputMedia":
            return check_media(value, files)
        case "LinkPreviewOptions" | "ReplyParameters":
            fields(kind, value)
    return value


def fields(kind: str, value: Any) -> Mapping[str, Any]:
    """Check the field names of an object."""
    allowed, needed = OBJECTS[kind]
    if not isinstance(value, dict) or set(value) - allowed or needed - set(value):
        raise Wrong(f"can't parse {kind}: {value}")
    return value


def check_keyboard(markup: Any) -> None:
    """Texts not empty, callback data of 1 to 64 bytes, at most 8 in a row and 100 in all."""
    rows = fields("InlineKeyboardMarkup", markup)["inline_keyboard"]
    buttons = [fields("InlineKeyboardButton", button) for row in rows for button in row]
    # 8 and 100 are what the server accepts; common practice, no published source.
    if len(buttons) > 100 or any(len(row) > 8 for row in rows):
        raise Wrong("reply markup is too long")
    for button in buttons:
        if not str(button["text"]).strip():
            raise Wrong("text buttons are not allowed to be empty")
        if not 1 <= len(str(button.get("callback_data", "")).encode()) <= 64:
            raise Wrong("BUTTON_DATA_INVALID")


def check_commands(commands: Any) -> None:
    """At most 100; names of 1 to 32 small letters, digits, underscores; descriptions of 1 to 256."""
    if not isinstance(commands, list) or len(commands) > 100:
        raise Wrong("too many commands")
    for command in commands:
        fields("BotCommand", command)
        name, description = command["command"], command["description"]
        small = all(c.isascii() and (c.islower() or c.isdigit() or c == "_") for c in name)
        if not 1 <= len(name) <= 32 or not small:
            raise Wrong("BOT_COMMAND_INVALID")
        if not 1 <= units(description) <= 256:
            raise Wrong("BOT_COMMAND_DESCRIPTION_INVALID")


def check_media(media: Any, files: Mapping[str, Upload]) -> dict[str, Any]:
    """Check a new medium for a message; an attached file takes the place of its reference."""
    kinds = {"photo": "InputMediaPhoto", "document": "InputMediaDocument"}
    if not isinstance(media, dict) or media.get("type") not in kinds:
        raise Wrong("can't parse InputMedia")
    value = dict(fields(kinds[media["type"]], media))
    reference = str(value["media"])
    if reference.startswith("attach://"):
        upload = files.get(reference.removeprefix("attach://"))
        if upload is None:
            raise Wrong("attached file not found")
        value["media"] = upload
    return value


# ---------------------------------------------------------------- text


def units(text: str) -> int:
    """Length in UTF-16 code units."""
    return len(text.encode("utf-16-le")) // 2


@dataclass
class Parsed:
    """Text without its markup, and what the markup said."""

    text: str = ""
    entities: list[dict[str, Any]] = field(default_factory=list)

    def bold(self) -> list[str]:
        """The pieces of text that stand out."""
        raw = self.text.encode("utf-16-le")
        return [
            raw[2 * e["offset"] : 2 * (e["offset"] + e["length"])].decode("utf-16-le")
            for e in self.entities
            if e["type"] == "bold"
        ]


_TAGS = {
    "b": "bold",
    "strong": "bold",
    "i": "italic",
    "em": "italic",
    "u": "underline",
    "ins": "underline",
    "s": "strikethrough",
    "strike": "strikethrough",
    "del": "strikethrough",
    "tg-spoiler": "spoiler",
    "a": "text_link",
    "code": "code",
    "pre": "pre",
    "blockquote": "blockquote",
}
_NAMED = frozenset({"lt", "gt", "amp", "quot"})


class _Markup(HTMLParser):
    """Telegram's HTML: only its tags, properly nested, and only four named entities."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=False)
        self.parsed = Parsed()
        self._open: list[tuple[str, int]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag not in _TAGS:
            raise Wrong(f'can\'t parse entities: Unsupported start tag "{tag}"')
        self._open.append((tag, units(self.parsed.text)))

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        raise Wrong(f'can\'t parse entities: Unsupported start tag "{tag}/"')

    def handle_endtag(self, tag: str) -> None:
        if not self._open or self._open[-1][0] != tag:
            raise Wrong(f'can\'t parse entities: Unexpected end tag "{tag}"')
        _, start = self._open.pop()
        length = units(self.parsed.text) - start
        if length:
            self.parsed.entities.append({"type": _TAGS[tag], "offset": start, "length": length})

    def handle_data(self, data: str) -> None:
        if "<" in data:
            raise Wrong("can't parse entities: Unclosed start tag")
        self.parsed.text += data

    def handle_entityref(self, name: str) -> None:
        if name not in _NAMED:
            raise Wrong(f"can't parse entities: unknown entity &{name};")
        self.parsed.text += {"lt": "<", "gt": ">", "amp": "&", "quot": '"'}[name]

    def handle_charref(self, name: str) -> None:
        code = int(name[1:], 16) if name[:1] in "xX" else int(name)
        self.parsed.text += chr(code)

    def handle_comment(self, data: str) -> None:
        raise Wrong("can't parse entities: comments are not supported")

    def handle_decl(self, decl: str) -> None:
        raise Wrong("can't parse entities: declarations are not supported")

    def unknown_decl(self, data: str) -> None:
        raise Wrong("can't parse entities: declarations are not supported")

    def handle_pi(self, data: str) -> None:
        raise Wrong("can't parse entities: instructions are not supported")

    def finish(self) -> Parsed:
        """Return what was read; everything must be closed."""
        self.close()
        if self._open:
            raise Wrong(
                f"can't parse entities: Can't find end tag corresponding to start tag \"{self._open[-1][0]}\""
            )
        return self.parsed


def parse_text(text: str, parse_mode: str | None) -> Parsed:
    """Read a text as the server does: markup first, then white space at both ends is dropped."""
    if any("\ud800" <= character <= "\udfff" for character in text):
        raise Wrong("strings must be encoded in UTF-8")
    if parse_mode is None:
        return Parsed(text.strip())
    if parse_mode != "HTML":
        raise Wrong(f"unsupported parse_mode {parse_mode}")
    if text.count("&") != _well_escaped(text):
        raise Wrong("can't parse entities: an ampersand is not escaped")
    markup = _Markup()
    markup.feed(text)
    return _trimmed(markup.finish())


def _well_escaped(text: str) -> int:
    """Count of ampersands that begin one of the entities allowed."""
    import re

    return len(re.findall(r"&(?:lt|gt|amp|quot|#\d+|#[xX][0-9a-fA-F]+);", text))


def _trimmed(parsed: Parsed) -> Parsed:
    start = len(parsed.text) - len(parsed.text.lstrip())
    cut = units(parsed.text[:start])
    text = parsed.text.strip()
    length = units(text)
    entities = []
    for entity in parsed.entities:
        begin = max(0, entity["offset"] - cut)
        end = min(length, entity["offset"] + entity["length"] - cut)
        if end > begin:
            entities.append({**entity, "offset": begin, "length": end - begin})
    return Parsed(text, entities)


def checked_text(text: str, parse_mode: str | None) -> Parsed:
    """Text of a message: 1 to 4096 after its markup is read."""
    parsed = parse_text(text, parse_mode)
    if not parsed.text:
        raise Wrong("message text is empty")
    if units(parsed.text) > 4096:
        raise Wrong("message is too long")
    return parsed


def checked_caption(text: str, parse_mode: str | None) -> Parsed:
    """Text of a file: 0 to 1024."""
    parsed = parse_text(text, parse_mode)
    if units(parsed.text) > 1024:
        raise Wrong("message caption is too long")
    return parsed
