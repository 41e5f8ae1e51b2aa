"""A whole week through Telegram: the real program, the real library, a strict server, a teacher and eight students.

From the files that a teacher sends on Friday to the report that is pulled the Friday after. Nothing is inserted behind
the program's back but the code that an operator hands to the teacher.
"""

from __future__ import annotations

import io
import random
from collections import Counter
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from openpyxl import load_workbook
from PIL import Image
from sqlmodel import select

from storage.base.database import Database
from storage.school import channels
from storage.tables import Contact, ContactState
from tests.schoolweek import (
    CHANNEL,
    CLASS,
    FRIDAY,
    NAMES,
    POST,
    TEACHER,
    Student,
    answers_on_record,
    join,
    open_class,
)
from tests.servers.botapi import BotApi, Sent
from tests.town import Phone, Town, code_in, texts, town

HABITS = ("taps", "taps", "types", "types", "taps", "snoozes", "ignores", "blocks")
LONDON = ZoneInfo("Europe/London")
GROUP, MOVED = -555, -1005550


async def bind_channel(place: Town, teacher: Phone) -> None:
    """The bot is made an administrator of the channel; a code from the private chat is posted there."""
    place.api.group(CHANNEL, CLASS, "channel")
    place.api.set_bot(CHANNEL, "administrator", by=TEACHER)
    code = code_in(texts(await teacher.says("channel")))
    place.api.post(CHANNEL, code)
    await place.settle()
    assert "is the place of 10B Physics now" in texts(place.api.seen_by(CHANNEL))
    assert "“10B Physics” belongs to 10B Physics now" in texts(teacher.shown[-1:])


async def post_topic(place: Town, teacher: Phone) -> None:
    """A topic is posted in the channel, with a question."""
    teacher.news()
    place.api.post(CHANNEL, POST)
    await place.settle()
    assert "Stored energy" in texts(teacher.news())


def nudges(student: Student) -> list[Sent]:
    """Return the messages that asked for a student's time (those that stand with their text)."""
    return [sent for sent in student.phone.shown if "self-check" in sent.text]


def local(sent: Sent) -> datetime:
    """Return when a message came, by the school's clock."""
    return sent.date.astimezone(LONDON)


@pytest.mark.timeout(300)
async def test_a_week_of_a_class_on_telegram(memory_db: Database) -> None:
    async with town(memory_db, FRIDAY) as place:
        teacher = place.phone(TEACHER, "Ms Okafor")
        code = await open_class(place, teacher)
        await bind_channel(place, teacher)
        await post_topic(place, teacher)
        students = [
            Student(place.phone(1001 + number, name), habit, random.Random(number))
            for number, (name, habit) in enumerate(zip(NAMES, HABITS, strict=True))
        ]
        for student in students:
            await join(student.phone, code)
        assert "report" in teacher.menu
        assert "next" in students[0].phone.menu
        assert "report" not in students[0].phone.menu

        def look() -> None:
            for student in students:
                student.look()

        await place.go_to(datetime(2026, 12, 4, 16, 0, tzinfo=UTC), each=look)

        _check_answers(memory_db, students)
        _check_manners(place.api, students)
        await _pull_report(place.api, teacher)


def _check_answers(db: Database, students: list[Student]) -> None:
    with db.reading() as session:
        recorded = answers_on_record(session)
        blocked = session.exec(select(Contact.address).where(Contact.state == ContactState.BLOCKED)).all()
        assert [one.address for one in channels.of_class(session, 1)] == [str(CHANNEL)]
    said = {one.phone.name: one.answered for one in students if one.answered}
    assert {name: set(of) for name, of in said.items()} == {name: set(of) for name, of in recorded.items()}
    for name, answers in said.items():
        for review, given in answers.items():
            assert recorded[name][review] in given, (name, review)
    by_habit = Counter({one.habit: 0 for one in students})
    by_habit.update({one.habit: len(one.answered) for one in students})
    assert by_habit["taps"] >= 10
    assert by_habit["types"] >= 10
    assert by_habit["snoozes"] >= 3
    assert by_habit["ignores"] == 0
    assert by_habit["blocks"] == 1
    assert list(blocked) == [str(one.phone.id) for one in students if one.habit == "blocks"]


def _check_manners(api: BotApi, students: list[Student]) -> None:
    for student in students:
        times = [local(sent) for sent in student.phone.shown]
        assert all(7 * 60 + 30 <= at.hour * 60 + at.minute < 20 * 60 for at in times)
        days = Counter(local(sent).date() for sent in nudges(student))
        assert all(count == 1 for count in days.values())
        assert all(day.weekday() < 5 for day in days)
    snoozer = next(one for one in students if one.habit == "snoozes")
    assert any(local(sent).hour == 19 for sent in snoozer.phone.shown)
    gone = next(one for one in students if one.habit == "blocks")
    assert max(sent.date for sent in gone.phone.shown) < FRIDAY + timedelta(hours=6)
    # A class place hears of the binding and of nothing else.
    assert len(api.seen_by(CHANNEL)) == 1
    # Every press was answered, so no button spins.
    assert all(api.presses.values())


async def _pull_report(api: BotApi, teacher: Phone) -> None:
    shown = await teacher.says("report")
    picture = next(sent for sent in shown if sent.photo)
    with Image.open(io.BytesIO(api.files[picture.photo])) as image:
        assert image.width >= 2 * 390  # sharp on a phone
    assert "6 of 8 answered at least once" in texts(shown)
    document = next(sent for sent in await teacher.says("workbook") if sent.document)
    book = load_workbook(io.BytesIO(api.files[document.document]))
    cells = [str(cell.value) for sheet in book for row in sheet.iter_rows() for cell in row]
    assert all(any(name in cell for cell in cells) for name in NAMES)


async def test_a_class_group_is_bound_heard_and_followed(memory_db: Database) -> None:
    """In privacy mode a plain member of a group hears commands only: we say so, and go on as an administrator."""
    async with town(memory_db, FRIDAY) as place:
        teacher = place.phone(TEACHER, "Ms Okafor")
        student = place.phone(1001, "Mira")
        await join(student, await open_class(place, teacher))
        shown = next(sent.text for sent in teacher.shown if sent.photo)
        assert shown.count("https://t.me/") == 1, "the picture's text is not said twice"
        assert shown.endswith("shows who did.")

        async def posts(user_id: int, text: str, chat_id: int = GROUP) -> str:
            teacher.news()
            place.api.say(user_id, text, chat_id=chat_id)
            await place.settle()
            return texts(teacher.news())

        place.api.group(GROUP, CLASS).status = "left"
        place.api.set_bot(GROUP, "member", by=TEACHER)
        await place.settle()
        hello = texts(place.api.seen_by(GROUP))
        assert "In a Telegram group I hear topics only as an administrator." in hello
        assert "“10B Physics” belongs to 10B Physics now" in texts(await teacher.says(code_in(hello)))
        assert await posts(TEACHER, "New topic: Unheard") == ""
        assert "Hooke's law" in await posts(TEACHER, "/topic Hooke's law")
        place.api.set_bot(GROUP, "administrator", by=TEACHER)
        assert "Moments of forces" in await posts(TEACHER, "New topic: Moments of forces")
        assert await posts(student.id, "New topic: Nonsense") == ""
        place.api.places[GROUP].title = "Physics & friends"
        place.api.migrate(GROUP, MOVED).status = "administrator"
        await place.settle()
        assert "Pressure in liquids" in await posts(TEACHER, "New topic: Pressure in liquids", MOVED)
        teacher.news()
        place.api.set_bot(MOVED, "kicked", by=TEACHER)
        await place.settle()
        assert "removed from “Physics & friends”" in texts(teacher.news())
        assert len(place.api.seen_by(GROUP)) == 1
        assert place.api.seen_by(MOVED) == []


@pytest.mark.parametrize("text", ["/topic Hooke's law", "report", "/erase", "1 of 3"])
async def test_what_is_said_in_the_channel_is_no_command(memory_db: Database, text: str) -> None:
    """A post in a place that is bound to nothing does nothing and is not answered."""
    async with town(memory_db, FRIDAY) as place:
        place.api.group(CHANNEL, CLASS, "channel")
        place.api.post(CHANNEL, text)
        await place.settle()
        assert place.api.seen_by(CHANNEL) == []
