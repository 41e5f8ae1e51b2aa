"""The demo on a screen: clock, what was just asked and answered, progress. Text only; nothing depends on colour."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from datetime import datetime
from zoneinfo import ZoneInfo

from rich.console import Console, Group
from rich.live import Live
from rich.panel import Panel
from rich.text import Text

from bot.chat.port import Message
from bot.demo.school import TEACHER, ZONE

AROUND = 6
"""Rows of the screen that hold no message: the frame, the clock, the bar, a blank, and the line below."""
BAR = 60
"""Width of the progress bar [characters]."""
FEWEST, MOST = 3, 200
"""Lines of messages that are shown, on however small or large a terminal."""


@dataclass
class Screen:
    """What is shown while the term is played.

    Attributes
    ----------
    console : Console
        Where to.
    begins, ends : datetime
        The span that is played, for the progress bar.
    live : bool
        Whether the term is shown as it passes, where the console is a terminal.
    """

    console: Console
    begins: datetime
    ends: datetime
    title: str
    live: bool = True
    asked: int = 0
    right: int = 0
    wrong: int = 0
    unsure: int = 0
    now: datetime | None = None
    _lines: deque[Text] = field(default_factory=lambda: deque(maxlen=MOST))
    _live: Live | None = None

    def __enter__(self) -> Screen:
        """Show it live on a terminal; elsewhere say only a line a week."""
        if self.console.is_terminal and self.live:
            self._live = Live(self.render(), console=self.console, refresh_per_second=8, transient=False)
            self._live.start(refresh=True)
        return self

    def __exit__(self, *_problem: object) -> None:
        """Leave the last picture standing."""
        if self._live is not None:
            self._live.update(self.render())
            self._live.stop()

    def heard(self, address: str, message: Message) -> None:
        """Take a message of the bot."""
        text = message.text.plain
        if message.key.startswith("review:") and not message.replaces:
            self.asked += 1
        line = Text(no_wrap=True, overflow="ellipsis")
        line.append(f"{address:>8}  ", style="bold" if address == TEACHER else "cyan")
        line.append(" / ".join(part for part in text.splitlines() if part)[:300])
        self._lines.append(line)

    def step(self, now: datetime) -> None:
        """Show the present moment."""
        week = self._week(now)
        if self._live is None and (self.now is None or self._week(self.now) != week):
            self.console.print(f"Week {week}: {self.asked} questions asked so far")
        self.now = now
        if self._live is not None:
            self._live.update(self.render())

    def _week(self, now: datetime) -> int:
        return (now.date() - self.begins.date()).days // 7 + 1

    def _latest(self) -> list[Text]:
        """Return as many messages as the terminal has rows for: it may be made larger or smaller meanwhile."""
        rows = min(max(self.console.height - AROUND, FEWEST), MOST)
        return list(self._lines)[-rows:]

    def render(self) -> Panel:
        """Return the picture."""
        now = (self.now or self.begins).astimezone(ZoneInfo(ZONE))
        span = (self.ends - self.begins).total_seconds()
        done = ((self.now or self.begins) - self.begins).total_seconds()
        head = Text.assemble((now.strftime("%a %d %b %Y  %H:%M"), "bold"), f"  {self.asked} questions asked")
        filled = round(BAR * min(done / span, 1.0))
        bar = Text("━" * filled + "·" * (BAR - filled))
        return Panel(
            Group(head, bar, Text(""), *self._latest()), title=self.title, width=min(self.console.width, 110)
        )
