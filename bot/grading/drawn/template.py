"""A question whose values are drawn anew: what the teacher wrote, and the same taken apart."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import TypeVar

from bot.grading import units
from bot.grading.choices import MAX_OPTIONS
from bot.grading.drawn import domains, exact, expressions, figures, placeholders
from bot.grading.drawn.domains import Domains
from bot.grading.drawn.errors import Field, TemplateProblem, TemplateRefused, Unread, quoted
from bot.grading.drawn.expressions import Expression
from bot.grading.drawn.figures import Language, Wish
from bot.grading.drawn.placeholders import Text
from bot.grading.formulatokens import FUNCTIONS
from bot.grading.kinds import KINDS, TRIED
from storage.files.values import QuestionKind, Tolerance

MAX_WRONG = MAX_OPTIONS - 1
MAX_STEPS = 12
MAX_ALTERNATIVES = 8
MAX_NODES = 2000
"""Numbers, names and signs in all formulas of a template: what one draw may cost."""

_LATER = frozenset({"answer"})
_LATER_WRONG = frozenset({"answer", "wrong"})
_RUNS = re.compile(r"[^\W\d_]+[^\W_]*")
_PLAIN_PLACES = re.compile(r"[=|:·]")


@dataclass(frozen=True, slots=True)
class Wrong:
    """A wrong option of a choice, or a typical wrong answer of another kind, and what to say of it."""

    answer: str
    because: str = ""


@dataclass(frozen=True, slots=True)
class Template:
    """A question with drawn values, as written.

    Attributes
    ----------
    kind : {"choice", "number", "text", "formula"}
    text : str
        The question, with placeholders (:mod:`bot.grading.drawn.placeholders`).
    values : str
        What is drawn, and conditions (:mod:`bot.grading.drawn.domains`).
    answer : str
        For a number: a formula over the values. For a choice: a formula (computed and shown with the unit), or a
        text with placeholders; in quotation marks always a text. Else a text with placeholders.
    wrong : tuple of Wrong
    alternatives : tuple of str
        Further right answers of a number, text or formula, written as the answer is.
    unit : str
    tolerance : Tolerance or None
        None leaves it to the grader's own rule.
    figures : str
        How the answer is written (:mod:`bot.grading.drawn.figures`); "" leaves it to the value.
    explanation : str
    steps : tuple of str
        The worked solution, one step each.
    language : {"en", "de"}
    """

    kind: QuestionKind
    text: str
    values: str
    answer: str
    wrong: tuple[Wrong, ...] = ()
    alternatives: tuple[str, ...] = ()
    unit: str = ""
    tolerance: Tolerance | None = None
    figures: str = ""
    explanation: str = ""
    steps: tuple[str, ...] = ()
    language: Language = "en"


@dataclass(frozen=True, slots=True)
class Ready:
    """A template taken apart; every part can be filled in for any draw."""

    template: Template
    domains: Domains
    text: Text
    answer: Expression | Text
    wrong: tuple[Expression | Text, ...]
    because: tuple[Text, ...]
    alternatives: tuple[Expression | Text, ...]
    unit: str
    wish: Wish
    explanation: Text
    steps: tuple[Text, ...]


def ready(template: Template) -> Ready:
    """Take a template apart.

    Raises
    ------
    TemplateRefused
        With every problem that shows without a draw.
    """
    found = _ready(template)
    if isinstance(found, Ready):
        return found
    raise TemplateRefused(found)


@lru_cache(maxsize=512)
def _ready(template: Template) -> Ready | tuple[TemplateProblem, ...]:
    reader = _TemplateReader(template)
    made = reader.read()
    return tuple(reader.problems) if made is None or reader.problems else made


_T = TypeVar("_T")


class _TemplateReader:
    def __init__(self, template: Template) -> None:
        self.template = template
        self.recipe = KINDS[template.kind]
        self.problems: list[TemplateProblem] = []
        self.domains = Domains()

    def read(self) -> Ready | None:
        """Return the parts; None when the values cannot be read, for then every name would be unknown."""
        drawn = self.attempt("values", lambda: domains.read(self.template.values))
        if drawn is None:
            return None
        self.domains = drawn
        self.check_sizes()
        template = self.template
        text = self.text(template.text, "text")
        answer = self.answer(template.answer, "answer")
        wrong = [self.answer(wrong.answer, "wrong", place) for place, wrong in enumerate(template.wrong)]
        because = [self.text(w.because, "because", p, _LATER_WRONG) for p, w in enumerate(template.wrong)]
        more = [self.answer(other, "alternatives", p) for p, other in enumerate(template.alternatives)]
        steps = [self.text(step, "steps", place, _LATER) for place, step in enumerate(template.steps)]
        explanation = self.text(template.explanation, "explanation", later=_LATER)
        wish, unit = self.wish(), self.unit()
        parts = [text, answer, explanation, *wrong, *because, *more, *steps]
        if text is None or answer is None or explanation is None or None in parts:
            return None
        if sum(part.size for part in parts if part) > MAX_NODES:
            self.fail("too_big", "text", found=quoted(template.text))
            return None
        return Ready(
            template, drawn, text, answer, _all(wrong), _all(because), _all(more), unit, wish, explanation, _all(steps)
        )  # fmt: skip

    def attempt(self, field: Field, action: Callable[[], _T], place: int | None = None) -> _T | None:
        try:
            return action()
        except Unread as error:
            self.problems.append(TemplateProblem(error.code, field, error.data, place))
            return None

    def fail(self, code: str, field: Field, **data: object) -> None:
        self.problems.append(TemplateProblem(code, field, data))

    def text(
        self, text: str, field: Field, place: int | None = None, later: frozenset[str] = frozenset()
    ) -> Text | None:
        return self.attempt(field, lambda: placeholders.read(text, self.domains, later), place)

    def answer(self, text: str, field: Field, place: int | None = None) -> Expression | Text | None:
        """Read an answer: a formula to be computed, or a text with placeholders."""
        text = text.strip()
        how = self.recipe.drawn_answer
        if how == "formula" or (how == "either" and text.startswith("=")):
            return self.attempt(field, lambda: self.formula(text.removeprefix("=")), place)
        if how == "either":
            quoted_text = _unquoted(text)
            if quoted_text is None and _looks_computed(text, self.domains):
                try:
                    return self.formula(text)
                except Unread:
                    return self.text(text, field, place)
            text = text if quoted_text is None else quoted_text
        return self.text(text, field, place)

    def formula(self, text: str) -> Expression:
        return expressions.read(text, self.domains.numbers)

    def wish(self) -> Wish:
        wish = figures.read_wish(self.template.figures)
        if wish is None:
            self.fail("figures_unread", "figures", found=quoted(self.template.figures))
        return wish or figures.PLAIN

    def unit(self) -> str:
        text = " ".join(self.template.unit.split())
        if not text:
            return ""
        if self.recipe.drawn_unit == "none":
            self.fail("unit_idle", "unit", found=quoted(text))
        meant = units.read(text)
        if self.recipe.drawn_unit == "known" and len(meant) != 1:
            self.fail("unit_two_ways" if meant else "unit_unknown", "unit", found=quoted(text))
        return meant[0].shown if meant else text

    def check_sizes(self) -> None:
        template = self.template
        if not template.text.strip():
            self.fail("empty", "text")
        if not template.answer.strip():
            self.fail("empty", "answer")
        if not self.domains.sources:
            self.fail("nothing_drawn", "values")
        if self.recipe.is_tapped and not 1 <= len(template.wrong) <= MAX_WRONG:
            self.fail("options_count", "wrong", n=len(template.wrong), most=MAX_WRONG)
        if self.recipe.is_tapped and template.alternatives:
            self.fail("alternatives_idle", "alternatives")
        for name, values, most in (
            ("wrong", template.wrong, MAX_WRONG),
            ("alternatives", template.alternatives, MAX_ALTERNATIVES),
            ("steps", template.steps, MAX_STEPS),
        ):
            if len(values) > most:
                self.fail("too_many", name, n=len(values), most=most)  # type: ignore[arg-type]
        self.check_tolerance()

    def check_tolerance(self) -> None:
        tolerance = self.template.tolerance
        if tolerance is None:
            return
        if not self.recipe.is_figure:
            self.fail("tolerance_idle", "tolerance")
        elif not 0 <= tolerance.amount < exact.LARGEST or (tolerance.relative and tolerance.amount >= 1):
            self.fail("tolerance", "tolerance", found=f"{tolerance.amount:g}")


def kind_of(values: str, answer: str) -> QuestionKind:
    """Say which kind of typed question an answer with drawn values makes.

    Examples
    --------
    >>> kind_of("s = 1..9; t = 1..9", "{s}/{t}"), kind_of("a = 2..9; b = 1..9", "{=2a}x + {b}")
    ('number', 'formula')
    >>> kind_of("who in Ada, Ben", "{who}")
    'text'
    """
    try:
        is_computed = _looks_computed(answer.strip().removeprefix("="), domains.read(values))
    except Unread:
        is_computed = True  # the check says what is wrong with the values
    example = re.sub(r"\{[^{}]*\}", "2", answer)
    return next(recipe.kind for recipe in TRIED if recipe.fits_drawn(is_computed, example))


def _all(parts: list[_T | None]) -> tuple[_T, ...]:
    return tuple(part for part in parts if part is not None)


def _unquoted(text: str) -> str | None:
    is_quoted = len(text) > 2 and text[0] + text[-1] in ('""', "“”", "„“")
    return text[1:-1] if is_quoted else None


def _looks_computed(text: str, known: Domains) -> bool:
    """Whether an option is a formula: every run of letters in it is a number's name, a function or a constant."""
    inside = re.findall(r"\{([^{}]*)\}", text)
    if any(_PLAIN_PLACES.search(place) for place in inside):
        return False
    words = {*known.numbers, *FUNCTIONS, *exact.SEVERAL, *expressions.CONSTANTS, "pi"}
    return all(run in words or _is_product(run, known) for run in _RUNS.findall(text))


def _is_product(run: str, known: Domains) -> bool:
    """Whether letters are several drawn numbers of one letter, as in "ab"; a longer run is a word."""
    return len(run) == 2 and all(letter in known.numbers for letter in run)
