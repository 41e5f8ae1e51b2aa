"""A database written by one bot is not used by another by mistake: the whole program, strict Bot API server."""

from __future__ import annotations

import asyncio
import signal
import sys
from pathlib import Path

import pytest

from storage.base.database import connect
from storage.queue import bots
from tests.conftest import NOW
from tests.servers.botapi import BOT_ID, TOKEN, BotApi

pytestmark = pytest.mark.server

OTHER = "987654321:local-test-token_of_no_value_BBBBBB"


async def program(folder: Path, api: BotApi, token: str, *options: str) -> asyncio.subprocess.Process:
    settings = {
        "HOLDFAST_TELEGRAM_TOKEN": token,
        "HOLDFAST_TELEGRAM_API_URL": api.url,
        "HOLDFAST_DATA_DIR": str(folder),
        "PYTHONPATH": str(Path(__file__).parents[2]),
        "PATH": "/usr/bin:/bin",
    }
    return await asyncio.create_subprocess_exec(
        sys.executable,
        "-c",
        "from bot.cli import main; main()",
        "run",
        *options,
        env=settings,
        cwd=folder,
        stderr=asyncio.subprocess.PIPE,
    )


async def polled(api: BotApi) -> None:
    async with asyncio.timeout(120):
        while not api.called("getUpdates"):  # noqa: ASYNC110 - a state of the server
            await asyncio.sleep(0.05)


async def end(running: asyncio.subprocess.Process) -> int:
    running.send_signal(signal.SIGTERM)
    await running.communicate()
    return running.returncode or 0


def kept(folder: Path) -> str:
    db = connect(f"sqlite:///{folder}/holdfast.db")
    with db.reading() as session:
        found = bots.known(session, "telegram")
    db.close()
    return found


async def test_f03_a_start_with_another_bots_token_is_refused_unless_told(tmp_path: Path):
    async with BotApi() as api:
        first = await program(tmp_path, api, TOKEN)
        await polled(api)
        assert await end(first) == 0
        assert kept(tmp_path) == str(BOT_ID)

        calls = len(api.calls)
        second = await program(tmp_path, api, OTHER)
        _, said = await asyncio.wait_for(second.communicate(), 120)
        assert second.returncode == 78
        assert f"belongs to the telegram bot {BOT_ID}" in said.decode()
        assert "--new-bot" in said.decode()
        assert OTHER.partition(":")[2] not in said.decode()
        assert len(api.calls) == calls, "nothing was asked of Telegram"
        assert kept(tmp_path) == str(BOT_ID)

        with_db = connect(f"sqlite:///{tmp_path}/holdfast.db")
        with with_db.begin() as session:  # as after a first start with another token
            bots.forget(session, "telegram")
            bots.confirm(session, "telegram", "987654321", NOW)
        with_db.close()
        api.calls.clear()
        third = await program(tmp_path, api, TOKEN, "--new-bot")
        await polled(api)
        assert await end(third) == 0
        assert kept(tmp_path) == str(BOT_ID)
