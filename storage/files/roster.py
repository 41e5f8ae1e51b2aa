"""Class lists: names and, if wanted, the alias that is shown instead. Other columns are neither read nor kept."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from datetime import date

from storage.files.folding import fold
from storage.files.headings import Field, Headings, plain_heading, understand
from storage.files.problem import UNDECIDED, Choices, Phrase, PossibleReading, problem
from storage.files.reading import limits
from storage.files.reading.opened import OpenedFile
from storage.files.reading.sheet import FileRefused, Sheet, filled_rows, shown
from storage.files.reading.table import read_sheet
from storage.files.rows import Entries, SheetRow
from storage.files.values import ColumnUse, Reading, RosterFile, RosterRow

FIELDS = (
    Field(
        "name",
        (
            "name", "student", "pupil", "students", "full name", "display name", "learner", "student name",
            "pupil name", "schuler", "schulerin", "schulername", "schuler in", "eleve", "eleves", "alumno", "alumna",
            "estudiante", "nom complet", "nombre completo", "leerling", "studente", "first last", "vorname name",
            "vorname nachname", "first name last name", "prenom nom",
        ),
    ),
    Field(
        "last, first",
        (
            "last first", "last name first name", "surname first name", "family name given name", "surname forename",
            "name vorname", "nachname vorname", "familienname vorname", "zuname vorname", "nom prenom", "nom et prenom",
            "apellidos nombre", "apellidos y nombre", "cognome nome", "cognome e nome", "achternaam voornaam",
        ),
    ),
    Field(
        "first name",
        (
            "first name", "given name", "givenname", "firstname", "forename", "first", "first names", "given names",
            "vorname", "vornamen", "rufname", "prenom", "prenoms", "nome", "nombre", "nombres", "voornaam",
        ),
    ),
    Field("middle name", ("middle name", "middlename", "middle names", "zweiter vorname", "segundo nombre")),
    Field("name prefix", ("name prefix", "namenszusatz", "namensvorsatz", "tussenvoegsel", "voorvoegsel")),
    Field(
        "last name",
        (
            "last name", "surname", "family name", "familyname", "lastname", "last", "nachname", "familienname",
            "zuname", "nom de famille", "nom", "apellido", "apellidos", "cognome", "achternaam",
        ),
    ),
    Field("alias", ("alias", "nickname", "shown as", "pseudonym", "spitzname", "surnom", "apodo")),
    Field("role", ("role",)),
    Field("status", ("status",)),
    Field("number in the list of users", ("sourcedid",)),
)  # fmt: skip

_STUDENTS = frozenset(["student", "pupil", "learner", "schuler", "schulerin", "eleve", "alumno", "alumna"])
_OTHERS = frozenset(
    [
        "teacher",
        "administrator",
        "aide",
        "parent",
        "guardian",
        "relative",
        "proctor",
        "counselor",
        "principal",
    ]
) | frozenset(
    ["lehrer", "lehrerin", "lehrkraft", "districtadministrator", "siteadministrator", "systemadministrator"]
)
_ACTIVE = frozenset(["", "active", "aktiv", "actif", "active student", "enrolled"])
_TOTAL = re.compile(
    r"(?:total|sum|count|number of students|anzahl|summe|gesamt|insgesamt|nombre|effectif|somme|suma|totale|totaal)"
    r"(?:\s*(?:[:=]|of students|der schuler\w*|schuler\w*|students|pupils)?\s*\d*)?"
)
_WORDS_OF_A_NAME = 6
_NAMES = ("name", "last, first", "first name", "last name")


def read_roster(data: bytes | OpenedFile, name: str, *, choices: Choices = UNDECIDED) -> Reading[RosterFile]:
    r"""Read a class list.

    Parameters
    ----------
    data : bytes or OpenedFile
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
    except FileRefused as refused:
        return Reading(RosterFile(), (refused.problem,), name=name)


def _read(data: bytes | OpenedFile, name: str, choices: Choices) -> Reading[RosterFile]:
    sheet = read_sheet(data, name, Phrase("wanted.list"), choices)
    headings = _headings(sheet, name)
    # No column holds days, so the date for examples in messages is of no account.
    entries = Entries(sheet, headings, date.min, problems=[*sheet.notes, *headings.problems], choices=choices)
    if not entries.count:
        raise FileRefused(problem("rows_none", name=name))
    _ask_who_is_a_student(sheet, headings, name, choices)
    found: dict[str, RosterRow] = {}
    left: Counter[str] = Counter()
    for entry in entries:
        if (reason := _no_student(entry)) is not None:
            left[reason] += 1
            continue
        row = _read_row(entry)
        if row is None:
            continue
        twin = found.setdefault(fold(row.name), row)
        if twin is not row:
            entry.fail(problem("row_twice", found=row.name, other=twin.row))
    entries.problems.extend(problem("people_left", found=reason, size=size) for reason, size in left.items())
    students = RosterFile(tuple(found.values()))
    return Reading(students, entries.sorted_problems(), entries.count, name, sheet.kind, headings.uses)


def _ask_who_is_a_student(sheet: Sheet, headings: Headings, name: str, choices: Choices) -> None:
    """Ask about a list of all users of a school's system that does not say which of them are students.

    References
    ----------
    1EdTech, OneRoster 1.2, CSV binding (2022): ``users.csv`` has givenName, familyName and status; the roles stand in
    a file of their own. In version 1.1 users.csv has a column role.
    """
    users = "number in the list of users" in headings.columns
    if users and "role" not in headings.columns and choices.get("people") != "students":
        asked = problem("people_unclear", name=name)
        raise FileRefused(replace(asked, options=(PossibleReading("people", "students"),)))


def _no_student(entry: SheetRow) -> str | None:
    """Say why a row is of nobody in the class: another role, no longer active; None if it may be a student."""
    role, status = (fold(entry.peek(part)) for part in ("role", "status"))
    if plain_heading(role) in _OTHERS:
        return entry.peek("role")
    return entry.peek("status") if status not in _ACTIVE else None


def _headings(sheet: Sheet, name: str) -> Headings:
    """Understand the headings; a list of one column without one is a list of names."""
    if max(len(row) for row in sheet.rows) == 1:
        number, cells = next(filled_rows(sheet))
        try:
            return understand(sheet, FIELDS, name)
        except FileRefused:
            first = shown(cells[0])
            _refuse_what_is_no_list(sheet, name)
            note = replace(problem("heading_assumed", found=first), row=number)
            return Headings(0, {"name": (0,)}, (ColumnUse("A", "", "name"),), {}, (note,), 1)
    headings = understand(sheet, FIELDS, name)
    if not set(_NAMES) & set(headings.columns):
        also = ", ".join(FIELDS[0].words[1:5])
        raise FileRefused(replace(problem("heading_missing", wanted="name", also=also), row=headings.row))
    return headings


def _refuse_what_is_no_list(sheet: Sheet, name: str) -> None:
    """Refuse a column without heading whose texts are no names: questions, for example."""
    for number, cells in filled_rows(sheet):
        if not _is_name(shown(cells[0])):
            raise FileRefused(replace(problem("list_no_names", name=name, found=shown(cells[0])), row=number))


def _read_row(entry: SheetRow) -> RosterRow | None:
    """Read one student."""
    entry.refuse_extra_cells()
    if entry.failed:
        return None
    role = plain_heading(entry.peek("role"))
    if role and role not in _STUDENTS:
        entry.fail(problem("role_unknown", found=entry.peek("role")), "role")
    whole = _whole_name(entry)
    alias = entry.text("alias", longest=limits.NAME_CHARACTERS)
    if entry.failed:
        return None
    if not whole:
        entry.fail(problem("cell_missing", wanted=Phrase("wanted.name")), _name_field(entry))
        return None
    whole = " ".join(whole.split())
    if _TOTAL.fullmatch(plain_heading(whole)):
        entry.fail(problem("row_total", found=whole), _name_field(entry))
    elif not _is_name(whole):
        entry.fail(problem("name_unlikely", found=whole), _name_field(entry))
    return None if entry.failed else RosterRow(entry.number, whole, alias)


def _is_name(text: str) -> bool:
    """Whether a text can be the name of a person.

    Examples
    --------
    >>> _is_name("Mary-Ann O'Neil"), _is_name("What is the unit of force?"), _is_name("F = m a")
    (True, False, False)
    """
    return (
        any(char.isalpha() for char in text)
        and not re.search(r"[?!=/|;:<>@*+]", text)
        and len(text.split()) <= _WORDS_OF_A_NAME
    )


def _whole_name(entry: SheetRow) -> str:
    """Put the parts of a name together: first name, then family name, whatever their columns are called."""
    name, swapped, first, middle, prefix, last = (
        entry.text(part, longest=limits.NAME_CHARACTERS) or ""
        for part in ("name", "last, first", "first name", "middle name", "name prefix", "last name")
    )
    if entry.failed:
        return ""
    if swapped:
        return _turned(entry, swapped, "last, first")
    name = _turned(entry, name, "name") if "," in name else name
    if name and not last and entry.columns("first name") and not (first and _holds(name, first)):
        last, name = name, ""  # "Name, Vorname": the name is the family name
    elif name and not first and last and not _holds(name, last):
        first, name = name, ""  # "Name, Nachname"
    elif name and first and last and not (_holds(name, first) and _holds(name, last)):
        entry.fail(problem("name_two_ways", found=name, first=f"{first} {last}"), "name")
    both = entry.columns("first name") and (entry.columns("last name") or entry.columns("name"))
    if both and not name and bool(first) != bool(last):
        entry.fail(problem("name_half", found=first or last), "last name" if first else "first name")
    return name or " ".join(part for part in (first, middle, prefix, last) if part)


def _holds(name: str, part: str) -> bool:
    """Whether all words of a part stand in a name."""
    return set(fold(part).split()) <= set(fold(name).split())


def _turned(entry: SheetRow, written: str, field: str) -> str:
    """Turn "Adler, Mira" into "Mira Adler"; without a comma only two words leave no doubt."""
    parts = [part.strip() for part in written.split(",")]
    if len(parts) == 2 and all(parts):
        return f"{parts[1]} {parts[0]}"
    words = written.split()
    if len(parts) == 1 and len(words) == 2 and field == "last, first":
        return f"{words[1]} {words[0]}"
    entry.fail(problem("name_order", found=written), field)
    return written


def _name_field(entry: SheetRow) -> str:
    return next(part for part in _NAMES if entry.columns(part))
