"""Any uploaded table to one sheet of typed cells."""

from __future__ import annotations

from storage.files.archive import content_of
from storage.files.child import problem_from_plain, read_in_child
from storage.files.delimited import read_delimited
from storage.files.problem import UNDECIDED, Choices, problem
from storage.files.sheet import Refused, Sheet, from_plain


def read_sheet(data: bytes, name: str, wanted: str, choices: Choices = UNDECIDED) -> Sheet:
    """Read a text table, an Excel workbook or an OpenDocument spreadsheet.

    Parameters
    ----------
    data : bytes
        The file; its content decides what it is.
    name : str
        Its name, for messages only.
    wanted : str
        What the teacher wants to send, for the message when it is a calendar.
    choices : mapping
        What the teacher has decided; see ``problem.Choices``.

    Returns
    -------
    Sheet
        At least one row with something in it.

    Raises
    ------
    Refused
        With the one problem that makes the file unusable, or the question to be answered first.
    """
    kind = content_of(data, name)
    if kind == "ics":
        raise Refused(problem("file_calendar", name=name, wanted=wanted))
    if kind == "csv":
        sheet = read_delimited(data, name, choices.get("encoding"))
    else:
        answer = read_in_child(kind, data, name)
        rows = tuple(tuple(from_plain(cell) for cell in row) for row in answer["rows"])
        sheet = Sheet(kind, rows, tuple(problem_from_plain(note) for note in answer["notes"]))
    if not sheet.rows:
        raise Refused(problem("file_empty", name=name))
    return sheet
