"""What Telegram delivers, turned into events of the port.

Left out on purpose: what other bots say, edited messages (an answer was counted when it came; a corrected
one is sent anew), copies of channel posts that Telegram itself puts into a linked group, and notices such
as "joined the group".
"""

from __future__ import annotations

import re
from datetime import UTC, datetime

from telegram import CallbackQuery, Chat, ChatMember, ChatMemberUpdated, PhotoSize, Update, User
from telegram import Message as TelegramMessage
from telegram.constants import ChatID, ChatType

from bot.chat.port import ButtonPressed, Content, FileSent, Incoming, Place, PresenceChanged, TextSaid
from bot.chat.wording import readable

PLATFORM = "telegram"

KINDS = ("message", "callback_query", "channel_post", "my_chat_member")
"""Kinds of updates to ask for. Telegram remembers the last list, so it is always sent whole."""

_COMMAND = re.compile(r"(/\w+)@(\w+)")
_GONE = frozenset({ChatMember.LEFT, ChatMember.BANNED})


def translate(
    update: Update, now: datetime, *, username: str = "", use_dates: bool = True
) -> Incoming | None:
    """Turn an update into an event, or None if it is nothing for us.

    Parameters
    ----------
    update : telegram.Update
        As python-telegram-bot read it.
    now : datetime
        The moment of receipt. Presses of buttons carry no time of their own.
    username : str
        The bot's own name without ``@``, to know which ``/command@name`` is meant for it.
    use_dates : bool
        Take the time that Telegram gives. False while a rehearsal clock runs.
    """
    if update.callback_query is not None:
        return _press(update.update_id, update.callback_query, now)
    if update.my_chat_member is not None:
        return _membership(
            update.update_id, update.my_chat_member, _moment(update.my_chat_member.date, now, use_dates)
        )
    message = update.message or update.channel_post
    if message is None:
        return None
    return _said(update.update_id, message, _moment(message.date, now, use_dates), username)


def _moment(date: datetime, now: datetime, use_dates: bool) -> datetime:
    # Never in the future: Telegram's clock and ours may differ by a little.
    return min(date.astimezone(UTC), now) if use_dates else now


def _event(
    update_id: int, chat: Chat, user: User | None, at: datetime, content: Content, *, signed: str = ""
) -> Incoming:
    return Incoming(
        platform=PLATFORM,
        key=str(update_id),
        address=str(chat.id),
        user="" if user is None else str(user.id),
        place=_place(chat),
        at=at,
        content=content,
        name=readable(signed if user is None else user.first_name),
        language="" if user is None else user.language_code or "",
        title=readable(chat.title),
    )


def _place(chat: Chat) -> Place:
    return "private" if chat.type == ChatType.PRIVATE else "class"


# ---------------------------------------------------------------- said


def _said(update_id: int, message: TelegramMessage, at: datetime, username: str) -> Incoming | None:
    if message.migrate_to_chat_id is not None:
        moved = PresenceChanged("moved", str(message.migrate_to_chat_id))
        return _event(update_id, message.chat, None, at, moved)
    if message.is_automatic_forward or (_author(message) is None and _is_bot(message)):
        return None
    content = _content(message, username)
    if content is None:
        return None
    author = _author(message)
    return _event(update_id, message.chat, author, at, content, signed=message.author_signature or "")


def _author(message: TelegramMessage) -> User | None:
    """Return who wrote, or None for a post in a channel, which names no author.

    In a group somebody can hide behind the group or behind a channel of their own: then Telegram's pseudo user
    stands for them, who has no role anywhere. Nobody is to pass for the author of a channel's post.
    """
    user = message.from_user
    if message.chat.type != ChatType.CHANNEL and message.sender_chat is not None:
        return user
    if user is None or user.is_bot or message.sender_chat is not None:
        return None
    return user


def _is_bot(message: TelegramMessage) -> bool:
    """Whether another bot wrote. Anonymous administrators and channels have a pseudo bot as sender."""
    user = message.from_user
    pseudo = (ChatID.ANONYMOUS_ADMIN, ChatID.FAKE_CHANNEL, ChatID.SERVICE_CHAT)
    return user is not None and user.is_bot and user.id not in pseudo and message.sender_chat is None


def _content(message: TelegramMessage, username: str) -> Content | None:
    caption = readable(message.caption)
    if message.text is not None:
        text = _addressed(readable(message.text), username)
        return None if text is None else TextSaid(text, _reply_to(message))
    if message.photo:
        return _photo(max(message.photo, key=lambda size: size.width * size.height), caption)
    if message.document is not None:
        file = message.document
        return _file(file.file_id, file.file_name, file.mime_type, file.file_size, caption)
    return _other(message, caption)


def _addressed(text: str, username: str) -> str | None:
    """Cut our name from ``/help@name``; None if the command is for another bot."""
    match = _COMMAND.match(text)
    if match is None:
        return text
    if username and match[2].lower() != username.lower():
        return None
    return match[1] + text[match.end() :]


def _reply_to(message: TelegramMessage) -> str:
    replied = message.reply_to_message
    return "" if replied is None else str(replied.message_id)


def _photo(size: PhotoSize, caption: str) -> FileSent:
    # Telegram turns every photo into JPEG.
    return FileSent(size.file_id, "photo.jpg", "image/jpeg", size.file_size or 0, caption)


def _file(handle: str, name: str | None, media_type: str | None, size: int | None, caption: str) -> FileSent:
    kind = media_type or "application/octet-stream"
    return FileSent(handle, readable(name) or "file", kind, size or 0, caption)


def _other(message: TelegramMessage, caption: str) -> Content | None:
    """Sound and film are files that nobody can read; a sticker is its sign; notices are nothing."""
    if message.voice is not None:
        voice = message.voice
        return _file(voice.file_id, "voice.ogg", voice.mime_type or "audio/ogg", voice.file_size, caption)
    if message.sticker is not None:
        return TextSaid(readable(message.sticker.emoji), _reply_to(message))
    for file in (message.video, message.audio, message.animation):
        if file is not None:
            return _file(file.file_id, file.file_name, file.mime_type, file.file_size, caption)
    if message.video_note is not None:
        note = message.video_note
        return _file(note.file_id, "video.mp4", "video/mp4", note.file_size, caption)
    return _unreadable(message)


def _unreadable(message: TelegramMessage) -> Content | None:
    """Give an empty text for what has no words, so that a person is told so; nothing of it is kept."""
    wordless = (message.contact, message.location, message.venue, message.poll, message.dice, message.story)
    if message.chat.type == ChatType.PRIVATE and any(part is not None for part in wordless):
        return TextSaid("", _reply_to(message))
    return None


# ---------------------------------------------------------------- pressed


def _press(update_id: int, query: CallbackQuery, now: datetime) -> Incoming | None:
    message = query.message
    if query.data is None or message is None:
        return None
    pressed = ButtonPressed(readable(query.data), str(message.message_id))
    return _event(update_id, message.chat, query.from_user, now, pressed)


# ---------------------------------------------------------------- reachable or not


def _membership(update_id: int, change: ChatMemberUpdated, at: datetime) -> Incoming | None:
    before, after = change.old_chat_member, change.new_chat_member
    if change.chat.type == ChatType.PRIVATE:
        presence = PresenceChanged("blocked" if after.status in _GONE else "unblocked")
        return _event(update_id, change.chat, change.from_user, at, presence)
    if _gone(after):
        if _gone(before):
            return None
        presence = PresenceChanged("removed")
    elif not _may_write(after, change.chat):
        presence = PresenceChanged("limited")
    elif _gone(before) or not _may_write(before, change.chat):
        presence = PresenceChanged("added")
    else:
        return None
    by = change.from_user
    return _event(update_id, change.chat, None if by.is_bot else by, at, presence)


def _gone(member: ChatMember) -> bool:
    return member.status in _GONE or getattr(member, "is_member", True) is False


def _may_write(member: ChatMember, chat: Chat) -> bool:
    """Channels: only administrators with the right to post. Groups: everybody who is not restricted."""
    if chat.type == ChatType.CHANNEL:
        return bool(getattr(member, "can_post_messages", member.status == ChatMember.OWNER))
    return bool(getattr(member, "can_send_messages", True))
