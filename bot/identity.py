"""The same bot as before, or none: a database written by one bot is not used by another by mistake.

With a wrong token every message would be refused, and everybody would seem to have left. The id in the settings is
compared before anything else begins; what the platform itself says is compared, and kept, before anything comes in.
"""

from __future__ import annotations

import logging
from collections.abc import Sequence
from functools import partial

from bot.chat.port import Chat, ChatStopped
from bot.clock import Clock
from storage.base.database import Database, Session
from storage.queue import bots

log = logging.getLogger(__name__)


class AnotherBot(ChatStopped):
    """The settings name another bot than the database knows. The text says what to do."""


async def check(db: Database, clock: Clock, chats: Sequence[Chat], *, new_bot: bool = False) -> None:
    """Compare the bots of the settings with those of the database, and have them confirmed by their platforms.

    Parameters
    ----------
    chats : sequence of Chat
        Adapters whose capabilities have an ``identity`` are looked at: the bot's id as the settings have it. They
        tell what the platform says.
    new_bot : bool
        The bot was replaced on purpose.

    Raises
    ------
    AnotherBot
        The database belongs to another one.
    """
    for chat in chats:
        capable = chat.capabilities
        given, confirm = capable.identity, capable.confirm_identity
        if confirm is None:
            continue
        before = await db.run(_before, chat.name, given, new_bot)
        if before not in ("", given):
            raise _another(chat.name, before, given)
        confirm(partial(_confirm, db, clock, chat.name))


def _before(session: Session, platform: str, given: str, new_bot: bool) -> str:
    before = bots.known(session, platform)
    if new_bot and before not in ("", given):
        log.warning("%s: bot %s takes over from %s, as told", platform, given, before)
        bots.forget(session, platform)
        return ""
    return before


async def _confirm(db: Database, clock: Clock, platform: str, bot_id: str) -> None:
    kept = await db.run(bots.confirm, platform, bot_id, clock.now())
    if kept != bot_id:
        raise _another(platform, kept, bot_id)


def _another(platform: str, kept: str, given: str) -> AnotherBot:
    return AnotherBot(
        f"This database belongs to the {platform} bot {kept}; the settings are those of {given}, whom nobody in it "
        "knows. Nothing was sent. Put the right token into the settings. If the bot was replaced for good, start it "
        "once with: holdfast run --new-bot"
    )
