"""How effects are carried out and due work is done: two registries that the other service modules fill.

An effect is carried out inside the transaction of its step, by the one function registered for its type. Due
work is done by the one coroutine registered for its kind; it may fetch, parse and draw outside transactions and
ends with one transaction that stores what came of it and marks the row done.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, TypeVar

from bot.chat.port import Place
from bot.service.engine.context import AppContext
from bot.talk.core import Effect, Result
from bot.words import Words
from storage.base.database import Session


@dataclass(frozen=True, slots=True)
class Speaker:
    """Whose conversation it is, and where an answer goes.

    `name` and `language` are what the platform says: suggestions, never stored unasked.
    """

    platform: str
    user: str
    address: str
    place: Place = "private"
    language: str = ""
    name: str = ""

    @property
    def dialogue(self) -> str:
        """Whose conversation it is, as the key of the stored dialogue.

        A class place has a conversation of its own: what a teacher posts there must not disturb what stands
        in the private chat.
        """
        return self.user if self.place == "private" else f"#{self.address}"[:255]

    def as_data(self) -> dict[str, str]:
        """Return it as JSON-able data, for the payload of due work."""
        return {
            "platform": self.platform,
            "user": self.user,
            "address": self.address,
            "place": self.place,
            "language": self.language,
            "name": self.name,
        }

    @classmethod
    def from_data(cls, data: Mapping[str, Any]) -> Speaker:
        """Rebuild a speaker from `as_data`."""
        place: Place = "class" if data["place"] == "class" else "private"
        return cls(data["platform"], data["user"], data["address"], place, data["language"], data["name"])


@dataclass(frozen=True, slots=True)
class Work:
    """What carrying out an effect may use.

    `session` is the open transaction of the step, `words` are those that the step answered in. `said_at` is when the
    person said or tapped it, by the platform's clock; None where nobody did.
    """

    session: Session
    now: datetime
    speaker: Speaker
    person_id: int | None
    app_context: AppContext
    words: Words
    said_at: datetime | None = None


E = TypeVar("E", bound=Effect)
Carrier = Callable[[Work, Any], Sequence[Result]]

_CARRIERS: dict[type[Effect], Carrier] = {}


def carries(
    kind: type[E],
) -> Callable[[Callable[[Work, E], Sequence[Result]]], Callable[[Work, E], Sequence[Result]]]:
    """Register the function that carries out one type of effect."""

    def register(carrier: Callable[[Work, E], Sequence[Result]]) -> Callable[[Work, E], Sequence[Result]]:
        if kind in _CARRIERS:
            raise ValueError(f"Two functions carry out {kind.__name__}.")
        _CARRIERS[kind] = carrier
        return carrier

    return register


def carry_out(work: Work, effect: Effect) -> Sequence[Result]:
    """Carry out one effect and return what it came to.

    Raises
    ------
    LookupError
        No function is registered for this type of effect: a defect, found by a test over all effects.
    """
    carrier = _CARRIERS.get(type(effect))
    if carrier is None:
        raise LookupError(f"Nothing carries out {type(effect).__name__}.")
    return carrier(work, effect)
