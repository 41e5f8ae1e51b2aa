"""The bot's own reactions: what the homeserver does not take now is tried again behind the message."""

import asyncio
from typing import Any

import aiohttp
import pytest

from bot.chat.matrix import reactions
from bot.chat.matrix.errors import RequestRefused
from bot.chat.matrix.reactions import Signs


class Room:
    """Takes reactions and redactions, or refuses them as told."""

    def __init__(self) -> None:
        self.user_id = "@holdfast:x"
        self.standing: dict[str, str] = {}
        self.refusals: list[Exception] = []
        self.transactions: list[str] = []

    async def send(self, address: str, kind: str, content: dict[str, Any], transaction: str) -> str:
        assert (address, kind) == ("!r", "m.reaction")
        if self.refusals:
            raise self.refusals.pop(0)
        self.transactions.append(transaction)
        key = content["m.relates_to"]["key"]
        self.standing[key] = f"${key}"
        return self.standing[key]

    async def room_redact(self, address: str, event_id: str, *, tx_id: str) -> object:
        if self.refusals:
            raise self.refusals.pop(0)
        del self.standing[event_id[1:]]
        return object()


async def settled(signs: Signs) -> None:
    async with asyncio.timeout(5):
        while signs.busy:  # noqa: ASYNC110 - the background task is the signs' own
            await asyncio.sleep(0.001)


@pytest.fixture
def room() -> Room:
    return Room()


@pytest.fixture
def signs(room: Room) -> Signs:
    return Signs(room, room.send)


LIMITED = RequestRefused("M_LIMIT_EXCEEDED", 429, 0.001)


async def test_signs_stand_in_order_and_are_changed_to_what_is_wanted(room: Room, signs: Signs) -> None:
    await signs.show("!r", "$q", ["🇦", "🇧", "1"], new=True)
    assert list(room.standing) == ["🇦", "🇧", "1"]
    await signs.show("!r", "$q", ["🇧", "🔷"])
    assert list(room.standing) == ["🇧", "🔷"]
    await signs.show("!r", "$q", [])
    assert room.standing == {}


async def test_a_rate_limit_delays_signs_and_fails_no_message(room: Room, signs: Signs) -> None:
    room.refusals = [LIMITED, LIMITED, LIMITED]
    await signs.show("!r", "$q", ["🇦", "🇧"], new=True)
    assert signs.busy
    await settled(signs)
    assert list(room.standing) == ["🇦", "🇧"]
    assert len(set(room.transactions)) == 2


async def test_a_later_wish_replaces_one_that_still_waits(room: Room, signs: Signs) -> None:
    room.refusals = [RequestRefused("M_LIMIT_EXCEEDED", 429, 60.0)]
    await signs.show("!r", "$q", ["🇦", "🇧"], new=True)
    await signs.show("!r", "$q", [])
    assert not signs.busy
    assert room.standing == {}


async def test_a_broken_connection_is_tried_again(
    room: Room, signs: Signs, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(reactions, "_FIRST_PAUSE_S", 0.001)
    room.refusals = [aiohttp.ClientConnectionError("cut"), RequestRefused("", 502), TimeoutError()]
    await signs.show("!r", "$q", ["🇦"], new=True)
    await settled(signs)
    assert list(room.standing) == ["🇦"]


@pytest.mark.parametrize("after", [0, 1])
async def test_what_is_forbidden_is_not_tried_again(
    room: Room, signs: Signs, after: int, caplog: pytest.LogCaptureFixture
) -> None:
    room.refusals = [*[LIMITED] * after, RequestRefused("M_FORBIDDEN", 403)]
    await signs.show("!r", "$q", ["🇦"], new=True)
    await settled(signs)
    assert room.standing == {}
    assert "refused (M_FORBIDDEN" in caplog.text


async def test_closing_gives_up_what_waits(room: Room, signs: Signs) -> None:
    room.refusals = [RequestRefused("M_LIMIT_EXCEEDED", 429, 60.0)]
    await signs.show("!r", "$q", ["🇦"], new=True)
    await signs.close()
    assert not signs.busy


async def test_an_unforeseen_failure_behind_a_message_is_logged(
    room: Room, signs: Signs, caplog: pytest.LogCaptureFixture
) -> None:
    room.refusals = [LIMITED, KeyError("a defect")]
    await signs.show("!r", "$q", ["🇦"], new=True)
    await settled(signs)
    assert "KeyError" in caplog.text
