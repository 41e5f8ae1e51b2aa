from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.chat.packing import pack, pack_incoming, unpack, unpack_incoming
from bot.chat.port import (
    AddressMoved,
    Attachment,
    Button,
    ButtonPressed,
    FileSent,
    Incoming,
    MenuEntry,
    Message,
    PresenceChanged,
    SendError,
    SendFailed,
    SendRefused,
    TextSaid,
)
from bot.words.rich import Rich, Span

texts = st.text(max_size=40)
buttons = st.builds(Button, texts, texts, st.tuples(texts), texts)
messages = st.builds(
    Message,
    text=st.builds(Rich, st.lists(st.builds(Span, texts, st.booleans()), max_size=3).map(tuple)),
    buttons=st.lists(st.lists(buttons, max_size=2).map(tuple), max_size=2).map(tuple),
    attachment=st.none() | st.builds(Attachment, texts, texts, st.binary(max_size=5), texts),
    key=texts,
    replaces=texts,
    urgent=st.booleans(),
    menu=st.none() | st.lists(st.builds(MenuEntry, texts, texts), max_size=2).map(tuple),
    language=texts,
)
contents = st.one_of(
    st.builds(TextSaid, texts, texts),
    st.builds(ButtonPressed, texts, texts),
    st.builds(FileSent, texts, texts, texts, st.integers(0, 10**9), texts),
    st.builds(
        PresenceChanged,
        st.sampled_from(["blocked", "unblocked", "added", "removed", "limited", "moved"]),
        texts,
    ),
)
events = st.builds(
    Incoming,
    platform=texts,
    key=texts,
    address=texts,
    user=texts,
    place=st.sampled_from(["private", "class"]),
    at=st.datetimes(timezones=st.just(UTC)),
    content=contents,
    name=texts,
    language=texts,
)


@given(messages)
def test_a_message_survives_the_outbox(message):
    packed = pack(message)
    assert unpack(packed.body, packed.attachment) == message


@given(events)
def test_an_event_survives_the_inbox(event):
    assert unpack_incoming(pack_incoming(event)) == event


def test_the_bytes_of_a_file_never_enter_the_inbox():
    event = Incoming(
        "x",
        "1",
        "a",
        "u",
        "private",
        datetime(2026, 9, 7, tzinfo=UTC),
        FileSent("h", "n", "t", 3, data=b"abc"),
    )
    assert b"abc" not in repr(pack_incoming(event)).encode()


@pytest.mark.parametrize(
    "error", [SendFailed("lost", ambiguous=True), SendRefused("blocked", unreachable=True), AddressMoved("b")]
)
def test_every_error_of_sending_is_one_of_a_family_and_says_why(error):
    assert isinstance(error, SendError)
    assert str(error)


def test_rich_text_joins_and_reads_plainly():
    assert (Rich.of("Due: ") + Rich.of("today", strong=True)).plain == "Due: today"
    assert Rich.of("") == Rich()
