"""A question whose answer is one of some options: tapped, or typed as its letter or its words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, ClassVar

from bot.grading import choices
from bot.grading.choices import MAX_OPTIONS
from bot.grading.kinds.recipe import (
    Column,
    DrawnAnswer,
    Given,
    KeyFault,
    Recipe,
    WrittenKey,
    quoted,
    stored_text,
    stored_texts,
)
from bot.grading.signs import plain
from bot.grading.verdict import Detail, GradingResult, judged, unreadable
from storage.files.values import QuestionKind, Tolerance

MAX_OPTION_CHARS = 100


@dataclass(frozen=True, slots=True)
class ChoiceKey:
    """One right option and the wrong ones. Option 0 is the right one wherever options have numbers."""

    kind: ClassVar[QuestionKind] = "choice"
    right: str
    wrong: tuple[str, ...]

    @property
    def options(self) -> tuple[str, ...]:
        """All options, the right one first; each review shows them in an order of its own."""
        return (self.right, *self.wrong)


class ChoiceKind(Recipe[ChoiceKey]):
    """Options to tap."""

    kind = "choice"
    key_type = ChoiceKey
    is_tapped = True
    drawn_answer = "either"
    drawn_unit = "shown"

    def fits(self, written: WrittenKey) -> bool:
        """Whether there are wrong options."""
        return bool(written.wrong)

    def make(self, written: WrittenKey, fault: KeyFault) -> ChoiceKey:
        """Make a key of options that differ."""
        key = ChoiceKey(written.answer, written.wrong)
        if written.alternatives:
            fault("alternatives", written.alternatives[0], "alternatives_idle")
        if not 2 <= len(key.options) <= MAX_OPTIONS:
            number = len(key.wrong)
            fault("wrong options", str(number), "options", most=MAX_OPTIONS - 1, n=number)
        seen: dict[str, str] = {}
        for option in key.options:
            folded = plain(option).casefold().replace(" ", "")
            if folded in seen:
                both = {"first": quoted(seen[folded]), "second": quoted(option)}
                fault("wrong options", option, "options_same", **both)
            seen.setdefault(folded, option)
            if len(option) > MAX_OPTION_CHARS:
                column: Column = "wrong options" if option != key.right else "answer"
                fault(column, option[:40], "option_long", option=quoted(option), most=MAX_OPTION_CHARS)
        return key

    def read(self, stored: Mapping[str, Any]) -> ChoiceKey:
        """Read a stored key."""
        return ChoiceKey(stored_text(stored["right"]), stored_texts(stored["wrong"]))

    def written(self, key: ChoiceKey) -> WrittenKey:
        """Return the options."""
        return WrittenKey(key.right, wrong=key.wrong)

    def fits_drawn(self, is_computed: bool, example: str) -> bool:
        """Return that an answer alone is never one."""
        del is_computed, example
        return False

    def make_drawn(
        self,
        right: DrawnAnswer,
        more: Sequence[DrawnAnswer],
        wrong: Sequence[DrawnAnswer],
        tolerance: Tolerance | None,
    ) -> ChoiceKey:
        """Make the options of one draw."""
        del more, tolerance
        return ChoiceKey(right.shown, tuple(answer.shown for answer in wrong))

    def make_listed(self, written: WrittenKey) -> ChoiceKey:
        """Show the options as they are written."""
        return ChoiceKey(written.answer, written.wrong)

    def grade(self, key: ChoiceKey, given: Given) -> GradingResult:
        """Find the one option that is meant."""
        places = list(given.order) or list(range(len(key.options)))
        found = choices.chosen(given.text, [key.options[option] for option in places])
        if len(found) != 1:
            return unreadable(Detail.AMBIGUOUS_OPTION if found else Detail.NOT_AN_OPTION)
        return self.grade_option(key, places[found[0]])

    def grade_option(self, key: ChoiceKey, option: int) -> GradingResult:
        """Grade a tapped option, numbered as in the key (0 is the right one)."""
        if not 0 <= option < len(key.options):
            return super().grade_option(key, option)
        return replace(judged(option == 0, read_as=key.options[option]), option=option)

    def chance(self, key: ChoiceKey) -> float:
        """Return 1/n for n options."""
        return 1.0 / len(key.options)

    def shown(self, key: ChoiceKey) -> tuple[str, ...]:
        """Return the one right option."""
        return (key.right,)

    def hint(self, key: ChoiceKey) -> str:
        """Return that none is needed: its options are buttons."""
        del key
        return ""

    def options(self, key: ChoiceKey) -> tuple[str, ...]:
        """Return what can be tapped."""
        return key.options

    def interaction(self, key: ChoiceKey, language: str) -> dict[str, Any]:
        """Name the options by letters."""
        options = [
            {"id": option_id(place), "description": {language: text}}
            for place, text in enumerate(key.options)
        ]
        return {
            "interactionType": "choice",
            "correctResponsesPattern": [option_id(0)],
            "choices": options,
        }

    def response(self, option: int | None, typed: str | None) -> str | None:
        """Return the letter of the chosen option."""
        del typed
        return None if option is None else option_id(option)


def option_id(place: int) -> str:
    """Return an option's name in records: ``a`` for the right one."""
    return chr(ord("a") + place)
