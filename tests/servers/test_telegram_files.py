"""A picture is uploaded to Telegram once, also when the program was started anew in between."""

from __future__ import annotations

import contextlib
import io
from collections.abc import AsyncIterator
from typing import Any

import pytest
from PIL import Image

from bot.chat.port import Attachment, Message
from bot.chat.telegram.adapter import TelegramChat
from bot.words.rich import Rich
from storage.base import blobs
from storage.base.database import Database
from tests.conftest import NOW
from tests.servers.botapi import TOKEN, BotApi

MIRA = 1001


def message(picture: bytes, media_type: str = "image/png") -> Message:
    return Message(Rich.of("Read off the force."), attachment=Attachment("graph.png", media_type, picture))


@pytest.fixture
def picture() -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (60, 40), "white").save(out, format="PNG")
    return out.getvalue()


@pytest.fixture
async def api() -> AsyncIterator[BotApi]:
    async with BotApi() as server:
        server.person(MIRA, "Mira")
        server.places[MIRA].open = True
        yield server
    assert server.violations == []


@contextlib.asynccontextmanager
async def started(api: BotApi, db: Database) -> AsyncIterator[TelegramChat]:
    """An adapter as the program makes it anew at each start."""
    chat = TelegramChat(TOKEN, api_url=api.url, timeout_s=2)
    chat.attach(db)
    yield chat
    await chat.close()


def given(api: BotApi) -> list[Any]:
    """What was given as the photo each time: a name of Telegram's, or bytes."""
    return [call.values["photo"] for call in api.called("sendPhoto") if call.ok]


async def test_a_picture_of_ours_is_sent_by_its_identifier_after_a_restart(
    api: BotApi, memory_db: Database, picture: bytes
) -> None:
    await memory_db.run(blobs.keep, picture, "image/png", NOW)
    for _ in range(3):
        async with started(api, memory_db) as chat:
            await chat.send(str(MIRA), message(picture), token="t")
    first, *later = given(api)
    assert not isinstance(first, str)
    assert later == [api.seen_by(MIRA)[0].photo] * 2


async def test_a_drawing_for_one_message_is_uploaded_again_and_nothing_fails(
    api: BotApi, memory_db: Database, picture: bytes
) -> None:
    for _ in range(2):
        async with started(api, memory_db) as chat:
            await chat.send(str(MIRA), message(picture), token="t")
    assert [isinstance(one, str) for one in given(api)] == [False, False]


async def test_an_identifier_that_telegram_forgot_is_replaced_on_record(
    api: BotApi, memory_db: Database, picture: bytes
) -> None:
    await memory_db.run(blobs.keep, picture, "image/png", NOW)
    for forgets in (True, False, False):
        async with started(api, memory_db) as chat:
            await chat.send(str(MIRA), message(picture), token="t")
        if forgets:
            api.forget_files()
    assert [isinstance(one, str) for one in given(api)] == [False, False, True]
