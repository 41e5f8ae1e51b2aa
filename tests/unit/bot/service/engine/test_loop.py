"""One event, one transaction."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

import pytest
from sqlmodel import select

from bot.chat.port import Button, Incoming, Message, PresenceChanged, TextSaid
from bot.service.engine import effects, loop
from bot.service.engine.effects import Speaker
from bot.talk import router
from bot.talk.core import Effect, Event, Outgoing, Result, State, Step
from bot.talk.facts import Facts
from bot.words.rich import Rich
from storage.school import people
from storage.tables import Dialogue, OutboxItem
from tests.dialogues import MONDAY, Stage, at, stage


@dataclass(frozen=True, slots=True)
class Echo(Effect):
    """Come back with a number."""

    number: int


@dataclass(frozen=True, slots=True)
class Echoed(Result):
    """The number."""

    conversation: ClassVar[str] = "echo"
    number: int


@dataclass(frozen=True, slots=True)
class Tell(Effect):
    """Come back with somebody to tell."""

    person_id: int


@dataclass(frozen=True, slots=True)
class Told(Result):
    """Whom to tell."""

    conversation: ClassVar[str] = "echo"
    person_id: int

    @property
    def hearers(self) -> tuple[int, ...]:
        return (self.person_id,)


def echo(state: State, event: Event, facts: Facts) -> Step:
    """Count down, then say so; "for ever" never comes to rest, "fall" fails after an effect."""
    if isinstance(event, Echoed):
        if event.number == 0:
            return Step(State(), (), (Outgoing(Message(Rich.of("rest"))),))
        return Step(state, (Echo(event.number - 1),), (Outgoing(Message(Rich.of(str(event.number)))),))
    if isinstance(event, Told):
        row = ((Button("Go on", "student:resume"),),)
        return Step(state, (), (Outgoing(Message(Rich.of("hello"), row), person_id=event.person_id),))
    assert isinstance(event, Incoming)
    assert isinstance(event.content, TextSaid)
    match event.content.text.split():
        case ["tell", person]:
            return Step(state, (Tell(int(person)),))
        case ["tell", "unasked", person]:
            return Step(state, (), (Outgoing(Message(Rich.of("hello")), person_id=int(person)),))
        case ["fall"]:
            return Step(state, (Echo(-1),), (Outgoing(Message(Rich.of("unsaid"))),))
        case ["remember"]:
            return Step(State("echo.here", {"what": facts.place}))
        case _:
            return Step(state, (Echo(10**6 if event.content.text == "for ever" else 2),))


@pytest.fixture(autouse=True)
def _echoing(monkeypatch: pytest.MonkeyPatch) -> None:
    def carry(_work: Any, effect: Echo) -> list[Result]:
        if effect.number < 0:
            raise RuntimeError("fell")
        return [Echoed(effect.number)]

    monkeypatch.setitem(effects._CARRIERS, Echo, carry)
    monkeypatch.setitem(effects._CARRIERS, Tell, lambda _work, effect: [Told(effect.person_id)])
    monkeypatch.setattr(router, "CONVERSATIONS", {**router.CONVERSATIONS, "echo": echo})
    monkeypatch.setattr(router, "conversation_of", lambda state, event, facts: "echo")


@pytest.fixture
def school() -> Stage:
    return stage(at(MONDAY, 12))


def rows(school: Stage, table: Any) -> Any:
    return school.run(lambda s: list(s.exec(select(table))))


def test_results_are_taken_as_events_until_nothing_is_left(school):
    assert [one.text for one in school.say("mira", "go")] == ["2", "1", "rest"]


def test_a_conversation_that_never_rests_is_stopped_and_says_nothing(school):
    with pytest.raises(RuntimeError, match="did not come to rest"):
        school.say("mira", "for ever")
    assert not rows(school, OutboxItem)


def test_what_fails_half_way_has_said_and_changed_nothing(school):
    with pytest.raises(RuntimeError, match="fell"):
        school.say("mira", "fall")
    assert not rows(school, OutboxItem)
    assert not rows(school, Dialogue)


def test_a_conversation_at_rest_leaves_no_row(school):
    school.say("mira", "remember")
    assert [(row.user, row.state) for row in rows(school, Dialogue)] == [("mira", "echo.here")]
    school.say("mira", "go")
    assert not rows(school, Dialogue)


def test_a_class_place_has_a_conversation_of_its_own(school):
    school.say("mira", "remember")
    event = Incoming("terminal", "k", "room", "mira", "class", school.now, TextSaid("remember"))
    school.run(lambda s: loop.handle(s, school.app_context, event, school.now))
    kept = {row.user: row.data["data"] for row in rows(school, Dialogue)}
    assert kept == {"mira": {"what": "private"}, "#room": {"what": "class"}}


def test_a_message_to_somebody_goes_where_they_were_heard_last_and_can_be_answered_by_typing(school):
    person = school.run(lambda s: people.meet(s, "terminal", "jonas", "chat-jonas", school.now)).person_id
    (said,) = school.say("mira", f"tell {person}")
    assert said.address == "chat-jonas"
    state = school.run(lambda s: loop.load_state(s, Speaker("terminal", "jonas", "chat-jonas")))
    assert state.offers == (("go on", "student:resume"),)


def test_a_message_to_somebody_whom_no_result_named_is_a_defect(school):
    person = school.run(lambda s: people.meet(s, "terminal", "jonas", "chat-jonas", school.now)).person_id
    with pytest.raises(KeyError):
        school.say("mira", f"tell unasked {person}")
    assert not rows(school, OutboxItem)


def test_somebody_who_blocked_us_is_not_written_to(school):
    person = school.run(lambda s: people.meet(s, "terminal", "jonas", "chat-jonas", school.now)).person_id
    assert not school.event("jonas", PresenceChanged("blocked"))
    assert not school.say("mira", f"tell {person}")
    assert not school.event("jonas", PresenceChanged("unblocked"))
    assert len(school.say("mira", f"tell {person}")) == 1


def test_blocking_drops_what_waits(school):
    school.say("mira", "go")
    school.run(lambda s: people.meet(s, "terminal", "mira", "chat-mira", school.now))
    school.event("mira", PresenceChanged("blocked"))
    assert {row.state.value for row in rows(school, OutboxItem)} == {"dropped"}


def test_a_stranger_leaves_no_person_behind(school):
    school.say("mira", "go")
    assert school.run(lambda s: people.find_contact(s, "terminal", "mira")) is None


def test_a_fault_is_answered_with_its_reference_in_private_only(school):
    private = school.incoming("mira", TextSaid("x"))
    public = Incoming("terminal", "k", "room", "mira", "class", school.now, TextSaid("x"))
    for event in (private, public):
        school.run(lambda s, e=event: loop.apologise(s, school.app_context, e, "7F3A", school.now))
    (said,) = school.collect()
    assert said.address == "chat-mira"
    assert "(ref 7F3A)" in said.text
