"""A question whose answer is a word or two: compared as words, a slip forgiven that is no other word."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar

from bot.grading import texts
from bot.grading.kinds.recipe import DrawnAnswer, Given, KeyFault, Recipe, WrittenKey, quoted, stored_texts
from bot.grading.signs import MAX_CHARS
from bot.grading.texts import Match
from bot.grading.verdict import Detail, GradingResult, judged, unreadable
from storage.files.values import QuestionKind, Tolerance

CHANCE = 0.02
"""Chosen: nobody can read a typed answer off the screen, yet a term of the lesson's title can be guessed. No published
value fits all classes; the model corrects the level of a question by its own answers."""


@dataclass(frozen=True, slots=True)
class TextKey:
    """Accepted texts, the first is shown; texts that are wrong however near; whether typos are forgiven."""

    kind: ClassVar[QuestionKind] = "text"
    answers: tuple[str, ...]
    wrong: tuple[str, ...] = ()
    typos: bool = True


class TextKind(Recipe[TextKey]):
    """Words to type."""

    kind = "text"
    key_type = TextKey
    in_words = True
    needs_others = True
    ignores_case = True
    keeps_errors = True

    def fits(self, written: WrittenKey) -> bool:
        """Whether it is none of the other kinds, which are asked before."""
        del written
        return True

    def make(self, written: WrittenKey, fault: KeyFault) -> TextKey:
        """Make a key of texts that are short enough to be typed the same way twice."""
        key = TextKey((written.answer, *written.alternatives), written.wrong)
        for answer in key.answers:
            if len(answer) > MAX_CHARS // 2 or len(texts.words(answer)) > texts.MAX_WORDS:
                fault("answer", answer[:40], "text_long", found=quoted(answer))
        for text in key.wrong:
            if any(texts.words(text) == texts.words(answer) for answer in key.answers):
                fault("wrong options", text, "text_both", found=quoted(text))
        return key

    def read(self, stored: Mapping[str, Any]) -> TextKey:
        """Read a stored key."""
        wrong = stored_texts(stored["wrong"], least=0)
        return TextKey(stored_texts(stored["answers"]), wrong, bool(stored["typos"]))

    def written(self, key: TextKey) -> WrittenKey:
        """Return the texts."""
        return WrittenKey(key.answers[0], key.answers[1:], key.wrong)

    def fits_drawn(self, is_computed: bool, example: str) -> bool:
        """Whether it is none of the other kinds, which are asked before."""
        del is_computed, example
        return True

    def make_drawn(
        self,
        right: DrawnAnswer,
        more: Sequence[DrawnAnswer],
        wrong: Sequence[DrawnAnswer],
        tolerance: Tolerance | None,
    ) -> TextKey:
        """Make the key of the texts of one draw."""
        del tolerance
        return TextKey(
            (right.shown, *(answer.shown for answer in more)), tuple(answer.shown for answer in wrong)
        )

    def make_listed(self, written: WrittenKey) -> TextKey:
        """Show the texts with their placeholders."""
        return TextKey((written.answer, *written.alternatives))

    def is_error(self, error: TextKey, given: Given) -> bool:
        """Forgive a slip in the wrong answer too."""
        return texts.compare(given.text, error.answers)[0] is not Match.OTHER

    def grade(self, key: TextKey, given: Given) -> GradingResult:
        """Compare word by word."""
        text = given.text
        if not any(sign.isalnum() for sign in text) and any(sign.isalnum() for sign in key.answers[0]):
            # "?" and a lone emoji are no attempt at a word.
            return unreadable(Detail.EMPTY)
        match, answer = texts.compare(text, key.answers, key.wrong, given.question, given.others)
        if match is Match.NEAR and key.typos:
            return judged(True, Detail.TYPO, answer)
        return judged(match is Match.SAME, read_as=" ".join(text.split()))

    def chance(self, key: TextKey) -> float:
        """Return what is chosen for typed words."""
        del key
        return CHANCE

    def shown(self, key: TextKey) -> tuple[str, ...]:
        """Return the answers as they were written."""
        return key.answers

    def interaction(self, key: TextKey, language: str) -> dict[str, Any]:
        """Describe a blank to fill in."""
        del language
        return {"interactionType": "fill-in", "correctResponsesPattern": list(key.answers)}
