"""What all parts of the student's conversation use."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from bot.chat.port import Button, Message
from bot.grading.kinds import KINDS
from bot.talk.core import Effect, Outgoing, State, Step, once, reply
from bot.talk.facts import Facts, StudentFacts
from bot.talk.student_facts import AskedQuestion

ANSWERING = "student.answering"
"""A text or a formula is wanted: any plain words are an attempt at it, also the word of a command."""

ASKED = "student.asked"
"""A choice or a number is wanted: no command can be mistaken for one, so commands still work."""

Rows = tuple[tuple[Button, ...], ...]


def rest(state: State, facts: Facts) -> State:
    """Return the state to be in when nothing else is wanted: answering, while a question is open."""
    kept = {name: state.data[name] for name in ("class",) if name in state.data}
    asked = facts.learning.open
    return State("idle", kept) if asked is None else answering(kept, asked)


def answering(kept: Mapping[str, object], asked: AskedQuestion, **more: object) -> State:
    """Return the state in which an open question waits for its answer."""
    name = ANSWERING if KINDS[asked.kind].in_words else ASKED
    return State(name, {**kept, "review": asked.review_id, **more})


def replied_elsewhere(facts: Facts) -> AskedQuestion | None:
    """Return the question whose message a text replies to, unless it is the open one."""
    replied = facts.learning.replied
    asked = None if replied is None else facts.learning.open
    same = replied is not None and asked is not None and replied.review_id == asked.review_id
    return None if same else replied


def say(facts: Facts, key: str, *, buttons: Rows = (), replaces: str = "", **values: object) -> Message:
    """Return one message of ours."""
    return Message(facts.words.say(key, **values), buttons, key=replaces, replaces=replaces)


def menu_of(facts: Facts, asked: str, key: str, buttons: Rows, **values: object) -> Message:
    """Return a message of ours that is answered once. `asked` says what about, within the key of the message."""
    return Message(facts.words.say(key, **values), buttons, key=once(asked))


def button(facts: Facts, key: str, action: str, *typed: str, **values: object) -> Button:
    """Return a button whose label is a text of ours. `typed` names what may be typed as well: texts ``typed.NAME``."""
    forms = tuple(form for name in typed for form in facts.words.typed(name))
    return Button(facts.words.text(key, **values), action, forms)


def step(state: State, facts: Facts, *messages: Message, effects: Iterable[Effect] = ()) -> Step:
    """Return the step that says and does something and then rests."""
    return Step(rest(state, facts), tuple(effects), reply(*messages))


def stay(state: State, *messages: Message, effects: Iterable[Effect] = ()) -> Step:
    """Return the step that says and does something where it stands."""
    return Step(state, tuple(effects), reply(*messages))


def to_speaker(message: Message, facts: Facts, **more: object) -> Outgoing:
    """Address a message to the speaker, with what the outbox has to know of it."""
    del facts
    return Outgoing(message, **more)  # type: ignore[arg-type]


def active(facts: Facts) -> tuple[StudentFacts, ...]:
    """Return the speaker's classes in which questions are asked."""
    return tuple(student for student in facts.students if student.state == "active")


def home_zone(facts: Facts) -> str:
    """Return the zone that the speaker lives in, as far as we know."""
    return facts.students[0].zone if facts.students else "UTC"


def number(text: str) -> int | None:
    """Return an id as a button carries it, or None when it is forged."""
    return int(text) if text.isascii() and text.isdigit() and len(text) < 16 else None
