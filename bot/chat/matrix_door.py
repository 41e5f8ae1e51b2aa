"""The one door to the homeserver besides matrix-nio's own calls: plain requests with our token."""

from __future__ import annotations

import json
from typing import Any
from urllib.parse import quote

from aiohttp import ClientResponse
from nio import AsyncClient, AsyncClientConfig

from bot.chat.matrix_errors import Refused

CLIENT = "/_matrix/client/v3"
CLIENT_V1 = "/_matrix/client/v1"


def part(text: str) -> str:
    """Return `text` as one part of a path."""
    return quote(text, safe="")


def config(timeout_s: float) -> AsyncClientConfig:
    """Return settings with which matrix-nio returns errors at once instead of repeating for ever by itself."""
    return AsyncClientConfig(
        max_limit_exceeded=0,
        max_timeouts=0,
        request_timeout=timeout_s,
        store_sync_tokens=False,
        encryption_enabled=True,
    )


async def ask(client: AsyncClient, method: str, path: str, body: Any = None) -> dict[str, Any]:
    """Make a request and return the JSON object of its answer. Raises `Refused` for every other status than 200."""
    response = await request(client, method, path, body)
    async with response:
        answer = await answer_of(response)
    if response.status != 200:
        raise refused(response.status, answer)
    return answer


async def answer_of(response: ClientResponse) -> dict[str, Any]:
    """Read the JSON object of an answer; an empty one if a proxy or a broken server sent something else."""
    try:
        answer = await response.json(content_type=None)
    except ValueError:
        return {}
    return answer if isinstance(answer, dict) else {}


async def request(client: AsyncClient, method: str, path: str, body: Any = None) -> ClientResponse:
    """Make a request and return the open answer."""
    headers = {"Authorization": f"Bearer {client.access_token}", "Content-Type": "application/json"}
    data = None if body is None else json.dumps(body)
    response: ClientResponse = await client.send(method, path, data, headers)
    return response


def refused(status: int, answer: dict[str, Any]) -> Refused:
    """Make an exception of an answer that is no success."""
    wait_ms = answer.get("retry_after_ms")
    wait_s = wait_ms / 1000 if isinstance(wait_ms, int | float) else None
    return Refused(str(answer.get("errcode", "")), status, wait_s, answer)
