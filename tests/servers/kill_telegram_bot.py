"""The service on Telegram that is killed: started once, it forks a life for every line that it reads.

A line is JSON with ``url``, ``telegram`` (address of the Bot API server), ``start`` (the moment at which the life's
clock starts) and ``speed``. It prints the life's process id.
"""

from __future__ import annotations

import asyncio
import signal
from datetime import datetime, timedelta
from typing import Any

from bot.app import build
from bot.chat.telegram.adapter import TelegramChat
from bot.clock import RehearsalClock
from bot.running import make_app_context
from bot.service.engine import receiver, sender
from bot.settings import Settings
from storage.base.database import connect
from storage.queue import due
from tests.servers.botapi import TOKEN
from tests.servers.forking import fork_a_life_per_line

LEASE_S = 1.0
"""Shorter than in production: a drill does not wait half a minute after a kill."""


async def live(order: dict[str, Any]) -> None:
    """Run until told to stop, or killed."""
    clock = RehearsalClock(datetime.fromisoformat(order["start"]), order["speed"])
    db, stop = connect(order["url"]), asyncio.Event()
    asyncio.get_running_loop().add_signal_handler(signal.SIGTERM, stop.set)
    chat = TelegramChat(
        TOKEN, api_url=order["telegram"], clock=clock, timeout_s=3, long_poll_s=2, first_pause_s=0.02
    )
    chat.attach(db)
    app_context = make_app_context(Settings(default_zone="Europe/London"), [chat])
    await build(db, clock, [chat], app_context, tick_s=0.1 * order["speed"]).run(stop)
    db.close()


def main() -> None:
    """Fork a life per line."""
    sender.LEASE_S, receiver.TRY_EVERY_S, due.LEASE = LEASE_S, 0.1, timedelta(seconds=LEASE_S)
    fork_a_life_per_line(live)


if __name__ == "__main__":
    main()
