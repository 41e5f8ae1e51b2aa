"""The teacher's private conversation.

Theory of operation. A teacher is at work on one class at a time: ``state.data["class"]``, which the words
``class`` and every pressed button can change; the facts hold that class and no other. In the state ``teacher``
nothing is asked, and any message is a command, a file, a topic post, a question, or gets the one-line help.
In every other state one thing was asked, and the next message that is no command is the answer to it. A command
always wins, so nobody is caught in a question; ``cancel`` leads home.

What a message means is looked up in four tables, put together from the modules of this folder:

==================  ==========================================================
`COMMANDS`          first word of a typed text
`BUTTONS`           verb of a pressed button (``teacher:VERB:CLASS:…``)
`STATES`            a text that answers what was asked
`RESULTS`           what an effect came to
==================  ==========================================================

In a state of `FREE` a sentence is taken whole even if its first word is a command: only the bare word or the
form with a slash is one there. While questions are taken, a sentence that is a question with its answer is one.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from bot.chat.port import ButtonPressed, FileSent, Message, TextSaid
from bot.talk.commands import parse
from bot.talk.core import Event, Outgoing, Result, State, Step, reply
from bot.talk.facts import Facts
from bot.talk.help import help_text, menu, own_words
from bot.talk.teacher import (
    aiming,
    asking,
    bank,
    calendar,
    dosing,
    pulling,
    pupils,
    rulebook,
    sending,
    setup,
    topics,
)
from bot.talk.teacher.common import (
    HOME,
    Pressed,
    Typed,
    answer,
    at_home,
    foreign,
    message,
    no_class,
    no_school,
    press,
)
from bot.talk.teacher.drafts import read_drafts
from bot.talk.teacher.effects import (
    BankOffered,
    BankTaken,
    ChangesShown,
    ChannelCode,
    ClassCreated,
    CodeShown,
    Done,
    FileFailed,
    FileRead,
    FileUnknown,
    HomeworkListed,
    LeftStanding,
    PostKept,
    PostSettled,
    Pulled,
    QuestionAdded,
    QuestionFound,
    QuestionsAdded,
    QuestionsListed,
    Refused,
    RulesChanged,
    TeacherInvited,
    TopicNoted,
    Undone,
    UploadApplied,
    Welcomed,
)
from bot.words.rich import Rich


def step(state: State, event: Event, facts: Facts) -> Step:
    """Take one step of the teacher's conversation."""
    if isinstance(event, Result):
        handler = RESULTS[type(event)]
        return handler(event, state, facts)
    match event.content:
        case ButtonPressed(action=action):
            return _pressed(action, state, facts)
        case FileSent() as sent:
            return sending.received(event, sent, state, facts)
        case TextSaid(text=text):
            return _said(text, state, facts)
        case _:
            return Step(state)


def _pressed(action: str, state: State, facts: Facts) -> Step:
    _, verb, *args = [*action.split(":"), ""] if action.count(":") == 0 else action.split(":")
    handler = BUTTONS.get(verb)
    return foreign(facts, state) if handler is None else handler(args, state, facts)


def _said(text: str, state: State, facts: Facts) -> Step:
    typed = parse(text, facts.roles)
    mine = typed is not None and typed.command.conversation == "teacher"
    if typed is not None and mine and (typed.slash or not typed.rest or not takes_whole(text, state)):
        return COMMANDS[typed.command.word](typed.rest, state, facts)
    waiting = STATES.get(state.name)
    if waiting is not None:
        return waiting(text, state, facts)
    return _anything(text, state, facts)


def takes_whole(text: str, state: State) -> bool:
    """Whether a sentence that begins with the word of a command answers what was asked all the same."""
    return state.name in FREE or (state.name == asking.ASKING and bool(read_drafts(text)))


def _anything(text: str, state: State, facts: Facts) -> Step:
    """Take a text where nothing was asked: a topic post, a question, or something for the help."""
    if facts.teaching is None:
        return no_class(facts, state)
    for reading in (pulling.counted_later, aiming.loose, topics.posted, asking.loose):
        taken = reading(text, state, facts, facts.teaching)
        if taken is not None:
            return taken
    return answer(facts, at_home(facts, state), "not_understood", [[press(facts, "help", "help")]])


# ---------------------------------------------------------------- help


def _help(rest: str, state: State, facts: Facts) -> Step:
    """List the words a teacher can use, a line each; those of a student too for somebody who is both."""
    text = help_text(facts, "teacher")
    if "student" in facts.roles:
        text = text + Rich.of("\n\n") + help_text(facts, "student")
    text = text + own_words(facts)
    return Step(at_home(facts, state), (), reply(Message(text, menu=menu(facts))))


def _help_pressed(args: Any, state: State, facts: Facts) -> Step:
    return _help("", state, facts)


def _cancel(rest: str, state: State, facts: Facts) -> Step:
    """Leave what was asked."""
    if state.name == asking.ASKING and facts.teaching is not None:  # what was sent so far is stored
        return asking.enough([], state, facts, facts.teaching)
    return answer(facts, at_home(facts, state), "cancelled" if state.name != HOME else "nothing_open")


def _refused(result: Refused, state: State, facts: Facts) -> Step:
    said = message(facts.to(result.teacher_id), "refused", why=result.why)
    return Step(state, (), (Outgoing(said, person_id=result.teacher_id),))


def _done(result: Done, state: State, facts: Facts) -> Step:
    said = message(facts, result.key, **_shown(result.values, facts))
    return Step(state, (), reply(replace(said, text=said.text + no_school(facts, result.days_off))))


def _shown(values: Mapping[str, Any], facts: Facts) -> dict[str, Any]:
    """Write the days among values as people say them."""
    return {
        name: facts.words.day(value) if hasattr(value, "isoformat") else value
        for name, value in values.items()
    }


# ---------------------------------------------------------------- the tables

_MODULES: tuple[Any, ...] = (
    setup,
    sending,
    topics,
    asking,
    bank,
    calendar,
    pupils,
    rulebook,
    pulling,
    dosing,
    aiming,
)

COMMANDS: Mapping[str, Typed] = {
    "help": _help,
    "cancel": _cancel,
    **{word: handler for module in _MODULES for word, handler in getattr(module, "COMMANDS", {}).items()},
}
STATES: Mapping[str, Typed] = {
    name: handler for module in _MODULES for name, handler in getattr(module, "STATES", {}).items()
}
BUTTONS: Mapping[str, Pressed] = {
    "help": _help_pressed,
    **{verb: handler for module in _MODULES for verb, handler in getattr(module, "BUTTONS", {}).items()},
}
RESULTS: Mapping[type[Result], Callable[[Any, State, Facts], Step]] = {
    Refused: _refused,
    Done: _done,
    Welcomed: setup.welcomed,
    ClassCreated: setup.created,
    CodeShown: setup.code_shown,
    TeacherInvited: setup.invited,
    ChannelCode: setup.channel_code,
    FileRead: sending.read,
    FileUnknown: sending.unknown,
    FileFailed: sending.failed,
    UploadApplied: sending.applied,
    ChangesShown: sending.changes_shown,
    Undone: sending.undone,
    TopicNoted: topics.noted,
    PostKept: topics.kept,
    PostSettled: topics.settled,
    BankOffered: bank.offered,
    BankTaken: bank.taken,
    QuestionAdded: asking.added,
    QuestionsAdded: asking.several_added,
    QuestionsListed: asking.questions_listed,
    QuestionFound: asking.found,
    HomeworkListed: calendar.homework_listed,
    LeftStanding: calendar.left_standing,
    RulesChanged: rulebook.changed,
    Pulled: pulling.pulled,
}
FREE = frozenset(
    {
        "teacher.naming",
        "teacher.subject",
        "teacher.self",
        "teacher.zone",
        "teacher.topic",
        "teacher.retopic",
        "teacher.rehomework",
        "teacher.restudent",
        "teacher.rule",
        "teacher.target",
        "teacher.which",
    }
)
"""States in which a sentence is an answer even if it begins with the word of a command."""
