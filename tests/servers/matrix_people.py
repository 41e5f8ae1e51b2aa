"""People of the tests on Matrix: real matrix-nio clients with encryption, as a student's phone has it."""

from __future__ import annotations

import asyncio
import io
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from aiohttp import ClientError
from nio import (
    AsyncClient,
    AsyncClientConfig,
    ErrorResponse,
    Event,
    InviteMemberEvent,
    MatrixRoom,
    ReactionEvent,
    RedactionEvent,
    RoomMemberEvent,
    RoomMessage,
    RoomMessageText,
)

from tests.servers.synapse import SECRET

ENCRYPTION = {"type": "m.room.encryption", "state_key": "", "content": {"algorithm": "m.megolm.v1.aes-sha2"}}
CONFIG = AsyncClientConfig(
    max_limit_exceeded=0, max_timeouts=0, request_timeout=20, store_sync_tokens=False, encryption_enabled=True
)


async def eventually(condition: Callable[[], Any], within_s: float = 15.0) -> None:
    """Wait until something is so; fail after a deadline."""
    async with asyncio.timeout(within_s):
        while not condition():  # noqa: ASYNC110 - conditions of the server have no events
            await asyncio.sleep(0.01)


def good(response: Any) -> Any:
    """Return a response that is no error."""
    assert not isinstance(response, ErrorResponse), response
    return response


class Person:
    """One client of one person: joins where invited, and remembers everything that it sees."""

    def __init__(
        self, url: str, user: str, folder: Path, device: str = "PHONE", password: str = SECRET
    ) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self.user = user
        self._password = password
        self.client = AsyncClient(url, user, device_id=device, store_path=str(folder), config=CONFIG)
        self.seen: list[tuple[str, Event]] = []
        self.accepting = True
        self._task: asyncio.Task[None] | None = None
        self._place: str | None = None

    async def __aenter__(self) -> Person:
        good(await self.client.login(self._password))
        await self._turn(full=True)
        self._task = asyncio.create_task(self._listen())
        return self

    async def __aexit__(self, *_: object) -> None:
        assert self._task is not None
        self._task.cancel()
        await asyncio.gather(self._task, return_exceptions=True)
        await self.client.close()

    async def _listen(self) -> None:
        while True:
            try:
                await self._turn()
            except (OSError, ClientError, AssertionError, TimeoutError):  # the homeserver is being restarted
                self.client.next_batch = ""
                await asyncio.sleep(0.1)

    async def _turn(self, *, full: bool = False) -> None:
        response = good(
            await self.client.sync(timeout=1 if full else 5000, since=self._place, full_state=full)
        )
        self._place = response.next_batch
        for address, info in response.rooms.invite.items():
            ours = [
                e for e in info.invite_state if isinstance(e, InviteMemberEvent) and e.state_key == self.user
            ]
            if ours and self.accepting:
                await self.client.join(address)
        for address, info in response.rooms.join.items():
            self.seen += [(address, event) for event in info.timeline.events]
        await self.keys()

    async def keys(self) -> None:
        """Upload, query and claim what is needed."""
        if self.client.should_upload_keys:
            good(await self.client.keys_upload())
        if self.client.should_query_keys:
            good(await self.client.keys_query())
        if self.client.should_claim_keys:
            await self.client.keys_claim(self.client.get_users_for_key_claiming())
        await self.client.send_to_device_messages()

    # ------------------------------------------------------------ doing

    async def direct(self, other: str, *, encrypted: bool = True) -> str:
        """Invite somebody to a private chat and return its address."""
        state = [ENCRYPTION] if encrypted else []
        made = good(await self.client.room_create(is_direct=True, invite=[other], initial_state=state))
        await eventually(lambda: made.room_id in self.client.rooms)
        return str(made.room_id)

    async def group(self, name: str, *others: str) -> str:
        """Make a named encrypted room and invite people."""
        made = good(await self.client.room_create(name=name, invite=others, initial_state=[ENCRYPTION]))
        await eventually(lambda: made.room_id in self.client.rooms)
        return str(made.room_id)

    async def send(self, room: str, kind: str, content: dict[str, Any]) -> str:
        """Send any event."""
        return str(
            good(await self.client.room_send(room, kind, content, ignore_unverified_devices=True)).event_id
        )

    async def say(self, room: str, words: str, *, reply_to: str = "") -> str:
        """Say something."""
        relation = {"m.relates_to": {"m.in_reply_to": {"event_id": reply_to}}} if reply_to else {}
        return await self.send(room, "m.room.message", {"msgtype": "m.text", "body": words, **relation})

    async def tap(self, room: str, reference: str, key: str) -> str:
        """Tap a reaction."""
        relation = {"rel_type": "m.annotation", "event_id": reference, "key": key}
        return await self.send(room, "m.reaction", {"m.relates_to": relation})

    async def upload(self, room: str, name: str, kind: str, data: bytes, caption: str = "") -> str:
        """Send a file, encrypted as the room is."""
        secret = self.client.rooms[room].encrypted
        stored, keys = await self.client.upload(
            lambda *_: io.BytesIO(data), content_type=kind, encrypt=secret, filesize=len(data)
        )
        where = (
            {"file": {"url": good(stored).content_uri, **keys}}
            if secret
            else {"url": good(stored).content_uri}
        )
        content = {
            "msgtype": "m.file",
            "body": caption or name,
            "filename": name,
            "info": {"mimetype": kind, "size": len(data)},
        }
        return await self.send(room, "m.room.message", content | where)

    # ------------------------------------------------------------ seeing

    def room(self, address: str) -> MatrixRoom:
        """Return what this client knows about a room."""
        return self.client.rooms[address]

    def of(self, address: str, kind: type[Event] = RoomMessage, by: str = "") -> list[Any]:
        """Return the events of one kind in a room, by others or by one person."""
        return [
            event
            for where, event in self.seen
            if where == address
            and isinstance(event, kind)
            and (event.sender == by or (not by and event.sender != self.user))
        ]

    def _by(self, event: Event, by: str) -> bool:
        return bool(event.sender == by if by else event.sender != self.user)

    def bodies(self, address: str) -> list[str]:
        """Return what others said, as a client without formatting shows it."""
        return [event.source["content"]["body"] for event in self.of(address)]

    def signs(self, address: str, reference: str) -> list[str]:
        """Return the reactions of others that stand below a message, in order."""
        gone = {event.redacts for event in self.of(address, RedactionEvent)}
        return [
            e.key
            for e in self.of(address, ReactionEvent)
            if e.reacts_to == reference and e.event_id not in gone
        ]

    def bodies_readable(self, address: str) -> list[str]:
        """Return what others said that this device could decrypt."""
        return [event.body for event in self.of(address, RoomMessageText)]

    def _member(self, address: str, user: str) -> RoomMemberEvent | None:
        found = [
            e
            for where, e in self.seen
            if where == address and isinstance(e, RoomMemberEvent) and e.state_key == user
        ]
        return found[-1] if found else None

    def membership(self, address: str, user: str) -> str:
        """Return where somebody stands in a room, by the last that was seen of it."""
        event = self._member(address, user)
        return "" if event is None else event.membership

    def reason(self, address: str, user: str) -> str:
        """Return the reason that was given for it."""
        event = self._member(address, user)
        return "" if event is None else str(event.content.get("reason", ""))

    async def query(self, user: str) -> dict[str, Any]:
        """Ask for somebody's keys, as any client may."""
        path = "/_matrix/client/v3/keys/query"
        headers = {"Authorization": f"Bearer {self.client.access_token}"}
        body = json.dumps({"device_keys": {user: []}})
        response = await self.client.send("POST", path, body, headers)
        async with response:
            answer: dict[str, Any] = await response.json()
        return answer

    def forget_to_share(self, room: str) -> None:
        """Make the next message of a room one whose key nobody else gets."""
        self.client.olm.create_outbound_group_session(room)
        session = self.client.olm.outbound_group_sessions[room]
        session.shared = True
