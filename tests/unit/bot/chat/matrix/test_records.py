"""What the Matrix adapter asks the database, and keeps there."""

from datetime import UTC, datetime
from typing import Any

from bot.chat.matrix.records import DatabaseRecords
from bot.chat.packing import pack
from bot.chat.port import Button, Message
from bot.clock import HandClock
from bot.words.rich import Rich
from storage.base.database import Database, Session
from storage.queue import outbox
from storage.school import channels, classes, people

NOW = datetime(2026, 9, 7, 8, 0, tzinfo=UTC)
MIRA, TEACHER = "@mira:school.example", "@okafor:school.example"


def records(db: Database) -> DatabaseRecords:
    return DatabaseRecords(db, HandClock(NOW))


async def test_a_place_in_the_stream_is_kept(memory_db: Database) -> None:
    asked = records(memory_db)
    assert await asked.key_value("matrix sync") == ""
    await asked.keep("matrix sync", "s1")
    await asked.keep("matrix sync", "s2")
    assert await asked.key_value("matrix sync") == "s2"


async def test_a_message_is_found_by_its_reference_in_its_latest_form(memory_db: Database) -> None:
    asked = records(memory_db)
    first = Message(Rich.of("How far?"), buttons=((Button("8 cm", "s:0", ("a",), "A"),),), key="q7")

    def write(session: Session) -> None:
        for message in (first, Message(Rich.of("Right"), key="q7", replaces="q7")):
            item = outbox.put(session, "matrix", "!r", pack(message), now=NOW)
            outbox.sent(session, item, "$1", NOW)
            if message is first:
                outbox.put(session, "matrix", "!r", pack(message), now=NOW)

    assert await asked.message("!r", "$1") is None
    await memory_db.run(write)
    found = await asked.message("!r", "$1")
    assert found == Message(Rich.of("Right"), key="q7", replaces="q7")
    assert await asked.message("!other", "$1") is None


async def test_who_is_known_and_who_teaches(memory_db: Database) -> None:
    asked = records(memory_db)

    def write(session: Session) -> None:
        people.meet(session, "matrix", MIRA, "!m", NOW)
        teacher = people.meet(session, "matrix", TEACHER, "!t", NOW)
        people.make_staff(session, teacher.person_id, "Ms Okafor", NOW)

    assert not await asked.knows(MIRA)
    await memory_db.run(write)
    assert await asked.knows(MIRA)
    assert not await asked.is_teacher(MIRA)
    assert await asked.is_teacher(TEACHER)
    assert await asked.is_private_chat("!t")
    assert not await asked.is_private_chat(TEACHER)
    assert not await asked.is_teacher("@nobody:school.example")


async def test_a_room_is_a_class_room_while_it_is_bound(memory_db: Database) -> None:
    asked = records(memory_db)

    def write(session: Session) -> None:
        teacher = people.meet(session, "matrix", TEACHER, "!t", NOW)
        people.make_staff(session, teacher.person_id, "Ms Okafor", NOW)
        who: dict[str, Any] = {"teacher_id": teacher.person_id, "teacher_name": "Ms Okafor"}
        group = classes.create(session, name="10B Physics", zone="Europe/London", now=NOW, **who)
        assert group.id is not None
        channels.bind(session, group.id, "matrix", "!class", NOW)

    assert not await asked.is_class_room("!class")
    await memory_db.run(write)
    assert await asked.is_class_room("!class")
    assert not await asked.is_class_room("!other")
