"""Statements against the rules of IEEE 9274.1.1-2023 (xAPI 2.0); the rules and their source: tests/xapi_rules.py."""

from __future__ import annotations

import json
from collections.abc import Callable
from copy import deepcopy
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from bot.evidence.records.xapi import RecordRules, xapi_lines
from bot.grading.keys import Amount, ChoiceKey, FormulaKey, NumberKey, TextKey, to_dict
from storage.history.evidence_rows import (
    AskedRecord,
    ClassRecord,
    ClassRecords,
    QuestionRecord,
    StudentRecord,
    TopicRecord,
)
from tests.xapi_rules import RULES, Statement, hold

AT = datetime(2026, 12, 3, 18, 0, 0, 250_000, tzinfo=UTC)
GROUP = ClassRecord(1, "10B", "10b", "Physics", "Europe/London", "en")
ROWS = ClassRecords(GROUP, (StudentRecord(1, "Mira", "active", True, AT),), (TopicRecord(1, "Density", AT),))
QUESTIONS = (
    QuestionRecord(1, 1, "choice", "A?", to_dict(ChoiceKey("x", ("y", "z")))),
    QuestionRecord(2, 1, "number", "B?", to_dict(NumberKey((Amount(2.7, "g/cm³"),)))),
    QuestionRecord(3, 1, "text", "C?", to_dict(TextKey(("Archimedes", "Archimedes of Syracuse")))),
    QuestionRecord(4, 1, "formula", "D?", to_dict(FormulaKey(("rho*g*h",)))),
)


def _statements(typed: bool = True) -> list[Statement]:
    asked = [
        AskedRecord(
            1, 1, question.id, AT, verdict=verdict, answered_at=AT + timedelta(seconds=question.id), option=1,
            given="2,7 g/cm³", taken_s=seconds, on_time=True, review_id=10 * question.id + number,
        )
        for question in QUESTIONS
        for number, (verdict, seconds) in enumerate((("right", 3.25), ("wrong", 400.0), ("unsure", None)))
    ]  # fmt: skip
    rules = RecordRules("https://rowan-hill.example", b"0123456789abcdef", typed=typed)
    return [json.loads(line) for line in xapi_lines(ROWS, QUESTIONS, asked, rules).decode().splitlines()]


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.__name__)
@pytest.mark.parametrize("number", range(12))
def test_a_statement(number: int, rule: Callable[[Statement], None]) -> None:
    rule(_statements()[number])


def test_statements_of_an_export_hold_together() -> None:
    statements = _statements()
    assert len(statements) == 12
    hold(statements)


def _broken(path: str, value: Any) -> Statement:
    statement = deepcopy(_statements()[0])
    *way, last = path.split("/")
    inner = statement
    for name in way:
        inner = inner[name]
    inner[last] = value
    return statement


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("id", "7"),
        ("school", "Rowan Hill"),
        ("result/response", None),
        ("actor/mbox", "mailto:mira@rowan-hill.example"),
        ("actor/account/homePage", "rowan hill"),
        ("verb/display", {"English": "answered"}),
        ("object/id", "questions/1"),
        ("object/definition/interactionType", "multiple"),
        ("object/definition/scale", []),
        ("object/definition/correctResponsesPattern", ["q"]),
        ("result/success", "yes"),
        ("result/duration", "3.25 s"),
        ("result/extensions", {"on-time": True}),
        ("context/contextActivities", {"parent": []}),
        ("timestamp", "2026-12-03 18:00"),
    ],
)
def test_the_rules_refuse_what_the_standard_refuses(path: str, value: Any) -> None:
    with pytest.raises(AssertionError if path != "id" else ValueError, match=r".*"):
        hold([_broken(path, value)])


def test_a_repeated_id_is_refused() -> None:
    with pytest.raises(AssertionError):
        hold([_statements()[0], _statements()[0]])


def test_the_moment_is_that_of_the_answer() -> None:
    assert datetime.fromisoformat(_statements()[0]["timestamp"]) == AT + timedelta(seconds=1)


def test_a_line_is_one_json_object_in_utf_8() -> None:
    rules = RecordRules("https://rowan-hill.example", b"0123456789abcdef", typed=True)
    row = AskedRecord(1, 1, 2, AT, verdict="right", answered_at=AT, given="2,7\ng/cm³ \u2028", review_id=1)
    data = xapi_lines(ROWS, QUESTIONS, [row], rules)
    assert data.count(b"\n") == 1
    assert json.loads(data.decode("utf-8"))["result"]["response"] == "2,7\ng/cm³ \u2028"
