"""A proxy in front of the homeserver of the tests that answers some requests itself, as proxies in trouble do."""

from __future__ import annotations

import asyncio
import re
from collections import Counter
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager, contextmanager

import aiohttp
from aiohttp import web
from yarl import URL

PAGE = "<html><head><title>502 Bad Gateway</title></head><body><center><h1>502 Bad Gateway</h1></center></body></html>"


def _refusal(status: int, code: str) -> web.Response:
    body = {"errcode": code, "error": "in trouble"} | ({"retry_after_ms": 50} if status == 429 else {})
    return web.json_response(body, status=status)


def _page(status: int) -> web.Response:
    return web.Response(text=PAGE, content_type="text/html", status=status)


FAULTS = {
    # Codes: client-server specification v1.13, "Common error codes"; what Synapse sends with each status.
    "json 429": lambda: _refusal(429, "M_LIMIT_EXCEEDED"),
    "json 500": lambda: _refusal(500, "M_UNKNOWN"),
    "json 502": lambda: _refusal(502, "M_UNKNOWN"),
    "json 503": lambda: _refusal(503, "M_UNKNOWN"),
    "page 502": lambda: _page(502),
    "page 404": lambda: _page(404),
    "page 200": lambda: _page(200),
    "empty 200": lambda: web.Response(status=200),
    "list 200": lambda: web.json_response([], status=200),
    "silence": None,
}
"""What is answered instead of the homeserver, by name; ``silence`` holds the connection open."""

_HOP = {"host", "content-length", "transfer-encoding", "connection", "accept-encoding"}
_KEPT = ("Content-Type", "Content-Disposition", "Retry-After")


class Proxy:
    """Hands requests on, but for those whose path is matched by what is broken now."""

    def __init__(self, behind: str) -> None:
        self._behind = behind
        self._broken: re.Pattern[str] | None = None
        self._fault = ""
        self._released = asyncio.Event()
        self.url = ""
        self.hits: Counter[str] = Counter()

    @contextmanager
    def broken(self, path: str, fault: str) -> Iterator[None]:
        """Answer requests whose path has `path` (a pattern) with a fault for a while."""
        self._broken, self._fault, self.hits = re.compile(path), fault, Counter()
        self._released.clear()
        try:
            yield
        finally:
            self._broken = None
            self._released.set()

    async def handle(self, request: web.Request) -> web.StreamResponse:
        """Answer one request."""
        if self._broken is not None and self._broken.search(request.path):
            self.hits[self._fault] += 1
            answer = FAULTS[self._fault]
            if answer is not None:
                await request.read()
                return answer()
            await self._released.wait()
            return _page(504)
        return await self._handed_on(request)

    async def _handed_on(self, request: web.Request) -> web.StreamResponse:
        headers = {name: value for name, value in request.headers.items() if name.lower() not in _HOP}
        where = URL(self._behind + request.raw_path, encoded=True)
        data = await request.read()
        async with self.http.request(request.method, where, data=data, headers=headers) as answer:
            kept = {name: answer.headers[name] for name in _KEPT if name in answer.headers}
            return web.Response(body=await answer.read(), status=answer.status, headers=kept)

    @asynccontextmanager
    async def running(self) -> AsyncIterator[Proxy]:
        """Listen on a port of its own."""
        app = web.Application(client_max_size=1 << 26)
        app.router.add_route("*", "/{anything:.*}", self.handle)
        runner = web.AppRunner(app, shutdown_timeout=0.1)
        async with aiohttp.ClientSession() as self.http:
            await runner.setup()
            site = web.TCPSite(runner, "127.0.0.1", 0)
            await site.start()
            self.url = f"http://127.0.0.1:{runner.addresses[0][1]}"
            try:
                yield self
            finally:
                self._released.set()
                await runner.cleanup()
