"""Templates, and what was asked, as values that JSON can hold and a database keeps."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict
from typing import Any

from bot.grading.drawn.drawing import Draw, draw, variety_of
from bot.grading.drawn.errors import BadTemplate, TemplateRefused
from bot.grading.drawn.feedback import Feedback, feedback_to_dict
from bot.grading.drawn.rendering import RenderedQuestion, render
from bot.grading.drawn.template import Template, Wrong
from bot.grading.keys import AnswerKey, to_dict
from bot.grading.kinds import KINDS
from bot.grading.kinds.recipe import WrittenKey
from storage.files.values import Tolerance

MANY = 100
"""A template whose check met so many draws is never used up: no student meets a question as often."""


# ---------------------------------------------------------------- templates


def template_to_dict(template: Template, variety: int | None = None) -> dict[str, Any]:
    """Return a template as JSON can hold it, with how many different draws it has at least.

    Parameters
    ----------
    template : Template
    variety : int, optional
        From :class:`bot.grading.drawn.checking.Checked`; counted anew without it.
    """
    data = asdict(template)
    data["wrong"] = [[wrong.answer, wrong.because] for wrong in template.wrong]
    data |= {name: list(data[name]) for name in ("alternatives", "steps")}
    return {**data, "variety": variety_of(template) if variety is None else variety}


def template_from_dict(data: Mapping[str, Any]) -> Template:
    """Read a stored template.

    Raises
    ------
    BadTemplate
        When the values are not those that :func:`template_to_dict` writes.
    """
    try:
        rest = {name: value for name, value in data.items() if name not in ("variety", *_READ)}
        tolerance = data["tolerance"]
        return Template(
            wrong=tuple(Wrong(answer, because) for answer, because in data["wrong"]),
            alternatives=tuple(data["alternatives"]),
            steps=tuple(data["steps"]),
            tolerance=None if tolerance is None else Tolerance(**tolerance),
            **rest,
        )
    except (KeyError, TypeError, ValueError) as error:
        raise BadTemplate(f"A stored template is damaged ({error}). Upload the question again.") from error


_READ = ("wrong", "alternatives", "steps", "tolerance")


def key_to_show(template: Template) -> AnswerKey:
    """Return a key that shows a template's formulas where a question's answer is listed; nothing is graded by it."""
    answer = template.answer.strip().removeprefix("=").strip()
    wrong = tuple(wrong.answer.removeprefix("=").strip() for wrong in template.wrong)
    written = WrittenKey(answer, template.alternatives, wrong, template.tolerance, template.unit)
    key: AnswerKey = KINDS[template.kind].make_listed(written)
    return key


# ---------------------------------------------------------------- one asking


def ask(stored: Mapping[str, Any], seed: str, before: Iterable[Mapping[str, Any]] = ()) -> dict[str, Any]:
    """Draw the values of a stored template and return the question as it is asked, to be kept beside the review.

    Parameters
    ----------
    stored : mapping
        From :func:`template_to_dict`.
    seed : str
        The same seed gives the same question, in every process.
    before : iterable of mapping
        What this student was asked of it, oldest first. Values come again only when there are no others, and then
        those that were asked longest ago.

    Returns
    -------
    dict
        ``seed`` and ``values`` of the draw; ``prompt``, ``answer`` (the key), ``explanation``, ``feedback``.

    Raises
    ------
    BadTemplate
        When the template cannot be read or has no value for any draw.
    """
    template = template_from_dict(stored)
    used = [Draw.from_dict(one) for one in before]
    variety = int(stored.get("variety") or MANY)
    if variety < MANY and len(used) >= variety:
        used = used[len(used) - variety + 1 :]
    try:
        drawn = draw(template, seed, used)
        return asked_to_dict(drawn, render(template, drawn))
    except (TemplateRefused, ArithmeticError) as error:
        raise BadTemplate(
            f"A stored template cannot be drawn ({error}). Upload the question again."
        ) from error


def asked_to_dict(drawn: Draw, asked: RenderedQuestion) -> dict[str, Any]:
    """Return a question with drawn values as it is asked; see :func:`ask`."""
    return {
        **drawn.to_dict(),
        "prompt": asked.text,
        "answer": to_dict(asked.key),
        "explanation": asked.explanation,
        "feedback": feedback_to_dict(Feedback(asked.wrong, asked.steps)),
    }
