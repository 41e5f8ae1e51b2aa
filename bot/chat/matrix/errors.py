"""Matrix's errors, translated once.

matrix-nio returns what a homeserver refuses as a value; `checked` makes it an exception, `RequestRefused`. Sending is
never ambiguous: the homeserver knows each message by our transaction id, so a second attempt is harmless.
Reasons hold the server's error code only: its texts name people and rooms.
"""

from __future__ import annotations

from collections.abc import Awaitable
from typing import Any, TypeVar

import aiohttp
from nio import ErrorResponse
from nio.exceptions import (
    EncryptionError,
    GroupEncryptionError,
    LocalProtocolError,
    OlmTrustError,
    ProtocolError,
    TransferCancelledError,
    VerificationError,
)

from bot.chat.port import SendError, SendFailed, SendRefused

T = TypeVar("T")

# Codes of the client-server specification (v1.13, "API standards" and the single end points).
TOKEN_REFUSED = frozenset({"M_UNKNOWN_TOKEN", "M_MISSING_TOKEN", "M_USER_DEACTIVATED"})
"""Nothing works any more until somebody changes the settings or the account."""

ACCOUNT_HELD = frozenset(
    {"M_USER_LOCKED", "M_USER_SUSPENDED", "M_RESOURCE_LIMIT_EXCEEDED", "M_CONSENT_NOT_GIVEN"}
)
"""The homeserver's administrator has to do something; it may work later."""

UNREACHABLE = frozenset(
    {"M_FORBIDDEN", "M_NOT_FOUND", "M_GUEST_ACCESS_FORBIDDEN", "M_UNABLE_TO_AUTHORISE_JOIN"}
)
"""We are not in that room, may not write there, or it is gone."""

_NOT_TAKEN_STATUS = range(400, 500)
_SLOW_DOWN_S = 5.0
_HELD_S = 300.0
_SAID_BY_PROXIES = frozenset({0, 413, 414})
"""Statuses without a code that are no accident: the library's own errors, too large, too long an address."""
_MOST_WAIT_S = 3600.0
_AWAY_STATUS = frozenset({502, 503, 504})
"""What a proxy says while the homeserver behind it is restarted."""
_AWAY_S = 5.0
"""No message is at fault when the homeserver is away, so none is given up: each waits, however long it takes."""


class RequestRefused(Exception):
    """The homeserver did not do what it was asked.

    Attributes
    ----------
    code : str
        The specification's error code, such as ``M_FORBIDDEN``; empty if the answer held none.
    status : int
        The HTTP status, 0 if it is not known.
    retry_after_s : float or None
        How long the server asks to wait. [s]
    body : dict
        The whole answer, for the end points whose refusals say how to go on.
    """

    def __init__(
        self, code: str, status: int, retry_after_s: float | None = None, body: dict[str, Any] | None = None
    ) -> None:
        super().__init__(f"{code or 'no error code'}, HTTP status {status}")
        self.code = code
        self.status = status
        self.retry_after_s = retry_after_s
        self.body = body or {}

    @property
    def limited(self) -> bool:
        """Whether the server only asks to slow down."""
        return self.code == "M_LIMIT_EXCEEDED" or self.status == 429

    @property
    def foreign(self) -> bool:
        """Whether something in front of the homeserver answered: a page, an empty answer, one that is cut off.

        The homeserver's own refusals hold a code. What a proxy refuses for its size it refuses for good.
        """
        return not self.code and self.status not in _SAID_BY_PROXIES


def passing(refused: RequestRefused) -> bool:
    """Whether trying again may help, whatever was asked: the server is overloaded, restarted or away."""
    return refused.limited or refused.status >= 500 or refused.foreign


def bounded(wait_s: float | None) -> float | None:
    """Return how long to wait [s], within reason: a slip of a server must not silence the bot for weeks."""
    return None if wait_s is None else min(_MOST_WAIT_S, max(0.0, wait_s))


class KeyNotShared(RequestRefused):
    """Not every device in a room has got its key, so nothing was said there yet; trying again may help."""

    def __init__(self) -> None:
        super().__init__("", 0)
        self.args = ("a room's key did not reach every device",)


def refusal(response: ErrorResponse) -> RequestRefused:
    """Make an exception of an error that matrix-nio returned."""
    # Without a transport (an answer made by the library itself) there is no status.
    transport = getattr(response, "transport_response", None)
    status = 0 if transport is None else int(transport.status)
    wait_ms = response.retry_after_ms
    return RequestRefused(
        str(response.status_code or ""),
        status,
        bounded(wait_ms / 1000 if isinstance(wait_ms, int | float) else None),
    )


KNOWN = (
    RequestRefused,
    TimeoutError,
    aiohttp.ClientError,
    OSError,
    ProtocolError,
    EncryptionError,
    GroupEncryptionError,
    OlmTrustError,
    VerificationError,
    TransferCancelledError,
)
"""What may go wrong without being a defect of ours."""


async def checked(call: Awaitable[T]) -> T:
    """Await a call of matrix-nio and raise `RequestRefused` for an error that it returns."""
    response = await call
    if isinstance(response, ErrorResponse):
        raise refusal(response)
    return response


def translate(problem: Exception) -> SendError:
    """Say what became of a message in the words of the port.

    Parameters
    ----------
    problem : Exception
        One of `KNOWN`: a refusal, or what matrix-nio or its HTTP library raised.

    Returns
    -------
    SendError
        To be raised ``from`` the original.
    """
    match problem:
        case RequestRefused():
            return _refused(problem)
        case TimeoutError():
            return SendFailed("the homeserver did not answer in time", whole_platform=True)
        case aiohttp.ClientPayloadError():
            return SendFailed("the homeserver's answer broke off")
        case aiohttp.ClientConnectorError():
            name = type(problem).__name__
            return SendFailed(f"the homeserver cannot be reached ({name})", _AWAY_S, whole_platform=True)
        case aiohttp.ClientError() | OSError():
            name = type(problem).__name__
            return SendFailed(f"the homeserver cannot be reached ({name})", whole_platform=True)
        case EncryptionError() | GroupEncryptionError() | OlmTrustError() | VerificationError():
            return SendFailed(f"the message could not be encrypted ({type(problem).__name__})")
        case LocalProtocolError():
            return SendFailed(f"the client is not ready for it ({type(problem).__name__})")
        case ProtocolError() | TransferCancelledError():
            return SendFailed(f"the exchange with the homeserver failed ({type(problem).__name__})")
        case _:
            return SendFailed(f"sending failed ({type(problem).__name__})")


def _refused(refused: RequestRefused) -> SendError:
    if refused.limited:
        wait_s = _SLOW_DOWN_S if refused.retry_after_s is None else refused.retry_after_s
        return SendFailed(f"the homeserver asks to wait {wait_s:.1f} s", wait_s, whole_platform=True)
    if refused.code in TOKEN_REFUSED:
        return SendFailed("the homeserver refuses the bot's token", _HELD_S, whole_platform=True)
    if refused.code in ACCOUNT_HELD:
        reason = f"the homeserver holds the bot's account back ({refused.code})"
        return SendFailed(reason, _HELD_S, whole_platform=True)
    if refused.code in UNREACHABLE:
        return SendRefused(f"the homeserver forbids it ({refused.code})", unreachable=True, doubtful=True)
    if isinstance(refused, KeyNotShared):
        return SendFailed(str(refused), _AWAY_S)
    if refused.status in _AWAY_STATUS or refused.foreign:
        return SendFailed(f"the homeserver is away ({refused})", _AWAY_S, whole_platform=True)
    if refused.status in _NOT_TAKEN_STATUS and refused.status != 408:
        return SendRefused(f"the homeserver does not take it ({refused})")
    return SendFailed(f"the homeserver has trouble ({refused})")
