"""Stops sending to a platform that is out of order, and tries it with one message until it is back.

A circuit breaker (common practice; the name is M. Nygard's, "Release It!", 2007, from memory). While it is *closed*,
messages flow. When several calls in a row fail through the platform's or the network's fault, it *opens*: nothing is
taken from the outbox. After a pause one message is tried, the *probe*, while the rest waits untouched. If it gets
through, the breaker closes and all goes on at the usual pace; else the pause is longer, up to a minute. No message is
used up by that: only its own time ends it.

One chat that alone fails is no outage; its messages are tried again by themselves. Each process has a breaker of its
own for each platform. Nothing here sleeps or asks a clock: moments are given.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta

IN_A_ROW = 3
"""So many calls in a row have to fail: with 7 of 100 failing by chance that is one in 3,000."""
FIRST_PAUSE_S = 2.0
LONGEST_PAUSE_S = 60.0
"""Nobody waits longer than this for the messages of an outage that is over."""


@dataclass
class Breaker:
    """The state of sending to one platform.

    Attributes
    ----------
    real : callable
        Turns real seconds into a duration of the caller's clock.
    rng : random.Random
        For jitter, so that several processes do not try at the same moment.
    since : datetime or None
        Since when it is open; None while it is closed.
    probe_at : datetime or None
        The next moment at which one message is tried.
    reason : str
        What the last failure was, in words.
    """

    real: Callable[[float], timedelta]
    rng: random.Random
    since: datetime | None = None
    probe_at: datetime | None = None
    reason: str = ""
    _probe: int | None = None
    _pauses: int = 0
    _failed: int = 0
    _addresses: set[str] = field(default_factory=set)

    @property
    def is_open(self) -> bool:
        """Whether the platform counts as out of order."""
        return self.since is not None

    def room(self, now: datetime, most: int) -> int:
        """Return how many messages may be taken now: all, one to try, or none."""
        if self.since is None:
            return most
        due = self.probe_at is None or self.probe_at <= now
        return 1 if due and self._probe is None else 0

    def lets(self, item_id: int) -> bool:
        """Whether a message that was taken may go out."""
        return self.since is None or self._probe == item_id

    def probes(self, item_id: int) -> None:
        """Note which message is tried, if it is open."""
        if self.since is not None:
            self._probe = item_id

    def let_go(self, item_id: int) -> None:
        """Note that a message was not tried after all."""
        if self._probe == item_id:
            self._probe = None

    def succeeded(self, now: datetime) -> timedelta | None:
        """Note that a message got through; return how long it was open if that closes it."""
        began, self.since, self.probe_at, self.reason = self.since, None, None, ""
        self._probe, self._pauses, self._failed = None, 0, 0
        self._addresses.clear()
        return None if began is None else now - began

    def failed(
        self,
        now: datetime,
        item_id: int,
        address: str,
        reason: str,
        *,
        whole_platform: bool = False,
        asked_s: float = 0.0,
    ) -> bool:
        """Note that a call failed through no fault of the message; return whether that opens it.

        Parameters
        ----------
        whole_platform : bool
            The failure says by itself that nobody can be reached.
        asked_s : float
            How long the platform asks to wait [s].
        """
        if self.since is not None:
            if self._probe == item_id:  # what was on its way as it opened says nothing new
                self._probe = None
                self._pause(now, reason, asked_s)
            return False
        self._failed += 1
        self._addresses.add(address)
        if self._failed < IN_A_ROW or not (whole_platform or len(self._addresses) > 1):
            return False
        self.trip(now, reason, asked_s)
        return True

    def trip(self, now: datetime, reason: str, pause_s: float = 0.0) -> None:
        """Open it."""
        self.since = self.since or now
        self._pause(now, reason, pause_s)

    def _pause(self, now: datetime, reason: str, least_s: float) -> None:
        doubled = min(LONGEST_PAUSE_S, FIRST_PAUSE_S * 2 ** min(self._pauses, 16))
        self._pauses += 1
        self.reason = reason
        self.probe_at = now + self.real(max(least_s, doubled * (0.75 + self.rng.random() / 4)))
