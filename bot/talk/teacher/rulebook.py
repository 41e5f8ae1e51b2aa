"""The rules of a class: shown together, each changed by its button or in one line (``rules nudge 18:00``)."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from datetime import date
from typing import Any

from bot.talk.core import State, Step
from bot.talk.facts import Facts
from bot.talk.teacher import aiming
from bot.talk.teacher.common import (
    Pressed,
    Typed,
    answer,
    at,
    at_home,
    do,
    gone,
    labelled,
    of_class,
    press,
    rows_of,
    with_class,
)
from bot.talk.teacher.effects import ChangeRules, RulesChanged
from bot.talk.teacher_facts import TeachingFacts
from bot.talk.zones import zones_named
from bot.teaching.typed_days import read_days, read_weekday
from bot.teaching.typed_times import minute_of_day, minutes_between
from bot.words import typed as typed_forms
from storage.values import Rules

Reader = Callable[[str, date], Mapping[str, Any] | None]


def rules(rest: str, state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Show the rules, or change the one that is named."""
    word, _, value = rest.partition(" ")
    if word.casefold() == "target":
        return aiming.target(value, state, facts, teaching)
    if word and word.casefold() in READERS:
        if value.strip():
            return _take(word.casefold(), value, state, facts, teaching)
        return ask([word.casefold()], state, facts, teaching)
    return _shown(state, facts, teaching)


def changed(result: RulesChanged, state: State, facts: Facts) -> Step:
    """Show the rules as they are now."""
    if facts.teaching is None:
        return gone(facts, state)
    return _shown(state, facts, facts.teaching)


def _shown(state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    rules, words = teaching.rules, facts.words
    buttons = [press(facts, f"rule.{word}", "rule", teaching.class_id, word) for word in READERS]
    buttons.append(labelled(words.text("target.button"), "target", teaching.class_id))
    return answer(
        facts,
        at_home(facts, state),
        "rules",
        rows_of(buttons, 3),
        nudge=words.clock(rules.nudge_minute),
        quiet=f"{words.clock(rules.quiet_from)}–{words.clock(rules.quiet_until)}",
        questions=rules.questions_per_nudge,
        nudges=rules.nudges_per_day,
        allowance=_allowance(rules, facts),
        target=words.text("target.none")
        if rules.target is None
        else words.text("target.set", target=rules.target),
        lessons=_lessons(rules, facts),
        days=words.listed([_weekday(day, facts) for day in rules.school_weekdays]),
        holidays=words.text("teacher.yes" if rules.on_holidays else "teacher.no"),
        report=f"{_weekday(rules.report_weekday, facts)} {words.clock(rules.report_minute)}",
        permission=words.text("teacher.yes" if rules.needs_permission else "teacher.no"),
        zone=rules.zone,
        keep=words.long_day(rules.retain_until) if rules.retain_until else words.text("teacher.keep_default"),
    )


def _weekday(number: int, facts: Facts) -> str:
    # 2 January 2023 was a Monday.
    return facts.words.weekday(date(2023, 1, 2 + number))


def _allowance(rules: Rules, facts: Facts) -> str:
    if rules.term_allowance is None:
        return facts.words.text("teacher.no_limit")
    return str(rules.term_allowance)


def _lessons(rules: Rules, facts: Facts) -> str:
    if not rules.lesson_hours:
        return facts.words.text("teacher.not_given")
    clock = facts.words.clock
    return facts.words.listed(
        [f"{_weekday(day, facts)} {clock(start)}–{clock(end)}" for day, start, end in rules.lesson_hours[:8]]
    )


def ask(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Ask for the new value of a rule."""
    word = args[0] if args else ""
    if word not in READERS:
        return gone(facts, state)
    return answer(facts, at(facts, state, "teacher.rule", rule=word), f"ask_rule.{word}")


def typed(text: str, state: State, facts: Facts) -> Step:
    """Take the new value of the rule that was asked for."""
    if facts.teaching is None:
        return gone(facts, state)
    return _take(str(state.data.get("rule", "")), text, state, facts, facts.teaching)


def _take(word: str, text: str, state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    changes = READERS[word](text, teaching.today) if word in READERS else None
    if changes is None:
        return answer(facts, at(facts, state, "teacher.rule", rule=word), f"ask_rule.{word}")
    return do(facts, state, ChangeRules(teaching.class_id, changes))


# ---------------------------------------------------------------- reading values


def _minute(field: str) -> Reader:
    def read(text: str, today: date) -> Mapping[str, Any] | None:
        minute = minute_of_day(text)
        return None if minute is None else {field: minute}

    return read


def _number(field: str, *, none: bool = False) -> Reader:
    def read(text: str, today: date) -> Mapping[str, Any] | None:
        typed = text.strip()
        if none and typed.casefold() in (*typed_forms("none"), *typed_forms("no")):
            return {field: None}
        return {field: int(typed)} if re.fullmatch(r"[0-9]{1,5}", typed) else None

    return read


def _yes_no(field: str, yes: Any = True, no: Any = False) -> Reader:
    def read(text: str, today: date) -> Mapping[str, Any] | None:
        said = text.strip().casefold()
        return (
            {field: yes}
            if said in (*typed_forms("yes"), *typed_forms("on"))
            else {field: no}
            if said in (*typed_forms("no"), *typed_forms("off"))
            else None
        )

    return read


def _quiet(text: str, today: date) -> Mapping[str, Any] | None:
    ends = minutes_between(text, same=True)
    if ends is None:
        return None
    return {"quiet_from": ends[0], "quiet_until": ends[1]}


def _report(text: str, today: date) -> Mapping[str, Any] | None:
    first, _, rest = text.strip().partition(" ")
    weekday, minute = read_weekday(first), minute_of_day(rest) if rest else None
    if weekday is None:
        return None
    return {"report_weekday": weekday} | ({} if minute is None else {"report_minute": minute})


def _lesson_hours(text: str, today: date) -> Mapping[str, Any] | None:
    """Read ``Mon 8:00-8:45, Wed 10:00-11:30``; ``none`` clears them."""
    if text.strip().casefold() in typed_forms("none"):
        return {"lesson_hours": []}
    found = []
    for part in re.split(r"\s*[,;\n]\s*", text.strip()):
        first, _, rest = part.partition(" ")
        weekday = read_weekday(first)
        ends = minutes_between(rest, same=True)
        if weekday is None or ends is None:
            return None
        found.append([weekday, *ends])
    return {"lesson_hours": sorted(found)}


def _school_days(text: str, today: date) -> Mapping[str, Any] | None:
    days = [read_weekday(part) for part in re.split(r"[\s,;]+", text.strip()) if part]
    if not days or None in days:
        return None
    return {"school_weekdays": sorted({day for day in days if day is not None})}


def _zone(text: str, today: date) -> Mapping[str, Any] | None:
    found = zones_named(text, parts=True)
    return {"zone": found[0]} if len(found) == 1 else None


def _until(text: str, today: date) -> Mapping[str, Any] | None:
    if text.strip().casefold() in typed_forms("none"):
        return {"retain_until": None}
    # After that day the class is deleted, and "keep 2 weeks" may mean that long after the term.
    days = read_days(text, today, stretches=False)
    return {"retain_until": days[0]} if len(days) == 1 else None


READERS: Mapping[str, Reader] = {
    "nudge": _minute("nudge_minute"),
    "quiet": _quiet,
    "questions": _number("questions_per_nudge"),
    "nudges": _number("nudges_per_day"),
    "allowance": _number("term_allowance", none=True),
    "lessons": _lesson_hours,
    "days": _school_days,
    "holidays": _yes_no("on_holidays"),
    "report": _report,
    "permission": _yes_no("consent", "school", "student"),
    "zone": _zone,
    "keep": _until,
}
"""What each rule is called, and how its value is read; the limits are those of `storage.school.rules`."""

COMMANDS: Mapping[str, Typed] = {"rules": with_class(rules)}
STATES: Mapping[str, Typed] = {"teacher.rule": typed}
BUTTONS: Mapping[str, Pressed] = {"rule": of_class(ask)}
