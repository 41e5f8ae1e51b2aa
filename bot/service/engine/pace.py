"""How fast one chat or group may be written to, and when nobody at all.

Pure arithmetic on a number of seconds that only grows; the sender asks how long to wait. The limit of the platform as
a whole is shared between processes (`storage.queue.pacing`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
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
    """

    limits: Limits
    _chats: dict[str, _Bucket] = field(default_factory=dict)
    _held_until_s: float = -math.inf

    def wait_s(self, address: str, *, group: bool, now_s: float) -> float:
        """Return how long a message to an address has to wait, in seconds."""
        chat = self._chat(address, group=group, now_s=now_s)
        return max(self._held_until_s - now_s, chat.wait_s(now_s), 0.0)

    def take(self, address: str, *, group: bool, now_s: float) -> None:
        """Count a message to an address that is being sent now."""
        bucket = self._chat(address, group=group, now_s=now_s)
        bucket.wait_s(now_s)
        bucket.take()

    def hear(self, address: str, *, group: bool, at_s: Sequence[float]) -> None:
        """Count messages that other processes may have sent to a chat, oldest first."""
        if not at_s:
            return
        rate, size = self._rate(group=group), CHAT_BURST
        told = _Bucket(rate, size, size, at_s[0])
        for moment in at_s:
            told.wait_s(moment)
            told.take()
        known = self._chat(address, group=group, now_s=at_s[-1])
        known.wait_s(told.at_s)
        told.wait_s(known.at_s)
        known.level = min(known.level, told.level)

    def hold(self, until_s: float) -> None:
        """Send nothing at all before a moment (in seconds): the platform asked for it."""
        self._held_until_s = max(self._held_until_s, until_s)

    def _chat(self, address: str, *, group: bool, now_s: float) -> _Bucket:
        bucket = self._chats.get(address)
        if bucket is None:
            self._forget_idle(now_s)
            bucket = self._chats[address] = _Bucket(self._rate(group=group), CHAT_BURST, CHAT_BURST, now_s)
        return bucket

    def _rate(self, *, group: bool) -> float:
        return self.limits.per_group_minute / 60 if group else self.limits.per_chat_second

    def _forget_idle(self, now_s: float) -> None:
        if len(self._chats) % 1000 == 999:
            idle = [name for name, b in self._chats.items() if now_s - b.at_s > FORGET_AFTER_S]
            for name in idle:
                del self._chats[name]
