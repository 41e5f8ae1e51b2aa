"""Telegram's errors, translated once.

The order matters: ``BadRequest`` and ``TimedOut`` are subclasses of ``NetworkError`` in
python-telegram-bot. Telegram has no idempotency key, so the one question that a failed send leaves open,
whether the message arrived all the same, is answered here from the cause underneath.
"""

from __future__ import annotations

from datetime import timedelta

import httpx
from telegram.error import (
    BadRequest,
    ChatMigrated,
    Conflict,
    Forbidden,
    InvalidToken,
    NetworkError,
    RetryAfter,
    TelegramError,
    TimedOut,
)

from bot.chat.port import AddressMoved, SendError, SendFailed, SendRefused

# Nothing left this machine, or nothing reached Telegram.
NOT_SENT: tuple[type[BaseException], ...] = (
    httpx.ConnectTimeout,
    httpx.PoolTimeout,
    httpx.ConnectError,
    httpx.ProxyError,
    httpx.UnsupportedProtocol,
    httpx.LocalProtocolError,
    httpx.InvalidURL,
    # python-telegram-bot's word for a client that is closed or not opened yet
    RuntimeError,
)

# The chat is not there for us, whatever the message says (Bot API server's texts, lower case).
_UNREACHABLE = (
    "chat not found",
    "chat was deleted",
    "group chat was deactivated",
    "user is deactivated",
    "user not found",
    "peer_id_invalid",
    "not enough rights",
    "have no rights to send",
    "need administrator rights",
    "chat_write_forbidden",
    "bot is not a member",
    "bot was kicked",
    "bot was blocked",
)
# What a bot hears of every chat when it is another bot than the one that people know.
_DOUBTFUL = (
    "chat not found",
    "user not found",
    "peer_id_invalid",
    "bot is not a member",
    "can't initiate conversation",
)
# A gateway gave up waiting: the server behind it may have gone on.
_GATEWAY = ("bad gateway", "gateway time", "502", "504")
_TOKEN_PAUSE_S = 300.0


def translate(error: TelegramError, *, repeatable: bool = False) -> SendError:
    """Say what became of a message in the words of the port.

    Parameters
    ----------
    error : TelegramError
        What python-telegram-bot raised.
    repeatable : bool
        True for a call that does no harm when done twice, such as an edit: never ambiguous.

    Returns
    -------
    SendError
        To be raised ``from`` the original.
    """
    if from_elsewhere(error):
        reason = f"something before Telegram refuses the request ({type(error).__name__})"
        return SendFailed(reason, whole_platform=True)
    match error:
        case RetryAfter():
            seconds = retry_after_s(error)
            return SendFailed(f"Telegram asks to wait {seconds:.0f} s", seconds, whole_platform=True)
        case Forbidden():
            doubtful = says(error, *_DOUBTFUL)
            return SendRefused(f"Telegram forbids it: {error.message}", unreachable=True, doubtful=doubtful)
        case ChatMigrated():
            return AddressMoved(str(error.new_chat_id))
        case BadRequest():
            return _bad_request(error)
        case InvalidToken():
            return SendFailed("Telegram refuses the bot's token", _TOKEN_PAUSE_S, whole_platform=True)
        case Conflict():
            return SendFailed("another program uses the bot's token at the same time", whole_platform=True)
        case NetworkError():
            return _network(error, repeatable)
        case _:
            # An answer that could not be read: the request itself was taken.
            return SendFailed(
                f"Telegram's answer could not be read: {error.message}", ambiguous=not repeatable
            )


def from_elsewhere(error: TelegramError) -> bool:
    """Whether a refusal is not Telegram's own: its body is no JSON, so a proxy or a firewall speaks, of nobody."""
    refusal = isinstance(error, (Forbidden, BadRequest, InvalidToken))
    return refusal and isinstance(error.__cause__, TelegramError)


def retry_after_s(error: RetryAfter) -> float:
    """Seconds that Telegram asks to wait."""
    wait = error.retry_after
    return wait.total_seconds() if isinstance(wait, timedelta) else float(wait)


def _bad_request(error: BadRequest) -> SendError:
    unreachable = says(error, *_UNREACHABLE)
    doubtful = unreachable and says(error, *_DOUBTFUL)
    return SendRefused(
        f"Telegram does not take it: {error.message}", unreachable=unreachable, doubtful=doubtful
    )


def _network(error: NetworkError, repeatable: bool) -> SendFailed:
    cause = error.__cause__
    if isinstance(cause, NOT_SENT):
        reason = f"Telegram cannot be reached ({type(cause).__name__})"
        return SendFailed(reason, whole_platform=not isinstance(cause, (httpx.PoolTimeout, RuntimeError)))
    if isinstance(error, TimedOut):
        return SendFailed(f"Telegram did not answer in time ({_name(cause)})", ambiguous=not repeatable)
    if cause is None:
        lower = error.message.lower()
        ambiguous = any(words in lower for words in _GATEWAY) and not repeatable
        return SendFailed(f"Telegram has trouble: {error.message}", ambiguous=ambiguous)
    return SendFailed(f"the connection to Telegram broke ({_name(cause)})", ambiguous=not repeatable)


def _name(cause: BaseException | None) -> str:
    return "no details" if cause is None else type(cause).__name__


def says(error: TelegramError, *words: str) -> bool:
    """Whether the server's text holds one of `words`, which are lower case."""
    lower = error.message.lower()
    return any(one in lower for one in words)
