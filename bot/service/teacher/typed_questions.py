"""A question as a teacher typed it becomes one that can be stored: its kind inferred, its key tried."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from bot.grading.keys import (
    AnswerKey,
    all_shown,
    chance_of,
    from_dict,
    shown,
    to_dict,
)
from bot.grading.kinds import recipe_of
from bot.grading.upload import KeyRefused, infer_kind, key_from
from bot.talk.teacher.drafts import as_line
from bot.words import Words
from bot.words.problems import key_description
from storage.base.errors import InvalidValue
from storage.files.keys import read_tolerance, several
from storage.school.questions import QuestionDraft, QuestionInfo

LONGEST = {"prompt": 1000, "explanation": 1000}


def draft_of(
    topic: str, typed: Mapping[str, Any], said: Words, *, picture: str | None = None
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

    Raises
    ------
    InvalidValue
        The answer cannot be graded; the message holds every reason with what to do.
    """
    key = _key(typed, said)
    return QuestionDraft(
        topic=topic,
        kind=key.kind,
        prompt=str(typed["prompt"])[: LONGEST["prompt"]],
        answer=to_dict(key),
        chance=chance_of(key),
        explanation=str(typed.get("explanation", ""))[: LONGEST["explanation"]],
        picture=picture,
        picture_alt=str(typed["prompt"])[:500] if picture else "",
    )


def _key(typed: Mapping[str, Any], said: Words) -> AnswerKey:
    wrong, unit, prompt = list(typed.get("wrong", ())), typed.get("unit"), str(typed["prompt"])
    answer, *more = [str(typed["answer"])] if wrong else several(str(typed["answer"]))
    kinds = {infer_kind(one, wrong_options=wrong, unit=unit, question=prompt) for one in (answer, *more)}
    tolerance = None
    if typed.get("tolerance"):
        tolerance = read_tolerance(str(typed["tolerance"]))
        if tolerance is None:
            found = str(typed["tolerance"])[:60]
            raise InvalidValue("tolerance", said.text("key.tolerance_unread", found=found))
    try:
        return key_from(
            kinds.pop() if len(kinds) == 1 else "text",  # "5|five" are two words for one thing
            answer,
            alternatives=[*more, *typed.get("also", ())],
            wrong_options=wrong,
            tolerance=tolerance,
            unit=unit,
        )
    except KeyRefused as refused:
        why = [key_description(one, said) for one in refused.problems]
        raise InvalidValue("answer", " ".join(why)) from refused


def shown_draft(draft: QuestionDraft, words: Words) -> str:
    """Say in one line how a question was understood, with every right answer."""
    key = from_dict(draft.answer)
    answers = all_shown(key)
    answer = words.either([words.figure(one) if recipe_of(key).is_figure else one for one in answers])
    return words.text(f"teacher.shown.{draft.kind}", prompt=draft.prompt, answer=answer)


def shown_answer(question: QuestionInfo) -> str:
    """Return the right answer of a stored question as people read it."""
    return shown(from_dict(question.answer))


def line_of(question: QuestionInfo) -> str:
    """Return the message that would make a stored question."""
    key = from_dict(question.answer)
    recipe = recipe_of(key)
    lines = [as_line(question.prompt, shown(key), list(recipe.options(key)[1:])), *recipe.typed_lines(key)]
    if more := all_shown(key)[1:]:
        lines.append(f"also: {'; '.join(more)}")
    if question.explanation:
        lines.append(f"because: {' '.join(question.explanation.split())}")
    return "\n".join(lines)
