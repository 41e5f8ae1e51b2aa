"""The chat in a terminal: no account, no server. One keyboard plays everybody, in turn.

A line is said by whoever has the keyboard. Lines that start with a colon are for the terminal itself:
``:mira`` hands the keyboard to the user ``mira``, ``:file PATH [caption]`` sends a file, ``:class TEXT`` posts in the
class channel, ``:who`` lists who has written, ``:quit`` ends. Buttons are pressed by typing their words or, for a
choice, its letter.
"""

from __future__ import annotations

import asyncio
import mimetypes
import secrets
from collections import defaultdict, deque
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field
from pathlib import Path

from rich.console import Console
from rich.text import Text

from bot.chat.port import (
    Capabilities,
    Content,
    FileSent,
    Incoming,
    Limits,
    Message,
    OnEvent,
    Place,
    SendRefused,
    TextSaid,
)
from bot.clock import Clock

CHANNEL = "class"
"""Address of the one class channel of a terminal."""

MISSED = 5
"""How many messages are kept for somebody who does not have the keyboard."""

ReadLine = Callable[[str], Awaitable[str | None]]
"""Shows a prompt and returns the next line, or None at the end of the input."""


@dataclass
class TerminalChat:
    """A `Chat` on a console.

    Attributes
    ----------
    clock : Clock
        Tells when something was said.
    out : rich.console.Console
        Where messages are shown.
    read_line : ReadLine
        Where lines come from.
    folder : Path
        Where documents and pictures that the bot sends are put.
    user : str
        Who has the keyboard.
    own_only : bool
        Whether only messages to who has the keyboard, and to the class channel, are shown. The latest ones to somebody
        else are shown when the keyboard is handed to them.
    """

    clock: Clock
    out: Console
    read_line: ReadLine
    folder: Path
    user: str = "you"
    name: str = "terminal"
    own_only: bool = False
    limits: Limits = field(
        default_factory=lambda: Limits(per_second=1e6, per_chat_second=1e6, per_group_minute=1e6)
    )
    capabilities: Capabilities = field(default_factory=Capabilities)
    _seen: list[str] = field(default_factory=list)
    _told: dict[str, str] = field(default_factory=dict)
    """What each chat read last, so that the words of a picture are not said twice."""
    _missed: dict[str, deque[Text]] = field(default_factory=lambda: defaultdict(lambda: deque(maxlen=MISSED)))
    """What was sent to those who do not have the keyboard, by address."""
    _count: int = 0
    _run: str = field(default_factory=lambda: secrets.token_hex(4))

    async def run(self, on_event: OnEvent, stop: asyncio.Event) -> None:
        """Read lines until the input ends, ``:quit``, or `stop`; then set `stop`: the person has left."""
        reading = asyncio.create_task(self._read(on_event))
        stopping = asyncio.create_task(stop.wait())
        try:
            await asyncio.wait({reading, stopping}, return_when=asyncio.FIRST_COMPLETED)
        finally:
            stop.set()
            for task in (reading, stopping):
                task.cancel()
            ended = await asyncio.gather(reading, stopping, return_exceptions=True)
        for outcome in ended:
            if isinstance(outcome, Exception):
                raise outcome

    async def _read(self, on_event: OnEvent) -> None:
        while (line := await self.read_line(f"{self.user}> ")) is not None:
            if line.strip() == ":quit":
                return
            event = self._event(line.strip())
            if event is not None:
                await on_event(event)

    def _event(self, line: str) -> Incoming | None:
        if not line:
            return None
        if not line.startswith(":"):
            return self._said(TextSaid(line))
        word, _, rest = line[1:].partition(" ")
        match word:
            case "who":
                self.out.print("  " + ", ".join(self._seen or ["nobody yet"]), highlight=False)
            case "class" if rest:
                return self._said(TextSaid(rest), place="class")
            case "file":
                return self._file(rest)
            case "":
                self.out.print("  After the colon comes a name, for example :mira", highlight=False)
            case _:
                self.user = word
                for shown in self._missed.pop(word, ()):
                    self.out.print(shown)
        return None

    def _file(self, rest: str) -> Incoming | None:
        name, _, caption = rest.partition(" ")
        path = Path(name).expanduser()
        if not path.is_file():
            self.out.print(
                f'  There is no file "{name}". Write :file PATH, then a caption if wanted.', highlight=False
            )
            return None
        media_type = mimetypes.guess_type(path.name)[0] or "application/octet-stream"
        size = path.stat().st_size
        return self._said(FileSent(str(path), path.name, media_type, size, caption))

    def _said(self, content: Content, *, place: Place = "private") -> Incoming:
        self._count += 1
        if self.user not in self._seen:
            self._seen.append(self.user)
        return Incoming(
            platform=self.name,
            key=f"{self._run}-{self._count}",
            address=CHANNEL if place == "class" else self.user,
            user=self.user,
            place=place,
            at=self.clock.now(),
            content=content,
            name=self.user,
        )

    async def send(self, address: str, message: Message, *, token: str, edits: str = "") -> str:
        """Show a message; an edited one is shown again with a sign that it replaces the earlier one."""
        shown = Text()
        shown.append(f"{address} ", style="bold cyan")
        shown.append("| ", style="dim")
        if edits:
            shown.append("(changed) ", style="dim")
        for span in message.text.spans:
            shown.append(span.text, style="bold" if span.strong else "")
        for row in message.buttons:
            shown.append("\n  ")
            for button in row:
                letter = f"{button.letter}  " if button.letter else ""
                shown.append(f"[{letter}{button.label}] ", style="cyan")
        if message.attachment is not None:
            path = self._put(message.attachment.name, message.attachment.data)
            if message.attachment.alt not in ("", message.text.plain, self._told.get(address)):
                shown.append(f"\n  {message.attachment.alt}", style="italic")
            shown.append(f"\n  file: {path}", style="green")
        if self.own_only and address not in (self.user, CHANNEL):
            self._missed[address].append(shown)
        else:
            self.out.print(shown)
        self._told[address] = message.text.plain if message.attachment is None else message.attachment.alt
        return edits or f"{self._run}:{token}"

    def _put(self, name: str, data: bytes) -> Path:
        self.folder.mkdir(parents=True, exist_ok=True)
        path = self.folder / Path(name).name
        path.write_bytes(data)
        return path

    async def fetch(self, handle: str) -> bytes:
        """Read the file whose path was typed."""
        try:
            return await asyncio.to_thread(Path(handle).read_bytes)
        except OSError as error:
            raise SendRefused(f"The file cannot be read: {error.strerror}.") from error


def keyboard(out: Console) -> ReadLine:
    """Return a reader of lines from standard input that does not block the loop."""

    async def read_line(prompt: str) -> str | None:
        try:
            return await asyncio.to_thread(out.input, Text(prompt, style="bold"))
        except EOFError:
            return None

    return read_line
