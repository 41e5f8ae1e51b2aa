"""What a teacher pulls to look at: report, forecast, starter, questions, illustration, letters, export."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from bot.chat.port import Button, Message, Rich
from bot.talk.core import State, Step, reply
from bot.talk.facts import Facts
from bot.talk.teacher.common import (
    HOME,
    Pressed,
    Typed,
    answer,
    at,
    at_home,
    do,
    foreign,
    gone,
    labelled,
    number,
    of_class,
    press,
    rows_of,
    with_class,
)
from bot.talk.teacher.days import read_days
from bot.talk.teacher.effects import PULLS, CountStarter, Pull, Pulled, Share
from bot.talk.teacher_facts import TeachingFacts

FOLLOW: Mapping[str, tuple[str, ...]] = {
    "report": ("workbook", "forecast", "starter"),
    "forecast": ("report", "starter"),
    "starter": (),
    "quality": (),
    "illustration": (),
    "letters": (),
    "workbook": (),
    "export": (),
    "records": (),
    "comparison": ("quality",),
    "summary": (),
}
"""What a teacher is offered after each."""

_COUNTS = re.compile(r"^[\d\s,;/]+(?:(?:out\s+)?of\s*\d+\s*)?$", re.IGNORECASE)


def _word(what: str) -> Typed:
    """Return the command that pulls one thing; a day may follow those that are for a day."""

    def pull(rest: str, state: State, facts: Facts, teaching: TeachingFacts) -> Step:
        options: dict[str, Any] = {}
        if rest:
            days = read_days(rest, teaching.today)
            if len(days) != 1:
                return answer(facts, at_home(facts, state), "day_unread", text=rest[:60])
            options["day"] = days[0].isoformat()
        said = Message(facts.words.say(f"teacher.pulling.{what}"), key=f"pull:{what}")
        return Step(at_home(facts, state), (Pull(teaching.class_id, what, options),), reply(said))

    return with_class(pull)


def records(rest: str, state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Pull the learning records: under pseudonyms, or with names where that word follows."""
    if rest.casefold() not in ("", "names", "with names"):
        return answer(facts, at_home(facts, state), "records_unread", text=rest[:60])
    said = Message(facts.words.say("teacher.pulling.records"), key="pull:records")
    effect = Pull(teaching.class_id, "records", {"names": bool(rest)})
    return Step(at_home(facts, state), (effect,), reply(said))


def pressed(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Pull what was pressed."""
    what = args[0] if args else ""
    if what not in PULLS:
        return foreign(facts, state)
    said = Message(facts.words.say(f"teacher.pulling.{what}"), key=f"pull:{what}")
    return Step(at_home(facts, state), (Pull(teaching.class_id, what),), reply(said))


def pulled(result: Pulled, state: State, facts: Facts) -> Step:
    """Show what was pulled; the last message carries what else there is."""
    key = f"pull:{result.what}"
    if result.note or not result.pieces:
        note = Rich.of(result.note) if result.note else facts.words.say("teacher.nothing_yet")
        return Step(state, (), reply(Message(note, replaces=key)))
    messages = [
        Message(
            piece.text,
            _follow(result, facts) if position == len(result.pieces) else (),
            attachment=piece.attachment,
            # The first takes the place of "I am working on it", unless it is a file: those cannot be edited in.
            replaces=key if position == 1 and piece.attachment is None else "",
        )
        for position, piece in enumerate(result.pieces, 1)
    ]
    after = state
    if result.asked and state.name == HOME:
        after = at(facts, state, "teacher.starter", questions=list(result.asked))
    return Step(after, (), reply(*messages))


def counted(text: str, state: State, facts: Facts) -> Step:
    """Take how many had each question of the last starter right."""
    if facts.teaching is None or not _COUNTS.match(text):
        return answer(facts, at_home(facts, state), "not_understood", [[press(facts, "help", "help")]])
    asked = tuple(state.data.get("questions", ()))
    return Step(state, (CountStarter(facts.teaching.class_id, asked, text),))


def _follow(result: Pulled, facts: Facts) -> tuple[tuple[Button, ...], ...]:
    buttons = [press(facts, f"pull.{what}", "pull", result.class_id, what) for what in FOLLOW[result.what]]
    if result.what == "report" and facts.teaching is not None and facts.teaching.channels:
        buttons.append(press(facts, "share", "share", result.class_id))
    return tuple(rows_of(buttons))


# ---------------------------------------------------------------- in the channel


def share(rest: str, state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Post an aggregated summary to the class's channel."""
    able = [one for one in teaching.channels if one.can_write]
    if not able:
        return answer(facts, at_home(facts, state), "no_channel")
    if len(able) == 1:
        return do(facts, state, Share(teaching.class_id, able[0].id))
    buttons = [labelled(one.title or one.platform, "share", teaching.class_id, one.id) for one in able]
    return answer(facts, at_home(facts, state), "which_channel", rows_of(buttons))


def share_pressed(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Post to the channel that was pressed."""
    if not args:
        return share("", state, facts, teaching)
    channel = number(args[0])
    return gone(facts, state) if channel is None else do(facts, state, Share(teaching.class_id, channel))


COMMANDS: Mapping[str, Typed] = {
    "report": _word("report"),
    "workbook": _word("workbook"),
    "forecast": _word("forecast"),
    "starter": _word("starter"),
    "quality": _word("quality"),
    "illustration": _word("illustration"),
    "letters": _word("letters"),
    "export": _word("export"),
    "comparison": _word("comparison"),
    "records": with_class(records),
    "share": with_class(share),
}
STATES: Mapping[str, Typed] = {"teacher.starter": counted}
BUTTONS: Mapping[str, Pressed] = {"pull": of_class(pressed), "share": of_class(share_pressed)}
