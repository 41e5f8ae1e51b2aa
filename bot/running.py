"""One process that runs the app: opens the database, listens for signals, closes everything."""

from __future__ import annotations

import asyncio
import contextlib
import gc
import logging
import os
import signal
from collections.abc import AsyncIterator, Sequence
from importlib import metadata
from pathlib import Path

from bot import identity
from bot.app import App, build
from bot.chat.port import Chat
from bot.clock import Clock
from bot.service.engine.context import AppContext
from bot.settings import Settings
from bot.watchdog import Watchdog
from storage import migrations
from storage.base.database import connect

log = logging.getLogger(__name__)


async def run_until_stopped(
    settings: Settings, clock: Clock, chats: Sequence[Chat], *, new_bot: bool = False
) -> None:
    """Run the app until a termination signal or the end of the terminal's input.

    Raises `bot.identity.AnotherBot` when the database belongs to another bot, unless `new_bot` says so.
    """
    watchdog = Watchdog.from_environment()
    watchdog.status("Opening the database")
    calm_collector()
    prepare_folder(settings.data_dir)
    migrations.upgrade(settings.database, now=clock.now())
    db = connect(settings.database)
    try:
        for chat in chats:
            chat.capabilities.attach(db)
        await identity.check(db, clock, chats, new_bot=new_bot)
        app = build(db, clock, chats, make_app_context(settings, chats), tick_s=settings.tick_s)
        app.on_beat = watchdog.beat
        watchdog.check(settings.tick_s)
        async with _watched(settings, app):
            log.info("Running with %s", ", ".join(app.chats))
            await app.run(_until_signal(watchdog))
        log.info("Stopped")
    finally:
        db.close()


def _until_signal(watchdog: Watchdog) -> asyncio.Event:
    """Return an event that is set when the program is asked to end."""
    stop = asyncio.Event()

    def end() -> None:
        watchdog.stopping()
        stop.set()

    for number in (signal.SIGINT, signal.SIGTERM):
        asyncio.get_running_loop().add_signal_handler(number, end)
    return stop


@contextlib.asynccontextmanager
async def _watched(settings: Settings, app: App) -> AsyncIterator[None]:
    """Serve health and figures while the block runs, if the settings name a place for them."""
    if not settings.health_listen:
        yield
        return
    from bot.health import Health, serving

    async with serving(settings.health_listen, Health(app, settings.data_dir, version())) as address:
        log.info("Health on %s/healthz, /readyz and /metrics", address)
        yield


def version() -> str:
    """Return the version of the program, empty for a checkout that was not installed."""
    try:
        return metadata.version("holdfast")
    except metadata.PackageNotFoundError:
        return ""


def make_app_context(settings: Settings, chats: Sequence[Chat]) -> AppContext:
    """Gather what steps need of the settings and the adapters."""
    links = {chat.name: chat.capabilities.join_link for chat in chats}

    def join_link(platform: str, code: str) -> str | None:
        link = links.get(platform)
        return None if link is None else link(code)

    return AppContext(
        join_link=join_link, zone=settings.default_zone, language=settings.default_language, settings=settings
    )


def calm_collector() -> None:
    """Let the garbage collector look less often, and not at what the imports made: a tenth of the time otherwise."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(100_000, 50, 100)


def prepare_folder(folder: Path) -> None:
    """Make the data folder for this user alone, and everything written later too."""
    os.umask(0o077)
    folder.mkdir(parents=True, exist_ok=True)
