"""Whatever a person types or forges: it is never read as a command of a role that the person does not have."""

from __future__ import annotations

from functools import cache
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st
from sqlmodel import Session, select

from bot.chat.port import ButtonPressed, TextSaid
from bot.talk.commands import COMMANDS, parse
from storage.tables import (
    Channel,
    Code,
    CodeKind,
    Holiday,
    Lesson,
    Question,
    Quiz,
    SchoolClass,
    Staff,
    Teaching,
    Topic,
    Upload,
)
from tests.dialogues import MONDAY, Frozen, add_class, at, join, stage, teach

ROLES = ("stranger", "student", "teacher")
OF_TEACHERS = (SchoolClass, Staff, Teaching, Topic, Lesson, Question, Quiz, Holiday, Channel, Upload)
"""What only teachers change."""

words = st.sampled_from(sorted({command.word for command in COMMANDS}))
rest = st.one_of(
    st.just(""),
    st.text(max_size=30),
    st.sampled_from(["1", "10B Physics", "20 Dec", "Mira", "Springs", "yes", "off", "all"]),
)
typed = st.builds(
    lambda slash, word, loud, rest: f"{slash}{word.upper() if loud else word} {rest}",
    st.sampled_from(["", "/", " /", "//", "/holdfast_bot "]),
    words,
    st.booleans(),
    rest,
)
posts = st.sampled_from(
    ["New topic: Levers", "/topic Levers", "Unit? / pascal / newton", "Topic: Levers\nquiz: 11 Dec"]
)
anything = st.one_of(typed, posts, st.text(max_size=200))
VERBS = (
    "use",
    "permit",
    "remove",
    "remove_yes",
    "retire",
    "unbind",
    "share",
    "rule",
    "new_code",
    "bind",
    "pull",
)
forged = st.builds(
    lambda verb, number, rest: f"teacher:{verb}:{number}{rest}",
    st.sampled_from(VERBS),
    st.integers(0, 9),
    st.sampled_from(["", ":1", ":report", ":0:1"]),
)


@settings(max_examples=300, deadline=None)
@given(anything, st.sets(st.sampled_from(ROLES)))
def test_a_text_is_a_command_of_the_speakers_own_roles_or_none(text: str, roles: set[str]) -> None:
    found = parse(text, frozenset(roles))
    assert found is None or found.command.roles & roles


@cache
def _class_with_a_student() -> Frozen:
    made = stage(at(MONDAY, 16))
    group = add_class(made)
    teach(made, group, "Springs", at(MONDAY, 9))
    join(made, group, "mira")
    return made.freeze()


def _of_teachers(session: Session) -> list[Any]:
    rows = [row.model_dump() for table in OF_TEACHERS for row in session.exec(select(table))]
    # Moving to another chat is a student's own business, and the only code that a student can have made.
    given_out = [code.id for code in session.exec(select(Code)) if code.kind is not CodeKind.MOVE]
    return [rows, given_out]


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from(["mira", "nobody"]),
    st.lists(st.one_of(anything.map(TextSaid), forged.map(ButtonPressed)), min_size=1, max_size=4),
)
def test_nothing_that_students_or_strangers_say_changes_what_is_the_teachers(
    user: str, said: list[TextSaid | ButtonPressed]
) -> None:
    playing = _class_with_a_student().thaw()
    before = playing.run(_of_teachers)
    for content in said:
        playing.event(user, content)
    assert playing.run(_of_teachers) == before
