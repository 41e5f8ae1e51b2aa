"""Statements against the rules of IEEE 9274.1.1-2023 (xAPI 2.0), as the specification text words them.

Rules taken from the data part of the specification (ADL's public repository, "Experience API data", sections 2.2 on
formatting, 2.4 on statements, 2.4.4.1 on interaction activities, 4.2 on language maps, 4.5 and 4.6 on moments and
durations); each check names the rule. The JSON grammar of interaction types is that of section 2.4.4.1.
"""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime, timedelta
from typing import Any
from urllib.parse import urlsplit
from uuid import UUID

import pytest

from bot.evidence.records import RecordRules, xapi_lines
from bot.grading.keys import Amount, ChoiceKey, FormulaKey, NumberKey, TextKey, to_dict
from storage.evidence_rows import AskedRow, ClassRow, ClassRows, QuestionRow, StudentRow, TopicRow

AT = datetime(2026, 12, 3, 18, 0, 0, 250_000, tzinfo=UTC)
GROUP = ClassRow(1, "10B", "10b", "Physics", "Europe/London", "en")
ROWS = ClassRows(GROUP, (StudentRow(1, "Mira", "active", True, AT),), (TopicRow(1, "Density", AT),))
QUESTIONS = (
    QuestionRow(1, 1, "choice", "A?", to_dict(ChoiceKey("x", ("y", "z")))),
    QuestionRow(2, 1, "number", "B?", to_dict(NumberKey((Amount(2.7, "g/cm³"),)))),
    QuestionRow(3, 1, "text", "C?", to_dict(TextKey(("Archimedes", "Archimedes of Syracuse")))),
    QuestionRow(4, 1, "formula", "D?", to_dict(FormulaKey(("rho*g*h",)))),
)
TOP = {
    "id", "actor", "verb", "object", "result", "context", "timestamp", "stored", "authority", "version", "attachments",
}  # fmt: skip
KINDS = {
    "true-false", "choice", "fill-in", "long-fill-in", "matching", "performance", "sequencing", "likert", "numeric",
    "other",
}  # fmt: skip
COMPONENTS = {"choice": "choices", "sequencing": "choices", "likert": "scale", "performance": "steps"}
RFC3339 = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?(Z|[+-]\d\d:\d\d)")
DURATION = re.compile(r"PT\d+(\.\d+)?S")
LANGUAGE = re.compile(r"[a-z]{2,3}(-[A-Za-z0-9]{2,8})*")


def _statements(typed: bool = True) -> list[dict[str, Any]]:
    asked = [
        AskedRow(
            1, 1, question.id, AT, verdict=verdict, answered_at=AT + timedelta(seconds=question.id), option=1,
            given="2,7 g/cm³", taken_s=seconds, on_time=True, review_id=10 * question.id + number,
        )
        for question in QUESTIONS
        for number, (verdict, seconds) in enumerate((("right", 3.25), ("wrong", 400.0), ("unsure", None)))
    ]  # fmt: skip
    rules = RecordRules("https://rowan-hill.example", b"0123456789abcdef", typed=typed)
    return [json.loads(line) for line in xapi_lines(ROWS, QUESTIONS, asked, rules).decode().splitlines()]


@pytest.fixture(params=range(12))
def statement(request: pytest.FixtureRequest) -> dict[str, Any]:
    return _statements()[int(request.param)]


def _nulls(value: Any) -> list[Any]:
    """Return nulls anywhere but in extensions: the standard forbids them there."""
    if isinstance(value, dict):
        return [null for key, one in value.items() if key != "extensions" for null in _nulls(one)]
    if isinstance(value, list):
        return [null for one in value for null in _nulls(one)]
    return [value] if value is None else []


def _is_iri(text: str) -> bool:
    parts = urlsplit(text)
    return bool(parts.scheme and parts.netloc) and not re.search(r"[\s<>\"{}|\\^`]", text)


def test_a_statement_has_actor_verb_and_object_and_no_property_of_its_own(statement: dict[str, Any]) -> None:
    assert {"actor", "verb", "object"} <= set(statement) <= TOP


def test_no_property_is_null_or_empty(statement: dict[str, Any]) -> None:
    assert _nulls(statement) == []
    assert "version" not in statement  # left to the receiving store, which puts its own


def test_the_id_is_a_uuid_in_canonical_form(statement: dict[str, Any]) -> None:
    assert str(UUID(statement["id"])) == statement["id"]


def test_ids_are_unique() -> None:
    ids = [one["id"] for one in _statements()]
    assert len(set(ids)) == len(ids) == 12


def test_an_agent_has_exactly_one_inverse_functional_identifier(statement: dict[str, Any]) -> None:
    actor = statement["actor"]
    assert actor["objectType"] == "Agent"
    assert len({"mbox", "mbox_sha1sum", "openid", "account"} & set(actor)) == 1
    assert set(actor["account"]) == {"homePage", "name"}
    assert _is_iri(actor["account"]["homePage"])


def test_the_verb_has_an_iri_and_a_language_map(statement: dict[str, Any]) -> None:
    assert statement["verb"]["id"] == "http://adlnet.gov/expapi/verbs/answered"
    assert all(LANGUAGE.fullmatch(tag) for tag in statement["verb"]["display"])


def test_the_activity_is_a_valid_interaction(statement: dict[str, Any]) -> None:
    activity = statement["object"]
    definition = activity["definition"]
    assert activity["objectType"] == "Activity"
    assert _is_iri(activity["id"])
    assert definition["type"] == "http://adlnet.gov/expapi/activities/cmi.interaction"
    assert definition["interactionType"] in KINDS
    assert all(LANGUAGE.fullmatch(tag) for tag in definition["description"])
    pattern = definition.get("correctResponsesPattern", [])
    assert isinstance(pattern, list)
    assert all(isinstance(one, str) for one in pattern)
    allowed = COMPONENTS.get(definition["interactionType"])
    assert {"choices", "scale", "source", "target", "steps"} & set(definition) <= {allowed}


def test_components_have_distinct_ids_that_pattern_and_response_use(statement: dict[str, Any]) -> None:
    definition = statement["object"]["definition"]
    if definition["interactionType"] != "choice":
        return
    ids = [one["id"] for one in definition["choices"]]
    assert len(set(ids)) == len(ids)
    assert set(definition["correctResponsesPattern"]) <= set(ids)
    response = statement["result"].get("response")
    assert response is None or set(response.split("[,]")) <= set(ids)


def test_the_result_has_the_types_of_the_standard(statement: dict[str, Any]) -> None:
    result = statement["result"]
    assert set(result) <= {"score", "success", "completion", "response", "duration", "extensions"}
    assert isinstance(result["success"], bool)
    assert isinstance(result["completion"], bool)
    assert isinstance(result.get("response", ""), str)
    assert "duration" not in result or DURATION.fullmatch(result["duration"])


def test_extensions_have_iris_for_keys(statement: dict[str, Any]) -> None:
    assert all(_is_iri(key) for key in statement["result"]["extensions"])


def test_the_context_holds_lists_of_activities(statement: dict[str, Any]) -> None:
    context = statement["context"]
    assert set(context) <= {
        "registration", "instructor", "team", "contextActivities", "contextAgents", "contextGroups", "revision",
        "platform", "language", "statement", "extensions",
    }  # fmt: skip
    assert set(context["contextActivities"]) <= {"parent", "grouping", "category", "other"}
    for activities in context["contextActivities"].values():
        assert activities
        assert all(_is_iri(one["id"]) and one["objectType"] == "Activity" for one in activities)
    assert LANGUAGE.fullmatch(context["language"])


def test_the_moment_is_rfc_3339_in_utc_with_milliseconds(statement: dict[str, Any]) -> None:
    assert RFC3339.fullmatch(statement["timestamp"])
    assert statement["timestamp"].endswith("Z")
    assert datetime.fromisoformat(statement["timestamp"]) > AT


def test_a_line_is_one_json_object_in_utf_8() -> None:
    rules = RecordRules("https://rowan-hill.example", b"0123456789abcdef", typed=True)
    row = AskedRow(1, 1, 2, AT, verdict="right", answered_at=AT, given="2,7\ng/cm³ \u2028", review_id=1)
    data = xapi_lines(ROWS, QUESTIONS, [row], rules)
    assert data.count(b"\n") == 1
    assert json.loads(data.decode("utf-8"))["result"]["response"] == "2,7\ng/cm³ \u2028"
