"""Updates of the Bot API as events of the port: the published shapes, and the ones that have traps."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from telegram import Update

from bot.chat.packing import pack_incoming, unpack_incoming
from bot.chat.port import ButtonPressed, Content, FileSent, Incoming, PresenceChanged, TextSaid
from bot.chat.telegram.incoming import KINDS, translate

NOW = datetime(2026, 11, 25, 17, 0, 30, tzinfo=UTC)
DATE = int(datetime(2026, 11, 25, 17, 0, tzinfo=UTC).timestamp())
MIRA = {"id": 1001, "is_bot": False, "first_name": "Mira", "language_code": "pt-BR"}
BOT = {"id": 123456789, "is_bot": True, "first_name": "Holdfast", "username": "holdfast_test_bot"}
OTHER_BOT = {"id": 5, "is_bot": True, "first_name": "Other", "username": "other_bot"}
PRIVATE = {"id": 1001, "type": "private", "first_name": "Mira"}
GROUP = {"id": -500, "type": "group", "title": "10B"}
SUPERGROUP = {"id": -100777, "type": "supergroup", "title": "10B"}
CHANNEL = {"id": -1001234, "type": "channel", "title": "10B"}


def message(
    chat: dict[str, Any] = PRIVATE, sender: dict[str, Any] | None = MIRA, **rest: Any
) -> dict[str, Any]:
    fields = {"message_id": 7, "date": DATE, "chat": chat, **rest}
    return fields if sender is None else {**fields, "from": sender}


def event(**kind: Any) -> Incoming | None:
    update = Update.de_json({"update_id": 42, **kind}, None)
    return translate(update, NOW, username="holdfast_test_bot")


def content(**kind: Any) -> Content | None:
    got = event(**kind)
    return None if got is None else got.content


def test_a_text_has_key_address_user_place_time_name_and_language() -> None:
    assert event(message=message(text="10 cm")) == Incoming(
        platform="telegram",
        key="42",
        address="1001",
        user="1001",
        place="private",
        at=datetime(2026, 11, 25, 17, 0, tzinfo=UTC),
        content=TextSaid("10 cm"),
        name="Mira",
        language="pt-BR",
    )


def test_a_reply_names_the_message_replied_to() -> None:
    replied = message(sender=BOT, text="Which unit?") | {"message_id": 6}
    assert content(message=message(text="m", reply_to_message=replied)) == TextSaid("m", "6")


@pytest.mark.parametrize(
    ("said", "heard"),
    [
        ("/help", TextSaid("/help")),
        ("/help@holdfast_test_bot", TextSaid("/help")),
        ("/topic@Holdfast_Test_Bot Hooke's law", TextSaid("/topic Hooke's law")),
        ("/help@another_bot", None),
        ("mail me@holdfast_test_bot", TextSaid("mail me@holdfast_test_bot")),
        ("nul \x00 and half \ud83d", TextSaid("nul  and half ")),
    ],
)
def test_commands_for_other_bots_are_not_ours(said: str, heard: Content | None) -> None:
    assert content(message=message(chat=GROUP, text=said)) == heard


def test_a_press_takes_the_time_of_receipt_since_it_has_none() -> None:
    query = {"id": "q1", "from": MIRA, "chat_instance": "c", "data": "a1:q7:1"}
    got = event(callback_query={**query, "message": message(sender=BOT, text="How far?")})
    assert got is not None
    assert (got.content, got.at, got.address) == (ButtonPressed("a1:q7:1", "7"), NOW, "1001")
    old = {"chat": PRIVATE, "message_id": 3, "date": 0}  # InaccessibleMessage: too old to be shown
    assert content(callback_query={**query, "message": old}) == ButtonPressed("a1:q7:1", "3")
    assert event(callback_query=query | {"inline_message_id": "x"}) is None


def test_a_document_is_a_handle_with_what_telegram_says_about_it() -> None:
    document = {
        "file_id": "D1",
        "file_unique_id": "u",
        "file_name": "a.csv",
        "mime_type": "text/csv",
        "file_size": 9,
    }
    sent = message(document=document, caption="scores")
    assert content(message=sent) == FileSent("D1", "a.csv", "text/csv", 9, "scores")
    bare = message(document={"file_id": "D1", "file_unique_id": "u"})
    assert content(message=bare) == FileSent("D1", "file", "application/octet-stream", 0)


def test_of_a_photo_the_largest_size_is_taken() -> None:
    sizes = [
        {"file_id": f"P{w}", "file_unique_id": f"u{w}", "width": w, "height": h, "file_size": w}
        for w, h in ((90, 67), (1280, 960), (320, 240))
    ]
    sent = message(photo=sizes, caption="A spring")
    assert content(message=sent) == FileSent("P1280", "photo.jpg", "image/jpeg", 1280, "A spring")


@pytest.mark.parametrize(
    ("media", "heard"),
    [
        (
            {"voice": {"file_id": "V", "file_unique_id": "u", "duration": 2}},
            FileSent("V", "voice.ogg", "audio/ogg", 0),
        ),
        (
            {
                "sticker": {
                    "file_id": "S",
                    "file_unique_id": "u",
                    "type": "regular",
                    "width": 1,
                    "height": 1,
                    "is_animated": False,
                    "is_video": False,
                    "emoji": "👍",
                }
            },
            TextSaid("👍"),
        ),
        ({"location": {"latitude": 1.0, "longitude": 2.0}}, TextSaid("")),
        ({"contact": {"phone_number": "+1", "first_name": "X"}}, TextSaid("")),
        ({"dice": {"emoji": "🎲", "value": 3}}, TextSaid("")),
        (
            {"video_note": {"file_id": "N", "file_unique_id": "u", "length": 1, "duration": 2}},
            FileSent("N", "video.mp4", "video/mp4", 0),
        ),
        ({"pinned_message": {"message_id": 1, "date": 0, "chat": PRIVATE}}, None),
        ({"new_chat_members": [MIRA]}, None),
    ],
)
def test_what_has_no_words_is_still_answered_in_private(media: dict[str, Any], heard: Content | None) -> None:
    assert content(message=message(**media)) == heard


def test_a_phone_number_or_a_place_is_not_kept() -> None:
    contact = {"phone_number": "+431234567", "first_name": "X"}
    got = event(message=message(contact=contact))
    assert got is not None
    assert "431234567" not in repr(pack_incoming(got))
    assert event(message=message(chat=GROUP, contact=contact)) is None


def test_a_channel_post_without_author_has_no_user() -> None:
    got = event(
        channel_post=message(CHANNEL, None, sender_chat=CHANNEL, text="New topic", author_signature="Ms O.")
    )
    assert got is not None
    assert (got.user, got.place, got.name) == ("", "class", "Ms O.")


@pytest.mark.parametrize(
    "sender",
    [
        # Telegram's pseudo users: telegram.constants.ChatID (Bot API, "User", "sender_chat")
        {"id": 1087968824, "is_bot": True, "first_name": "Group", "username": "GroupAnonymousBot"},
        {"id": 136817688, "is_bot": True, "first_name": "Channel", "username": "Channel_Bot"},
    ],
)
def test_an_anonymous_administrator_is_a_pseudo_user_without_any_role(sender: dict[str, Any]) -> None:
    got = event(message=message(SUPERGROUP, sender, sender_chat=SUPERGROUP, text="New topic: Density"))
    assert got is not None
    assert (got.user, got.content) == (str(sender["id"]), TextSaid("New topic: Density"))


def test_other_bots_and_telegrams_own_copies_of_channel_posts_are_not_heard() -> None:
    assert event(message=message(GROUP, OTHER_BOT, text="spam")) is None
    copy = {"sender_chat": CHANNEL, "is_automatic_forward": True, "text": "New topic: Density"}
    telegram = {"id": 777000, "is_bot": False, "first_name": "Telegram"}
    assert event(message=message(SUPERGROUP, telegram, **copy)) is None


def test_a_group_that_moved_says_where_to() -> None:
    got = event(message=message(GROUP, MIRA, migrate_to_chat_id=-100777))
    assert got is not None
    assert (got.address, got.content) == ("-500", PresenceChanged("moved", "-100777"))


def test_edited_messages_and_unknown_kinds_are_nothing() -> None:
    assert event(edited_message=message(text="corrected") | {"edit_date": DATE}) is None
    assert event() is None
    assert set(KINDS) == {"message", "callback_query", "channel_post", "my_chat_member"}


def member(status: str, **rights: Any) -> dict[str, Any]:
    fields: dict[str, Any] = {"status": status, "user": BOT}
    if status == "kicked":
        fields["until_date"] = 0
    if status == "administrator":
        names = (
            "be_edited manage_chat delete_messages manage_video_chats restrict_members promote_members change_info "
            "invite_users post_stories edit_stories delete_stories"
        )
        fields |= {f"can_{name}": False for name in names.split()} | {"is_anonymous": False}
    if status == "restricted":
        names = (
            "send_messages send_audios send_documents send_photos send_videos send_video_notes send_voice_notes "
            "send_polls send_other_messages add_web_page_previews change_info invite_users pin_messages "
            "manage_topics react_to_messages edit_tag"
        )
        fields |= {f"can_{name}": False for name in names.split()} | {"is_member": True, "until_date": 0}
    return fields | rights


@pytest.mark.parametrize(
    ("chat", "before", "after", "change"),
    [
        (PRIVATE, member("member"), member("kicked"), "blocked"),
        (PRIVATE, member("kicked"), member("member"), "unblocked"),
        (GROUP, member("left"), member("member"), "added"),
        (GROUP, member("member"), member("left"), "removed"),
        (GROUP, member("member"), member("kicked"), "removed"),
        (GROUP, member("kicked"), member("left"), None),
        (GROUP, member("member"), member("administrator"), None),
        (GROUP, member("member"), member("restricted"), "limited"),
        (GROUP, member("restricted"), member("restricted", can_send_messages=True), "added"),
        (GROUP, member("member"), member("restricted", is_member=False), "removed"),
        (CHANNEL, member("left"), member("administrator", can_post_messages=True), "added"),
        (CHANNEL, member("left"), member("administrator", can_post_messages=False), "limited"),
        (CHANNEL, member("administrator", can_post_messages=True), member("left"), "removed"),
    ],
)
def test_membership_becomes_what_we_can_and_cannot_do(
    chat: dict[str, Any], before: dict[str, Any], after: dict[str, Any], change: str | None
) -> None:
    changed = {"chat": chat, "from": MIRA, "date": DATE, "old_chat_member": before, "new_chat_member": after}
    got = event(my_chat_member=changed)
    if change is None:
        assert got is None
    else:
        assert got is not None
        assert (got.content, got.user) == (PresenceChanged(change), "1001")  # type: ignore[arg-type]


def test_times_are_never_in_the_future_and_not_telegrams_while_rehearsing() -> None:
    update = Update.de_json({"update_id": 1, "message": message(text="x") | {"date": DATE + 3600}}, None)
    got = translate(update, NOW)
    assert got is not None
    assert got.at == NOW
    long_ago = NOW - timedelta(days=400)
    rehearsed = translate(update, long_ago, use_dates=False)
    assert rehearsed is not None
    assert rehearsed.at == long_ago


def test_every_event_survives_the_inbox() -> None:
    for kind in (
        {"message": message(text="10 cm")},
        {"channel_post": message(CHANNEL, None, text="New topic")},
        {"message": message(GROUP, MIRA, migrate_to_chat_id=-100777)},
    ):
        got = event(**kind)
        assert got is not None
        assert unpack_incoming(pack_incoming(got)) == got
