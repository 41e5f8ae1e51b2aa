"""What a homeserver delivers, turned into events of the port.

Left out on purpose: notices (other bots speak in those), edited messages (an answer was counted when it came; a
corrected one is sent anew), reactions to anything but our own messages, requests to compare keys (the device is
cross-signed instead), and everything about calls.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from nio import (
    Event,
    MatrixRoom,
    RoomEncryptedMedia,
    RoomMessage,
    RoomMessageEmote,
    RoomMessageMedia,
    RoomMessageNotice,
    RoomMessageText,
    StickerEvent,
)

from bot.chat.port import Content, FileSent, Incoming, Place, TextSaid
from bot.chat.wording import readable

PLATFORM = "matrix"

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_EXTENSIONS = {"m.image": "image/jpeg", "m.audio": "audio/ogg", "m.video": "video/mp4"}
_VERIFICATION = "m.key.verification."
"""How requests to compare keys begin. They are between two clients, and nothing that somebody said."""
_REPLY_FALLBACK = re.compile(r"\A(?:> [^\n]*\n)+\n?")


def moment(event: Event, now: datetime, *, use_dates: bool = True) -> datetime:
    """Return when something was said; never in the future, since the server's clock and ours may differ."""
    if not use_dates:
        return now
    try:
        return min(_EPOCH + timedelta(milliseconds=event.server_timestamp), now)
    except OverflowError:  # a time that no calendar has: the sender's server made it up
        return now


def incoming(
    event: Event, room: MatrixRoom, place: Place, at: datetime, content: Content, user: str = ""
) -> Incoming:
    """Return an event of the port about what happened in a room."""
    speaker = user or event.sender
    return Incoming(
        platform=PLATFORM,
        key=event.event_id,
        address=room.room_id,
        user=speaker,
        place=place,
        at=at,
        content=content,
        name=readable(room.user_name(speaker)),
    )


def said(event: Event) -> Content | None:
    """Return what somebody said or sent, or None if it is nothing for us."""
    if isinstance(event, RoomMessageNotice) or _is_edit(event):
        return None
    if isinstance(event, RoomMessageText | RoomMessageEmote):
        return _text(event)
    if isinstance(event, RoomMessageMedia | RoomEncryptedMedia):
        return _file(event)
    if str(_content(event).get("msgtype", "")).startswith(_VERIFICATION):
        return None
    # Words cannot be read from a place on a map or a sticker: an empty text, so that the person is told so.
    return TextSaid("") if isinstance(event, RoomMessage | StickerEvent) else None


def _content(event: Event) -> dict[str, Any]:
    content = event.source.get("content")
    return content if isinstance(content, dict) else {}


def _relation(event: Event) -> dict[str, Any]:
    relation = _content(event).get("m.relates_to")
    return relation if isinstance(relation, dict) else {}


def _is_edit(event: Event) -> bool:
    return _relation(event).get("rel_type") == "m.replace"


def _text(event: RoomMessageText | RoomMessageEmote) -> TextSaid:
    answered = _relation(event).get("m.in_reply_to")
    reference = answered.get("event_id", "") if isinstance(answered, dict) else ""
    body = readable(event.body)
    if not isinstance(reference, str) or not reference:
        return TextSaid(body)
    # Older clients quote the message that they reply to in front of the answer.
    return TextSaid(_REPLY_FALLBACK.sub("", body), reference)


# ---------------------------------------------------------------- files


@dataclass(frozen=True, slots=True)
class Handle:
    """Where a file is and, if it is encrypted, how to read it. Kept as text in the inbox."""

    url: str
    key: str = ""
    iv: str = ""
    sha256: str = ""

    def packed(self) -> str:
        """Return it as one line."""
        fields = [self.url, self.key, self.iv, self.sha256]
        return json.dumps(fields if self.key else fields[:1], separators=(",", ":"))

    @classmethod
    def unpacked(cls, line: str) -> Handle:
        """Read what `packed` wrote. Raises `ValueError` for anything else."""
        fields = json.loads(line)
        if (
            not isinstance(fields, list)
            or len(fields) not in (1, 4)
            or not all(isinstance(f, str) for f in fields)
        ):
            raise ValueError("This is no reference of a file.")
        return cls(*fields)


def _file(event: RoomMessageMedia | RoomEncryptedMedia) -> FileSent | None:
    handle = _handle(event)
    if handle is None:
        return None
    content = _content(event)
    info = content.get("info")
    info = info if isinstance(info, dict) else {}
    body, name = _line(content.get("body")), _line(content.get("filename"))
    kind = _line(info.get("mimetype")) or _EXTENSIONS.get(
        str(content.get("msgtype")), "application/octet-stream"
    )
    size = info.get("size")
    return FileSent(
        handle.packed(),
        name or body or "file",
        kind,
        size if isinstance(size, int) and size > 0 else 0,
        # With a file name of its own, the body is what the person wrote below the file (specification v1.10).
        body if name and body != name else "",
    )


def _handle(event: RoomMessageMedia | RoomEncryptedMedia) -> Handle | None:
    if isinstance(event, RoomMessageMedia):
        return Handle(event.url)
    key, sha256 = event.key.get("k"), event.hashes.get("sha256")
    if not (isinstance(key, str) and isinstance(sha256, str)):
        return None
    return Handle(event.url, key, event.iv, sha256)


def _line(value: object) -> str:
    return readable(value) if isinstance(value, str) else ""
