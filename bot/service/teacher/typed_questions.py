"""A question as a teacher typed it becomes one that can be stored: its kind inferred, its key tried."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from bot.grading.drawn import (
    Template,
    draw,
    feedback_from_dict,
    feedback_to_dict,
    kind_of,
    render,
    template_from_dict,
)
from bot.grading.keys import (
    AnswerKey,
    all_shown,
    chance_of,
    from_dict,
    shown,
    to_dict,
)
from bot.grading.kinds import KINDS, TRIED, recipe_of
from bot.grading.upload import KeyProblem, KeyRefused, infer_kind, key_from
from bot.service.teacher.question_rows import example, feedback_of, language_of, made_of
from bot.talk.teacher.drafts import as_line
from bot.words import Words
from bot.words.problems import key_description
from storage.base.errors import InvalidValue
from storage.files.keys import read_tolerance, several
from storage.files.questions import KINDS as NAMED
from storage.files.values import DrawnCells, QuestionRow, Tolerance
from storage.school.questions import QuestionDraft, QuestionInfo

LONGEST = {"prompt": 1000, "explanation": 1000}


def draft_of(
    topic: str,
    typed: Mapping[str, Any],
    said: Words,
    *,
    picture: str | None = None,
    class_language: str = "",
) -> QuestionDraft:
    """Return a question to be stored.

    Parameters
    ----------
    topic : str
        Name of its topic.
    typed : mapping
        As `bot.talk.teacher.drafts.read_draft` gave it.
    said : Words
        The language to refuse in.
    picture : str, optional
        Digest of its picture.
    class_language : str
        In which drawn numbers are written.

    Raises
    ------
    InvalidValue
        The answer cannot be graded; the message holds every reason with what to do.
    """
    alt = str(typed["prompt"])[:500] if picture else ""
    row = _row(topic, typed, said)
    if row.drawn is not None:
        made = made_of(row, language_of(class_language, said.language), said)
        if made.draft is None:
            raise InvalidValue("values", " ".join(one.sentence for one in made.problems))
        return replace(made.draft, picture=picture, picture_alt=alt)
    key = _key(typed, said)
    return QuestionDraft(
        topic=topic,
        kind=key.kind,
        prompt=row.prompt,
        answer=to_dict(key),
        chance=chance_of(key),
        explanation=row.explanation or "",
        picture=picture,
        picture_alt=alt,
        feedback=_feedback(replace(row, kind=key.kind), key, said),
    )


def _row(topic: str, typed: Mapping[str, Any], said: Words) -> QuestionRow:
    """Put what was typed into the cells of a sheet."""
    wrong, errors = tuple(typed.get("wrong", ())), tuple(typed.get("errors", ()))
    answer, *more = [str(typed["answer"])] if wrong else several(str(typed["answer"]))
    kind = NAMED.get(str(typed.get("kind", "")).casefold())
    values = str(typed.get("values", ""))
    if kind is not None and not KINDS[kind].is_tapped:
        wrong, errors = (), (*wrong, *errors)
    why = tuple(typed.get("why", ()))
    if len(why) > len(wrong or errors):
        raise InvalidValue("why", said.text("file.why_many", size=len(why), limit=len(wrong or errors)))
    drawn = DrawnCells(values, str(typed.get("where", "")), str(typed.get("rounding", "")), kind is not None)
    return QuestionRow(
        row=0,
        topic=topic,
        prompt=str(typed["prompt"])[: LONGEST["prompt"]],
        kind=kind or infer_kind(answer, wrong_options=wrong, unit=typed.get("unit")),
        answer=answer,
        alternatives=(*more, *typed.get("also", ())),
        wrong_options=wrong,
        tolerance=_tolerance(typed, said),
        unit=typed.get("unit"),
        explanation=str(typed.get("explanation", ""))[: LONGEST["explanation"]],
        typical_errors=errors,
        why_wrong=why,
        steps=tuple(typed.get("steps", ())),
        drawn=drawn if values else None,
    )


def _feedback(row: QuestionRow, key: AnswerKey, said: Words) -> dict[str, Any] | None:
    problems: list[KeyProblem] = []
    feedback = feedback_of(row, key, problems)
    if problems:
        raise InvalidValue("errors", " ".join(key_description(one, said) for one in problems))
    return feedback_to_dict(feedback)


def _key(typed: Mapping[str, Any], said: Words) -> AnswerKey:
    wrong, unit, prompt = list(typed.get("wrong", ())), typed.get("unit"), str(typed["prompt"])
    answer, *more = [str(typed["answer"])] if wrong else several(str(typed["answer"]))
    kinds = {infer_kind(one, wrong_options=wrong, unit=unit, question=prompt) for one in (answer, *more)}
    if (named := NAMED.get(str(typed.get("kind", "")).casefold())) is not None:
        kinds = {named}
    tolerance = _tolerance(typed, said)
    try:
        return key_from(
            kinds.pop() if len(kinds) == 1 else TRIED[-1].kind,  # "5|five" are two words for one thing
            answer,
            alternatives=[*more, *typed.get("also", ())],
            wrong_options=wrong,
            tolerance=tolerance,
            unit=unit,
        )
    except KeyRefused as refused:
        why = [key_description(one, said) for one in refused.problems]
        raise InvalidValue("answer", " ".join(why)) from refused


def _tolerance(typed: Mapping[str, Any], said: Words) -> Tolerance | None:
    if not typed.get("tolerance"):
        return None
    tolerance = read_tolerance(str(typed["tolerance"]))
    if tolerance is None:
        found = str(typed["tolerance"])[:60]
        raise InvalidValue("tolerance", said.text("key.tolerance_unread", found=found))
    return tolerance


def shown_draft(draft: QuestionDraft, words: Words) -> str:
    """Say in one line how a question was understood, with every right answer."""
    key = from_dict(draft.answer)
    answers = all_shown(key)
    answer = words.either([words.figure(one) if recipe_of(key).is_figure else one for one in answers])
    told = words.text(f"teacher.shown.{draft.kind}", prompt=draft.prompt, answer=answer)
    if draft.template is None:
        return told
    template = template_from_dict(draft.template)
    asked = example(render(template, draw(template, "shown")))
    return words.text("drawn.shown", shown=told, example=asked)


def shown_answer(question: QuestionInfo) -> str:
    """Return the right answer of a stored question as people read it."""
    return shown(from_dict(question.answer))


def line_of(question: QuestionInfo) -> str:
    """Return the message that would make a stored question."""
    if question.template is not None:
        return _line_of_template(template_from_dict(question.template))
    key = from_dict(question.answer)
    recipe = recipe_of(key)
    lines = [as_line(question.prompt, shown(key), list(recipe.options(key)[1:])), *recipe.typed_lines(key)]
    if more := all_shown(key)[1:]:
        lines.append(f"also: {'; '.join(more)}")
    if question.explanation:
        lines.append(f"because: {' '.join(question.explanation.split())}")
    feedback = feedback_from_dict(question.feedback)
    if not recipe.is_tapped and feedback.wrong:
        lines.append(f"typical errors: {'; '.join(one.shown for one in feedback.wrong)}")
    lines += _told([one.because for one in feedback.wrong], feedback.steps)
    return "\n".join(lines)


def _told(because: Sequence[str], steps: Sequence[str]) -> list[str]:
    lines = [f"why wrong: {' | '.join(because)}"] if any(because) else []
    return [*lines, *([f"steps: {' | '.join(steps)}"] if steps else [])]


def _line_of_template(template: Template) -> str:
    tolerance, wrong = template.tolerance, "; ".join(one.answer for one in template.wrong)
    recipe = KINDS[template.kind]
    inferred = recipe.kind if recipe.is_tapped else kind_of(template.values, template.answer)
    given = {
        "answer": template.answer,
        "wrong" if recipe.is_tapped else "typical errors": wrong,
        "kind": "" if inferred == template.kind else template.kind,
        "also": "; ".join(template.alternatives),
        "values": " ".join(template.values.split()),
        "unit": template.unit,
        "tolerance": "" if tolerance is None else _amount(tolerance),
        "rounding": template.figures,
        "because": " ".join(template.explanation.split()),
    }
    lines = [f"{name}: {text}" for name, text in given.items() if text]
    return "\n".join([template.text, *lines, *_told([one.because for one in template.wrong], template.steps)])


def _amount(tolerance: Tolerance) -> str:
    return f"{tolerance.amount:.6g}" if not tolerance.relative else f"{tolerance.amount * 100:.6g} %"
