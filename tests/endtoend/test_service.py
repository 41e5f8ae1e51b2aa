"""The installed program as a service manager sees it: one process, told to start, watched, told to stop."""

import asyncio
import contextlib
import os
import signal
import socket
import sys

import aiohttp
import pytest

from tests.servers.botapi import TOKEN, BotApi

MIRA = 4711
WITHIN_S = 60.0


@pytest.fixture
def manager(tmp_path):
    """A service manager's notify socket."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as line:
        line.bind(str(tmp_path / "notify"))
        line.setblocking(False)
        yield line


@pytest.fixture
async def api():
    async with BotApi() as server:
        server.person(MIRA, "Mira")
        yield server
    assert server.violations == []


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _environment(tmp_path, api, token, port) -> dict[str, str]:
    kept = {name: value for name, value in os.environ.items() if not name.startswith("HOLDFAST_")}
    return kept | {
        "HOLDFAST_DATA_DIR": str(tmp_path / "data"),
        "HOLDFAST_TELEGRAM_TOKEN": token,
        "HOLDFAST_TELEGRAM_API_URL": api.url,
        "HOLDFAST_HEALTH_LISTEN": f"127.0.0.1:{port}",
        "HOLDFAST_TICK_S": "0.3",
        "NOTIFY_SOCKET": str(tmp_path / "notify"),
        "WATCHDOG_USEC": "60000000",
    }


async def _start(tmp_path, api, token, port):
    main = "import sys; sys.argv = ['holdfast', 'run']; from bot.cli import main; main()"
    return await asyncio.create_subprocess_exec(
        sys.executable,
        "-c",
        main,
        cwd=tmp_path,
        env=_environment(tmp_path, api, token, port) | {"PYTHONPATH": os.pathsep.join(sys.path)},
        stdout=asyncio.subprocess.PIPE,
        stderr=asyncio.subprocess.PIPE,
    )


async def _told(manager, process, text):
    """Wait until the program tells something; what it says otherwise is shown if it ends before."""
    heard = []
    with contextlib.suppress(TimeoutError):
        async with asyncio.timeout(WITHIN_S):
            while process.returncode is None:
                with contextlib.suppress(BlockingIOError):
                    heard.append(manager.recv(1000).decode())
                    if text in heard[-1].splitlines():
                        return
                await asyncio.sleep(0.02)
    pytest.fail(f"{text} was not told, only {heard}; {process.returncode}, {await process.stderr.read()!r}")


async def test_a_service_is_ready_feeds_its_watchdog_answers_and_stops_in_good_order(tmp_path, api, manager):
    port = _free_port()
    process = await _start(tmp_path, api, TOKEN, port)
    try:
        await _told(manager, process, "READY=1")
        await _told(manager, process, "WATCHDOG=1")
        api.say(MIRA, "hello")
        async with asyncio.timeout(WITHIN_S):
            while not api.called("sendMessage"):  # noqa: ASYNC110 - what the server saw
                await asyncio.sleep(0.02)
        async with aiohttp.ClientSession(f"http://127.0.0.1:{port}") as client:
            async with client.get("/readyz") as answer:
                assert answer.status == 200, await answer.text()
            async with client.get("/metrics") as answer:
                assert 'holdfast_messages_sent_total{platform="telegram"} 1.0' in await answer.text()
        process.send_signal(signal.SIGTERM)
        await _told(manager, process, "STOPPING=1")
        assert await asyncio.wait_for(process.wait(), WITHIN_S) == 0
    finally:
        if process.returncode is None:
            process.kill()
        _, said = await process.communicate()
    assert TOKEN.partition(":")[2] not in said.decode()
    assert "Mira" not in said.decode()


async def test_a_refused_token_ends_the_program_with_a_sentence_and_code_1(tmp_path, api, manager):
    process = await _start(tmp_path, api, "123456:wrong-token-of-no-value-AAAAAAAAAAAA", _free_port())
    _, said = await asyncio.wait_for(process.communicate(), WITHIN_S)
    assert process.returncode == 1
    last = said.decode().strip().splitlines()[-1]
    assert last.startswith("Telegram refuses the bot's token. Check HOLDFAST_TELEGRAM_TOKEN")
    assert "Traceback" not in said.decode()
