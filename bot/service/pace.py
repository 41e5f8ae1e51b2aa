"""How fast a platform may be written to: overall, per chat, and per group.

Pure arithmetic on a number of seconds that only grows; the sender asks how long to wait.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from bot.chat.port import Limits

CHAT_BURST = 3.0
"""Messages that one chat may get at once. Telegram tolerates short bursts over one a second (its Bot FAQ);
an answer and the next question are two."""

FORGET_AFTER_S = 120.0


@dataclass
class _Bucket:
    """A token bucket: `rate` tokens a second, at most `size` of them."""

    rate: float
    size: float
    level: float
    at_s: float

    def wait_s(self, now_s: float) -> float:
        self.level = min(self.size, self.level + max(0.0, now_s - self.at_s) * self.rate)
        self.at_s = max(self.at_s, now_s)
        return 0.0 if self.level >= 1 - 1e-9 else (1 - self.level) / self.rate

    def take(self) -> None:
        self.level -= 1


@dataclass
class Pace:
    """Keeps to the limits of one platform.

    Attributes
    ----------
    limits : Limits
        What the platform allows.
    share : float
        This sender's part of the overall limit when several write to one platform: 1 / their number.
    """

    limits: Limits
    share: float = 1.0
    _overall: _Bucket = field(init=False)
    _chats: dict[str, _Bucket] = field(default_factory=dict)
    _held_until_s: float = -math.inf

    def __post_init__(self) -> None:
        """Start with an empty overall bucket of one message: never a burst at the start."""
        self._overall = _Bucket(self.limits.per_second * self.share, 1.0, 1.0, -math.inf)

    def wait_s(self, address: str, *, group: bool, now_s: float) -> float:
        """Return how long a message to an address has to wait, in seconds."""
        chat = self._chat(address, group=group, now_s=now_s)
        return max(self._held_until_s - now_s, self._overall.wait_s(now_s), chat.wait_s(now_s), 0.0)

    def take(self, address: str, *, group: bool, now_s: float) -> None:
        """Count a message to an address that is being sent now."""
        self._overall.wait_s(now_s)
        self._overall.take()
        self._chat(address, group=group, now_s=now_s).take()

    def hold(self, until_s: float) -> None:
        """Send nothing at all before a moment (in seconds): the platform asked for it."""
        self._held_until_s = max(self._held_until_s, until_s)

    def _chat(self, address: str, *, group: bool, now_s: float) -> _Bucket:
        bucket = self._chats.get(address)
        if bucket is None:
            self._forget_idle(now_s)
            rate = self.limits.per_group_minute / 60 if group else self.limits.per_chat_second
            bucket = self._chats[address] = _Bucket(rate, CHAT_BURST, CHAT_BURST, now_s)
        return bucket

    def _forget_idle(self, now_s: float) -> None:
        if len(self._chats) % 1000 == 999:
            idle = [name for name, b in self._chats.items() if now_s - b.at_s > FORGET_AFTER_S]
            for name in idle:
                del self._chats[name]
