"""How effects are carried out and due work is done: two registries that the other service modules fill.

An effect is carried out inside the transaction of its step, by the one function registered for its type. Due
work is done by the one coroutine registered for its kind; it may fetch, parse and draw outside transactions and
ends with one transaction that stores what came of it and marks the row done.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, TypeVar

from bot.chat.port import Place
from bot.talk.core import Effect, Result


@dataclass(frozen=True, slots=True)
class Speaker:
    """Whose conversation it is, and where an answer goes."""

    platform: str
    user: str
    address: str
    place: Place = "private"
    language: str = ""


@dataclass(frozen=True, slots=True)
class Work:
    """What carrying out an effect may use. `session` is the open transaction of the step."""

    session: Any
    now: datetime
    speaker: Speaker
    person_id: int | None
    desk: Any


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
