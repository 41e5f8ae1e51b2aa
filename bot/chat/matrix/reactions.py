"""The bot's own reactions below its messages, which people tap to answer.

The message itself is what has to arrive: letters can be typed. So a reaction that the homeserver does not take now
(they count against its rate limit) is not a failure of the message; it is tried again behind it, for a while.
"""

from __future__ import annotations

import asyncio
import contextlib
import hashlib
import logging
from collections import OrderedDict
from collections.abc import Awaitable, Callable, Sequence

import aiohttp
from nio import AsyncClient

from bot.chat.matrix.errors import TOKEN_REFUSED, RequestRefused, checked, passing
from bot.chat.matrix.requests import CLIENT_V1, ask, part

log = logging.getLogger(__name__)

SendEvent = Callable[[str, str, dict[str, object], str], Awaitable[str]]

_REMEMBERED = 4096
_MOST_TRIES = 60
_FIRST_PAUSE_S = 2.0
_MOST_PAUSE_S = 30.0


class Signs:
    """Shows and takes away reactions of ours."""

    def __init__(self, client: AsyncClient, send: SendEvent) -> None:
        self._client = client
        self._send = send
        self._ours: OrderedDict[str, dict[str, str]] = OrderedDict()
        self._later: dict[str, asyncio.Task[None]] = {}

    async def show(self, address: str, reference: str, keys: Sequence[str], *, new: bool = False) -> None:
        """Let exactly these signs of ours stand below a message; what fails is tried again in the background."""
        waiting = self._later.pop(reference, None)
        if waiting is not None:
            waiting.cancel()
        if new:
            self._ours.setdefault(reference, {})
        try:
            await self._settle(address, reference, keys)
        except (RequestRefused, aiohttp.ClientError, TimeoutError) as error:
            if not _passes(error):
                log.warning("Matrix: signs to tap were refused (%s)", error)
                return
            task = asyncio.create_task(self._try_again(address, reference, tuple(keys), _wait_s(error, 0)))
            self._later[reference] = task
            task.add_done_callback(lambda done: self._ended(reference, done))

    async def _try_again(self, address: str, reference: str, keys: Sequence[str], wait_s: float) -> None:
        for attempt in range(1, _MOST_TRIES):
            await asyncio.sleep(wait_s)
            try:
                await self._settle(address, reference, keys)
            except (RequestRefused, aiohttp.ClientError, TimeoutError) as error:
                if not _passes(error):
                    log.warning("Matrix: signs to tap were refused (%s)", error)
                    return
                wait_s = _wait_s(error, attempt)
            else:
                return
        log.warning("Matrix: signs to tap were given up; letters can be typed")

    def _ended(self, reference: str, task: asyncio.Task[None]) -> None:
        if self._later.get(reference) is task:
            del self._later[reference]
        if not task.cancelled() and task.exception() is not None:
            log.error("Matrix: showing signs failed (%s)", type(task.exception()).__name__)

    async def _settle(self, address: str, reference: str, keys: Sequence[str]) -> None:
        """Take away what is too much, then add what is missing, in order. Repeating it changes nothing."""
        ours = await self._known(address, reference)
        for key in [key for key in ours if key not in keys]:
            transaction = f"x{_short(ours[key])}"
            with contextlib.suppress(_Gone):
                await _or_gone(checked(self._client.room_redact(address, ours[key], tx_id=transaction)))
            del ours[key]
        for key in keys:
            if key not in ours:
                relation = {"rel_type": "m.annotation", "event_id": reference, "key": key}
                transaction = f"r{_short(reference + key)}"
                try:
                    ours[key] = await self._send(
                        address, "m.reaction", {"m.relates_to": relation}, transaction
                    )
                except RequestRefused as refused:
                    if refused.code != "M_DUPLICATE_ANNOTATION":
                        raise
                    # It stands there from an attempt before a restart; its id is asked for when needed.
                    self._ours.pop(reference, None)
                    ours = await self._known(address, reference)

    async def _known(self, address: str, reference: str) -> dict[str, str]:
        """Return our signs below a message by key, asking the homeserver where this process does not know."""
        ours = self._ours.get(reference)
        if ours is None:
            where = f"{CLIENT_V1}/rooms/{part(address)}/relations/{part(reference)}/m.annotation/m.reaction?limit=100"
            answer = await ask(self._client, "GET", where)
            ours = {
                event["content"]["m.relates_to"]["key"]: event["event_id"]
                for event in answer.get("chunk", [])
                if event.get("sender") == self._client.user_id
                and "key" in event.get("content", {}).get("m.relates_to", {})
            }
            self._ours[reference] = ours
        self._ours.move_to_end(reference)
        while len(self._ours) > _REMEMBERED:
            self._ours.popitem(last=False)
        return ours

    @property
    def busy(self) -> bool:
        """Whether signs wait for another attempt."""
        return bool(self._later)

    async def close(self) -> None:
        """Give up what waits."""
        tasks = list(self._later.values())
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)


class _Gone(Exception):
    """What was to be taken away is not there any more."""


async def _or_gone(call: Awaitable[object]) -> None:
    try:
        await call
    except RequestRefused as refused:
        if refused.code == "M_NOT_FOUND":
            raise _Gone from None
        raise


def _passes(error: Exception) -> bool:
    """Whether trying again may help."""
    if not isinstance(error, RequestRefused):
        return True
    return passing(error) or (error.status == 0 and error.code not in TOKEN_REFUSED)


def _wait_s(error: Exception, attempt: int) -> float:
    if isinstance(error, RequestRefused) and error.retry_after_s is not None:
        return error.retry_after_s
    return min(_MOST_PAUSE_S, _FIRST_PAUSE_S * float(2 ** min(attempt, 8)))


def _short(text: str) -> str:
    """Return a transaction id that is the same for the same sign below the same message."""
    return hashlib.sha256(text.encode()).hexdigest()[:24]
