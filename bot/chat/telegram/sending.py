"""How a planned message reaches Telegram: sent, edited in place, its files uploaded once.

Raises python-telegram-bot's errors as they come; `bot.chat.telegram.adapter` translates them.
"""

from __future__ import annotations

import asyncio
import hashlib
import logging
from collections import OrderedDict
from collections.abc import Awaitable, Callable
from dataclasses import replace
from typing import Any, Protocol, TypeVar

from telegram import (
    Bot,
    BotCommandScopeAllPrivateChats,
    BotCommandScopeChat,
    InlineKeyboardMarkup,
    InputMediaDocument,
    InputMediaPhoto,
    LinkPreviewOptions,
)
from telegram import Message as TelegramMessage
from telegram.constants import ParseMode
from telegram.error import BadRequest

from bot.chat.port import MenuEntry, Message
from bot.chat.telegram import rendering as out
from bot.chat.telegram.errors import says
from bot.words.rich import Rich

log = logging.getLogger(__name__)

T = TypeVar("T")

_NO_PREVIEW = LinkPreviewOptions(is_disabled=True)
_REMEMBERED = 1024

# What the Bot API server says, lower case.
_UNCHANGED = ("message is not modified",)
_NO_TEXT = ("there is no text in the message to edit",)
_NOT_EDITABLE = (
    "can't be edited",
    "message to edit not found",
    "message_id_invalid",
    "no caption in the message",
)
_STALE_FILE = ("wrong file identifier", "wrong remote file", "wrong file_id", "file reference")
_NO_PHOTO = ("photo_invalid_dimensions", "image_process_failed", "photo_ext_invalid")
_BAD_MARKUP = ("can't parse entities",)


class KnownFiles(Protocol):
    """Remembers what Telegram calls a file that it already has, so that it is uploaded once."""

    async def get(self, digest: str) -> str | None:
        """Return Telegram's file identifier for the bytes with this digest."""
        ...

    async def put(self, digest: str, file_id: str) -> None:
        """Remember it."""
        ...


class FilesInMemory:
    """Remembers files until the program ends."""

    def __init__(self) -> None:
        self._known: OrderedDict[str, str] = OrderedDict()

    async def get(self, digest: str) -> str | None:
        """Return Telegram's file identifier for the bytes with this digest."""
        return self._known.get(digest)

    async def put(self, digest: str, file_id: str) -> None:
        """Remember it, and forget the oldest when there are many."""
        _remember(self._known, digest, file_id)


def _remember(memory: OrderedDict[str, Any], key: str, value: Any) -> None:
    memory[key] = value
    memory.move_to_end(key)
    if len(memory) > _REMEMBERED:
        memory.popitem(last=False)


class TelegramSender:
    """Sends and edits with one bot. Keeps only what saves calls: all of it may be lost."""

    def __init__(self, bot: Bot, known_files: KnownFiles) -> None:
        self._bot = bot
        self.known = known_files
        self._sent_parts: OrderedDict[str, int] = OrderedDict()
        self._menus: OrderedDict[str, tuple[MenuEntry, ...]] = OrderedDict()

    # ------------------------------------------------------------ new messages

    async def send(self, address: str, message: Message, token: str) -> str:
        """Send a message in as many parts as it needs and return the reference of the last one.

        An attempt with the same `token` goes on after the parts that went out before. The reference is
        empty if there is nothing to show.
        """
        parts = await _plan(address, message)
        markup = out.keyboard(message.buttons)
        reference = ""
        for number, part in enumerate(parts):
            if number < self._sent_parts.get(token, 0):
                continue
            last = number == len(parts) - 1
            sent = await self._send_part(address, part, markup if last else None)
            reference = str(sent.message_id)
            if not last:
                _remember(self._sent_parts, token, number + 1)
        self._sent_parts.pop(token, None)
        return reference

    async def _send_part(
        self, address: str, part: out.ApiCall, markup: InlineKeyboardMarkup | None
    ) -> TelegramMessage:
        if part.file is None:
            return await self._marked_up(
                self._bot.send_message,
                "text",
                part.text,
                chat_id=address,
                reply_markup=markup,
                link_preview_options=_NO_PREVIEW,
            )
        try:
            return await self._send_file(address, part, markup)
        except BadRequest as error:
            if not (part.as_photo and says(error, *_NO_PHOTO)):
                raise
            return await self._send_file(address, replace(part, as_photo=False), markup)

    async def _send_file(
        self, address: str, part: out.ApiCall, markup: InlineKeyboardMarkup | None
    ) -> TelegramMessage:
        call = self._bot.send_photo if part.as_photo else self._bot.send_document
        field = "photo" if part.as_photo else "document"

        async def with_file(content: str | bytes) -> TelegramMessage:
            upload = {field: content, "filename": _file_name(part) if isinstance(content, bytes) else None}
            return await self._marked_up(
                call, "caption", part.text, chat_id=address, reply_markup=markup, **upload
            )

        return await self._uploaded_once(part, with_file)

    async def _uploaded_once(
        self, part: out.ApiCall, call: Callable[[str | bytes], Awaitable[TelegramMessage]]
    ) -> TelegramMessage:
        """Call with Telegram's own name of the file if we know it, else with its bytes."""
        assert part.file is not None  # noqa: S101 - for mypy: only parts with a file come here
        digest = ("p:" if part.as_photo else "d:") + hashlib.sha256(part.file.data).hexdigest()
        known = await self.known.get(digest)
        if known:
            try:
                return await call(known)
            except BadRequest as error:
                if not says(error, *_STALE_FILE):
                    raise
        sent = await call(part.file.data)
        await self._note_file(digest, sent)
        return sent

    async def _note_file(self, digest: str, sent: TelegramMessage) -> None:
        file_id = sent.photo[-1].file_id if sent.photo else sent.document.file_id if sent.document else ""
        if not file_id:
            return
        try:
            await self.known.put(digest, file_id)
        except Exception as error:
            # The message is out: failing here would send it again, only to save an upload.
            log.warning("A file identifier of Telegram was not kept: %s", type(error).__name__)

    async def _marked_up(self, call: Callable[..., Awaitable[T]], field: str, text: Rich, **rest: Any) -> T:
        """Call with HTML. If Telegram cannot read it, that is our fault: the words go out without emphasis."""
        if not text.spans:
            return await call(**rest)
        try:
            return await call(**{field: out.to_html(text)}, parse_mode=ParseMode.HTML, **rest)
        except BadRequest as error:
            if not says(error, *_BAD_MARKUP):
                raise
            log.error("Telegram could not read our markup; the message went out as plain text")
            return await call(**{field: text.plain}, **rest)

    # ------------------------------------------------------------ edits

    async def edit(self, address: str, message: Message, reference: str) -> str | None:
        """Put `message` in the place of an older one and return its reference.

        None if that cannot be done: too long, gone, or not ours. Its buttons are then taken away where
        possible, since a new message follows. A picture that the older message had stays unless the new
        one brings its own; formulas are written as text here, since a picture of them would replace it.
        """
        if not reference.isdigit():
            return None
        if message.attachment is not None:
            return await self._edit_file(address, message, reference)
        text, _ = out.shown(message.text, in_class=in_class(address))
        markup = out.keyboard(message.buttons)
        if not text.spans:
            return await self._edited(reference, self._keyboard(address, reference, markup))
        if out.units(text.plain) > out.TEXT_UNITS:
            await self._remove_buttons(address, reference)
            return None
        where = {"chat_id": address, "message_id": int(reference), "reply_markup": markup}
        try:
            call = self._marked_up(
                self._bot.edit_message_text, "text", text, link_preview_options=_NO_PREVIEW, **where
            )
            return await self._edited(reference, call)
        except BadRequest as error:
            if not says(error, *_NO_TEXT):
                raise
        # The older message is a picture: it stays, and its caption changes.
        if out.units(text.plain) > out.CAPTION_UNITS:
            await self._remove_buttons(address, reference)
            return None
        call = self._marked_up(self._bot.edit_message_caption, "caption", text, **where)
        return await self._edited(reference, call)

    async def _edit_file(self, address: str, message: Message, reference: str) -> str | None:
        parts = await _plan(address, message)
        if len(parts) != 1:
            await self._remove_buttons(address, reference)
            return None
        part, markup = parts[0], out.keyboard(message.buttons)
        kind = InputMediaPhoto if part.as_photo else InputMediaDocument

        async def with_file(content: str | bytes) -> Any:
            async def call(caption: str | None = None, parse_mode: str | None = None) -> Any:
                media = kind(content, caption=caption, parse_mode=parse_mode, filename=_file_name(part))
                return await self._bot.edit_message_media(
                    media, chat_id=address, message_id=int(reference), reply_markup=markup
                )

            return await self._marked_up(call, "caption", part.text)

        return await self._edited(reference, self._uploaded_once(part, with_file))

    async def _remove_buttons(self, address: str, reference: str) -> None:
        await self._edited(reference, self._keyboard(address, reference, None))

    def _keyboard(
        self, address: str, reference: str, markup: InlineKeyboardMarkup | None
    ) -> Awaitable[TelegramMessage | bool]:
        return self._bot.edit_message_reply_markup(address, int(reference), reply_markup=markup)

    async def _edited(self, reference: str, call: Awaitable[Any]) -> str | None:
        try:
            await call
        except BadRequest as error:
            if says(error, *_UNCHANGED):
                return reference
            if says(error, *_NOT_EDITABLE):
                return None
            raise
        return reference

    # ------------------------------------------------------------ menu

    async def set_newcomers_menu(self, language: str, menu: tuple[MenuEntry, ...]) -> None:
        """Show these commands in every private chat without a menu of its own, to who uses that language.

        Telegram takes the menu of the chat first, then that of the scope and language, then that of the scope (Bot
        API, "Determining list of commands").
        """
        scope = BotCommandScopeAllPrivateChats()
        await self._bot.set_my_commands(out.commands(menu), scope=scope, language_code=language or None)

    async def set_menu(self, address: str, menu: tuple[MenuEntry, ...]) -> None:
        """Show these commands in the menu of one chat; an empty menu gives it back to the default."""
        if self._menus.get(address) == menu:
            return
        scope = BotCommandScopeChat(int(address) if address.lstrip("-").isdigit() else address)
        if menu:
            await self._bot.set_my_commands(out.commands(menu), scope=scope)
        else:
            await self._bot.delete_my_commands(scope=scope)
        _remember(self._menus, address, menu)


def in_class(address: str) -> bool:
    """Whether an address is a group or channel: Telegram gives them negative numbers."""
    return address.startswith("-")


def _file_name(part: out.ApiCall) -> str | None:
    return None if part.file is None else out.cut_text(part.file.name, 60) or None


async def _plan(address: str, message: Message) -> tuple[out.ApiCall, ...]:
    # Drawing a formula takes tens of milliseconds, and the first one loads a big library.
    if "$" in message.text.plain:
        return await asyncio.to_thread(out.plan, message, in_class=in_class(address))
    return out.plan(message, in_class=in_class(address))
