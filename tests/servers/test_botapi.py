"""The local Bot API server is as strict as the documentation, and fails as told."""

import json
import os
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

import aiohttp
import pytest

from tests.servers.botapi import TOKEN, BotApi, Fault, PublishedPace
from tests.servers.botapi_rules import (
    METHODS,
    OBJECTS,
    Wrong,
    check_commands,
    check_keyboard,
    checked,
    checked_text,
)

SPEC = os.environ.get("HOLDFAST_BOT_API_SPEC", "")
# What the tables here call a type; objects of which nothing is sent are checked as JSON only.
KINDS = {
    "String": {"String"},
    "Integer": {"Integer"},
    "Boolean": {"Boolean"},
    "Chat": {"Integer", "String"},
    "File": {"InputFile", "String"},
    "Strings": {"Array of String"},
    "BotCommands": {"Array of BotCommand"},
    "InputMedia": {"InputMedia"},
    "BotCommandScope": {"BotCommandScope"},
    "LinkPreviewOptions": {"LinkPreviewOptions"},
    "ReplyParameters": {"ReplyParameters"},
    "InlineKeyboardMarkup": {
        "InlineKeyboardMarkup",
        "ReplyKeyboardMarkup",
        "ReplyKeyboardRemove",
        "ForceReply",
    },
}


@pytest.mark.skipif(not SPEC, reason="HOLDFAST_BOT_API_SPEC names no machine-readable Bot API description")
def test_the_tables_of_fields_are_those_of_the_published_description() -> None:
    published = json.loads(Path(SPEC).read_text())
    for method, fields in METHODS.items():
        theirs = {f["name"]: f for f in published["methods"][method].get("fields", [])}
        assert set(fields) == set(theirs), method
        for name, (kind, required) in fields.items():
            assert required == theirs[name]["required"], (method, name)
            assert kind == "JSON" or set(theirs[name]["types"]) <= KINDS[kind], (method, name)
    for kind, (allowed, needed) in OBJECTS.items():
        theirs = {f["name"]: f for f in published["types"][kind]["fields"]}
        assert allowed == set(theirs), kind
        assert needed == {name for name, field in theirs.items() if field["required"]}, kind


@pytest.mark.parametrize(
    ("text", "complaint"),
    [
        ("<b>open", "Can't find end tag"),
        ("<b><i>x</b></i>", "Unexpected end tag"),
        ("</b>", "Unexpected end tag"),
        ("<script>x</script>", "Unsupported start tag"),
        ("<br/>", "Unsupported start tag"),
        ("a < b", "Unclosed start tag"),
        ("a & b", "ampersand"),
        ("&nbsp;", "ampersand"),
        ("<!-- x -->", "comments"),
        ("<b></b>", "message text is empty"),
        (" \n ", "message text is empty"),
        ("x" * 4097, "message is too long"),
        ("😀" * 2049, "message is too long"),
        ("\ud83d", "UTF-8"),
    ],
)
def test_text_that_the_documentation_does_not_allow_is_refused(text: str, complaint: str) -> None:
    with pytest.raises(Wrong, match=complaint):
        checked_text(text, "HTML")


def test_markup_is_read_into_entities_counted_in_utf_16() -> None:
    parsed = checked_text("😀 <b>a&lt;b</b> <a href='x'>c</a>", "HTML")
    assert parsed.text == "😀 a<b c"
    assert parsed.entities == [
        {"type": "bold", "offset": 3, "length": 3},
        {"type": "text_link", "offset": 7, "length": 1},
    ]
    assert checked_text("😀" * 2048, None).text == "😀" * 2048


@pytest.mark.parametrize(
    ("method", "raw", "complaint"),
    [
        ("sendMessage", {"chat_id": "1"}, "missing fields: text"),
        ("sendMessage", {"chat_id": "1", "text": "x", "texts": "y"}, "unknown fields: texts"),
        ("sendMessage", {"chat_id": "one", "text": "x"}, "no integer"),
        ("sendMessage", {"chat_id": "1", "text": "x", "protect_content": "True"}, "no Boolean"),
        ("sendMessage", {"chat_id": "1", "text": "x", "reply_markup": "{"}, "can't parse reply_markup"),
        (
            "sendMessage",
            {"chat_id": "1", "text": "x", "link_preview_options": '{"no": 1}'},
            "LinkPreviewOptions",
        ),
        ("getUpdates", {"allowed_updates": '["gossip"]'}, "unknown kinds"),
        (
            "editMessageMedia",
            {"media": '{"type": "photo", "media": "attach://x"}'},
            "attached file not found",
        ),
        ("editMessageMedia", {"media": '{"type": "tale", "media": "x"}'}, "InputMedia"),
    ],
)
def test_requests_with_wrong_fields_are_refused(method: str, raw: dict[str, str], complaint: str) -> None:
    with pytest.raises(Wrong, match=complaint):
        checked(method, raw, {})


@pytest.mark.parametrize(
    "button",
    [
        {"text": " ", "callback_data": "x"},
        {"text": "x", "callback_data": ""},
        {"text": "x", "callback_data": "é" * 33},
    ],
)
def test_buttons_outside_the_limits_are_refused(button: dict[str, str]) -> None:
    check_keyboard({"inline_keyboard": [[{"text": "x", "callback_data": "é" * 32}]]})
    with pytest.raises(Wrong):
        check_keyboard({"inline_keyboard": [[button]]})


@pytest.mark.parametrize(
    "command",
    [
        {"command": "Help", "description": "x"},
        {"command": "", "description": "x"},
        {"command": "x" * 33, "description": "x"},
        {"command": "help", "description": ""},
        {"command": "help", "description": "x" * 257},
        {"command": "help"},
    ],
)
def test_commands_outside_the_limits_are_refused(command: dict[str, str]) -> None:
    with pytest.raises(Wrong):
        check_commands([command])


@pytest.fixture
async def api() -> AsyncIterator[BotApi]:
    async with BotApi() as server:
        server.person(1, "Mira")
        yield server


async def ask(api: BotApi, method: str, **fields: Any) -> dict[str, Any]:
    async with (
        aiohttp.ClientSession() as client,
        client.post(f"{api.url}/bot{TOKEN}/{method}", data=fields) as answer,
    ):
        body: dict[str, Any] = await answer.json()
        assert answer.status == body.get("error_code", 200)
        return body


async def test_updates_stay_until_a_higher_offset_confirms_them(api: BotApi) -> None:
    kinds = '["message"]'
    api.say(1, "one")
    api.say(1, "two")
    first = await ask(api, "getUpdates", allowed_updates=kinds)
    again = await ask(api, "getUpdates", allowed_updates=kinds)
    assert first == again
    offset = first["result"][0]["update_id"] + 1
    rest = await ask(api, "getUpdates", allowed_updates=kinds, offset=offset)
    assert [update["message"]["text"] for update in rest["result"]] == ["two"]
    assert (api.waiting, api.acknowledged) == (1, 1)


async def test_the_bot_cannot_write_first_and_not_to_those_who_blocked_it(api: BotApi) -> None:
    refused = await ask(api, "sendMessage", chat_id=1, text="hello")
    assert refused["description"] == "Forbidden: bot can't initiate conversation with a user"
    api.say(1, "hi")
    assert (await ask(api, "sendMessage", chat_id=1, text="hello"))["ok"]
    api.block(1)
    refused = await ask(api, "sendMessage", chat_id=1, text="hello")
    assert refused["description"] == "Forbidden: bot was blocked by the user"


async def test_faults_come_in_the_order_they_were_ordered_and_then_stop(api: BotApi) -> None:
    api.say(1, "hi")
    api.fail("sendMessage", Fault("flood", retry_after=3))
    api.fail("sendMessage", Fault("cut_after"))
    flooded = await ask(api, "sendMessage", chat_id=1, text="a")
    assert flooded["parameters"] == {"retry_after": 3}
    with pytest.raises(aiohttp.ClientError):
        await ask(api, "sendMessage", chat_id=1, text="b")
    await ask(api, "sendMessage", chat_id=1, text="c")
    assert [sent.text for sent in api.seen_by(1)] == ["b", "c"]


async def test_requests_of_others_and_for_unknown_methods_are_refused(api: BotApi) -> None:
    async with aiohttp.ClientSession() as client, client.get(f"{api.url}/bot1:x/getMe") as answer:
        assert answer.status == 401
    assert (await ask(api, "sendGossip"))["error_code"] == 404
    assert (await ask(api, "sendMessage", chat_id=1))["error_code"] == 400
    assert api.violations == ["unknown method sendGossip", "sendMessage: missing fields: text"]


def test_the_published_pace_stops_floods_to_one_chat_to_a_group_and_to_all() -> None:
    """Bots FAQ: about 30 messages a second; 1 a second in a chat, short bursts pass; 20 a minute in a group."""
    pace = PublishedPace()
    assert [pace.wait_s(chat, 0.0) for chat in range(1, 32)] == [0] * 30 + [3]
    pace = PublishedPace()
    assert [pace.wait_s(1, second) for second in range(60)] == [0] * 60
    pace = PublishedPace()
    assert [pace.wait_s(1, n / 10) for n in range(6)] == [0] * 5 + [3]
    pace = PublishedPace()
    assert [pace.wait_s(-1, 2.0 * n) for n in range(21)] == [0] * 20 + [3]
