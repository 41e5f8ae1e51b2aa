"""What a conversation is made of: a state, an event, what is known; and what follows from them.

Theory of operation. ``step(state, event, facts)`` is pure: no clock, database, network or chance. It
returns the next state, *effects* (what shall be changed or worked out, as data) and *messages*. The service
carries out the effects and stores state, effects and messages in one transaction. An effect can come to
something that the conversation has to know (an answer was recorded; a review moment was found); that comes
back as a *result*, which is an event for the next step of the same conversation, in the same transaction,
with fresh facts.

Work that takes long (reading a file, drawing a report) is an effect that only writes a row of due work; its
result comes back later, in a transaction of its own. So nothing slow ever holds the database.

Whatever can be pressed can be typed. The buttons of what was said last are kept in the state as *offers*; a
text that equals one of their typed forms is that press (`bot.talk.router`).

Some messages are answered once: *menus*, whose key begins with `MENU`. The router keeps them in the state until
they are answered, by a press or by what `Step.answered` says; then it changes them in place: what was chosen stands
where the buttons were.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any, ClassVar

from bot.chat.port import Incoming, Message
from bot.words.rich import Rich

MENU = "menu:"
"""How the key of a message begins that is answered once."""


@dataclass(frozen=True, slots=True)
class Menu:
    """A message that waits to be answered once: its key, what it says, and the label of each of its actions."""

    key: str
    text: Rich
    labels: tuple[tuple[str, str], ...]

    def answered(self, choice: str) -> Message:
        """Return what takes its place: nothing to press any more, and what was chosen, if anything was."""
        text = self.text + (Rich.of("\n→ ") + Rich.of(choice, strong=True) if choice else Rich())
        return Message(text, replaces=self.key)


@dataclass(frozen=True, slots=True)
class State:
    """Where a conversation stands. `name` starts with the conversation's own name: ``student.answering``.

    `data` is small and JSON-able; facts of the school do not belong in it. `offers` are pairs of a typed
    form and the action that it means, `menus` what still waits to be answered once; the router keeps both.
    """

    name: str = "idle"
    data: Mapping[str, Any] = field(default_factory=dict)
    offers: tuple[tuple[str, str], ...] = ()
    menus: tuple[Menu, ...] = ()


IDLE = State()


class Effect:
    """Something to be carried out by the service. Subclasses are frozen dataclasses.

    `changes_speaker` says whether it may change who the speaker is or which classes are theirs; that is then
    loaded anew for the next step of the transaction.
    """

    __slots__ = ()
    changes_speaker: ClassVar[bool] = True


class Result:
    """What an effect came to, as an event for a conversation. Subclasses are frozen dataclasses.

    `conversation` names the conversation that takes it: a key of `bot.talk.router.CONVERSATIONS`.
    """

    __slots__ = ()
    conversation: ClassVar[str] = ""

    @property
    def hearers(self) -> tuple[int, ...]:
        """The persons who are told of it besides whoever the step answers; facts have the words to tell each."""
        return ()


def only(person_id: int | None) -> tuple[int, ...]:
    """Return somebody as the only hearer; nobody for None."""
    return () if person_id is None else (person_id,)


Event = Incoming | Result


@dataclass(frozen=True, slots=True)
class Outgoing:
    """A message and whom it is for.

    Attributes
    ----------
    message : Message
        What is said.
    person_id : int or None
        A person, wherever we last heard from them, in their own language (`bot.talk.facts.Facts.to`). None (and no
        address): whoever the step answers.
    platform, address : str
        A particular chat, such as a class channel.
    not_after : datetime or None
        Drop it when it could not be sent by then: a nudge must not arrive in quiet hours.
    nudge_id : int or None
        The nudge that it brings, so that its fate is known.
    """

    message: Message
    person_id: int | None = None
    platform: str = ""
    address: str = ""
    not_after: datetime | None = None
    nudge_id: int | None = None


@dataclass(frozen=True, slots=True)
class Step:
    """What follows from one event.

    Attributes
    ----------
    answered : tuple of str or None
        What a menu was answered with by other means than a press of its buttons: how its key begins, and the
        choice in words. An empty choice only takes the buttons away, also after a press: it had no effect.
    """

    state: State = IDLE
    effects: tuple[Effect, ...] = ()
    messages: tuple[Outgoing, ...] = ()
    answered: tuple[str, str] | None = None


def once(asked: str, *about: object) -> str:
    """Return the key of a message that is answered once: what it asks, and about what."""
    return MENU + ":".join([asked, *(str(one) for one in about)])


def answered(taken: Step, asked: str, choice: str = "") -> Step:
    """Return a step that also answers what was asked once; `asked` is how its key goes on.

    An empty choice only takes its buttons away.
    """
    return replace(taken, answered=(f"{MENU}{asked}", choice))


def reply(*messages: Message) -> tuple[Outgoing, ...]:
    """Address messages to whoever the step answers."""
    return tuple(Outgoing(message) for message in messages)
