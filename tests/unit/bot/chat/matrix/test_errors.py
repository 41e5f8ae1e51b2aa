"""What Matrix refuses, in the words of the port: every error code, every error of the libraries."""

import inspect

import aiohttp
import nio
import nio.exceptions
import nio.responses
import pytest
from aiohttp.client_reqrep import ConnectionKey
from nio import ErrorResponse, RoomSendError, SyncError

from bot.chat.matrix.errors import (
    ACCOUNT_HELD,
    KNOWN,
    TOKEN_REFUSED,
    UNREACHABLE,
    RequestRefused,
    checked,
    refusal,
    translate,
)
from bot.chat.port import SendError, SendFailed, SendRefused

# Source: Matrix client-server specification v1.13, "Common error codes" and "Other error codes".
CODES = [
    "M_FORBIDDEN",
    "M_UNKNOWN_TOKEN",
    "M_MISSING_TOKEN",
    "M_USER_LOCKED",
    "M_USER_SUSPENDED",
    "M_BAD_JSON",
    "M_NOT_JSON",
    "M_NOT_FOUND",
    "M_LIMIT_EXCEEDED",
    "M_UNRECOGNIZED",
    "M_UNKNOWN",
    "M_UNAUTHORIZED",
    "M_USER_DEACTIVATED",
    "M_USER_IN_USE",
    "M_INVALID_USERNAME",
    "M_ROOM_IN_USE",
    "M_INVALID_ROOM_STATE",
    "M_THREEPID_IN_USE",
    "M_THREEPID_NOT_FOUND",
    "M_THREEPID_AUTH_FAILED",
    "M_THREEPID_DENIED",
    "M_SERVER_NOT_TRUSTED",
    "M_UNSUPPORTED_ROOM_VERSION",
    "M_INCOMPATIBLE_ROOM_VERSION",
    "M_BAD_STATE",
    "M_GUEST_ACCESS_FORBIDDEN",
    "M_CAPTCHA_NEEDED",
    "M_CAPTCHA_INVALID",
    "M_MISSING_PARAM",
    "M_INVALID_PARAM",
    "M_TOO_LARGE",
    "M_EXCLUSIVE",
    "M_RESOURCE_LIMIT_EXCEEDED",
    "M_CANNOT_LEAVE_SERVER_NOTICE_ROOM",
    "M_THREEPID_MEDIUM_NOT_SUPPORTED",
    "M_UNABLE_TO_AUTHORISE_JOIN",
    "M_UNABLE_TO_GRANT_JOIN",
    "M_DUPLICATE_ANNOTATION",
    "M_NOT_YET_UPLOADED",
    "M_CANNOT_OVERWRITE_MEDIA",
    "M_CONNECTION_TIMEOUT",
    "M_CONNECTION_FAILED",
    "M_WRONG_ROOM_KEYS_VERSION",
    "M_WEAK_PASSWORD",
    "M_CONSENT_NOT_GIVEN",
    "M_URL_NOT_SET",
    "M_BAD_ALIAS",
]


@pytest.mark.parametrize("code", CODES)
@pytest.mark.parametrize("status", [0, 400, 403, 404, 429, 500, 502])
def test_every_error_code_of_the_specification_is_translated(code: str, status: int) -> None:
    error = translate(RequestRefused(code, status, 4.5 if status == 429 else None))
    assert isinstance(error, SendFailed | SendRefused)
    if status == 429 or code == "M_LIMIT_EXCEEDED":
        assert isinstance(error, SendFailed)
        assert error.whole_platform
        assert error.retry_after_s in (4.5, 5.0)
    elif code in TOKEN_REFUSED | ACCOUNT_HELD:
        assert isinstance(error, SendFailed)
        assert error.whole_platform
        assert error.retry_after_s is not None
    elif code in UNREACHABLE:
        assert isinstance(error, SendRefused)
        assert error.unreachable
    elif 400 <= status < 500:
        assert isinstance(error, SendRefused)
        assert not error.unreachable
    else:
        assert isinstance(error, SendFailed)
        away = status == 502
        assert (error.retry_after_s is not None, error.whole_platform) == (away, away)
    assert not getattr(error, "ambiguous", False)


ERRORS = [
    kind for _, kind in inspect.getmembers(nio.responses, inspect.isclass) if issubclass(kind, ErrorResponse)
]


@pytest.mark.parametrize("kind", ERRORS, ids=lambda kind: kind.__name__)
async def test_every_error_that_the_library_returns_is_raised_and_translated(
    kind: type[ErrorResponse],
) -> None:
    if "room_id" in inspect.signature(kind).parameters:
        response = kind("no", "M_LIMIT_EXCEEDED", 1500, False, "!x:y")
    else:
        response = kind("no", "M_LIMIT_EXCEEDED", 1500)

    async def call() -> ErrorResponse:
        return response

    with pytest.raises(RequestRefused) as raised:
        await checked(call())
    error = translate(raised.value)
    assert isinstance(error, SendFailed)
    assert error.retry_after_s == 1.5


def test_there_are_errors_to_look_at() -> None:
    assert len(ERRORS) > 50
    assert {RoomSendError, SyncError} <= set(ERRORS)


RAISED = [
    kind for _, kind in inspect.getmembers(nio.exceptions, inspect.isclass) if issubclass(kind, Exception)
]


@pytest.mark.parametrize("kind", RAISED, ids=lambda kind: kind.__name__)
def test_every_exception_of_the_library_is_known_and_translated(kind: type[Exception]) -> None:
    made = kind("device") if kind is nio.exceptions.OlmUnverifiedDeviceError else kind()
    assert isinstance(made, KNOWN)
    error = translate(made)
    assert isinstance(error, SendFailed)
    assert not error.whole_platform
    assert not error.ambiguous


def unreachable(reason: OSError) -> aiohttp.ClientConnectorError:
    """Make the error for a homeserver to which there is no connection."""
    return aiohttp.ClientConnectorError(ConnectionKey("x", 443, True, True, None, None, None), reason)


@pytest.mark.parametrize(
    ("problem", "whole"),
    [
        (TimeoutError(), True),
        (aiohttp.ClientConnectionError("cut"), True),
        (aiohttp.ServerDisconnectedError(), True),
        (aiohttp.ServerTimeoutError(), True),
        (aiohttp.ClientPayloadError("half"), False),
        (ConnectionResetError(), True),
    ],
)
def test_a_broken_connection_is_tried_again_and_never_ambiguous(problem: Exception, whole: bool) -> None:
    assert isinstance(problem, KNOWN)
    error = translate(problem)
    assert isinstance(error, SendFailed)
    assert (error.whole_platform, error.ambiguous) == (whole, False)


@pytest.mark.parametrize(
    "problem", [RequestRefused("", 502), RequestRefused("", 503), unreachable(ConnectionRefusedError())]
)
def test_a_homeserver_that_is_away_is_waited_for_as_long_as_it_takes(problem: Exception) -> None:
    """The outbox gives a message up after some failures, but never where it is asked to wait."""
    error = translate(problem)
    assert isinstance(error, SendFailed)
    assert error.retry_after_s is not None
    assert error.whole_platform


def test_an_answer_without_a_code_is_judged_by_its_status() -> None:
    assert isinstance(translate(RequestRefused("", 502)), SendFailed)
    assert isinstance(translate(RequestRefused("", 408)), SendFailed)
    assert isinstance(translate(RequestRefused("", 413)), SendRefused)


def test_the_servers_words_about_people_are_not_repeated() -> None:
    response = RoomSendError("@mira:school.example not in room !abc", "M_FORBIDDEN")
    error: SendError = translate(refusal(response))
    assert "mira" not in str(error)
    assert str(error) == "the homeserver forbids it (M_FORBIDDEN)"
