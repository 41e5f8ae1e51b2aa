"""Every exception that python-telegram-bot and httpx can raise has its place in the port's words."""

import inspect
import os
from collections.abc import Iterator
from datetime import timedelta

import httpx
import pytest
import telegram.error
from telegram.error import (
    BadRequest,
    ChatMigrated,
    Conflict,
    EndPointNotFound,
    Forbidden,
    InvalidToken,
    NetworkError,
    PassportDecryptionError,
    RetryAfter,
    TelegramError,
    TimedOut,
)

from bot.chat.port import AddressMoved, SendError, SendFailed, SendRefused
from bot.chat.telegram.errors import retry_after_s, translate

os.environ.setdefault("PTB_TIMEDELTA", "1")  # as the adapter does: else each RetryAfter warns


def instances() -> Iterator[tuple[TelegramError, SendError]]:
    yield RetryAfter(7), SendFailed("Telegram asks to wait 7 s", 7.0, whole_platform=True)
    yield (
        Forbidden("Forbidden: bot was blocked by the user"),
        SendRefused("Telegram forbids it: Forbidden: bot was blocked by the user", unreachable=True),
    )
    yield ChatMigrated(-100777), AddressMoved("-100777")
    yield BadRequest("Button_data_invalid"), SendRefused("Telegram does not take it: Button_data_invalid")
    yield InvalidToken(), SendFailed("Telegram refuses the bot's token", 300.0, whole_platform=True)
    yield (
        Conflict("Conflict"),
        SendFailed("another program uses the bot's token at the same time", whole_platform=True),
    )
    yield TimedOut(), SendFailed("Telegram did not answer in time (no details)", ambiguous=True)
    yield NetworkError("Internal Server Error"), SendFailed("Telegram has trouble: Internal Server Error")
    unreadable = "Telegram's answer could not be read: "
    yield (
        TelegramError("Invalid server response"),
        SendFailed(f"{unreadable}Invalid server response", ambiguous=True),
    )
    yield EndPointNotFound("x"), SendFailed(f"{unreadable}x", ambiguous=True)
    yield (
        PassportDecryptionError("x"),
        SendFailed(f"{unreadable}PassportDecryptionError: x", ambiguous=True),
    )


@pytest.mark.parametrize(("raised", "told"), list(instances()), ids=lambda error: type(error).__name__)
def test_each_error_of_the_library_is_translated(raised: TelegramError, told: SendError) -> None:
    got = translate(raised)
    assert type(got) is type(told)
    assert vars(got) == vars(told)
    assert str(got)


def test_no_error_of_the_library_is_forgotten() -> None:
    """A new version that brings a new exception fails here, not in a school."""
    known = {type(raised) for raised, _ in instances()}
    raised = {
        c for _, c in inspect.getmembers(telegram.error, inspect.isclass) if issubclass(c, TelegramError)
    }
    assert raised == known


# httpx exception: may the message have arrived all the same?
AMBIGUOUS = {
    "ConnectTimeout": False,
    "PoolTimeout": False,
    "ReadTimeout": True,
    "WriteTimeout": True,
    "TimeoutException": True,
    "ConnectError": False,
    "ProxyError": False,
    "UnsupportedProtocol": False,
    "LocalProtocolError": False,
    "InvalidURL": False,
    "ReadError": True,
    "WriteError": True,
    "CloseError": True,
    "RemoteProtocolError": True,
    "ProtocolError": True,
    "NetworkError": True,
    "TransportError": True,
    "DecodingError": True,
    "RequestError": True,
    "HTTPError": True,
    "TooManyRedirects": True,
    "HTTPStatusError": True,
    # raised only by reading a body twice or by handling cookies
    "CookieConflict": True,
    "StreamError": False,
    "StreamConsumed": False,
    "StreamClosed": False,
    "ResponseNotRead": False,
    "RequestNotRead": False,
}


def causes() -> Iterator[BaseException]:
    for name in httpx.__all__:
        kind = getattr(httpx, name)
        if inspect.isclass(kind) and issubclass(kind, Exception):
            error = kind.__new__(kind)
            BaseException.__init__(error, "why")
            yield error


def test_no_exception_of_httpx_is_forgotten() -> None:
    assert {type(cause).__name__ for cause in causes()} == set(AMBIGUOUS)


@pytest.mark.parametrize("cause", list(causes()), ids=lambda cause: type(cause).__name__)
def test_the_cause_decides_whether_a_message_may_have_arrived(cause: BaseException) -> None:
    """python-telegram-bot turns httpx's time-outs into TimedOut and the rest into NetworkError."""
    error = TimedOut() if isinstance(cause, httpx.TimeoutException) else NetworkError("httpx")
    error.__cause__ = cause
    got = translate(error)
    assert isinstance(got, SendFailed)
    assert got.ambiguous is AMBIGUOUS[type(cause).__name__]
    assert type(cause).__name__ in got.reason
    again = translate(error, repeatable=True)
    assert isinstance(again, SendFailed)
    assert again.ambiguous is False, "what may be repeated is never in doubt"


@pytest.mark.parametrize(
    "description",
    [
        "Chat not found",
        "Not enough rights to send text messages to the chat",
        "Have no rights to send a message",
        "Need administrator rights in the channel chat",
        "Chat_write_forbidden",
        "Peer_id_invalid",
        "Group chat was deactivated",
    ],
)
def test_a_chat_that_is_closed_to_us_is_unreachable(description: str) -> None:
    got = translate(BadRequest(description))
    assert isinstance(got, SendRefused)
    assert got.unreachable is True


@pytest.mark.parametrize(("seconds", "asked"), [(3, 3.0), (timedelta(seconds=90), 90.0)])
def test_the_wait_is_read_as_a_number_or_as_a_duration(seconds: int | timedelta, asked: float) -> None:
    assert retry_after_s(RetryAfter(seconds)) == asked


@pytest.mark.filterwarnings("ignore::telegram.warnings.PTBDeprecationWarning")
def test_the_wait_is_read_where_the_library_still_gives_numbers(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PTB_TIMEDELTA", "0")
    assert retry_after_s(RetryAfter(3)) == 3.0


def test_bad_request_and_timed_out_are_network_errors_so_the_order_matters() -> None:
    """The fact that the order in `translate` rests on (python-telegram-bot 22.8, telegram/error.py)."""
    assert issubclass(BadRequest, NetworkError)
    assert issubclass(TimedOut, NetworkError)
