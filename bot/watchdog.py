"""Tells systemd that the program has started, goes on, and stops (the protocol of ``sd_notify``).

Whoever does the work calls `beat`, never a timer: a program whose loop turns but whose work stands still is
one that systemd shall restart. Without systemd nothing is sent.
"""

from __future__ import annotations

import logging
import os
import socket
from collections.abc import Mapping
from dataclasses import dataclass

log = logging.getLogger(__name__)


@dataclass
class Watchdog:
    """A line to the service manager.

    Attributes
    ----------
    address : str
        Path of its socket, or a name after ``@`` (Linux's abstract sockets); empty when there is none.
    every_s : float or None
        The service manager restarts us after so long without a beat [s]; None when it does not watch.
    """

    address: str = ""
    every_s: float | None = None
    _ready: bool = False
    _stopping: bool = False

    @classmethod
    def from_environment(cls, environment: Mapping[str, str] = os.environ) -> Watchdog:
        """Read ``NOTIFY_SOCKET``, ``WATCHDOG_USEC`` and ``WATCHDOG_PID`` as sd_watchdog_enabled(3) has it."""
        ours = environment.get("WATCHDOG_PID", str(os.getpid())) == str(os.getpid())
        period = environment.get("WATCHDOG_USEC", "")
        watched = ours and period.isdigit() and int(period) > 0
        return cls(environment.get("NOTIFY_SOCKET", ""), int(period) / 1e6 if watched else None)

    def beat(self) -> None:
        """Tell that work goes on; the first time, that the program has started."""
        if self._stopping:
            return
        if self._ready:
            self._tell("WATCHDOG=1")
        else:
            self._ready = True
            self._tell("READY=1\nSTATUS=Running")

    def stopping(self) -> None:
        """Tell that the program finishes what it has begun and ends."""
        if not self._stopping:
            self._stopping = True
            self._tell("STOPPING=1\nSTATUS=Finishing what was begun")

    def status(self, text: str) -> None:
        """Show one line in ``systemctl status``."""
        self._tell(f"STATUS={text}")

    def check(self, tick_s: float) -> None:
        """Say so where the watch is tighter than the work: an idle bot goes round once in `tick_s` [s]."""
        if self.every_s is not None and self.every_s < 3 * tick_s:
            log.warning(
                "WatchdogSec is %.0f s, the bot looks every %.0f s (tick_s). Set WatchdogSec to at least %.0f s.",
                self.every_s,
                tick_s,
                3 * tick_s,
            )

    def _tell(self, text: str) -> None:
        """Send one datagram. A manager that does not listen is no reason to stop asking students."""
        if not self.address:
            return
        place = "\0" + self.address[1:] if self.address.startswith("@") else self.address
        try:
            with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC) as line:
                line.setblocking(False)
                line.sendto(text.encode(), place)
        except OSError as error:
            log.warning("The service manager cannot be told %s: %s", text.partition("\n")[0], error.strerror)
