"""A question kind is one module with a recipe: nobody else compares with a kind's name or asks for a kind's key."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

from bot.grading.kinds import KINDS

ROOT = Path(__file__).parents[2]
HOME = ROOT / "bot/grading/kinds"
NAMES = frozenset(KINDS)
KEYS = frozenset(recipe.key_type.__name__ for recipe in KINDS.values())
FILES = sorted(
    path for room in ("bot", "storage") for path in (ROOT / room).rglob("*.py") if path.parent != HOME
)

EXCEPTIONS = {
    "storage/files/questions.py": "reads the kind column of a sheet; the storage lies below the recipes",
    "bot/grading/formulas.py": "kinds of the signs in a formula",
    "bot/evidence/shared/workbook.py": "kinds of the columns of a table",
}
"""Files that compare with such a word, and why they may."""


def branches(source: str) -> list[str]:
    """Return the comparisons with a kind's name, or with the class of its key, in a file."""
    return [ast.unparse(node) for node in ast.walk(ast.parse(source)) if _asks_for_kind(node)]


def _asks_for_kind(node: ast.AST) -> bool:
    if isinstance(node, ast.Compare):
        sides = [node.left, *node.comparators]
        return any(_is_kind(side) for side in sides) and any(_has_name(side) for side in sides)
    if isinstance(node, ast.Match):
        return _is_kind(node.subject) and any(_has_name(case.pattern) for case in node.cases)
    if isinstance(node, ast.Dict):
        return sum(key is not None and _has_name(key) for key in node.keys) > 1
    if isinstance(node, ast.Call) and ast.unparse(node.func) == "isinstance":
        return not KEYS.isdisjoint(_words(node.args[1]))
    return False


def _is_kind(node: ast.expr) -> bool:
    return ast.unparse(node).rsplit(".")[-1].strip("[]'\"").endswith("kind")


def _has_name(node: ast.AST) -> bool:
    return any(isinstance(one, ast.Constant) and one.value in NAMES for one in ast.walk(node))


def _words(node: ast.expr) -> Iterator[str]:
    yield from (one.id for one in ast.walk(node) if isinstance(one, ast.Name))
    yield from (one.attr for one in ast.walk(node) if isinstance(one, ast.Attribute))


def test_a_kind_is_compared_in_its_own_module_only() -> None:
    found = {str(path.relative_to(ROOT)): branches(path.read_text("utf-8")) for path in FILES}
    assert {path: lines for path, lines in found.items() if lines and path not in EXCEPTIONS} == {}
    assert all(found[path] for path in EXCEPTIONS), "An exception that is needed no more."


@pytest.mark.parametrize(
    "source",
    [
        'if row.kind == "choice": pass',
        'ok = "number" != template.kind',
        'ok = kind in ("text", "formula")',
        'ok = row["kind"] == "choice"',
        "ok = isinstance(key, keys.ChoiceKey)",
        "ok = isinstance(key, NumberKey | TextKey)",
        'match row.kind:\n    case "choice": pass',
        'hint = {"choice": "", "number": "unit"}[kind]',
    ],
)
def test_a_branch_by_kind_is_found(source: str) -> None:
    assert branches(source)


def test_a_question_to_the_recipe_is_none() -> None:
    assert not branches("if KINDS[row.kind].is_tapped and row.kind == other.kind: pass")
