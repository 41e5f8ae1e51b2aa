"""Cross-signing: our account signs its own device, so that clients neither warn about it nor shut it out.

matrix-nio cannot do this, so the few requests are made here (specification, "Cross-signing"). Three Ed25519 keys
are made once: the master key says who the account is, the self-signing key signs our device, the user-signing key
is required by clients and otherwise unused. Their seeds stay in the store folder, for this user alone.
"""

from __future__ import annotations

import base64
import json
import logging
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from nio import AsyncClient

from bot.chat.matrix.errors import RequestRefused, passing
from bot.chat.matrix.requests import CLIENT, ask
from bot.chat.matrix.store_folder import read_private, write_private

log = logging.getLogger(__name__)

KINDS = ("master", "self_signing", "user_signing")


@dataclass(frozen=True)
class Seal:
    """One Ed25519 key with what it is for."""

    kind: str
    key: Ed25519PrivateKey

    @property
    def public(self) -> str:
        """The public half, unpadded base64."""
        return _b64(self.key.public_key().public_bytes_raw())

    def signature(self, thing: dict[str, Any]) -> str:
        """Sign an object as the specification says ("Signing JSON")."""
        return _b64(self.key.sign(canonical(thing)))

    def described(self, user: str) -> dict[str, Any]:
        """Return the public description that a homeserver keeps."""
        keys = {f"ed25519:{self.public}": self.public}
        return {"user_id": user, "usage": [self.kind], "keys": keys}


def canonical(thing: dict[str, Any]) -> bytes:
    """Write an object as it is signed: sorted, without spaces, signatures and ``unsigned`` left out."""
    bare = {name: value for name, value in thing.items() if name not in ("signatures", "unsigned")}
    return json.dumps(bare, ensure_ascii=False, separators=(",", ":"), sort_keys=True).encode()


def _b64(data: bytes) -> str:
    return base64.b64encode(data).decode().rstrip("=")


def load_seals(path: Path) -> dict[str, Seal] | None:
    """Read the three keys, None if there are none."""
    seeds = read_private(path)
    if seeds is None:
        return None
    return {
        kind: Seal(kind, Ed25519PrivateKey.from_private_bytes(bytes.fromhex(seeds[kind]))) for kind in KINDS
    }


def make_seals(path: Path) -> dict[str, Seal]:
    """Make the three keys and keep their seeds before anybody hears of them."""
    seals = {kind: Seal(kind, Ed25519PrivateKey.generate()) for kind in KINDS}
    write_private(path, {kind: seal.key.private_bytes_raw().hex() for kind, seal in seals.items()})
    return seals


async def sign_device(client: AsyncClient, path: Path, password: str) -> str:
    """Sign our device, once; later calls find it signed.

    Returns
    -------
    str
        What stands in the way, in words for the operator; empty if the device is signed.
    """
    known = await ask(
        client, "POST", f"{CLIENT}/keys/query", {"device_keys": {client.user_id: [client.device_id]}}
    )
    master = known.get("master_keys", {}).get(client.user_id)
    try:
        seals = load_seals(path)
    except (ValueError, KeyError):
        return f"The file {path} is damaged, so the device cannot be signed. Restore it from a backup."
    if master is not None and (seals is None or f"ed25519:{seals['master'].public}" not in master["keys"]):
        return (
            "The account has signing keys that were made elsewhere, so the bot cannot sign its device itself. "
            f"If its folder was moved away or emptied, put its former {path.name} back into {path.parent} and start "
            "again. If somebody used the account in a client, verify the device from there. Only where both are gone, "
            "reset the account's signing keys: students are then warned that the bot is somebody else."
        )
    if client.device_id not in known.get("device_keys", {}).get(client.user_id, {}):
        # Whoever does not know the device may not know the signing keys either: new ones would replace them.
        return "The homeserver does not know the keys of the bot's device yet."
    seals = seals or make_seals(path)
    if master is None and not await _publish(client, seals, password):
        return (
            "The homeserver does not let the bot publish signing keys, so clients may warn about its device."
        )
    return await _sign(client, seals["self_signing"], known)


async def _publish(client: AsyncClient, seals: dict[str, Seal], password: str) -> bool:
    """Give the public keys to the homeserver; it may ask for the password. Return whether it took them."""
    user = client.user_id
    body: dict[str, Any] = {f"{kind}_key": seal.described(user) for kind, seal in seals.items()}
    for kind in ("self_signing", "user_signing"):
        signature = seals["master"].signature(body[f"{kind}_key"])
        body[f"{kind}_key"]["signatures"] = {user: {f"ed25519:{seals['master'].public}": signature}}
    where = f"{CLIENT}/keys/device_signing/upload"
    try:
        await ask(client, "POST", where, body)
    except RequestRefused as refused:
        asks = _asks_for_password(refused.body)
        if passing(refused) and not (refused.status == 401 and "flows" in refused.body):
            raise
        if refused.status != 401 or not password or not asks:
            log.warning("Matrix: signing keys were not taken (%s)", refused)
            return False
        await ask(client, "POST", where, body | {"auth": _password(user, password, refused.body)})
    return True


def _asks_for_password(answer: dict[str, Any]) -> bool:
    return any(flow.get("stages") == ["m.login.password"] for flow in answer.get("flows", []))


def _password(user: str, password: str, answer: dict[str, Any]) -> dict[str, Any]:
    return {
        "type": "m.login.password",
        "identifier": {"type": "m.id.user", "user": user},
        "password": password,
        "session": answer.get("session"),
    }


async def _sign(client: AsyncClient, seal: Seal, known: dict[str, Any]) -> str:
    user, device_id = client.user_id, client.device_id
    device = known.get("device_keys", {}).get(user, {}).get(device_id)
    if device is None:
        return "The homeserver does not know the keys of the bot's device yet."
    name = f"ed25519:{seal.public}"
    if name in device.get("signatures", {}).get(user, {}):
        return ""
    signed = {key: value for key, value in device.items() if key not in ("signatures", "unsigned")}
    signed["signatures"] = {user: {name: seal.signature(device)}}
    answer = await ask(client, "POST", f"{CLIENT}/keys/signatures/upload", {user: {device_id: signed}})
    return "The homeserver did not take the signature of the bot's device." if answer.get("failures") else ""
