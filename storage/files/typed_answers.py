"""Typed answers to try a question sheet with: one a row, with the question that it answers."""

from __future__ import annotations

from datetime import date

from storage.files.headings import Field, understand
from storage.files.problem import UNDECIDED, Choices, Phrase, problem
from storage.files.reading.opened import OpenedFile
from storage.files.reading.sheet import FileRefused
from storage.files.reading.table import read_sheet
from storage.files.rows import Entries
from storage.files.values import Reading, TypedAnswer, TypedAnswersFile

FIELDS = (
    Field("topic", ("topic", "thema")),
    Field("question", ("question", "prompt", "frage", "aufgabe"), required=True),
    Field(
        "answer", ("answer", "typed", "given", "typed answer", "antwort", "eingabe", "getippt"), required=True
    ),
)


def read_typed_answers(
    data: bytes | OpenedFile, name: str, *, choices: Choices = UNDECIDED
) -> Reading[TypedAnswersFile]:
    r"""Read a file of typed answers.

    Parameters
    ----------
    data : bytes or OpenedFile
        The file: text table, workbook or OpenDocument spreadsheet.
    name : str
        Its name, for messages only.
    choices : mapping
        What was decided where the file was doubtful; see ``problem.Choices``.

    Returns
    -------
    Reading of TypedAnswersFile
        An empty answer is one, too. Nothing about the file's content raises.

    Examples
    --------
    >>> file = b"question,answer\nUnit of force?,its newton\nUnit of force?,"
    >>> [row.answer for row in read_typed_answers(file, "typed.csv").value.answers]
    ['its newton', '']
    """
    try:
        sheet = read_sheet(data, name, Phrase("wanted.answers"), choices)
        headings = understand(sheet, FIELDS, name)
        # No column holds days, so the date for examples in messages is of no account.
        entries = Entries(
            sheet, headings, date.min, problems=[*sheet.notes, *headings.problems], choices=choices
        )
        if not entries.count:
            raise FileRefused(problem("rows_none", name=name))
    except FileRefused as refused:
        return Reading(TypedAnswersFile(), (refused.problem,), name=name)
    answers: list[TypedAnswer] = []
    for entry in entries:
        entry.refuse_extra_cells()
        question = entry.text("question", Phrase("wanted.question"))
        answer, topic = entry.text("answer") or "", entry.text("topic") or ""
        if question is not None and not entry.failed:
            answers.append(TypedAnswer(entry.number, question, answer, topic))
    problems = entries.sorted_problems()
    return Reading(TypedAnswersFile(tuple(answers)), problems, entries.count, name, sheet.kind, headings.uses)
