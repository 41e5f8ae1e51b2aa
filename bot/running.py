"""One process that runs the app: opens the database, listens for signals, closes everything."""

from __future__ import annotations

import asyncio
import logging
import os
import signal
from collections.abc import Sequence
from pathlib import Path

from bot.app import build
from bot.chat.port import Chat
from bot.clock import Clock
from bot.service.desk import Desk
from bot.settings import Settings
from storage import migrations
from storage.database import connect

log = logging.getLogger(__name__)


async def run_until_stopped(settings: Settings, clock: Clock, chats: Sequence[Chat]) -> None:
    """Run the app until a termination signal or the end of the terminal's input."""
    prepare_folder(settings.data_dir)
    migrations.upgrade(settings.database, now=clock.now())
    db = connect(settings.database)
    stop = asyncio.Event()
    for number in (signal.SIGINT, signal.SIGTERM):
        asyncio.get_running_loop().add_signal_handler(number, stop.set)
    try:
        app = build(db, clock, chats, make_desk(settings, chats), tick_s=settings.tick_s)
        log.info("Running with %s", ", ".join(app.chats))
        await app.run(stop)
        log.info("Stopped")
    finally:
        db.close()


def make_desk(settings: Settings, chats: Sequence[Chat]) -> Desk:
    """Gather what steps need of the settings and the adapters."""
    links = {chat.name: getattr(chat, "join_link", None) for chat in chats}

    def join_link(platform: str, code: str) -> str | None:
        link = links.get(platform)
        found: str | None = link(code) if link is not None else None
        return found

    return Desk(
        join_link=join_link, zone=settings.default_zone, language=settings.default_language, settings=settings
    )


def prepare_folder(folder: Path) -> None:
    """Make the data folder for this user alone, and everything written later too."""
    os.umask(0o077)
    folder.mkdir(parents=True, exist_ok=True)
