"""The port between conversations and chat applications: what comes in, what goes out.

A conversation never knows which chat it is in. An adapter turns what its platform delivers into an
`Incoming`, hands it to ``on_event`` (which returns once the event is safely in the database), and turns
a `Message` into what its platform shows. Nothing here does any input or output.

Errors of sending form a small tree::

    SendError
    ├── SendFailed     try again later; `ambiguous` when the platform may have got it all the same
    ├── SendRefused    never try again: blocked, gone, or a message the platform will not take
    └── AddressMoved   try again at the new address
"""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal, Protocol

from bot.words.rich import Rich

Place = Literal["private", "class"]
"""Where something was said: the private chat of one person, or a channel or group of a class."""


# ---------------------------------------------------------------- going out


@dataclass(frozen=True, slots=True)
class Button:
    """Something to tap. Its meaning is `action`; typing one of `typed` means the same.

    Attributes
    ----------
    label : str
        The result of pressing it, in words.
    action : str
        At most 64 bytes of ASCII, without personal data: it can be forged and is checked on receipt.
    typed : tuple of str
        Lower-case texts that mean the same press, for example ``("b",)``.
    letter : str
        ``A`` to ``H`` for a choice of a question, empty for an ordinary button.
    """

    label: str
    action: str
    typed: tuple[str, ...] = ()
    letter: str = ""


@dataclass(frozen=True, slots=True)
class Attachment:
    """A picture or a document, with the text that says the same to someone who cannot see it."""

    name: str
    media_type: str
    data: bytes
    alt: str = ""

    @property
    def is_picture(self) -> bool:
        """Whether it is shown in the chat instead of offered as a file."""
        return self.media_type.startswith("image/")


@dataclass(frozen=True, slots=True)
class MenuEntry:
    """One command of the menu that a platform can show: one plain English word and what it does."""

    command: str
    description: str


@dataclass(frozen=True, slots=True)
class Message:
    """One message to one address.

    Attributes
    ----------
    text : Rich
        What it says. May be empty only when there is an attachment or a menu.
    buttons : tuple of tuple of Button
        Rows of buttons. Choices of a question stand one per row when they are long: the adapter decides.
    attachment : Attachment or None
        A picture or a document that goes with the text.
    key : str
        Our own name for the message (``review:42``), so that a later one can replace it. Empty if never.
    replaces : str
        Key of a message that this one takes the place of. Where the platform cannot edit, or the old
        message is unknown, it is sent as a new one.
    urgent : bool
        An answer to somebody who is waiting goes before nudges.
    menu : tuple of MenuEntry or None
        Commands to show in the platform's menu for this address; None leaves the menu as it is.
    language : str
        The language it is written in, for words that an adapter adds of its own; empty where nobody said.
    """

    text: Rich
    buttons: tuple[tuple[Button, ...], ...] = ()
    attachment: Attachment | None = None
    key: str = ""
    replaces: str = ""
    urgent: bool = True
    menu: tuple[MenuEntry, ...] | None = None
    language: str = ""

    @property
    def all_buttons(self) -> tuple[Button, ...]:
        """Every button, row after row."""
        return tuple(button for row in self.buttons for button in row)


# ---------------------------------------------------------------- coming in


@dataclass(frozen=True, slots=True)
class TextSaid:
    """Somebody wrote something. `reply_to` is the platform's reference of the message replied to."""

    text: str
    reply_to: str = ""


@dataclass(frozen=True, slots=True)
class ButtonPressed:
    """Somebody pressed a button of ours. `message_ref` is the platform's reference of that message.

    `typed` is what was typed instead of pressing; adapters leave it empty.
    """

    action: str
    message_ref: str = ""
    typed: str = ""


@dataclass(frozen=True, slots=True)
class FileSent:
    """Somebody sent a document or a picture. The bytes are fetched later by `handle`."""

    handle: str
    name: str
    media_type: str
    size_bytes: int
    caption: str = ""
    data: bytes | None = None


@dataclass(frozen=True, slots=True)
class PresenceChanged:
    """The platform says that we can, or can no longer, reach an address.

    ``blocked`` and ``unblocked``: a person's private chat. ``added``, ``removed``, ``limited``: the bot in a
    channel or group (``limited``: it may no longer write). ``moved``: the address is now `new_address`.
    """

    change: Literal["blocked", "unblocked", "added", "removed", "limited", "moved"]
    new_address: str = ""


Content = TextSaid | ButtonPressed | FileSent | PresenceChanged


@dataclass(frozen=True, slots=True)
class Incoming:
    """One thing that happened in a chat.

    Attributes
    ----------
    platform : str
        Name of the adapter: ``telegram``, ``matrix``, ``terminal``.
    key : str
        The platform's own identifier of this delivery. The same key a second time has no effect.
    address : str
        Where an answer goes: chat or room identifier.
    user : str
        The platform's identifier of the person; empty for a post in a channel that names no author.
    place : {"private", "class"}
        A private chat, or a class channel or group.
    at : datetime
        When it was said, aware UTC.
    content : Content
        What happened.
    name : str
        What the platform calls the person: a suggestion only, never stored unasked, never trusted.
    language : str
        The platform's language tag for the person, or empty.
    title : str
        What the platform calls a class place, or empty.
    """

    platform: str
    key: str
    address: str
    user: str
    place: Place
    at: datetime
    content: Content
    name: str = ""
    language: str = ""
    title: str = ""


# ---------------------------------------------------------------- the adapter


@dataclass(frozen=True, slots=True)
class Limits:
    """What a platform can show and how fast it may be written to."""

    text_length: int = 4096
    caption_length: int = 1024
    can_edit: bool = True
    per_second: float = 25.0
    per_chat_second: float = 1.0
    per_group_minute: float = 15.0


@dataclass(frozen=True, slots=True)
class Reception:
    """How receiving stands, for the health check.

    Attributes
    ----------
    heard_at : datetime or None
        When the platform last answered or brought something; None if it never did.
    problem : str
        What is wrong with receiving at present, in words; empty if nothing is.
    quiet_is_normal : bool
        Whether hearing nothing for long is no sign of trouble.
    """

    heard_at: datetime | None
    problem: str = ""
    quiet_is_normal: bool = False


OnIdentity = Callable[[str], Awaitable[None]]
"""Awaited with the bot's id as its platform says it, before anything comes in."""


def _no_group(_address: str) -> bool:
    return False


def _no_link(_code: str) -> str | None:
    return None


def _needs_none(_database: Any) -> None:
    return None


@dataclass(frozen=True, slots=True)
class Capabilities:
    """What an adapter can do besides receiving and sending, and what it needs for that.

    Everything has a value that fits a plain chat, so an adapter names only what it has. A misspelt name is an error of
    types, and of the start.

    Attributes
    ----------
    receives_alone : bool
        Only one process may receive at a time. Such an adapter's `run` may be called again after it has returned.
    sends_alone : bool
        Only the receiving process can send.
    identity : str
        The bot's id as the settings have it, to tell one bot from another; empty where there is none.
    confirm_identity : callable or None
        Takes an `OnIdentity`; needed with `identity`.
    is_group : callable
        Whether an address is a group or channel, which has a pace of its own.
    join_link : callable
        The address that opens the bot with a code, or None.
    attach : callable
        Takes the database (`storage.base.database.Database`, which the port does not know) before `run`, for what has
        to be remembered between two starts.
    reception : callable or None
        How receiving stands. None for an adapter that cannot lose its platform.

    Raises
    ------
    ValueError
        When two of them contradict each other.
    """

    receives_alone: bool = False
    sends_alone: bool = False
    identity: str = ""
    confirm_identity: Callable[[OnIdentity], None] | None = None
    is_group: Callable[[str], bool] = _no_group
    join_link: Callable[[str], str | None] = _no_link
    attach: Callable[[Any], None] = _needs_none
    reception: Callable[[], Reception] | None = None

    def __post_init__(self) -> None:
        if self.sends_alone and not self.receives_alone:
            raise ValueError(
                "Only the receiving process can send, but several may receive: say receives_alone too."
            )
        if bool(self.identity) != (self.confirm_identity is not None):
            raise ValueError("identity and confirm_identity belong together: give both, or neither.")


class SendError(Exception):
    """A message did not go out. See the subclasses for what to do."""


@dataclass(eq=False)
class SendFailed(SendError):
    """Try again, not before `retry_after_s` [s] if given. `ambiguous`: it may have arrived all the same.

    It is the platform's or the network's fault, so no message is used up by it; `ours`: a fault of this program, which
    may come every time.
    """

    reason: str
    retry_after_s: float | None = None
    ambiguous: bool = False
    whole_platform: bool = False
    ours: bool = False

    def __str__(self) -> str:
        return self.reason


@dataclass(eq=False)
class SendRefused(SendError):
    """Do not try again. `unreachable`: the person blocked us or the chat is gone, so stop writing there.

    `doubtful`: the platform only does not know the chat, or not us in it, as it would for another bot too. It is
    believed once somebody else could be reached.
    """

    reason: str
    unreachable: bool = False
    doubtful: bool = False

    def __str__(self) -> str:
        return self.reason


@dataclass(eq=False)
class AddressMoved(SendError):
    """The chat lives on under another address."""

    new_address: str

    def __str__(self) -> str:
        return "the chat has moved"


@dataclass(eq=False)
class ChatStopped(Exception):
    """Receiving ends for good: trying again is of no use. `reason` tells the operator what is wrong and what to do."""

    reason: str

    def __str__(self) -> str:
        return self.reason


OnEvent = Callable[[Incoming], Awaitable[None]]


class Chat(Protocol):
    """A chat application. Everything else about it stays in its own file."""

    @property
    def name(self) -> str:
        """Short name, stored with every address: ``telegram``."""
        ...

    @property
    def limits(self) -> Limits:
        """What it can show and how fast."""
        ...

    @property
    def capabilities(self) -> Capabilities:
        """What it can do besides; the same for as long as the program runs."""
        ...

    async def run(self, on_event: OnEvent, stop: asyncio.Event) -> None:
        """Deliver events until `stop` is set. `on_event` returns once the event is stored.

        What passes is tried again in here. Raises `ChatStopped` when only the operator can help; the other
        adapters go on.
        """
        ...

    async def send(self, address: str, message: Message, *, token: str, edits: str = "") -> str:
        """Send (or edit the message with reference `edits`) and return the platform's message reference.

        `token` is the same for every attempt of one message: platforms with idempotency use it.
        Raises a `SendError`, never a platform's own exception.
        """
        ...

    async def fetch(self, handle: str) -> bytes:
        """Return the bytes of a file that somebody sent. Raises `SendFailed` or `SendRefused`."""
        ...
