"""What the teacher's conversations share: messages, buttons, the class at hand."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from datetime import date
from typing import Any

from bot.chat.port import Attachment, Button, Message
from bot.talk.core import Effect, State, Step, reply
from bot.talk.facts import Facts
from bot.talk.teacher_facts import TeachingFacts
from bot.words.rich import Rich
from storage.values import ClassInfo

HOME = "teacher"
"""The state in which nothing is asked of the teacher."""

Typed = Callable[[str, State, Facts], Step]
"""Takes a typed text: the rest of a command, or an answer in a state."""

Pressed = Callable[[Sequence[str], State, Facts], Step]
"""Takes the arguments of a pressed button, the class first."""


def at_home(facts: Facts, state: State) -> State:
    """Return the state in which nothing is asked; the class at hand is remembered."""
    return at(facts, state, HOME)


def at(facts: Facts, state: State, name: str, /, **data: Any) -> State:
    """Return another state with its own data; the class at hand is remembered."""
    chosen = facts.teaching.class_id if facts.teaching is not None else state.data.get("class")
    return State(name, {**({} if chosen is None else {"class": chosen}), **data})


def press(facts: Facts, text: str, verb: str, /, *args: object, **values: object) -> Button:
    """Return a button with the text of that key, meaning ``teacher:verb:args``."""
    return Button(facts.words.text(f"teacher.button.{text}", **values), action(verb, *args))


def labelled(label: str, verb: str, *args: object, typed: tuple[str, ...] = ()) -> Button:
    """Return a button with a label of its own (a name, a day)."""
    short = label if len(label) <= 60 else f"{label[:59].rstrip()}…"
    return Button(short, action(verb, *args), typed)


def action(verb: str, *args: object) -> str:
    """Return the action of a button of the teacher's."""
    return ":".join(["teacher", verb, *(str(arg) for arg in args)])


def message(
    facts: Facts,
    text: str,
    buttons: Iterable[Sequence[Button]] = (),
    /,
    *,
    picture: Attachment | None = None,
    key: str = "",
    replaces: str = "",
    **values: Any,
) -> Message:
    """Return a message with the text of that key."""
    said = facts.words.say(f"teacher.{text}", **values)
    rows = tuple(tuple(row) for row in buttons if row)
    return Message(said, rows, attachment=picture, key=key, replaces=replaces)


def answer(
    facts: Facts,
    state: State,
    text: str,
    buttons: Iterable[Sequence[Button]] = (),
    /,
    *,
    effects: tuple[Effect, ...] = (),
    **values: Any,
) -> Step:
    """Return a step that says one text and goes to `state`."""
    return Step(state, effects, reply(message(facts, text, buttons, **values)))


def no_school(facts: Facts, days: Sequence[date]) -> Rich:
    """Say in one sentence which of the given days, at most two, are no school days; nothing for none."""
    match days:
        case []:
            return Rich()
        case [day]:
            return Rich.of(" ") + facts.words.say("teacher.day_off", day=facts.words.day(day))
        case _:
            first, last = (facts.words.day(day) for day in (days[0], days[-1]))
            return Rich.of(" ") + facts.words.say("teacher.days_off", first=first, last=last)


def do(facts: Facts, state: State, *effects: Effect) -> Step:
    """Return a step that only asks for effects; their results answer."""
    return Step(at_home(facts, state), effects)


def class_of(facts: Facts, class_id: int | None) -> ClassInfo | None:
    """Return a class that the speaker teaches."""
    return next((one for one in facts.teaches if one.id == class_id), None)


def with_class(handler: Callable[[str, State, Facts, TeachingFacts], Step]) -> Typed:
    """Let a command be used only where there is a class; say what to do otherwise."""

    def typed(rest: str, state: State, facts: Facts) -> Step:
        if facts.teaching is None:
            return no_class(facts, state)
        return handler(rest, state, facts, facts.teaching)

    return typed


def of_class(handler: Callable[[Sequence[str], State, Facts, TeachingFacts], Step]) -> Pressed:
    """Let a button act only on a class that the speaker teaches: its first argument names it."""

    def pressed(args: Sequence[str], state: State, facts: Facts) -> Step:
        teaching = facts.teaching
        if teaching is None or not args or args[0] != str(teaching.class_id):
            return foreign(facts, state)
        return handler(args[1:], state, facts, teaching)

    return pressed


def foreign(facts: Facts, state: State) -> Step:
    """Answer a button that is somebody else's or means nothing any more."""
    return Step(state, (), reply(Message(facts.words.say("not_yours"))))


def gone(facts: Facts, state: State) -> Step:
    """Answer a button whose row is no longer there."""
    return answer(facts, at_home(facts, state), "gone")


def no_class(facts: Facts, state: State) -> Step:
    """Say that a class comes first."""
    return answer(facts, at_home(facts, state), "no_class", [[press(facts, "create", "create")]])


def number(text: str) -> int | None:
    """Return the whole number that an argument of a button is; buttons can be forged."""
    return int(text) if text.isascii() and text.isdigit() and len(text) < 19 else None


def rows_of(buttons: Sequence[Button], width: int = 2) -> list[tuple[Button, ...]]:
    """Arrange buttons in rows; long labels get a row of their own."""
    wide = max((len(button.label) for button in buttons), default=0)
    per_row = 1 if wide > 22 else width
    return [tuple(buttons[start : start + per_row]) for start in range(0, len(buttons), per_row)]


def lines(facts: Facts, texts: Iterable[str], most: int = 20) -> Rich:
    """Return texts as a list, one a line, at most so many; the rest is counted."""
    every = list(texts)
    shown = Rich.of("\n".join(f"• {text}" for text in every[:most]))
    if len(every) <= most:
        return shown
    return shown + Rich.of("\n") + facts.words.say("teacher.more", n=len(every) - most)


def keep(state: State, **data: Any) -> State:
    """Return the same state with some of its data changed."""
    return replace(state, data={**state.data, **data})
