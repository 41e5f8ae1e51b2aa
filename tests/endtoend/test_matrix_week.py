"""A whole week through Matrix: the real program, a real homeserver, encrypted clients, a teacher and eight students.

As `test_telegram_week`: from the files that a teacher sends on Friday to the report that is pulled the Friday after.
HOLDFAST_DRILL_WEEK=1 plays all of it (``deploy/drills/matrix_week.sh``, some minutes); without it, it ends on Monday.
"""

from __future__ import annotations

import io
import os
import random
from collections import Counter
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from nio import RoomEncryptedImage
from openpyxl import load_workbook
from PIL import Image
from sqlmodel import select

from storage.base.database import Database
from storage.school import channels
from storage.tables import Contact, ContactState
from tests.matrixtown import MatrixPhone, MatrixTown, matrix_town, words
from tests.schoolweek import CLASS, FRIDAY, NAMES, POST, Student, answers_on_record, join, open_class
from tests.servers.matrix_people import eventually
from tests.servers.synapse import Synapse
from tests.town import code_in

pytestmark = [pytest.mark.server, pytest.mark.slow]

HABITS = ("taps", "taps", "types", "types", "taps", "snoozes", "ignores", "blocks")
LONDON = ZoneInfo("Europe/London")
WHOLE = os.environ.get("HOLDFAST_DRILL_WEEK") == "1"
ENDS = datetime(2026, 12, 4, 16, 0, tzinfo=UTC) if WHOLE else datetime(2026, 11, 30, 19, 45, tzinfo=UTC)


async def bind_room(place: MatrixTown, teacher: MatrixPhone, student: MatrixPhone) -> str:
    """The teacher makes a room for the class, invites the bot, and says a code from the private chat there."""
    room = await teacher.person.group(CLASS, place.bot, student.id)
    await eventually(lambda: teacher.person.membership(room, place.bot) == "join", 30.0)
    code = code_in(words(await teacher.says("channel")))
    place.planned.append(lambda: teacher.person.say(room, code))
    await place.settle()
    assert "is the place of 10B Physics now" in words(teacher.shown_in(room))
    return room


@pytest.mark.timeout(600)
async def test_a_week_of_a_class_on_matrix(homeserver: Synapse, memory_db: Database, tmp_path: Path) -> None:
    async with matrix_town(homeserver, memory_db, FRIDAY, tmp_path) as place:
        teacher: Any = await place.newcomer("Ms Okafor")
        code = await open_class(place, teacher)
        phones: list[Any] = [await place.newcomer(name) for name in NAMES]
        room = await bind_room(place, teacher, phones[0])
        place.planned.append(lambda: teacher.person.say(room, POST))
        await place.settle()
        assert "Stored energy" in words(teacher.news())
        students = []
        for number, (phone, habit) in enumerate(zip(phones, HABITS, strict=True)):
            await join(phone, code)
            students.append(Student(phone, habit, random.Random(number)))
            students[-1].pass_over()

        def look() -> None:
            for student in students:
                student.look()

        await place.go_to(ENDS, each=look)

        _check_answers(memory_db, students, room)
        _check_manners(students)
        assert len(teacher.shown_in(room)) == 2, "how a place is bound, that it is, and nothing else"
        await _pull_report(teacher)


def _check_answers(db: Database, students: list[Student], room: str) -> None:
    with db.reading() as session:
        recorded = answers_on_record(session)
        blocked = session.exec(select(Contact.address).where(Contact.state == ContactState.BLOCKED)).all()
        assert [one.address for one in channels.of_class(session, 1)] == [room]
    said = {one.phone.name: one.answered for one in students if one.answered}
    assert {name: set(of) for name, of in said.items()} == {name: set(of) for name, of in recorded.items()}
    for name, answers in said.items():
        for review, given in answers.items():
            assert recorded[name][review] in given, (name, review)
    by_habit = Counter({one.habit: 0 for one in students})
    by_habit.update({one.habit: len(one.answered) for one in students})
    assert by_habit["taps"] >= (10 if WHOLE else 5)
    assert by_habit["types"] >= (10 if WHOLE else 5)
    assert by_habit["snoozes"] >= 3
    assert by_habit["ignores"] == 0
    assert by_habit["blocks"] == 1
    gone: Any = next(one.phone for one in students if one.habit == "blocks")
    assert list(blocked) == [gone.room]


def _check_manners(students: list[Student]) -> None:
    for student in students:
        times = [sent.date.astimezone(LONDON) for sent in student.phone.shown]
        assert all(7 * 60 + 30 <= at.hour * 60 + at.minute < 20 * 60 for at in times)
    gone = next(one for one in students if one.habit == "blocks")
    assert max(sent.date for sent in gone.phone.shown) < datetime(2026, 11, 28, tzinfo=UTC) + timedelta(
        days=3
    )


async def _pull_report(teacher: MatrixPhone) -> None:
    shown = await teacher.says("report")
    picture = next(one for one in shown if isinstance(one.event, RoomEncryptedImage))
    with Image.open(io.BytesIO(await teacher.bytes_of(picture))) as image:
        assert image.width >= 2 * 390  # sharp on a phone
    assert "6 of 8 answered at least once" in words(shown)
    sheets = await teacher.says("workbook")
    document = next(one for one in sheets if one.event.source["content"]["msgtype"] == "m.file")
    book = load_workbook(io.BytesIO(await teacher.bytes_of(document)))
    cells = [str(cell.value) for sheet in book for row in sheet.iter_rows() for cell in row]
    assert all(any(name in cell for cell in cells) for name in NAMES)
