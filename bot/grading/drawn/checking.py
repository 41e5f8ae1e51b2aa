"""Whether a template works: 200 draws, each asked, answered and compared as it would be in a class."""

from __future__ import annotations

import random
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations
from typing import Any

from bot.grading import upload
from bot.grading.drawn import domains, exact, figures
from bot.grading.drawn.domains import Stored
from bot.grading.drawn.drawing import MAX_TRIES, Draw, identity, one
from bot.grading.drawn.errors import Field, TemplateProblem, TemplateRefused, Undefined, quoted
from bot.grading.drawn.expressions import Expression
from bot.grading.drawn.figures import Language
from bot.grading.drawn.rendering import FilledAnswer, RenderedQuestion, Rendering
from bot.grading.drawn.template import Ready, Template, ready
from bot.grading.grade import grade
from bot.grading.keys import all_shown
from bot.grading.kinds import KINDS, recipe_of

DRAWS = 200
EXAMPLES = 3
MAX_FIGURES = 7
"""More figures are no school answer (chosen: a large price or distance has seven)."""
MAX_SHOWN_CHARS = 1500
MIN_SHARE = 1 / 25
"""Conditions that fewer draws fulfil make every draw slow."""

_LONG_NUMBER = re.compile(r"\d{9,}|\d[.,]\d{7,}")
_KEY_FIELDS: Mapping[str, Field] = {
    "answer": "answer", "alternatives": "alternatives", "wrong options": "wrong", "tolerance": "tolerance",
    "unit": "unit", "typical errors": "wrong",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Checked:
    """What a check found.

    Attributes
    ----------
    problems : tuple of TemplateProblem
        Empty: the template can be used.
    examples : tuple of (Draw, RenderedQuestion)
        Up to three drawn questions to look at, with different values where there are any.
    variety : int
        How many different draws were among those made: a lower bound of how many there are.
    """

    problems: tuple[TemplateProblem, ...] = ()
    examples: tuple[tuple[Draw, RenderedQuestion], ...] = ()
    variety: int = 0

    @property
    def usable(self) -> bool:
        """Whether the template can be stored."""
        return not self.problems


def check(template: Template, draws: int = DRAWS) -> Checked:
    """Draw a template many times and report what goes wrong; never raises on what a teacher wrote.

    Parameters
    ----------
    template : Template
    draws : int

    Returns
    -------
    Checked

    Examples
    --------
    >>> check(Template("number", "{a} : {b} = ?", "a = 1..9; b = 0..9", "a/b")).problems[0].code
    'divided_by_zero'
    """
    try:
        parts = ready(template)
    except TemplateRefused as refused:
        return Checked(refused.problems)
    run = _Run(parts, draws)
    run.all()
    return Checked(tuple(run.problems.values()), tuple(run.examples), len(run.seen))


class _Run:
    def __init__(self, parts: Ready, draws: int) -> None:
        self.parts = parts
        self.draws = draws
        self.language = parts.template.language
        self.problems: dict[tuple[str, Field, int | None], TemplateProblem] = {}
        self.examples: list[tuple[Draw, RenderedQuestion]] = []
        self.seen: set[tuple[tuple[str, Stored], ...]] = set()
        self.stored: dict[str, Stored] = {}

    def all(self) -> None:
        for name in sorted(_unused(self.parts)):
            self.fail("unused_name", "values", {"name": name}, drawn=False)
        # A fixed seed: the same template gets the same report every time.
        rng, tries = random.Random("check"), 0  # noqa: S311
        for number in range(1, self.draws + 1):
            try:
                self.stored, tried = one(self.parts, rng, MAX_TRIES)
            except Undefined as error:
                self.fail(error.code, "values", error.data, drawn=False)
                return
            tries += tried
            if tries > MAX_TRIES and tries * MIN_SHARE > number:
                self.fail("too_rare", "values", {}, drawn=False)
                return
            self.one()
        if len(self.seen) == 1:
            self.fail("one_draw", "values", {}, drawn=False)

    def one(self) -> None:
        new = identity(self.stored) not in self.seen
        self.seen.add(identity(self.stored))
        if not new:
            # The same values give the same question.
            return
        try:
            rendering = Rendering(self.parts, domains.resolve(self.parts.domains, self.stored), self.language)
            asked = rendering.asked()
        except Undefined as error:
            field, place = self.locate()
            self.fail(error.code, field, error.data, place)
            return
        for code, field, data, place in _faults(self.parts, rendering, asked):
            self.fail(code, field, data, place)
        if len(self.examples) < EXAMPLES:
            self.examples.append((Draw("check", self.stored), asked))

    def fail(
        self, code: str, field: Field, data: Mapping[str, Any], place: int | None = None, drawn: bool = True
    ) -> None:
        """Keep the first example of every problem."""
        if (code, field, place) not in self.problems:
            example = self.example() if drawn else None
            self.problems[code, field, place] = TemplateProblem(code, field, dict(data), place, example)

    def example(self) -> dict[str, str]:
        try:
            values = domains.resolve(self.parts.domains, self.stored)
        except Undefined:
            return {name: str(value) for name, value in self.stored.items()}
        return {
            name: value
            if isinstance(value, str)
            else figures.write(value, figures.PLAIN, self.language).signed
            for name, value in values.items()
        }

    def locate(self) -> tuple[Field, int | None]:
        """Find the part of the template that has no value for this draw."""
        try:
            values = domains.resolve(self.parts.domains, self.stored)
        except Undefined:
            return "values", None
        rendering = Rendering(self.parts, values, self.language)
        for field, place, part in _parts(self.parts):
            try:
                if isinstance(part, Expression):
                    rendering.answer(part)
                else:
                    rendering.fill(part, {**values, "answer": "", "wrong": ""})
            except Undefined:
                return field, place
        return "answer", None


def _parts(parts: Ready) -> Iterator[tuple[Field, int | None, Any]]:
    yield "text", None, parts.text
    yield "answer", None, parts.answer
    yield from (("wrong", place, part) for place, part in enumerate(parts.wrong))
    yield from (("alternatives", place, part) for place, part in enumerate(parts.alternatives))
    yield from (("because", place, part) for place, part in enumerate(parts.because))
    yield from (("steps", place, part) for place, part in enumerate(parts.steps))
    yield "explanation", None, parts.explanation


def _unused(parts: Ready) -> set[str]:
    used = {name for _, _, part in _parts(parts) for name in part.names} | domains.uses(parts.domains)
    return set(parts.domains.names - used)


# --- what can be wrong with one draw ----------------------------------------------------------------------

Fault = tuple[str, Field, dict[str, Any], int | None]


def _faults(parts: Ready, rendering: Rendering, asked: RenderedQuestion) -> Iterator[Fault]:
    if len(asked.text) > MAX_SHOWN_CHARS:
        yield "text_long", "text", {"most": MAX_SHOWN_CHARS}, None
    if _LONG_NUMBER.search(asked.text):
        yield "many_figures", "text", {"found": quoted(_LONG_NUMBER.findall(asked.text)[0])}, None
    right = rendering.answer(parts.answer)
    wrong = [rendering.answer(part) for part in parts.wrong]
    yield from _figures(parts, rendering, right, wrong)
    if recipe_of(asked.key).is_figure:
        yield from _number(parts, rendering, asked)
    else:
        yield from _as_uploaded(parts, asked)
        yield from _equal(asked, right, wrong)


def _figures(
    parts: Ready, rendering: Rendering, right: FilledAnswer, wrong: list[FilledAnswer]
) -> Iterator[Fault]:
    if right.figure and not figures.is_sensible(right.figure, MAX_FIGURES):
        yield "many_figures", "answer", {"found": right.shown}, None
    if KINDS[parts.template.kind].is_tapped:
        for place, answer in enumerate(wrong):
            if answer.figure and not figures.is_sensible(answer.figure, MAX_FIGURES):
                yield "many_figures", "wrong", {"found": answer.shown}, place
    tolerance = rendering.tolerance
    if right.figure and right.figure.rounded and tolerance is not None:
        allowed = tolerance.amount * (abs(float(right.figure.value)) if tolerance.relative else 1.0)
        if allowed < abs(float(right.figure.value) - float(right.value or 0)):
            yield "needs_tolerance", "tolerance", {"found": right.shown}, None


def _number(parts: Ready, rendering: Rendering, asked: RenderedQuestion) -> Iterator[Fault]:
    other: Language = "en" if rendering.language == "de" else "de"
    for version in (asked, Rendering(parts, rendering.values, other).asked()):
        # The answer as the bot itself writes it must be taken.
        if not grade(asked.key, version.answer).right:
            yield "answer_refused", "answer", {"found": version.answer}, None
    for place, wrong in enumerate(asked.wrong):
        if grade(asked.key, wrong.shown).right:
            yield "wrong_is_right", "wrong", {"found": wrong.shown, "answer": asked.answer}, place
    for (_, first), (place, second) in combinations(enumerate(asked.wrong), 2):
        if first.key and grade(first.key, second.shown).right:
            yield "wrong_twice", "wrong", {"first": first.shown, "second": second.shown}, place


def _as_uploaded(parts: Ready, asked: RenderedQuestion) -> Iterator[Fault]:
    """Try the key as that of a question without drawn values."""
    alternatives, wrong = all_shown(asked.key)[1:], [answer.shown for answer in asked.wrong]
    try:
        upload.key_from(parts.template.kind, asked.answer, alternatives=alternatives, wrong_options=wrong)
    except upload.KeyRefused as refused:
        for problem in refused.problems:
            yield f"key_{problem.code}", _KEY_FIELDS[problem.column], dict(problem.values), None


def _equal(asked: RenderedQuestion, right: FilledAnswer, wrong: list[FilledAnswer]) -> Iterator[Fault]:
    is_tapped = recipe_of(asked.key).is_tapped
    for place, answer in enumerate(wrong):
        if is_tapped:
            same = None not in (answer.value, right.value) and exact.near(answer.value, right.value)  # type: ignore[arg-type]
        else:
            same = grade(asked.key, answer.shown).right
        if same:
            yield "wrong_is_right", "wrong", {"found": answer.shown, "answer": asked.answer}, place
    if not is_tapped:
        for (_, first), (place, second) in combinations(enumerate(asked.wrong), 2):
            if first.key and grade(first.key, second.shown).right:
                yield "wrong_twice", "wrong", {"first": first.shown, "second": second.shown}, place
