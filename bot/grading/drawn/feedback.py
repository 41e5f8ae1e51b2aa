"""Which typical error an answer shows, so that the student is told what it was and not only that it was wrong."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from json import dumps, loads
from typing import Any

from bot.grading.drawn.errors import BadTemplate
from bot.grading.drawn.rendering import RenderedQuestion, WrongAnswer
from bot.grading.keys import from_dict, to_dict
from bot.grading.kinds import recipe_of
from bot.grading.kinds.recipe import Given
from bot.grading.signs import is_too_long, plain
from bot.grading.verdict import GradingResult, Outcome


def error_in(asked: RenderedQuestion, given: str, verdict: GradingResult) -> WrongAnswer | None:
    """Return the typical error that a wrong answer shows.

    Parameters
    ----------
    asked : RenderedQuestion
    given : str
        What the student wrote; not read for a choice.
    verdict : GradingResult
        What :func:`bot.grading.grade.grade` said of it.

    Returns
    -------
    WrongAnswer or None
        None for a right or unreadable answer, and for an error that is none of the typical ones.

    Examples
    --------
    >>> from bot.grading.drawn import Template, Wrong, draw, render
    >>> speed = Template("number", "{s} m in {t} s. How fast?", "s = 60..60; t = 12..12", "s/t",
    ...                  (Wrong("s*t", "{wrong} is distance times time."),), unit="m/s")
    >>> asked = render(speed, draw(speed, 1))
    >>> error_in(asked, "720", grade(asked.key, "720")).because
    '720 m/s is distance times time.'
    """
    return error_among(asked.wrong, given, verdict.option) if verdict.outcome is Outcome.WRONG else None


def error_among(wrong: Sequence[WrongAnswer], given: str, option: int | None) -> WrongAnswer | None:
    """Return which of some wrong options or typical wrong answers a wrong answer is; see :func:`error_in`."""
    if option is not None:
        return wrong[option - 1] if 1 <= option <= len(wrong) else None
    if is_too_long(given) or not plain(given):
        return None
    answer = Given(given)
    return next((one for one in wrong if one.key and recipe_of(one.key).is_error(one.key, answer)), None)


@dataclass(frozen=True, slots=True)
class Feedback:
    """What whoever was wrong is told.

    Attributes
    ----------
    wrong : tuple of WrongAnswer
        Of a choice every wrong option, in the order of the key.
    steps : tuple of str
        The worked solution.
    """

    wrong: tuple[WrongAnswer, ...] = ()
    steps: tuple[str, ...] = ()

    def because(self, given: str, option: int | None = None) -> str:
        """Return what to say to a wrong answer; "" where it shows no typical error."""
        error = error_among(self.wrong, given, option)
        return "" if error is None else error.because


NOTHING = Feedback()


# ---------------------------------------------------------------- stored


def feedback_to_dict(feedback: Feedback) -> dict[str, Any] | None:
    """Return feedback as JSON can hold it; None when it says nothing."""
    if not feedback.steps and not any(wrong.because for wrong in feedback.wrong):
        return None
    wrong = [
        {"shown": one.shown, "because": one.because, "key": None if one.key is None else to_dict(one.key)}
        for one in feedback.wrong
    ]
    return {"wrong": wrong, "steps": list(feedback.steps)}


def feedback_from_dict(data: Mapping[str, Any] | None) -> Feedback:
    """Read stored feedback.

    Raises
    ------
    BadTemplate
        When the values are not those that :func:`feedback_to_dict` writes.
    """
    return NOTHING if data is None else _feedback(dumps(data))


@lru_cache(maxsize=256)
def _feedback(text: str) -> Feedback:
    data = loads(text)
    try:
        wrong = tuple(
            WrongAnswer(one["shown"], one["because"], None if one["key"] is None else from_dict(one["key"]))
            for one in data["wrong"]
        )
        return Feedback(wrong, tuple(data["steps"]))
    except (KeyError, TypeError, ValueError) as error:
        raise BadTemplate(f"Stored feedback is damaged ({error}). Upload the question again.") from error
