"""Messages and events of the port as plain data, for outbox and inbox, and back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from bot.chat.port import (
    Attachment,
    Button,
    ButtonPressed,
    Content,
    FileSent,
    Incoming,
    MenuEntry,
    Message,
    PresenceChanged,
    TextSaid,
)
from bot.words.rich import Rich, Span


@dataclass(frozen=True, slots=True)
class Packed:
    """A message as plain data for the outbox, its attachment apart."""

    body: dict[str, Any] = field(default_factory=dict)
    attachment: Attachment | None = None


def pack(message: Message) -> Packed:
    """Turn a message into JSON-able data; `unpack` is its inverse."""
    body: dict[str, Any] = {
        "text": [_packed(span) for span in message.text.spans],
        "buttons": [[[b.label, b.action, list(b.typed), b.letter] for b in row] for row in message.buttons],
        "key": message.key,
        "replaces": message.replaces,
        "urgent": message.urgent,
        "language": message.language,
    }
    if message.menu is not None:
        body["menu"] = [[entry.command, entry.description] for entry in message.menu]
    return Packed(body, message.attachment)


def _packed(span: Span) -> list[Any]:
    return [span.text, span.strong, True] if span.aside else [span.text, span.strong]


def unpack(body: Mapping[str, Any], attachment: Attachment | None = None) -> Message:
    """Rebuild a message from what `pack` made of it."""
    menu = body.get("menu")
    return Message(
        text=Rich(tuple(Span(*parts) for parts in body["text"])),
        buttons=tuple(
            tuple(Button(label, action, tuple(typed), letter) for label, action, typed, letter in row)
            for row in body["buttons"]
        ),
        attachment=attachment,
        key=body["key"],
        replaces=body["replaces"],
        urgent=body["urgent"],
        menu=None if menu is None else tuple(MenuEntry(command, text) for command, text in menu),
        language=body.get("language", ""),
    )


def pack_incoming(event: Incoming) -> dict[str, Any]:
    """Turn an event into JSON-able data for the inbox (file bytes are never part of it)."""
    content = event.content
    fields: dict[str, Any]
    match content:
        case TextSaid():
            fields = {"kind": "text", "text": content.text, "reply_to": content.reply_to}
        case ButtonPressed():
            fields = {"kind": "button", "action": content.action, "message_ref": content.message_ref}
        case FileSent():
            fields = {
                "kind": "file",
                "handle": content.handle,
                "name": content.name,
                "media_type": content.media_type,
                "size_bytes": content.size_bytes,
                "caption": content.caption,
            }
        case PresenceChanged():
            fields = {"kind": "presence", "change": content.change, "new_address": content.new_address}
    return {
        "platform": event.platform,
        "key": event.key,
        "address": event.address,
        "user": event.user,
        "place": event.place,
        "at": event.at.isoformat(),
        "name": event.name,
        "language": event.language,
        "title": event.title,
        "content": fields,
    }


_CONTENT = {"text": TextSaid, "button": ButtonPressed, "file": FileSent, "presence": PresenceChanged}


def unpack_incoming(data: Mapping[str, Any]) -> Incoming:
    """Rebuild an event from what `pack_incoming` made of it."""
    fields = dict(data["content"])
    content: Content = _CONTENT[fields.pop("kind")](**fields)
    return Incoming(
        platform=data["platform"],
        key=data["key"],
        address=data["address"],
        user=data["user"],
        place=data["place"],
        at=datetime.fromisoformat(data["at"]),
        content=content,
        name=data["name"],
        language=data["language"],
        title=data.get("title", ""),
    )
