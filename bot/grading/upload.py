"""From what a teacher wrote to an answer key, or every problem of it in a sentence.

The reader of the sheet has already found the columns; here the contents are tried the way they will be used: a
number must be a number, its unit known, a formula must have a value, options must differ.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from bot.grading.keys import AnswerKey
from bot.grading.kinds import KINDS, TRIED
from bot.grading.kinds.recipe import Column, WrittenKey
from bot.grading.signs import plain
from storage.files.values import QuestionKind, QuestionRow, Tolerance


@dataclass(frozen=True, slots=True)
class KeyProblem:
    """What is wrong with a key: the column, the value found, and why: the text is ``key.CODE`` with these values."""

    column: Column
    found: str
    code: str
    values: Mapping[str, Any] = field(default_factory=dict)


class KeyRefused(ValueError):
    """A key cannot be made; `problems` holds every reason."""

    def __init__(self, problems: Sequence[KeyProblem]) -> None:
        super().__init__(", ".join(f"{problem.column}: {problem.code}" for problem in problems))
        self.problems = tuple(problems)


def key_from_row(row: QuestionRow) -> AnswerKey:
    """Make the key of a row of a question sheet; see :func:`key_from`."""
    errors = row.typical_errors if KINDS[row.kind].keeps_errors else ()
    return key_from(
        row.kind,
        row.answer,
        alternatives=row.alternatives,
        wrong_options=row.wrong_options or errors,
        tolerance=row.tolerance,
        unit=row.unit,
    )


def key_from(
    kind: QuestionKind,
    answer: str,
    *,
    alternatives: Sequence[str] = (),
    wrong_options: Sequence[str] = (),
    tolerance: Tolerance | None = None,
    unit: str | None = None,
) -> AnswerKey:
    """Make and check the key of a question.

    Parameters
    ----------
    kind : {"choice", "number", "text", "formula"}
    answer : str
        The right answer; for a number it may carry its unit.
    alternatives : sequence of str
        Further right answers.
    wrong_options : sequence of str
        The other options of a choice; for a text, answers that are never taken for a typo.
    tolerance : Tolerance or None
        For a number.
    unit : str or None
        For a number whose answer is written without one.

    Returns
    -------
    AnswerKey

    Raises
    ------
    KeyRefused
        With every problem found.

    Examples
    --------
    >>> key_from("number", "2,7", unit="g/cm3")
    NumberKey(accepted=(Amount(value=2.7, unit='g/cm³', figures=2, place=-1, written=''),), tolerance=None)
    >>> try:
    ...     key_from("number", "two")
    ... except KeyRefused as refused:
    ...     print(refused)
    answer: number
    """
    problems: list[KeyProblem] = []
    if not plain(answer):
        problems.append(KeyProblem("answer", "", "empty"))
        raise KeyRefused(problems)

    def fault(column: Column, found: str, code: str, /, **values: Any) -> None:
        problems.append(KeyProblem(column, found, code, values))

    written = _written(answer, alternatives, wrong_options, tolerance, unit)
    key: AnswerKey | None = KINDS[kind].make(written, fault)
    if tolerance is not None and not KINDS[kind].is_figure:
        fault("tolerance", str(tolerance.amount), "tolerance_idle")
    if problems or key is None:
        raise KeyRefused(problems)
    return key


def _written(
    answer: str,
    alternatives: Sequence[str],
    wrong_options: Sequence[str],
    tolerance: Tolerance | None,
    unit: str | None,
    question: str = "",
) -> WrittenKey:
    more, wrong = (
        tuple(_clean(text) for text in some if plain(text)) for some in (alternatives, wrong_options)
    )
    return WrittenKey(_clean(answer), more, wrong, tolerance, _clean(unit or ""), question)


def _clean(text: str) -> str:
    return " ".join(text.split())


def infer_kind(
    answer: str, *, wrong_options: Sequence[str] = (), unit: str | None = None, question: str = ""
) -> QuestionKind:
    """Say which kind a question is by what its answer looks like; shown to the teacher, who can change it.

    Examples
    --------
    >>> infer_kind("10 cm", wrong_options=["8 cm"]), infer_kind("2.7 g/cm³"), infer_kind("F = m a")
    ('choice', 'number', 'formula')
    >>> infer_kind("photosynthesis"), infer_kind("2 H2O"), infer_kind("E = 1/2*m*v^2")
    ('text', 'text', 'formula')
    """
    written = _written(answer, (), wrong_options, None, unit, question)
    return next(recipe.kind for recipe in TRIED if recipe.fits(written))
