"""How events reach us: our own loop over ``/sync``, with our own place in the stream.

The place (the sync token) is kept only after every event of an answer was handed over, so a crash repeats events
and never loses one; the inbox knows repeated ones by their id. matrix-nio's ``sync_forever`` is not used: it keeps its
token before events are handled, repeats a refused request thousands of times a second, and ends unseen on an error.

Three things would be lost otherwise: what lies in a gap (the server sends the last events of a room only) is paged
back; a message that came before its key is kept for some minutes, and so is the place in the stream before it; an
invitation that came while we were away is asked for at the start.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from functools import partial
from typing import Any

import aiohttp
from nio import (
    AsyncClient,
    EncryptionError,
    Event,
    InviteMemberEvent,
    MatrixRoom,
    MegolmEvent,
    MessageDirection,
    RedactionEvent,
    SyncResponse,
    ToDeviceMessage,
)

from bot.chat.backoff import Patience, until
from bot.chat.matrix import keys
from bot.chat.matrix.errors import TOKEN_REFUSED, RequestRefused, checked
from bot.chat.matrix.requests import CLIENT, ask
from bot.chat.matrix.rooms import Rooms, unheard_of

log = logging.getLogger(__name__)

KINDS = (
    "m.room.message",
    "m.room.encrypted",
    "m.reaction",
    "m.room.redaction",
    "m.sticker",
    "m.room.member",
    "m.room.encryption",
    "m.room.power_levels",
    "m.room.name",
    "m.room.tombstone",
    "m.room.create",
)
WAIT_FOR_KEY_S = 300.0
_PAGE = 100
_MOST_PAGES = 100
_EVENTS_AT_ONCE = 20
_MOST_REFUSALS = 4
_OF_HOMESERVER = (RequestRefused, aiohttp.ClientError, TimeoutError)

Take = Callable[[MatrixRoom, Event], Awaitable[None]]
"""Handles one event of a room. Raises when it could not be stored."""

Left = Callable[[str, list[Event]], Awaitable[None]]
"""Handles that we are out of a room."""


@dataclass
class Sealed:
    """A message whose key has not come yet."""

    room: MatrixRoom
    event: MegolmEvent
    until_s: float


class TokenRefused(Exception):
    """The homeserver does not know our token any more."""


class SyncListener:
    """Asks for events, in order, and keeps the place."""

    def __init__(
        self,
        client: AsyncClient,
        rooms: Rooms,
        take: Take,
        left: Left,
        patience: Patience,
        *,
        long_poll_s: float,
        timeout_s: float,
        wait_for_key_s: float = WAIT_FOR_KEY_S,
    ) -> None:
        self._client = client
        self._rooms = rooms
        self._take = take
        self._left = left
        self._patience = patience
        self._long_poll_s = long_poll_s
        self._timeout_s = timeout_s
        self._wait_for_key_s = wait_for_key_s
        self._sealed: dict[str, Sealed] = {}
        self._full = True
        self.ready = asyncio.Event()
        self.on_contact: Callable[[str], None] = lambda problem: None

    @property
    def key_value(self) -> str:
        """Name under which the place in the stream is kept: it belongs to one device."""
        return f"matrix sync {self._client.user_id} {self._client.device_id}"

    async def run(self, stop: asyncio.Event) -> None:
        """Receive until `stop`. Raises `TokenRefused`; everything else is tried again."""
        place = None
        while not stop.is_set():
            try:
                if place is None:
                    place = await self._rooms.records.key_value(self.key_value)
                    await self._rooms.pending()
                response = await until(stop, self._ask(place))
                if response is None or not await self._handle(response, place, stop):
                    break
                place = response.next_batch
                await self._go_on(place, stop)
            except Exception as error:
                await self._failed(error, stop)

    async def _failed(self, error: Exception, stop: asyncio.Event) -> None:
        if isinstance(error, RequestRefused) and error.code in TOKEN_REFUSED:
            raise TokenRefused from None
        known = isinstance(error, RequestRefused | aiohttp.ClientError | TimeoutError | OSError)
        what = _named(error)
        log.log(logging.WARNING if known else logging.ERROR, "Matrix: no events (%s); trying again", what)
        self.on_contact(f"no events ({what})")
        # matrix-nio passes over an answer that it has seen: the repeated one has to be handled.
        self._client.next_batch = ""
        wait_s = error.retry_after_s if isinstance(error, RequestRefused) else None
        await self._patience.pause(stop, wait_s or 0.0)

    async def _go_on(self, place: str, stop: asyncio.Event) -> None:
        """Do what follows an answer that was handled."""
        if not self._sealed:
            await self._rooms.records.keep(self.key_value, place)
        self._full = False
        self._patience.reset()
        self.on_contact("")
        await until(stop, keys.exchange(self._client))
        self.ready.set()
        await until(stop, self._rooms.answer_invitations())

    # ------------------------------------------------------------ asking

    async def _ask(self, place: str) -> SyncResponse:
        """Ask for what is new since `place`; at the very first start only for where the stream stands."""
        waits = bool(place) and not self._full
        wait_s = self._wait_s()
        limit = _EVENTS_AT_ONCE if place else 1
        async with asyncio.timeout(self._timeout_s + (wait_s if waits else 4 * self._timeout_s)):
            response = await checked(
                self._client.sync(
                    timeout=int(1000 * wait_s) if waits else 1,
                    since=place or None,
                    sync_filter=_filter(limit, new=not place),
                    full_state=self._full or None,
                )
            )
        if not isinstance(response, SyncResponse):
            raise TypeError(f"An answer to sync was a {type(response).__name__}.")
        return response

    def _wait_s(self) -> float:
        """Return how long a request may stay open [s]: less while something waits for us."""
        wait_s = min(self._long_poll_s, 5.0) if self._rooms.waiting else self._long_poll_s
        now_s = asyncio.get_running_loop().time()
        return max(0.1, min([wait_s, *(sealed.until_s - now_s for sealed in self._sealed.values())]))

    # ------------------------------------------------------------ handling

    async def _handle(self, response: SyncResponse, place: str, stop: asyncio.Event) -> bool:
        """Hand over everything in an answer; False if the program stops before that is done."""
        for address, info in response.rooms.invite.items():
            # matrix-nio takes the content out of the source of these.
            members = [event for event in info.invite_state if isinstance(event, InviteMemberEvent)]
            self._rooms.noted(address, [event.source | {"content": event.content} for event in members])
        if not place:
            return True  # what was said before our very first start is not for us
        for address, info in response.rooms.leave.items():
            if not await self._stored(partial(self._left, address, info.timeline.events), stop):
                return False
        if not await self._open_sealed(stop):
            return False
        for address, info in response.rooms.join.items():
            events = info.timeline.events
            if info.timeline.limited and info.timeline.prev_batch:
                events = [*await self._missed(address, info.timeline.prev_batch, place), *events]
            if not await self._all_taken(address, events, stop):
                return False
        return True

    async def _all_taken(self, address: str, events: list[Any], stop: asyncio.Event) -> bool:
        withdrawn = {event.redacts for event in events if isinstance(event, RedactionEvent)}
        for event in events:
            room = self._client.rooms.get(address)
            if room is None:  # left while this answer was handled
                return True
            if not isinstance(event, Event) or event.event_id in withdrawn:
                continue
            if isinstance(event, MegolmEvent):
                await self._seal(room, event)
            elif not await self._stored(partial(self._take, room, event), stop):
                return False
        return True

    async def _stored(self, work: Callable[[], Awaitable[None]], stop: asyncio.Event) -> bool:
        """Do it until it works: the next event must not overtake this one, nor it be lost.

        Only an event for which the homeserver itself does not do what it needs, while it does everything else, is
        passed over in the end: one broken room must not stop the whole school.
        """
        refusals = 0
        while not stop.is_set():
            try:
                await work()
            except _OF_HOMESERVER as error:
                if isinstance(error, RequestRefused) and error.code in TOKEN_REFUSED:
                    raise
                refusals += 1
                if refusals >= _MOST_REFUSALS and not _limited(error) and await self._answers():
                    log.error(
                        "Matrix: the homeserver fails for an event (%s); it was passed over", _named(error)
                    )
                    return True
                await self._not_stored(error, stop)
            except Exception as error:
                await self._not_stored(error, stop)
            else:
                return True
        return False

    async def _answers(self) -> bool:
        """Whether the homeserver is there at all."""
        try:
            async with asyncio.timeout(self._timeout_s):
                await ask(self._client, "GET", f"{CLIENT}/account/whoami")
        except _OF_HOMESERVER:
            return False
        return True

    async def _not_stored(self, error: Exception, stop: asyncio.Event) -> None:
        name = type(error).__name__
        log.error("Matrix: an event could not be stored (%s); trying again", name)
        self.on_contact(f"events cannot be stored ({name})")
        await self._patience.pause(stop)

    async def _missed(self, address: str, start: str, place: str) -> list[Any]:
        """Page back to where we stopped; the oldest event first."""
        found: list[Any] = []
        for _ in range(_MOST_PAGES):
            page = await checked(
                self._client.room_messages(
                    address,
                    start=start,
                    end=place,
                    direction=MessageDirection.back,
                    limit=_PAGE,
                    message_filter={"types": list(KINDS)},
                )
            )
            found.extend(page.chunk)
            if not page.end or page.end == start or (not page.chunk):
                break
            start = page.end
        return found[::-1]

    # ------------------------------------------------------------ keys

    async def _seal(self, room: MatrixRoom, event: MegolmEvent) -> None:
        """Keep a message that cannot be read yet, and ask whoever sent it for the key."""
        if event.sender == self._client.user_id or event.event_id in self._sealed:
            return
        event.room_id = room.room_id
        now_s = asyncio.get_running_loop().time()
        self._sealed[event.event_id] = Sealed(room, event, now_s + self._wait_for_key_s)
        request = event.as_key_request(event.sender, self._client.device_id, device_id=event.device_id)
        asked = ToDeviceMessage(request.type, event.sender, event.device_id, request.content)
        self._client.outgoing_to_device_messages.append(asked)
        log.info("Matrix: a message came before its key; waiting for it")

    async def _open_sealed(self, stop: asyncio.Event) -> bool:
        now_s = asyncio.get_running_loop().time()
        for name, sealed in list(self._sealed.items()):
            try:
                event: Event = self._client.decrypt_event(sealed.event)
            except EncryptionError:
                if now_s < sealed.until_s:
                    continue
                # Handed over as it is: the person is told that it could not be read.
                event = sealed.event
            if not await self._stored(partial(self._take, sealed.room, event), stop):
                return False
            del self._sealed[name]
        return True


def _limited(error: Exception) -> bool:
    return isinstance(error, RequestRefused) and error.limited


def _named(error: Exception) -> str:
    """Return what went wrong in words that name nobody."""
    return str(error) if isinstance(error, RequestRefused) else type(error).__name__


def _filter(limit: int, *, new: bool = False) -> dict[str, Any]:
    nothing: dict[str, Any] = {"types": []}
    wanted: dict[str, Any] = {
        "timeline": {"types": list(KINDS), "limit": limit},
        "state": {"types": [kind for kind in KINDS if kind.startswith("m.room.")]},
        "ephemeral": nothing,
        "account_data": nothing,
    }
    if new:
        wanted["not_rooms"] = [unheard_of()]
    return {"presence": nothing, "account_data": nothing, "room": wanted}
