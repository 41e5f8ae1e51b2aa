"""The Matrix adapter against a real Synapse, with real matrix-nio clients as students and teacher, encryption on."""

import asyncio
import io
import re
import shutil
import stat
from collections import Counter
from collections.abc import AsyncIterator, Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random
from types import SimpleNamespace
from typing import Any

import pytest
import pytest_asyncio
from aiohttp import ClientConnectionError
from nio import EncryptionError, JoinError, KeysClaimError, MegolmEvent, RoomEncryptedImage, RoomMessageText
from PIL import Image
from pydantic import SecretStr
from sqlmodel import select

from bot.app import build
from bot.chat.matrix import keys
from bot.chat.matrix.adapter import Account, MatrixChat, MemoryRecords, SetupRefused, matrix_from
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
    SendFailed,
    SendRefused,
    TextSaid,
)
from bot.clock import HandClock, WallClock
from bot.service.engine.context import AppContext
from bot.settings import Settings
from bot.words import words
from bot.words.rich import Rich
from storage.base import key_values
from storage.base.database import Session, connect
from storage.school import classes, codes, people
from storage.tables import CodeKind, Enrolment
from tests.servers.matrix_people import Person, eventually, good
from tests.servers.synapse import SECRET, Synapse

pytestmark = [pytest.mark.server, pytest.mark.asyncio(loop_scope="module")]

QUESTION = (
    (Button("8 cm", "student:q7:0", ("a",), "A"), Button("10 cm", "student:q7:1", ("b",), "B")),
    (Button("Not sure", "student:q7:x", ("unsure",)),),
)


def text(words: str, **rest: Any) -> Message:
    return Message(Rich.of(words), **rest)


def png(width: int = 60, height: int = 40) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (width, height), "white").save(out, format="PNG")
    return out.getvalue()


@dataclass
class Running:
    """A running adapter and what it delivered."""

    chat: MatrixChat
    records: MemoryRecords
    folder: Path
    user: str
    url: str
    events: list[Incoming] = field(default_factory=list)
    stop: asyncio.Event = field(default_factory=asyncio.Event)
    storing: Callable[[Incoming], None] = lambda event: None
    task: asyncio.Task[None] | None = None

    async def on_event(self, event: Incoming) -> None:
        self.storing(event)
        self.events.append(event)

    async def start(self) -> None:
        self.task = asyncio.create_task(self.chat.run(self.on_event, self.stop))
        await eventually(lambda: self.chat.heard_at or (self.task and self.task.done()))
        if self.task.done():
            self.task.result()

    async def end(self) -> None:
        self.stop.set()
        if self.task is None:
            return
        async with asyncio.timeout(15):
            await self.task

    async def kill(self) -> None:
        """End it as a killed process ends: nothing more is kept."""
        assert self.task is not None
        self.task.cancel()
        await asyncio.gather(self.task, return_exceptions=True)
        self.task = None

    def again(self) -> "Running":
        """Make the same bot anew, as after a restart of the program."""
        return bot_of(self.url, self.user, self.folder, self.records)

    def contents(self, kind: type | None = None) -> list[Any]:
        chosen = [event.content for event in self.events]
        return [content for content in chosen if kind is None or isinstance(content, kind)]

    def texts(self) -> list[str]:
        return [content.text for content in self.contents(TextSaid)]


def bot_of(url: str, user: str, folder: Path, records: MemoryRecords | None = None, **rest: Any) -> Running:
    records = records or MemoryRecords()
    options: dict[str, Any] = {"first_pause_s": 0.05, "timeout_s": 10.0, "long_poll_s": 5.0} | rest
    chat = MatrixChat(Account(url, user, folder, password=SECRET), records=records, **options)
    return Running(chat, records, folder, user, url)


@pytest_asyncio.fixture(loop_scope="module")
async def bot(homeserver: Synapse, tmp_path: Path) -> AsyncIterator[Running]:
    run = bot_of(homeserver.url, await homeserver.person("holdfast"), tmp_path / "bot")
    await run.start()
    yield run
    await run.end()


@pytest_asyncio.fixture(loop_scope="module", scope="module")
async def mira(homeserver: Synapse, tmp_path_factory: pytest.TempPathFactory) -> AsyncIterator[Person]:
    """A student, the same in all tests: every test has a bot and a chat of its own."""
    folder = tmp_path_factory.mktemp("mira")
    async with Person(homeserver.url, await homeserver.person("mira"), folder) as person:
        yield person


@pytest_asyncio.fixture(loop_scope="module")
async def room(bot: Running, mira: Person) -> str:
    """A private chat that Mira has begun."""
    address = await mira.direct(bot.user)
    await eventually(lambda: "/start" in bot.texts())
    bot.events.clear()
    return address


# ---------------------------------------------------------------- saying and answering


async def test_an_invitation_begins_a_chat_and_what_is_said_arrives(
    bot: Running, mira: Person, room: str
) -> None:
    before = datetime.now(UTC)
    said = await mira.say(room, "10 cm")
    await eventually(lambda: bot.events)
    event = bot.events[0]
    assert event.content == TextSaid("10 cm")
    assert (event.platform, event.key, event.address) == ("matrix", said, room)
    assert (event.user, event.place, event.name) == (
        mira.user,
        "private",
        mira.room(room).user_name(mira.user),
    )
    assert abs((event.at - before).total_seconds()) < 60
    assert bot.chat.name == "matrix"
    assert bot.chat.heard_at is not None
    assert bot.chat.problem == ""


async def test_a_question_is_answered_by_tapping_and_edited_in_place(
    bot: Running, mira: Person, room: str
) -> None:
    question = text("How far does the spring stretch?", buttons=QUESTION)
    reference = await bot.chat.send(room, question, token="e-1")
    await eventually(lambda: len(mira.signs(room, reference)) == 3)
    assert mira.signs(room, reference) == ["🇦", "🇧", "🔑"]
    shown = mira.of(room, RoomMessageText)[-1]
    assert shown.decrypted
    assert shown.body.splitlines()[2:5] == [
        "A\u20028 cm",
        "B\u200210 cm",
        "🔑\u2002Not sure (or type: unsure)",
    ]
    # The database does not know the message yet: its meaning is read from the message itself.
    await mira.tap(room, reference, "🇧")
    await eventually(lambda: bot.events)
    assert bot.events[0].content == ButtonPressed("student:q7:1", reference)
    bot.records.messages[room, reference] = question
    await mira.tap(room, reference, "🔑\ufe0f")  # as a client that adds invisible marks
    await eventually(lambda: len(bot.events) == 2)
    assert bot.events[1].content == ButtonPressed("student:q7:x", reference)
    more = ((Button("Why?", "student:why", ("why",)),),)
    answer = Message(Rich.of("Right: 10 cm.", strong=True), buttons=more, key="q7", replaces="q7")
    assert await bot.chat.send(room, answer, token="e-2", edits=reference) == reference
    await eventually(lambda: mira.signs(room, reference) == ["🐟"])
    edit = mira.of(room, RoomMessageText)[-1].source["content"]
    assert edit["m.relates_to"] == {"rel_type": "m.replace", "event_id": reference}
    assert edit["m.new_content"]["formatted_body"].startswith("<strong>Right: 10 cm.</strong>")
    bot.records.messages[room, reference] = answer
    await mira.tap(room, reference, "🇦")  # means nothing any more
    await mira.tap(room, reference, "👍")
    await mira.tap(room, reference, "🐟")
    await eventually(lambda: len(bot.events) == 3)
    assert bot.events[2].content == ButtonPressed("student:why", reference)


async def test_a_tap_means_what_is_shown_though_the_database_does_not_know_the_edit_yet(
    bot: Running, mira: Person, room: str
) -> None:
    first = text("When?", buttons=((Button("Today", "student:today"),),), key="n1", replaces="n1")
    reference = await bot.chat.send(room, first, token="e-1")
    bot.records.messages[room, reference] = first
    then = text("Sure?", buttons=((Button("Yes", "student:yes"), Button("No", "student:no")),), replaces="n1")
    await bot.chat.send(room, then, token="e-2", edits=reference)
    await mira.tap(room, reference, "🔔")
    await mira.tap(room, reference, "🐟")
    await eventually(lambda: len(bot.events) == 2)
    assert bot.contents() == [ButtonPressed("student:no", reference), ButtonPressed("student:yes", reference)]


async def test_a_reply_names_the_message_that_send_returned(bot: Running, mira: Person, room: str) -> None:
    reference = await bot.chat.send(room, text("Which unit?"), token="e-1")
    await mira.say(room, "> <@bot> Which unit?\n\ng/cm³", reply_to=reference)
    await eventually(lambda: bot.events)
    assert bot.events[0].content == TextSaid("g/cm³", reference)


async def test_the_same_token_twice_is_one_message(bot: Running, mira: Person, room: str) -> None:
    first = await bot.chat.send(room, text("Once"), token="e-7")
    assert await bot.chat.send(room, text("Once"), token="e-7") == first
    await bot.chat.send(room, text("Then"), token="e-8")
    await eventually(lambda: "Then" in mira.bodies(room))
    assert mira.bodies(room) == ["Once", "Then"]


async def test_files_travel_encrypted_both_ways(bot: Running, mira: Person, room: str) -> None:
    sheet = b"name,mark\nMira,7\n" * 2000
    await mira.upload(room, "scores.csv", "text/csv", sheet, "the marks")
    await eventually(lambda: bot.contents(FileSent))
    sent = bot.contents(FileSent)[0]
    assert (sent.name, sent.media_type, sent.size_bytes, sent.caption) == (
        "scores.csv",
        "text/csv",
        len(sheet),
        "the marks",
    )
    assert await bot.chat.fetch(sent.handle) == sheet
    picture = Attachment("progress.png", "image/png", png(), "7 of 10 right")
    await bot.chat.send(room, text("Your week", attachment=picture), token="e-1")
    await eventually(lambda: mira.bodies(room)[-1:] == ["Your week"])
    shown = mira.of(room, RoomEncryptedImage)[0]
    assert shown.body == "7 of 10 right"
    assert (
        shown.source["content"]["info"] | {"w": 60, "h": 40, "mimetype": "image/png"}
        == shown.source["content"]["info"]
    )
    stored = await mira.client.download(shown.url)
    assert picture.data not in stored.body
    from nio.crypto import decrypt_attachment

    assert decrypt_attachment(stored.body, shown.key["k"], shown.hashes["sha256"], shown.iv) == picture.data


async def test_a_formula_comes_as_a_picture_that_can_be_read_aloud(
    bot: Running, mira: Person, room: str
) -> None:
    reference = await bot.chat.send(room, text(r"Find $\frac{a+b}{2}$", buttons=QUESTION), token="e-1")
    await eventually(lambda: len(mira.signs(room, reference)) == 3)
    assert mira.bodies(room)[0] == "(a+b)/2"
    assert mira.bodies(room)[1].startswith("Find (a+b)/2\n")
    assert len(mira.of(room, RoomEncryptedImage)) == 1


async def test_a_bad_reference_of_a_file_is_refused(bot: Running) -> None:
    for handle in ("", "[]", '["https://example/x"]', '["mxc://localhost/../x"]', "{"):
        with pytest.raises(SendRefused):
            await bot.chat.fetch(handle)
    with pytest.raises(SendRefused) as refused:
        await bot.chat.fetch('["mxc://localhost/nothing"]')
    assert refused.value.unreachable


async def test_a_menu_alone_is_nothing_and_an_empty_message_is_refused(bot: Running, room: str) -> None:
    assert (
        await bot.chat.send(room, Message(Rich(), menu=(MenuEntry("help", "what I can do"),)), token="1")
        == ""
    )
    with pytest.raises(SendRefused):
        await bot.chat.send(room, Message(Rich()), token="2")


# ---------------------------------------------------------------- rooms


async def test_the_bot_makes_an_encrypted_chat_itself_and_says_where(bot: Running, mira: Person) -> None:
    with pytest.raises(AddressMoved) as moved:
        await bot.chat.send(mira.user, text("Hello"), token="e-1")
    address = moved.value.new_address
    await eventually(lambda: bot.contents(PresenceChanged))
    assert bot.contents(PresenceChanged) == [PresenceChanged("unblocked")]
    with pytest.raises(AddressMoved) as again:
        await bot.chat.send(mira.user, text("Hello"), token="e-1")
    assert again.value.new_address == address
    await bot.chat.send(address, text("Hello"), token="e-1")
    await eventually(lambda: mira.bodies(address) == ["Hello"])
    assert mira.room(address).encrypted
    assert mira.of(address, RoomMessageText)[0].decrypted


async def test_leaving_the_chat_counts_as_blocking_and_a_new_one_as_coming_back(
    bot: Running, mira: Person, room: str
) -> None:
    good(await mira.client.room_leave(room))
    await eventually(lambda: bot.events)
    assert bot.events[0].content == PresenceChanged("blocked")
    assert (bot.events[0].address, bot.events[0].user) == (room, mira.user)
    await eventually(lambda: room not in bot.chat._client.rooms)
    with pytest.raises(SendRefused) as refused:
        await bot.chat.send(room, text("Hello?"), token="e-1")
    assert refused.value.unreachable
    anew = await mira.direct(bot.user)
    await eventually(lambda: bot.texts() == ["/start"])
    assert bot.events[-1].address == anew


async def test_a_stranger_is_declined_politely(homeserver: Synapse, tmp_path: Path, mira: Person) -> None:
    run = bot_of(homeserver.url, await homeserver.person("holdfast"), tmp_path / "bot")
    # This homeserver knows only people of its own: so the bot is told that it serves another one.
    run.chat._rooms._servers = frozenset({"school.example"})
    await run.start()
    room = await mira.direct(run.user)
    await eventually(lambda: mira.membership(room, run.user) == "leave")
    assert mira.reason(room, run.user) == words("en").text("matrix.declined")
    assert run.events == []
    run.records.known.add(mira.user)
    welcome = await mira.direct(run.user)
    await eventually(lambda: run.texts() == ["/start"])
    assert run.events[-1].address == welcome
    await run.end()


async def test_a_class_room_is_a_class_place_and_other_groups_are_left(
    homeserver: Synapse, tmp_path: Path, bot: Running, mira: Person
) -> None:
    async with Person(homeserver.url, await homeserver.person("okafor"), tmp_path / "okafor") as teacher:
        bot.records.teachers.add(teacher.user)
        place = await teacher.group("10B Physics", mira.user, bot.user)
        await eventually(lambda: bot.contents(PresenceChanged))
        added = bot.events[0]
        assert (added.content, added.place, added.user) == (PresenceChanged("added"), "class", teacher.user)
        bot.events.clear()
        bot.records.class_rooms.add(place)
        await eventually(lambda: mira.user in teacher.room(place).users)
        await eventually(lambda: bot.user not in teacher.room(place).invited_users)
        await teacher.say(place, "New topic: Hooke's law")
        await eventually(lambda: bot.events)
        post = bot.events[0]
        assert (post.content, post.place, post.user) == (
            TextSaid("New topic: Hooke's law"),
            "class",
            teacher.user,
        )
        assert bot.chat.is_group(place)
        await bot.chat.send(place, text("7 of 9 answered. @room"), token="e-1")
        await eventually(lambda: mira.bodies(place)[-1:] == ["7 of 9 answered. @\u2060room"])
        good(await teacher.client.room_kick(place, bot.user))
        await eventually(lambda: bot.contents(PresenceChanged))
        assert (bot.events[-1].content, bot.events[-1].place) == (PresenceChanged("removed"), "class")
        # A group of students, where no teacher is, is no place for the bot.
        group = await mira.group("study group", bot.user, teacher.user)
        bot.records.teachers.clear()
        await eventually(lambda: mira.membership(group, bot.user) == "leave")
        assert mira.reason(group, bot.user) == words("en").text("matrix.too_many")


async def test_a_right_lost_is_told_and_a_room_that_moves_is_followed(
    homeserver: Synapse, tmp_path: Path, bot: Running
) -> None:
    async with Person(homeserver.url, await homeserver.person("okafor"), tmp_path / "okafor") as teacher:
        bot.records.teachers.add(teacher.user)
        place = await teacher.group("10B Physics", bot.user)
        await eventually(lambda: bot.contents() == [PresenceChanged("added")])
        assert bot.events[0].place == "class"  # named by a teacher, though there are only two people
        bot.records.class_rooms.add(place)
        levels = (await teacher.client.room_get_state_event(place, "m.room.power_levels")).content
        for needed in (50, 0):
            await teacher.client.room_put_state(
                place, "m.room.power_levels", levels | {"events_default": needed}
            )
        await eventually(lambda: len(bot.events) == 3)
        assert bot.contents()[1:] == [PresenceChanged("limited"), PresenceChanged("added")]
        path = f"/_matrix/client/v3/rooms/{place}/upgrade"
        moved = await homeserver.call("POST", path, {"new_version": "11"}, teacher.client.access_token)
        good(await teacher.client.room_invite(moved["replacement_room"], bot.user))
        await eventually(lambda: len(bot.events) == 4)
        assert bot.events[3].content == PresenceChanged("moved", moved["replacement_room"])
        assert (bot.events[3].address, bot.events[3].place) == (place, "class")
        await bot.chat.send(moved["replacement_room"], text("Here now"), token="e-1")


async def test_the_bot_leaves_a_private_chat_when_a_third_person_comes(
    homeserver: Synapse, bot: Running, mira: Person, room: str
) -> None:
    other = await homeserver.person("jonas")
    good(await mira.client.room_invite(room, other))
    await eventually(lambda: mira.membership(room, bot.user) == "leave")
    assert bot.contents() == [PresenceChanged("blocked")]
    assert bot.events[0].address == room


async def test_a_teachers_private_chat_stays_one_though_it_has_a_name_and_is_left_when_others_come(
    homeserver: Synapse, tmp_path: Path, bot: Running, mira: Person
) -> None:
    async with Person(homeserver.url, await homeserver.person("okafor"), tmp_path / "okafor") as teacher:
        room = await teacher.group("Holdfast", bot.user)  # as a client makes it that asks for a name
        await eventually(lambda: bot.texts() == ["/start"])
        bot.records.private_chats.add(room)  # the program keeps where it talks with her
        bot.records.teachers.add(teacher.user)  # and she sends the code for teachers
        await teacher.say(room, "timetable")
        await eventually(lambda: len(bot.events) == 2)
        assert bot.events[-1].place == "private"
        good(await teacher.client.room_invite(room, mira.user))
        await eventually(lambda: teacher.membership(room, bot.user) == "leave")
        assert bot.events[-1].content == PresenceChanged("blocked")
        assert (bot.events[-1].address, bot.events[-1].place) == (room, "private")


async def test_an_unencrypted_chat_is_made_an_encrypted_one(bot: Running, mira: Person) -> None:
    room = await mira.direct(bot.user, encrypted=False)
    await eventually(lambda: "/start" in bot.texts())
    # Mira's room gives the bot no right to do so: both go on in the open until she turns it on.
    reference = await bot.chat.send(room, text("Hello"), token="e-1")
    await eventually(lambda: mira.bodies(room) == ["Hello"])
    assert not mira.of(room, RoomMessageText)[0].decrypted
    await mira.client.room_put_state(room, "m.room.encryption", {"algorithm": "m.megolm.v1.aes-sha2"})
    await eventually(lambda: bot.chat._client.rooms[room].encrypted and mira.room(room).encrypted)
    await bot.chat.send(room, text("Now in private"), token="e-2", edits=reference)
    await eventually(lambda: len(mira.of(room, RoomMessageText)) == 2)
    assert mira.of(room, RoomMessageText)[1].decrypted
    await mira.say(room, "thanks")
    await eventually(lambda: bot.texts()[-1] == "thanks")


# ---------------------------------------------------------------- nothing is lost


async def test_messages_sent_while_the_bot_was_away_all_arrive_in_order(
    bot: Running, mira: Person, room: str
) -> None:
    await mira.say(room, "before")
    await eventually(lambda: bot.texts() == ["before"])
    await bot.end()
    said = [f"answer {number}" for number in range(35)]
    for one in said:
        await mira.say(room, one)
    again = bot.again()
    await again.start()
    await eventually(lambda: len(again.events) >= len(said))
    assert again.texts() == said
    await again.end()


async def test_a_crash_before_the_place_was_kept_repeats_events_and_loses_none(
    bot: Running, mira: Person, room: str
) -> None:
    crashed = asyncio.Event()

    async def crash(event: Incoming) -> None:
        bot.events.append(event)
        crashed.set()
        await asyncio.Event().wait()  # stored, but the program never comes to keeping its place

    bot.on_event = crash  # type: ignore[method-assign]
    bot.chat._on_event = crash
    await mira.say(room, "one")
    await mira.say(room, "two")
    await crashed.wait()
    await bot.kill()
    await mira.say(room, "three")
    again = bot.again()
    await again.start()
    await eventually(lambda: len(again.events) >= 3)
    assert again.texts() == ["one", "two", "three"]
    assert again.events[0].key == bot.events[0].key
    assert "two" not in bot.texts()
    await again.end()


async def test_an_event_that_could_not_be_stored_is_tried_again_before_the_next(
    bot: Running, mira: Person, room: str
) -> None:
    failures = [OSError("disk full"), OSError("disk full")]

    def storing(event: Incoming) -> None:
        if failures:
            raise failures.pop()

    bot.storing = storing
    await mira.say(room, "first")
    await mira.say(room, "second")
    await eventually(lambda: len(bot.events) == 2)
    assert bot.texts() == ["first", "second"]


def nobody_answers() -> JoinError:
    raise TimeoutError


def bad_gateway() -> JoinError:
    error = JoinError("", "M_UNKNOWN")
    error.transport_response = SimpleNamespace(status=502)
    return error


@pytest.mark.parametrize("refuse", [nobody_answers, bad_gateway])
async def test_one_room_for_which_the_homeserver_fails_does_not_hold_up_all_others(
    bot: Running,
    mira: Person,
    room: str,
    monkeypatch: pytest.MonkeyPatch,
    refuse: Callable[[], JoinError],
) -> None:
    tries = Counter[str]()

    async def join(address: str) -> JoinError:
        tries[address] += 1
        return refuse()

    monkeypatch.setattr(bot.chat._client, "join", join)
    moved = {"body": "moved", "replacement_room": "!next:dead.example"}
    good(await mira.client.room_put_state(room, "m.room.tombstone", moved))
    await mira.say(room, "hello")
    await eventually(lambda: bot.texts() == ["hello"])
    assert tries["!next:dead.example"] > 1
    await eventually(lambda: bot.chat.problem == "")


async def test_an_invitation_that_came_while_the_bot_was_away_is_taken_at_the_start(
    bot: Running, mira: Person
) -> None:
    await bot.end()
    room = await mira.direct(bot.user)
    again = bot.again()
    await again.start()
    await eventually(lambda: "/start" in again.texts())
    assert again.events[-1].address == room
    await again.chat.send(room, text("Welcome"), token="e-1")
    await eventually(lambda: mira.bodies(room) == ["Welcome"])
    await again.end()


async def test_the_very_first_start_does_not_answer_old_messages(
    homeserver: Synapse, bot: Running, mira: Person, room: str
) -> None:
    await mira.say(room, "long ago")
    await eventually(lambda: bot.events)
    await bot.end()
    again = bot.again()
    again.records.kept.clear()
    await again.start()
    await mira.say(room, "now")
    await eventually(lambda: again.events)
    assert again.texts() == ["now"]
    await again.end()


async def test_a_tap_that_is_taken_back_before_it_was_handled_counts_for_nothing(
    bot: Running, mira: Person, room: str
) -> None:
    reference = await bot.chat.send(room, text("How far?", buttons=QUESTION), token="e-1")
    await bot.end()
    first = await mira.tap(room, reference, "🇦")
    good(await mira.client.room_redact(room, first))
    await mira.tap(room, reference, "🇧")
    again = bot.again()
    await again.start()
    await eventually(lambda: again.events)
    assert again.contents() == [ButtonPressed("student:q7:1", reference)]
    await again.end()


async def test_a_homeserver_that_restarts_is_found_again(
    homeserver: Synapse, bot: Running, mira: Person, room: str
) -> None:
    await asyncio.to_thread(homeserver.stop, hard=True)
    await eventually(lambda: bot.chat.problem)
    assert "no events" in bot.chat.problem
    with pytest.raises(SendFailed) as failed:
        await bot.chat.send(room, text("Anybody?"), token="e-1")
    assert failed.value.whole_platform
    assert failed.value.retry_after_s, "it is waited for, and no message given up"
    assert not failed.value.ambiguous
    await asyncio.to_thread(homeserver.start)
    await eventually(lambda: bot.chat.problem == "", 60)  # pauses grow with the time that it was away
    await bot.chat.send(room, text("Anybody?"), token="e-1")
    await eventually(lambda: mira.bodies(room) == ["Anybody?"])
    await mira.say(room, "yes")
    await eventually(lambda: bot.texts() == ["yes"])


async def test_a_connection_cut_in_the_middle_is_tried_again_without_a_second_message(
    bot: Running, mira: Person, room: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    client, real, cuts = bot.chat._client, bot.chat._client.send, list[str]()

    async def cut(method: str, path: str, *rest: Any, **more: Any) -> Any:
        answer = await real(method, path, *rest, **more)
        if "/send/m.room.encrypted/" in path and not cuts:
            cuts.append(path)
            answer.close()
            raise ClientConnectionError("cut after it was taken")
        return answer

    monkeypatch.setattr(client, "send", cut)
    with pytest.raises(SendFailed) as failed:
        await bot.chat.send(room, text("Once", buttons=QUESTION), token="e-1")
    assert not failed.value.ambiguous
    reference = await bot.chat.send(room, text("Once", buttons=QUESTION), token="e-1")
    await eventually(lambda: len(mira.signs(room, reference)) == 3)
    assert len(mira.bodies(room)) == 1
    assert cuts


async def test_with_every_tenth_request_failing_all_is_said_and_heard_once(
    bot: Running, mira: Person, room: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    real, chance, faults = bot.chat._client.send, Random(7), Counter[str]()

    async def faulty(*rest: Any, **more: Any) -> Any:
        fate = chance.random()
        if fate < 0.05:
            faults["cut before"] += 1
            raise ClientConnectionError("cut before it was sent")
        answer = await real(*rest, **more)
        if fate < 0.1:
            faults["cut after"] += 1
            answer.close()
            raise ClientConnectionError("cut after it was taken")
        return answer

    monkeypatch.setattr(bot.chat._client, "send", faulty)

    async def say() -> None:
        for number in range(20):
            await mira.say(room, f"answer {number}")

    async def ask() -> None:
        for number in range(20):
            await until_sent(bot, room, text(f"question {number}", buttons=QUESTION[1:]), f"e-{number}")

    await asyncio.gather(say(), ask())
    await eventually(lambda: len({event.key for event in bot.events}) == 20, 30)
    await eventually(lambda: len(mira.bodies(room)) == 20, 30)
    assert list(dict.fromkeys(bot.texts())) == [f"answer {number}" for number in range(20)]
    assert [body.splitlines()[0] for body in mira.bodies(room)] == [
        f"question {number}" for number in range(20)
    ]
    print(f"faults: {dict(faults)}, repeated events: {len(bot.events) - 20}")  # noqa: T201 - the counts of the drill
    assert min(faults.values()) > 0


async def until_sent(bot: Running, room: str, message: Message, token: str) -> str:
    """Send as the outbox does: again with the same token until it is through."""
    failures: list[SendFailed] = []
    reference = None
    while reference is None:
        try:
            reference = await bot.chat.send(room, message, token=token)
        except SendFailed as failed:
            failures.append(failed)
    assert not any(failed.ambiguous for failed in failures)
    return reference


async def test_a_failed_claim_of_keys_does_not_stop_the_room_for_ever(
    bot: Running, mira: Person, room: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    client, real = bot.chat._client, bot.chat._client.keys_claim
    failures = [ClientConnectionError("cut")]

    async def claim(*rest: Any) -> Any:
        if failures:
            raise failures.pop()
        return await real(*rest)

    monkeypatch.setattr(client, "keys_claim", claim)
    monkeypatch.setattr(client, "get_missing_sessions", lambda room: {mira.user: ["PHONE"]})
    with pytest.raises(SendFailed):
        await bot.chat.send(room, text("Hello"), token="e-1")
    assert not failures
    async with asyncio.timeout(10):
        await bot.chat.send(room, text("Hello"), token="e-1")
    await eventually(lambda: mira.bodies(room) == ["Hello"])


async def test_nothing_is_said_before_its_key_has_reached_everybody(
    bot: Running, mira: Person, room: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    client, real, cut = bot.chat._client, bot.chat._client.send, list[str]()

    async def faulty(method: str, path: str, *rest: Any, **more: Any) -> Any:
        if "/sendToDevice/m.room.encrypted/" in path and not cut:
            cut.append(path)
            raise ClientConnectionError("cut before it was sent")
        return await real(method, path, *rest, **more)

    monkeypatch.setattr(client, "send", faulty)
    with pytest.raises(SendFailed):
        await bot.chat.send(room, text("Hello"), token="e-1")
    assert cut
    await bot.chat.send(room, text("Hello"), token="e-1")
    await eventually(lambda: mira.bodies_readable(room) == ["Hello"])
    assert not mira.of(room, MegolmEvent), "something could not be read"


async def test_a_refused_claim_of_keys_fails_the_message_and_not_its_reader(
    bot: Running, mira: Person, room: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    client, real = bot.chat._client, bot.chat._client.keys_claim
    refusals = [KeysClaimError("slowly", "M_LIMIT_EXCEEDED", 1000)]

    async def claim(*rest: Any) -> Any:
        return refusals.pop() if refusals else await real(*rest)

    monkeypatch.setattr(client, "keys_claim", claim)
    with pytest.raises(SendFailed) as failed:
        await bot.chat.send(room, text("Hello"), token="e-1")
    assert failed.value.retry_after_s == 1.0
    await bot.chat.send(room, text("Hello"), token="e-1")
    await eventually(lambda: mira.bodies_readable(room) == ["Hello"])
    assert not mira.of(room, MegolmEvent), "something could not be read"


async def test_a_rate_limit_is_obeyed_and_the_message_comes_once(
    homeserver: Synapse, tmp_path: Path, mira: Person
) -> None:
    limited = bot_of(homeserver.url, await homeserver.person("holdfast", limited=True), tmp_path / "bot")
    await limited.start()
    room = await mira.direct(limited.user)
    await eventually(lambda: "/start" in limited.texts())
    waited = None
    for number in range(30):
        try:
            await limited.chat.send(room, text(f"{number}"), token=f"e-{number}")
        except SendFailed as failed:
            waited = failed
            break
    assert waited is not None
    assert waited.whole_platform
    assert waited.retry_after_s is not None
    assert 0 < waited.retry_after_s < 30
    free = {"messages_per_second": 0, "burst_count": 0}
    await homeserver.admin("POST", f"/_synapse/admin/v1/users/{limited.user}/override_ratelimit", free)
    await limited.chat.send(room, text(f"{number}"), token=f"e-{number}")
    await eventually(lambda: f"{number}" in mira.bodies(room))
    assert mira.bodies(room) == [f"{n}" for n in range(number + 1)]
    await limited.end()


# ---------------------------------------------------------------- keys and devices


async def test_a_new_device_of_a_student_reads_what_comes_after(
    homeserver: Synapse, tmp_path: Path, bot: Running, mira: Person, room: str
) -> None:
    await bot.chat.send(room, text("Before"), token="e-1")
    await eventually(lambda: mira.bodies(room) == ["Before"])
    async with Person(homeserver.url, mira.user, tmp_path / "tablet", "TABLET") as tablet:
        await eventually(lambda: "TABLET" in bot.chat._client.device_store[mira.user])
        await bot.chat.send(room, text("After"), token="e-2")
        await eventually(lambda: "After" in tablet.bodies_readable(room))
        await eventually(lambda: mira.bodies_readable(room) == ["Before", "After"])
        await tablet.say(room, "from my tablet")
        await eventually(lambda: bot.texts() == ["from my tablet"])


async def test_an_answer_waits_until_it_is_known_which_devices_there_are(
    homeserver: Synapse,
    tmp_path: Path,
    bot: Running,
    mira: Person,
    room: str,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    await bot.chat.send(room, text("Before"), token="e-1")

    async def later(client: object) -> None:
        """Exchange no keys: an answer may leave before the listener comes to that."""

    monkeypatch.setattr(keys, "exchange", later)
    async with Person(homeserver.url, mira.user, tmp_path / "laptop", "LAPTOP") as laptop:
        await eventually(lambda: mira.user in bot.chat._client.olm.users_for_key_query)
        await bot.chat.send(room, text("After"), token="e-2")
        await eventually(lambda: "After" in laptop.bodies_readable(room))


async def test_the_device_is_cross_signed_and_its_folder_is_closed(
    bot: Running, mira: Person, room: str
) -> None:
    assert bot.chat.note == ""
    known = await mira.query(bot.user)
    device = known["device_keys"][bot.user][bot.chat._client.device_id]
    assert device["keys"][f"ed25519:{bot.chat._client.device_id}"] == bot.chat.fingerprint
    signer = next(iter(known["self_signing_keys"][bot.user]["keys"]))
    master = next(iter(known["master_keys"][bot.user]["keys"]))
    assert verified(device, bot.user, signer)
    assert verified(known["self_signing_keys"][bot.user], bot.user, master)
    assert stat.S_IMODE(bot.folder.stat().st_mode) == 0o700
    assert {stat.S_IMODE(file.stat().st_mode) for file in bot.folder.iterdir()} == {0o600}


async def test_a_homeserver_that_knows_no_signing_does_not_keep_the_bot_from_starting(
    homeserver: Synapse, tmp_path: Path, mira: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    run = bot_of(homeserver.url, await homeserver.person("holdfast"), tmp_path / "bot")
    real = run.chat._client.send

    async def other(method: str, path: str, *rest: Any, **more: Any) -> Any:
        return await real(method, path.replace("/keys/signatures/", "/keys/unheard-of/"), *rest, **more)

    monkeypatch.setattr(run.chat._client, "send", other)
    await run.start()
    assert "refuses to sign the bot's device (M_UNRECOGNIZED" in run.chat.note
    await mira.direct(run.user)
    await eventually(lambda: run.texts() == ["/start"])
    await run.end()


async def test_a_token_that_is_revoked_during_the_start_stops_the_adapter(
    homeserver: Synapse, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    run = bot_of(homeserver.url, await homeserver.person("holdfast"), tmp_path / "bot")
    real = run.chat._client.send

    async def revoked(method: str, path: str, data: Any, headers: dict[str, str], *rest: Any) -> Any:
        if "/keys/signatures/" in path:
            headers = headers | {"Authorization": "Bearer another"}
        return await real(method, path, data, headers, *rest)

    monkeypatch.setattr(run.chat._client, "send", revoked)
    with pytest.raises(SetupRefused, match="has ended the bot's session"):
        async with asyncio.timeout(15):
            await run.chat.run(nothing, asyncio.Event())


async def test_damaged_signing_keys_are_told_and_do_not_keep_the_bot_from_starting(bot: Running) -> None:
    await bot.end()
    (bot.folder / "signing.json").write_text("{")
    again = bot.again()
    await again.start()
    assert "signing.json" in again.chat.note
    await again.end()


def verified(thing: dict[str, Any], user: str, name: str) -> bool:
    """Check a signature as any client does (specification, "Signing JSON")."""
    import base64
    import json

    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    def raw(words: str) -> bytes:
        return base64.b64decode(words + "=" * (-len(words) % 4))

    bare = {key: value for key, value in thing.items() if key not in ("signatures", "unsigned")}
    signed = json.dumps(bare, ensure_ascii=False, separators=(",", ":"), sort_keys=True).encode()
    key = Ed25519PublicKey.from_public_bytes(raw(name.removeprefix("ed25519:")))
    key.verify(raw(thing["signatures"][user][name]), signed)
    return True


async def test_a_restart_is_the_same_device_and_logs_in_no_second_time(
    homeserver: Synapse, bot: Running, mira: Person, room: str
) -> None:
    await bot.end()
    again = bot.again()
    again.chat._account = Account(bot.url, bot.user, bot.folder)  # no password: the kept token is enough
    await again.start()
    assert again.chat.fingerprint == bot.chat.fingerprint
    devices = await homeserver.admin("GET", f"/_synapse/admin/v2/users/{bot.user}/devices")
    ours = [d["device_id"] for d in devices["devices"] if d["device_id"].startswith("HOLDFAST")]
    assert ours == [again.chat._client.device_id]
    assert again.chat.note == ""
    await again.chat.send(room, text("Still me"), token="e-1")
    await eventually(lambda: mira.bodies_readable(room) == ["Still me"])
    await again.end()


async def taken(mira: Person, user: str) -> None:
    """Take a few one-time keys of somebody's device and begin to write to them; both their homeserver tells them."""
    device = next(iter((await mira.query(user))["device_keys"][user]))
    for _ in range(3):
        good(await mira.client.keys_claim({user: [device]}))
    await mira.direct(user)


async def test_keys_are_kept_before_the_homeserver_gets_them(
    bot: Running, mira: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    client, real, accepted = bot.chat._client, bot.chat._client.send, asyncio.Event()

    async def accept(method: str, path: str, *rest: Any, **more: Any) -> Any:
        answer = await real(method, path, *rest, **more)
        if path.endswith("/keys/upload"):
            answer.close()
            accepted.set()
            await asyncio.Event().wait()  # the program never comes to noting that they were taken
        return answer

    monkeypatch.setattr(client, "send", accept)
    await taken(mira, bot.user)
    async with asyncio.timeout(15):
        await accepted.wait()
    await bot.kill()
    again = bot.again()
    await again.start()
    await taken(mira, bot.user)
    olm = again.chat._client.olm
    await eventually(lambda: olm.uploaded_key_count == olm.account.max_one_time_keys)
    await again.end()


async def test_with_an_old_copy_of_the_keys_there_are_new_ones_in_the_end(
    bot: Running, mira: Person, tmp_path: Path
) -> None:
    shutil.copytree(bot.folder, tmp_path / "copy")
    await taken(mira, bot.user)
    await eventually(lambda: bot.contents(TextSaid))
    await bot.end()
    shutil.rmtree(bot.folder)
    shutil.move(tmp_path / "copy", bot.folder)
    again = bot.again()
    await again.start()
    olm = again.chat._client.olm
    await taken(mira, bot.user)
    await eventually(lambda: again.contents(TextSaid))
    await mira.direct(bot.user)  # names that are taken are given up, and others tried at the next event
    await eventually(lambda: olm.uploaded_key_count == olm.account.max_one_time_keys)
    await again.end()


async def test_an_adapter_can_be_run_again(bot: Running, mira: Person, room: str) -> None:
    assert (bot.chat.capabilities.receives_alone, bot.chat.capabilities.sends_alone) == (True, True)
    await bot.end()
    await mira.say(room, "meanwhile")
    fingerprint, bot.stop = bot.chat.fingerprint, asyncio.Event()
    await bot.start()
    await eventually(lambda: bot.texts() == ["meanwhile"])
    assert bot.chat.fingerprint == fingerprint
    await bot.chat.send(room, text("Back again"), token="e-1")
    await eventually(lambda: mira.bodies_readable(room) == ["Back again"])


async def test_the_last_messages_leave_after_receiving_has_ended(
    bot: Running, mira: Person, room: str
) -> None:
    await bot.end()
    await bot.chat.send(room, text("Goodbye"), token="e-1")
    await eventually(lambda: mira.bodies_readable(room) == ["Goodbye"])


async def test_a_message_whose_key_never_comes_is_told_and_what_was_waited_for_is_not_lost(
    homeserver: Synapse, tmp_path: Path, mira: Person
) -> None:
    run = bot_of(homeserver.url, await homeserver.person("holdfast"), tmp_path / "bot", wait_for_key_s=1.0)
    await run.start()
    room = await mira.direct(run.user)
    await eventually(lambda: "/start" in run.texts())
    await mira.say(room, "readable")
    await eventually(lambda: "readable" in run.texts())
    mira.forget_to_share(room)
    await mira.say(room, "sealed")
    await eventually(lambda: run.chat._listener._sealed)
    held, places = dict(run.records.kept), list[dict[str, str]]()
    run.storing = lambda event: places.append(dict(run.records.kept))
    await eventually(lambda: run.texts()[-1] == "")
    assert places == [held]  # the place is not kept while something is waited for
    await eventually(lambda: run.records.kept != held)
    await run.end()


async def test_a_message_that_came_before_its_key_is_read_once_the_key_is_there(
    bot: Running, mira: Person, room: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    olm = bot.chat._client.olm
    monkeypatch.setattr(olm, "_decrypt_megolm_no_error", lambda *_: None)
    monkeypatch.setattr(bot.chat._client, "decrypt_event", no_key)
    await mira.say(room, "10 cm")
    await eventually(lambda: bot.chat._listener._sealed)
    monkeypatch.undo()
    await mira.say(room, "and more")  # whatever comes next, the former is tried again before it
    await eventually(lambda: len(bot.events) == 2)
    assert bot.texts() == ["10 cm", "and more"]
    await eventually(lambda: not bot.chat._listener._sealed)


def no_key(event: object) -> None:
    """Decrypt nothing."""
    raise EncryptionError("no key")


# ---------------------------------------------------------------- the whole program


async def test_a_student_joins_a_class_by_saying_its_code_and_tapping(
    homeserver: Synapse, tmp_path: Path, sqlite_url: str, mira: Person
) -> None:
    db, stop = connect(sqlite_url), asyncio.Event()
    user = await homeserver.person("holdfast")
    chat = MatrixChat(Account(homeserver.url, user, tmp_path / "bot", password=SECRET))
    chat.attach(db)
    app = build(db, WallClock(), [chat], AppContext(zone="Europe/London"))
    running = asyncio.create_task(app.run(stop))
    code = await db.run(a_class)
    room = await mira.direct(user)
    await eventually(lambda: mira.bodies_readable(room))  # it says who it is
    await mira.say(room, code)
    await eventually(lambda: any("10B Physics" in words for words in mira.bodies_readable(room)))
    tapped: set[str] = set()
    for _ in range(
        6
    ):  # whatever is asked before one belongs to a class is agreed to by tapping the first sign
        if await db.read(members):
            break
        await agree(mira, room, tapped)
    assert await db.read(members) == 1
    stop.set()
    async with asyncio.timeout(20):
        await running
    assert await db.read(key_values.get, chat._listener.key_value)
    db.close()


async def agree(person: Person, room: str, tapped: set[str]) -> None:
    """Tap the first sign below the last message that was not answered yet, and wait until it is."""

    def waiting() -> list[str]:
        asked = (event.event_id for event in person.of(room, RoomMessageText))
        return [one for one in asked if one not in tapped and person.signs(room, one)]

    await eventually(waiting)
    asked = waiting()[-1]
    tapped.add(asked)
    await person.tap(room, asked, person.signs(room, asked)[0])
    await eventually(lambda: not person.signs(room, asked))


def a_class(session: Session) -> str:
    """Make a class and return a code to join it."""
    teacher = people.meet(session, "terminal", "okafor", "okafor", WallClock().now()).person_id
    now = WallClock().now()
    people.make_staff(session, teacher, "Ms Okafor", now)
    who: dict[str, Any] = {"teacher_id": teacher, "teacher_name": "Ms Okafor"}
    group = classes.create(session, name="10B Physics", zone="Europe/London", now=now, **who)
    return codes.issue(session, CodeKind.CLASS, now=now, class_id=group.id, lasts=timedelta(days=9)).text


def members(session: Session) -> int:
    """Count the students of all classes."""
    return len(session.exec(select(Enrolment)).all())


# ---------------------------------------------------------------- setting up


async def test_a_wrong_password_stops_the_adapter_with_a_clear_sentence(
    homeserver: Synapse, tmp_path: Path
) -> None:
    user = await homeserver.person("holdfast")
    chat = MatrixChat(Account(homeserver.url, user, tmp_path / "bot", password="wrong"))
    with pytest.raises(SetupRefused, match="Check HOLDFAST_MATRIX_USER and HOLDFAST_MATRIX_PASSWORD"):
        await chat.run(nothing, asyncio.Event())


@pytest.mark.parametrize("written", ["{0}", "@{1}:localhost"])
async def test_a_user_whom_the_homeserver_calls_otherwise_is_told_how_to_be_written(
    homeserver: Synapse, tmp_path: Path, written: str
) -> None:
    user = await homeserver.person("holdfast")
    local = user[1:].partition(":")[0]
    run = bot_of(homeserver.url, written.format(local, local.upper()), tmp_path / "bot")
    with pytest.raises(SetupRefused, match=f"HOLDFAST_MATRIX_USER has to be {user}"):
        await run.chat.run(nothing, asyncio.Event())
    devices = await homeserver.admin("GET", f"/_synapse/admin/v2/users/{user}/devices")
    assert not [d for d in devices["devices"] if d["device_id"].startswith("HOLDFAST")], "none stays behind"
    mended = bot_of(homeserver.url, user, run.folder)
    await mended.start()
    await mended.end()


async def test_a_token_logs_in_and_a_revoked_one_stops_the_adapter(
    homeserver: Synapse, tmp_path: Path, mira: Person
) -> None:
    user = await homeserver.person("holdfast")
    login = {
        "type": "m.login.password",
        "identifier": {"type": "m.id.user", "user": user},
        "password": SECRET,
    }
    made = await homeserver.call("POST", "/_matrix/client/v3/login", login)
    settings = Settings(
        matrix_homeserver=homeserver.url,
        matrix_user=user,
        matrix_token=SecretStr(made["access_token"]),
        data_dir=tmp_path,
    )
    clock = HandClock(datetime(2026, 9, 7, 8, tzinfo=UTC))
    chat = matrix_from(settings, clock)
    run = Running(chat, MemoryRecords(), tmp_path / "matrix", user, homeserver.url)
    await run.start()
    assert chat._client.device_id == made["device_id"]
    assert "could not" not in chat.note
    room = await mira.direct(user)
    await eventually(lambda: "/start" in run.texts())
    assert run.events[-1].at == clock.now()  # a rehearsal clock is believed, not the homeserver
    assert run.events[-1].address == room
    await homeserver.call("POST", "/_matrix/client/v3/logout", {}, made["access_token"])
    assert run.task is not None
    with pytest.raises(SetupRefused, match="Check HOLDFAST_MATRIX_TOKEN"):
        async with asyncio.timeout(15):
            await run.task
    assert "refuses the bot's token" in chat.problem
    with pytest.raises(SetupRefused, match="Check HOLDFAST_MATRIX_TOKEN"):
        await matrix_from(settings, clock).run(nothing, asyncio.Event())


async def test_keys_that_are_not_those_of_the_device_are_noticed(homeserver: Synapse, bot: Running) -> None:
    await bot.end()
    for file in bot.folder.glob("*.db"):
        file.unlink()
    with pytest.raises(SetupRefused, match="Restore it from the same backup"):
        await bot.again().chat.run(nothing, asyncio.Event())


async def identity(mira: Person, run: Running) -> tuple[str, str]:
    """Return the device and who signs it; fail if it is not signed."""
    known = await mira.query(run.user)
    name = run.chat._client.device_id
    signer = next(iter(known["self_signing_keys"][run.user]["keys"]))
    assert verified(known["device_keys"][run.user][name], run.user, signer)
    return name, next(iter(known["master_keys"][run.user]["keys"]))


@pytest.mark.parametrize("trouble", ["session ended", "keys lost", "login damaged"])
async def test_f07_following_our_advice_keeps_the_bots_signing_identity(
    homeserver: Synapse, bot: Running, mira: Person, room: str, trouble: str
) -> None:
    old_device, master = await identity(mira, bot)
    await bot.end()
    if trouble == "session ended":
        await homeserver.admin("DELETE", f"/_synapse/admin/v2/users/{bot.user}/devices/{old_device}")
    elif trouble == "keys lost":
        for file in bot.folder.glob("*.db"):
            file.unlink()
    else:
        (bot.folder / "login.json").write_text("{")
    with pytest.raises(SetupRefused) as said:
        await bot.again().chat.run(nothing, asyncio.Event())
    advice = re.search(r"Remove the file (\S+), and nothing else, and start again", str(said.value))
    assert advice, said.value
    assert "Lost is only" in str(said.value)
    assert advice[1] == str(bot.folder / "login.json")
    (bot.folder / "login.json").unlink()
    again = bot.again()
    await again.start()
    new_device, new_master = await identity(mira, again)
    assert new_device != old_device
    assert new_master == master, "students would be warned that the bot is somebody else"
    assert again.chat.note == ""
    await until_sent(again, room, text("I am back"), "back")
    await eventually(lambda: "I am back" in mira.bodies_readable(room))
    await mira.say(room, "good")
    await eventually(lambda: again.texts() == ["good"])
    await again.end()


async def test_f07_a_folder_that_was_moved_away_is_asked_back_and_no_new_identity_is_made(
    bot: Running, mira: Person
) -> None:
    _, master = await identity(mira, bot)
    await bot.end()
    away = bot.folder.rename(bot.folder.with_name("away"))
    other = bot.again()
    await other.start()
    assert f"put its former signing.json back into {bot.folder}" in other.chat.note
    await other.end()
    shutil.copy(away / "signing.json", bot.folder)
    again = bot.again()
    await again.start()
    assert (await identity(mira, again))[1] == master
    assert again.chat.note == ""
    await again.end()


async def test_a_homeserver_that_is_not_there_is_waited_for(tmp_path: Path) -> None:
    run = bot_of("http://127.0.0.1:9", "@holdfast:localhost", tmp_path / "bot", timeout_s=0.3)
    run.task = asyncio.create_task(run.chat.run(run.on_event, run.stop))
    await eventually(lambda: run.chat.problem)
    assert run.chat.problem == "not logged in (ClientConnectorError)"
    with pytest.raises(SendFailed) as failed:
        await run.chat.send("!x:y", text("Hello"), token="1")
    assert failed.value.whole_platform
    await run.end()


async def nothing(event: Incoming) -> None:
    """Take an event and do nothing."""


async def test_without_a_homeserver_there_is_no_adapter() -> None:
    with pytest.raises(ValueError, match="HOLDFAST_MATRIX_HOMESERVER"):
        matrix_from(Settings())
