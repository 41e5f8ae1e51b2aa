"""The Telegram adapter with the real python-telegram-bot in front of a strict local Bot API server."""

import asyncio
import contextlib
import io
import logging
import socket
from collections.abc import AsyncIterator, Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from random import Random
from typing import Any

import aiohttp
import pytest
from PIL import Image
from pydantic import SecretStr

from bot.chat.port import (
    AddressMoved,
    Attachment,
    Button,
    ButtonPressed,
    Chat,
    Incoming,
    MenuEntry,
    Message,
    PresenceChanged,
    SendFailed,
    SendRefused,
    TextSaid,
)
from bot.chat.telegram.adapter import SetupRefused, TelegramChat, Webhook, telegram_from
from bot.clock import HandClock
from bot.settings import Settings
from bot.talk.help import newcomers_menus
from bot.words import LANGUAGES
from bot.words.rich import Rich
from tests.servers.botapi import TOKEN, USERNAME, BotApi, Fault, random_faults

MIRA, TEACHER = 1001, 2002
GROUP, CHANNEL = -500, -1001234

QUESTION = (
    (Button("8 cm", "a1:q7:0", ("a",), "A"), Button("10 cm", "a1:q7:1", ("b",), "B")),
    (Button("Not sure", "a1:q7:x", ("not sure",)),),
)


def text(words: str, **rest: Any) -> Message:
    return Message(Rich.of(words), **rest)


def png(width: int = 60, height: int = 40, colour: str = "white") -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (width, height), colour).save(out, format="PNG")
    return out.getvalue()


async def eventually(condition: Callable[[], Any], within_s: float = 5.0) -> None:
    """Wait until something is so; fail after a deadline."""
    async with asyncio.timeout(within_s):
        while not condition():  # noqa: ASYNC110 - conditions of the server have no events
            await asyncio.sleep(0.002)


@dataclass
class Running:
    """A running adapter and what it delivered."""

    chat: TelegramChat
    events: list[Incoming] = field(default_factory=list)
    stop: asyncio.Event = field(default_factory=asyncio.Event)
    storing: Callable[[Incoming], None] = lambda event: None
    task: asyncio.Task[None] | None = None

    async def on_event(self, event: Incoming) -> None:
        self.storing(event)
        self.events.append(event)

    async def start(self) -> None:
        self.task = asyncio.create_task(self.chat.run(self.on_event, self.stop))

    async def end(self) -> None:
        self.stop.set()
        assert self.task is not None
        async with asyncio.timeout(5):
            await self.task

    @property
    def contents(self) -> list[Any]:
        return [event.content for event in self.events]


@contextlib.asynccontextmanager
async def closing(chat: TelegramChat) -> AsyncIterator[TelegramChat]:
    """Close the connections of an adapter that only sends."""
    yield chat
    await chat.close()


def adapter(api: BotApi, **rest: Any) -> TelegramChat:
    options: dict[str, Any] = {"timeout_s": 0.4, "long_poll_s": 1, "first_pause_s": 0.01} | rest
    return TelegramChat(TOKEN, api_url=api.url, **options)


@pytest.fixture
async def api() -> AsyncIterator[BotApi]:
    async with BotApi() as server:
        server.person(MIRA, "Mira", "de-AT")
        server.person(TEACHER, "Ms Okafor")
        server.group(GROUP, "10B Physics")
        server.group(CHANNEL, "10B Physics", "channel")
        yield server
    assert server.violations == []


@pytest.fixture
async def running(api: BotApi) -> AsyncIterator[Running]:
    run = Running(adapter(api))
    await run.start()
    await eventually(lambda: api.called("getUpdates"))
    yield run
    await run.end()


@pytest.fixture
async def sender(api: BotApi) -> AsyncIterator[TelegramChat]:
    """An adapter to send with, to people who have written to the bot."""
    api.places[MIRA].open = True
    async with closing(adapter(api)) as chat:
        yield chat


# ---------------------------------------------------------------- receiving


async def test_a_text_arrives_as_an_event_of_the_port(api: BotApi, running: Running) -> None:
    said = api.say(MIRA, "10 cm")
    await eventually(lambda: running.events)
    event = running.events[0]
    assert (event.platform, event.address, event.user, event.place) == ("telegram", "1001", "1001", "private")
    assert (event.name, event.language) == ("Mira", "de-AT")
    assert event.content == TextSaid("10 cm")
    assert event.key == "1001"
    assert event.at == said.date.replace(microsecond=0)


async def test_a_deep_link_arrives_as_start_with_its_code(api: BotApi, running: Running) -> None:
    await eventually(lambda: running.chat.join_link("K7M2P9QRST"))
    assert running.chat.join_link("K7M2P9QRST") == f"https://t.me/{USERNAME}?start=K7M2P9QRST"
    api.say(MIRA, "/start K7M2P9QRST")
    await eventually(lambda: running.events)
    assert running.contents == [TextSaid("/start K7M2P9QRST")]


def test_there_is_no_join_link_before_the_bot_knows_its_name() -> None:
    assert TelegramChat(TOKEN).join_link("K7M2P9QRST") is None


async def test_a_reply_names_the_message_that_send_returned(api: BotApi, running: Running) -> None:
    api.say(MIRA, "hello")
    await eventually(lambda: running.events)
    reference = await running.chat.send("1001", text("Which unit?"), token="1")
    api.say(MIRA, "g/cm³", reply_to=int(reference))
    await eventually(lambda: len(running.events) == 2)
    assert running.contents[1] == TextSaid("g/cm³", reply_to=reference)


async def test_a_press_is_acknowledged_at_once_and_names_its_message(api: BotApi, running: Running) -> None:
    api.say(MIRA, "hello")
    await eventually(lambda: running.events)
    reference = await running.chat.send("1001", text("How far?", buttons=QUESTION), token="1")
    held = asyncio.Event()

    async def slow(event: Incoming) -> None:
        await held.wait()
        running.events.append(event)

    running.on_event = slow  # type: ignore[method-assign]
    query = api.press(MIRA, api.seen_by(MIRA)[0], "B")
    await eventually(lambda: query in api.presses)
    held.set()
    await eventually(lambda: len(running.events) == 2)
    await eventually(lambda: api.presses[query])
    assert running.contents[1] == ButtonPressed("a1:q7:1", reference)
    assert running.events[1].user == "1001"


async def test_a_press_is_acknowledged_while_it_is_still_being_stored(api: BotApi) -> None:
    held = asyncio.Event()
    chat, stop = adapter(api), asyncio.Event()

    async def slow(event: Incoming) -> None:
        await held.wait()

    run = asyncio.create_task(chat.run(slow, stop))
    api.places[MIRA].open = True
    await chat.send("1001", text("How far?", buttons=QUESTION), token="1")
    query = api.press(MIRA, api.seen_by(MIRA)[0], "A")
    await eventually(lambda: api.presses[query])
    assert api.acknowledged == 0
    held.set()
    await eventually(lambda: api.acknowledged == 1)
    stop.set()
    await run


async def test_an_update_is_confirmed_only_after_it_is_stored(api: BotApi) -> None:
    held, entered = asyncio.Event(), asyncio.Event()
    chat, stop = adapter(api), asyncio.Event()

    async def slow(event: Incoming) -> None:
        entered.set()
        await held.wait()

    run = asyncio.create_task(chat.run(slow, stop))
    api.say(MIRA, "my answer")
    await entered.wait()
    assert (api.waiting, api.acknowledged) == (1, 0)
    held.set()
    await eventually(lambda: api.acknowledged == 1)
    stop.set()
    await run


async def test_an_update_that_could_not_be_stored_is_tried_again_before_the_next(
    api: BotApi, running: Running
) -> None:
    failures = [OSError("disk full"), OSError("disk full")]

    def storing(event: Incoming) -> None:
        if failures:
            assert api.acknowledged == 0
            raise failures.pop()

    running.storing = storing
    api.say(MIRA, "first")
    api.say(MIRA, "second")
    await eventually(lambda: len(running.events) == 2)
    assert running.contents == [TextSaid("first"), TextSaid("second")]
    await eventually(lambda: api.acknowledged == 2)
    assert running.chat.problem == ""


async def test_a_stop_while_storing_fails_leaves_the_update_with_telegram(api: BotApi) -> None:
    run = Running(adapter(api))
    tried = asyncio.Event()

    def storing(event: Incoming) -> None:
        tried.set()
        raise OSError("disk full")

    run.storing = storing
    api.say(MIRA, "my answer")
    await run.start()
    await tried.wait()
    await run.end()
    assert (api.waiting, run.events) == (1, [])
    again = Running(adapter(api))
    await again.start()
    await eventually(lambda: again.events)
    await again.end()
    assert again.contents == [TextSaid("my answer")]


async def test_stopping_confirms_what_was_stored(api: BotApi) -> None:
    run = Running(adapter(api))
    await run.start()
    api.say(MIRA, "my answer")
    await eventually(lambda: run.events)
    await run.end()
    assert api.waiting == 0


async def test_stopping_does_not_wait_for_the_open_poll(api: BotApi) -> None:
    run = Running(adapter(api, long_poll_s=50))
    await run.start()
    await eventually(lambda: api.called("getUpdates"))
    began = asyncio.get_running_loop().time()
    await run.end()
    assert asyncio.get_running_loop().time() - began < 1


async def test_a_repeated_update_comes_with_the_same_key(api: BotApi, running: Running) -> None:
    api.repeat_share = 1.0
    api.say(MIRA, "once")
    await eventually(lambda: len(running.events) == 2)
    assert running.events[0] == running.events[1]


async def test_an_unreadable_update_is_passed_over_and_not_written_to_the_log(
    api: BotApi, running: Running, caplog: pytest.LogCaptureFixture
) -> None:
    api.raw_update({"update_id": 2000, "message": {"text": "secret words", "chat": "not an object"}})
    api.say(MIRA, "after it")
    await eventually(lambda: running.events)
    assert running.contents == [TextSaid("after it")]
    assert "Update 2000 could not be read" in caplog.text
    assert "secret words" not in caplog.text


async def test_all_wanted_kinds_are_named_in_each_poll(api: BotApi, running: Running) -> None:
    kinds = {"message", "callback_query", "channel_post", "my_chat_member"}
    assert all(set(call.values["allowed_updates"]) == kinds for call in api.called("getUpdates"))


async def test_a_document_and_a_photo_arrive_as_handles_and_are_fetched(
    api: BotApi, running: Running
) -> None:
    api.send_document(TEACHER, "physics_autumn.csv", b"date,topic\n", caption="timetable")
    api.send_photo(TEACHER, b"large jpeg", caption="A spring / 10 cm")
    await eventually(lambda: len(running.events) == 2)
    sheet, photo = running.contents
    assert (sheet.name, sheet.media_type, sheet.size_bytes) == ("physics_autumn.csv", "text/csv", 11)
    assert (sheet.caption, photo.caption) == ("timetable", "A spring / 10 cm")
    assert await running.chat.fetch(sheet.handle) == b"date,topic\n"
    assert await running.chat.fetch(photo.handle) == b"large jpeg", "the largest size"


async def test_a_channel_post_has_no_user_and_belongs_to_the_class(api: BotApi, running: Running) -> None:
    api.post(CHANNEL, "New topic: Hooke's law", signature="Ms Okafor")
    await eventually(lambda: running.events)
    event = running.events[0]
    assert (event.place, event.user, event.address) == ("class", "", str(CHANNEL))
    assert event.content == TextSaid("New topic: Hooke's law")


async def test_a_group_message_names_its_author(api: BotApi, running: Running) -> None:
    api.say(TEACHER, "/topic@holdfast_test_bot Hooke's law", chat_id=GROUP)
    await eventually(lambda: running.events)
    event = running.events[0]
    assert (event.place, event.user, event.address) == ("class", "2002", str(GROUP))
    assert event.content == TextSaid("/topic Hooke's law")


async def test_blocking_and_coming_back_are_told(api: BotApi, running: Running) -> None:
    api.say(MIRA, "hello")
    api.block(MIRA)
    api.unblock(MIRA)
    await eventually(lambda: len(running.events) == 3)
    assert running.contents[1:] == [PresenceChanged("blocked"), PresenceChanged("unblocked")]
    assert {event.address for event in running.events} == {"1001"}


async def test_losing_and_getting_rights_in_a_channel_is_told(api: BotApi, running: Running) -> None:
    api.set_bot(CHANNEL, "administrator", TEACHER, may_write=False)
    api.set_bot(CHANNEL, "administrator", TEACHER, may_write=True)
    api.set_bot(CHANNEL, "left", TEACHER)
    api.set_bot(GROUP, "restricted", TEACHER, may_write=False)
    api.set_bot(GROUP, "kicked", TEACHER)
    await eventually(lambda: len(running.events) == 5)
    changes = [content.change for content in running.contents]
    assert changes == ["limited", "added", "removed", "limited", "removed"]
    assert all(event.place == "class" and event.user == "2002" for event in running.events)


async def test_a_group_that_moves_is_told_and_sending_says_so_too(api: BotApi, running: Running) -> None:
    api.migrate(GROUP, -100777)
    await eventually(lambda: running.events)
    assert running.events[0].address == str(GROUP)
    assert running.contents == [PresenceChanged("moved", "-100777")]
    with pytest.raises(AddressMoved) as moved:
        await running.chat.send(str(GROUP), text("Five topics this week."), token="1")
    assert moved.value.new_address == "-100777"
    assert await running.chat.send("-100777", text("Five topics this week."), token="1")


async def test_with_another_clock_the_times_are_that_clocks(api: BotApi) -> None:
    moment = datetime(2026, 9, 1, 16, 30, tzinfo=UTC)
    run = Running(adapter(api, clock=HandClock(moment)))
    await run.start()
    api.say(MIRA, "hello")
    await eventually(lambda: run.events)
    await run.end()
    assert run.events[0].at == moment


async def test_a_time_in_the_future_is_cut_to_now(api: BotApi, running: Running) -> None:
    api.now = lambda: datetime.now(UTC) + timedelta(hours=1)
    api.say(MIRA, "hello")
    await eventually(lambda: running.events)
    assert running.events[0].at <= datetime.now(UTC)


# ---------------------------------------------------------------- trouble while receiving


@pytest.mark.parametrize("kind", ["flood", "status", "cut_before", "cut_after", "garbage"])
async def test_polling_goes_on_after_trouble_and_loses_nothing(
    api: BotApi, running: Running, kind: Any
) -> None:
    api.fail("getUpdates", Fault(kind, retry_after=1), times=2 if kind != "flood" else 1)
    api.say(MIRA, "through the storm")
    await eventually(lambda: running.events)
    assert TextSaid("through the storm") in running.contents
    await eventually(lambda: api.waiting == 0)


async def test_polling_goes_on_after_a_connection_that_went_dead(api: BotApi) -> None:
    api.fail("getUpdates", Fault("silent_after"))
    run = Running(adapter(api, timeout_s=0.2, long_poll_s=0))
    await run.start()
    api.say(MIRA, "through the storm")
    await eventually(lambda: run.events)
    await run.end()
    assert run.contents == [TextSaid("through the storm")]


async def test_the_start_waits_for_a_server_that_is_not_there_yet(api: BotApi) -> None:
    api.fail("getMe", Fault("cut_before"), times=2)
    api.fail("deleteWebhook", Fault("status", status=502), times=1)
    run = Running(adapter(api))
    await run.start()
    api.say(MIRA, "hello")
    await eventually(lambda: run.events)
    await run.end()


async def test_a_wrong_token_ends_the_run_with_a_sentence_without_the_token(
    api: BotApi, caplog: pytest.LogCaptureFixture
) -> None:
    wrong = "987654321:WRONG-token_of_no_value"
    chat = TelegramChat(wrong, api_url=api.url, timeout_s=0.5)
    with pytest.raises(SetupRefused) as refused:
        await chat.run(lambda event: asyncio.sleep(0), asyncio.Event())
    assert str(refused.value) == (
        "Telegram refuses the bot's token. Check HOLDFAST_TELEGRAM_TOKEN; @BotFather shows it and makes new ones."
    )
    assert refused.value.__cause__ is None
    assert wrong not in caplog.text


async def test_a_token_that_is_withdrawn_ends_the_run(api: BotApi, running: Running) -> None:
    api.token = "123456789:a-new-token"
    assert running.task is not None
    api.say(MIRA, "wake up")
    with pytest.raises(SetupRefused):
        await running.task
    running.task = asyncio.create_task(asyncio.sleep(0))


async def test_a_second_instance_is_noticed(
    api: BotApi, running: Running, caplog: pytest.LogCaptureFixture
) -> None:
    api.fail(
        "getUpdates",
        Fault("status", status=409, description="Conflict: terminated by other getUpdates request"),
    )
    api.say(MIRA, "one")
    await eventually(lambda: "two instances" in running.chat.problem)
    assert "another program asks for this bot's updates" in caplog.text


# ---------------------------------------------------------------- webhook


@contextlib.asynccontextmanager
async def by_webhook(api: BotApi) -> AsyncIterator[tuple[Running, Webhook]]:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    webhook = Webhook(f"http://127.0.0.1:{port}/hooks", f"127.0.0.1:{port}", secret="s3cret_Word-1")
    run = Running(adapter(api, webhook=webhook))
    await run.start()
    await eventually(lambda: api.called("setWebhook"))
    yield run, webhook
    await run.end()


async def test_a_webhook_delivers_and_is_confirmed_after_storing(api: BotApi) -> None:
    async with by_webhook(api) as (run, _):
        failures = [OSError("disk full")]

        def storing(event: Incoming) -> None:
            assert api.acknowledged == len(run.events)
            if failures:
                raise failures.pop()

        run.storing = storing
        api.say(MIRA, "first")
        api.say(MIRA, "second")
        await eventually(lambda: api.acknowledged == 2)
        assert run.contents == [TextSaid("first"), TextSaid("second")]
        given = api.called("setWebhook")[0].values
        assert given["secret_token"] == "s3cret_Word-1"
        assert set(given["allowed_updates"]) == {
            "message",
            "callback_query",
            "channel_post",
            "my_chat_member",
        }


@pytest.mark.parametrize(
    ("path", "secret", "body", "status"),
    [
        (None, "s3cret_Word-1", '{"update_id": 1}', 200),
        (None, "s3cret_Word-2", '{"update_id": 1}', 403),
        (None, None, '{"update_id": 1}', 403),
        ("guessed", "s3cret_Word-1", '{"update_id": 1}', 404),
        (None, "s3cret_Word-1", "no json", 400),
        (None, "s3cret_Word-1", "[]", 400),
        (None, "s3cret_Word-1", '{"update_id": 1, "x": "' + "y" * (1 << 20) + '"}', 413),
    ],
)
async def test_a_webhook_request_needs_path_secret_and_sense(
    api: BotApi, path: str | None, secret: str | None, body: str, status: int
) -> None:
    async with by_webhook(api) as (run, webhook), aiohttp.ClientSession() as client:
        url = webhook.address(TOKEN) if path is None else f"{webhook.url}/{path}"
        headers = {} if secret is None else {"X-Telegram-Bot-Api-Secret-Token": secret}
        async with client.post(url, data=io.BytesIO(body.encode()), headers=headers) as answer:
            assert answer.status == status
        assert run.events == []


def test_the_webhook_path_cannot_be_guessed_and_is_the_same_for_all_workers() -> None:
    webhook = Webhook("https://bot.school.example/hooks/", secret="s3cret")
    assert webhook.address(TOKEN) == f"https://bot.school.example/hooks/{webhook.path(TOKEN)}"
    assert len(webhook.path(TOKEN)) == 40
    assert webhook.path(TOKEN) != webhook.path(TOKEN + "x")


@pytest.mark.parametrize("secret", ["", "with space", "x" * 257, "ümlaut"])
def test_a_webhook_without_a_proper_secret_is_refused(secret: str) -> None:
    with pytest.raises(ValueError, match="HOLDFAST_TELEGRAM_WEBHOOK_SECRET"):
        Webhook("https://bot.school.example", secret=secret)
    assert "s3cret" not in repr(Webhook("https://bot.school.example", secret="s3cret"))


async def test_a_webhook_that_telegram_refuses_ends_the_run_with_its_reason(api: BotApi) -> None:
    chat = adapter(api, webhook=Webhook("http://bot.school.example", "127.0.0.1:0", "s"))
    with pytest.raises(SetupRefused, match="Telegram refuses to set the webhook: Bad webhook: an https url"):
        await chat.run(lambda event: asyncio.sleep(0), asyncio.Event())


async def test_a_port_that_is_taken_ends_the_run_with_what_to_do(api: BotApi) -> None:
    taken = api.url.removeprefix("http://")
    chat = adapter(api, webhook=Webhook("https://bot.school.example", taken, "s"))
    with pytest.raises(
        SetupRefused, match=f"cannot be received on {taken} .* HOLDFAST_TELEGRAM_WEBHOOK_LISTEN"
    ):
        await chat.run(lambda event: asyncio.sleep(0), asyncio.Event())


async def test_polling_ends_a_webhook_that_was_left(api: BotApi) -> None:
    api._webhook = {"url": "http://127.0.0.1:9/old"}
    run = Running(adapter(api))
    await run.start()
    api.say(MIRA, "hello")
    await eventually(lambda: run.events)
    await run.end()


# ---------------------------------------------------------------- sending


async def test_words_arrive_as_they_are_with_emphasis_and_without_preview(
    api: BotApi, sender: TelegramChat
) -> None:
    words = Rich.of("1 of 3 · Hooke's law", strong=True) + Rich.of("\nIs 2 < 3 & <b>x</b> https://a.example?")
    reference = await sender.send("1001", Message(words), token="1")
    sent = api.places[MIRA].messages[int(reference)]
    assert sent.text == "1 of 3 · Hooke's law\nIs 2 < 3 & <b>x</b> https://a.example?"
    assert sent.parsed.bold() == ["1 of 3 · Hooke's law"]
    assert api.called("sendMessage")[0].values["link_preview_options"] == {"is_disabled": True}


async def test_choices_stand_beside_each_other_when_short_and_below_when_long(
    api: BotApi, sender: TelegramChat
) -> None:
    await sender.send("1001", text("?", buttons=QUESTION), token="1")
    long = (
        Button("twice the force, twice the stretch", "a1:q:0", (), "A"),
        Button("no change", "a1:q:1", (), "B"),
    )
    await sender.send("1001", text("?", buttons=(long,)), token="2")
    short, tall = api.seen_by(MIRA)
    assert [[b["text"] for b in row] for row in short.keyboard] == [
        ["A\u20028 cm", "B\u200210 cm"],
        ["Not sure"],
    ]
    assert [len(row) for row in tall.keyboard] == [1, 1]
    assert tall.keyboard[0][0]["callback_data"] == "a1:q:0"


async def test_a_text_over_the_limit_is_continued_and_the_last_part_has_the_buttons(
    api: BotApi, sender: TelegramChat
) -> None:
    paragraphs = "\n".join(f"Line {n}: " + "word 😀 " * 40 for n in range(30))
    reference = await sender.send("1001", text(paragraphs, buttons=QUESTION), token="1")
    seen = api.seen_by(MIRA)
    assert len(seen) == 3
    assert [bool(sent.keyboard) for sent in seen] == [False, False, True]
    assert str(seen[-1].message_id) == reference
    assert "".join("".join(s.text.split()) for s in seen) == "".join(paragraphs.split())


async def test_a_message_in_parts_goes_on_where_it_stopped(api: BotApi, sender: TelegramChat) -> None:
    long = text("word " * 1500)
    calls = 0

    def second_fails(method: str) -> Fault | None:
        nonlocal calls
        calls += method == "sendMessage"
        return Fault("status", status=500) if calls == 2 else None

    api.chance = second_fails
    with pytest.raises(SendFailed):
        await sender.send("1001", long, token="1")
    await sender.send("1001", long, token="1")
    assert len(api.seen_by(MIRA)) == 2
    assert "".join("".join(s.text.split()) for s in api.seen_by(MIRA)) == "word" * 1500


async def test_a_picture_carries_the_text_and_its_alternative_text_as_caption(
    api: BotApi, sender: TelegramChat
) -> None:
    picture = Attachment("progress.png", "image/png", png(), alt="Density about 60 %, Moments about 40 %")
    await sender.send("1001", text("Your topics", attachment=picture, buttons=QUESTION), token="1")
    sent = api.seen_by(MIRA)[0]
    assert sent.photo
    assert sent.text == "Your topics\n\nDensity about 60 %, Moments about 40 %"
    assert sent.buttons == ["A\u20028 cm", "B\u200210 cm", "Not sure"]


async def test_a_picture_with_a_long_text_goes_first_and_the_text_follows_with_the_buttons(
    api: BotApi, sender: TelegramChat
) -> None:
    picture = Attachment("report.png", "image/png", png(), alt="The week in a picture")
    reference = await sender.send("1001", text("w " * 800, attachment=picture, buttons=QUESTION), token="1")
    first, second = api.seen_by(MIRA)
    assert (first.text, first.buttons) == ("The week in a picture", [])
    assert second.text == ("w " * 800).strip()
    assert len(second.buttons) == 3
    assert reference == str(second.message_id)


async def test_a_document_keeps_its_name(api: BotApi, sender: TelegramChat) -> None:
    book = Attachment("10B week 49.xlsx", "application/vnd.ms-excel", b"PK..")
    await sender.send("1001", text("The workbook", attachment=book), token="1")
    sent = api.seen_by(MIRA)[0]
    assert (sent.text, api.file_names[sent.document]) == ("The workbook", "10B week 49.xlsx")


async def test_a_picture_that_telegram_will_not_show_goes_as_a_document(
    api: BotApi, sender: TelegramChat
) -> None:
    banner = Attachment("banner.png", "image/png", png(900, 20))
    await sender.send("1001", text("A long line", attachment=banner), token="1")
    sent = api.seen_by(MIRA)[0]
    assert sent.document
    assert not sent.photo


async def test_a_file_is_uploaded_once_and_again_when_telegram_has_forgotten_it(
    api: BotApi, sender: TelegramChat
) -> None:
    message = text("?", attachment=Attachment("spring.png", "image/png", png()))
    await sender.send("1001", message, token="1")
    await sender.send("1001", message, token="2")
    assert [isinstance(c.values["photo"], str) for c in api.called("sendPhoto")] == [False, True]
    api.forget_files()
    await sender.send("1001", message, token="3")
    assert [isinstance(c.values["photo"], str) for c in api.called("sendPhoto")] == [False, True, True, False]
    assert len(api.seen_by(MIRA)) == 3


async def test_a_file_memory_that_fails_does_not_send_the_message_again(
    api: BotApi, caplog: pytest.LogCaptureFixture
) -> None:
    class Forgetful:
        async def get(self, digest: str) -> str | None:
            return None

        async def put(self, digest: str, file_id: str) -> None:
            raise OSError("disk full")

    api.places[MIRA].open = True
    async with closing(adapter(api, known_files=Forgetful())) as chat:
        await chat.send("1001", text("?", attachment=Attachment("a.png", "image/png", png())), token="1")
    assert len(api.seen_by(MIRA)) == 1
    assert "was not kept: OSError" in caplog.text


async def test_a_formula_comes_as_a_picture_with_readable_text_below(
    api: BotApi, sender: TelegramChat
) -> None:
    await sender.send("1001", text(r"What is $\frac{a+b}{c+d}$ for $x^2$?", buttons=QUESTION), token="1")
    sent = api.seen_by(MIRA)[0]
    assert sent.photo
    assert sent.text == "What is (a+b)/(c+d) for x²?"
    with Image.open(io.BytesIO(api.files[sent.photo])) as image:
        assert image.width >= 600


async def test_a_simple_formula_needs_no_picture(api: BotApi, sender: TelegramChat) -> None:
    await sender.send("1001", text("Is $E = m c^2$ right? It costs $5 or $6."), token="1")
    sent = api.seen_by(MIRA)[0]
    assert not sent.photo
    assert sent.text == "Is E = m c² right? It costs $5 or $6."


async def test_a_name_in_a_class_message_calls_nobody(api: BotApi, sender: TelegramChat) -> None:
    await sender.send(str(CHANNEL), text("Thanks to @mira and a@b.example"), token="1")
    await sender.send("1001", text("Thanks to @mira"), token="2")
    assert api.seen_by(CHANNEL)[0].text == "Thanks to @\u2060mira and a@b.example"
    assert api.seen_by(MIRA)[0].text == "Thanks to @mira"


async def test_a_menu_is_set_for_one_chat_and_only_when_it_changes(api: BotApi, sender: TelegramChat) -> None:
    api.say(MIRA, "hello")
    menu = (MenuEntry("next", "Ask me something now"), MenuEntry("help", "What I can do"))
    await sender.send("1001", text("Welcome", menu=menu), token="1")
    await sender.send("1001", text("Again", menu=menu), token="2")
    assert len(api.called("setMyCommands")) == 1
    assert api.places[MIRA].menu == [
        {"command": "next", "description": "Ask me something now"},
        {"command": "help", "description": "What I can do"},
    ]
    assert await sender.send("1001", Message(Rich(), menu=()), token="3") == ""
    assert api.places[MIRA].menu is None


async def test_newcomers_are_shown_a_menu_in_their_language(api: BotApi) -> None:
    started = Running(adapter(api, menus=newcomers_menus("en")))
    await started.start()
    await eventually(lambda: len(api.newcomers_menus) == 1 + len(LANGUAGES))
    await started.end()
    german = {entry["command"]: entry["description"] for entry in api.newcomers_menus["de"]}
    assert german["join"] == "mit dem Code in eine Klasse kommen"
    assert api.newcomers_menus[""] == api.newcomers_menus["en"]


async def test_a_newcomers_menu_that_is_refused_does_not_hold_up_the_start(
    api: BotApi, caplog: pytest.LogCaptureFixture
) -> None:
    api.fail("setMyCommands", Fault("status", status=400, description="Bad Request: no such language"))
    started = Running(adapter(api, menus=newcomers_menus("en")))
    await started.start()
    api.say(MIRA, "hello")
    await eventually(lambda: len(started.events) == 1)
    await started.end()
    assert "The menu for newcomers was refused" in caplog.text


async def test_a_menu_that_is_refused_does_not_hold_up_the_message(
    api: BotApi, sender: TelegramChat, caplog: pytest.LogCaptureFixture
) -> None:
    api.fail("setMyCommands", Fault("status", status=400, description="Bad Request: chat not found"))
    await sender.send("1001", text("Welcome", menu=(MenuEntry("help", "Help"),)), token="1")
    assert [sent.text for sent in api.seen_by(MIRA)] == ["Welcome"]
    assert "A command menu was refused" in caplog.text


async def test_a_menu_that_fails_for_the_moment_is_tried_again_with_its_message(
    api: BotApi, sender: TelegramChat
) -> None:
    api.say(MIRA, "hello")
    message = text("Welcome", menu=(MenuEntry("help", "Help"),))
    api.fail("setMyCommands", Fault("cut_after"))
    with pytest.raises(SendFailed) as failed:
        await sender.send("1001", message, token="1")
    assert failed.value.ambiguous is False
    assert api.seen_by(MIRA) == []
    await sender.send("1001", message, token="1")
    assert [sent.text for sent in api.seen_by(MIRA)] == ["Welcome"]


async def test_an_empty_message_is_refused_before_telegram_sees_it(api: BotApi, sender: TelegramChat) -> None:
    with pytest.raises(SendRefused, match="The message is empty"):
        await sender.send("1001", text(" \n\u202e"), token="1")
    assert api.calls == []


async def test_markup_that_telegram_cannot_read_goes_out_as_plain_words(
    api: BotApi, sender: TelegramChat, caplog: pytest.LogCaptureFixture
) -> None:
    refusal = "Bad Request: can't parse entities: Unsupported start tag"
    api.fail("sendMessage", Fault("status", status=400, description=refusal))
    await sender.send("1001", Message(Rich.of("strong", strong=True) + Rich.of(" & <plain>")), token="1")
    sent = api.seen_by(MIRA)[0]
    assert (sent.text, sent.parsed.entities) == ("strong & <plain>", [])
    assert "went out as plain text" in caplog.text
    assert "<plain>" not in caplog.text


# ---------------------------------------------------------------- editing


async def test_an_answered_question_is_edited_in_place_without_its_buttons(
    api: BotApi, sender: TelegramChat
) -> None:
    reference = await sender.send("1001", text("How far?", buttons=QUESTION), token="1")
    again = await sender.send("1001", text("✓ B, 10 cm"), token="2", edits=reference)
    assert again == reference
    (sent,) = api.seen_by(MIRA)
    assert (sent.text, sent.buttons, sent.edits) == ("✓ B, 10 cm", [], 1)


async def test_the_same_edit_twice_is_a_success(api: BotApi, sender: TelegramChat) -> None:
    reference = await sender.send("1001", text("How far?"), token="1")
    api.fail("editMessageText", Fault("cut_after"))
    with pytest.raises(SendFailed) as failed:
        await sender.send("1001", text("✓"), token="2", edits=reference)
    assert failed.value.ambiguous is False, "an edit can be repeated"
    assert await sender.send("1001", text("✓"), token="2", edits=reference) == reference
    assert len(api.seen_by(MIRA)) == 1
    assert api.called("editMessageText")[-1].description.startswith("Bad Request: message is not modified")


async def test_a_picture_question_keeps_its_picture_when_it_is_answered(
    api: BotApi, sender: TelegramChat
) -> None:
    picture = Attachment("spring.png", "image/png", png())
    reference = await sender.send("1001", text("?", attachment=picture, buttons=QUESTION), token="1")
    again = await sender.send("1001", text("✓ right"), token="2", edits=reference)
    (sent,) = api.seen_by(MIRA)
    assert (again, sent.text, sent.buttons, bool(sent.photo)) == (reference, "✓ right", [], True)


async def test_a_picture_can_take_the_place_of_a_text_and_of_a_picture(
    api: BotApi, sender: TelegramChat
) -> None:
    reference = await sender.send("1001", text("Working on it"), token="1")
    for colour in ("white", "black"):
        picture = Attachment("p.png", "image/png", png(colour=colour))
        message = text(colour, attachment=picture)
        assert await sender.send("1001", message, token=colour, edits=reference) == reference
        assert await sender.send("1001", message, token=colour, edits=reference) == reference
    (sent,) = api.seen_by(MIRA)
    assert sent.text == "black"
    assert api.files[sent.photo] == png(colour="black")


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("gone", text("new")),
        ("someone else's", text("new")),
        ("no number", text("new")),
        ("picture", text("n" * 1500)),
        ("text", text("n" * 5000)),
        ("text", text("n" * 1500, attachment=Attachment("p.png", "image/png", png()))),
    ],
)
async def test_what_cannot_be_edited_is_sent_anew_and_the_old_buttons_go(
    api: BotApi, sender: TelegramChat, old: str, new: Message
) -> None:
    theirs = api.say(MIRA, "mine")
    picture = Attachment("p.png", "image/png", png(colour="red")) if old == "picture" else None
    ours = await sender.send("1001", text("old", buttons=QUESTION, attachment=picture), token="1")
    edits = {"gone": "999", "someone else's": str(theirs.message_id), "no number": "$event"}.get(old, ours)
    reference = await sender.send("1001", new, token="2", edits=edits)
    assert int(reference) > int(ours)
    assert api.places[MIRA].messages[int(ours)].buttons == (
        [] if edits == ours else ["A\u20028 cm", "B\u200210 cm", "Not sure"]
    )


# ---------------------------------------------------------------- trouble while sending


@pytest.mark.parametrize(
    ("fault", "ambiguous", "arrived"),
    [
        (Fault("cut_before"), True, 0),
        (Fault("cut_after"), True, 1),
        (Fault("silent_before"), True, 0),
        (Fault("silent_after"), True, 1),
        (Fault("garbage"), True, 1),
        (Fault("status", status=500), False, 0),
        (Fault("status", status=502, description="Bad Gateway"), True, 0),
        (Fault("status", status=503, description="Service Unavailable"), False, 0),
    ],
)
async def test_trouble_is_told_with_what_may_have_arrived(
    api: BotApi, sender: TelegramChat, fault: Fault, ambiguous: bool, arrived: int
) -> None:
    api.fail("sendMessage", fault)
    with pytest.raises(SendFailed) as failed:
        await sender.send("1001", text("How far?"), token="1")
    assert failed.value.ambiguous is ambiguous
    assert len(api.seen_by(MIRA)) == arrived


async def test_a_flood_is_told_with_its_wait_for_the_whole_platform(
    api: BotApi, sender: TelegramChat
) -> None:
    api.fail("sendMessage", Fault("flood", retry_after=7))
    with pytest.raises(SendFailed) as failed:
        await sender.send("1001", text("How far?"), token="1")
    assert (failed.value.retry_after_s, failed.value.whole_platform) == (7.0, True)
    assert (failed.value.ambiguous, str(failed.value)) == (False, "Telegram asks to wait 7 s")


async def test_a_server_that_is_not_there_was_never_reached() -> None:
    async with closing(TelegramChat(TOKEN, api_url="http://127.0.0.1:1", timeout_s=0.5)) as chat:
        with pytest.raises(SendFailed) as failed:
            await chat.send("1001", text("How far?"), token="1")
    assert (failed.value.ambiguous, failed.value.whole_platform) == (False, True)


async def test_a_chat_that_blocked_the_bot_is_unreachable(api: BotApi, sender: TelegramChat) -> None:
    api.block(MIRA)
    with pytest.raises(SendRefused) as refused:
        await sender.send("1001", text("How far?"), token="1")
    assert refused.value.unreachable is True
    assert str(refused.value) == "Telegram forbids it: Forbidden: bot was blocked by the user"


@pytest.mark.parametrize("address", ["77", "2002", str(CHANNEL)])
async def test_chats_that_are_not_open_to_the_bot_are_unreachable(
    api: BotApi, sender: TelegramChat, address: str
) -> None:
    api.places[CHANNEL].may_write = False
    with pytest.raises(SendRefused) as refused:
        await sender.send(address, text("How far?"), token="1")
    assert refused.value.unreachable is True


async def test_a_message_that_telegram_will_not_take_is_refused_but_the_person_is_not(
    api: BotApi, sender: TelegramChat
) -> None:
    with pytest.raises(SendRefused) as refused:
        await sender.send("1001", text("?", buttons=((Button("x", "y" * 65),),)), token="1")
    assert refused.value.unreachable is False
    assert api.violations.pop() == "sendMessage: BUTTON_DATA_INVALID"


async def test_a_full_pool_means_that_nothing_was_sent(api: BotApi) -> None:
    api.places[MIRA].open = True
    api.fail("sendMessage", Fault("silent_before"), times=64)
    async with closing(adapter(api, timeout_s=0.2)) as chat:
        sends = [asyncio.create_task(chat.send("1001", text("?"), token=str(n))) for n in range(66)]
        failures = await asyncio.gather(*sends, return_exceptions=True)
    pool = [f for f in failures if isinstance(f, SendFailed) and "PoolTimeout" in f.reason]
    assert all(not f.ambiguous and not f.whole_platform for f in pool)
    assert sum(isinstance(f, SendFailed) and f.ambiguous for f in failures) == 64


async def test_stopping_lets_a_message_under_way_arrive(api: BotApi, running: Running) -> None:
    api.places[MIRA].open = True
    release = asyncio.Event()
    original = api._sendMessage

    async def slow(values: dict[str, Any]) -> Any:
        await release.wait()
        return original(values)

    api._sendMessage = slow  # type: ignore[method-assign, assignment]
    sending = asyncio.create_task(running.chat.send("1001", text("under way"), token="1"))
    await eventually(lambda: api.called("sendMessage"))
    running.stop.set()
    await eventually(lambda: len(api.called("getUpdates")) >= 1)
    release.set()
    assert await sending == "1"
    await running.end()


async def test_the_last_messages_still_leave_after_receiving_has_ended(api: BotApi) -> None:
    run = Running(adapter(api))
    await run.start()
    await eventually(lambda: api.called("getUpdates"))
    await run.end()
    api.places[MIRA].open = True
    sends = [run.chat.send("1001", text(f"goodbye {n}"), token=str(n)) for n in range(3)]
    await asyncio.gather(*sends)
    assert [sent.text for sent in api.seen_by(MIRA)] == ["goodbye 0", "goodbye 1", "goodbye 2"]
    assert run.chat._sending._client.is_closed


async def test_stopping_leaves_no_message_in_doubt_while_others_are_sent_without_a_pause(api: BotApi) -> None:
    """On a full evening something is always under way: stopping waits for what is, and not for what comes after."""
    run = Running(adapter(api))
    await run.start()
    await eventually(lambda: api.called("getUpdates"))
    chats = range(-1003, -1000)
    for chat in chats:
        api.group(chat, "10B Physics")
    sent = dict.fromkeys(chats, 0)

    async def keep_sending(chat: int) -> None:
        while not (run.task and run.task.done()) or sent[chat] < 5:
            await run.chat.send(str(chat), text(f"nudge {sent[chat]}"), token=f"{chat}:{sent[chat]}")
            sent[chat] += 1

    async with asyncio.TaskGroup() as group:
        for chat in chats:
            group.create_task(keep_sending(chat))
        await eventually(lambda: all(sent.values()))
        await run.end()
    assert {chat: len(api.seen_by(chat)) for chat in chats} == sent
    assert run.chat._sending._client.is_closed


async def test_an_adapter_can_run_again(api: BotApi) -> None:
    run = Running(adapter(api))
    for number in (1, 2):
        run.stop.clear()
        run.events.clear()
        await run.start()
        api.say(MIRA, "hello")
        await eventually(lambda: run.events)
        await run.chat.send("1001", text("hello"), token=str(number))
        await run.end()
    assert len(api.seen_by(MIRA)) == 2


# ---------------------------------------------------------------- files of people


async def test_a_file_over_the_limit_is_refused_and_a_lost_one_too(api: BotApi, sender: TelegramChat) -> None:
    api.files["big"] = b"0" * 20_000_001
    with pytest.raises(SendRefused, match="File is too big"):
        await sender.fetch("big")
    with pytest.raises(SendRefused):
        await sender.fetch("never seen")


async def test_a_file_that_cannot_be_had_at_the_moment_may_be_asked_for_again(
    api: BotApi, sender: TelegramChat
) -> None:
    api.files["sheet"] = b"date,topic\n"
    for method, fault in (("getFile", Fault("cut_after")), ("download", Fault("status", status=502))):
        api.fail(method, fault)
        with pytest.raises(SendFailed) as failed:
            await sender.fetch("sheet")
        assert failed.value.ambiguous is False
    assert await sender.fetch("sheet") == b"date,topic\n"


# ---------------------------------------------------------------- secrets, and the port


async def test_the_token_never_gets_into_the_log_even_at_its_loudest(
    api: BotApi, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    run = Running(adapter(api))
    await run.start()
    api.say(MIRA, "my answer")
    await eventually(lambda: run.events)
    api.fail("sendMessage", Fault("cut_before"))
    for _ in range(2):
        with contextlib.suppress(SendFailed):
            await run.chat.send("1001", text("How far?"), token="1")
    await run.end()
    assert TOKEN not in caplog.text
    assert TOKEN.partition(":")[2] not in caplog.text
    assert "my answer" not in caplog.text


def test_the_adapter_is_made_from_settings() -> None:
    settings = Settings(
        telegram_token=SecretStr(TOKEN),
        telegram_api_url="http://127.0.0.1:1/",
        telegram_webhook_url="https://bot.school.example",
        telegram_webhook_secret=SecretStr("s3cret"),
    )
    chat = telegram_from(settings)
    assert chat._bot.base_url == f"http://127.0.0.1:1/bot{TOKEN}"
    assert chat._webhook == Webhook("https://bot.school.example", "127.0.0.1:8443", "s3cret")
    assert telegram_from(Settings(telegram_token=SecretStr(TOKEN)))._webhook is None
    with pytest.raises(ValueError, match="HOLDFAST_TELEGRAM_TOKEN is not set"):
        telegram_from(Settings(telegram_token=None))


def test_groups_and_channels_are_known_by_their_address() -> None:
    assert [TelegramChat.is_group(address) for address in ("1001", "-500", "-1001234")] == [False, True, True]


def test_the_adapter_is_a_chat() -> None:
    chat: Chat = TelegramChat(TOKEN)
    assert chat.name == "telegram"
    assert (chat.limits.text_length, chat.limits.caption_length) == (4096, 1024)


async def test_faults_at_random_lose_no_text_and_keep_the_order(api: BotApi, running: Running) -> None:
    faults = random_faults(Random(7), 0.1)
    api.chance = lambda method: None if (f := faults(method)) and f.kind == "flood" else f
    api.repeat_share = 0.2
    for number in range(60):
        api.say(MIRA, f"answer {number}")
    await eventually(lambda: api.waiting == 0, within_s=20)
    keys = list(dict.fromkeys(event.key for event in running.events))
    said = {event.key: event.content for event in running.events}
    assert [said[key] for key in keys] == [TextSaid(f"answer {n}") for n in range(60)]
