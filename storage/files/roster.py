"""Class lists: names and, if wanted, the alias that is shown instead. Other columns are neither read nor kept."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from storage.files import limits
from storage.files.headings import Field, Headings, understand
from storage.files.problem import UNDECIDED, Choices, problem
from storage.files.rows import Entries, Entry, fold
from storage.files.sheet import Refused, Sheet, filled_rows, shown
from storage.files.table import read_sheet
from storage.files.values import ColumnUse, Reading, RosterFile, RosterRow

FIELDS = (
    Field(
        "name",
        (
            "name", "student", "pupil", "students", "full name", "display name", "learner",
            "schuler", "schulerin", "schulername", "schuler in", "eleve", "eleves", "alumno", "alumna", "nombre",
            "estudiante", "nom complet", "nombre completo", "leerling", "studente",
        ),
    ),
    Field("first name", ("first name", "given name", "forename", "vorname", "rufname", "prenom", "nome", "voornaam")),
    Field(
        "last name",
        ("last name", "surname", "family name", "nachname", "familienname", "nom de famille", "nom",
         "apellido", "apellidos", "cognome", "achternaam"),
    ),
    Field("alias", ("alias", "nickname", "shown as", "pseudonym", "spitzname", "surnom", "apodo")),
)  # fmt: skip


def read_roster(data: bytes, name: str, *, choices: Choices = UNDECIDED) -> Reading[RosterFile]:
    r"""Read a class list.

    Parameters
    ----------
    data : bytes
        The file: text table, workbook or OpenDocument spreadsheet.
    name : str
        Its name, for messages only.
    choices : mapping
        What the teacher has decided where the file was doubtful; see ``problem.Choices``.

    Returns
    -------
    Reading of RosterFile
        The good rows, and every problem. A list of one column needs no heading. First and last names in two columns
        are joined. Nothing about the file's content raises.

    Examples
    --------
    >>> [row.name for row in read_roster(b"Vorname;Nachname\nMira;Adler\nTom;Berg", "10b.csv").value.students]
    ['Mira Adler', 'Tom Berg']
    """
    try:
        return _read(data, name, choices)
    except Refused as refused:
        return Reading(RosterFile(), (refused.problem,), name=name)


def _read(data: bytes, name: str, choices: Choices) -> Reading[RosterFile]:
    sheet = read_sheet(data, name, "a class list", choices)
    headings = _headings(sheet, name)
    # No column holds days, so the date for examples in messages is of no account.
    entries = Entries(sheet, headings, date.min, problems=[*sheet.notes, *headings.problems])
    if not entries.count:
        raise Refused(problem("rows_none", name=name))
    found: dict[str, RosterRow] = {}
    for entry in entries:
        row = _read_row(entry)
        if row is None:
            continue
        twin = found.setdefault(fold(row.name), row)
        if twin is not row:
            entry.fail(problem("row_twice", found=row.name, other=twin.row))
    students = RosterFile(tuple(found.values()))
    return Reading(students, entries.sorted_problems(), entries.count, name, sheet.kind, headings.uses)


def _headings(sheet: Sheet, name: str) -> Headings:
    """Understand the headings; a list of one column without one is a list of names."""
    if max(len(row) for row in sheet.rows) == 1:
        number, cells = next(filled_rows(sheet))
        try:
            return understand(sheet, FIELDS, name)
        except Refused:
            first = shown(cells[0])
            note = replace(problem("heading_assumed", found=first), row=number)
            return Headings(0, {"name": (0,)}, (ColumnUse("A", "", "name"),), {}, (note,), 1)
    headings = understand(sheet, FIELDS, name)
    if not {"name", "first name", "last name"} & set(headings.columns):
        also = ", ".join(FIELDS[0].words[1:5])
        raise Refused(replace(problem("heading_missing", wanted="name", also=also), row=headings.row))
    return headings


def _read_row(entry: Entry) -> RosterRow | None:
    """Read one student."""
    entry.refuse_extra_cells()
    if entry.failed:
        return None
    parts = [entry.text(part, longest=limits.NAME_CHARACTERS) for part in ("name", "first name", "last name")]
    alias = entry.text("alias", longest=limits.NAME_CHARACTERS)
    if entry.failed:
        return None
    whole = parts[0] or " ".join(part for part in parts[1:] if part)
    if not whole:
        entry.fail(problem("cell_missing", wanted="a name"), _name_field(entry))
        return None
    return RosterRow(entry.number, " ".join(whole.split()), alias)


def _name_field(entry: Entry) -> str:
    return next(part for part in ("name", "first name", "last name") if entry.columns(part))
