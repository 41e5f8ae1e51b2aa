"""What everybody has who is stored here, in whatever role: their language, their data, moving, erasing.

Theory of operation. These words belong to a person, not to a class: a student, a teacher, and somebody who has
left every class have them alike. What was being asked before stays asked; only ``language`` and ``erase`` ask
something themselves, and then go back to rest.

======================  ====================================================================
state                   plain words mean
======================  ====================================================================
``account.language``    a language
``account.erasing``     nothing: only the buttons count; anything else goes to the speaker's own
                        conversation (`bot.talk.router`)
======================  ====================================================================

A class must not be left without a teacher while its students are asked: whoever alone teaches an open class is
told how to hand it over or end it, and nothing is erased.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, ClassVar

from bot.chat.port import Attachment, Button, ButtonPressed, Incoming, Message, TextSaid
from bot.talk.commands import parse
from bot.talk.core import Effect, Event, Result, State, Step, answered, reply
from bot.talk.facts import Facts
from bot.talk.help import menu
from bot.talk.student.common import button, menu_of, rest, say
from bot.words import LANGUAGES, language_named, words
from bot.words.rich import Rich

LANGUAGE, ERASING = "account.language", "account.erasing"
ERASURE = "erasure"
"""Our name for the question whether really. No menu of the router's: after a yes nothing is known of it any more."""

# ---------------------------------------------------------------- effects and results


@dataclass(frozen=True, slots=True)
class SetLanguage(Effect):
    """Keep the language that the speaker chose."""

    language: str


@dataclass(frozen=True, slots=True)
class Export(Effect):
    """Put everything stored about the speaker into files."""


@dataclass(frozen=True, slots=True)
class IssueMoveCode(Effect):
    """Make a code with which the speaker goes on in another chat application."""


@dataclass(frozen=True, slots=True)
class AskErasure(Effect):
    """See what erasing the speaker would mean."""


@dataclass(frozen=True, slots=True)
class Erase(Effect):
    """Erase everything stored about the speaker. `language`: in which to say so, since that goes too."""

    language: str


class AccountResult(Result):
    """A result for this conversation."""

    __slots__ = ()
    conversation: ClassVar[str] = "account"


@dataclass(frozen=True, slots=True)
class LanguageKept(AccountResult):
    """The language is kept; facts speak it from now on."""


@dataclass(frozen=True, slots=True)
class Preparing(AccountResult):
    """The files take a moment; they follow."""


@dataclass(frozen=True, slots=True)
class Exported(AccountResult):
    """Everything stored about the speaker, as files."""

    files: tuple[Attachment, ...]


@dataclass(frozen=True, slots=True)
class MoveCode(AccountResult):
    """The code for another chat application, and how long it is good [min]."""

    code: str
    minutes: int


@dataclass(frozen=True, slots=True)
class NothingStored(AccountResult):
    """Nothing is stored about the speaker."""


@dataclass(frozen=True, slots=True)
class ErasureAsked(AccountResult):
    """What erasing means: classes that go on without the speaker, and open ones that would have no teacher.

    Attributes
    ----------
    alone, shared : tuple of str
        Names of open classes that the speaker teaches alone, and with others.
    staff : bool
        Whether the right to make classes goes too.
    """

    alone: tuple[str, ...] = ()
    shared: tuple[str, ...] = ()
    staff: bool = False


@dataclass(frozen=True, slots=True)
class Erased(AccountResult):
    """Nothing is stored about the speaker any more."""

    language: str


# ---------------------------------------------------------------- step


def step(state: State, event: Event, facts: Facts) -> Step:
    """Take one step."""
    if isinstance(event, Result):
        return RESULTS[type(event)](state, event, facts)
    assert isinstance(event, Incoming)  # noqa: S101 - an event is one or the other
    match event.content:
        case ButtonPressed(action=action):
            return _pressed(state, action, facts)
        case TextSaid(text=text):
            return _said(state, text, facts)
        case _:
            return Step(_back(state, facts))


def _pressed(state: State, action: str, facts: Facts) -> Step:
    _, _, named = action.partition(":")
    verb, *parts = named.split(":")
    taken = BUTTONS.get(verb)
    if taken is None:
        return Step(_back(state, facts), (), reply(say(facts, "not_yours")))
    return taken(state, parts, facts)


def _said(state: State, text: str, facts: Facts) -> Step:
    typed = parse(text, facts.roles)
    if typed is not None and typed.command.word in COMMANDS:
        return COMMANDS[typed.command.word](state, typed.rest, facts)
    return language_text(state, text, facts)


def _back(state: State, facts: Facts) -> State:
    """Return where to be when nothing of this is asked any more: what was asked before stays asked."""
    return rest(state, facts) if state.name.startswith("account.") else state


def _asking(state: State, name: str) -> State:
    return State(name, {key: state.data[key] for key in ("class",) if key in state.data})


# ---------------------------------------------------------------- language


def on_language(state: State, text: str, facts: Facts) -> Step:
    """Choose the language."""
    if facts.person_id is None:
        return Step(state, (), reply(say(facts, "account.language.stranger")))
    if text:
        return language_text(state, text, facts)
    row = tuple(
        Button(own_name(tag), f"account:language:{tag}", (tag, words("en").text(f"language.{tag}")))
        for tag in LANGUAGES
    )
    message = menu_of(facts, "language", "account.language", (row,))
    return Step(_asking(state, LANGUAGE), (), reply(message))


def own_name(tag: str) -> str:
    """Return what a language calls itself: somebody who looks for it may read no other."""
    return words(tag).text(f"language.{tag}")


def language_text(state: State, text: str, facts: Facts) -> Step:
    """Take a typed language: its tag, or its name in any language there is."""
    tag = language_named(text)
    if tag is not None:
        return Step(_back(state, facts), (SetLanguage(tag),))
    known = facts.words.listed([own_name(tag) for tag in LANGUAGES])
    return Step(_back(state, facts), (), reply(say(facts, "account.language.unknown", known=known)))


def language_button(state: State, parts: list[str], facts: Facts) -> Step:
    """Take an offered language: ``account:language:TAG``."""
    if facts.person_id is None:
        return Step(state, (), reply(say(facts, "account.language.stranger")))
    return language_text(state, parts[0] if parts else "", facts)


def on_language_kept(state: State, event: LanguageKept, facts: Facts) -> Step:
    """Say so in the new language; the platform's menu follows."""
    del event
    done = Step(state, (), reply(Message(facts.words.say("account.language.done"), menu=menu(facts))))
    return answered(done, "language", own_name(facts.words.language))


# ---------------------------------------------------------------- data, move


def on_data(state: State, text: str, facts: Facts) -> Step:
    """Put everything stored into files."""
    del text
    return Step(state, (Export(),))


def on_preparing(state: State, event: Preparing, facts: Facts) -> Step:
    """Say nothing: the files follow within seconds, and one message is better than two."""
    del event, facts
    return Step(state)


def on_exported(state: State, event: Exported, facts: Facts) -> Step:
    """Hand the files over; the first one says what they are."""
    messages = [
        Message(facts.words.say("account.data") if place == 0 else Rich(), attachment=file)
        for place, file in enumerate(event.files)
    ]
    return Step(state, (), reply(*messages))


def on_move(state: State, text: str, facts: Facts) -> Step:
    """Make a code for another chat application."""
    del text
    return Step(state, (IssueMoveCode(),))


def on_move_code(state: State, event: MoveCode, facts: Facts) -> Step:
    """Say the code."""
    return Step(state, (), reply(say(facts, "account.move", code=event.code, minutes=event.minutes)))


def on_nothing_stored(state: State, event: NothingStored, facts: Facts) -> Step:
    """Say that there is nothing."""
    del event
    return Step(_back(state, facts), (), reply(say(facts, "account.nothing")))


# ---------------------------------------------------------------- erase


def on_erase(state: State, text: str, facts: Facts) -> Step:
    """Find out what erasing means before asking whether really."""
    del text
    return Step(state, (AskErasure(),))


def on_erasure_asked(state: State, event: ErasureAsked, facts: Facts) -> Step:
    """Ask before erasing; or say what has to come first."""
    if event.alone:
        alone = facts.words.listed(list(event.alone))
        message = say(facts, "account.erase.alone", names=alone, n=len(event.alone))
        return Step(_back(state, facts), (), reply(message))
    row = (
        button(facts, "account.button.erase", "account:erase:yes"),
        button(facts, "account.button.keep", "account:keep", "no"),
    )
    return Step(_asking(state, ERASING), (), reply(Message(_meaning(event, facts), (row,), key=ERASURE)))


def _meaning(event: ErasureAsked, facts: Facts) -> Rich:
    """Say what goes: a student's answers, a teacher's place in each class, the right to make classes."""
    teaches = bool(event.shared) or event.staff
    key = "account.erase.teacher" if teaches and not facts.students else "account.erase"
    text = facts.words.say(key)
    if event.shared:
        names = facts.words.listed(list(event.shared))
        text = text + Rich.of(" ") + facts.words.say("account.erase.shared", names=names, n=len(event.shared))
    if event.staff:
        text = text + Rich.of(" ") + facts.words.say("account.erase.staff")
    return text + Rich.of(" ") + facts.words.say("account.erase.final")


def erase_button(state: State, parts: list[str], facts: Facts) -> Step:
    """Erase, if that is what was asked about: an old button only asks again."""
    if parts != ["yes"] or state.name != ERASING:
        return on_erase(state, "", facts)
    return Step(_back(state, facts), (Erase(facts.words.language),))


def on_erased(state: State, event: Erased, facts: Facts) -> Step:
    """Say so, once, and forget where the conversation stood."""
    del state, facts
    return Step(State(), (), reply(Message(words(event.language).say("account.erased"), menu=())))


def on_keep(state: State, parts: list[str], facts: Facts) -> Step:
    """Change nothing; say so in place of the question."""
    del parts
    asked = ERASURE if state.name == ERASING else ""
    return Step(_back(state, facts), (), reply(say(facts, "account.kept", replaces=asked)))


# ---------------------------------------------------------------- tables

COMMANDS: Mapping[str, Callable[[State, str, Facts], Step]] = {
    "language": on_language,
    "data": on_data,
    "move": on_move,
    "erase": on_erase,
}
"""Commands by their word; what followed the word is passed on."""

BUTTONS: Mapping[str, Callable[[State, list[str], Facts], Step]] = {
    "language": language_button,
    "erase": erase_button,
    "keep": on_keep,
}
"""Buttons by the second part of their action."""

RESULTS: Mapping[type[Result], Callable[[State, Any, Facts], Step]] = {
    LanguageKept: on_language_kept,
    Preparing: on_preparing,
    Exported: on_exported,
    MoveCode: on_move_code,
    NothingStored: on_nothing_stored,
    ErasureAsked: on_erasure_asked,
    Erased: on_erased,
}
"""Results by their type."""
