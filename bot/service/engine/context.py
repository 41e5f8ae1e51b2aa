"""The long-lived things that carrying out effects needs: made once by `bot.app`, passed to every step."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from bot.teaching.memories import Memories


def no_link(platform: str, code: str) -> str | None:
    """Return no link: the platform has none, so the code has to be typed."""
    del platform, code
    return None


@dataclass(frozen=True)
class AppContext:
    """What a step may use besides its transaction.

    Attributes
    ----------
    join_link : callable
        ``join_link(platform, code)`` returns the address that opens the bot with that code, or None.
    zone, language : str
        Of a new class, until its teacher says otherwise.
    memories : Memories
        Retention models of the classes, kept between steps. A cache: the database is the truth.
    settings : Any
        The program's `bot.settings.Settings`, for the parts that need more of them.
    """

    join_link: Callable[[str, str], str | None] = no_link
    zone: str = "UTC"
    language: str = "en"
    memories: Memories = field(default_factory=Memories)
    settings: Any = None
