"""The target of a class: what should be known on the dates that count, what that takes, and who takes it."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from bot.chat.port import Message
from bot.talk.core import State, Step, reply
from bot.talk.facts import Facts
from bot.talk.teacher.common import Pressed, Typed, at, do, gone, of_class, with_class
from bot.talk.teacher.effects import ChangeRules
from bot.talk.teacher.pulling import pull_of
from bot.talk.teacher_facts import TeachingFacts
from bot.words import typed as typed_forms
from storage.values import TARGET_HIGHEST, TARGET_LOWEST

_PERCENT = re.compile(r"^([0-9]{1,4})\s*(?:%|percent|per cent|prozent)?$", re.IGNORECASE)


def target(rest: str, state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Say what a target takes, take it away, or ask for one."""
    text = rest.strip()
    if not text:
        return _asked("target.ask", state, facts, teaching)
    if text.casefold() in (*typed_forms("none"), *typed_forms("no")):
        return do(facts, state, ChangeRules(teaching.class_id, {"target": None}))
    found = _PERCENT.match(text)
    if found is None:
        return _asked("target.unread", state, facts, teaching)
    percent = int(found[1])
    if not TARGET_LOWEST <= percent <= TARGET_HIGHEST:
        return _asked("target.out_of_range", state, facts, teaching)
    return pull_of("target", {"percent": percent}, state, facts, teaching)


def _asked(key: str, state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    present = teaching.rules.target
    now = (
        facts.words.text("target.none") if present is None else facts.words.text("target.set", target=present)
    )
    said = facts.words.say(key, low=TARGET_LOWEST, most=TARGET_HIGHEST, now=now)
    return Step(at(facts, state, "teacher.target"), (), reply(Message(said)))


def asked(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Ask for a target."""
    return target("", state, facts, teaching)


def answered(text: str, state: State, facts: Facts) -> Step:
    """Take the target that was asked for."""
    if facts.teaching is None:
        return gone(facts, state)
    return target(text, state, facts, facts.teaching)


def loose(text: str, state: State, facts: Facts, teaching: TeachingFacts) -> Step | None:
    """Take a target that is typed with the word of another language; None for a text that is something else."""
    first, _, rest = text.strip().partition(" ")
    if first.casefold() not in typed_forms("target"):
        return None
    known = not rest or _PERCENT.match(rest.strip()) or rest.strip().casefold() in typed_forms("none")
    return target(rest, state, facts, teaching) if known else None


COMMANDS: Mapping[str, Typed] = {"target": with_class(target)}
STATES: Mapping[str, Typed] = {"teacher.target": answered}
BUTTONS: Mapping[str, Pressed] = {"target": of_class(asked)}
