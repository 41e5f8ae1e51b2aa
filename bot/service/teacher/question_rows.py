"""A row of a question sheet becomes a question that can be stored, or every reason why not, with row and column."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from bot.grading.drawn import (
    Feedback,
    Language,
    RenderedQuestion,
    Template,
    TemplateProblem,
    Wrong,
    WrongAnswer,
    check,
    feedback_to_dict,
    key_to_show,
    kind_of,
    template_to_dict,
)
from bot.grading.grade import grade
from bot.grading.keys import AnswerKey, chance_of, shown, to_dict
from bot.grading.kinds import KINDS, recipe_of
from bot.grading.kinds.recipe import Column
from bot.grading.upload import KeyProblem, KeyRefused, key_from, key_from_row
from bot.words import Words
from bot.words.problems import key_sentence, template_sentence
from storage.files.truth import in_language
from storage.files.values import QuestionKind, QuestionRow
from storage.school.questions import QuestionDraft

EXAMPLES = 9
"""Drawn examples that a preview shows at most: three of each of three questions."""

_COLUMNS = {
    "text": "question",
    "alternatives": "also accepted",
    "because": "why wrong",
    "figures": "rounding",
}


@dataclass(frozen=True)
class RowProblem:
    """Why a row cannot be used: where, and a sentence that says where, what and what to do."""

    row: int
    column: str
    sentence: str


@dataclass(frozen=True)
class MadeQuestion:
    """A row made into a question.

    Attributes
    ----------
    draft : QuestionDraft or None
        None where it cannot be used; `problems` then says why.
    examples : tuple of str
        Up to three drawn examples with their answers.
    unexplained : int
        Wrong options and typical errors that nothing is said to.
    """

    draft: QuestionDraft | None
    problems: tuple[RowProblem, ...] = ()
    examples: tuple[str, ...] = ()
    unexplained: int = 0


def language_of(class_language: str, speaker: str) -> Language:
    """Return the language in which drawn numbers are written: the class's, else that of who sends them."""
    return "de" if (class_language or speaker) == "de" else "en"


def made_of(row: QuestionRow, language: Language, said: Words) -> MadeQuestion:
    """Make a question of a row and try everything in it.

    Parameters
    ----------
    row : QuestionRow
        Its number is named with every problem; 0 for what was typed.
    language : {"en", "de"}
        In which drawn numbers are written.
    said : Words
        The language of the problems.
    """
    return _fixed(_spoken(row, language), said) if row.drawn is None else _drawn(row, language, said)


def _spoken(row: QuestionRow, language: Language) -> QuestionRow:
    """Give the two options of a true or false question the words of the class."""
    right, *wrong = in_language([row.answer, *row.wrong_options], language)
    return replace(row, answer=right, wrong_options=tuple(wrong))


# ---------------------------------------------------------------- drawn values


def _drawn(row: QuestionRow, language: Language, said: Words) -> MadeQuestion:
    template = template_from_row(row, language)
    checked = check(template)
    if not checked.usable:
        problems = tuple(_template_problem(row, template, one, said) for one in checked.problems)
        return MadeQuestion(None, problems)
    examples = tuple(example(asked) for _, asked in checked.examples)
    stored = template_to_dict(template)
    unexplained = sum(not one.because for one in template.wrong)
    return MadeQuestion(draft_of_template(row.topic, template, stored), (), examples, unexplained)


def template_from_row(row: QuestionRow, language: Language) -> Template:
    """Put the cells of a row together as the template that they write."""
    if row.drawn is None:
        raise ValueError("This row has no drawn values.")
    where = row.drawn.where.strip()
    if where and not where.casefold().startswith(("where ", "wobei ")):
        where = f"where {where}"
    values = "; ".join(part for part in (row.drawn.values, where) if part)
    answers = (*row.wrong_options, *row.typical_errors)
    said = (*row.why_wrong, *("",) * len(answers))
    wrong = tuple(Wrong(answer, because) for answer, because in zip(answers, said, strict=False))
    kind: QuestionKind = (
        row.kind if row.drawn.kind_named or row.wrong_options else kind_of(values, row.answer)
    )
    return Template(
        kind,
        row.prompt,
        values,
        row.answer,
        wrong,
        alternatives=row.alternatives,
        unit=row.unit or "",
        tolerance=row.tolerance,
        figures=row.drawn.rounding,
        explanation=row.explanation or "",
        steps=row.steps,
        language=language,
    )


def draft_of_template(topic: str, template: Template, stored: dict[str, object]) -> QuestionDraft:
    """Return a template as a question to be stored."""
    key = key_to_show(template)
    return QuestionDraft(
        topic=topic,
        kind=template.kind,
        prompt=template.text,
        answer=to_dict(key),
        chance=chance_of(key),
        explanation=template.explanation,
        template=stored,
    )


def example(asked: RenderedQuestion) -> str:
    """Write a drawn question in one line, with its answer."""
    options = " · ".join((asked.answer, *(wrong.shown for wrong in asked.wrong)))
    answer = options if recipe_of(asked.key).is_tapped else asked.answer
    return f"{' '.join(asked.text.split())} → {answer}"


def _template_problem(
    row: QuestionRow, template: Template, problem: TemplateProblem, said: Words
) -> RowProblem:
    column = _COLUMNS.get(problem.field, problem.field)
    if column == "wrong":
        column = KINDS[template.kind].wrong_column
    place = said.text("file.place.sheet", row=row.row, heading=column) if row.row else column
    return RowProblem(row.row, column, f"{place}: {template_sentence(problem, said)}")


# ---------------------------------------------------------------- the same for everybody


def _fixed(row: QuestionRow, said: Words) -> MadeQuestion:
    try:
        draft, unexplained = _draft_of_row(row)
    except KeyRefused as refused:
        told = (RowProblem(row.row, one.column, key_sentence(row.row, one, said)) for one in refused.problems)
        return MadeQuestion(None, tuple(told))
    return MadeQuestion(draft, unexplained=unexplained)


def draft_of_row(row: QuestionRow) -> QuestionDraft:
    """Return a row without drawn values as a question to be stored.

    Raises
    ------
    KeyRefused
        When its key or a typical error cannot be used; names every problem.
    """
    return _draft_of_row(row)[0]


def _draft_of_row(row: QuestionRow) -> tuple[QuestionDraft, int]:
    key, problems = key_from_row(row), list[KeyProblem]()
    feedback = feedback_of(row, key, problems)
    if problems:
        raise KeyRefused(problems)
    draft = QuestionDraft(
        row.topic,
        row.kind,
        row.prompt,
        to_dict(key),
        chance_of(key),
        row.explanation or "",
        feedback=feedback_to_dict(feedback),
    )
    return draft, sum(not one.because for one in feedback.wrong)


def feedback_of(row: QuestionRow, key: AnswerKey, problems: list[KeyProblem]) -> Feedback:
    """Return what wrong answers are told; a typical error must be an answer of its kind, and wrong."""
    recipe = recipe_of(key)
    answers = recipe.options(key)[1:] if recipe.is_tapped else row.typical_errors
    said = (*row.why_wrong, *("",) * len(answers))
    wrong: list[WrongAnswer] = []
    for answer, because in zip(answers, said, strict=False):
        own = None if recipe.is_tapped else _error_key(row, key, answer, problems)
        wrong.append(WrongAnswer(answer if own is None else shown(own), because, own))
    return Feedback(tuple(wrong), row.steps)


def _error_key(row: QuestionRow, key: AnswerKey, answer: str, problems: list[KeyProblem]) -> AnswerKey | None:
    column: Column = "typical errors"
    try:
        own = key_from(row.kind, answer, tolerance=row.tolerance, unit=row.unit)
    except KeyRefused as refused:
        problems += [KeyProblem(column, one.found, one.code, one.values) for one in refused.problems]
        return None
    if grade(key, shown(own), question=row.prompt).right:
        values = {"found": f'"{answer}"', "answer": f'"{shown(key)}"'}
        problems.append(KeyProblem(column, answer, "error_right", values))
    return own


def first_examples(made: Sequence[MadeQuestion]) -> list[str]:
    """Return the drawn examples that a preview shows."""
    return [line for one in made for line in one.examples][:EXAMPLES]
