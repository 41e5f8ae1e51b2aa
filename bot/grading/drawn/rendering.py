"""A template and a draw, together the question as it is asked: text, key, explanations, worked steps."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from bot.grading.drawn import domains, expressions, figures, placeholders
from bot.grading.drawn.drawing import Draw
from bot.grading.drawn.exact import Value
from bot.grading.drawn.expressions import Expression
from bot.grading.drawn.figures import Figure, Language
from bot.grading.drawn.placeholders import Text
from bot.grading.drawn.template import Ready, Template, ready
from bot.grading.keys import Amount, AnswerKey
from bot.grading.kinds import KINDS
from bot.grading.kinds.recipe import DrawnAnswer
from storage.files.values import Tolerance


@dataclass(frozen=True, slots=True)
class WrongAnswer:
    """A wrong option or typical wrong answer of one draw.

    Attributes
    ----------
    shown : str
    because : str
        What to say to whoever gave it; "" for nothing.
    key : AnswerKey or None
        What such an answer is recognised by; None for an option of a choice, which has its number.
    """

    shown: str
    because: str
    key: AnswerKey | None = None


@dataclass(frozen=True, slots=True)
class RenderedQuestion:
    """The question as it is asked.

    Attributes
    ----------
    text : str
    key : AnswerKey
    answer : str
        The right answer as shown to a student, in the student's language.
    wrong : tuple of WrongAnswer
        For a choice in the order of the key's options: the first is option 1.
    explanation : str
    steps : tuple of str
    """

    text: str
    key: AnswerKey
    answer: str
    wrong: tuple[WrongAnswer, ...] = ()
    explanation: str = ""
    steps: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class FilledAnswer:
    """One answer filled in: as shown, and its number if it is computed."""

    shown: str
    value: Value | None = None
    figure: Figure | None = None


def render(template: Template, draw: Draw, language: Language | None = None) -> RenderedQuestion:
    """Return the question as it is asked with the values of a draw.

    Parameters
    ----------
    template : Template
    draw : Draw
    language : {"en", "de"}, optional
        How numbers are written; the template's own if not given.

    Returns
    -------
    RenderedQuestion

    Raises
    ------
    Refused
        When the template cannot be read.
    BadDraw
        When the draw is not one of this template.
    Undefined
        When a formula has no value for this draw; a checked template has none such in 200 draws.

    Examples
    --------
    >>> asked = render(Template("number", "{a} + {b} = ?", "a = 1..9; b = 1..9", "a + b"),
    ...                Draw("7", {"a": "3", "b": "2"}))
    >>> asked.text, asked.answer
    ('3 + 2 = ?', '5')
    """
    parts = ready(template)
    return Rendering(
        parts, domains.resolve(parts.domains, draw.values), language or template.language
    ).asked()


class Rendering:
    """Fills in one draw, part by part."""

    def __init__(self, parts: Ready, values: Mapping[str, Value | str], language: Language) -> None:
        self.parts = parts
        self.values = values
        self.language = language
        self.tolerance = parts.template.tolerance
        self._recipe = KINDS[parts.template.kind]
        if parts.wish.style in ("fraction", "mixed") and self.tolerance is None:
            # A fraction was asked for: 0.33 is not 1/3.
            self.tolerance = Tolerance(0.0)

    def asked(self) -> RenderedQuestion:
        """Return the whole question."""
        right = self.answer(self.parts.answer)
        wrong = [self.answer(part) for part in self.parts.wrong]
        more = [self.answer(part) for part in self.parts.alternatives]
        later = {**self.values, "answer": right.shown}
        return RenderedQuestion(
            self.fill(self.parts.text, self.values),
            self._key(right, more, wrong),
            right.shown,
            tuple(
                self._wrong(answer, because, later)
                for answer, because in zip(wrong, self.parts.because, strict=True)
            ),
            self.fill(self.parts.explanation, later),
            tuple(self.fill(step, later) for step in self.parts.steps),
        )

    def fill(self, text: Text, values: Mapping[str, Value | str]) -> str:
        """Write a text."""
        return placeholders.fill(text, values, self.language)

    def answer(self, part: Expression | Text) -> FilledAnswer:
        """Compute or write an answer, right or wrong."""
        if isinstance(part, Text):
            return FilledAnswer(self.fill(part, self.values))
        value = expressions.evaluate(part, self.values)
        figure = figures.write(value, self.parts.wish, self.language)
        gap = "" if self.parts.unit in ("", "°") else " "
        return FilledAnswer(f"{figure.signed}{gap}{self.parts.unit}", value, figure)

    def _wrong(self, answer: FilledAnswer, because: Text, later: Mapping[str, Value | str]) -> WrongAnswer:
        key = None if self._recipe.is_tapped else self._key(answer, [], [])
        return WrongAnswer(answer.shown, self.fill(because, {**later, "wrong": answer.shown}), key)

    def _key(self, right: FilledAnswer, more: list[FilledAnswer], wrong: list[FilledAnswer]) -> AnswerKey:
        first, *others = (DrawnAnswer(one.shown, self._amounts(one)) for one in (right, *more))
        errors = [DrawnAnswer(one.shown, self._amounts(one)) for one in wrong]
        key: AnswerKey = self._recipe.make_drawn(first, others, errors, self.tolerance)
        return key

    def _amounts(self, answer: FilledAnswer) -> tuple[Amount, ...]:
        """Return the amount as shown, and the exact one where that is another; none where nothing was computed."""
        figure, value, unit = answer.figure, answer.value, self.parts.unit
        if figure is None or value is None:
            return ()
        written = figure.signed if figure.is_fraction else ""
        shown = Amount(float(figure.value), unit, figure.figures, figure.place, written)
        exact = replace(shown, value=float(value), figures=None, place=None, written="")
        return (shown, exact) if figure.rounded else (shown,)
