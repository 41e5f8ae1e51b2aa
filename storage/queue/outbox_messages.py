"""Messages on their way through the outbox: as they are written, and as a sender claims them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Protocol


class Enclosure(Protocol):
    """A picture or a document: what `bot.chat.port.Attachment` looks like."""

    @property
    def name(self) -> str: ...  # noqa: D102
    @property
    def media_type(self) -> str: ...  # noqa: D102
    @property
    def data(self) -> bytes: ...  # noqa: D102
    @property
    def alt(self) -> str: ...  # noqa: D102


class PackedMessage(Protocol):
    """A message as plain data: what `bot.chat.packing.pack` returns."""

    @property
    def body(self) -> Mapping[str, Any]: ...  # noqa: D102
    @property
    def attachment(self) -> Enclosure | None: ...  # noqa: D102


@dataclass(frozen=True, slots=True)
class MessageDraft:
    """A message to be written: see `put`."""

    platform: str
    address: str
    message: PackedMessage
    nudge_id: int | None = None
    not_before: datetime | None = None
    not_after: datetime | None = None


@dataclass(frozen=True, slots=True)
class Enclosed:
    """A picture or a document that goes with a message."""

    name: str
    media_type: str
    data: bytes
    alt: str = ""


@dataclass(frozen=True, slots=True)
class ClaimedMessage:
    """A claimed message.

    Attributes
    ----------
    token : str
        The same for every attempt, unlike any other message's, also after a restore.
    edits : str
        The platform's reference of the message that this one replaces, or empty.
    attempts : int
        How often it was tried, this time included; what failed through the platform's or the network's fault does not
        count.
    created_at : datetime
        When it was written.
    lease_token : int
        Which claim this is: what an earlier claimer says of the message is not heard any more.
    """

    id: int
    platform: str
    address: str
    key: str
    body: Mapping[str, Any]
    enclosed: Enclosed | None
    edits: str
    token: str
    nudge_id: int | None
    urgent: bool
    attempts: int
    not_after: datetime | None
    lease_token: int
    created_at: datetime
