"""Which conversation takes an event, and what a typed text means.

==========================  ===========================================================================
event                       conversation
==========================  ===========================================================================
anything in a class place   ``channel``
a result                    the one that the result names
a pressed button            the one that its action starts with (``student:…``)
a text equal to an offer    as if that button had been pressed, unless it replies to another question
a command                   the one of the command; without a slash only outside an open question, and
                            not where a teacher was asked for a sentence
any other text              the one whose state we are in, else the speaker's own role
a file                      the one whose state we are in, else ``teacher`` for teachers
==========================  ===========================================================================
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace

from bot.chat.port import ButtonPressed, Incoming, Message, TextSaid
from bot.talk import account, channel, joining, student, teacher
from bot.talk.commands import parse
from bot.talk.core import Event, Outgoing, Result, State, Step
from bot.talk.facts import Facts
from bot.talk.student.common import replied_elsewhere

Conversation = Callable[[State, Event, Facts], Step]

CONVERSATIONS: Mapping[str, Conversation] = {
    "joining": joining.step,
    "student": student.step,
    "teacher": teacher.step,
    "channel": channel.step,
    "account": account.step,
}

ANSWERING = "student.answering"
"""The state in which plain words are attempts at an answer, not commands."""


def step(state: State, event: Event, facts: Facts) -> Step:
    """Take one step of whichever conversation the event belongs to."""
    event = _pressed_by_typing(state, event, facts)
    taken = CONVERSATIONS[conversation_of(state, event, facts)](state, event, facts)
    return replace(taken, state=replace(taken.state, offers=_offers(taken, state)))


def conversation_of(state: State, event: Event, facts: Facts) -> str:
    """Return the name of the conversation that takes an event (see the table above)."""
    if isinstance(event, Result):
        return event.conversation
    if event.place == "class":
        return "channel"
    at_home = _waiting(state, event, facts)
    match event.content:
        case ButtonPressed(action=action):
            named = action.partition(":")[0]
            return named if named in CONVERSATIONS else at_home
        case TextSaid(text=text):
            typed = parse(text, facts.roles)
            if typed is None or (state.name == ANSWERING and not typed.slash):
                return at_home
            sentence = typed.rest and not typed.slash and teacher.takes_whole(text, state)
            return at_home if sentence else typed.command.conversation
        case _:
            return at_home


def _waiting(state: State, event: Incoming, facts: Facts) -> str:
    """Return the conversation whose state waits for what was said; else the speaker's own."""
    current = state.name.partition(".")[0]
    if current == "account":  # it waits for the name of a language, or for a button, and for nothing else
        typed = isinstance(event.content, TextSaid) and state.name == account.LANGUAGE
        return current if typed else _home(facts)
    return current if current in CONVERSATIONS else _home(facts)


def _home(facts: Facts) -> str:
    if "teacher" in facts.roles:
        return "teacher"
    return "student" if "student" in facts.roles else "joining"


def _pressed_by_typing(state: State, event: Event, facts: Facts) -> Event:
    if not (isinstance(event, Incoming) and isinstance(event.content, TextSaid) and event.place == "private"):
        return event
    typed = normal_form(event.content.text)
    action = dict(state.offers).get(typed)
    if action is None or replied_elsewhere(facts) is not None:
        return event
    return replace(event, content=ButtonPressed(action))


def normal_form(text: str) -> str:
    """Return how a typed press is compared: lower case, without ``)`` or ``.`` after a single letter."""
    text = " ".join(text.casefold().split())
    return text[0] if len(text) == 2 and text[1] in ").:" else text


def _offers(taken: Step, before: State) -> tuple[tuple[str, str], ...]:
    spoken = [out.message for out in taken.messages if _to_speaker(out)]
    if not spoken:
        return before.offers
    return offers_of(spoken)


def offers_of(messages: Iterable[Message]) -> tuple[tuple[str, str], ...]:
    """Return what can be typed instead of pressing a button of these messages: pairs of text and action."""
    return tuple(
        (normal_form(form), button.action)
        for message in messages
        for button in message.all_buttons
        for form in dict.fromkeys((button.label, button.letter, *button.typed))
        if form
    )


def _to_speaker(out: Outgoing) -> bool:
    return out.person_id is None and not out.address
