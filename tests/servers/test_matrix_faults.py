"""Whatever a homeserver or a proxy in front of it answers: no token is lost, nothing counts that did not happen.

A real Synapse behind a proxy that answers one kind of request with one kind of trouble, for as long as the test likes.
"""

import asyncio
from collections.abc import AsyncIterator, Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
import pytest_asyncio
from nio import MegolmEvent

from bot.chat.port import AddressMoved, Attachment, Button, FileSent, Message, SendFailed
from bot.clock import HandClock
from bot.words.rich import Rich
from tests.servers.matrix_people import Person, eventually
from tests.servers.matrix_proxy import FAULTS, Proxy
from tests.servers.synapse import Synapse
from tests.servers.test_matrix import Running, bot_of, png, text, until_sent, verified

pytestmark = [pytest.mark.server, pytest.mark.asyncio(loop_scope="module")]

QUICK: dict[str, Any] = {"timeout_s": 2.0, "long_poll_s": 0.5}


@pytest_asyncio.fixture(loop_scope="module", scope="module")
async def proxy(homeserver: Synapse) -> AsyncIterator[Proxy]:
    async with Proxy(homeserver.url).running() as found:
        yield found


@pytest_asyncio.fixture(loop_scope="module", scope="module")
async def mira(homeserver: Synapse, tmp_path_factory: pytest.TempPathFactory) -> AsyncIterator[Person]:
    folder = tmp_path_factory.mktemp("mira")
    async with Person(homeserver.url, await homeserver.person("mira"), folder) as person:
        yield person


@pytest_asyncio.fixture(loop_scope="module", scope="module")
async def bot(
    homeserver: Synapse, proxy: Proxy, tmp_path_factory: pytest.TempPathFactory
) -> AsyncIterator[Running]:
    folder = tmp_path_factory.mktemp("bot") / "matrix"
    run = bot_of(proxy.url, await homeserver.person("holdfast"), folder, **QUICK)
    await run.start()
    yield run
    await run.end()


@pytest_asyncio.fixture(loop_scope="module", scope="module")
async def room(bot: Running, mira: Person) -> str:
    address = await mira.direct(bot.user)
    await eventually(lambda: "/start" in bot.texts())
    await until_sent(bot, address, text("Hello"), "hello")
    await eventually(lambda: mira.bodies_readable(address) == ["Hello"])
    return address


def new_room_key(bot: Running, room: str) -> None:
    """The next message needs a new key in everybody's hands."""
    bot.chat._client.invalidate_outbound_session(room)


def no_sessions(bot: Running, room: str) -> None:
    """The next message needs one-time keys of everybody."""
    new_room_key(bot, room)
    bot.chat._client.olm.session_store._entries.clear()


def new_devices(bot: Running, room: str) -> None:
    """The next message needs to know which devices there are."""
    client = bot.chat._client
    client.olm.users_for_key_query.update(user for user in client.rooms[room].users if user != bot.user)


def plain(bot: Running, room: str) -> None:
    """Nothing is needed but the message."""


PICTURE = Attachment("graph.png", "image/png", png(), "a graph")

SENDING: dict[str, tuple[str, Callable[[Running, str], None], Message]] = {
    "sendToDevice": ("/sendToDevice/", new_room_key, Message(Rich.of("0"))),
    "keys/claim": ("/keys/claim", no_sessions, Message(Rich.of("0"))),
    "keys/query": ("/keys/query", new_devices, Message(Rich.of("0"))),
    "send": ("/send/m.room.encrypted/", plain, Message(Rich.of("0"))),
    "media upload": ("/upload", plain, Message(Rich.of("0"), attachment=PICTURE)),
}


@pytest.mark.parametrize("fault", FAULTS)
@pytest.mark.parametrize("call", SENDING)
async def test_f07_no_answer_to_a_call_loses_the_token_or_counts_as_sent(
    bot: Running, mira: Person, room: str, proxy: Proxy, call: str, fault: str
) -> None:
    path, prepare, message = SENDING[call]
    client, token = bot.chat._client, bot.chat._client.access_token
    words = f"{call}, {fault}"
    message = Message(Rich.of(words), attachment=message.attachment)
    prepare(bot, room)
    with proxy.broken(path, fault):
        with pytest.raises(SendFailed):
            await bot.chat.send(room, message, token=words)
        assert proxy.hits[fault], "the call was not made"
        assert client.access_token == token
    assert await until_sent(bot, room, message, words)
    await eventually(lambda: words in mira.bodies_readable(room))
    assert not mira.of(room, MegolmEvent), "something could not be read"
    await mira.say(room, f"heard {words}")
    await eventually(lambda: f"heard {words}" in bot.texts())
    await eventually(lambda: bot.chat.problem == "")


async def test_f07_a_429_to_send_to_device_keeps_the_token(
    bot: Running, mira: Person, room: str, proxy: Proxy
) -> None:
    token = bot.chat._client.access_token
    new_room_key(bot, room)
    with proxy.broken("/sendToDevice/", "json 429"), pytest.raises(SendFailed):
        await bot.chat.send(room, text("slowly"), token="slowly")
    assert bot.chat._client.access_token == token
    assert bot.chat._client.logged_in


async def test_f07_a_page_instead_of_an_answer_to_send_to_device_is_no_delivered_key(
    bot: Running, mira: Person, room: str, proxy: Proxy
) -> None:
    new_room_key(bot, room)
    with proxy.broken("/sendToDevice/", "page 502"), pytest.raises(SendFailed):
        await bot.chat.send(room, text("readable"), token="readable")
    await until_sent(bot, room, text("readable"), "readable")
    await eventually(lambda: "readable" in mira.bodies_readable(room))
    assert not mira.of(room, MegolmEvent)


@pytest.mark.parametrize("fault", FAULTS)
async def test_f07_what_waits_for_one_device_is_sent_until_it_arrives(
    bot: Running, mira: Person, room: str, proxy: Proxy, fault: str
) -> None:
    """Requests for keys are sent so; whoever believes that one has arrived never asks again."""
    mira.forget_to_share(room)
    client = bot.chat._client
    with proxy.broken("/sendToDevice/", fault):
        await mira.say(room, f"sealed, {fault}")
        await eventually(lambda: proxy.hits[fault])
        assert client.outgoing_to_device_messages
    await eventually(lambda: not client.outgoing_to_device_messages)
    bot.chat._listener._sealed.clear()
    new = mira.client
    new.invalidate_outbound_session(room)
    await mira.say(room, f"open, {fault}")
    await eventually(lambda: f"open, {fault}" in bot.texts())


# ---------------------------------------------------------------- other calls while it runs


@pytest.mark.parametrize("fault", FAULTS)
async def test_f07_events_that_cannot_be_asked_for_are_a_problem_and_come_later(
    bot: Running, mira: Person, room: str, proxy: Proxy, fault: str
) -> None:
    with proxy.broken("/v3/sync", fault):
        await mira.say(room, f"in the dark, {fault}")
        await eventually(lambda: bot.chat.problem)
    await eventually(lambda: f"in the dark, {fault}" in bot.texts())
    await eventually(lambda: bot.chat.problem == "")
    assert bot.chat._client.logged_in


@pytest.mark.parametrize("fault", FAULTS)
async def test_f07_an_invitation_waits_for_a_homeserver_in_trouble_and_holds_nothing_up(
    bot: Running, mira: Person, room: str, proxy: Proxy, fault: str
) -> None:
    with proxy.broken("/join", fault):
        invited = await mira.direct(bot.user)
        await eventually(lambda: proxy.hits[fault])
        assert await until_sent(bot, room, text(f"meanwhile, {fault}"), f"meanwhile, {fault}")
    await eventually(lambda: mira.membership(invited, bot.user) == "join")
    await eventually(lambda: bot.chat.problem == "")


async def moved(bot: Running, user: str) -> str:
    with pytest.raises(AddressMoved) as found:
        await bot.chat.send(user, text("Hello"), token="x")
    return found.value.new_address


@pytest.mark.parametrize("fault", FAULTS)
async def test_f07_no_chat_is_given_up_for_an_answer_that_is_none(
    bot: Running, mira: Person, room: str, proxy: Proxy, fault: str
) -> None:
    with proxy.broken("/joined_rooms", fault), pytest.raises(SendFailed):
        await bot.chat.send("!elsewhere:localhost", text("Hello"), token="x")
    with proxy.broken("/createRoom", fault), pytest.raises(SendFailed):
        await bot.chat.send("@nobody:localhost", text("Hello"), token="x")
    assert await moved(bot, mira.user) in bot.chat._client.rooms


# A JSON list may be what a person has sent as a file: nobody can tell.
@pytest.mark.parametrize("fault", [fault for fault in FAULTS if fault != "list 200"])
async def test_f07_a_file_is_fetched_later_and_never_taken_from_a_page(
    bot: Running, mira: Person, room: str, proxy: Proxy, fault: str
) -> None:
    data = png()
    await mira.upload(room, f"{fault}.png", "image/png", data)
    await eventually(lambda: any(f.name == f"{fault}.png" for f in bot.contents(FileSent)))
    handle = next(f.handle for f in bot.contents(FileSent) if f.name == f"{fault}.png")
    with proxy.broken("/media/download/", fault), pytest.raises(SendFailed):
        await bot.chat.fetch(handle)
    assert await bot.chat.fetch(handle) == data


@pytest.mark.parametrize("fault", FAULTS)
async def test_f07_signs_follow_when_the_homeserver_is_well_again(
    bot: Running, mira: Person, room: str, proxy: Proxy, fault: str
) -> None:
    two = ((Button("yes", "a", (), "A"), Button("no", "b", (), "B")),)
    with proxy.broken("/send/m.reaction/", fault):
        reference = await until_sent(bot, room, text(fault, buttons=two), f"signs {fault}")
    await bot.chat._sender.signs.show(room, reference, ["🇦", "🇧"])
    await eventually(lambda: sorted(mira.signs(room, reference)) == ["🇦", "🇧"])
    bot.chat._sender.signs._ours.clear()
    with proxy.broken("/(relations|redact)/", fault):
        await bot.chat._sender.signs.show(room, reference, ["🇦"])
    await bot.chat._sender.signs.show(room, reference, ["🇦"])
    await eventually(lambda: mira.signs(room, reference) == ["🇦"])


# ---------------------------------------------------------------- the start


STARTING = {
    "login": "/v3/login",
    "keys/upload": "/keys/upload",
    "keys/query": "/keys/query",
    "signing keys": "/keys/device_signing/upload",
    "signature": "/keys/signatures/upload",
    "sync": "/v3/sync",
}


@pytest.mark.parametrize("fault", FAULTS)
@pytest.mark.parametrize("call", STARTING)
async def test_f07_a_start_in_trouble_ends_well_when_the_trouble_does(
    homeserver: Synapse,
    proxy: Proxy,
    mira: Person,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    call: str,
    fault: str,
) -> None:
    monkeypatch.setattr("bot.chat.matrix.adapter._SIGN_PAUSE_S", 0.05)
    run = bot_of(
        proxy.url, await homeserver.person("holdfast"), tmp_path / "bot", **(QUICK | {"timeout_s": 1.0})
    )
    with proxy.broken(STARTING[call], fault):
        run.task = task = asyncio.create_task(run.chat.run(run.on_event, run.stop))
        await eventually(lambda: run.chat.problem or run.chat.note or task.done())
        assert not task.done(), "it must not be stopped by what passes"
    await eventually(lambda: run.chat.heard_at and not run.chat.problem and not run.chat.note)
    known = await mira.query(run.user)
    device = known["device_keys"][run.user][run.chat._client.device_id]
    assert verified(device, run.user, next(iter(known["self_signing_keys"][run.user]["keys"])))
    await run.end()


@pytest.mark.parametrize("fault", FAULTS)
async def test_f07_signing_that_fails_for_hours_keeps_nobody_waiting(
    homeserver: Synapse, proxy: Proxy, mira: Person, tmp_path: Path, fault: str
) -> None:
    run = bot_of(
        proxy.url, await homeserver.person("holdfast"), tmp_path / "bot", **(QUICK | {"timeout_s": 1.0})
    )
    with proxy.broken("/keys/(signatures|device_signing)/", fault):
        await run.start()
        assert "not signed yet" in run.chat.note
        room = await mira.direct(run.user)
        await eventually(lambda: run.texts() == ["/start"])
        assert await until_sent(run, room, text("Hello"), "hello")
    await run.end()


# ---------------------------------------------------------------- health


async def test_f07_health_is_not_green_while_nothing_can_be_sent(
    homeserver: Synapse, proxy: Proxy, mira: Person, tmp_path: Path
) -> None:
    clock = HandClock(datetime(2026, 9, 7, 17, tzinfo=UTC))
    run = bot_of(proxy.url, await homeserver.person("holdfast"), tmp_path / "bot", clock=clock, **QUICK)
    await run.start()
    room = await mira.direct(run.user)
    await eventually(lambda: "/start" in run.texts())
    with proxy.broken("/sendToDevice/", "json 503"):
        for _ in range(2):
            with pytest.raises(SendFailed):
                await run.chat.send(room, text("Hello"), token="hello")
            assert run.chat.problem == ""
            await clock.advance(100)
        assert run.chat.problem.startswith("nothing could be sent for 200 s")
    await until_sent(run, room, text("Hello"), "hello")
    assert run.chat.problem == ""
    await run.end()
