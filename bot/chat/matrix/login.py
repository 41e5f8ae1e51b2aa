"""Who the bot is on the homeserver: one account, one device, its keys in one folder.

A password is used once; the token that it brings stays in the store folder with the device's name and keys. A session
that has ended, or keys of the device that are lost, mean a new device: it needs a new login and nothing else. The
signing keys beside it say who the bot is, so they are kept: they sign the new device, and nobody is warned about it.
"""

from __future__ import annotations

import secrets
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from nio import AsyncClient, LoginResponse

from bot.chat.backoff import SetupRefused
from bot.chat.matrix.client import Client
from bot.chat.matrix.errors import TOKEN_REFUSED, RequestRefused, checked
from bot.chat.matrix.requests import CLIENT, ask, config
from bot.chat.matrix.store_folder import open_folder, private_umask, read_private, write_private

_LOGIN = "login.json"
SIGNING = "signing.json"
_DEVICE_LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ23456789"


@dataclass(frozen=True)
class Account:
    """What is needed to log in.

    Attributes
    ----------
    homeserver : str
        Its address.
    user : str
        The full id, ``@holdfast:school.example``.
    folder : Path
        Where token, device and keys are kept.
    password, token : str
        One of them; a token wins.
    """

    homeserver: str
    user: str
    folder: Path
    password: str = field(default="", repr=False)
    token: str = field(default="", repr=False)


def make_client(account: Account, timeout_s: float) -> AsyncClient:
    """Make a client that knows nothing yet. The folder is made, and closed to others."""
    open_folder(account.folder)
    return Client(
        account.homeserver.rstrip("/"), account.user, store_path=str(account.folder), config=config(timeout_s)
    )


async def log_in(client: AsyncClient, account: Account) -> None:
    """Log in with the kept token, the token of the settings or the password; the keys are then loaded.

    Raises `SetupRefused` if the homeserver takes the account for wrong, `RequestRefused` and the HTTP library's errors
    if it may work later.
    """
    kept = _kept(account)
    try:
        if account.token:
            login = await _by_token(client, account)
        elif kept is not None and kept.get("token"):
            login = kept
        else:
            login = await _by_password(client, account, kept)
    except RequestRefused as refused:
        raise _explained(refused, account) from None
    with private_umask():
        client.restore_login(login["user"], login["device"], login["token"])
    await _same_keys(client, account)


def _kept(account: Account) -> dict[str, Any] | None:
    try:
        kept = read_private(account.folder / _LOGIN)
    except ValueError:
        raise _new_device(
            account, f"The folder {account.folder} cannot be used: its file login.json is damaged."
        ) from None
    if kept is not None and kept.get("user") != account.user:
        raise SetupRefused(
            f"The folder {account.folder} cannot be used: it belongs to {kept.get('user')}, not to {account.user}. "
            "Move it away and keep it, or set HOLDFAST_MATRIX_USER back."
        )
    return kept


def _keep(account: Account, device: str, token: str) -> dict[str, Any]:
    login = {"user": account.user, "device": device, "token": token}
    write_private(account.folder / _LOGIN, login)
    return login


async def _by_token(client: AsyncClient, account: Account) -> dict[str, Any]:
    client.access_token = account.token
    known = await ask(client, "GET", f"{CLIENT}/account/whoami")
    if known.get("user_id") != account.user:
        raise SetupRefused(
            f"HOLDFAST_MATRIX_TOKEN belongs to {known.get('user_id')}, but HOLDFAST_MATRIX_USER is {account.user}."
        )
    if not known.get("device_id"):
        raise SetupRefused(
            "HOLDFAST_MATRIX_TOKEN belongs to no device, so nothing could be encrypted. Take one from a login."
        )
    return _keep(account, known["device_id"], account.token)


async def _by_password(client: AsyncClient, account: Account, kept: dict[str, Any] | None) -> dict[str, Any]:
    """Log in. The device's name is kept first: an attempt whose answer was lost must not leave a second device."""
    device = kept["device"] if kept is not None else "HOLDFAST" + _random(6)
    _keep(account, device, "")
    client.device_id = device
    store_path = client.store_path
    client.store_path = ""  # the store is opened by restore_login, under a private mask
    try:
        response = await checked(client.login(account.password, device_name="Holdfast"))
    finally:
        client.store_path = store_path
    assert isinstance(response, LoginResponse)  # noqa: S101 - for mypy: `checked` has raised otherwise
    if response.user_id != account.user:
        await checked(client.logout())
        (account.folder / _LOGIN).unlink()
        raise SetupRefused(
            f"HOLDFAST_MATRIX_USER has to be {response.user_id}, as {account.homeserver} writes it, not {account.user}."
        )
    return _keep(account, response.device_id, response.access_token)


def _random(length: int) -> str:
    return "".join(secrets.choice(_DEVICE_LETTERS) for _ in range(length))


async def _same_keys(client: AsyncClient, account: Account) -> None:
    """Refuse to go on with a device whose keys on the homeserver are not ours: nobody could read anything."""
    try:
        known = await ask(
            client, "POST", f"{CLIENT}/keys/query", {"device_keys": {client.user_id: [client.device_id]}}
        )
    except RequestRefused as refused:
        raise _explained(refused, account) from None
    device = known.get("device_keys", {}).get(client.user_id, {}).get(client.device_id)
    ours = client.olm.account.identity_keys["ed25519"]
    if device is not None and device["keys"].get(f"ed25519:{client.device_id}") != ours:
        raise _new_device(
            account,
            f"The folder {account.folder} cannot be used: its keys are not those of the device that the homeserver "
            "knows. Restore it from the same backup as the database. If there is none:",
        )


def _explained(refused: RequestRefused, account: Account) -> Exception:
    """Return what to tell the operator, or the refusal itself if waiting may help."""
    if refused.code in TOKEN_REFUSED:
        return token_refused(account)
    if refused.code == "M_FORBIDDEN":
        return SetupRefused(
            f"{account.homeserver} refuses to log in {account.user}. Check HOLDFAST_MATRIX_USER and "
            "HOLDFAST_MATRIX_PASSWORD."
        )
    return refused


def token_refused(account: Account) -> SetupRefused:
    """Make the error for an operator whose token is not valid any more."""
    if account.token:
        return SetupRefused(
            f"{account.homeserver} refuses the bot's token. Check HOLDFAST_MATRIX_TOKEN. If its session has ended, log "
            f"in anew, set the new token and start again. Leave everything in {account.folder} as it is: {_IDENTITY}"
        )
    return _new_device(account, f"{account.homeserver} has ended the bot's session.")


_IDENTITY = (
    f"{SIGNING} there says who the bot is, and signs the new device. Lost is only what was written to the bot between "
    "the two sessions: people have to write it again."
)


def _new_device(account: Account, why: str) -> SetupRefused:
    """Say how to go on as a new device of the same bot."""
    login_first = "Log in anew, set HOLDFAST_MATRIX_TOKEN to the new token. " if account.token else ""
    return SetupRefused(
        f"{why} {login_first}Remove the file {account.folder / _LOGIN}, and nothing else, and start again: "
        f"the bot logs in as a new device. {_IDENTITY}"
    )
