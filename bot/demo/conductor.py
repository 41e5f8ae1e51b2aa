"""Moves a hand-set clock from one moment at which something happens to the next."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from datetime import datetime

from bot.app import App
from bot.clock import HandClock
from bot.demo.chat import DemoChat
from bot.service.rounds import next_moment

POLL_S = 0.0005


async def conduct(
    app: App,
    clock: HandClock,
    chat: DemoChat,
    until: datetime,
    *,
    stop: asyncio.Event,
    after_step: Callable[[], Awaitable[None]] | None = None,
) -> None:
    """Play until a moment, or until `stop` is set.

    The clock never moves while anything is being handled, worked on or sent, so the outcome does not depend on
    the machine's speed.
    """
    while not chat.ready:  # noqa: ASYNC110 - a state of several parts, not one event
        await asyncio.sleep(POLL_S)
    await settle(app)
    while not stop.is_set():
        planned = await app.db.read(next_moment, clock.now())
        coming = min((moment for moment in (chat.next_at, planned) if moment is not None), default=until)
        if coming >= until:
            await clock.set(max(until, clock.now()))
            return
        await clock.set(max(coming, clock.now()))
        await chat.speak()
        if planned is not None and planned <= clock.now():
            app.wake()
        await settle(app)
        if after_step is not None:
            await after_step()


async def settle(app: App) -> None:
    """Wait until nothing is being handled, worked on or sent."""
    while not app.idle:  # noqa: ASYNC110 - a state of several parts, not one event
        await asyncio.sleep(POLL_S)
