"""Is this answer right? One function for every kind of question; what differs is in `bot.grading.kinds`.

``grade`` takes any text and gives one of three verdicts; it never raises on what a student typed, and its work is
bounded by the length limit that stands before everything else.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from bot.grading.kinds import AnswerKey, recipe_of
from bot.grading.kinds.recipe import Given
from bot.grading.signs import is_too_long, plain
from bot.grading.verdict import Detail, GradingResult, Outcome, unreadable

__all__ = ["Detail", "GradingResult", "Outcome", "grade", "grade_option"]


def grade(
    key: AnswerKey, given: str, *, order: Sequence[int] = (), question: str = "", others: Iterable[str] = ()
) -> GradingResult:
    """Grade a typed answer.

    Parameters
    ----------
    key : AnswerKey
    given : str
        What the student sent, any text.
    order : sequence of int
        For a choice: the options of the key (0 is the right one) in the order shown. Empty: as in the key.
    question : str
        What was asked: what it asks for ("Which force …?") may stand beside the answer ("friction force").
    others : iterable of str
        Answers to other questions of the topic: a text that is one of their words is no typo.

    Returns
    -------
    GradingResult
        Right, wrong or unreadable, with what was read.

    Examples
    --------
    >>> from bot.grading.keys import FormulaKey, TextKey
    >>> grade(TextKey(("photosynthesis",)), "Photosinthesis").detail
    <Detail.TYPO: 'typo'>
    >>> grade(FormulaKey(("E = 1/2 m v^2",)), "0,5mv²").outcome
    <Outcome.RIGHT: 'right'>
    """
    if is_too_long(given):
        return unreadable(Detail.TOO_LONG)
    if not plain(given):
        return unreadable(Detail.EMPTY)
    return recipe_of(key).grade(key, Given(given, tuple(order), question, others))


def grade_option(key: AnswerKey, option: int) -> GradingResult:
    """Grade a tapped option, numbered as in the key (0 is the right one).

    Raises
    ------
    IndexError
        When the key has no such option: the button was not ours.
    """
    return recipe_of(key).grade_option(key, option)
