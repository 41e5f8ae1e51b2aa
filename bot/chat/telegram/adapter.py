"""Telegram: the adapter behind the chat port. Nothing but translation and the order of things.

`run` receives (polling, or a webhook if one is set) and returns when it is told to stop; `send` makes one
attempt and says what became of it; the outbox decides about pace and repetition. No answer of Telegram
is waited for while anything of ours is locked.
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
import os
import ssl
from collections.abc import AsyncIterator, Awaitable, Mapping
from datetime import datetime
from functools import lru_cache, partial
from typing import Any, TypeVar

import httpx
from telegram import Bot, Update
from telegram.error import BadRequest, TelegramError
from telegram.helpers import create_deep_linked_url
from telegram.request import HTTPXRequest

from bot.chat.backoff import Patience, SetupRefused, unasked
from bot.chat.port import (
    Capabilities,
    Limits,
    MenuEntry,
    Message,
    OnEvent,
    OnIdentity,
    Reception,
    SendRefused,
)
from bot.chat.telegram.errors import translate
from bot.chat.telegram.file_ids import FilesOnRecord
from bot.chat.telegram.incoming import KINDS, PLATFORM
from bot.chat.telegram.incoming import translate as translate_update
from bot.chat.telegram.rendering import CAPTION_UNITS, TEXT_UNITS
from bot.chat.telegram.sending import FilesInMemory, KnownFiles, TelegramSender, in_class
from bot.chat.telegram.updates import Poller, Webhook, WebhookListener, persist
from bot.clock import Clock, WallClock
from bot.settings import Settings
from storage.base.database import Database

__all__ = ["KnownFiles", "SetupRefused", "TelegramChat", "Webhook", "telegram_from"]

log = logging.getLogger(__name__)

T = TypeVar("T")
PUBLIC_API = "https://api.telegram.org"
LARGEST_DOWNLOAD = 20_000_000  # Bot API, getFile: "up to 20MB in size"


def telegram_from(
    settings: Settings,
    clock: Clock | None = None,
    known_files: KnownFiles | None = None,
    menus: Mapping[str, tuple[MenuEntry, ...]] | None = None,
) -> TelegramChat:
    """Make the adapter that the settings describe. Raises `ValueError` if they name no token."""
    if settings.telegram_token is None:
        raise ValueError("HOLDFAST_TELEGRAM_TOKEN is not set.")
    return TelegramChat(
        settings.telegram_token.get_secret_value(),
        api_url=settings.telegram_api_url,
        webhook=_webhook_from(settings),
        clock=clock,
        known_files=known_files,
        menus=menus,
    )


def _webhook_from(settings: Settings) -> Webhook | None:
    if not settings.telegram_webhook_url:
        return None
    secret = settings.telegram_webhook_secret
    return Webhook(
        settings.telegram_webhook_url,
        settings.telegram_webhook_listen,
        "" if secret is None else secret.get_secret_value(),
    )


def keep_token_out_of_logs() -> None:
    """Quieten the loggers that would write addresses, and with them the token, or whole updates."""
    for name in ("httpx", "httpcore", "telegram"):
        logging.getLogger(name).setLevel(logging.WARNING)


class TelegramChat:
    """A `Chat` on Telegram.

    Parameters
    ----------
    token : str
        The bot's token. Never logged, never part of an error.
    api_url : str
        Address of the Bot API server: the public one or a school's own.
    webhook : Webhook or None
        Where Telegram brings updates. None: they are asked for.
    clock : Clock or None
        Tells when something was said. While it is not the wall clock, the times that Telegram gives are
        not used.
    known_files : KnownFiles or None
        Remembers uploaded files; by default in memory, and in the database once one is attached.
    menus : mapping or None
        Commands to show to whoever has not written yet, by two-letter language; under the empty one for all others.
    timeout_s : float
        How long to wait for an answer to a request. [s]
    long_poll_s : int
        How long one request for updates may stay open. [s]
    first_pause_s : float
        First pause after a failure; it doubles up to half a minute. [s]
    """

    def __init__(
        self,
        token: str,
        *,
        api_url: str = PUBLIC_API,
        webhook: Webhook | None = None,
        clock: Clock | None = None,
        known_files: KnownFiles | None = None,
        menus: Mapping[str, tuple[MenuEntry, ...]] | None = None,
        timeout_s: float = 15.0,
        long_poll_s: int = 25,
        first_pause_s: float = 1.0,
    ) -> None:
        keep_token_out_of_logs()
        # Else python-telegram-bot gives waiting times as plain numbers, with a warning each time.
        os.environ.setdefault("PTB_TIMEDELTA", "1")
        self._token = token
        self._webhook = webhook
        self._clock = clock or WallClock()
        self._use_dates = isinstance(self._clock, WallClock)
        self._patience = Patience(first_pause_s)
        self._long_poll_s = long_poll_s
        self._timeout_s = timeout_s
        self._polling = _request(timeout_s, connections=2)
        self._sending = _request(timeout_s, connections=64)
        base = api_url.rstrip("/")
        self._bot = Bot(
            token,
            base_url=f"{base}/bot",
            base_file_url=f"{base}/file/bot",
            request=self._sending,
            get_updates_request=self._polling,
        )
        self._known_files = known_files
        self._menus = menus or {}
        self._sender = TelegramSender(self._bot, known_files or FilesInMemory())
        self._answers: set[asyncio.Task[None]] = set()
        self._under_way: set[asyncio.Future[None]] = set()
        self._ended = False
        self._username = ""
        self.heard_at: datetime | None = None
        """When Telegram last answered or brought something: for the health check."""
        self.problem = ""
        """What is wrong with receiving at present, in words; empty if nothing is."""
        self.on_identity: OnIdentity = unasked
        """Called with the bot's id, as Telegram says it, before anything comes in."""

    @property
    def identity(self) -> str:
        """The bot's id, which a token begins with."""
        return self._token.partition(":")[0]

    def attach(self, db: Database) -> None:
        """Remember uploaded files in this database, unless they are remembered elsewhere. Call it before `run`."""
        if self._known_files is None:
            self._sender.known = FilesOnRecord(db, self.identity)

    @property
    def name(self) -> str:
        """``telegram``."""
        return PLATFORM

    @property
    def capabilities(self) -> Capabilities:
        """Telegram answers one poller, and brings webhooks to all."""
        return Capabilities(
            receives_alone=self._webhook is None,
            identity=self.identity,
            confirm_identity=self._confirm_identity,
            is_group=self.is_group,
            join_link=self.join_link,
            attach=self.attach,
            reception=self._reception,
        )

    def _confirm_identity(self, on_identity: OnIdentity) -> None:
        self.on_identity = on_identity

    def _reception(self) -> Reception:
        # Webhooks come only when somebody writes; polling is answered at least every `long_poll_s`.
        return Reception(self.heard_at, self.problem, quiet_is_normal=self._webhook is not None)

    @property
    def limits(self) -> Limits:
        """Telegram's published lengths and a pace below its published rates (Bots FAQ: 30/s, 1/s, 20/min)."""
        return Limits(text_length=TEXT_UNITS, caption_length=CAPTION_UNITS)

    def join_link(self, code: str) -> str | None:
        """Return a link that opens the bot and says ``/start CODE``; None until the bot knows its name.

        Raises `ValueError` for a code with other characters than ``A-Z a-z 0-9 _ -`` or more than 64.
        """
        return create_deep_linked_url(self._username, code) if self._username else None

    @staticmethod
    def is_group(address: str) -> bool:
        """Whether an address is a group or channel: Telegram gives them negative numbers."""
        return in_class(address)

    # ------------------------------------------------------------ receiving

    async def run(self, on_event: OnEvent, stop: asyncio.Event) -> None:
        """Deliver events until `stop` is set. Raises `SetupRefused` if Telegram takes the token for wrong.

        Everything else is tried again, longer and longer apart, and told in `problem`.
        """

        async def take(update: dict[str, Any]) -> None:
            await self._take(update, on_event)

        self._ended = False
        for connections in (self._polling, self._sending):
            await connections.initialize()
        try:
            await persist(self._bot.get_me, stop, self._patience, "say who the bot is")
            if stop.is_set():
                return
            await self.on_identity(str(self._bot.id))
            self._username = self._bot.username or ""
            self._heard("")
            await self._offer_menus(stop)
            await (
                self._poll(take, stop) if self._webhook is None else self._listen(self._webhook, take, stop)
            )
        finally:
            await self.close()

    async def _offer_menus(self, stop: asyncio.Event) -> None:
        """Show newcomers what they can type. Without it they can type it all the same."""
        for language, menu in self._menus.items():
            try:
                await persist(
                    partial(self._sender.set_newcomers_menu, language, menu),
                    stop,
                    self._patience,
                    "show the commands",
                )
            except SetupRefused as refused:
                log.warning("The menu for newcomers was refused: %s", refused)

    async def _poll(self, take: Any, stop: asyncio.Event) -> None:
        await persist(self._bot.delete_webhook, stop, self._patience, "end the webhook")
        poller = Poller(
            self._polling, self._bot.base_url, take, self._patience, long_poll_s=self._long_poll_s
        )
        poller.on_contact = self._heard
        await poller.run(stop)

    async def _listen(self, webhook: Webhook, take: Any, stop: asyncio.Event) -> None:
        async def announce() -> bool:
            return await self._bot.set_webhook(
                webhook.address(self._token), allowed_updates=KINDS, secret_token=webhook.secret
            )

        # The webhook stays set afterwards: other workers may serve it, and Telegram keeps what comes.
        async with WebhookListener(webhook, webhook.path(self._token), take):
            await persist(announce, stop, self._patience, "set the webhook")
            await stop.wait()

    def _heard(self, problem: str) -> None:
        self.problem = problem
        if not problem:
            self.heard_at = self._clock.now()

    async def _take(self, raw: dict[str, Any], on_event: OnEvent) -> None:
        """Hand one update on. What cannot be read is passed over, so that it does not hold up the rest."""
        try:
            update = Update.de_json(raw, self._bot)
            event = translate_update(
                update, self._clock.now(), username=self._username, use_dates=self._use_dates
            )
        except Exception as error:
            log.error(
                "Update %s could not be read (%s) and was passed over", raw["update_id"], type(error).__name__
            )
            return
        if update.callback_query is not None:
            self._answer_soon(update.callback_query.id)
        if event is not None:
            await on_event(event)
        self._heard("")

    def _answer_soon(self, query_id: str) -> None:
        """Stop the button's spinner at once, without holding up the storing of the press."""
        task = asyncio.create_task(self._answer(query_id))
        self._answers.add(task)
        task.add_done_callback(self._answers.discard)

    async def _answer(self, query_id: str) -> None:
        for attempt in (1, 2):
            try:
                async with self._busy():
                    await self._bot.answer_callback_query(query_id)
            except BadRequest:
                return  # too old: the press came while we were away, and nothing spins any more
            except TelegramError as error:
                # Only the spinner depends on it; the press itself is stored.
                log.info("A press was not acknowledged, attempt %d (%s)", attempt, type(error).__name__)
            else:
                return

    # ------------------------------------------------------------ sending

    async def send(self, address: str, message: Message, *, token: str, edits: str = "") -> str:
        """Make one attempt. Raises a `SendError`, never Telegram's own.

        Edits and menus are repeatable and so never ambiguous. The menu goes first: if it fails for the
        moment, nothing has been sent and all of it can be tried again.
        """
        async with self._busy():
            if message.menu is not None:
                await self._menu(address, message)
            if edits:
                reference = await _translated(self._sender.edit(address, message, edits), repeatable=True)
                if reference is not None:
                    return reference
            reference = await _translated(self._sender.send(address, message, token))
            return reference or _nothing_sent(message)

    async def _menu(self, address: str, message: Message) -> None:
        try:
            await _translated(self._sender.set_menu(address, message.menu or ()), repeatable=True)
        except SendRefused as refused:
            log.warning("A command menu was refused: %s", refused.reason)

    async def fetch(self, handle: str) -> bytes:
        """Return the bytes of a file that somebody sent, at most 20 MB of them."""
        async with self._busy():
            return await _translated(self._download(handle), repeatable=True)

    async def _download(self, handle: str) -> bytes:
        file = await self._bot.get_file(handle)
        if (file.file_size or 0) > LARGEST_DOWNLOAD:
            raise SendRefused("The file is larger than 20 MB.")
        data = bytes(await file.download_as_bytearray())
        if len(data) > LARGEST_DOWNLOAD:
            raise SendRefused("The file is larger than 20 MB.")
        return data

    @contextlib.asynccontextmanager
    async def _busy(self) -> AsyncIterator[None]:
        """Note what is under way. After `run` has ended, connections are opened and closed as needed."""
        ended: asyncio.Future[None] = asyncio.get_running_loop().create_future()
        self._under_way.add(ended)
        try:
            if self._ended:
                await self._sending.initialize()
            yield
        finally:
            self._under_way.remove(ended)
            ended.set_result(None)
            await self._close_if_unused()

    async def close(self) -> None:
        """Let what is under way end, so that no message is left in doubt; whoever is the last closes the connections.

        `run` does it by itself when it ends; call it after sending without running. Messages may still be sent
        meanwhile and afterwards, the last ones of a program that stops: those are not waited for here.
        """
        self._ended = True
        await self._polling.shutdown()
        if self._under_way:
            await asyncio.wait(set(self._under_way), timeout=2 * self._timeout_s)
        for task in self._answers:
            task.cancel()
        await self._close_if_unused()

    async def _close_if_unused(self) -> None:
        # The connections count as closed from the first instant, so whoever sends meanwhile opens others.
        if self._ended and not self._under_way:
            await self._sending.shutdown()


def _request(timeout_s: float, *, connections: int) -> HTTPXRequest:
    return HTTPXRequest(
        connection_pool_size=connections,
        connect_timeout=timeout_s,
        read_timeout=timeout_s,
        write_timeout=timeout_s,
        pool_timeout=timeout_s,
        media_write_timeout=4 * timeout_s,
        httpx_kwargs={"verify": _trusted()},
    )


@lru_cache(maxsize=1)
def _trusted() -> ssl.SSLContext:
    """Load the certificates that httpx trusts once: reading them takes longer than anything else here."""
    return httpx.create_ssl_context()


async def _translated(work: Awaitable[T], *, repeatable: bool = False) -> T:
    try:
        return await work
    except TelegramError as error:
        raise translate(error, repeatable=repeatable) from error


def _nothing_sent(message: Message) -> str:
    """Return no reference: the message only brought a menu."""
    if message.menu is None:
        raise SendRefused("The message is empty.")
    return ""
