"""Pictures of a real Matrix client with our messages: ``sh deploy/drills/matrix_screens.sh``, some minutes.

A class is played through the program and a real homeserver, encrypted. A general web client, in headless Chromium and
as large as a phone, is a second device of one student: it reads along, and what it shows is kept.
"""

from __future__ import annotations

import asyncio
import base64
import json
import random
import sys
import tempfile
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import aiohttp
from aiohttp import web

from storage.base.database import connect
from tests.matrixtown import MatrixPhone, MatrixTown, matrix_town
from tests.schoolweek import FRIDAY, Student, join, open_class
from tests.screens import FOLDER, HEIGHT, WIDTH, browser_path
from tests.servers import synapse
from tests.servers.synapse import SECRET, Synapse

ENDS = datetime(2026, 12, 2, 20, 0, tzinfo=UTC)
FLAGS = (
    "--headless=new", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
    "--disable-background-networking", "--disable-component-update", "--hide-scrollbars", "--remote-debugging-port=0",
)  # fmt: skip
SETTLES_S = 1.5
"""How long the client is given to decrypt and draw."""

# ---------------------------------------------------------------- the browser


@dataclass
class Browser:
    """A page of Chromium, told what to do over its debugging protocol."""

    page: aiohttp.ClientWebSocketResponse
    _count: int = 0

    async def call(self, method: str, **params: Any) -> dict[str, Any]:
        """Call a method of the protocol and return its result."""
        self._count += 1
        await self.page.send_json({"id": self._count, "method": method, "params": params})
        while True:
            answer = json.loads((await self.page.receive()).data)
            if answer.get("id") == self._count:
                assert "error" not in answer, answer
                return dict(answer["result"])

    async def script(self, text: str) -> Any:
        """Run JavaScript in the page and return its value."""
        answer = await self.call("Runtime.evaluate", expression=text, awaitPromise=True, returnByValue=True)
        assert "exceptionDetails" not in answer, answer
        return answer["result"].get("value")

    async def until(self, condition: str) -> None:
        """Wait until something holds in the page."""
        async with asyncio.timeout(60):
            while not await self.script(condition):  # noqa: ASYNC110 - a page has no events for us
                await asyncio.sleep(0.2)

    async def picture(self, target: Path) -> None:
        """Keep what the page shows."""
        await asyncio.sleep(SETTLES_S)
        shot = await self.call("Page.captureScreenshot", format="png")
        await asyncio.to_thread(target.write_bytes, base64.b64decode(shot["data"]))


@asynccontextmanager
async def browser() -> AsyncIterator[Browser]:
    """Open Chromium with a page of a phone's size."""
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        process = await asyncio.create_subprocess_exec(
            browser_path(),
            *FLAGS,
            f"--user-data-dir={folder}",
            "about:blank",
            stderr=asyncio.subprocess.DEVNULL,
        )
        try:
            async with aiohttp.ClientSession() as http:
                yield await _page(http, Path(folder) / "DevToolsActivePort")
        finally:
            process.terminate()
            await process.wait()


async def _page(http: aiohttp.ClientSession, port_file: Path) -> Browser:
    async with asyncio.timeout(30):
        while (port := _first_line(port_file)) is None:  # noqa: ASYNC110 - a file has no events
            await asyncio.sleep(0.1)
    async with http.get(f"http://127.0.0.1:{port}/json/list") as answer:
        address = next(one["webSocketDebuggerUrl"] for one in await answer.json() if one["type"] == "page")
    page = Browser(await http.ws_connect(address, max_msg_size=0))
    await page.call(
        "Emulation.setDeviceMetricsOverride", width=WIDTH, height=HEIGHT, deviceScaleFactor=1, mobile=True
    )
    await page.call("Emulation.setLocaleOverride", locale="en_GB")
    return page


def _first_line(file: Path) -> str | None:
    return file.read_text().split()[0] if file.exists() and "\n" in file.read_text() else None


@asynccontextmanager
async def served(folder: Path) -> AsyncIterator[str]:
    """Serve the client's files on loopback."""
    app = web.Application()
    app.router.add_static("/", folder)
    runner = web.AppRunner(app)
    await runner.setup()
    try:
        await web.TCPSite(runner, "127.0.0.1", 0).start()
        yield f"http://127.0.0.1:{runner.addresses[0][1]}"
    finally:
        await runner.cleanup()


# ---------------------------------------------------------------- playing


@dataclass
class Camera:
    """Keeps the first picture of each thing that is worth one."""

    page: Browser
    phone: MatrixPhone
    folder: Path
    taken: set[str] = field(default_factory=set)

    async def take(self, name: str) -> None:
        """Keep what the client shows, once."""
        if name not in self.taken:
            self.taken.add(name)
            await self.page.picture(self.folder / f"matrix_{name}.png")

    async def look(self) -> None:
        """Keep what is new on the phone, if it is of a kind that has no picture yet."""
        shown = self.phone.shown
        said = " ".join(one.text for one in shown[-2:])
        kinds = ["right"] * ("✓" in said) + ["wrong"] * ("✗" in said)
        if "Start" in shown[-1].buttons:
            kinds.append("nudge")
        elif "Not sure" in shown[-1].buttons:
            lettered = any(one.startswith("A ") for one in shown[-1].buttons)
            kinds.append("choice" if lettered else "number")
        for kind in [one for one in kinds if one not in self.taken][:1]:
            await self.take(kind)


async def play(client: str, server: Synapse, folder: Path, page: Browser) -> None:
    """Play some days of a class; its first student has the client."""
    with tempfile.TemporaryDirectory() as keys:
        async with matrix_town(server, connect("sqlite://"), FRIDAY, Path(keys)) as place:
            teacher: Any = await place.newcomer("Ms Okafor")
            code = await open_class(place, teacher)
            phone: Any = await place.newcomer("Mira")
            await _log_in(place, page, client, phone)
            await join(phone, code)
            rooms = "location.hash.split('/').slice(0, 3).join('/') + '/room/'"
            await page.script(f"location.hash = {rooms} + {json.dumps(phone.room)}")
            camera = Camera(page, phone, folder)
            await camera.take("joined")
            student = Student(phone, "taps", random.Random(1))
            student.pass_over()

            async def look() -> None:
                await camera.look()
                student.look()

            await place.go_to(ENDS, each=look)
            await _ask(camera)


async def _ask(camera: Camera) -> None:
    for said, name in (("progress", "progress"), ("language Deutsch", ""), ("next", "german")):
        await camera.phone.says(said)
        if name:
            await camera.take(name)


async def _log_in(place: MatrixTown, page: Browser, client: str, phone: MatrixPhone) -> None:
    for user, name in ((place.bot, "Holdfast"), (phone.id, phone.name)):
        await place.server.admin("PUT", f"/_synapse/admin/v2/users/{user}", {"displayname": name})
    await page.call("Page.navigate", url=f"{client}/index.html?homeserver={place.server.url}#/login")
    await page.until("!!document.querySelector('#password')")
    await page.script(
        f"document.querySelector('#username').value = {json.dumps(phone.id)};"
        f"document.querySelector('#password').value = {json.dumps(SECRET)};"
        "document.querySelector('#password').closest('form').querySelector('button[type=submit]').click()"
    )
    await page.until("location.hash.startsWith('#/session/')")
    await asyncio.sleep(SETTLES_S)


async def main(client: Path, folder: Path) -> None:
    """Write the pictures into a folder that is there."""
    with synapse.running() as server:
        async with served(client) as address, browser() as page:
            await play(address, server, folder, page)


if __name__ == "__main__":
    asyncio.run(main(Path(sys.argv[1]), Path(sys.argv[2]) if len(sys.argv) > 2 else FOLDER))
