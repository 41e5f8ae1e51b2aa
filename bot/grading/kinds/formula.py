"""A question whose answer is a formula: right when it has the same value as the key, however it is written."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, ClassVar

from bot.grading import equality, formulas, formulatokens, typedforms
from bot.grading.formulas import Custom, Formula, FormulaError
from bot.grading.kinds.recipe import (
    Column,
    DrawnAnswer,
    Given,
    KeyFault,
    Recipe,
    WrittenKey,
    quoted,
    stored_texts,
)
from bot.grading.latex import inside_dollars, plain_formula
from bot.grading.signs import plain
from bot.grading.verdict import Detail, GradingResult, judged, unreadable
from storage.files.keys import look_at
from storage.files.values import QuestionKind, Tolerance

CHANCE = 0.01
"""Chosen: a formula needs several symbols in the right places. No published value fits all classes."""

_CUSTOMS = tuple(Custom(slash, log) for log in (False, True) for slash in ("blank", "run", "left"))


@dataclass(frozen=True, slots=True)
class FormulaKey:
    """Accepted formulas, the first is shown."""

    kind: ClassVar[QuestionKind] = "formula"
    answers: tuple[str, ...]


class FormulaKind(Recipe[FormulaKey]):
    """A formula to type."""

    kind = "formula"
    key_type = FormulaKey
    in_words = True
    has_slashes = True

    def fits(self, written: WrittenKey) -> bool:
        """Whether it is set as a formula, or has the signs of one."""
        return inside_dollars(written.answer) is not None or looks_like_formula(written.answer)

    def make(self, written: WrittenKey, fault: KeyFault) -> FormulaKey:
        """Make a key of formulas that have a value."""
        # Kept as people read it: a student who is wrong is shown the answer.
        own, *more = [
            " ".join(plain_formula(text).split()) for text in (written.answer, *written.alternatives)
        ]
        for place, text in enumerate((own, *more)):
            column: Column = "alternatives" if place else "answer"
            try:
                _check(text)
            except FormulaError as error:
                fault(column, text, "formula", found=quoted(text), why=error.code, sign=error.sign)
        return FormulaKey((own, *more))

    def read(self, stored: Mapping[str, Any]) -> FormulaKey:
        """Read a stored key."""
        return FormulaKey(stored_texts(stored["answers"]))

    def written(self, key: FormulaKey) -> WrittenKey:
        """Return the formulas."""
        return WrittenKey(key.answers[0], key.answers[1:])

    def fits_drawn(self, is_computed: bool, example: str) -> bool:
        """Whether it has a variable and an operator."""
        del is_computed
        return look_at(example, None).kind == self.kind

    def make_drawn(
        self,
        right: DrawnAnswer,
        more: Sequence[DrawnAnswer],
        wrong: Sequence[DrawnAnswer],
        tolerance: Tolerance | None,
    ) -> FormulaKey:
        """Make the key of the formulas of one draw."""
        del wrong, tolerance
        return FormulaKey((right.shown, *(answer.shown for answer in more)))

    def make_listed(self, written: WrittenKey) -> FormulaKey:
        """Show the formulas with their placeholders."""
        return FormulaKey((written.answer, *written.alternatives))

    def grade(self, key: FormulaKey, given: Given) -> GradingResult:
        """Compare with each accepted formula by value."""
        shown, outcome = " ".join(given.text.split()), unreadable(Detail.NOT_A_FORMULA)
        for answer in key.answers:
            try:
                outcome = _compare(answer, given.text, shown, given.question)
            except FormulaError:
                # Unreadable beside this answer's names; another accepted formula may name its parts differently.
                continue
            if outcome.right or outcome.detail is Detail.OTHER_SUBJECT:
                return outcome
        return outcome

    def chance(self, key: FormulaKey) -> float:
        """Return what is chosen for formulas."""
        del key
        return CHANCE

    def shown(self, key: FormulaKey) -> tuple[str, ...]:
        """Return the formulas as they were written."""
        return key.answers

    def interaction(self, key: FormulaKey, language: str) -> dict[str, Any]:
        """Say only that it is none of the standard's interactions: other spellings are right too."""
        del key, language
        return {"interactionType": "other"}


# --- grading ----------------------------------------------------------------------------------------------


@lru_cache(maxsize=2048)
def _key_formula(answer: str, natural_log: bool) -> Formula:
    return formulas.read(answer, custom=Custom(natural_log=natural_log))


def _compare(answer: str, given: str, shown: str, question: str) -> GradingResult:
    tried: set[tuple[Formula, Formula]] = set()
    for custom in _CUSTOMS:
        wanted = _key_formula(answer, custom.natural_log)
        text = typedforms.as_typed(given, wanted, question)
        own = typedforms.with_names_of(
            wanted, formulas.read(text, wanted.names | {wanted.subject or ""}, custom)
        )
        if _is_chat(given, own, wanted):
            return unreadable(Detail.NOT_A_FORMULA)
        if wanted.subject and own.subject and own.subject != wanted.subject:
            return unreadable(Detail.OTHER_SUBJECT, wanted.subject)
        # Most formulas read the same under every custom.
        if (wanted, own) not in tried and equality.same_value(wanted, own):
            return judged(True, read_as=shown)
        tried.add((wanted, own))
    return judged(False, read_as=shown)


def _is_chat(given: str, own: Formula, wanted: Formula) -> bool:
    """Whether it is a sentence: no sign or digit, and letters that are mostly not quantities of the key."""
    if any(sign.isdigit() or sign in "+-·/^=()√" for sign in plain(given)):
        return False
    strange = own.names - wanted.names
    return len(own.names) > 2 and 2 * len(strange) > len(own.names)


# --- at upload --------------------------------------------------------------------------------------------


def _check(text: str) -> None:
    formula = formulas.read(text)
    if not equality.has_value(formula):
        raise FormulaError("no_value")
    if not equality.same_value(formula, formulas.read(text, custom=Custom("left"))):
        raise FormulaError("slash")


def looks_like_formula(answer: str) -> bool:
    """Whether a text has signs and letters of a formula, and a value."""
    text = plain(answer)
    if not any(sign in text for sign in "=+·/^√") or not any(sign.isalpha() for sign in text):
        return False
    # "cause/effect" is no quotient: formulas have no long words but the names of functions and Greek letters.
    runs = re.findall(r"(?<![_\w])[^\W\d_]{4,}", text)
    if any(run.casefold() not in formulatokens.LONG_WORDS for run in runs):
        return False
    try:
        return equality.has_value(formulas.read(answer))
    except FormulaError:
        return False
