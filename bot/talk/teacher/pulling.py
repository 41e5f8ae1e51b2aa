"""What a teacher pulls to look at: report, forecast, starter, questions, illustration, letters, export."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from datetime import date
from typing import Any

from bot.chat.port import Button, Message
from bot.talk.core import State, Step, once, reply
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
from bot.talk.teacher.dosing import offer_buttons
from bot.talk.teacher.effects import PULLS, CountStarter, Pull, Pulled, ShareSummary
from bot.talk.teacher_facts import TeachingFacts
from bot.teaching.typed_days import read_days, read_week
from bot.words.rich import Rich
from scheduler.calendar.zones import iso_week

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
    "target": (),
}
"""What a teacher is offered after each."""

_LATER = re.compile(r"^\s*\d+(?:[\s,;/]+\d+)*\s*(?:(?:out\s+)?of|von)\s*\d+\s*$", re.IGNORECASE)
"""Counts that cannot be meant as anything else, since they say of how many."""

_COUNTS = re.compile(r"^[\d\s,;/]+(?:(?:(?:out\s+)?of|von)\s*\d+\s*)?$", re.IGNORECASE)


def _word(what: str, takes: str = "") -> Typed:
    """Return the command that pulls one thing; a day or a week may follow those that are for one."""

    def pull(rest: str, state: State, facts: Facts, teaching: TeachingFacts) -> Step:
        options: dict[str, Any] = {}
        if rest and takes:
            day = _READ[takes](rest, teaching.today)
            if day is None:
                return answer(facts, at_home(facts, state), f"{takes}_unread", text=rest[:60])
            if takes == "week" and day > teaching.today:
                return answer(facts, at_home(facts, state), "week_ahead", day=facts.words.day(day))
            options[takes] = day.isoformat()
        return pull_of(what, options, state, facts, teaching)

    return with_class(pull)


def _one_day(text: str, today: date) -> date | None:
    days = read_days(text, today)
    return days[0] if len(days) == 1 else None


_READ: Mapping[str, Callable[[str, date], date | None]] = {"day": _one_day, "week": read_week}
"""How what follows a word is read."""


def pull_of(
    what: str, options: Mapping[str, Any], state: State, facts: Facts, teaching: TeachingFacts
) -> Step:
    """Say that something is being made, and have it made."""
    key = _key(what, options, facts, teaching)
    said = Message(facts.words.say(f"teacher.pulling.{what}"), key=key)
    return Step(at_home(facts, state), (Pull(teaching.class_id, what, options, key),), reply(said))


def _key(what: str, options: Mapping[str, Any], facts: Facts, teaching: TeachingFacts) -> str:
    """Return the name of one request: of what, for which class, about which week or day, asked when.

    A request is named alone, or what is asked on Friday would take the place of what was asked on Monday, and
    another class's paper that of this one.
    """
    about = options.get("day") or "{}-W{:02d}".format(*_iso_week(options.get("week"), teaching.today))
    return f"pull:{what}:{teaching.class_id}:{about}:{facts.now:%Y%m%dT%H%M%S%f}"


def _iso_week(day: str | None, today: date) -> tuple[int, int]:
    return iso_week(date.fromisoformat(day) if day else today)


def records(rest: str, state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Pull the learning records: under pseudonyms, or with names where that word follows."""
    if rest.casefold() not in ("", "names", "with names"):
        return answer(facts, at_home(facts, state), "records_unread", text=rest[:60])
    return pull_of("records", {"names": bool(rest)}, state, facts, teaching)


def pressed(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Pull what was pressed, of the week that the button belongs to."""
    what = args[0] if args else ""
    if what not in PULLS:
        return foreign(facts, state)
    week = _monday(args[1]) if len(args) > 1 else None
    return pull_of(what, {"week": week} if week else {}, state, facts, teaching)


def _monday(text: str) -> str | None:
    """Return the day that an argument of a button is, or None; buttons can be forged."""
    try:
        return date.fromisoformat(text).isoformat()
    except ValueError:
        return None


def pulled(result: Pulled, state: State, facts: Facts) -> Step:
    """Show what was pulled; the last message carries what else there is."""
    if result.note or not result.pieces:
        note = Rich.of(result.note) if result.note else facts.words.say("teacher.nothing_yet")
        return Step(state, (), reply(Message(note, replaces=result.key)))
    messages = [
        Message(
            piece.text,
            _follow(result, facts) if position == len(result.pieces) else (),
            attachment=piece.attachment,
            # The first takes the place of "I am working on it", unless it is a file: those cannot be edited in.
            replaces=result.key if position == 1 and piece.attachment is None else "",
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


def counted_later(text: str, state: State, facts: Facts, teaching: TeachingFacts) -> Step | None:
    """Take counts that come after other words, of the class's last starter; None for a text that is something else."""
    if not _LATER.match(text):
        return None
    return Step(at_home(facts, state), (CountStarter(teaching.class_id, (), text),))


def _follow(result: Pulled, facts: Facts) -> tuple[tuple[Button, ...], ...]:
    week = {"report": (result.week,), "workbook": (result.week,)} if result.week else {}
    buttons = offer_buttons(result.offers, result.class_id, facts)
    buttons += [
        press(facts, f"pull.{what}", "pull", result.class_id, what, *week.get(what, ()))
        for what in FOLLOW[result.what]
    ]
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
        return do(facts, state, ShareSummary(teaching.class_id, able[0].id))
    buttons = [labelled(one.title or one.platform, "share", teaching.class_id, one.id) for one in able]
    return answer(facts, at_home(facts, state), "which_channel", rows_of(buttons), key=once("share"))


def share_pressed(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Post to the channel that was pressed."""
    if not args:
        return share("", state, facts, teaching)
    channel = number(args[0])
    return (
        gone(facts, state) if channel is None else do(facts, state, ShareSummary(teaching.class_id, channel))
    )


COMMANDS: Mapping[str, Typed] = {
    "report": _word("report", "week"),
    "workbook": _word("workbook", "week"),
    "forecast": _word("forecast", "day"),
    "starter": _word("starter"),
    "quality": _word("quality"),
    "illustration": _word("illustration"),
    "letters": _word("letters"),
    "export": _word("export"),
    "comparison": _word("comparison", "day"),
    "records": with_class(records),
    "share": with_class(share),
}
STATES: Mapping[str, Typed] = {"teacher.starter": counted}
BUTTONS: Mapping[str, Pressed] = {"pull": of_class(pressed), "share": of_class(share_pressed)}
