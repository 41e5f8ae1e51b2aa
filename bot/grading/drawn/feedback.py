"""Which typical error an answer shows, so that the student is told what it was and not only that it was wrong."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from bot.grading import texts
from bot.grading.drawn.rendering import RenderedQuestion, WrongAnswer
from bot.grading.grade import grade
from bot.grading.keys import AnswerKey, NumberKey, TextKey
from bot.grading.texts import Match
from bot.grading.verdict import Detail, GradingResult, Outcome


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
    return next((one for one in wrong if one.key and _is_it(one.key, given)), None)


def _is_it(key: AnswerKey, given: str) -> bool:
    if isinstance(key, TextKey):
        return texts.compare(given, key.answers)[0] is not Match.OTHER
    if isinstance(key, NumberKey):
        # Whoever multiplied wrote some unit or none: the number alone tells the error.
        bare = NumberKey(tuple(replace(amount, unit="") for amount in key.accepted), key.tolerance)
        return any(_fits(k, given) for k in (key, bare))
    return grade(key, given).right


def _fits(key: AnswerKey, given: str) -> bool:
    verdict = grade(key, given)
    return verdict.right or verdict.detail is Detail.UNIT_MISSING
