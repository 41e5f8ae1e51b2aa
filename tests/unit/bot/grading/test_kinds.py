"""Question kinds: every recipe is whole, and stands in the list."""

from __future__ import annotations

import inspect
from typing import get_args

import pytest

from bot.grading.grade import grade, grade_option
from bot.grading.keys import Amount, AnswerKey, ChoiceKey, FormulaKey, NumberKey, TextKey, from_dict, to_dict
from bot.grading.kinds import KINDS, TRIED, recipe_of
from bot.grading.kinds.recipe import Recipe, WrittenKey
from storage.files.values import QuestionKind

KEYS: tuple[AnswerKey, ...] = (
    ChoiceKey("10 cm", ("8 cm", "12 cm")),
    NumberKey((Amount(2.7, "g/cm³", 2, -1),)),
    TextKey(("photosynthesis", "photo synthesis")),
    FormulaKey(("E = 1/2 m v^2",)),
)


def test_every_kind_that_can_be_stored_has_a_recipe_and_is_tried() -> None:
    assert set(KINDS) == set(get_args(QuestionKind)) == {recipe.kind for recipe in TRIED}
    assert [type(key) for key in KEYS] == [recipe.key_type for recipe in KINDS.values()]
    for recipe in KINDS.values():
        assert isinstance(recipe, Recipe)
        assert not inspect.isabstract(recipe)


@pytest.mark.parametrize("key", KEYS, ids=list(KINDS))
def test_a_recipe_is_whole(key: AnswerKey) -> None:
    recipe = recipe_of(key)
    assert recipe is KINDS[key.kind]
    assert recipe.read(to_dict(key)) == from_dict(to_dict(key)) == key
    assert 0 < recipe.chance(key) < 1
    first = recipe.shown(key)[0]
    assert grade(key, first).right, "what is shown as right is right"
    assert recipe.is_tapped is bool(recipe.options(key))
    assert bool(recipe.hint(key)) != bool(recipe.options(key)), "buttons need no hint"
    assert recipe.interaction(key, "en")["interactionType"] in {"choice", "fill-in", "other"}


@pytest.mark.parametrize("key", KEYS[1:], ids=list(KINDS)[1:])
def test_a_button_that_is_not_ours_is_an_index_error(key: AnswerKey) -> None:
    with pytest.raises(IndexError, match="option 0 of 0"):
        grade_option(key, 0)


@pytest.mark.parametrize("key", KEYS, ids=list(KINDS))
def test_what_is_shown_is_of_the_kind_that_it_came_from(key: AnswerKey) -> None:
    recipe = recipe_of(key)
    written = WrittenKey(recipe.shown(key)[0], wrong=recipe.options(key)[1:])
    assert next(tried for tried in TRIED if tried.fits(written)) is recipe


@pytest.mark.parametrize("key", KEYS, ids=list(KINDS))
def test_a_stored_key_is_read_once_and_given_back(key: AnswerKey) -> None:
    assert from_dict(to_dict(key)) is from_dict(to_dict(key))
