"""Which bot this database belongs to, on each platform.

People know one bot: another one may not write to them, and would not be believed. Its id, which the platform gives
(Telegram: `getMe`; Matrix: `whoami`), is kept once the platform has confirmed it.
"""

from __future__ import annotations

from datetime import datetime

from sqlmodel import Session

from storage.base import key_values


def _name(platform: str) -> str:
    return f"bot of {platform}"


def known(session: Session, platform: str) -> str:
    """Return the id of the bot that this database belongs to on a platform; empty while none was confirmed."""
    return key_values.get(session, _name(platform))


def confirm(session: Session, platform: str, bot_id: str, now: datetime) -> str:
    """Keep a bot's id, as the platform says it, unless there is one; return the one that is kept."""
    return key_values.get_or_put(session, _name(platform), bot_id, now)


def forget(session: Session, platform: str) -> None:
    """Let another bot take over."""
    key_values.forget(session, _name(platform))
