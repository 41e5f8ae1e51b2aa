"""The questions of a class as the sheet that they could be uploaded from again, with everything that is said of them.

Options stand in columns of their own and explanations too, so that no sign in them parts anything; a list of answers
that are typed has bars between them. Pictures stay in the chat where they were sent.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from bot.grading.choices import LETTERS
from bot.grading.drawn import BadTemplate, Feedback, WrongAnswer, feedback_from_dict, template_from_dict
from bot.grading.keys import AnswerKey, BadKey, from_dict
from bot.grading.kinds import KINDS, recipe_of
from bot.grading.kinds.recipe import Recipe
from storage.files.csv_out import Value, write_csv
from storage.files.values import Tolerance
from storage.history.evidence_rows import ClassRecords, QuestionRecord

BAR = " | "


def question_sheet(rows: ClassRecords, questions: Sequence[QuestionRecord]) -> bytes:
    """Return the questions in use as CSV; one whose stored form is damaged is left out.

    Parameters
    ----------
    rows : ClassRecords
        For the names of the topics.
    questions : sequence of QuestionRecord

    Returns
    -------
    bytes
        UTF-8 with the headings of ``storage.files.questions``; only columns that some question needs.
    """
    topics = {row.id: row.name for row in rows.topics}
    found = [
        _cells(row, topics[row.topic_id]) for row in questions if not row.retired and row.topic_id in topics
    ]
    cells = [one for one in found if one]
    headings = [name for name in _headings() if any(one.get(name) for one in cells)]
    lines: list[list[Value]] = [[*headings]]
    lines += [[one.get(name, "") for name in headings] for one in cells]
    return write_csv(lines)


def _headings() -> list[str]:
    options, numbers = list(LETTERS), range(1, len(LETTERS) + 1)
    return [
        "topic", "kind", "question", "values", "answer", *options, "also accepted",
        *(f"typical errors {number}" for number in numbers), *(f"why wrong {number}" for number in numbers),
        "unit", "tolerance", "rounding", "explanation", "steps",
    ]  # fmt: skip


def _cells(row: QuestionRecord, topic: str) -> dict[str, str]:
    cells = {"topic": topic, "kind": row.kind, "question": row.prompt, "explanation": row.explanation}
    try:
        if row.template is not None:
            return {**cells, **_of_template(row.template)}
        key = from_dict(row.answer)
        return {**cells, **_of_key(key), **_of_feedback(feedback_from_dict(row.feedback), key)}
    except (BadKey, BadTemplate):
        return {}


def _of_template(stored: Mapping[str, object]) -> dict[str, str]:
    template = template_from_dict(stored)
    wrong = [one.answer for one in template.wrong]
    return {
        **_answers(KINDS[template.kind], template.answer, wrong),
        **_explained([one.because for one in template.wrong]),
        "values": template.values,
        "also accepted": BAR.join(template.alternatives),
        "unit": template.unit,
        "tolerance": _tolerance(template.tolerance),
        "rounding": template.figures,
        "steps": "\n".join(template.steps),
    }


def _of_key(key: AnswerKey) -> dict[str, str]:
    recipe = recipe_of(key)
    written = recipe.written(key)
    return {
        **_answers(recipe, written.answer, written.wrong),
        "also accepted": BAR.join(written.alternatives),
        "unit": written.unit,
        "tolerance": _tolerance(written.tolerance),
    }


def _of_feedback(feedback: Feedback, key: AnswerKey) -> dict[str, str]:
    errors = [] if recipe_of(key).is_tapped else [_error(one) for one in feedback.wrong]
    return {
        **_numbered("typical errors", errors),
        **_explained([one.because for one in feedback.wrong]),
        "steps": "\n".join(feedback.steps),
    }


def _error(wrong: WrongAnswer) -> str:
    """Write a typical error so that it is read as the same one."""
    if wrong.key is None:
        return wrong.shown
    written = recipe_of(wrong.key).written(wrong.key)
    return f"{written.answer} {written.unit}".strip()


def _answers(recipe: Recipe[Any], right: str, wrong: Sequence[str]) -> dict[str, str]:
    if not recipe.is_tapped:
        return {"answer": right, **_numbered(recipe.wrong_column, wrong)}
    # "Option A" names the column; "A" could also be the text of some option.
    return {"answer": f"Option {LETTERS[0]}", **dict(zip(LETTERS, (right, *wrong), strict=False))}


def _numbered(name: str, texts: Sequence[str]) -> dict[str, str]:
    return {f"{name} {number}": text for number, text in enumerate(texts, start=1)}


def _explained(texts: Sequence[str]) -> dict[str, str]:
    return _numbered("why wrong", texts)


def _tolerance(tolerance: Tolerance | None) -> str:
    if tolerance is None:
        return ""
    return f"{tolerance.amount * 100:.12g} %" if tolerance.relative else f"{tolerance.amount:.12g}"
