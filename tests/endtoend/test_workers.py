"""Two processes of the program on one PostgreSQL: one polls, the other takes over when it is killed."""

from __future__ import annotations

import asyncio
import contextlib
import os
import signal
import socket
import sys

import aiohttp
import pytest
from sqlmodel import func, select

from storage.base.database import connect
from storage.tables import OutboxItem, OutboxState
from tests.servers.botapi import TOKEN, BotApi

pytestmark = pytest.mark.server

MIRA = 4711
WITHIN_S = 60.0


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


async def start(folder, api, url, port):
    kept = {name: value for name, value in os.environ.items() if not name.startswith("HOLDFAST_")}
    ours = {
        "HOLDFAST_DATA_DIR": str(folder / f"data{port}"),
        "HOLDFAST_DATABASE_URL": url,
        "HOLDFAST_TELEGRAM_TOKEN": TOKEN,
        "HOLDFAST_TELEGRAM_API_URL": api.url,
        "HOLDFAST_HEALTH_LISTEN": f"127.0.0.1:{port}",
        "HOLDFAST_TICK_S": "0.5",
        "PYTHONPATH": os.pathsep.join(sys.path),
    }
    main = "import sys; sys.argv = ['holdfast', 'run']; from bot.cli import main; main()"
    return await asyncio.create_subprocess_exec(sys.executable, "-c", main, cwd=folder, env=kept | ours)


async def chat_says(port: int) -> str:
    """Return what a process says about its chat, once it answers that it is well."""
    async with asyncio.timeout(WITHIN_S), aiohttp.ClientSession(f"http://127.0.0.1:{port}") as client:
        while True:
            with contextlib.suppress(aiohttp.ClientError):
                async with client.get("/readyz") as answer:
                    if answer.status == 200:
                        return str((await answer.json())["checks"]["chat telegram"]["says"])
            await asyncio.sleep(0.1)


async def noted(db, number: int) -> None:
    """Wait until so many messages are known to have arrived: from then on nothing is ambiguous."""
    asked = select(func.count()).where(OutboxItem.state == OutboxState.SENT)
    async with asyncio.timeout(WITHIN_S):
        while await db.read(lambda session: session.exec(asked).one()) < number:  # noqa: ASYNC110
            await asyncio.sleep(0.05)


async def test_a_killed_poller_hands_over_to_the_process_that_stood_by(tmp_path, postgres_url):
    ports, db = (free_port(), free_port()), connect(postgres_url)
    async with BotApi() as api:
        api.person(MIRA, "Mira")
        first = await start(tmp_path, api, postgres_url, ports[0])
        second = None
        try:
            assert "answered" in await chat_says(ports[0])
            second = await start(tmp_path, api, postgres_url, ports[1])
            assert "standing by" in await chat_says(ports[1])
            api.say(MIRA, "hello")
            await noted(db, 1)
            first.send_signal(signal.SIGKILL)
            await first.wait()
            api.say(MIRA, "hello again")
            await noted(db, 2)
            assert "answered" in await chat_says(ports[1])
            second.send_signal(signal.SIGTERM)
            assert await asyncio.wait_for(second.wait(), WITHIN_S) == 0
        finally:
            for process in (first, second):
                if process is not None and process.returncode is None:
                    process.kill()
                    await process.wait()
    db.close()
    assert len(api.called("sendMessage")) == 2
    assert api.violations == []
