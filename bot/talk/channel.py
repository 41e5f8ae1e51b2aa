"""What is said in a class's channel or group.

Theory of operation. The bot is nearly silent here: a class place carries topics from teachers and, on a teacher's
word, a summary. What was understood, and what was not, is told to the teacher in private. Nobody becomes a teacher
by what they are in the place: a person's rights come from the database alone. A post without an author comes from an
administrator of a channel that the teacher has bound with proof on both sides; it counts as the teacher's.

==================================  ===========================================================
in a place bound to a class         a topic post by a teacher starts a topic; anything else: silence
in any other place                  a code from a teacher's private chat binds it; else silence
the bot is added                    it says how to bind the place
removed, limited, moved             the class's teachers are told in private; nothing is lost
==================================  ===========================================================
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, ClassVar

from bot.chat.port import FileSent, Incoming, Message, PresenceChanged, TextSaid
from bot.talk.core import Effect, Event, Outgoing, Result, State, Step, only, reply
from bot.talk.facts import Facts
from bot.talk.teacher.effects import KeepPost
from bot.talk.teacher.posts import read_post
from bot.talk.teacher.topics import effect_of
from scheduler.calendar.zones import local_day
from storage.values import ClassInfo

CODE_LENGTH = 10


class ChannelResult(Result):
    """A result that is answered in the class place."""

    __slots__ = ()
    conversation: ClassVar[str] = "channel"


@dataclass(frozen=True, slots=True)
class BindHere(Effect):
    """Try a code that somebody posted in a place."""

    code: str
    platform: str
    address: str
    title: str = ""


@dataclass(frozen=True, slots=True)
class Bound(ChannelResult):
    """The place belongs to a class now; its teacher is told in private as well."""

    class_name: str
    title: str
    teacher_id: int | None

    @property
    def hearers(self) -> tuple[int, ...]:
        """The teacher."""
        return only(self.teacher_id)


@dataclass(frozen=True, slots=True)
class NotBound(ChannelResult):
    """The code was no good. `silent` when it did not look as if somebody meant one; `private` when it is for there."""

    silent: bool = False
    private: bool = False


@dataclass(frozen=True, slots=True)
class PlaceOffered(ChannelResult):
    """A code that a teacher can send in private to bind this place."""

    code: str


@dataclass(frozen=True, slots=True)
class PlaceChanged(Effect):
    """The bot was removed, limited, let in again, or the place moved: keep it, and tell the teachers."""

    change: str
    platform: str
    address: str
    new_address: str = ""
    title: str = ""


@dataclass(frozen=True, slots=True)
class PlaceNoted(ChannelResult):
    """What became of a bound place, and whom to tell."""

    change: str
    title: str
    class_name: str
    teachers: tuple[int, ...]

    @property
    def hearers(self) -> tuple[int, ...]:
        """The class's teachers."""
        return self.teachers


def step(state: State, event: Event, facts: Facts) -> Step:
    """Take one step in a class place."""
    if isinstance(event, Result):
        return RESULTS[type(event)](event, state, facts)
    match event.content:
        case PresenceChanged() as presence:
            return _presence(event, presence, state, facts)
        case TextSaid(text=text) | FileSent(caption=text):
            return _said(event, text, state, facts)
        case _:
            return Step(state)


def _said(event: Incoming, text: str, state: State, facts: Facts) -> Step:
    code = code_in(text)
    if code is not None:
        return Step(state, (BindHere(code, event.platform, event.address, event.title),))
    if facts.channel is None or not _by_teacher(event, facts, facts.channel):
        return Step(state)
    return _teacher_said(text, state, facts, facts.channel)


def _by_teacher(event: Incoming, facts: Facts, place: ClassInfo) -> bool:
    """Whether a post counts as a teacher's: of this class, or without an author in its channel."""
    return not event.user or any(one.id == place.id for one in facts.teaches)


def _teacher_said(text: str, state: State, facts: Facts, place: ClassInfo) -> Step:
    post = read_post(text, local_day(facts.now, place.rules.zone))
    if post is None:
        return Step(state)
    if not post.certain or not post.topic:
        return Step(state, (KeepPost(place.id, text[:2000]),))
    return Step(state, (effect_of(post, place.id, from_place=True),))


def code_in(text: str) -> str | None:
    """Return the code that a post consists of, if it looks like one: ten letters and digits, both present."""
    typed = "".join(text.split()).replace("-", "").removeprefix("/bind").upper()
    whole = len(typed) == CODE_LENGTH and typed.isascii() and typed.isalnum()
    return typed if whole and not typed.isalpha() and not typed.isdigit() else None


def _presence(event: Incoming, presence: PresenceChanged, state: State, facts: Facts) -> Step:
    noted = PlaceChanged(presence.change, event.platform, event.address, presence.new_address, event.title)
    return Step(state, (noted,))


# ---------------------------------------------------------------- results


def _bound(result: Bound, state: State, facts: Facts) -> Step:
    here = reply(Message(facts.words.say("channel.bound", name=result.class_name)))
    if result.teacher_id is None:
        return Step(state, (), here)
    told = _told(result.teacher_id, "channel_bound", result, facts)
    return Step(state, (), (*here, told))


def _not_bound(result: NotBound, state: State, facts: Facts) -> Step:
    if result.silent:
        return Step(state)
    text = "channel.code_private" if result.private else "channel.code_wrong"
    return Step(state, (), reply(Message(facts.words.say(text))))


def _offered(result: PlaceOffered, state: State, facts: Facts) -> Step:
    return Step(state, (), reply(Message(facts.words.say("channel.hello", code=result.code))))


def _noted(result: PlaceNoted, state: State, facts: Facts) -> Step:
    text = {"removed": "channel_lost", "limited": "channel_limited", "added": "channel_back"}.get(
        result.change
    )
    if text is None:
        return Step(state)
    return Step(state, (), tuple(_told(teacher, text, result, facts) for teacher in result.teachers))


def _told(teacher_id: int, text: str, result: Bound | PlaceNoted, facts: Facts) -> Outgoing:
    """Tell a teacher in private, in their language, what became of the class's place."""
    words = facts.to(teacher_id).words
    said = Message(words.say(f"teacher.{text}", title=result.title, name=result.class_name))
    return Outgoing(said, person_id=teacher_id)


RESULTS: Mapping[type[Result], Callable[[Any, State, Facts], Step]] = {
    Bound: _bound,
    NotBound: _not_bound,
    PlaceOffered: _offered,
    PlaceNoted: _noted,
}
