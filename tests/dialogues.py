"""A stage for dialogues: the real service on a database, a clock that is set by hand, and people who type.

``verify_dialogue(stage, "mira", [("join ABC", "Hello"), …])`` plays a dialogue that is data: what is said, and
what has to be in the answer.
"""

from __future__ import annotations

import asyncio
import atexit
import itertools
import sqlite3
import weakref
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from typing import Any
from zoneinfo import ZoneInfo

from sqlmodel import Session, col, select

import bot.service.asking.class_day
import bot.service.asking.nightly_fit
import bot.service.student.account
import bot.service.student.effects
import bot.service.student.joining
import bot.service.student.work  # noqa: F401 - registers what is carried out and done
from bot.chat.packing import unpack
from bot.chat.port import Button, ButtonPressed, Content, FileSent, Incoming, Message, TextSaid
from bot.clock import HandClock
from bot.grading.keys import Amount, AnswerKey, ChoiceKey, FormulaKey, NumberKey, TextKey, chance_of, to_dict
from bot.service.asking import nudges, planning
from bot.service.engine import loop
from bot.service.engine.context import AppContext
from bot.service.engine.due_work import WorkContext, do_due
from bot.talk.core import MENU
from storage.asked import nudges as stored_nudges
from storage.base.database import Database, connect
from storage.queue import due, inbox
from storage.school import classes, codes, people
from storage.tables import (
    CodeKind,
    Enrolment,
    Lesson,
    OutboxItem,
    Question,
    Quiz,
    QuizTopic,
    SchoolClass,
    Topic,
)

ZONE = "Europe/London"
MONDAY = date(2026, 11, 30)


def at(day: date, hour: int, minute: int = 0, zone: str = ZONE) -> datetime:
    """Return a local moment, aware UTC."""
    return datetime.combine(day, time(hour, minute), ZoneInfo(zone)).astimezone(UTC)


@dataclass
class Said:
    """A message that went to somebody, as it lies in the outbox."""

    address: str
    message: Message
    nudge_id: int | None
    not_after: datetime | None
    at: datetime

    @property
    def text(self) -> str:
        """What it says."""
        return self.message.text.plain

    @property
    def labels(self) -> list[str]:
        """The labels of its buttons."""
        return [button.label for button in self.message.all_buttons]

    @property
    def settles(self) -> bool:
        """Whether it only settles a menu."""
        return settles(self.message)


def settles(message: Message) -> bool:
    """Whether a message only takes the buttons from a menu that was answered, and shows what was chosen."""
    return message.replaces.startswith(MENU) and not message.buttons


@dataclass
class Stage:
    """A school on a database, at a moment."""

    db: Database
    now: datetime
    app_context: AppContext = field(default_factory=AppContext)
    heard: list[Said] = field(default_factory=list)
    language: str = ""  # what the platform says that people speak
    _keys: itertools.count[int] = field(default_factory=itertools.count)
    _seen: int = 0

    # ------------------------------------------------------------ talking

    def say(self, user: str, text: str, **more: str) -> list[Said]:
        """Let somebody type; return what we answered, but for the menus that were settled by it (see `screen`)."""
        return self.event(user, TextSaid(text), **more)

    def press(self, user: str, label: str, **more: str) -> list[Said]:
        """Let somebody press the button with that label that they saw last."""
        return self.event(user, ButtonPressed(self.button(user, label).action), **more)

    def press_action(self, user: str, action: str) -> list[Said]:
        """Let somebody press a button by its action, perhaps a forged one."""
        return self.event(user, ButtonPressed(action))

    def send_file(self, user: str) -> list[Said]:
        """Let somebody send a file."""
        return self.event(user, FileSent("h1", "a.xlsx", "application/octet-stream", 10))

    def button(self, user: str, label: str) -> Button:
        """Return the button with a label that a person saw last."""
        for said in reversed(self.of(user)):
            for button in said.message.all_buttons:
                if label in (button.label, button.letter):
                    return button
        raise AssertionError(f"{user} saw no button {label!r}.")

    def event(self, user: str, content: Content, key: str = "", name: str = "") -> list[Said]:
        """Deliver an event as a platform does: recorded, handled, done, in order."""
        incoming = self.incoming(user, content, key, name)
        with self.db.begin() as session:
            item = inbox.record(
                session, platform=incoming.platform, key=incoming.key, user=user, event={}, now=self.now
            )
            if item is not None:
                loop.handle(session, self.app_context, incoming, self.now)
                inbox.done(session, item, self.now)
        return [said for said in self.collect() if not said.settles]

    def incoming(self, user: str, content: Content, key: str = "", name: str = "") -> Incoming:
        """Return an event of a private chat."""
        key = key or f"k{next(self._keys)}"
        return Incoming(
            "terminal", key, f"chat-{user}", user, "private", self.now, content, name, language=self.language
        )

    def of(self, user: str) -> list[Said]:
        """Return everything that a person was told."""
        return [said for said in self.heard if said.address == f"chat-{user}"]

    def screen(self, user: str) -> list[Said]:
        """Return what a person sees: of a message that was changed in place, what stands there now."""
        seen: list[Said] = []
        places: dict[str, int] = {}
        for said in self.of(user):
            place = places.get(said.message.replaces)
            if place is None:
                place = len(seen)
                seen.append(said)
            else:
                seen[place] = said
            if said.message.key:
                places[said.message.key] = place
        return seen

    def collect(self) -> list[Said]:
        """Take what is new in the outbox."""
        with self.db.begin() as session:
            asked = select(OutboxItem).where(col(OutboxItem.id) > self._seen).order_by(col(OutboxItem.id))
            rows = list(session.exec(asked))
        new = [
            Said(row.address, unpack(row.body), row.nudge_id, row.not_after, row.created_at) for row in rows
        ]
        if rows:
            self._seen = rows[-1].id or 0
        self.heard += new
        return new

    # ------------------------------------------------------------ time

    def work(self) -> list[Said]:
        """Do what is due now, as the ticks of the program do; return what was said."""
        asyncio.run(self._work())
        return self.collect()

    async def _work(self) -> None:
        work_context = WorkContext(self.db, self.app_context, HandClock(self.now))
        while await do_due(work_context):
            pass
        await nudges.end_nudges(work_context)
        await nudges.send_nudges(work_context)
        while await do_due(work_context):
            pass

    def go_to(self, moment: datetime) -> list[Said]:
        """Let time pass until a moment, doing what is due when it is due; return what was said."""
        said = self.work()
        while self.now < moment:
            coming = self.run(_next_at)
            later = self.now + timedelta(minutes=1)  # something is late and cannot be done: let it be
            self.now = moment if coming is None else min(max(coming, later), moment)
            said += self.work()
        return said

    def jump(self, moment: datetime) -> list[Said]:
        """Let time pass while the program is off, then start it."""
        self.now = moment
        with self.db.begin() as session:
            planning.look_at_all(session, moment)
        return self.work()

    # ------------------------------------------------------------ a school

    def run(self, fn: Callable[..., Any], *args: Any) -> Any:
        """Run something in a transaction of its own."""
        with self.db.begin() as session:
            return fn(session, *args)

    def freeze(self) -> Frozen:
        """Keep the stage as it stands, to set out from it again."""
        copy = sqlite3.connect(":memory:", check_same_thread=False)
        _raw(self.db).backup(copy)
        frozen = Frozen(copy, self.now, tuple(self.heard), self._seen, next(self._keys))
        weakref.finalize(frozen, copy.close)  # Python 3.13 warns of a connection that is only forgotten
        return frozen


@dataclass(frozen=True)
class Frozen:
    """A stage as it stood."""

    copy: sqlite3.Connection
    now: datetime
    heard: tuple[Said, ...]
    seen: int
    key: int

    def thaw(self, database: Database | None = None) -> Stage:
        """Return the stage as it stood, on a database of its own or else in place of any other in memory."""
        database = database or _database()
        self.copy.backup(_raw(database))
        return Stage(
            database,
            self.now,
            AppContext(),
            list(self.heard),
            _keys=itertools.count(self.key),
            _seen=self.seen,
        )


def _next_at(session: Session) -> datetime | None:
    found = (due.next_at(session), stored_nudges.next_at(session), stored_nudges.next_end(session))
    return min((at for at in found if at is not None), default=None)


def _raw(database: Database) -> sqlite3.Connection:
    with database.engine.connect() as connection:
        found: sqlite3.Connection = connection.connection.driver_connection  # type: ignore[assignment]
    return found


@cache
def _database() -> Database:
    """Return the one database in memory of this process: compiling every statement anew would take a second."""
    database = connect("sqlite://")
    atexit.register(database.close)
    return database


@cache
def _empty() -> sqlite3.Connection:
    copy = sqlite3.connect(":memory:", check_same_thread=False)
    fresh = connect("sqlite://")
    _raw(fresh).backup(copy)
    fresh.close()
    atexit.register(copy.close)
    return copy


def stage(now: datetime) -> Stage:
    """Return an empty stage on a database in memory. It takes the place of any other of this process."""
    _empty().backup(_raw(_database()))
    return Stage(_database(), now)


@dataclass
class Group:
    """A class on the stage."""

    id: int
    code: str


CHOICE = ChoiceKey("10 cm", ("8 cm", "12 cm", "2.5 cm"))
NUMBER = NumberKey((Amount(2.7, "g/cm³", 2, -1),))
TEXT = TextKey(("photosynthesis",))
FORMULA = FormulaKey(("E = 1/2 m v^2",))


def add_class(stage: Stage, name: str = "10B Physics", teacher: str = "Ms Okafor", **rules: Any) -> Group:
    """Make a class with a teacher and a code."""

    def make(session: Session) -> Group:
        who = people.meet(session, "terminal", f"teacher-{name}", f"chat-teacher-{name}", stage.now)
        group = classes.create(
            session,
            name=name,
            zone=str(rules.pop("zone", ZONE)),
            teacher_id=who.person_id,
            teacher_name=teacher,
            now=stage.now,
            **rules,
        )
        assert group.id is not None
        code = codes.issue(session, CodeKind.CLASS, now=stage.now, class_id=group.id)
        return Group(group.id, code.text)

    made: Group = stage.run(make)
    return made


def teach(
    stage: Stage,
    group: Group,
    topic: str,
    when: datetime,
    keys: Sequence[AnswerKey] = (CHOICE,),
    **lesson: Any,
) -> int:
    """Plan a lesson on a topic with its questions; return the topic's id."""

    def make(session: Session) -> int:
        row = session.exec(select(Topic).where(Topic.class_id == group.id, Topic.name == topic)).first()
        if row is None:
            row = Topic(class_id=group.id, name=topic)
            session.add(row)
            session.flush()
        assert row.id is not None
        session.add(Lesson(class_id=group.id, topic_id=row.id, starts_at=when, **lesson))
        for number, key in enumerate(keys, start=1):
            session.add(
                Question(
                    topic_id=row.id,
                    kind=key.kind,
                    prompt=f"{topic}, question {number}?",
                    answer=to_dict(key),
                    chance=chance_of(key),
                    explanation=f"Because of {topic}.",
                    created_at=stage.now,
                )
            )
        return row.id

    made: int = stage.run(make)
    return made


def add_quiz(stage: Stage, group: Group, when: datetime, topics: Iterable[int], name: str = "") -> int:
    """Plan a quiz over topics."""

    def make(session: Session) -> int:
        quiz = Quiz(class_id=group.id, at=when, name=name)
        session.add(quiz)
        session.flush()
        assert quiz.id is not None
        for topic in topics:
            session.add(QuizTopic(quiz_id=quiz.id, topic_id=topic))
        return quiz.id

    made: int = stage.run(make)
    return made


def join(stage: Stage, group: Group, user: str, time_of_day: str = "18:00") -> int:
    """Let somebody join; return their enrolment."""
    stage.say(user, f"join {group.code}")
    stage.say(user, "yes")  # understood in every language
    stage.say(user, user.title())
    stage.say(user, time_of_day)
    return enrolment(stage, user, group)


def enrolment(stage: Stage, user: str, group: Group) -> int:
    """Return the enrolment of somebody in a class."""

    def find(session: Session) -> int:
        contact = people.find_contact(session, "terminal", user)
        assert contact is not None
        asked = select(Enrolment.id).where(
            Enrolment.person_id == contact.person_id, Enrolment.class_id == group.id
        )
        found = session.exec(asked).one()
        assert found is not None
        return found

    made: int = stage.run(find)
    return made


def class_row(stage: Stage, group: Group) -> SchoolClass:
    """Return the stored class."""
    row: SchoolClass = stage.run(classes.get, group.id)
    return row


def verify_dialogue(stage: Stage, user: str, lines: Iterable[tuple[str, str | Sequence[str]]]) -> None:
    """Play a dialogue: after each thing said, the answer contains what is expected.

    ``[Label]`` presses the button with that label; anything else is typed. Several expected texts have to come
    in that order; an empty one means that nothing is said.
    """
    for said, expected in lines:
        is_button = said.startswith("[") and said.endswith("]")
        answers = stage.press(user, said[1:-1]) if is_button else stage.say(user, said)
        heard = [answer.text for answer in answers if answer.address == f"chat-{user}"]
        wanted = [expected] if isinstance(expected, str) else list(expected)
        wanted = [text for text in wanted if text]
        assert len(heard) >= len(wanted), f"after {said!r} only {heard} was said"
        assert bool(heard) == bool(wanted), f"after {said!r}: {heard}"
        for text, answer in zip(wanted, heard, strict=False):
            assert text in answer, f"after {said!r}: {text!r} is not in {answer!r}"
