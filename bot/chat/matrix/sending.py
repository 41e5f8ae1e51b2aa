"""How a planned message reaches a room: files uploaded, texts sent or edited in place, signs to tap below them.

Every event has a transaction id made of the message's token, so that a second attempt changes nothing. Raises
`RequestRefused` and the libraries' errors as they come; `bot.chat.matrix.adapter` translates them.
"""

from __future__ import annotations

import asyncio
import io
from collections import OrderedDict
from typing import Any
from weakref import WeakValueDictionary

from nio import AsyncClient, ErrorResponse, MatrixRoom

from bot.chat.matrix import rendering as out
from bot.chat.matrix.errors import KeyNotShared, checked, refusal
from bot.chat.matrix.reactions import Signs
from bot.chat.port import Attachment, Message

_REMEMBERED = 1024


class MatrixSender:
    """Sends and edits for one account. Keeps only what saves requests: all of it may be lost."""

    def __init__(self, client: AsyncClient, *, timeout_s: float) -> None:
        self._client = client
        self._timeout_s = timeout_s
        self._locks: WeakValueDictionary[str, asyncio.Lock] = WeakValueDictionary()
        self._sent_parts: OrderedDict[str, dict[str, str]] = OrderedDict()
        self._meanings: OrderedDict[tuple[str, str], dict[str, str]] = OrderedDict()
        self.signs = Signs(client, self.event)

    # ------------------------------------------------------------ one event

    async def event(self, address: str, kind: str, content: dict[str, Any], transaction: str) -> str:
        """Send one event, encrypted where the room is, and return its id.

        One at a time in a room. When it fails in the middle, matrix-nio still believes that keys are being shared,
        and every later message would wait for ever: that belief is taken back here.
        """
        async with self._lock(address):
            try:
                async with asyncio.timeout(2 * self._timeout_s):
                    await self._share_key(address)
                    sent = await checked(
                        self._client.room_send(
                            address, kind, content, tx_id=transaction, ignore_unverified_devices=True
                        )
                    )
            except BaseException:
                sharing = self._client.sharing_session.pop(address, None)
                if sharing is not None:
                    sharing.set()
                raise
        return str(sent.event_id)

    async def _share_key(self, address: str) -> None:
        """Bring an encrypted room's key to every device in it before anything is said there.

        matrix-nio does it too, but passes over what is refused or cut off, and believes ever after that everybody has
        the key: they could not read what follows. A device that has no keys to take is left out, as there.
        """
        room, olm = self._client.rooms.get(address), self._client.olm
        if room is None or not room.encrypted:
            return
        if not olm.users_for_key_query.isdisjoint(room.users):
            await checked(self._client.keys_query())
        if not olm.should_share_group_session(address):
            return
        missing = self._client.get_missing_sessions(address)
        if missing:
            await checked(self._client.keys_claim(missing))
        await self._client.share_group_session(address, ignore_unverified_devices=True)
        session = olm.outbound_group_sessions[address]
        devices = (device for user in room.users for device in olm.device_store.active_user_devices(user))
        reachable = {(one.user_id, one.id) for one in devices if olm.session_store.get(one.curve25519)}
        if reachable - session.users_shared_with - session.users_ignored:
            session.shared = False
            raise KeyNotShared

    def _lock(self, address: str) -> asyncio.Lock:
        lock = self._locks.get(address)
        if lock is None:
            lock = self._locks[address] = asyncio.Lock()
        return lock

    # ------------------------------------------------------------ messages

    async def send(self, room: MatrixRoom, message: Message, token: str) -> str:
        """Send a message as the events that it needs and return the reference of the one that can be edited.

        An attempt with the same `token` goes on after the events that went out before.
        """
        plan = await _plan(message)
        reference = ""
        for number, file in enumerate(plan.files):
            reference = await self._once(room, token, f"f{number}", file=file)
        for number, text in enumerate(plan.texts):
            content = out.text_content(text)
            if plan.actions and number == len(plan.texts) - 1:
                content[out.ACTIONS] = plan.actions
            reference = await self._once(room, token, f"t{number}", content=content)
        if plan.taps:
            await self.signs.show(room.room_id, reference, [tap.key for tap in plan.taps], new=True)
        self._sent_parts.pop(token, None)
        return reference

    async def edit(self, room: MatrixRoom, message: Message, reference: str, token: str) -> str | None:
        """Put a message in the place of an older one and return its reference; None if that cannot be done.

        Its signs are changed with it. A file cannot be put into an older message: it follows as a new one.
        """
        if not reference.startswith("$"):
            return None
        plan = await _plan(message)
        if len(plan.texts) != 1:
            await self.signs.show(room.room_id, reference, [])
            return None
        content = out.edit_content(plan.texts[0], plan.actions, reference)
        await self._once(room, token, "e", content=content)
        self._remember((room.room_id, reference), plan.actions)
        for number, file in enumerate(plan.files):
            await self._once(room, token, f"f{number}", file=file)
        await self.signs.show(room.room_id, reference, [tap.key for tap in plan.taps])
        self._sent_parts.pop(token, None)
        return reference

    def meaning(self, address: str, reference: str) -> dict[str, str] | None:
        """Return what the signs below an edited message mean; None if this process has not edited it of late.

        The database knows the edit only once all signs stand there, and the first may be tapped before that.
        """
        return self._meanings.get((address, reference))

    def _remember(self, message: tuple[str, str], meaning: dict[str, str]) -> None:
        self._meanings[message] = meaning
        self._meanings.move_to_end(message)
        while len(self._meanings) > _REMEMBERED:
            self._meanings.popitem(last=False)

    async def _once(
        self,
        room: MatrixRoom,
        token: str,
        step: str,
        *,
        content: dict[str, Any] | None = None,
        file: Attachment | None = None,
    ) -> str:
        """Send one event of a message, unless an earlier attempt has."""
        sent = self._sent_parts.setdefault(token, {})
        if step not in sent:
            ready = content if file is None else out.file_content(file, await self._upload(room, file))
            sent[step] = await self.event(room.room_id, "m.room.message", ready or {}, f"{token}-{step}")
        while len(self._sent_parts) > _REMEMBERED:
            self._sent_parts.popitem(last=False)
        return sent[step]

    async def _upload(self, room: MatrixRoom, file: Attachment) -> dict[str, Any]:
        """Upload a file, encrypted where the room is, and return what an event says about where it is."""
        async with asyncio.timeout(8 * self._timeout_s):
            response, keys = await self._client.upload(
                lambda *_: io.BytesIO(file.data),
                content_type=file.media_type,
                filename=None if room.encrypted else file.name[:60],
                encrypt=room.encrypted,
                filesize=len(file.data),
            )
        if isinstance(response, ErrorResponse):
            raise refusal(response)
        if not room.encrypted:
            return {"url": response.content_uri}
        return {"file": {"url": response.content_uri, **(keys or {})}}


async def _plan(message: Message) -> out.Plan:
    # Drawing a formula takes tens of milliseconds, and the first one loads a big library.
    if "$" in message.text.plain:
        return await asyncio.to_thread(out.plan, message)
    return out.plan(message)
