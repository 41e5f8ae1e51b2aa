"""Telegram's server is out of order for minutes, hours or a day, in every way that servers and proxies have."""

from __future__ import annotations

import asyncio
import random
from collections import Counter
from datetime import timedelta

import pytest

from bot.chat.packing import pack
from bot.chat.port import Incoming, Message
from bot.chat.telegram.adapter import TelegramChat
from bot.clock import HandClock
from bot.service.engine import loop
from bot.service.engine.sender import OutboxSender
from bot.words.rich import Rich
from storage.base.database import Session, connect
from storage.queue import outbox
from storage.school import people
from storage.tables import ContactState
from tests.servers.botapi import TOKEN, BotApi, Fault
from tests.unit.bot.service.engine.test_outage import EVENING, ZONE, live, states

pytestmark = pytest.mark.server

PEOPLE = range(1000, 1024)
TEACHER = 2000
PAGE = "<html><head><title>Out of order</title></head><body>Please come back later.</body></html>"
CAUSES = (
    Fault("status", status=500),
    Fault("status", status=502, description="Bad Gateway"),
    Fault("flood", retry_after=3),
    Fault("page", status=200, description=PAGE),
    Fault("page", status=200, description=""),
    Fault("page", status=403, description=PAGE),
    Fault("page", status=400, description=""),
    Fault("page", status=404, description=PAGE),
    Fault("page", status=429, description=PAGE),
    Fault("page", status=503, description=PAGE),
    Fault("cut_before"),
)


def put(session: Session, person: int, message: Message, life: timedelta) -> None:
    outbox.put(session, "telegram", str(person), pack(message), now=EVENING, not_after=EVENING + life)


@pytest.mark.parametrize(
    ("name", "hours"), [("ten minutes", 1 / 6), ("three hours", 3.0), ("26 hours", 26.0)]
)
async def test_f02_an_outage_of_telegram_uses_no_message_up(shared_url: str, name: str, hours: float):
    clock, rng = HandClock(EVENING), random.Random(5)
    over = EVENING + timedelta(hours=hours)
    db = connect(shared_url)
    async with BotApi(now=clock.now) as api:
        api.chance = lambda _method: rng.choice(CAUSES) if clock.now() < over else None
        for person in (*PEOPLE, TEACHER):
            api.person(person, "Mira")
            api.places[person].open = True
        chat = TelegramChat(TOKEN, api_url=api.url, clock=clock, timeout_s=5)
        sender = OutboxSender(db, chat, clock)
        with db.begin() as session:
            for person in PEOPLE:
                people.meet(session, "telegram", str(person), str(person), EVENING)
                nudge, reply = (
                    Message(Rich.of("3 quick self-checks"), urgent=False),
                    Message(Rich.of("Right.")),
                )
                put(session, person, nudge, timedelta(hours=2))
                put(session, person, reply, loop.REPLY_LIFE)
            put(session, TEACHER, Message(Rich.of("Week 37"), urgent=False), loop.PAPER_LIFE)
        await live(sender, over + timedelta(hours=1), tick_s=15.0 if hours < 1 else 100.0 * hours**0.5)
        await chat.close()

        came = Counter(sent.text for person in (*PEOPLE, TEACHER) for sent in api.seen_by(person))
        wanted = {"3 quick self-checks": 24 * (hours < 2), "Right.": 24 * (hours < 4), "Week 37": 1}
        assert came == +Counter(wanted), "each once; a nudge of yesterday is none"
        assert states(db) == +Counter({"sent": sum(wanted.values()), "dropped": 49 - sum(wanted.values())})
        assert api.violations == []
        with db.begin() as session:
            for person in PEOPLE:
                contact = people.contact_at(session, "telegram", str(person))
                assert contact is not None
                assert contact.state is ContactState.ACTIVE, "a proxy's 403 is no word of a person"
    db.close()
    assert over.astimezone(ZONE) > EVENING


async def test_f02_a_page_in_the_place_of_telegram_ends_no_receiving():
    """A proxy's "not found" was taken for a wrong token, for which the bot stops for good."""
    stop, came = asyncio.Event(), asyncio.Event()

    async def heard(_event: Incoming) -> None:
        came.set()

    async with BotApi() as api:
        for method in ("getMe", "deleteWebhook", "getUpdates"):
            api.fail(method, Fault("page", status=404, description=PAGE))
            api.fail(method, Fault("page", status=400, description=""))
        api.person(1000, "Mira")
        chat = TelegramChat(TOKEN, api_url=api.url, timeout_s=5, long_poll_s=1, first_pause_s=0.01)
        running = asyncio.create_task(chat.run(heard, stop))
        api.say(1000, "hello")
        await asyncio.wait(
            {running, asyncio.create_task(came.wait())}, timeout=30, return_when="FIRST_COMPLETED"
        )
        assert came.is_set()
        stop.set()
        await running


async def test_f03_another_bots_token_blocks_nobody_on_telegram(sqlite_url: str):
    """The people know another bot: this one may not write to any of them."""
    clock, db = HandClock(EVENING), connect(sqlite_url)
    async with BotApi(now=clock.now) as api:
        with db.begin() as session:
            for person in PEOPLE:
                if person % 2:
                    api.person(person, "Mira")  # Telegram knows them, but they never wrote to this bot
                people.meet(session, "telegram", str(person), str(person), EVENING)
                hello = pack(Message(Rich.of("3 quick self-checks"), urgent=False))
                outbox.put(session, "telegram", str(person), hello, now=EVENING)
        chat = TelegramChat(TOKEN, api_url=api.url, clock=clock, timeout_s=5)
        sender = OutboxSender(db, chat, clock)
        await live(sender, EVENING + timedelta(hours=1))
        assert states(db) == {"waiting": len(PEOPLE)}
        assert "not known there" in sender.breaker.reason
        with db.begin() as session:
            contacts = [people.contact_at(session, "telegram", str(person)) for person in PEOPLE]
            assert {contact.state for contact in contacts if contact is not None} == {ContactState.ACTIVE}
        await chat.close()
    db.close()
