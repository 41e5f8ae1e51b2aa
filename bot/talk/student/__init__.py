"""The conversation with a student.

Theory of operation. Where a student stands follows from the database: while a question of theirs is open, the
conversation waits for its answer, whatever else was said in between. The state only adds what is being asked
about a setting. After every step that asks nothing the conversation *rests*: in ``student.answering`` or
``student.asked`` while a question is open, else in ``idle``.

====================  ==========================================================================
state                 plain words mean
====================  ==========================================================================
``idle``              a command, else the one-line help
``student.asked``     a command, else an attempt at the open choice or number
``student.answering`` an attempt at the open text or formula; a command only with its slash, but for the
                      few that our own messages name and a setting with its value (``time 19:30``), where
                      they are not the right answer; the bare word of another command is asked about
``student.pausing``   until when to pause
``student.time``      the time of day of the nudges
``student.quiet``     quiet hours
``student.zone``      a place
``student.leaving``   nothing: only the buttons count; anything else goes on as from ``idle``
====================  ==========================================================================

A reply to the message of another question than the open one is about that question: it is never an attempt at
the open one.

Buttons name their row and are answered in every state; a row that is not the speaker's, or is closed, gets one
line and has no effect. A result is taken in every state. The tables below say which function takes what.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from bot.chat.port import ButtonPressed, FileSent, Incoming, PresenceChanged, TextSaid
from bot.talk.commands import COMMANDS as EVERY_COMMAND
from bot.talk.commands import Typed, meant_by, parse
from bot.talk.core import Event, Result, State, Step
from bot.talk.facts import Facts
from bot.talk.student import about, answering, effects, nudging, settings
from bot.talk.student.common import ANSWERING, ASKED, replied_elsewhere, rest, say
from bot.talk.student.common import step as one_step
from bot.words import language_named

Texts = Callable[[State, str, Facts], Step]
Presses = Callable[[State, list[str], Facts], Step]
Results = Callable[[State, Any, Facts], Step]

COMMANDS: Mapping[str, Texts] = {
    "next": nudging.on_next,
    "why": about.on_why,
    "progress": about.on_progress,
    "pause": settings.on_pause,
    "resume": settings.on_resume,
    "time": settings.on_time,
    "quiet": settings.on_quiet,
    "zone": settings.on_zone,
    "leave": about.on_leave,
    "help": about.on_help,
}
"""Commands by their word; what followed the word is passed on."""

WORDS: Mapping[str, Texts] = {
    ANSWERING: answering.attempt,
    ASKED: answering.attempt,
    settings.PAUSING: settings.pausing_text,
    settings.TIME: settings.time_text,
    settings.QUIET: settings.quiet_text,
    settings.ZONE: settings.zone_text,
}
"""What plain words mean, by state."""

ASIDES = frozenset({"help", "next", "why"})
"""Commands that our own messages name. Typed while a text or a formula is open, they are no wrong answer."""

BUTTONS: Mapping[str, Presses] = {
    "start": nudging.on_start,
    "hour": nudging.on_hour,
    "decline": nudging.on_decline,
    "homework": nudging.on_homework,
    "pick": answering.on_pick,
    "unsure": answering.on_unsure,
    "later": answering.on_later,
    "unit": answering.on_unit,
    "answer": answering.on_answer,
    "pausing": lambda state, parts, facts: settings.on_pause(state, "", facts),
    "pause": settings.pausing_button,
    "resume": lambda state, parts, facts: settings.on_resume(state, "", facts),
    "time": settings.time_button,
    "zone": settings.zone_button,
    "keep": about.on_keep,
    "leaving": about.leaving_button,
    "leave": about.leave_button,
}
"""Buttons by the second part of their action; the parts after it are passed on."""

RESULTS: Mapping[type[Result], Results] = {
    effects.NudgeDue: nudging.on_due,
    effects.SilenceNoticed: nudging.on_silence,
    effects.QuestionShown: answering.on_shown,
    effects.AnswerTaken: answering.on_taken,
    effects.PutOffUntil: nudging.on_put_off,
    effects.NothingLeft: answering.on_nothing,
    effects.Changed: settings.on_done,
    effects.NotChanged: settings.on_refused,
    effects.NotYours: about.on_not_yours,
    effects.Progress: about.on_progress_ready,
    effects.Working: about.on_working,
}
"""Results by their type."""


def step(state: State, event: Event, facts: Facts) -> Step:
    """Take one step of the conversation with a student."""
    if isinstance(event, Result):
        return RESULTS[type(event)](state, event, facts)
    if not facts.students:
        return Step(State(), (), one_step(State(), facts, say(facts, "student.no_class")).messages)
    assert isinstance(event, Incoming)  # noqa: S101 - an event is one or the other
    match event.content:
        case ButtonPressed(action=action):
            return _pressed(state, action, facts)
        case TextSaid(text=text):
            return _said(state, text, facts)
        case FileSent():
            return one_step(state, facts, say(facts, "student.file"))
        case PresenceChanged():
            return Step(rest(state, facts))


def _pressed(state: State, action: str, facts: Facts) -> Step:
    _, _, named = action.partition(":")
    verb, *parts = named.split(":")
    taken = BUTTONS.get(verb)
    return one_step(state, facts, say(facts, "not_yours")) if taken is None else taken(state, parts, facts)


def is_aside(typed: Typed | None, text: str, facts: Facts) -> bool:
    """Whether words are meant as a command although a text or a formula is open, and so are no wrong answer.

    Those are the words that we ask people to type, and a setting with its value; unless they are the right answer.
    """
    if typed is None or answering.is_right(text, facts):
        return False
    word, rest_of = typed.command.word, typed.rest
    if word == "language":
        return language_named(rest_of) is not None
    return word in ASIDES or settings.has_value(word, rest_of, facts)


def command_meant(action: str) -> str | None:
    """Return the command that the button "the command" stands for; None for any other button."""
    conversation, _, named = action.partition(":")
    verb, *parts = named.split(":")
    known = {command.word for command in EVERY_COMMAND}
    is_it = conversation == "student" and verb == answering.COMMAND and len(parts) == 2 and parts[1] in known
    return parts[1] if is_it else None


def _said(state: State, text: str, facts: Facts) -> Step:
    where = rest(state, facts).name if state.name in (ANSWERING, ASKED, "idle") else state.name
    typed = parse(text, facts.roles & {"student"})
    other = replied_elsewhere(facts)
    commanded = other is not None or where != ANSWERING or is_aside(typed, text, facts)
    if typed is not None and typed.command.word in COMMANDS and (typed.slash or commanded):
        return COMMANDS[typed.command.word](state, typed.rest, facts)
    waiting = answering.waiting(facts)  # the open question, or the one that was closed while they typed
    if other is not None and (waiting is None or waiting.review_id != other.review_id):
        return answering.over(state, other, facts)
    commands = meant_by(text, facts.roles & {"student"}) if where == ANSWERING else ()
    if commands and not answering.is_right(text, facts):
        return answering.ask_whether_meant(state, text, commands, facts)
    meant = WORDS.get(where) or WORDS.get(rest(state, facts).name)
    if meant is None and waiting is not None:
        meant = answering.attempt
    return (
        one_step(state, facts, say(facts, "student.unknown")) if meant is None else meant(state, text, facts)
    )
