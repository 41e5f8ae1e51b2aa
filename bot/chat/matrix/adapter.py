"""Matrix: the adapter behind the chat port. Nothing but translation and the order of things.

`run` receives and returns when it is told to stop; `send` makes one attempt and says what became of it; the outbox
decides about pace and repetition. An address is the id of a room: a private chat is an encrypted room with one
person, made by that person's invitation or by the bot (send to ``@somebody:server``, and the address moves to the
new room).
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
from collections.abc import AsyncIterator, Awaitable, Callable, Coroutine, Iterable
from datetime import datetime
from typing import Any, TypeVar

import aiohttp
from nio import MatrixRoom
from nio.crypto import decrypt_attachment

from bot.chat.backoff import Patience, SetupRefused, unasked, until
from bot.chat.matrix import incoming as coming
from bot.chat.matrix import keys
from bot.chat.matrix.cross_signing import sign_device
from bot.chat.matrix.errors import KNOWN, TOKEN_REFUSED, RequestRefused, checked, passing, translate
from bot.chat.matrix.events import EventHandler
from bot.chat.matrix.login import SIGNING, Account, log_in, make_client, token_refused
from bot.chat.matrix.records import DatabaseRecords, MemoryRecords, Records
from bot.chat.matrix.requests import CLIENT_V1, part, refusal_of, request
from bot.chat.matrix.rooms import Rooms, server_of
from bot.chat.matrix.sending import MatrixSender
from bot.chat.matrix.syncing import WAIT_FOR_KEY_S, SyncListener, TokenRefused
from bot.chat.port import (
    AddressMoved,
    Capabilities,
    Incoming,
    Limits,
    Message,
    OnEvent,
    OnIdentity,
    Reception,
    SendFailed,
    SendRefused,
)
from bot.clock import Clock, WallClock
from bot.settings import Settings
from storage.base.database import Database

__all__ = ["Account", "MatrixChat", "MemoryRecords", "SetupRefused", "matrix_from"]

log = logging.getLogger(__name__)

T = TypeVar("T")
_MAY_WORK_LATER = (RequestRefused, aiohttp.ClientError, TimeoutError, OSError)
LARGEST_DOWNLOAD = 20_000_000
_NOT_READY_S = 5.0
_UNSENT_S = 180.0
"""Nothing could be sent for so long: the health check is told [s]."""
_UNSENT_FORGOTTEN_S = 3600.0
"""Forget a failed attempt after this time: nobody wants to send it any more. [s]"""
_SIGN_AT_START = 3
_SIGN_PAUSE_S = 60.0
_CHUNK = 1 << 16
_SHOWN = "Content-Disposition"
"""A homeserver says how a file is to be shown (specification v1.12); a proxy's page or empty answer does not."""


def matrix_from(settings: Settings, clock: Clock | None = None, records: Records | None = None) -> MatrixChat:
    """Make the adapter that the settings describe. Raises `ValueError` if they name no homeserver."""
    if not settings.matrix_homeserver:
        raise ValueError("HOLDFAST_MATRIX_HOMESERVER is not set.")
    password, token = settings.matrix_password, settings.matrix_token
    account = Account(
        settings.matrix_homeserver,
        settings.matrix_user,
        settings.data_dir / "matrix",
        password="" if password is None else password.get_secret_value(),
        token="" if token is None else token.get_secret_value(),
    )
    servers = settings.matrix_welcome.replace(",", " ").split()
    return MatrixChat(
        account, clock=clock, records=records, servers=servers, language=settings.default_language
    )


def quieten_library() -> None:
    """Quieten the loggers that would write ids of people and rooms, and whole events."""
    for name in ("nio", "peewee", "aiohttp"):
        logging.getLogger(name).setLevel(logging.ERROR)


class MatrixChat:
    """A `Chat` on Matrix.

    Parameters
    ----------
    account : Account
        Homeserver, user, secrets and the folder of its keys.
    clock : Clock or None
        Tells when something was said. While it is not the wall clock, the times of the server are not used.
    records : Records or None
        What the database knows; `attach` gives the real ones.
    servers : iterable of str
        Homeservers whose people may start a chat, besides the bot's own.
    language : str
        What people are told in whose language nobody knows: strangers who are declined.
    timeout_s, long_poll_s : float
        How long to wait for an answer, and how long one request for events may stay open. [s]
    first_pause_s : float
        First pause after a failure; it doubles up to a minute. [s]
    wait_for_key_s : float
        How long a message whose key is missing is waited for. [s]
    """

    def __init__(
        self,
        account: Account,
        *,
        clock: Clock | None = None,
        records: Records | None = None,
        servers: Iterable[str] = (),
        language: str = "",
        timeout_s: float = 30.0,
        long_poll_s: float = 30.0,
        first_pause_s: float = 1.0,
        wait_for_key_s: float = WAIT_FOR_KEY_S,
    ) -> None:
        quieten_library()
        self._account = account
        self._clock = clock or WallClock()
        self._timeout_s = timeout_s
        self._patience = Patience(first_pause_s, 60.0)
        self._long_poll_s = long_poll_s
        self._wait_for_key_s = wait_for_key_s
        self._servers = frozenset({server_of(account.user), *servers})
        self._language = language
        self._open(records or MemoryRecords())
        self._on_event: OnEvent | None = None
        self._in_flight = 0
        self._idle = asyncio.Event()
        self._idle.set()
        self._ended = False
        self.heard_at: datetime | None = None
        """When the homeserver last answered: for the health check."""
        self._receiving = ""
        self._unsent = ""
        self._unsent_since: datetime | None = None
        self._unsent_at: datetime | None = None
        self.note = ""
        """What an operator may want to mend although everything works, such as an unsigned device."""
        self.on_identity: OnIdentity = unasked
        """Called with the bot's user id, once the homeserver has said it, before anything comes in."""

    def _open(self, records: Records) -> None:
        """Make all parts anew. Another process may have used the keys since the last time, so nothing is reused."""
        self._client = make_client(self._account, self._timeout_s)
        self._sender = MatrixSender(self._client, timeout_s=self._timeout_s)
        self._rooms = Rooms(self._client, records, self._servers, self._language)
        meaning = self._sender.meaning
        self._events = EventHandler(self._client, self._rooms, self._clock, self._hand_over, meaning)
        self._listener = SyncListener(
            self._client,
            self._rooms,
            self._events.take,
            self._events.left,
            self._patience,
            long_poll_s=self._long_poll_s,
            timeout_s=self._timeout_s,
            wait_for_key_s=self._wait_for_key_s,
        )
        self._listener.on_contact = self._heard

    @property
    def problem(self) -> str:
        """What is wrong at present with receiving, or with sending for minutes, in words; empty if nothing is."""
        if self._receiving or self._unsent_since is None or self._unsent_at is None:
            return self._receiving
        now = self._clock.now()
        failing_s = (now - self._unsent_since).total_seconds()
        if failing_s < _UNSENT_S or (now - self._unsent_at).total_seconds() > _UNSENT_FORGOTTEN_S:
            return ""
        return f"nothing could be sent for {failing_s:.0f} s ({self._unsent})"

    def attach(self, db: Database) -> None:
        """Ask and keep in this database from now on. Call it before `run`."""
        self._rooms.records = DatabaseRecords(db, self._clock)

    @property
    def name(self) -> str:
        """``matrix``."""
        return coming.PLATFORM

    @property
    def limits(self) -> Limits:
        """A moderate pace; a homeserver's own limit is obeyed when it says so (Synapse: 0.2/s, burst of 10)."""
        return Limits(text_length=8000, caption_length=1000, per_second=5.0)

    @property
    def capabilities(self) -> Capabilities:
        """One store of keys belongs to one device: only the process that has it may sync, and can send."""
        return Capabilities(
            receives_alone=True,
            sends_alone=True,
            identity=self.identity,
            confirm_identity=self._confirm_identity,
            is_group=self.is_group,
            attach=self.attach,
            reception=self._reception,
        )

    def _confirm_identity(self, on_identity: OnIdentity) -> None:
        self.on_identity = on_identity

    def _reception(self) -> Reception:
        return Reception(self.heard_at, self.problem)

    def is_group(self, address: str) -> bool:
        """Whether a room has more than one other person."""
        room = self._client.rooms.get(address)
        return room is not None and len(self._rooms.others(room)) > 1

    @property
    def identity(self) -> str:
        """The bot's user id."""
        return self._account.user

    @property
    def fingerprint(self) -> str:
        """The device's public key, to compare with what a client shows; empty before the login."""
        olm = self._client.olm
        return "" if olm is None else str(olm.account.identity_keys["ed25519"])

    # ------------------------------------------------------------ receiving

    async def run(self, on_event: OnEvent, stop: asyncio.Event) -> None:
        """Deliver events until `stop` is set. Raises `SetupRefused` if the homeserver refuses the account.

        Everything else is tried again, longer and longer apart, and told in `problem`.
        """
        if self._ended:
            self._open(self._rooms.records)
        self._ended = False
        self._on_event = on_event
        try:
            await self._persist(self._log_in, stop)
            if self._client.logged_in:
                await self.on_identity(self._account.user)
            signed = await self._signed_at_start(stop)
            signing = None if signed else asyncio.create_task(self._sign_later(stop))
            try:
                await self._listener.run(stop)
            finally:
                if signing is not None:
                    signing.cancel()
                    await asyncio.gather(signing, return_exceptions=True)
        except TokenRefused:
            self._receiving = "the homeserver refuses the bot's token"
            raise token_refused(self._account) from None
        finally:
            await self.close()

    async def _persist(self, step: Callable[[], Coroutine[Any, Any, None]], stop: asyncio.Event) -> None:
        """Repeat a step of the start until it works or the program stops."""
        while not stop.is_set():
            try:
                await until(stop, step())
            except _MAY_WORK_LATER as error:
                what = _named(error)
                log.warning("Matrix: could not log in (%s); trying again", what)
                self._heard(f"not logged in ({what})")
                wait_s = error.retry_after_s if isinstance(error, RequestRefused) else None
                await self._patience.pause(stop, wait_s or 0.0)
            else:
                self._patience.reset()
                return

    async def _log_in(self) -> None:
        await log_in(self._client, self._account)
        try:
            await keys.upload(self._client)
        except _MAY_WORK_LATER as error:
            if not self._client.olm.account.shared:
                raise
            # The device is known there. One-time keys are uploaded with the next events.
            log.warning("Matrix: keys were not uploaded (%s); trying again", _named(error))

    async def _signed_at_start(self, stop: asyncio.Event) -> bool:
        """Sign before anything is said, if the homeserver lets us; whether that is done with."""
        for _ in range(_SIGN_AT_START):
            if stop.is_set() or await until(stop, self._signed()):
                return True
            await self._patience.pause(stop)
        self._patience.reset()
        return False

    async def _sign_later(self, stop: asyncio.Event) -> None:
        """Go on trying: an unsigned device is no reason not to answer anybody, and none to stay unsigned."""
        pause = Patience(_SIGN_PAUSE_S, _UNSENT_FORGOTTEN_S)
        while not stop.is_set():
            await pause.pause(stop)
            with contextlib.suppress(TokenRefused):  # the listener is told the same
                if await until(stop, self._signed()):
                    return

    async def _signed(self) -> bool:
        """Make one attempt; False if another may help."""
        try:
            await self._sign()
        except _MAY_WORK_LATER as error:
            self.note = f"The bot's device is not signed yet ({_named(error)}), so clients may warn about it."
            log.warning("Matrix: %s", self.note)
            return False
        return True

    async def _sign(self) -> None:
        path = self._account.folder / SIGNING
        try:
            self.note = await sign_device(self._client, path, self._account.password)
        except RequestRefused as refused:
            if passing(refused) or refused.code in TOKEN_REFUSED:
                raise
            # Unsigned is no reason not to answer anybody.
            self.note = (
                f"The homeserver refuses to sign the bot's device ({refused}), so clients may warn about it."
            )
        log.info("Matrix: device %s with the key %s", self._client.device_id, self.fingerprint)
        if self.note:
            log.warning("Matrix: %s", self.note)

    def _heard(self, problem: str) -> None:
        self._receiving = problem
        if not problem:
            self.heard_at = self._clock.now()

    async def _hand_over(self, event: Incoming) -> None:
        assert self._on_event is not None  # noqa: S101 - events come from `run` only
        await self._on_event(event)

    # ------------------------------------------------------------ sending

    async def send(self, address: str, message: Message, *, token: str, edits: str = "") -> str:
        """Make one attempt. Raises a `SendError`, never matrix-nio's own, and never an ambiguous one.

        Matrix has no command menus: a message that only brings one is nothing here.
        """
        if not message.text.plain.strip() and message.attachment is None and not message.buttons:
            if message.menu is None:
                raise SendRefused("The message is empty.")
            return ""
        async with self._busy(), self._noting_what_fails():
            await self._prepared()
            if address.startswith("@"):
                raise AddressMoved(await _translated(self._rooms.direct(address)))
            room = await _translated(self._room(address))
            if edits:
                reference = await _translated(self._sender.edit(room, message, edits, token))
                if reference is not None:
                    return reference
            return await _translated(self._sender.send(room, message, token))

    @contextlib.asynccontextmanager
    async def _noting_what_fails(self) -> AsyncIterator[None]:
        """Note since when no message goes out: events may come in all the time, and nobody gets an answer."""
        try:
            yield
        except SendFailed as failed:
            self._unsent, self._unsent_at = str(failed), self._clock.now()
            self._unsent_since = self._unsent_since or self._unsent_at
            raise
        except (SendRefused, AddressMoved):
            self._unsent_since = None
            raise
        self._unsent_since = None

    async def _prepared(self) -> None:
        """Wait for the first answer of the homeserver: before it, no room is known."""
        try:
            async with asyncio.timeout(self._timeout_s):
                await self._listener.ready.wait()
        except TimeoutError:
            reason = "the homeserver has not told yet which rooms there are"
            raise SendFailed(reason, _NOT_READY_S, whole_platform=True) from None

    async def _room(self, address: str) -> MatrixRoom:
        room = self._client.rooms.get(address)
        if room is None:
            joined = await checked(self._client.joined_rooms())
            if address in joined.rooms:
                raise SendFailed("the room is new, and its people are not known yet", 1.0)
            raise SendRefused("we are not in that room", unreachable=True, doubtful=True)
        if not self._rooms.others(room) and not await self._rooms.records.is_class_room(address):
            raise SendRefused("nobody is left in that room", unreachable=True)
        return room

    async def fetch(self, handle: str) -> bytes:
        """Return the bytes of a file that somebody sent, decrypted, at most 20 MB of them."""
        try:
            where = coming.Handle.unpacked(handle)
            server, media = _media(where.url)
        except ValueError:
            raise SendRefused("That is no reference of a file.") from None
        async with self._busy():
            data = await _translated(self._download(server, media))
        if not where.key:
            return data
        try:
            return bytes(await asyncio.to_thread(decrypt_attachment, data, where.key, where.sha256, where.iv))
        except Exception as error:  # matrix-nio lets several kinds out, and all mean the same
            raise SendRefused(f"The file could not be decrypted ({type(error).__name__}).") from None

    async def _download(self, server: str, media: str) -> bytes:
        path = f"{CLIENT_V1}/media/download/{part(server)}/{part(media)}"
        async with asyncio.timeout(8 * self._timeout_s):
            response = await request(self._client, "GET", path)
            async with response:
                if response.status != 200:
                    raise await refusal_of(response)
                data = bytearray()
                async for chunk in response.content.iter_chunked(_CHUNK):
                    data += chunk
                    if len(data) > LARGEST_DOWNLOAD:
                        raise SendRefused("The file is larger than 20 MB.")
                if not (data and response.content_type != "text/html") and _SHOWN not in response.headers:
                    raise RequestRefused("", response.status)
        return bytes(data)

    @contextlib.asynccontextmanager
    async def _busy(self) -> AsyncIterator[None]:
        """Count what is under way. After `run` has ended, connections are opened and closed as needed."""
        self._in_flight += 1
        self._idle.clear()
        try:
            yield
        finally:
            self._in_flight -= 1
            if not self._in_flight:
                self._idle.set()
            if self._ended and self._idle.is_set():
                await self._client.close()

    async def close(self) -> None:
        """Let what is under way end, then close the connections.

        `run` does it by itself when it ends. Messages may still be sent afterwards: the last ones of a program that
        stops.
        """
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(2 * self._timeout_s):
                await self._idle.wait()
        self._ended = True
        await self._sender.signs.close()
        await self._client.close()


def _media(url: str) -> tuple[str, str]:
    """Split ``mxc://server/id``. Raises `ValueError` for anything else."""
    server, slash, media = url.removeprefix("mxc://").partition("/")
    if not url.startswith("mxc://") or not (server and slash and media) or "/" in media:
        raise ValueError("This is no address of a file.")
    return server, media


def _named(error: Exception) -> str:
    """Return what went wrong in words that name nobody. Raises `TokenRefused` where waiting does not help."""
    if not isinstance(error, RequestRefused):
        return type(error).__name__
    if error.code in TOKEN_REFUSED:
        raise TokenRefused from None
    return str(error)


async def _translated(work: Awaitable[T]) -> T:
    try:
        return await work
    except KNOWN as error:
        raise translate(error) from error
