"""The kinds of questions: one module each, with its key and its recipe.

A new kind is a module here with a frozen key and a `Recipe`, its name in `QuestionKind` of storage/files/values.py,
and a place in `KINDS` and `TRIED`. Whatever depends on a kind asks its recipe; only the reader of question sheets,
which lies below, looks at the kind itself (tests/unit/test_question_kinds.py).
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from bot.grading.amounts import NumberKey
from bot.grading.kinds.choice import ChoiceKey, ChoiceKind
from bot.grading.kinds.formula import FormulaKey, FormulaKind
from bot.grading.kinds.number import NumberKind
from bot.grading.kinds.recipe import Recipe
from bot.grading.kinds.text import TextKey, TextKind

AnswerKey = ChoiceKey | NumberKey | TextKey | FormulaKey

_RECIPES: dict[str, Recipe[Any]] = {
    recipe.kind: recipe for recipe in (ChoiceKind(), NumberKind(), TextKind(), FormulaKind())
}
KINDS: Mapping[str, Recipe[Any]] = MappingProxyType(_RECIPES)

TRIED: tuple[Recipe[Any], ...] = tuple(KINDS[kind] for kind in ("choice", "number", "formula", "text"))
"""In the order in which a question whose kind nobody named is tried: the first that fits."""


def recipe_of(key: AnswerKey) -> Recipe[Any]:
    """Return the recipe of a key's kind."""
    return KINDS[key.kind]
