"""The client of matrix-nio, with answers taken for what they are.

matrix-nio reads any answer that is no JSON object as an empty one, and an empty answer to ``sendToDevice`` as success:
the page of a proxy would pass for delivered keys, and what is said afterwards could never be read. It also empties its
own token on an error that says so, and mixes up the fields of the errors of ``sendToDevice``: any of them says so.
Both end here: whatever is no success is raised, and the token is taken back by nobody but us.
"""

from __future__ import annotations

from typing import Any

from aiohttp import ClientResponse
from nio import AsyncClient, ErrorResponse, Response

from bot.chat.matrix.requests import understood


class Client(AsyncClient):  # type: ignore[misc]  # matrix-nio shows mypy no types
    """`nio.AsyncClient`, strict. Its calls raise `bot.chat.matrix.errors.Refused` for every error answer."""

    async def parse_body(self, transport_response: ClientResponse) -> dict[Any, Any]:
        """Return the JSON object of an answer. Raises `RequestRefused` for anything that is not one of success."""
        return await understood(transport_response)

    async def receive_response(self, response: Response) -> None:
        """Change the state of the client as an answer says; an error changes nothing."""
        if not isinstance(response, ErrorResponse):
            await super().receive_response(response)
