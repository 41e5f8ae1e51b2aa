"""A set of questions in the form of QTI as the rows of a question sheet."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from typing import Any

from storage.files.folding import fold
from storage.files.keys import look_at
from storage.files.problem import Choices, Phrase, PossibleReading, Problem, problem
from storage.files.reading import limits
from storage.files.reading.opened import OpenedFile
from storage.files.reading.sheet import FileRefused
from storage.files.values import DrawnCells, QuestionRow, QuestionsFile, Reading, Tolerance

_MOST_TOPICS = 12


def read_qti(
    file: OpenedFile, name: str, known_topics: Collection[str] | None, choices: Choices
) -> Reading[QuestionsFile]:
    """Read an item or a package.

    Parameters
    ----------
    file : OpenedFile
    name : str
        Its name, for messages only.
    known_topics : collection of str or None
        The topics of the class; the section or title of an item may be one of them.
    choices : mapping
        What was decided; ``topic`` is the topic of all items that name none.

    Returns
    -------
    Reading of QuestionsFile
        Rows are items, counted from 1. Each that cannot be represented is named with its title and the reason.

    Raises
    ------
    FileRefused
        If nothing can be read, or the topic has to be asked first.
    """
    items: Sequence[Mapping[str, Any]] = file.items()
    topics = _topics(items, known_topics, choices)
    rows: list[QuestionRow] = []
    problems: list[Problem] = []
    seen: dict[tuple[str, str], int] = {}
    for number, item in enumerate(items, start=1):
        wrong = _refused(item)
        if wrong is None and (fold(topics[number - 1]), fold(item["prompt"])) in seen:
            other = seen[fold(topics[number - 1]), fold(item["prompt"])]
            wrong = problem("row_twice", found=item["prompt"], other=other)
        if wrong is not None:
            problems.append(replace(wrong, row=number, place="item"))
            continue
        seen[fold(topics[number - 1]), fold(item["prompt"])] = number
        rows.append(_row(number, topics[number - 1], item))
    return Reading(QuestionsFile(tuple(rows)), tuple(problems), len(items), name, "qti")


def _refused(item: Mapping[str, Any]) -> Problem | None:
    """Say why an item cannot become a question; None where it can."""
    if item["left_out"]:
        why = Phrase(f"qti.{item['left_out']}", (("what", item["detail"]),))
        return problem("qti_left", found=item["title"], why=why)
    texts = (item["prompt"], item["answer"], item["explanation"], *item["wrong"], *item["alternatives"])
    longest = max(map(len, texts))
    if longest > limits.CELL_CHARACTERS:
        return problem("cell_long", found=item["prompt"], size=longest, limit=limits.CELL_CHARACTERS)
    if len(item["wrong"]) > limits.WRONG_OPTIONS:
        return problem("options_many", size=len(item["wrong"]), limit=limits.WRONG_OPTIONS)
    return None


def _row(number: int, topic: str, item: Mapping[str, Any]) -> QuestionRow:
    drawn = DrawnCells(item["values"], item["where"], "", True) if item["values"] else None
    kind, answer, unit = item["kind"], item["answer"], item["unit"] or None
    if kind == "string" and drawn is None:  # a text that is a number or a formula is marked as one
        key = look_at(answer, None)
        kind, answer, unit = key.kind, key.answer, key.unit
    return QuestionRow(
        row=number,
        topic=topic,
        prompt=item["prompt"],
        kind=kind,
        answer=answer,
        alternatives=tuple(item["alternatives"]),
        wrong_options=tuple(item["wrong"]),
        tolerance=next((Tolerance(*one) for one in item["tolerance"]), None),
        unit=unit,
        explanation=item["explanation"] or None,
        why_wrong=tuple(item["why"]),
        drawn=drawn,
        right_place=item["right_place"],
    )


def _topics(items: Sequence[Mapping[str, Any]], known: Collection[str] | None, choices: Choices) -> list[str]:
    """Return the topic of each item: its section or title where that is a topic, else the one that was chosen."""
    spelled = {fold(one): one for one in known or ()}
    found = [spelled.get(fold(one["section"])) or spelled.get(fold(one["title"])) for one in items]
    if not spelled:
        found = [one["section"] or None for one in items]
    open_ones = [item for item, topic in zip(items, found, strict=True) if not topic and not item["left_out"]]
    if not open_ones or "topic" in choices:
        return [one or choices.get("topic", "") for one in found]
    first = open_ones[0]
    asked = problem("topic_for_all", found=first["title"])
    names = list(
        dict.fromkeys(
            [*list(known or ())[-_MOST_TOPICS:], *(one["section"] for one in items if one["section"])]
        )
    )
    options = tuple(PossibleReading("topic", one, label=one) for one in names[:_MOST_TOPICS])
    if not options:
        options = (PossibleReading("topic", first["title"] or "?", label=first["title"] or "?"),)
    raise FileRefused(replace(asked, options=options))
