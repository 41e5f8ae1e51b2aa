"""Becoming a teacher, making a class, choosing one, its codes, its channel."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from bot.chat.port import Message
from bot.talk.core import State, Step, answered, once, reply
from bot.talk.facts import Facts
from bot.talk.help import menu
from bot.talk.teacher.common import (
    Pressed,
    Typed,
    answer,
    at,
    at_home,
    class_of,
    do,
    foreign,
    labelled,
    message,
    no_class,
    number,
    of_class,
    press,
    rows_of,
    with_class,
)
from bot.talk.teacher.effects import (
    AskChannelCode,
    ChannelCode,
    ClassCreated,
    CloseClass,
    CodeShown,
    CreateClass,
    Invite,
    ShowCode,
    TeacherInvited,
    Unbind,
    Welcomed,
)
from bot.talk.teacher_facts import TeachingFacts, meant_by
from bot.talk.zones import zones_named
from bot.words.rich import Rich

LONGEST = 80


def welcomed(result: Welcomed, state: State, facts: Facts) -> Step:
    """Greet somebody whose teacher's code was good."""
    if result.class_id is not None:
        said = message(facts, "welcome_class", name=result.class_name)
        after = State("teacher", {"class": result.class_id})
    else:
        said, after = message(facts, "welcome"), at(facts, state, "teacher.naming")
    return Step(after, (), reply(replace(said, menu=menu(facts))))


# ---------------------------------------------------------------- making a class


def create(rest: str, state: State, facts: Facts) -> Step:
    """Begin to make a class; with a name after the word the first question is spared."""
    if rest:
        return named(rest, state, facts)
    return answer(facts, at(facts, state, "teacher.naming"), "ask_name")


def create_pressed(args: Sequence[str], state: State, facts: Facts) -> Step:
    """Begin to make a class."""
    return create("", state, facts)


def named(text: str, state: State, facts: Facts) -> Step:
    """Take the name of a class, ask for its subject."""
    name = " ".join(text.split())
    if not 0 < len(name) <= LONGEST:
        return answer(facts, state, "ask_name_again")
    after = at(facts, state, "teacher.subject", name=name)
    buttons = [[press(facts, "skip", "nosubject")]]
    return answer(facts, after, "ask_subject", buttons, name=name, key=once("subject"))


def subject(text: str, state: State, facts: Facts) -> Step:
    """Take the subject, ask how students see the teacher."""
    after = at(
        facts, state, "teacher.self", name=state.data["name"], subject=" ".join(text.split())[:LONGEST]
    )
    return answered(answer(facts, after, "ask_self"), "subject", after.data["subject"])


def no_subject(args: Sequence[str], state: State, facts: Facts) -> Step:
    """Go on without a subject."""
    if state.name != "teacher.subject":
        return foreign(facts, state)
    return replace(subject("", state, facts), answered=None)


def self_named(text: str, state: State, facts: Facts) -> Step:
    """Take the teacher's name, ask for the zone."""
    own = " ".join(text.split())
    if not 0 < len(own) <= LONGEST:
        return answer(facts, state, "ask_self")
    data = {key: state.data[key] for key in ("name", "subject")}
    after = at(facts, state, "teacher.zone", **data, own=own)
    buttons = [[labelled(facts.home_zone, "zone", facts.home_zone)]]
    return answer(facts, after, "ask_zone", buttons, key=once("class_zone"))


def zone(text: str, state: State, facts: Facts) -> Step:
    """Take the zone or a city, and make the class."""
    found = zones_named(text, parts=True)
    if len(found) == 1:
        data = state.data
        made = CreateClass(data["name"], data["subject"], found[0], data["own"])
        return answered(Step(at_home(facts, state), (made,)), "class_zone", found[0])
    if not found:
        return answer(facts, state, "zone_unknown", text=text[:60])
    buttons = [labelled(name, "zone", name) for name in found]
    return answer(facts, state, "zone_which", rows_of(buttons), key=once("class_zone"))


def zone_pressed(args: Sequence[str], state: State, facts: Facts) -> Step:
    """Take a proposed zone."""
    if state.name != "teacher.zone" or not args:
        return foreign(facts, state)
    return zone(args[0], state, facts)


def created(result: ClassCreated, state: State, facts: Facts) -> Step:
    """Say what comes next, and show the code to join."""
    after = State("teacher", {"class": result.class_id})
    said = message(facts, "created", name=result.name)
    return Step(after, (ShowCode(result.class_id),), reply(said))


# ---------------------------------------------------------------- ending a class


def close(rest: str, state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Ask before ending the class at hand, with its name: one may stand at another than one thinks."""
    until, class_id = teaching.rules.retain_until, teaching.class_id
    buttons = [press(facts, "close", "close", class_id), press(facts, "keep", "keepclass", class_id)]
    day = facts.words.long_day(until) if until else facts.words.text("teacher.keep_default")
    school_class = class_of(facts, class_id)
    name = school_class.name if school_class is not None else ""
    asked = once("close", class_id)
    return answer(facts, at_home(facts, state), "close_sure", [buttons], name=name, until=day, key=asked)


def close_pressed(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """End the class."""
    return do(facts, State("teacher"), CloseClass(teaching.class_id))


def keep_pressed(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Leave it as it is."""
    return Step(at_home(facts, state), (), reply(Message(facts.words.say("account.kept"))))


# ---------------------------------------------------------------- choosing


def choose(rest: str, state: State, facts: Facts) -> Step:
    """Show the classes, or go to the one that is named."""
    if not facts.teaches:
        return no_class(facts, state)
    named = meant_by(rest, facts.teaches)
    if named is not None:
        return _chosen(named.id, facts)
    buttons = [labelled(one.name, "class", one.id) for one in facts.teaches]
    now_at = class_of(facts, facts.teaching.class_id if facts.teaching else None)
    return answer(
        facts,
        at_home(facts, state),
        "choose_class",
        [*rows_of(buttons), [press(facts, "create", "create")]],
        name=now_at.name if now_at else "",
    )


def choose_pressed(args: Sequence[str], state: State, facts: Facts) -> Step:
    """Go to a class."""
    class_id = number(args[0]) if args else None
    if class_id is None or class_of(facts, class_id) is None:
        return foreign(facts, state)
    return _chosen(class_id, facts)


def _chosen(class_id: int, facts: Facts) -> Step:
    chosen = class_of(facts, class_id)
    name = chosen.name if chosen else ""
    return answer(facts, State("teacher", {"class": class_id}), "class_chosen", name=name)


# ---------------------------------------------------------------- codes


def code(rest: str, state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Show a code to join the class."""
    return do(facts, state, ShowCode(teaching.class_id))


def only_code(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Make a new code and take all earlier ones back."""
    return do(facts, state, ShowCode(teaching.class_id, only=True))


def code_shown(result: CodeShown, state: State, facts: Facts) -> Step:
    """Show code, link and picture in one message; a code that stops the ones before takes their place."""
    spaced = f"{result.code[:5]} {result.code[5:]}"
    text = facts.words.say(
        "teacher.code_with_link" if result.link else "teacher.code_alone",
        name=result.class_name,
        code=spaced,
        link=result.link,
    )
    if result.only:
        text = text + Rich.of("\n") + facts.words.say("teacher.code_only")
    key = f"code:{result.class_id}"
    said = Message(
        text,
        ((press(facts, "new_code", "onlycode", result.class_id),),),
        attachment=result.picture,
        key=key,
        replaces=key if result.only else "",
    )
    return Step(at_home(facts, state), (), reply(said))


def invite(rest: str, state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Make a code for another teacher of the class."""
    return do(facts, state, Invite(teaching.class_id))


def invited(result: TeacherInvited, state: State, facts: Facts) -> Step:
    """Show the code for another teacher."""
    return answer(facts, at_home(facts, state), "invited", name=result.class_name, code=result.code)


# ---------------------------------------------------------------- the channel


def channel(rest: str, state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Show the class's channels and make a code to bind one."""
    if not teaching.channels:
        return do(facts, state, AskChannelCode(teaching.class_id))
    buttons = [
        press(facts, "unbind", "unbind", teaching.class_id, one.id, title=one.title or one.platform)
        for one in teaching.channels
    ]
    buttons.append(press(facts, "bind_more", "bind", teaching.class_id))
    titles = facts.words.listed([one.title or one.platform for one in teaching.channels])
    return answer(facts, at_home(facts, state), "channels", rows_of(buttons, 1), titles=titles)


def bind(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Make a code to bind one more place."""
    return do(facts, state, AskChannelCode(teaching.class_id))


def unbind(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Let a place go."""
    channel_id = number(args[0]) if args else None
    if channel_id is None:
        return foreign(facts, state)
    return do(facts, state, Unbind(teaching.class_id, channel_id))


def channel_code(result: ChannelCode, state: State, facts: Facts) -> Step:
    """Say where the code has to be posted."""
    return answer(facts, at_home(facts, state), "channel_code", name=result.class_name, code=result.code)


COMMANDS: Mapping[str, Typed] = {
    "create": create,
    "class": choose,
    "code": with_class(code),
    "invite": with_class(invite),
    "close": with_class(close),
    "channel": with_class(channel),
}
STATES: Mapping[str, Typed] = {
    "teacher.naming": named,
    "teacher.subject": subject,
    "teacher.self": self_named,
    "teacher.zone": zone,
}
BUTTONS: Mapping[str, Pressed] = {
    "create": create_pressed,
    "nosubject": no_subject,
    "zone": zone_pressed,
    "class": choose_pressed,
    "onlycode": of_class(only_code),
    "close": of_class(close_pressed),
    "keepclass": of_class(keep_pressed),
    "bind": of_class(bind),
    "unbind": of_class(unbind),
}
