"""How somebody joins: a code, two lines on what is stored and why, agreement, a name, a time of day.

Theory of operation. Nothing about a person is stored before they agree: until then the conversation's state
holds only which class was shown. A code opens one of five doors, and the service says which: a class, the
teacher's side (`bot.service.teacher.code_effects` takes over), the same person's account elsewhere, a permission, or
none.

====================  ==========================================================  =======================
state                 waits for                                                   then
====================  ==========================================================  =======================
``idle``              a code, typed or in a link                                  ``joining.agree``
``joining.agree``     agree, tell me more, no thanks                              ``joining.name`` or idle
``joining.name``      a first name                                                ``joining.time``
``joining.roster``    which name of the class list is theirs, where one fits      ``joining.time``
``joining.time``      a time of day                                               idle
====================  ==========================================================  =======================
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any

from bot.chat.port import Button, ButtonPressed, Incoming, Message, TextSaid
from bot.talk.commands import parse
from bot.talk.core import Event, Outgoing, Result, State, Step, answered, once, reply
from bot.talk.facts import Facts
from bot.talk.help import menu
from bot.talk.joining_effects import (
    ChooseTime,
    ClassInvited,
    Join,
    Joined,
    Moved,
    NoDoor,
    NotJoined,
    Permitted,
    TimeKept,
    TimeRefused,
    TryCode,
    WhichName,
)
from bot.talk.student.common import button, number
from bot.talk.student.effects import Start
from bot.talk.student.settings import offered_minutes
from bot.teaching.typed_times import minute_of_day
from bot.words.rich import Rich
from scheduler.calendar.zones import DAY_MIN, local_day
from storage.values import ClassInfo

AGREE, NAME, ROSTER, TIME = "joining.agree", "joining.name", "joining.roster", "joining.time"
NAME_LONGEST = 40
MENUS = "joining."
"""How the keys of what is answered once in joining go on; then comes what is asked."""

# ---------------------------------------------------------------- step

_CODE = re.compile(r"^[2-9A-HJ-NP-Za-hj-np-z]{10}$")


def step(state: State, event: Event, facts: Facts) -> Step:
    """Take one step of joining."""
    if isinstance(event, Result):
        return RESULTS[type(event)](state, event, facts)
    assert isinstance(event, Incoming)  # noqa: S101 - an event is one or the other
    match event.content:
        case TextSaid(text=text):
            return _said(state, text, event, facts)
        case ButtonPressed(action=action):
            return _pressed(state, action.split(":")[1:], event, facts)
        case _:
            return _stay(state, _hello(facts))


def looks_like_code(text: str) -> bool:
    """Whether a text has the form of a code: ten letters and figures, no look-alikes, blanks and hyphens aside."""
    typed = "".join(text.split()).replace("-", "")
    return _CODE.match(typed) is not None and not typed.isalpha() and not typed.isdigit()


def _said(state: State, text: str, event: Incoming, facts: Facts) -> Step:
    typed = parse(text, facts.roles | {"stranger"})
    if typed is not None and typed.command.word in ("start", "join"):
        return _start(state, typed.rest, event, facts)
    if looks_like_code(text):
        return _start(state, text, event, facts)
    if state.name == AGREE and typed is not None and typed.command.word == "help":
        return _more(state, [], event, facts)
    return WORDS.get(state.name, _lost)(state, text, facts)


def _start(state: State, code: str, event: Incoming, facts: Facts) -> Step:
    if code:
        return Step(State(data=_kept(state)), (TryCode(code, event.name),))
    nudge = facts.learning.nudge
    if nudge is not None and nudge.left:  # what a student means who types "start" while questions wait
        return Step(State(data=_kept(state)), (Start(nudge.id),))
    if facts.students:
        return _stay(State(data=_kept(state)), _text(facts, "joining.back"), menu_too=facts)
    return _stay(State(data=_kept(state)), _hello(facts))


def _kept(state: State) -> dict[str, Any]:
    return {name: state.data[name] for name in ("class",) if name in state.data}


def _lost(state: State, text: str, facts: Facts) -> Step:
    del text
    return _stay(state, _hello(facts))


def _hello(facts: Facts) -> Message:
    return _text(facts, "joining.hello" if facts.person_id is None else "joining.hello.known")


def _text(facts: Facts, key: str, *rows: tuple[Button, ...], **values: object) -> Message:
    return Message(facts.words.say(key, **values), tuple(row for row in rows if row))


def _menu(facts: Facts, asked: str, key: str, *rows: tuple[Button, ...], **values: object) -> Message:
    """Return a message that is answered once."""
    return replace(_text(facts, key, *rows, **values), key=once(f"{MENUS}{asked}"))


def _stay(state: State, *messages: Message, menu_too: Facts | None = None) -> Step:
    if menu_too is not None and messages:
        messages = (replace(messages[0], menu=menu(menu_too)), *messages[1:])
    return Step(state, (), reply(*messages))


# ---------------------------------------------------------------- what a code opened


def on_invited(state: State, event: ClassInvited, facts: Facts) -> Step:
    """Say what the class is and what is stored, and ask for agreement."""
    kept = _kept(state)
    if event.already_in:
        return _stay(State(data=kept), _text(facts, "joining.already"), menu_too=facts)
    school_class = facts.invited
    if school_class is None:
        return _stay(State(data=kept), _text(facts, "joining.code.wrong"))
    return _stay(State(AGREE, {**kept, "join": school_class.id}), _invitation(school_class, facts))


def _invitation(school_class: ClassInfo, facts: Facts) -> Message:
    text = facts.words.say(
        "joining.invitation",
        name=school_class.name,
        teachers=_teachers(facts),
        permission=_permission(school_class, facts),
    )
    return Message(text, (_agree_row(facts, more=True),), key=once(f"{MENUS}agree"))


def _teachers(facts: Facts) -> str:
    return facts.words.listed(list(facts.invited_by)) or facts.words.text("joining.a_teacher")


def _permission(school_class: ClassInfo, facts: Facts) -> Rich:
    return facts.words.say(
        "joining.permission.school" if school_class.rules.needs_permission else "joining.permission"
    )


def _agree_row(facts: Facts, *, more: bool) -> tuple[Button, ...]:
    row = [button(facts, "joining.button.agree", "joining:agree", "yes", "agree")]
    if more:
        row.append(button(facts, "joining.button.more", "joining:more", "more"))
    row.append(button(facts, "joining.button.no", "joining:no", "no"))
    return tuple(row)


def on_no_door(state: State, event: NoDoor, facts: Facts) -> Step:
    """Say that a code does not open anything."""
    return _stay(State(data=_kept(state)), _text(facts, f"joining.code.{event.why}"))


def on_moved(state: State, event: Moved, facts: Facts) -> Step:
    """Say that the history is here now."""
    if event.problem:
        return _stay(State(data=_kept(state)), _text(facts, "joining.not_moved", why=event.problem))
    return _stay(State(), _text(facts, "joining.moved"), menu_too=facts)


def on_permitted(state: State, event: Permitted, facts: Facts) -> Step:
    """Note a permission, and tell the student."""
    said = [Outgoing(_text(facts, "joining.permitted", name=event.name, class_name=event.class_name))]
    if event.person_id is not None and event.person_id != facts.person_id:
        told = _text(facts.to(event.person_id), "joining.may_start", class_name=event.class_name)
        said.append(Outgoing(told, event.person_id))
    return Step(State(data=_kept(state)), (), tuple(said))


# ---------------------------------------------------------------- agreeing


def _pressed(state: State, parts: list[str], event: Incoming, facts: Facts) -> Step:
    verb = parts[0] if parts else ""
    taken = BUTTONS.get((state.name, verb)) or ANY_TIME.get(verb)
    return _old(state, facts) if taken is None else taken(state, parts[1:], event, facts)


def _old(state: State, facts: Facts) -> Step:
    """Say that a button does nothing, and take away those of joining: what they belonged to is over."""
    return answered(_stay(state, _text(facts, "joining.old_button")), MENUS)


def _agree(state: State, parts: list[str], event: Incoming, facts: Facts) -> Step:
    del parts
    suggested = _suggestion(event, facts)
    row = (Button(suggested, "joining:suggested"),) if suggested else ()
    return _stay(State(NAME, state.data), _menu(facts, "name", "joining.name", row))


def _suggestion(event: Incoming, facts: Facts) -> str:
    """Return a name to offer: what another class calls the speaker, else the first word the platform knows."""
    if facts.students:
        return facts.students[0].name
    words = event.name.split()
    return words[0][:NAME_LONGEST] if words else ""


def _more(state: State, parts: list[str], event: Incoming, facts: Facts) -> Step:
    del parts, event
    school_class = facts.invited
    if school_class is None:
        return _stay(State(data=_kept(state)), _hello(facts))
    until = (
        facts.words.say("joining.more.until", day=facts.words.long_day(school_class.rules.retain_until))
        if school_class.rules.retain_until
        else Rich()
    )
    text = facts.words.say("joining.more", teachers=_teachers(facts), until=until)
    return _stay(state, Message(text, (_agree_row(facts, more=False),), key=once(f"{MENUS}agree")))


def _no(state: State, parts: list[str], event: Incoming, facts: Facts) -> Step:
    del parts, event
    return _stay(State(data=_kept(state)), _text(facts, "joining.no"))


def _agree_words(state: State, text: str, facts: Facts) -> Step:
    del text
    return _stay(state, _menu(facts, "agree", "joining.choose", _agree_row(facts, more=True)))


# ---------------------------------------------------------------- name


def _suggested(state: State, parts: list[str], event: Incoming, facts: Facts) -> Step:
    del parts
    typed = event.content.typed if isinstance(event.content, ButtonPressed) else ""
    return _name(state, typed or _suggestion(event, facts), facts)


def _name(state: State, text: str, facts: Facts) -> Step:
    name = " ".join(text.split())
    if not name or len(name) > NAME_LONGEST or not any(sign.isalpha() for sign in name):
        return _stay(state, _text(facts, "joining.name.unreadable"))
    if facts.invited is None:
        return _stay(State(data=_kept(state)), _hello(facts))
    return Step(State(NAME, {**state.data, "name": name}), (Join(facts.invited.id, name),))


def on_which_name(state: State, event: WhichName, facts: Facts) -> Step:
    """Ask which name of the class list is the speaker's."""
    rows = [(Button(name, f"joining:roster:{number_of}"),) for number_of, name in event.names]
    none = (button(facts, "joining.button.none", "joining:roster:0", "none"),)
    asked = _stay(State(ROSTER, state.data), _menu(facts, "roster", "joining.which_name", *rows, none))
    return answered(asked, MENUS, str(state.data.get("name", "")))


def _roster(state: State, parts: list[str], event: Incoming, facts: Facts) -> Step:
    del event
    chosen = number(parts[0]) if parts else None
    if chosen is None or facts.invited is None:
        return _old(state, facts)
    return Step(state, (Join(facts.invited.id, str(state.data.get("name", "")), chosen),))


def _roster_words(state: State, text: str, facts: Facts) -> Step:
    return _name(State(NAME, state.data), text, facts)


def on_not_joined(state: State, event: NotJoined, facts: Facts) -> Step:
    """Say why, and ask for the name again."""
    return _stay(State(NAME, state.data), _text(facts, "joining.not_joined", why=event.why))


# ---------------------------------------------------------------- time


def on_joined(state: State, event: Joined, facts: Facts) -> Step:
    """Ask for the time of day."""
    row = tuple(
        Button(facts.words.clock(minute), f"joining:time:{event.enrolment_id}:{minute}")
        for minute in offered_minutes(facts)
    )
    other = (button(facts, "joining.button.other_time", f"joining:other:{event.enrolment_id}"),)
    key = "joining.joined.waiting" if event.waiting else "joining.joined"
    asked = _stay(
        _choosing(event.enrolment_id, state), _menu(facts, "time", key, row, other, name=event.name)
    )
    return answered(asked, MENUS, event.name)


def _time(state: State, parts: list[str], event: Incoming, facts: Facts) -> Step:
    """Take an offered time, also after something else was said: ``joining:time:ENROLMENT:MINUTE``."""
    del event
    enrolment, minute = (number(parts[place]) if len(parts) > place else None for place in (0, 1))
    if enrolment not in _own(facts) or enrolment is None or minute is None or minute >= DAY_MIN:
        return _old(state, facts)
    return Step(_choosing(enrolment, state), (ChooseTime(enrolment, minute),))


def _own(facts: Facts) -> set[int]:
    return {student.id for student in facts.students}


def _choosing(enrolment: int, state: State) -> State:
    return State(TIME, {**_kept(state), "enrolment": enrolment})


def _other_time(state: State, parts: list[str], event: Incoming, facts: Facts) -> Step:
    """Ask for a typed time: ``joining:other:ENROLMENT``."""
    del event
    enrolment = number(parts[0]) if parts else None
    if enrolment not in _own(facts) or enrolment is None:
        return _old(state, facts)
    return _stay(_choosing(enrolment, state), _text(facts, "joining.time"))


def _time_words(state: State, text: str, facts: Facts) -> Step:
    minute = minute_of_day(text)
    if minute is None:
        return _stay(state, _text(facts, "student.time.unreadable"))
    return Step(state, (ChooseTime(int(state.data.get("enrolment", 0)), minute),))


def on_time_kept(state: State, event: TimeKept, facts: Facts) -> Step:
    """Say when the first questions come."""
    minute = facts.words.clock(event.minute)
    if event.waiting:
        message = _text(facts, "joining.done.waiting", minute=minute)
    elif event.first is None:
        once_there = facts.words.text("joining.once_there", at=minute)
        message = _text(facts, "joining.done", when=once_there)
    else:
        message = _text(facts, "joining.done", when=_when(event.first, facts))
    kept = _stay(State(data=_kept(state)), message, menu_too=facts)
    return answered(kept, MENUS, minute)


def _when(first: datetime, facts: Facts) -> str:
    zone = facts.students[-1].zone if facts.students else "UTC"
    day, today, at = local_day(first, zone), local_day(facts.now, zone), facts.words.time(first, zone)
    if (day - today).days <= 1:
        return facts.words.text("joining.today" if day == today else "joining.tomorrow", at=at)
    return facts.words.text("joining.day", day=facts.words.day(day), at=at)


def on_time_refused(state: State, event: TimeRefused, facts: Facts) -> Step:
    """Ask for another time."""
    return _stay(State(TIME, state.data), _text(facts, "student.refused", why=event.why))


# ---------------------------------------------------------------- tables

WORDS: Mapping[str, Callable[[State, str, Facts], Step]] = {
    AGREE: _agree_words,
    NAME: _name,
    ROSTER: _roster_words,
    TIME: _time_words,
}
"""What plain words mean, by state; elsewhere they get the greeting."""

BUTTONS: Mapping[tuple[str, str], Callable[[State, list[str], Incoming, Facts], Step]] = {
    (AGREE, "agree"): _agree,
    (AGREE, "more"): _more,
    (AGREE, "no"): _no,
    (NAME, "suggested"): _suggested,
    (ROSTER, "roster"): _roster,
}
"""Buttons by state and second part of their action: an old button does nothing."""

ANY_TIME: Mapping[str, Callable[[State, list[str], Incoming, Facts], Step]] = {
    "time": _time,
    "other": _other_time,
}
"""Buttons that name what they are about, and so mean the same in every state."""

RESULTS: Mapping[type[Result], Callable[[State, Any, Facts], Step]] = {
    ClassInvited: on_invited,
    NoDoor: on_no_door,
    Moved: on_moved,
    Permitted: on_permitted,
    WhichName: on_which_name,
    Joined: on_joined,
    NotJoined: on_not_joined,
    TimeKept: on_time_kept,
    TimeRefused: on_time_refused,
}
"""Results by their type."""
