"""The one door to the homeserver besides matrix-nio's own calls: plain requests with our token."""

from __future__ import annotations

import json
from typing import Any
from urllib.parse import quote

from aiohttp import ClientResponse
from nio import AsyncClient, AsyncClientConfig

from bot.chat.matrix.errors import RequestRefused, bounded

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
    """Make a request and return the JSON object of its answer. Raises `RequestRefused` unless it succeeds."""
    response = await request(client, method, path, body)
    async with response:
        return await understood(response)


async def understood(response: ClientResponse) -> dict[str, Any]:
    """Return the JSON object of an answer of success. Raises `RequestRefused` for everything else.

    A homeserver answers every request with a JSON object (specification, "API standards"). A page or an empty answer
    comes from something in front of it and says nothing about what became of the request, whatever its status.
    """
    answer = await _json_object(response)
    if answer is None or not 200 <= response.status < 300:
        raise refused(response, answer)
    return answer


async def refusal_of(response: ClientResponse) -> RequestRefused:
    """Make an exception of an answer that is no success."""
    return refused(response, await _json_object(response))


async def _json_object(response: ClientResponse) -> dict[str, Any] | None:
    try:
        answer = await response.json(content_type=None)
    except (ValueError, RecursionError):
        return None
    return answer if isinstance(answer, dict) else None


async def request(client: AsyncClient, method: str, path: str, body: Any = None) -> ClientResponse:
    """Make a request and return the open answer."""
    headers = {"Authorization": f"Bearer {client.access_token}", "Content-Type": "application/json"}
    data = None if body is None else json.dumps(body)
    response: ClientResponse = await client.send(method, path, data, headers)
    return response


def refused(response: ClientResponse, answer: dict[str, Any] | None) -> RequestRefused:
    """Make an exception of what was read; None is an answer that is no JSON object."""
    answer = answer or {}
    wait_ms = answer.get("retry_after_ms")
    wait_s = wait_ms / 1000 if isinstance(wait_ms, int | float) else _seconds(response)
    return RequestRefused(str(answer.get("errcode", "")), response.status, bounded(wait_s), answer)


def _seconds(response: ClientResponse) -> float | None:
    """Return what the header ``Retry-After`` asks for [s]; its form with a date is left out."""
    asked = response.headers.get("Retry-After", "")
    return float(asked) if asked.isascii() and asked.isdigit() else None
