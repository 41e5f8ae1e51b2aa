"""Which conversation takes an event, and what a typed text means.

==========================  ===========================================================================
event                       conversation
==========================  ===========================================================================
anything in a class place   ``channel``
a result                    the one that the result names
a pressed button            the one that its action starts with (``student:…``)
a text equal to an offer    as if that button had been pressed, unless it replies to another question
"the command" pressed       as if the command had been typed with its slash
a command                   the one of the command; without a slash only outside an open question, and
                            not where a teacher was asked for a sentence
a code                      ``joining``, where nothing was asked that it could answer
any other text              the one whose state we are in, else the speaker's own role
a file                      the one whose state we are in, else ``teacher`` for teachers
==========================  ===========================================================================
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from typing import Any

from bot.chat.port import ButtonPressed, Incoming, Message, TextSaid
from bot.talk import account, channel, joining, student, teacher
from bot.talk.commands import Typed, parse
from bot.talk.core import MENU, Event, Menu, Outgoing, Result, State, Step
from bot.talk.facts import Facts
from bot.talk.student.common import ASKED, replied_elsewhere, rest
from bot.talk.teacher.common import HOME
from bot.words.rich import Rich, Span

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

_AMOUNT = re.compile(r"\s*[0-9]+\s*[A-Za-z]+\s*$")
"""A number with its unit, such as an answer of ten signs."""


def step(state: State, event: Event, facts: Facts) -> Step:
    """Take one step of whichever conversation the event belongs to."""
    event = _pressed_by_typing(state, event, facts)
    meant = _command_meant(event)
    taken = CONVERSATIONS[conversation_of(state, meant, facts)](state, meant, facts)
    if isinstance(event, account.Erased):  # what waited to be answered is gone with everything else
        return replace(taken, state=replace(taken.state, offers=(), menus=()))
    done, waiting = _menus(taken, state, event)
    return replace(
        taken,
        state=replace(taken.state, offers=_offers(taken, state), menus=waiting),
        messages=(*done, *taken.messages),
    )


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
            if typed is None and _is_code(state, text, facts):
                return "joining"
            if typed is None or (_wants_text(state, typed) and not student.is_aside(typed, text, facts)):
                return at_home
            sentence = typed.rest and not typed.slash and teacher.takes_whole(text, state)
            return at_home if sentence else typed.command.conversation
        case _:
            return at_home


def _is_code(state: State, text: str, facts: Facts) -> bool:
    """Whether a text is a code that somebody who is known to us was told to send, and no answer to anything."""
    if not joining.looks_like_code(text) or state.name not in ("idle", ASKED, ANSWERING, HOME):
        return False
    asked = facts.learning.open
    return asked is None or (rest(state, facts).name == ASKED and _AMOUNT.match(text) is None)


def _wants_text(state: State, typed: Typed) -> bool:
    """Whether what looks like a command may be an attempt at an open text or formula."""
    return state.name == ANSWERING and not typed.slash


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
    return replace(event, content=ButtonPressed(action, typed=event.content.text))


def _command_meant(event: Event) -> Event:
    """Take the button "the command", pressed where a word could have been an answer, for the command with its slash."""
    if isinstance(event, Incoming) and isinstance(event.content, ButtonPressed):
        word = student.command_meant(event.content.action)
        if word is not None:
            return replace(event, content=TextSaid(f"/{word}"))
    return event


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


# ---------------------------------------------------------------- what is answered once

MOST_MENUS = 6
"""So many menus wait to be answered; what is older keeps its buttons."""


def _menus(taken: Step, before: State, event: Event) -> tuple[tuple[Outgoing, ...], tuple[Menu, ...]]:
    """Return what takes the place of the menus that were answered, and those that wait."""
    spoken = [out.message for out in taken.messages if _to_speaker(out)]
    opened = menus_of(spoken)
    done, waiting = [], []
    for menu in before.menus:
        choice = _choice(menu, taken, event)
        if any(message.replaces == menu.key for message in spoken):
            continue  # it is changed in place already
        if choice is None and any(menu.key == new.key for new in opened):
            choice = ""  # asked again below
        if choice is None:
            waiting.append(menu)
        else:
            done.append(Outgoing(menu.answered(choice)))
    return tuple(done), (*waiting, *opened)[-MOST_MENUS:]


def _choice(menu: Menu, taken: Step, event: Event) -> str | None:
    """Return what a menu was answered with; None if it was not."""
    if taken.answered is not None and menu.key.startswith(taken.answered[0]):
        return taken.answered[1]
    if isinstance(event, Incoming) and isinstance(event.content, ButtonPressed):
        return dict(menu.labels).get(event.content.action)
    return None


def menus_of(messages: Iterable[Message]) -> tuple[Menu, ...]:
    """Return those of some messages that are answered once."""
    return tuple(
        Menu(one.key, one.text, tuple((button.action, button.label) for button in one.all_buttons))
        for one in messages
        if one.key.startswith(MENU) and one.buttons
    )


def offering(state: State, message: Message) -> State:
    """Return the state of somebody else's conversation once they were sent a message from outside it."""
    kept = [menu for menu in state.menus if menu.key != message.key]
    return replace(state, offers=offers_of([message]), menus=(*kept, *menus_of([message]))[-MOST_MENUS:])


def pack_menus(menus: Iterable[Menu]) -> list[Any]:
    """Return menus as JSON-able data."""
    return [
        [menu.key, [[span.text, span.strong] for span in menu.text.spans], [list(one) for one in menu.labels]]
        for menu in menus
    ]


def unpack_menus(data: Iterable[Any]) -> tuple[Menu, ...]:
    """Rebuild menus from what `pack_menus` made of them."""
    return tuple(
        Menu(
            key,
            Rich(tuple(Span(text, strong) for text, strong in spans)),
            tuple((action, label) for action, label in labels),
        )
        for key, spans, labels in data
    )


def _to_speaker(out: Outgoing) -> bool:
    return out.person_id is None and not out.address
