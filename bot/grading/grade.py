"""Is this answer right? One function for every kind of question.

``grade`` takes any text and gives one of three verdicts; it never raises on what a student typed, and its work is
bounded by the length limit that stands before everything else.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from functools import lru_cache

from bot.grading import choices, equality, formulas, texts, typedforms
from bot.grading.amounts import grade_number
from bot.grading.formulas import Custom, Formula, FormulaError
from bot.grading.keys import AnswerKey, ChoiceKey, FormulaKey, NumberKey, TextKey
from bot.grading.signs import is_too_long, plain
from bot.grading.texts import Match
from bot.grading.verdict import Detail, GradingResult, Outcome, judged, unreadable

__all__ = ["Detail", "GradingResult", "Outcome", "grade", "grade_option"]

_CUSTOMS = tuple(Custom(slash, log) for log in (False, True) for slash in ("blank", "run", "left"))


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
    >>> grade(TextKey(("photosynthesis",)), "Photosinthesis").detail
    <Detail.TYPO: 'typo'>
    >>> grade(FormulaKey(("E = 1/2 m v^2",)), "0,5mv²").outcome
    <Outcome.RIGHT: 'right'>
    """
    if is_too_long(given):
        return unreadable(Detail.TOO_LONG)
    if not plain(given):
        return unreadable(Detail.EMPTY)
    if isinstance(key, ChoiceKey):
        return _grade_choice(key, given, order)
    if isinstance(key, NumberKey):
        return grade_number(key, given, question)
    if isinstance(key, TextKey):
        return _grade_text(key, given, question, others)
    return _grade_formula(key, given, question)


def grade_option(key: ChoiceKey, option: int) -> GradingResult:
    """Grade a tapped option, numbered as in the key (0 is the right one).

    Raises
    ------
    IndexError
        When the key has no such option: the button was not ours.
    """
    if not 0 <= option < len(key.options):
        raise IndexError(f"option {option} of {len(key.options)}")
    return replace(judged(option == 0, read_as=key.options[option]), option=option)


def _grade_choice(key: ChoiceKey, given: str, order: Sequence[int]) -> GradingResult:
    places = list(order) or list(range(len(key.options)))
    found = choices.chosen(given, [key.options[option] for option in places])
    if len(found) != 1:
        return unreadable(Detail.AMBIGUOUS_OPTION if found else Detail.NOT_AN_OPTION)
    return grade_option(key, places[found[0]])


def _grade_text(key: TextKey, given: str, question: str, others: Iterable[str]) -> GradingResult:
    if not any(sign.isalnum() for sign in given) and any(sign.isalnum() for sign in key.answers[0]):
        # "?" and a lone emoji are no attempt at a word.
        return unreadable(Detail.EMPTY)
    match, answer = texts.compare(given, key.answers, key.wrong, question, others)
    if match is Match.NEAR and key.typos:
        return judged(True, Detail.TYPO, answer)
    return judged(match is Match.SAME, read_as=" ".join(given.split()))


# --- formulas ---------------------------------------------------------------------------------------------


@lru_cache(maxsize=2048)
def _key_formula(answer: str, natural_log: bool) -> Formula:
    return formulas.read(answer, custom=Custom(natural_log=natural_log))


def _grade_formula(key: FormulaKey, given: str, question: str) -> GradingResult:
    shown, outcome = " ".join(given.split()), unreadable(Detail.NOT_A_FORMULA)
    for answer in key.answers:
        try:
            outcome = _compare(answer, given, shown, question)
        except FormulaError:
            # Unreadable beside this answer's names; another accepted formula may name its parts differently.
            continue
        if outcome.right or outcome.detail is Detail.OTHER_SUBJECT:
            return outcome
    return outcome


def _compare(answer: str, given: str, shown: str, question: str) -> GradingResult:
    tried: set[tuple[Formula, Formula]] = set()
    for custom in _CUSTOMS:
        wanted = _key_formula(answer, custom.natural_log)
        text = typedforms.as_typed(given, wanted, question)
        own = typedforms.with_names_of(
            wanted, formulas.read(text, wanted.names | {wanted.subject or ""}, custom)
        )
        if _is_chat(given, own, wanted):
            return unreadable(Detail.NOT_A_FORMULA)
        if wanted.subject and own.subject and own.subject != wanted.subject:
            return unreadable(Detail.OTHER_SUBJECT, wanted.subject)
        # Most formulas read the same under every custom.
        if (wanted, own) not in tried and equality.same_value(wanted, own):
            return judged(True, read_as=shown)
        tried.add((wanted, own))
    return judged(False, read_as=shown)


def _is_chat(given: str, own: Formula, wanted: Formula) -> bool:
    """Whether it is a sentence: no sign or digit, and letters that are mostly not quantities of the key."""
    if any(sign.isdigit() or sign in "+-·/^=()√" for sign in plain(given)):
        return False
    strange = own.names - wanted.names
    return len(own.names) > 2 and 2 * len(strange) > len(own.names)
