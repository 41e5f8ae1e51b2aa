"""What can be wrong with a template, as values: a code, the field, data, and a draw that shows it."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

Field = Literal[
    "text", "values", "answer", "alternatives", "wrong", "because", "unit", "tolerance", "figures",
    "explanation", "steps", "kind",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class TemplateProblem:
    """One reason why a template cannot be used.

    Attributes
    ----------
    code : str
        Worded by :mod:`bot.words.problems`.
    field : Field
        The part of the template.
    data : mapping
        Values for the sentence.
    place : int or None
        Which of several (wrong options, explanations, steps), counted from 0.
    example : mapping or None
        The values of a draw that fails, as shown to people; None when no draw was needed to see it.
    """

    code: str
    field: Field
    data: Mapping[str, Any] = dataclasses.field(default_factory=dict)
    place: int | None = None
    example: Mapping[str, str] | None = None


class TemplateRefused(ValueError):
    """A template cannot be read; `problems` holds every reason found."""

    def __init__(self, problems: Sequence[TemplateProblem]) -> None:
        super().__init__(", ".join(f"{problem.field}: {problem.code}" for problem in problems))
        self.problems = tuple(problems)


class Undefined(ArithmeticError):
    """A formula has no usable value for these values; `code` is that of a :class:`TemplateProblem`."""

    def __init__(self, code: str, **data: Any) -> None:
        super().__init__(code)
        self.code = code
        self.data = data


class Unread(ValueError):
    """A piece of a template cannot be read; `code` is that of a :class:`TemplateProblem`."""

    def __init__(self, code: str, **data: Any) -> None:
        super().__init__(code)
        self.code = code
        self.data = data


class BadDraw(ValueError):
    """A stored draw does not fit the template: the template was changed, or the draw is damaged."""


def quoted(text: str, most: int = 40) -> str:
    """Cut a text for use in a sentence."""
    text = " ".join(text.split())
    return text if len(text) <= most else text[: most - 1] + "…"


class BadTemplate(ValueError):
    """A stored template or its feedback is damaged; the message says how."""
