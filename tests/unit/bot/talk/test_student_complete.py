"""Nothing is forgotten: every effect is carried out, every result taken, every text there and used."""

from __future__ import annotations

import ast
import re
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import bot.service.rounds  # noqa: F401 - registers what is carried out
from bot.service.engine.effects import _CARRIERS
from bot.talk import account, joining, student
from bot.talk.account import AccountResult
from bot.talk.commands import COMMANDS
from bot.talk.core import Effect, Result
from bot.talk.joining_effects import JoiningResult
from bot.talk.student.effects import StudentResult
from bot.words.catalogue import HERE, messages, read, texts

TEXTS = texts("en")
OURS = [
    str(message.context)
    for name in ("joining", "student", "account")
    for message in messages(read(HERE / "en" / f"{name}.pot"))
]
TALK = Path(student.__file__).parents[1]
SOURCES = [
    *sorted((TALK / "student").glob("*.py")),
    TALK / "joining.py",
    TALK / "account.py",
    TALK.parent / "service" / "student" / "person_files.py",
    TALK / "help.py",
]


def _kinds(base: type) -> Iterator[type]:
    """Return the classes below one, without the drafts from which slotted dataclasses are made."""
    subclasses: list[type] = base.__subclasses__()
    for kind in subclasses:
        if getattr(sys.modules[kind.__module__], kind.__name__, None) is kind:
            yield kind
        yield from _kinds(kind)


def test_every_effect_of_a_student_is_carried_out_by_one_function():
    ours = [
        kind
        for kind in _kinds(Effect)
        if kind.__module__.startswith(("bot.talk.student", "bot.talk.joining", "bot.talk.account"))
    ]
    assert len(ours) > 15
    assert [kind.__name__ for kind in ours if kind not in _CARRIERS] == []


@pytest.mark.parametrize(
    ("base", "taken"),
    [
        (StudentResult, student.RESULTS),
        (JoiningResult, joining.RESULTS),
        (AccountResult, account.RESULTS),
    ],
)
def test_every_result_is_taken(base: type[Result], taken: dict[type[Result], object]):
    assert set(_kinds(base)) == set(taken)


def test_every_command_is_taken_and_described():
    for conversation, taken in (("student", student.COMMANDS), ("account", account.COMMANDS)):
        ours = {command.word for command in COMMANDS if command.conversation == conversation}
        assert ours == set(taken)
    assert [command.word for command in COMMANDS if f"command.{command.word}" not in TEXTS] == []


def _keys_in_sources() -> tuple[set[str], list[re.Pattern[str]]]:
    """Return text keys written out, and patterns for those that are put together."""
    whole: set[str] = set()
    patterns: list[re.Pattern[str]] = []
    for source in SOURCES:
        for node in ast.walk(ast.parse(source.read_text())):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                whole.add(node.value)
            elif isinstance(node, ast.JoinedStr):
                parts = [
                    re.escape(str(p.value)) if isinstance(p, ast.Constant) else r"[\w.]+" for p in node.values
                ]
                patterns.append(re.compile("".join(parts)))
    return whole, patterns


def test_every_text_is_used_and_every_text_that_is_used_is_there():
    whole, patterns = _keys_in_sources()
    texts = {
        key
        for key in OURS
        if key.startswith(("student.", "joining.", "account.")) and not key.startswith("account.stored.")
    }
    unused = [
        key for key in texts if key not in whole and not any(pattern.fullmatch(key) for pattern in patterns)
    ]
    assert unused == []
    states = {
        *student.WORDS,
        *(name for name, _ in joining.BUTTONS),
        "student.leaving",
        account.LANGUAGE,
        account.ERASING,
    }
    named = {key for key in whole if re.fullmatch(r"(student|joining|account)\.[a-z_.]*[a-z]", key)} - states
    assert sorted(named - set(TEXTS)) == []


def test_no_text_shouts_and_each_fits_a_phone():
    for key in OURS:
        text = TEXTS[key]
        for form in [text] if isinstance(text, str) else text.values():
            assert "!" not in form, key
            assert len(form) < 620, key
