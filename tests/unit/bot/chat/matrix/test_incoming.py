"""What a homeserver delivers, as events of the port."""

from datetime import UTC, datetime
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from nio import Event, MatrixRoom
from nio.events import BadEvent, UnknownBadEvent

from bot.chat.matrix.incoming import Handle, incoming, moment, said
from bot.chat.matrix.rooms import Invitation, invitation, server_of
from bot.chat.port import FileSent, TextSaid

NOW = datetime(2026, 9, 7, 8, 0, tzinfo=UTC)
ME = "@holdfast:school.example"


def event(content: dict[str, Any], kind: str = "m.room.message", **rest: Any) -> Event:
    source = {
        "type": kind,
        "event_id": "$1",
        "sender": "@mira:school.example",
        "origin_server_ts": 1_788_767_940_000,
        "content": content,
    }
    read = Event.parse_event(source | rest)
    assert isinstance(read, Event), read
    return read


def sealed(content: dict[str, Any]) -> Event:
    read = Event.parse_decrypted_event(
        {
            "type": "m.room.message",
            "event_id": "$1",
            "sender": "@m:x",
            "origin_server_ts": 1,
            "content": content,
        }
    )
    assert isinstance(read, Event), read
    return read


def test_a_text_is_said_and_a_notice_of_another_bot_is_not() -> None:
    assert said(event({"msgtype": "m.text", "body": "10 cm"})) == TextSaid("10 cm")
    assert said(event({"msgtype": "m.emote", "body": "waves"})) == TextSaid("waves")
    assert said(event({"msgtype": "m.notice", "body": "I am a bot"})) is None


def test_a_reply_names_its_message_and_loses_the_quotation() -> None:
    relation = {"m.relates_to": {"m.in_reply_to": {"event_id": "$q"}}}
    quoted = event({"msgtype": "m.text", "body": "> <@bot> How far?\n> cm?\n\n10", **relation})
    assert said(quoted) == TextSaid("10", "$q")
    assert said(event({"msgtype": "m.text", "body": "> 5", **relation})) == TextSaid("> 5", "$q")
    assert said(event({"msgtype": "m.text", "body": "> 5\n\n10"})) == TextSaid("> 5\n\n10")


def test_an_edited_message_is_not_a_second_answer() -> None:
    relation = {"rel_type": "m.replace", "event_id": "$0"}
    assert said(event({"msgtype": "m.text", "body": "* 11", "m.relates_to": relation})) is None


def test_what_has_no_words_is_an_empty_text_and_other_events_are_nothing() -> None:
    assert said(event({"msgtype": "m.location", "body": "here", "geo_uri": "geo:1,2"})) == TextSaid("")
    assert said(event({"name": "10B"}, "m.room.name", state_key="")) is None
    assert said(event({"x": 1}, "org.example.thing")) is None


def test_a_request_to_compare_keys_is_nothing_that_somebody_said() -> None:
    # Specification, "Key verification framework": in a room it is an m.room.message with this type.
    asked = {
        "msgtype": "m.key.verification.request",
        "body": "Verify?",
        "from_device": "X",
        "to": ME,
        "methods": [],
    }
    assert said(event(asked)) is None
    assert said(event({}, "m.key.verification.start")) is None


def test_signs_that_databases_cannot_keep_are_dropped() -> None:
    assert said(event({"msgtype": "m.text", "body": "a\x00b\ud83d"})) == TextSaid("ab")


def test_a_file_in_the_open_and_an_encrypted_one() -> None:
    open_file = event(
        {
            "msgtype": "m.file",
            "body": "t.csv",
            "url": "mxc://x/1",
            "info": {"mimetype": "text/csv", "size": 9},
        }
    )
    assert said(open_file) == FileSent('["mxc://x/1"]', "t.csv", "text/csv", 9)
    key = {"kty": "oct", "alg": "A256CTR", "ext": True, "k": "KEY", "key_ops": ["decrypt"]}
    where = {"url": "mxc://x/2", "key": key, "iv": "IV", "hashes": {"sha256": "HASH"}, "v": "v2"}
    content = {
        "msgtype": "m.image",
        "body": "see this",
        "filename": "board.jpg",
        "file": where,
        "info": {"size": -4},
    }
    found = said(sealed(content))
    assert found == FileSent('["mxc://x/2","KEY","IV","HASH"]', "board.jpg", "image/jpeg", 0, "see this")
    assert Handle.unpacked(found.handle) == Handle("mxc://x/2", "KEY", "IV", "HASH")


@pytest.mark.parametrize("line", ["", "x", "{}", "[]", "[1]", '["a","b"]', '["a","b","c",4]'])
def test_a_damaged_reference_of_a_file_is_an_error(line: str) -> None:
    with pytest.raises(ValueError):  # noqa: PT011 - whatever the reason, it is told the same way
        Handle.unpacked(line)


def test_the_moment_is_the_servers_but_never_in_the_future() -> None:
    text = event({"msgtype": "m.text", "body": "x"})
    assert moment(text, NOW) == datetime(2026, 9, 7, 7, 59, tzinfo=UTC)
    assert moment(event({"msgtype": "m.text", "body": "x"}, origin_server_ts=2**60), NOW) == NOW
    assert moment(text, NOW, use_dates=False) == NOW


def test_an_event_says_where_who_and_when() -> None:
    room = MatrixRoom("!r", ME)
    room.add_member("@mira:school.example", "Mira", None)
    made = incoming(event({"msgtype": "m.text", "body": "x"}), room, "private", NOW, TextSaid("x"))
    assert (made.platform, made.key, made.address, made.user) == (
        "matrix",
        "$1",
        "!r",
        "@mira:school.example",
    )
    assert (made.name, made.place, made.at) == ("Mira", "private", NOW)


def test_only_our_own_invitation_counts() -> None:
    def member(user: str, membership: str) -> dict[str, Any]:
        content = {"membership": membership}
        return {"type": "m.room.member", "sender": "@mira:x", "state_key": user, "content": content}

    state = [member("@mira:x", "join"), member("@jonas:x", "invite"), member(ME, "invite")]
    assert invitation("!r", state, ME) == Invitation("!r", "@mira:x")
    assert invitation("!r", state[:2], ME) is None
    assert invitation("!r", [{"type": "m.room.member", "state_key": ME, "content": "broken"}], ME) is None
    assert server_of("@mira:school.example:8448") == "school.example:8448"


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=8,
)
fields = ["msgtype", "body", "url", "file", "info", "filename", "m.relates_to", "format"]
contents = st.dictionaries(
    st.sampled_from(fields), json_values | st.sampled_from(["m.text", "m.file"]), max_size=6
)


@settings(max_examples=150, deadline=None)
@given(contents, st.sampled_from(["m.text", "m.file", "m.image", "m.notice", None]))
def test_whatever_a_client_sends_is_read_or_passed_over(content: dict[str, Any], kind: str | None) -> None:
    if kind:
        content = content | {"msgtype": kind}
    source = {
        "type": "m.room.message",
        "event_id": "$1",
        "sender": "@m:x",
        "origin_server_ts": 1,
        "content": content,
    }
    read = Event.parse_event(source)
    if isinstance(read, BadEvent | UnknownBadEvent) or read is None:
        return
    found = said(read)
    assert found is None or isinstance(found, TextSaid | FileSent)
