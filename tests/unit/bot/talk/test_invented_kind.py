"""A fifth kind of question is one module: this one. Here are its key and its recipe, and nothing else knows it.

Statements that are true or false, typed as one word.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Any, ClassVar

import pytest
from sqlmodel import select

from bot.evidence.records.question_sheet import _of_key
from bot.grading import keys, kinds
from bot.grading.drawn import Template, Wrong, draw, key_to_show, render
from bot.grading.grade import grade
from bot.grading.keys import from_dict, shown, to_dict
from bot.grading.kinds.recipe import DrawnAnswer, Given, KeyFault, Recipe, WrittenKey, stored_text
from bot.grading.upload import KeyRefused, key_from
from bot.grading.verdict import Detail, GradingResult, judged, unreadable
from storage.files.values import Tolerance
from storage.tables import Answer, Verdict
from tests.dialogues import MONDAY, Stage, add_class, at, join, stage, teach

WORDS = {"true": "true", "t": "true", "false": "false", "f": "false"}
KIND: Any = "statement"  # in earnest it stands in `QuestionKind`


@dataclass(frozen=True, slots=True)
class StatementKey:
    """Whether a statement is true: "true" or "false"."""

    kind: ClassVar[Any] = KIND
    answer: str


class StatementKind(Recipe[StatementKey]):
    """True or false."""

    kind = KIND
    key_type = StatementKey

    def fits(self, written: WrittenKey) -> bool:
        return written.answer.casefold() in WORDS

    def make(self, written: WrittenKey, fault: KeyFault) -> StatementKey | None:
        answer = WORDS.get(written.answer.casefold())
        if answer is None:
            fault("answer", written.answer, "empty")
        return None if answer is None else StatementKey(answer)

    def read(self, stored: Mapping[str, Any]) -> StatementKey:
        return StatementKey(stored_text(stored["answer"]))

    def written(self, key: StatementKey) -> WrittenKey:
        return WrittenKey(key.answer)

    def fits_drawn(self, is_computed: bool, example: str) -> bool:
        return not is_computed and example.casefold() in WORDS

    def make_drawn(
        self,
        right: DrawnAnswer,
        more: Sequence[DrawnAnswer],
        wrong: Sequence[DrawnAnswer],
        tolerance: Tolerance | None,
    ) -> StatementKey:
        return StatementKey(WORDS[right.shown])

    def make_listed(self, written: WrittenKey) -> StatementKey:
        return StatementKey(written.answer)

    def grade(self, key: StatementKey, given: Given) -> GradingResult:
        answer = WORDS.get(given.text.strip().casefold())
        return unreadable(Detail.EMPTY) if answer is None else judged(answer == key.answer, read_as=answer)

    def chance(self, key: StatementKey) -> float:
        return 0.5

    def shown(self, key: StatementKey) -> tuple[str, ...]:
        return (key.answer,)

    def hint(self, key: StatementKey) -> str:
        return ""

    def interaction(self, key: StatementKey, language: str) -> dict[str, Any]:
        return {"interactionType": "true-false", "correctResponsesPattern": [key.answer]}


@pytest.fixture(autouse=True)
def fifth(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Give the kind its place in the list."""
    monkeypatch.setitem(kinds._RECIPES, KIND, StatementKind())
    yield
    keys._read.cache_clear()


def test_its_key_is_made_stored_shown_and_written_in_a_sheet() -> None:
    key: Any = key_from(KIND, "T")
    assert from_dict(to_dict(key)) == key == StatementKey("true")
    assert shown(key) == "true"
    assert grade(key, "False").outcome == "wrong"
    assert _of_key(key)["answer"] == "true"
    with pytest.raises(KeyRefused):
        key_from(KIND, "perhaps")


def test_it_can_have_drawn_values() -> None:
    template = Template(KIND, "{a} is less than {b}.", "a = 1..4; b = 5..9", "true", (Wrong("false", "No."),))
    asked = render(template, draw(template, 1))
    made: list[Any] = [asked.key, asked.wrong[0].key, key_to_show(template)]
    assert made == [StatementKey("true"), StatementKey("false"), StatementKey("true")]


def test_students_are_asked_and_answer_it() -> None:
    school: Stage = stage(at(MONDAY, 12))
    group = add_class(school)
    key: Any = StatementKey("true")
    teach(school, group, "Density", at(MONDAY - timedelta(days=5), 10), [key])
    join(school, group, "mira")
    school.go_to(at(MONDAY, 18))
    school.press("mira", "Start")
    assert "Nothing counted yet" in school.say("mira", "perhaps")[-1].text
    assert "true" in school.say("mira", "F")[0].text
    [answer] = school.run(lambda session: list(session.exec(select(Answer))))
    assert (answer.verdict, answer.given) == (Verdict.WRONG, "false")
