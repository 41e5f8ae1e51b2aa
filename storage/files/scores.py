"""Quiz scores after the quiz: one row per student, or per student and quiz or topic; or one column per quiz."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from datetime import date

from storage.files.folding import fold
from storage.files.headings import Field, Headings, plain_heading, understand
from storage.files.problem import UNDECIDED, Choices, Phrase, PossibleReading, Problem, problem
from storage.files.reading import limits
from storage.files.reading.opened import OpenedFile
from storage.files.reading.sheet import Cell, Fault, FileRefused, shown
from storage.files.reading.table import read_sheet
from storage.files.rows import Entries, SheetRow
from storage.files.values import Reading, ScoreRow, ScoresFile

FIELDS = (
    Field(
        "student",
        (
            "student", "name", "pupil", "learner", "schuler", "schulerin", "schuler in", "schulername",
            "eleve", "nom", "alumno", "alumna", "nombre", "estudiante", "leerling", "studente",
        ),
        required=True,
    ),
    Field("quiz", ("quiz", "test", "exam", "assessment", "klassenarbeit", "klausur", "arbeit", "controle", "prueba")),
    Field("topic", ("topic", "thema", "sujet", "tema", "part", "teil")),
    Field(
        "score",
        (
            "score", "scores", "mark", "marks", "result", "achieved", "punkte", "erreicht", "punktzahl",
            "note sur", "resultat", "puntos", "puntuacion", "nota",
        ),
    ),
    Field(
        "out of",
        (
            "out of", "of", "max", "maximum", "maximum score", "max score", "possible", "von", "max points",
            "maximum points", "maximalpunktzahl", "maximale punkte",
            "hochstpunktzahl", "maximal", "sur", "sobre", "maximo",
        ),
    ),
    Field(
        "total",
        (
            "total", "sum", "total score", "total points", "total marks", "summe", "gesamt", "gesamtpunkte",
            "gesamtpunktzahl", "insgesamt", "somme", "suma", "totale", "totaal", "somma",
        ),
    ),
)  # fmt: skip

# Rows below (or above) the students: common practice, no source. Max is a first name and not among them.
_SUMMARY = re.compile(
    r"(?:class )?(?:total|sum|average|avg|mean|median|maximum|minimum|out of|max points|maximum points|possible|"
    r"summe|gesamt|insgesamt|durchschnitt|mittelwert|schnitt|klassenschnitt|anzahl|maximal|maximale punkte|"
    r"moyenne|somme|promedio|media|suma|gemiddelde|totaal|totale)(?: \d+)?(?: (?:score|points|marks|punkte))?"
)

_ABSENT = {
    "",
    "-",
    "–",
    "—",
    "absent",
    "abs",
    "a",
    "ill",
    "sick",
    "excused",
    "krank",
    "fehlt",
    "entsch",
    "ausente",
    "n/a",
}
_SCORE = re.compile(
    r"(?P<score>-?\d{1,6}(?:[.,]\d{1,4})?)\s*"
    r"(?:(?P<percent>%)|(?:/|of|von|out of|sur)\s*(?P<of>\d{1,6}(?:[.,]\d{1,4})?))?"
)
_HEADING_MAXIMUM = re.compile(
    r"(?:\(\s*(?:max\.?|of|von|/)?\s*|/\s*)(\d{1,4}(?:[.,]\d)?)\s*(?:points?|p|pts|punkte)?\s*\)?\s*$", re.I
)


@dataclass(frozen=True)
class _Score:
    score: float
    out_of: float | None


def read_scores(
    data: bytes | OpenedFile,
    name: str,
    *,
    quiz: str | None = None,
    out_of: float | None = None,
    choices: Choices = UNDECIDED,
) -> Reading[ScoresFile]:
    r"""Read quiz scores.

    Parameters
    ----------
    data : bytes or OpenedFile
        The file: text table, workbook or OpenDocument spreadsheet.
    name : str
        Its name, for messages only.
    quiz : str, optional
        The quiz meant where the sheet names none.
    out_of : float, optional
        The maximum where the sheet names none. [points]
    choices : mapping
        What the teacher has decided where the file was doubtful; see ``problem.Choices``.

    Returns
    -------
    Reading of ScoresFile
        The good rows, and every problem. Empty cells and words such as "absent" give no score. Nothing about the
        file's content raises.

    Notes
    -----
    Without a score column, every column that is none of the others is a quiz of its own: its heading is the name,
    with the maximum behind it if wanted, ``Quiz 1 (20)``.

    Examples
    --------
    >>> read_scores(b"student,score\nMira,17/20\nTom,absent", "s.csv", quiz="Quiz 1").value.scores
    (ScoreRow(row=2, student='Mira', quiz='Quiz 1', topic=None, score=17.0, out_of=20.0),)
    """
    try:
        return _read(data, name, quiz, out_of, choices)
    except FileRefused as refused:
        return Reading(ScoresFile(), (refused.problem,), name=name)


def _read(
    data: bytes | OpenedFile, name: str, quiz: str | None, out_of: float | None, choices: Choices
) -> Reading[ScoresFile]:
    sheet = read_sheet(data, name, Phrase("wanted.scores"), choices)
    headings = understand(sheet, FIELDS, name)
    wide = "score" not in headings.columns
    # No column holds days, so the date for examples in messages is of no account.
    notes = sheet.notes if wide else (*sheet.notes, *headings.problems)
    entries = Entries(sheet, headings, date.min, problems=list(notes), choices=choices)
    if not entries.count:
        raise FileRefused(problem("rows_none", name=name))
    if wide and not _quiz_columns(headings):
        raise FileRefused(
            replace(problem("heading_missing", wanted="score", also="mark, points"), row=headings.row)
        )
    total = _meaning_of_total(entries, wide, choices)
    if total == "asked":
        raise FileRefused(_total_asked(entries))
    if total == "sum":
        entries.add(problem("column_total"), None, headings.columns["total"][0])
    if total == "maximum":
        out = {"out of": headings.columns["total"]}
        entries.headings = replace(headings, columns={**headings.columns, **out})
    found: dict[tuple[str, str, str], ScoreRow] = {}
    for entry in entries:
        if _SUMMARY.fullmatch(plain_heading(entry.peek("student"))):
            entry.fail(problem("row_total", found=entry.peek("student")), "student")
            continue
        for row in _wide_row(entry, out_of) if wide else _long_row(entry, quiz, out_of):
            twin = found.setdefault((fold(row.student), fold(row.quiz), fold(row.topic or "")), row)
            if twin is not row:
                entry.fail(problem("row_twice", found=f"{row.student}, {row.quiz}", other=twin.row))
    uses = tuple(
        replace(use, field=use.field or ("quiz" if wide and use.heading else None)) for use in headings.uses
    )
    return Reading(
        ScoresFile(tuple(found.values())), entries.sorted_problems(), entries.count, name, sheet.kind, uses
    )


def _meaning_of_total(entries: Entries, wide: bool, choices: Choices) -> str | None:
    """Tell whether a column of totals adds the scores up or says out of how many they are.

    Returns
    -------
    {'sum', 'maximum', 'asked', None}
        None without such a column, or beside a column for the maximum.
    """
    if "total" not in entries.headings.columns:
        return None
    if "out of" in entries.headings.columns:
        return "sum"
    if "total" in choices:
        return choices["total"]
    rows = [
        _numbers(entry, wide)
        for entry in entries
        if not _SUMMARY.fullmatch(plain_heading(entry.peek("student")))
    ]
    filled = [(total, scores) for total, scores in rows if total is not None and scores]
    if wide:
        several = any(len(scores) > 1 for _total, scores in filled)
        adds_up = all(abs(total - sum(scores)) < 0.005 for total, scores in filled)
        return "sum" if filled and several and adds_up else "asked"
    constant = len({total for total, _scores in filled}) == 1
    larger = all(total >= max(scores) for total, scores in filled)
    several = len(filled) > 1 or all(total > max(scores) for total, scores in filled)
    return "maximum" if filled and constant and larger and several else "asked"


def _numbers(entry: SheetRow, wide: bool) -> tuple[float | None, list[float]]:
    """Give the total and the scores of a row, as far as they are plain numbers."""
    columns = _quiz_columns(entry.entries.headings) if wide else list(entry.columns("score"))
    cells = [entry.cells[column] for column in columns if column < len(entry.cells)]
    read = [one.score for cell in cells if (one := _parse(cell)) is not None]
    total = _parse(entry.cell("total"))
    return (total.score if total else None), read


def _total_asked(entries: Entries) -> Problem:
    column = entries.headings.columns["total"][0]
    entries.add(problem("total_two_ways", found=entries.headings.heading(column)), None, column)
    return replace(
        entries.problems[-1], options=(PossibleReading("total", "sum"), PossibleReading("total", "maximum"))
    )


def _quiz_columns(headings: Headings) -> list[int]:
    """Give the columns that are none of the known ones: in a wide sheet each is a quiz."""
    return [column for column, use in enumerate(headings.uses) if use.field is None and use.heading]


def _long_row(entry: SheetRow, quiz: str | None, out_of: float | None) -> list[ScoreRow]:
    """Read a row with one score."""
    entry.refuse_extra_cells()
    if entry.failed:
        return []
    student = entry.text("student", Phrase("wanted.student"), limits.NAME_CHARACTERS)
    named, topic = entry.text("quiz") or quiz, entry.text("topic")
    if named is None:
        entry.fail(problem("cell_missing", wanted=Phrase("wanted.quiz")), "quiz")
    maximum = _maximum(entry, out_of)
    score = _score(entry, entry.cell("score"), "score", maximum)
    if entry.failed or student is None or named is None or score is None or score.out_of is None:
        return []
    return [ScoreRow(entry.number, student, named, topic, score.score, score.out_of)]


def _wide_row(entry: SheetRow, out_of: float | None) -> list[ScoreRow]:
    """Read a row with one score for each quiz column."""
    entry.refuse_extra_cells()
    student = (
        entry.text("student", Phrase("wanted.student"), limits.NAME_CHARACTERS) if not entry.failed else None
    )
    topic, rows = entry.text("topic"), []
    for column in _quiz_columns(entry.entries.headings):
        heading = entry.entries.headings.heading(column)
        given = _HEADING_MAXIMUM.search(heading)
        maximum = _amount(given[1]) if given else _maximum(entry, out_of)
        cell = entry.cells[column] if column < len(entry.cells) else None
        score = _score(entry, cell, column, maximum)
        quiz = heading[: given.start()].strip() if given else heading
        if student is not None and score is not None and score.out_of is not None:
            rows.append(ScoreRow(entry.number, student, quiz or heading, topic, score.score, score.out_of))
    return rows


def _maximum(entry: SheetRow, out_of: float | None) -> float | None:
    """Read the maximum of a row, or take the one that was said."""
    cell = entry.cell("out of")
    if cell is None:
        return out_of
    read = _parse(cell)
    if read is None or read.out_of is not None or read.score <= 0:
        entry.fail(problem("score_unread", found=shown(cell)), "out of")
        return None
    return read.score


def _score(entry: SheetRow, cell: Cell, place: str | int, maximum: float | None) -> _Score | None:
    """Read one score; None for an absent student or (with a problem) if it is none."""
    if cell is None or fold(shown(cell)).rstrip(".") in _ABSENT:
        return None
    column = place if isinstance(place, int) else entry.columns(place)[0]
    read = _parse(cell)
    code = "score_unread" if read is None else "score_maximum"
    if isinstance(cell, Fault):
        code = cell.code
    elif isinstance(cell, date):
        code = "cell_became_date"
    limit = (read.out_of if read is not None and read.out_of is not None else maximum) if read else None
    if read is not None and limit is not None:
        if 0 <= read.score <= limit:
            return _Score(read.score, limit)
        code = "score_range"
    shape = {"limit": f"{limit:g}"} if limit is not None else {}
    if code == "cell_long":
        shape = {"size": str(len(shown(cell))), "limit": str(limits.CELL_CHARACTERS)}
    entry.failed = True
    entry.entries.add(problem(code, found=shown(cell), **shape), entry.number, column)
    return None


def _parse(cell: Cell) -> _Score | None:
    """Read 17, 17.5, 17/20 or 85 %."""
    if isinstance(cell, bool) or not isinstance(cell, int | float | str):
        return None
    found = _SCORE.fullmatch(shown(cell).strip())
    if found is None:
        return None
    out_of = 100.0 if found["percent"] else _amount(found["of"]) if found["of"] else None
    return _Score(_amount(found["score"]), out_of) if out_of != 0 else None


def _amount(text: str) -> float:
    return float(text.replace(",", "."))
