"""Questions of our own bank: which topics it has some for, what they look like, taken with a tap."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from bot.chat.port import Button, Message
from bot.talk.core import State, Step, once, reply
from bot.talk.facts import Facts
from bot.talk.teacher.common import (
    Pressed,
    Typed,
    action,
    at_home,
    do,
    foreign,
    labelled,
    lines,
    number,
    of_class,
    rows_of,
    with_class,
)
from bot.talk.teacher.effects import BankOffered, BankTaken, LookInBank, OfferedTopic, TakeFromBank
from bot.talk.teacher_facts import TeachingFacts
from bot.words.rich import Rich

MOST_TOPICS = 30
"""Buttons of one message; further topics come up when these are done."""


def start(rest: str, state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Show what the bank has for the class."""
    return do(facts, state, LookInBank(teaching.class_id))


def look(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Show what the bank has for the class, or for one of its topics: ``teacher:bank:CLASS[:TOPIC]``."""
    topic = number(args[0]) if args else None
    if args and topic is None:
        return foreign(facts, state)
    return do(facts, state, LookInBank(teaching.class_id, topic))


def take(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Take the questions of a topic, or ``all``."""
    topic = number(args[0]) if args else None
    if topic is None and list(args) != ["all"]:
        return foreign(facts, state)
    return do(facts, state, TakeFromBank(teaching.class_id, topic))


def enough(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Leave the rest of what was offered."""
    return Step(at_home(facts, state), (), reply(Message(facts.words.say("bank.enough"))))


def offered(result: BankOffered, state: State, facts: Facts) -> Step:
    """List the topics, or show the questions of one."""
    return Step(at_home(facts, state), (), reply(_offer(result, facts, Rich())))


def taken(result: BankTaken, state: State, facts: Facts) -> Step:
    """Say what was added; go on with the next topic."""
    names = facts.words.listed(list(result.topics))
    said = facts.words.say(
        "bank.taken" if result.added else "bank.taken_before", n=result.added, topics=names
    )
    if not result.coming.topics:
        return Step(at_home(facts, state), (), reply(Message(said)))
    return Step(at_home(facts, state), (), reply(_offer(result.coming, facts, said + Rich.of("\n\n"))))


def _offer(result: BankOffered, facts: Facts, before: Rich) -> Message:
    key = once("bank", result.class_id)
    if not result.topics:
        return Message(before + facts.words.say("bank.nothing"), key=key)
    looked_at = next((one for one in result.topics if one.id == result.topic_id), None)
    if looked_at is None:
        return Message(before + _overview(result, facts), _topic_buttons(result, facts), key=key)
    said = facts.words.say("bank.topic", topic=looked_at.name, n=looked_at.questions) + Rich.of("\n")
    said += lines(facts, result.examples)
    if looked_at.questions > len(result.examples):
        said += Rich.of("\n") + facts.words.say("teacher.more", n=looked_at.questions - len(result.examples))
    return Message(before + said, _question_buttons(result, looked_at, facts), key=key)


def _overview(result: BankOffered, facts: Facts) -> Rich:
    total = sum(one.questions for one in result.topics)
    return facts.words.say("bank.topics", n=len(result.topics), questions=total)


def _topic_buttons(result: BankOffered, facts: Facts) -> tuple[tuple[Button, ...], ...]:
    here = result.class_id
    topics = [labelled(f"{one.name} ({one.questions})", "bank", here, one.id) for one in result.topics]
    everything = _button(facts, "take_all", "bank_take", here, "all")
    return (*rows_of(topics[:MOST_TOPICS]), (everything, _button(facts, "enough", "bank_enough", here)))


def _question_buttons(
    result: BankOffered, looked_at: OfferedTopic, facts: Facts
) -> tuple[tuple[Button, ...], ...]:
    here = result.class_id
    take_these = _button(facts, "take", "bank_take", here, looked_at.id, n=looked_at.questions)
    place = result.topics.index(looked_at)
    following = result.topics[place + 1 : place + 2]
    rest = [_button(facts, "skip", "bank", here, one.id, topic=one.name[:40]) for one in following]
    return ((take_these,), *((one,) for one in rest), (_button(facts, "enough", "bank_enough", here),))


def _button(facts: Facts, text: str, verb: str, /, *args: object, **values: object) -> Button:
    return Button(facts.words.text(f"bank.button.{text}", **values), action(verb, *args))


def hint(class_id: int, topics: int, facts: Facts) -> tuple[Rich, tuple[tuple[Button, ...], ...]]:
    """Return what is said after a timetable whose topics the bank has questions for, and its button."""
    said = facts.words.say("bank.hint", n=topics)
    return said, ((_button(facts, "look", "bank", class_id),),)


COMMANDS: Mapping[str, Typed] = {"bank": with_class(start)}
BUTTONS: Mapping[str, Pressed] = {
    "bank": of_class(look),
    "bank_take": of_class(take),
    "bank_enough": of_class(enough),
}
