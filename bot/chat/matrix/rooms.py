"""Which rooms the bot is in: invitations, direct rooms, class rooms, and leaving where it does not belong.

Theory of operation. A room with one other person is that person's private chat. A room with more people, or another,
named room of a teacher, is a class place; the bot stays in it only while it is bound to a class or a teacher of ours is
in it, who may be about to bind it. A private chat never becomes a class place: what is told there is for one person.
Invitations are taken from people we know and from people of the homeservers we serve; others are declined with a
sentence. Who somebody is comes from the database by their id, never by a name.
"""

from __future__ import annotations

import asyncio
import json
import logging
import secrets
from collections import deque
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import aiohttp
from nio import AsyncClient, MatrixRoom, RoomPreset

from bot.chat.matrix.errors import TOKEN_REFUSED, RequestRefused, checked, passing
from bot.chat.matrix.records import Records
from bot.chat.matrix.requests import CLIENT, ask, part
from bot.chat.port import Place
from bot.words import words

log = logging.getLogger(__name__)

MOST_JOINS_AN_HOUR = 300
"""A school year's first day fits; a flood of invitations does not."""

ENCRYPTION = {"algorithm": "m.megolm.v1.aes-sha2"}

_NOT_THERE = frozenset({"M_FORBIDDEN", "M_NOT_FOUND", "M_UNKNOWN", "M_BAD_STATE"})


@dataclass(frozen=True, slots=True)
class Invitation:
    """Somebody wants us in a room."""

    address: str
    by: str


def invitation(address: str, state: Iterable[Mapping[str, Any]], me: str) -> Invitation | None:
    """Find our own invitation among the state that comes with it; the inviter's events stand there too."""
    for event in state:
        content = event.get("content")
        ours = event.get("type") == "m.room.member" and event.get("state_key") == me
        if ours and isinstance(content, dict) and content.get("membership") == "invite":
            return Invitation(address, str(event.get("sender", "")))
    return None


def server_of(user: str) -> str:
    """Return the homeserver of a user's id."""
    return user.partition(":")[2]


def unheard_of() -> str:
    """Return a room that does not exist. A filter with it is new to the homeserver.

    Synapse gives the same answer for two minutes to whoever asks without a place in the stream.
    """
    return f"!{secrets.token_hex(8)}:invalid"


class Rooms:
    """Joins, leaves, makes and classifies rooms.

    Attributes
    ----------
    waiting : dict
        Invitations that have not been answered yet, by room.
    """

    def __init__(
        self, client: AsyncClient, records: Records, servers: Iterable[str], language: str = ""
    ) -> None:
        self._client = client
        self.records = records
        self._servers = frozenset(servers)
        self._words = words(language)
        self._joined_at_s: deque[float] = deque(maxlen=MOST_JOINS_AN_HOUR)
        self._making = asyncio.Lock()
        self.waiting: dict[str, Invitation] = {}

    # ------------------------------------------------------------ what a room is

    def others(self, room: MatrixRoom) -> list[str]:
        """Return who else is in a room, or invited to it."""
        return [user for user in room.users if user != self._client.user_id]

    async def place(self, room: MatrixRoom) -> Place:
        """Say whether a room is somebody's private chat or a class place."""
        others = self.others(room)
        if len(others) > 1 or await self.records.is_class_room(room.room_id):
            return "class"
        named = bool(room.name) and len(others) == 1
        if not named or not await self.records.is_teacher(others[0]):
            return "private"
        return "private" if await self.records.is_private_chat(room.room_id) else "class"

    async def belongs(self, room: MatrixRoom) -> bool:
        """Whether the bot has any business in a room."""
        others = self.others(room)
        if len(others) <= 1 or await self.records.is_class_room(room.room_id):
            return True
        if await self.records.is_private_chat(room.room_id):
            return False
        for user in others:
            if await self.records.is_teacher(user):
                return True
        return False

    def former(self, address: str) -> MatrixRoom | None:
        """Return the room of ours that says itself, by somebody with the right to, that `address` follows it."""
        found = (room for room in self._client.rooms.values() if room.replacement_room == address)
        return next(found, None)

    # ------------------------------------------------------------ invitations

    async def answer_invitations(self) -> None:
        """Take or decline what waits. What the homeserver holds up for now waits for the next time."""
        for one in list(self.waiting.values()):
            try:
                done = await self._answer(one)
            except RequestRefused as refused:
                if passing(refused) or refused.code in TOKEN_REFUSED:
                    self._put_off(one, str(refused))
                    return
                log.warning("Matrix: an invitation could not be answered (%s)", refused)
                done = True
            except (aiohttp.ClientError, TimeoutError, OSError) as error:
                self._put_off(one, type(error).__name__)
                return
            if done:
                self.waiting.pop(one.address, None)

    def _put_off(self, one: Invitation, why: str) -> None:
        """Try the others first next time: one room that cannot be joined must not hold them up."""
        log.info("Matrix: an invitation waits (%s)", why)
        self.waiting[one.address] = self.waiting.pop(one.address, one)

    async def _answer(self, one: Invitation) -> bool:
        if not await self._welcome(one):
            log.info("Matrix: declined an invitation from somebody who is not of this school")
            await self.leave(one.address, self._words.text("matrix.declined"))
            return True
        if not self._may_join():
            return False
        await checked(self._client.join(one.address))
        self._joined_at_s.append(asyncio.get_running_loop().time())
        return True

    async def _welcome(self, one: Invitation) -> bool:
        if server_of(one.by) in self._servers or await self.records.knows(one.by):
            return True
        return self.former(one.address) is not None or await self.records.is_class_room(one.address)

    def _may_join(self) -> bool:
        now_s = asyncio.get_running_loop().time()
        full = len(self._joined_at_s) == MOST_JOINS_AN_HOUR
        if full and now_s - self._joined_at_s[0] < 3600:
            log.warning("Matrix: more than %d invitations in an hour; the rest waits", MOST_JOINS_AN_HOUR)
            return False
        return True

    async def pending(self) -> None:
        """Ask for invitations that came while we were away: a stored sync token does not bring them again."""
        nothing: dict[str, Any] = {"types": []}
        wanted = {
            "presence": nothing,
            "account_data": nothing,
            "room": {
                "not_rooms": [unheard_of()],
                "timeline": {"limit": 1} | nothing,
                "state": nothing,
                "ephemeral": nothing,
                "account_data": nothing,
            },
        }
        answer = await ask(self._client, "GET", f"{CLIENT}/sync?timeout=0&filter={part(json.dumps(wanted))}")
        for address, info in answer.get("rooms", {}).get("invite", {}).items():
            self.noted(address, info.get("invite_state", {}).get("events", []))

    def noted(self, address: str, state: Iterable[Mapping[str, Any]]) -> None:
        """Remember an invitation until it is answered."""
        one = invitation(address, state, self._client.user_id)
        if one is not None:
            self.waiting[address] = one

    # ------------------------------------------------------------ coming and going

    async def leave_crowd(self, address: str) -> None:
        """Leave a room in which more people would read what a student answers, and say so."""
        await self.leave(address, self._words.text("matrix.too_many"))

    async def leave(self, address: str, reason: str = "") -> None:
        """Leave a room or decline an invitation, saying why. Being out already is as good."""
        try:
            await ask(
                self._client,
                "POST",
                f"{CLIENT}/rooms/{part(address)}/leave",
                {"reason": reason} if reason else {},
            )
        except RequestRefused as refused:
            if refused.code not in _NOT_THERE:
                raise
        self.forget(address)

    def forget(self, address: str) -> None:
        """Drop what the client knows about a room that we are not in any more."""
        self._client.rooms.pop(address, None)
        self._client.invited_rooms.pop(address, None)

    async def secure(self, room: MatrixRoom) -> None:
        """Turn encryption on in a private room that has none, where we may."""
        if room.encrypted or not room.power_levels.can_user_send_state(
            self._client.user_id, "m.room.encryption"
        ):
            return
        try:
            await checked(self._client.room_put_state(room.room_id, "m.room.encryption", ENCRYPTION))
        except RequestRefused as refused:
            log.info("Matrix: a private room stays unencrypted (%s)", refused)

    async def direct(self, user: str) -> str:
        """Return the address of a private chat with somebody; make an encrypted one if there is none."""
        async with self._making:
            for room in list(self._client.rooms.values()):
                if self.others(room) == [user] and await self.place(room) == "private":
                    return str(room.room_id)
            made = await checked(
                self._client.room_create(
                    is_direct=True,
                    preset=RoomPreset.trusted_private_chat,
                    invite=[user],
                    initial_state=[{"type": "m.room.encryption", "state_key": "", "content": ENCRYPTION}],
                )
            )
            return str(made.room_id)
