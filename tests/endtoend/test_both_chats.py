"""One class on two chats: one student stays on Telegram, another one moves to Matrix in the middle of a question."""

from __future__ import annotations

import asyncio
import re
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlmodel import Session, col, select

from bot.app import build
from bot.clock import RehearsalClock
from bot.running import make_app_context
from bot.settings import Settings
from storage.base.database import Database
from storage.tables import Answer, Enrolment, Verdict
from tests.contracts.dialogues import JOINING
from tests.contracts.test_chat import WITHIN_S, Program, on_matrix, on_telegram, play
from tests.dialogues import CHOICE, MONDAY, NUMBER, Stage, add_class, at, teach
from tests.servers.botapi import BotApi
from tests.servers.matrix_people import eventually
from tests.servers.synapse import Synapse

pytestmark = pytest.mark.server

TOM = 1002
START = at(MONDAY, 15)


def answers(session: Session) -> list[tuple[str, Verdict]]:
    """Return whose answer was what, the oldest first."""
    names = {one.id: one.name for one in session.exec(select(Enrolment))}
    return [
        (names[one.enrolment_id], one.verdict)
        for one in session.exec(select(Answer).order_by(col(Answer.id)))
    ]


async def tom_says(api: BotApi, text: str) -> None:
    """Let Tom say something, and wait until he is answered."""
    seen = len(api.seen_by(TOM))
    api.say(TOM, text)
    await eventually(lambda: len(api.seen_by(TOM)) > seen, WITHIN_S)


async def test_a_class_mixes_both_chats_and_moving_keeps_the_history(
    memory_db: Database, homeserver: Synapse, tmp_path: Path
) -> None:
    clock = RehearsalClock(START, 20.0)
    stage = Stage(memory_db, START)
    group = add_class(stage)
    teach(stage, group, "Springs", START - timedelta(days=3), (CHOICE,))
    teach(stage, group, "Density", START - timedelta(days=12), (NUMBER,))
    async with on_matrix(clock, homeserver, tmp_path) as other, on_telegram(clock) as telegram:
        phone: Any = telegram
        for handset in (telegram, other):
            handset.chat.capabilities.attach(memory_db)
        chats = [telegram.chat, other.chat]
        app = build(memory_db, clock, chats, make_app_context(Settings(), chats), tick_s=0.2)
        program = Program(group.code)
        task = asyncio.create_task(app.run(program.stop))
        try:
            await play(telegram, program, (*JOINING, ("next", "Springs, question 1?")))
            await play(telegram, program, [("[10 cm]", ("✓ Right", "Density, question 1?"))])
            await play(telegram, program, [("move", "write to this bot: join")])
            code = re.findall(r"bot: join (\w+)", "\n".join(telegram.shown()))[-1]
            await play(
                other,
                program,
                [
                    ("hello", "To join your class"),
                    (f"join {code}", "Everything of yours came along"),
                    ("2,7 g/cm3", ("✓ Right", "That is all for now: 2 of 2 right.")),
                ],
            )
            phone.api.person(TOM, "Tom")
            for text in (f"/start {group.code}", "I agree", "Tom", "18:00", "next"):
                await tom_says(phone.api, text)
            assert "question 1?" in phone.api.seen_by(TOM)[-1].text
        finally:
            program.stop.set()
            async with asyncio.timeout(WITHIN_S):
                await task
    assert await memory_db.read(answers) == [("Mira", Verdict.RIGHT)] * 2
