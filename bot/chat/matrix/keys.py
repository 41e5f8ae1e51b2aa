"""Keys of the encryption, exchanged with the homeserver: ours uploaded, others' asked for and taken."""

from __future__ import annotations

import logging

import aiohttp
from nio import AsyncClient, KeysUploadResponse
from nio.exceptions import LocalProtocolError

from bot.chat.matrix.errors import RequestRefused, checked
from bot.chat.matrix.requests import CLIENT, ask

log = logging.getLogger(__name__)


async def exchange(client: AsyncClient) -> None:
    """Do what is needed now. What fails is needed again next time, and does not keep the rest from being done."""
    for step in (upload, _query, _claim, _deliver):
        try:
            await step(client)
        except (RequestRefused, LocalProtocolError) as error:
            log.warning("Matrix: keys were not exchanged (%s)", error)
        except (aiohttp.ClientError, TimeoutError, OSError) as error:
            log.warning("Matrix: keys were not exchanged (%s)", type(error).__name__)


async def upload(client: AsyncClient) -> None:
    """Upload the device's keys and fresh one-time keys, if the homeserver has too few.

    They are kept before the homeserver gets them: matrix-nio would keep them afterwards, and a process that was killed
    in between would make other keys of the same names, which are refused ever after. Where the folder is an old copy,
    names are taken too: those keys are given up, and the next ones have new names.
    """
    if not client.should_upload_keys:
        return
    keys = client.olm.share_keys()
    client.olm.save_account()
    try:
        answer = await ask(client, "POST", f"{CLIENT}/keys/upload", keys)
    except RequestRefused as refused:
        if refused.status == 400 and refused.code and "device_keys" not in keys:
            client.olm.mark_keys_as_published()
            client.olm.save_account()
        raise
    left = answer.get("one_time_key_counts")
    if not isinstance(left, dict):
        raise RequestRefused("", 200)
    counted = KeysUploadResponse(left.get("curve25519", 0), left.get("signed_curve25519", 0))
    await client.receive_response(counted)


async def _query(client: AsyncClient) -> None:
    if client.should_query_keys:
        await checked(client.keys_query())


async def _claim(client: AsyncClient) -> None:
    if client.should_claim_keys:
        await checked(client.keys_claim(client.get_users_for_key_claiming()))


async def _deliver(client: AsyncClient) -> None:
    """Send what waits for single devices. matrix-nio takes out of the list what has arrived."""
    for message in list(client.outgoing_to_device_messages):
        await checked(client.to_device(message))
