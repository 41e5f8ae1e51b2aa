"""How updates reach us: asked for (polling), or brought by Telegram (webhook).

In both cases an update counts as received only after ``take`` has returned, that is, once it is stored:
the offset moves, or the webhook answers 200, after that and never before. A repeated update is no harm,
since the inbox knows its key.

python-telegram-bot's own ``Updater`` is not used. It reads a whole batch before it hands over anything,
so that one update in a shape it does not know would hold up all others for ever, and would write its
content into the log; and its loop ends unseen when the token is refused.
"""

from __future__ import annotations

import asyncio
import hashlib
import hmac
import json
import logging
import os
import re
from collections.abc import Awaitable, Callable, Coroutine
from dataclasses import dataclass, field
from typing import Any, TypeVar
from urllib.parse import urlencode

from aiohttp import web
from telegram.error import BadRequest, Conflict, InvalidToken, NetworkError, RetryAfter, TelegramError
from telegram.request import HTTPXRequest

from bot.chat.backoff import Patience, SetupRefused, until
from bot.chat.telegram.errors import from_elsewhere, retry_after_s
from bot.chat.telegram.incoming import KINDS

log = logging.getLogger(__name__)

T = TypeVar("T")
Take = Callable[[dict[str, Any]], Awaitable[None]]
"""Stores one update as Telegram sent it. Raises when it could not be stored."""

_LARGEST_UPDATE = 1 << 20
_CONFLICT_PAUSE_S = 10.0
_SECRET = re.compile(r"[A-Za-z0-9_-]{1,256}")


async def persist(
    action: Callable[[], Coroutine[Any, Any, T]], stop: asyncio.Event, patience: Patience, what: str
) -> T | None:
    """Repeat a step of the start until Telegram does it; None if the program stops meanwhile."""
    while not stop.is_set():
        try:
            return await until(stop, action())
        except TelegramError as error:
            if isinstance(error, InvalidToken) and not from_elsewhere(error):
                raise token_refused() from None  # its text holds the token
            if isinstance(error, BadRequest) and not from_elsewhere(error):
                raise SetupRefused(f"Telegram refuses to {what}: {error.message}") from None
            log.warning("Telegram: could not %s (%s); trying again", what, type(error).__name__)
            await patience.pause(stop, wait_s(error))
    return None


def token_refused() -> SetupRefused:
    """Make the error for an operator whose token is wrong."""
    return SetupRefused(
        "Telegram refuses the bot's token. Check HOLDFAST_TELEGRAM_TOKEN; @BotFather shows it and makes new ones."
    )


def wait_s(error: TelegramError) -> float:
    """Seconds that an error itself asks to wait."""
    if isinstance(error, RetryAfter):
        return retry_after_s(error)
    return _CONFLICT_PAUSE_S if isinstance(error, Conflict) else 0.0


# ---------------------------------------------------------------- polling


class Poller:
    """Asks for updates and confirms each one after it is stored."""

    def __init__(
        self, request: HTTPXRequest, base_url: str, take: Take, patience: Patience, *, long_poll_s: int
    ) -> None:
        self._request = request
        self._url = f"{base_url}/getUpdates"
        self._take = take
        self._patience = patience
        self._long_poll_s = long_poll_s
        self._offset: int | None = None
        self.on_contact: Callable[[str], None] = lambda problem: None

    async def run(self, stop: asyncio.Event) -> None:
        """Poll until `stop`; then tell Telegram once more what has arrived."""
        while not stop.is_set():
            try:
                updates = await until(stop, self._ask(self._long_poll_s))
                self._patience.reset()
                self.on_contact("")
            except TelegramError as error:
                if isinstance(error, InvalidToken) and not from_elsewhere(error):
                    raise token_refused() from None
                self._report(error)
                await self._patience.pause(stop, wait_s(error))
                continue
            for update in updates or ():
                if not await self._stored(update, stop):
                    break
        await self._confirm()

    def _report(self, error: TelegramError) -> None:
        if isinstance(error, Conflict):
            problem = "another program asks for this bot's updates: two instances run, or a webhook is set"
            log.error("Telegram: %s", problem)
        else:
            problem = f"no updates ({type(error).__name__})"
            log.warning("Telegram: %s; trying again", problem)
        self.on_contact(problem)

    async def _ask(self, timeout_s: int) -> list[dict[str, Any]]:
        # allowed_updates: Telegram remembers the last list, so it is named every time.
        query: dict[str, Any] = {"timeout": timeout_s, "allowed_updates": json.dumps(KINDS)}
        if self._offset is not None:
            query["offset"] = self._offset
        read_timeout = timeout_s + (self._request.read_timeout or 0)
        payload = await self._request.retrieve(f"{self._url}?{urlencode(query)}", read_timeout=read_timeout)
        try:
            updates: list[dict[str, Any]] = json.loads(payload)["result"]
        except (ValueError, KeyError, TypeError):
            raise NetworkError("unreadable answer to getUpdates") from None
        return updates

    async def _stored(self, update: dict[str, Any], stop: asyncio.Event) -> bool:
        """Store one update, trying until it works: the next one must not overtake it, nor it be lost."""
        while not stop.is_set():
            try:
                await self._take(update)
            except Exception as error:
                log.error("An update could not be stored (%s); trying again", type(error).__name__)
                self.on_contact(f"updates cannot be stored ({type(error).__name__})")
                await self._patience.pause(stop)
            else:
                self._patience.reset()
                self._offset = int(update["update_id"]) + 1
                return True
        return False

    async def _confirm(self) -> None:
        if self._offset is None:
            return
        try:
            await self._ask(0)
        except TelegramError as error:
            # Harmless: they come again at the next start, and the inbox knows them.
            log.info("Telegram: the last updates were not confirmed (%s)", type(error).__name__)


# ---------------------------------------------------------------- webhook


@dataclass(frozen=True, slots=True)
class Webhook:
    """Where Telegram brings updates.

    Attributes
    ----------
    url : str
        Public address (https) that the proxy in front of us serves; our secret path is added to it.
    listen : str
        ``host:port`` on which we listen behind that proxy.
    secret : str
        1 to 256 of ``A-Z a-z 0-9 _ -``, repeated by Telegram in a header of each request.
    """

    url: str
    listen: str = "127.0.0.1:8443"
    secret: str = field(default="", repr=False)

    def __post_init__(self) -> None:
        """Refuse a secret that Telegram would refuse, or that would let anybody in."""
        if not _SECRET.fullmatch(self.secret):
            raise ValueError(
                "The webhook's secret (HOLDFAST_TELEGRAM_WEBHOOK_SECRET) has to be 1 to 256 of A-Z a-z 0-9 _ -"
            )

    def path(self, token: str) -> str:
        """Return a path that nobody can guess and that is the same for every worker of the same bot."""
        return hmac.new(token.encode(), b"holdfast webhook path", hashlib.sha256).hexdigest()[:40]

    def address(self, token: str) -> str:
        """Return the whole address to give to Telegram."""
        return f"{self.url.rstrip('/')}/{self.path(token)}"


class WebhookListener:
    """Receives webhooks. Several may run behind one proxy: whoever gets an update stores it."""

    def __init__(self, webhook: Webhook, path: str, take: Take) -> None:
        self._secret = webhook.secret.encode()
        self._path = path.encode()
        self._take = take
        host, _, port = webhook.listen.rpartition(":")
        self._host, self._port = host, int(port)
        app = web.Application(client_max_size=_LARGEST_UPDATE)
        app.router.add_post("/{path:.*}", self._receive)
        self._runner = web.AppRunner(app, access_log=None)

    async def __aenter__(self) -> WebhookListener:
        await self._runner.setup()
        try:
            await web.TCPSite(self._runner, self._host, self._port).start()
        except OSError as error:
            await self._runner.cleanup()
            why = os.strerror(error.errno) if error.errno else str(error)
            raise SetupRefused(
                f"Webhooks cannot be received on {self._host}:{self._port} ({why}). Stop what listens there, or "
                "choose another HOLDFAST_TELEGRAM_WEBHOOK_LISTEN."
            ) from None
        return self

    async def __aexit__(self, *_: object) -> None:
        # Waits for requests that are being stored.
        await self._runner.cleanup()

    async def _receive(self, request: web.Request) -> web.Response:
        """Answer 200 only once the update is stored; anything else makes Telegram bring it again."""
        last = request.path.rpartition("/")[2].encode()
        if not hmac.compare_digest(last, self._path):
            return web.Response(status=404)
        given = request.headers.get("X-Telegram-Bot-Api-Secret-Token", "").encode()
        if not hmac.compare_digest(given, self._secret):
            return web.Response(status=403)
        try:
            update = await request.json()
            int(update["update_id"])
        except (ValueError, KeyError, TypeError):
            return web.Response(status=400)
        try:
            await self._take(update)
        except Exception as error:
            log.error(
                "An update could not be stored (%s); Telegram will bring it again", type(error).__name__
            )
            return web.Response(status=500)
        return web.Response()
