"""What this process has done since it started, as plain numbers. Only `bot.health` knows who reads them."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field


@dataclass
class Counters:
    """Counts of events and of due work; the latter by kind, which is a word of the program, never a name.

    Attributes
    ----------
    handled, troubled : int
        Events that were handled, and attempts at it that failed.
    done, failed, given_up : Counter of str
        Due work that was done, attempts that failed, and work that will not be tried again.
    """

    handled: int = 0
    troubled: int = 0
    done: Counter[str] = field(default_factory=Counter)
    failed: Counter[str] = field(default_factory=Counter)
    given_up: Counter[str] = field(default_factory=Counter)
