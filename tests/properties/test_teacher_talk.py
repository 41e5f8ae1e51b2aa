"""Whatever a teacher types, presses or sends, in whatever state, gets an answer and never an exception."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bot.chat.port import ButtonPressed, FileSent, Incoming, TextSaid
from bot.talk import channel, teacher
from bot.talk.commands import COMMANDS
from bot.talk.core import Effect, State, Step
from bot.talk.facts import Facts
from bot.talk.teacher_facts import (
    ChannelFacts,
    PupilFacts,
    TeachingFacts,
    TopicFacts,
)
from bot.words import words
from storage.values import ClassInfo, ConsentRule, HolidayInfo, LessonInfo, QuizInfo, Rules

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
TODAY = date(2026, 11, 25)
RULES = Rules(
    zone="Europe/London",
    school_weekdays=(0, 1, 2, 3, 4),
    lesson_hours=((0, 480, 525),),
    quiet_from=1200,
    quiet_until=450,
    nudge_minute=1080,
    nudges_per_day=1,
    questions_per_nudge=3,
    term_allowance=None,
    target=None,
    on_holidays=False,
    consent=ConsentRule.SCHOOL,
    report_weekday=4,
    report_minute=930,
    retain_until=None,
)
SCHOOL_CLASS = ClassInfo(1, "10B Physics", "physics", "en", RULES)
TEACHING = TeachingFacts(
    1,
    TODAY,
    RULES,
    topics=(TopicFacts(1, "Density", TODAY, 0, date(2026, 12, 11)), TopicFacts(2, "Springs", None, 3, None)),
    lessons=(LessonInfo(1, 1, "Density", NOW, None, "p. 12", TODAY),),
    missed_by={1: frozenset({1})},
    quizzes=(QuizInfo(1, "", "quiz", datetime(2026, 12, 11, 9, tzinfo=UTC), date(2026, 12, 11), (1, 2)),),
    holidays=(HolidayInfo(1, date(2026, 12, 21), date(2027, 1, 3), "winter break"),),
    students=(PupilFacts(1, "Mira", "active", True), PupilFacts(2, "Tom", "waiting", True)),
    channels=(ChannelFacts(1, "telegram", "-100", "10B", True),),
)
FACTS = Facts(
    NOW,
    words("en"),
    "terminal",
    "okafor",
    "private",
    person_id=1,
    teaches=(SCHOOL_CLASS,),
    staff=True,
    teaching=TEACHING,
)
NO_CLASS = Facts(NOW, words("en"), "terminal", "okafor", "private", person_id=1, staff=True)

DATA: dict[str, Any] = {
    "class": 1,
    "name": "10B",
    "subject": "physics",
    "own": "Ms Okafor",
    "topic": 1,
    "quiz": 1,
    "student": 1,
    "rule": "nudge",
    "verb": "add_to",
    "questions": [1, 2],
}

states = st.sampled_from(sorted(teacher.STATES)).map(lambda name: State(name, DATA)) | st.just(
    State("teacher", {"class": 1})
)
command_words = st.sampled_from([one.word for one in COMMANDS if one.conversation == "teacher"])
pieces = st.sampled_from(
    [
        "New topic:",
        "Density",
        " / ",
        "\n",
        "11 Dec",
        "3/4",
        "/",
        "homework:",
        "quiz:",
        "Mira",
        "18:00",
        "-",
        "12",
    ]
)
texts = (
    st.text(max_size=60)
    | st.lists(pieces, max_size=8).map(" ".join)
    | st.builds(
        lambda word, rest: f"{word} {rest}", command_words, st.lists(pieces, max_size=4).map(" ".join)
    )
    | command_words
)
verbs = st.sampled_from(sorted(teacher.BUTTONS))
arguments = st.lists(
    st.sampled_from(
        ["1", "2", "0", "999999999999999999999", "-1", "x", "", "report", "nudge", "739000", "１"]
    ),
    max_size=5,
)


def event(content: Any, place: Any = "private") -> Incoming:
    return Incoming("terminal", "1", "@okafor", "okafor", place, NOW, content, name="Ms Okafor")


def check(step: Step) -> None:
    assert step.messages or step.effects
    json.dumps(dict(step.state.data))
    for out in step.messages:
        assert out.message.text.plain.strip() or out.message.attachment
        assert len(out.message.text.plain) < 4096
        for button in out.message.all_buttons:
            assert button.label.strip()
            assert button.action.isascii()
            assert len(button.action) <= 64


@settings(deadline=None, max_examples=300)
@given(state=states, text=texts, facts=st.sampled_from([FACTS, NO_CLASS]))
def test_any_text_in_any_state_is_answered(state: State, text: str, facts: Facts):
    check(teacher.step(state, event(TextSaid(text)), facts))


@settings(deadline=None, max_examples=300)
@given(
    state=states, verb=verbs | st.text(max_size=8), args=arguments, facts=st.sampled_from([FACTS, NO_CLASS])
)
def test_any_button_even_a_forged_one_is_answered(state: State, verb: str, args: list[str], facts: Facts):
    check(teacher.step(state, event(ButtonPressed(":".join(["teacher", verb, *args]))), facts))


@settings(deadline=None, max_examples=60)
@given(
    state=states,
    name=st.text(max_size=20),
    caption=texts,
    kind=st.sampled_from(["image/png", "text/csv", "", "application/zip"]),
    size=st.integers(0, 10**9),
)
def test_any_file_is_answered(state: State, name: str, caption: str, kind: str, size: int):
    check(teacher.step(state, event(FileSent("handle", name, kind, size, caption)), FACTS))


@settings(deadline=None, max_examples=200)
@given(text=texts, bound=st.booleans(), teaches=st.booleans())
def test_a_class_place_never_answers_in_public(text: str, bound: bool, teaches: bool):
    facts = Facts(
        NOW,
        words("en"),
        "terminal",
        "okafor",
        "class",
        person_id=1,
        teaches=(SCHOOL_CLASS,) if teaches else (),
        channel=SCHOOL_CLASS if bound else None,
    )
    step = channel.step(State(), event(TextSaid(text), "class"), facts)
    assert step.messages == ()
    if not (bound and teaches):
        assert all(isinstance(effect, channel.BindHere) for effect in step.effects)


@pytest.mark.parametrize("module", ["bot.talk.teacher.effects", "bot.talk.channel"])
def test_every_effect_of_the_teacher_is_carried_out_by_one_function(module: str):
    from importlib import import_module

    import bot.service.rounds  # noqa: F401 - registers all of them
    from bot.service.engine.effects import _CARRIERS

    made = [
        one
        for one in vars(import_module(module)).values()
        if isinstance(one, type) and issubclass(one, Effect) and one is not Effect
    ]
    assert len(made) > 1
    assert [one for one in made if one not in _CARRIERS] == []
