"""Any uploaded table to one sheet of typed cells."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from storage.files.problem import UNDECIDED, Choices, Phrase, PossibleReading, problem
from storage.files.reading.opened import OpenedFile, opened
from storage.files.reading.sheet import FileRefused, Sheet, column_letter


def read_sheet(data: bytes | OpenedFile, name: str, wanted: Phrase, choices: Choices = UNDECIDED) -> Sheet:
    """Read a text table, an Excel workbook or an OpenDocument spreadsheet.

    Parameters
    ----------
    data : bytes or OpenedFile
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
    FileRefused
        With the one problem that makes the file unusable, or the question to be answered first.
    """
    file = opened(data, name)
    if file.content == "ics":
        raise FileRefused(problem("file_calendar", name=name, wanted=wanted))
    if file.content == "qti":
        raise FileRefused(problem("file_kind", name=name, kind=Phrase("kind.qti")))
    sheet = _shown(file.sheet(choices.get("encoding")), name, choices.get("hidden"))
    if not any(sheet.rows):
        raise FileRefused(problem("file_empty", name=name))
    return sheet


def _shown(sheet: Sheet, name: str, chosen: str | None) -> Sheet:
    """Leave hidden rows and columns out or in, as the teacher decided; ask if nothing is decided."""
    if not (sheet.hidden_rows or sheet.hidden_columns) or chosen == "read":
        return sheet
    if chosen == "leave":
        return sheet.without_hidden()
    code = "hidden_both" if sheet.hidden_rows and sheet.hidden_columns else "hidden_rows"
    code = code if sheet.hidden_rows else "hidden_columns"
    columns = ", ".join(column_letter(column) for column in sheet.hidden_columns)
    asked = problem(code, name=name, rows=_ranges(sheet.hidden_rows), columns=columns)
    options = (PossibleReading("hidden", "leave"), PossibleReading("hidden", "read"))
    raise FileRefused(replace(asked, options=options))


def _ranges(numbers: Sequence[int]) -> str:
    """Write row numbers shortly.

    Examples
    --------
    >>> _ranges((3, 4, 5, 9))
    '3-5, 9'
    """
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(f"{run[0]}-{run[-1]}" if len(run) > 1 else str(run[0]) for run in runs)
