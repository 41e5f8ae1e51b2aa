"""The rules of IEEE 9274.1.1-2023 (xAPI 2.0) for a statement, as the specification text words them.

Rules taken from the data part of the specification (ADL's public repository, "Experience API data", sections 2.2 on
formatting, 2.4 on statements, 2.4.4.1 on interaction activities, 4.2 on language maps, 4.5 and 4.6 on moments and
durations); each check names the rule. The JSON grammar of interaction types is that of section 2.4.4.1.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import datetime
from typing import Any
from urllib.parse import urlsplit
from uuid import UUID

Statement = dict[str, Any]

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


def has_actor_verb_and_object_and_no_property_of_its_own(statement: Statement) -> None:
    assert {"actor", "verb", "object"} <= set(statement) <= TOP


def has_no_null_or_empty_property(statement: Statement) -> None:
    assert _nulls(statement) == []
    assert "version" not in statement  # left to the receiving store, which puts its own


def has_a_uuid_in_canonical_form(statement: Statement) -> None:
    assert str(UUID(statement["id"])) == statement["id"]


def has_an_agent_with_exactly_one_inverse_functional_identifier(statement: Statement) -> None:
    actor = statement["actor"]
    assert actor["objectType"] == "Agent"
    assert len({"mbox", "mbox_sha1sum", "openid", "account"} & set(actor)) == 1
    assert set(actor["account"]) == {"homePage", "name"}
    assert is_iri(actor["account"]["homePage"])
    assert actor["account"]["name"]


def has_a_verb_with_an_iri_and_a_language_map(statement: Statement) -> None:
    assert statement["verb"]["id"] == "http://adlnet.gov/expapi/verbs/answered"
    assert all(LANGUAGE.fullmatch(tag) for tag in statement["verb"]["display"])


def has_a_valid_interaction(statement: Statement) -> None:
    activity = statement["object"]
    definition = activity["definition"]
    assert activity["objectType"] == "Activity"
    assert is_iri(activity["id"])
    assert definition["type"] == "http://adlnet.gov/expapi/activities/cmi.interaction"
    assert definition["interactionType"] in KINDS
    assert all(LANGUAGE.fullmatch(tag) for tag in definition["description"])
    pattern = definition.get("correctResponsesPattern", [])
    assert isinstance(pattern, list)
    assert all(isinstance(one, str) for one in pattern)
    allowed = COMPONENTS.get(definition["interactionType"])
    assert {"choices", "scale", "source", "target", "steps"} & set(definition) <= {allowed}


def has_components_with_distinct_ids_that_pattern_and_response_use(statement: Statement) -> None:
    definition = statement["object"]["definition"]
    if definition["interactionType"] != "choice":
        return
    ids = [one["id"] for one in definition["choices"]]
    assert len(set(ids)) == len(ids)
    assert set(definition["correctResponsesPattern"]) <= set(ids)
    response = statement["result"].get("response")
    assert response is None or set(response.split("[,]")) <= set(ids)


def has_a_result_with_the_types_of_the_standard(statement: Statement) -> None:
    result = statement["result"]
    assert set(result) <= {"score", "success", "completion", "response", "duration", "extensions"}
    assert isinstance(result["success"], bool)
    assert isinstance(result["completion"], bool)
    assert isinstance(result.get("response", ""), str)
    assert "duration" not in result or DURATION.fullmatch(result["duration"])


def has_extensions_with_iris_for_keys(statement: Statement) -> None:
    assert all(is_iri(key) for key in statement["result"]["extensions"])


def has_a_context_with_lists_of_activities(statement: Statement) -> None:
    context = statement["context"]
    assert set(context) <= {
        "registration", "instructor", "team", "contextActivities", "contextAgents", "contextGroups", "revision",
        "platform", "language", "statement", "extensions",
    }  # fmt: skip
    assert set(context["contextActivities"]) <= {"parent", "grouping", "category", "other"}
    for activities in context["contextActivities"].values():
        assert activities
        assert all(is_iri(one["id"]) and one["objectType"] == "Activity" for one in activities)
    assert LANGUAGE.fullmatch(context["language"])


def has_a_moment_of_rfc_3339_in_utc(statement: Statement) -> None:
    assert RFC3339.fullmatch(statement["timestamp"])
    assert statement["timestamp"].endswith("Z")
    assert datetime.fromisoformat(statement["timestamp"]).year > 2000


RULES: tuple[Callable[[Statement], None], ...] = (
    has_actor_verb_and_object_and_no_property_of_its_own,
    has_no_null_or_empty_property,
    has_a_uuid_in_canonical_form,
    has_an_agent_with_exactly_one_inverse_functional_identifier,
    has_a_verb_with_an_iri_and_a_language_map,
    has_a_valid_interaction,
    has_components_with_distinct_ids_that_pattern_and_response_use,
    has_a_result_with_the_types_of_the_standard,
    has_extensions_with_iris_for_keys,
    has_a_context_with_lists_of_activities,
    has_a_moment_of_rfc_3339_in_utc,
)


def hold(statements: list[Statement]) -> None:
    """Hold statements of one export against every rule, and their ids against each other."""
    for statement in statements:
        for rule in RULES:
            rule(statement)
    assert len({one["id"] for one in statements}) == len(statements)


def is_iri(text: str) -> bool:
    parts = urlsplit(text)
    return bool(parts.scheme and parts.netloc) and not re.search(r"[\s<>\"{}|\\^`]", text)


def _nulls(value: Any) -> list[Any]:
    """Return nulls anywhere but in extensions: the standard forbids them there."""
    if isinstance(value, dict):
        return [null for key, one in value.items() if key != "extensions" for null in _nulls(one)]
    if isinstance(value, list):
        return [null for one in value for null in _nulls(one)]
    return [value] if value is None else []
