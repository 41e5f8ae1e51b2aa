"""What the chat platforms themselves say: whether the token is theirs, and whether they can be reached at all.

Plain requests, not the adapters: these retry for hours, log in and write. Here each platform is asked once, briefly,
and nothing is changed. An address with a token in it is never shown.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from email.utils import parsedate_to_datetime
from typing import Any

import httpx

from bot.doctor.findings import SYNAPSE_LIMITS, CheckResult
from bot.settings import PREFIX, Settings

PATIENCE_S = 5.0
"""How long one platform may take to answer [s]."""
CLOCK_OFF = timedelta(minutes=1)
"""Nudges and quiet hours are a matter of minutes; a clock further off than this is worth a sentence."""

LEAST_UPLOAD_BYTES = 5_000_000
"""Letters of a class with pictures, the largest paper, have up to this size [bytes]."""

_REFUSED = {401, 403, 404}
"""What the Bot API answers to a token that is none (404 to one of the wrong form)."""


@dataclass(frozen=True, slots=True)
class Reply:
    """What came back: status, the JSON object in it (empty for anything else), and the server's clock."""

    status: int
    content: dict[str, Any]
    date: datetime | None

    @property
    def limited(self) -> bool:
        """Whether a homeserver refuses because of a rate limit (Matrix client-server API 1.11, "Rate limiting")."""
        return self.status == 429 or self.content.get("errcode") == "M_LIMIT_EXCEEDED"


Ask = Callable[[str, dict[str, str]], Reply]
"""Sends one GET with headers. Raises `httpx.HTTPError` or `httpx.InvalidURL`."""


def ask(address: str, headers: dict[str, str]) -> Reply:
    """Ask over the network, five seconds at most for each step."""
    with httpx.Client(timeout=PATIENCE_S, follow_redirects=False) as client:
        response = client.get(address, headers=headers)
    try:
        content = response.json()
    except ValueError:
        content = {}
    try:
        date = parsedate_to_datetime(response.headers["date"])
    except (KeyError, ValueError):
        date = None
    return Reply(response.status_code, content if isinstance(content, dict) else {}, date)


def platforms(
    settings: Settings, now: datetime, kept_token: str = "", ask: Ask = ask
) -> Iterator[CheckResult]:
    """Ask every platform that is set up.

    Parameters
    ----------
    settings : Settings
        Addresses and tokens.
    now : datetime
        This machine's clock, held against the servers'.
    kept_token : str
        The Matrix token of an earlier login, for where the settings hold a password only.
    ask : callable
        How to ask.
    """
    if settings.telegram_token is not None:
        yield from _telegram(settings, now, ask)
    if settings.matrix_homeserver:
        yield from _matrix(settings, now, kept_token, ask)


def _telegram(settings: Settings, now: datetime, ask: Ask) -> Iterator[CheckResult]:
    token, server = settings.telegram_token, settings.telegram_api_url.rstrip("/")
    assert token is not None  # noqa: S101 - the caller looked
    name = f"{PREFIX}TELEGRAM_API_URL"
    try:
        reply = ask(f"{server}/bot{token.get_secret_value()}/getMe", {})
    except (httpx.HTTPError, httpx.InvalidURL) as error:
        yield _unreachable("Telegram", name, server, error)
        return
    bot = reply.content.get("result")
    if reply.status == 200 and isinstance(bot, dict) and bot.get("username"):
        yield CheckResult("good", f"Telegram: the token is that of @{bot['username']}, says {server}.")
        yield from _privacy(bot)
        yield from _clock("Telegram", reply, now)
    elif reply.status in _REFUSED and reply.content.get("ok") is False:
        yield CheckResult(
            "wrong",
            f"{PREFIX}TELEGRAM_TOKEN: {server} does not know this token (it answers {reply.status}). Copy it again "
            "from @BotFather: /mybots, API Token.",
        )
    else:
        yield _no_server("Telegram", name, server, reply, "a Bot API server")


def _privacy(bot: dict[str, Any]) -> Iterator[CheckResult]:
    if not bot.get("can_read_all_group_messages"):
        yield CheckResult(
            "note",
            "Telegram: the bot's privacy mode is on, so as a plain member of a group it sees commands only. For topics "
            "such as “New topic: …” make it an administrator of the class's group, or switch the mode off with "
            "@BotFather: /setprivacy. In chats with one person and in channels nothing has to be done.",
        )


def _matrix(settings: Settings, now: datetime, kept_token: str, ask: Ask) -> Iterator[CheckResult]:
    server = settings.matrix_homeserver.rstrip("/")
    token = settings.matrix_token.get_secret_value() if settings.matrix_token else kept_token
    path = "/_matrix/client/v3/account/whoami" if token else "/_matrix/client/versions"
    name = f"{PREFIX}MATRIX_HOMESERVER"
    try:
        reply = ask(server + path, {"Authorization": f"Bearer {token}"} if token else {})
    except (httpx.HTTPError, httpx.InvalidURL) as error:
        yield _unreachable("Matrix", name, server, error)
        return
    user = reply.content.get("user_id")
    if reply.limited:
        yield CheckResult("wrong", _slowed_down(server))
        return
    if token and reply.status == 200 and user:
        yield _matrix_user(settings, str(user), server)
        yield from _uploads(server, token, ask)
    elif token and reply.status in (401, 403) and "errcode" in reply.content:
        yield CheckResult("wrong", _token_refused(settings, server, reply))
        return
    elif not token and reply.status == 200 and isinstance(reply.content.get("versions"), list):
        yield CheckResult("good", f"Matrix: {server} answers. The password is tried at the first start only.")
    else:
        yield _no_server("Matrix", name, server, reply, "a Matrix homeserver")
        return
    yield from _clock("Matrix", reply, now)


def _matrix_user(settings: Settings, user: str, server: str) -> CheckResult:
    if user == settings.matrix_user:
        return CheckResult("good", f"Matrix: {server} knows the token as that of {user}.")
    return CheckResult(
        "wrong",
        f'{PREFIX}MATRIX_USER is "{settings.matrix_user}", but the token belongs to "{user}", says {server}. Write '
        "the one that is meant, or take the other's token.",
    )


def _slowed_down(server: str) -> str:
    return (
        f"Matrix: {server} slows this account down (M_LIMIT_EXCEEDED), so an evening's questions would take hours. Its "
        f"administrator lifts the limit for the account. {SYNAPSE_LIMITS}"
    )


def _uploads(server: str, token: str, ask: Ask) -> Iterator[CheckResult]:
    """Ask how large a file may be. A homeserver that does not say, or not now, is none to complain about."""
    try:
        reply = ask(f"{server}/_matrix/client/v1/media/config", {"Authorization": f"Bearer {token}"})
    except (httpx.HTTPError, httpx.InvalidURL):
        return
    if reply.limited:
        yield CheckResult("wrong", _slowed_down(server))
        return
    most = reply.content.get("m.upload.size") if reply.status == 200 else None
    if isinstance(most, int) and most < LEAST_UPLOAD_BYTES:
        yield CheckResult(
            "note",
            f"Matrix: {server} takes files of up to {most:,} bytes only; pictures and workbooks of a large class can "
            f"have {LEAST_UPLOAD_BYTES:,}. Its administrator raises it (Synapse: max_upload_size).",
        )


def _token_refused(settings: Settings, server: str, reply: Reply) -> str:
    if settings.matrix_token:
        return (
            f"{PREFIX}MATRIX_TOKEN: {server} does not know this token (it answers {reply.status}). Log in again and "
            "copy the new one, or set the password instead."
        )
    return (
        f"Matrix: {server} has ended the session that the bot keeps in {settings.data_dir / 'matrix'} (it answers "
        f"{reply.status}). See “Matrix” in deploy/OPERATORS.md before anything in that folder is removed."
    )


def _clock(platform: str, reply: Reply, now: datetime) -> Iterator[CheckResult]:
    if reply.date is None or abs(reply.date - now) <= CLOCK_OFF:
        return
    seconds = round((now - reply.date).total_seconds())
    how = "ahead of" if seconds > 0 else "behind"
    yield CheckResult(
        "wrong",
        f"This machine's clock is {abs(seconds)} s {how} {platform}'s. Questions would come at the wrong time. Set it "
        "(for example: timedatectl set-ntp true).",
    )


def _unreachable(platform: str, name: str, server: str, error: Exception) -> CheckResult:
    if isinstance(error, httpx.TimeoutException):
        why = f"no answer within {PATIENCE_S:g} s"
    elif isinstance(error, httpx.InvalidURL | httpx.UnsupportedProtocol):
        why = "no such address"
    else:
        why = str(error).partition("\n")[0].strip().rstrip(".") or type(error).__name__
    return CheckResult(
        "wrong",
        f'{platform} cannot be reached: {name} is "{server}" ({why}). Is the address right, and may this machine '
        "reach it? Without a network: holdfast doctor --offline",
    )


def _no_server(platform: str, name: str, server: str, reply: Reply, kind: str) -> CheckResult:
    return CheckResult(
        "wrong",
        f'{platform}: {name} is "{server}", which answers {reply.status} and not as {kind} does. Is it out of order, '
        "or is the address another one?",
    )
