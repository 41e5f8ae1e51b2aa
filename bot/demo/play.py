"""Play the demo: the real program, invented people, a clock that is moved from event to event."""

from __future__ import annotations

import asyncio
import logging
import random
import signal
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from rich.console import Console

from bot import logs
from bot.app import App, build
from bot.chat.port import TextSaid
from bot.chat.terminal import TerminalChat, keyboard
from bot.clock import HandClock, RehearsalClock
from bot.demo.chat import DemoChat, Mind, Saying
from bot.demo.conductor import conduct
from bot.demo.folder import DATABASE, PAPERS, SENT, claim
from bot.demo.minds import StudentMind, TeacherMind
from bot.demo.school import CLASS, OPENS, PLATFORM, SCHOOL, TEACHER, ZONE, DemoSchool, open_school
from bot.demo.show import Screen
from bot.evidence.load import NothingThere, read
from bot.evidence.papers import forecast_papers, save, week_papers
from bot.running import calm_collector, make_app_context, prepare_folder
from bot.settings import Settings
from bot.teaching.memories import build as build_memory
from bot.words import words
from scheduler.calendar.school_days import week_of
from scheduler.simulation.learners import SimulatedClass
from storage import migrations
from storage.base import key_values
from storage.base.database import Database, Session, connect
from storage.history import evidence

FAMILY = "activation"
"""The law by which the demo's students forget; the program is not told."""

REACHED = "demo.reached"
AFTERWARDS_SPEED = 60.0


@dataclass
class Stage:
    """Everything that a played term needs."""

    out: Path
    console: Console
    db: Database
    school: DemoSchool
    seed: int


def play(out: Path, *, weeks: int, go_on: bool, seed: int, quiet: bool) -> None:
    """Play some weeks, leave the papers in `out`, and hand over the keyboard if there is one."""
    console = Console()
    logs.set_up("WARNING")
    claim(out, go_on=go_on)
    database = out / DATABASE
    calm_collector()
    prepare_folder(out)
    migrations.upgrade(f"sqlite:///{database}", now=OPENS, keep_copy=False)
    db = connect(f"sqlite:///{database}", one_at_a_time=True)
    try:
        school = open_school(db, OPENS)
        stage = Stage(out, console, db, school, seed)
        reached = asyncio.run(_play_term(stage, OPENS + timedelta(weeks=weeks), quiet=quiet))
        _leave_papers(stage, reached)
        if console.is_terminal and not quiet:
            asyncio.run(_hand_over(stage, reached))
    finally:
        db.close()


# ---------------------------------------------------------------- the term


async def _play_term(stage: Stage, until: datetime, *, quiet: bool) -> datetime:
    """Play until a moment; return the moment reached, which is earlier after Ctrl-C."""
    start = await stage.db.run(_reached)
    clock = HandClock(start)
    people, teacher = _people(stage, start)
    chat = DemoChat(clock, people, files=teacher.marks)
    chat.plan(TEACHER, teacher.plans(start))
    app = build(
        stage.db, clock, [chat], make_app_context(Settings(data_dir=stage.out, school=SCHOOL), [chat])
    )
    screen = Screen(
        stage.console, OPENS, until, f"{SCHOOL}, {CLASS}: a term on a rehearsal clock", live=not quiet
    )
    chat.watch = screen.heard
    if start == OPENS:
        _invite(chat, stage.school, stage.seed)
    with screen:
        await _conduct(app, clock, chat, until, screen)
    await stage.db.run(key_values.put, REACHED, clock.now().isoformat(), clock.now())
    return clock.now()


async def _conduct(app: App, clock: HandClock, chat: DemoChat, until: datetime, screen: Screen) -> None:
    stop, interrupted = asyncio.Event(), asyncio.Event()
    for number in (signal.SIGINT, signal.SIGTERM):
        asyncio.get_running_loop().add_signal_handler(number, interrupted.set)

    async def after_step() -> None:
        screen.step(clock.now())

    async with asyncio.TaskGroup() as group:
        group.create_task(app.run(stop))
        try:
            await conduct(app, clock, chat, until, stop=interrupted, after_step=after_step)
        finally:
            stop.set()


def _people(stage: Stage, now: datetime) -> tuple[dict[str, Mind], TeacherMind]:
    room = SimulatedClass(FAMILY, stage.school.students, stage.school.topics, stage.seed)
    learners = room.learners()
    students = {
        user_of(name): StudentMind(name, learner, stage.school, _luck(stage.seed, number))
        for number, (name, learner) in enumerate(learners.items())
    }
    _remember(stage, students, now)
    teacher = TeacherMind(stage.school, learners, _luck(stage.seed, len(learners)))
    return {TEACHER: teacher, **students}, teacher


def _luck(seed: int, number: int) -> random.Random:
    return random.Random(seed * 1000 + number)  # noqa: S311 - a story, no secret


def user_of(name: str) -> str:
    """Return the terminal user of a student."""
    return name.lower()


def _remember(stage: Stage, students: dict[str, StudentMind], now: datetime) -> None:
    """Let the invented students live through what a term played before has on record."""
    with stage.db.reading() as session:
        rows = evidence.class_rows(session, stage.school.class_id, now)
        asked = evidence.asked(session, stage.school.class_id, OPENS, now)
    names = {student.id: student.name for student in rows.students}
    topics = {topic.id: topic.name for topic in rows.topics}
    for row in asked:
        mind = students[user_of(names[row.student_id])]
        if row.answered_at is not None:
            mind.go_to_school(row.answered_at)
            mind.learner.answer(topics[row.topic_id], row.answered_at, 0.0)
    for mind in students.values():
        mind.go_to_school(now)


def _invite(chat: DemoChat, school: DemoSchool, seed: int) -> None:
    """Let the students type the class code, one after another."""
    rng = _luck(seed, 999)
    for name in school.students:
        after = timedelta(minutes=rng.uniform(1, 120))
        chat.plan(user_of(name), [Saying(after, TextSaid(f"join {school.code}"))])


def _reached(session: Session) -> datetime:
    kept = key_values.get(session, REACHED)
    return datetime.fromisoformat(kept) if kept else OPENS


# ---------------------------------------------------------------- what is left behind


def _leave_papers(stage: Stage, now: datetime) -> None:
    """Write the report of the last whole week and the forecast for the next quiz."""
    with stage.db.reading() as session:
        found = read(session, stage.school.class_id, now)
    memory = build_memory(found.story, found.others)
    english = words("en")
    year, week = week_of(now - timedelta(days=1), ZONE)
    papers = list(week_papers(found, memory, year, week, english))
    try:
        papers += forecast_papers(found, memory, english)
    except NothingThere as nothing:
        stage.console.print(nothing.say(english), highlight=False)
    written = save(papers, stage.out / PAPERS)
    _say_what_is_there(stage, papers[0].data.decode(), written)


def _say_what_is_there(stage: Stage, text: str, written: Sequence[Path]) -> None:
    stage.console.print()
    stage.console.print(text.rstrip(), highlight=False, markup=False)
    stage.console.print()
    stage.console.print(f"Written into {stage.out.resolve()}:", highlight=False)
    for path in [*written, stage.out / DATABASE]:
        stage.console.print(f"  {path.relative_to(stage.out)}", highlight=False)


# ---------------------------------------------------------------- the keyboard


async def _hand_over(stage: Stage, now: datetime) -> None:
    """Let whoever sits at the keyboard be a student, or the teacher."""
    logging.getLogger().setLevel(logging.ERROR)
    clock = RehearsalClock(now, AFTERWARDS_SPEED)
    first = user_of(stage.school.students[0])
    chat = TerminalChat(
        clock,
        stage.console,
        keyboard(stage.console),
        stage.out / SENT,
        user=first,
        name=PLATFORM,
        own_only=True,
    )
    stage.console.print()
    stage.console.print(
        f"The keyboard is yours; a minute here is an hour there. You are {first}: type next for questions, or help.\n"
        f"Be somebody else with a colon and a name, :{TEACHER} for the teacher (try: report). End with :quit",
        highlight=False,
        markup=False,
    )
    app = build(
        stage.db, clock, [chat], make_app_context(Settings(data_dir=stage.out, school=SCHOOL), [chat])
    )
    await app.run(asyncio.Event())
    await stage.db.run(key_values.put, REACHED, clock.now().isoformat(), clock.now())
