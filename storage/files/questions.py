"""Question sheets: one self-check question a row, its kind found out and shown before anything is stored."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from dataclasses import replace
from datetime import date

from storage.files.folding import fold
from storage.files.headings import Field, did_you_mean, matches, plain_heading, understand
from storage.files.keys import Key, look_at, read_tolerance, several, two_ways
from storage.files.options import OPTION, OPTIONS, check_bare_key, choose, settle_keys
from storage.files.problem import UNDECIDED, Choices, Phrase, problem
from storage.files.qti.reading import read_qti
from storage.files.question_text import question_list
from storage.files.reading import limits
from storage.files.reading.opened import OpenedFile, opened
from storage.files.reading.sheet import FileRefused
from storage.files.reading.table import read_sheet
from storage.files.rows import Entries, SheetRow
from storage.files.truth import by_letter, opposite
from storage.files.values import DrawnCells, QuestionKind, QuestionRow, QuestionsFile, Reading, Tolerance

FIELDS = (
    Field("topic", ("topic", "lesson", "theme", "thema", "sujet", "tema", "argomento", "onderwerp"), required=True),
    Field(
        "question",
        (
            "question", "questions", "prompt", "text", "task", "frage", "fragen", "aufgabe", "fragetext",
            "enonce", "pregunta", "domanda", "vraag",
        ),
        required=True,
    ),
    Field(
        "answer",
        (
            "answer", "correct answer", "correct", "right answer", "key", "solution", "result", "answer key",
            "correct option", "right option", "correct choice", "right choice", "correct letter",
            "antwort", "losung", "richtig", "richtige antwort", "ergebnis", "richtige option", "losungsbuchstabe",
            "reponse", "bonne reponse", "respuesta", "respuesta correcta", "solucion", "risposta", "antwoord",
            "reponse correcte", "correcta", "opcion correcta", "risposta corretta", "risposta esatta", "corretta",
            "juiste antwoord", "juist",
        ),
        required=True,
    ),
    Field(
        "also accepted",
        (
            "also accepted", "alternatives", "alternative answers", "alternative", "accepted", "synonyms",
            "auch richtig", "alternativen", "aussi accepte", "tambien",
        ),
        several=True,
    ),
    Field(
        "wrong options",
        (
            "wrong options", "wrong option", "wrong", "wrong answers", "wrong answer", "distractors", "distractor",
            "incorrect", "other options", "falsch", "falsche antworten", "falsche antwort", "distraktoren",
            "distraktor", "fausses reponses", "mauvaises reponses", "faux", "opciones incorrectas", "incorrectas",
        ),
        several=True,
    ),
    OPTION,
    OPTIONS,
    Field("tolerance", ("tolerance", "tolerated", "margin", "plus minus", "toleranz", "abweichung", "tolerancia")),
    Field("unit", ("unit", "units", "einheit", "unite", "unidad", "unidades", "unita", "eenheid")),
    Field(
        "explanation",
        (
            "explanation", "explain", "why", "comment", "worked answer", "erklarung", "begrundung", "losungsweg",
            "explication", "explicacion", "spiegazione", "uitleg",
        ),
    ),
    Field("picture", ("picture", "image", "photo", "figure", "bild", "foto", "abbildung", "imagen", "immagine")),
    Field("values", ("values", "drawn values", "drawn", "werte", "gezogene werte", "valeurs", "valores", "valori")),
    Field("where", ("where", "condition", "conditions", "wobei", "bedingung", "bedingungen", "condiciones")),
    Field(
        "typical errors",
        (
            "typical errors", "typical error", "typical wrong answers", "typical mistakes", "wrong formulas",
            "typische fehler", "typischer fehler", "falsche formeln", "erreurs typiques", "errores tipicos",
        ),
        several=True,
    ),
    Field(
        "why wrong",
        (
            "why wrong", "what was wrong", "explanation of wrong options", "explanations of wrong options",
            "warum falsch", "erklarung der falschen", "erklarungen der falschen", "pourquoi faux",
        ),
        several=True,
    ),
    Field(
        "steps",
        (
            "steps", "worked steps", "worked solution", "solution steps", "schritte", "losungsschritte",
            "rechenschritte", "musterlosung", "etapes", "pasos",
        ),
    ),
    Field("rounding", ("rounding", "rounded to", "written as", "runden", "rundung", "geschrieben als")),
    Field("kind", ("kind", "type", "question type", "art", "typ", "fragetyp", "genre", "tipo")),
)  # fmt: skip

KINDS: dict[str, QuestionKind] = {
    **dict.fromkeys(("choice", "multiple choice", "mc", "options", "auswahl", "choix", "opcion"), "choice"),
    **dict.fromkeys(("number", "numeric", "numerical", "value", "zahl", "nombre", "numero"), "number"),
    **dict.fromkeys(("text", "short text", "word", "short answer", "wort", "texte", "mot", "texto"), "text"),
    **dict.fromkeys(("formula", "expression", "equation", "formel", "formule"), "formula"),
}
TRUE_OR_FALSE = {
    plain_heading(name)
    for name in (
        "true/false", "true or false", "tf", "t/f", "truefalse", "yes/no", "wahr/falsch", "wahr oder falsch", "w/f",
        "richtig/falsch", "r/f", "ja/nein", "vrai/faux", "verdadero/falso", "vero/falso", "waar/onwaar",
    )
}  # fmt: skip
"""Kinds of which a sheet names one option and means two."""


TITLE_ROWS = 15
"""Headings are looked for in so many rows; without any, a text may be a list of questions."""

_OUTSIDE = r"(?![^{}]*\})"
"""Bars within braces part nothing: ``{n|apple|apples}`` is one place of a text with drawn values."""


def read_questions(
    data: bytes | OpenedFile,
    name: str,
    *,
    known_topics: Collection[str] | None = None,
    choices: Choices = UNDECIDED,
) -> Reading[QuestionsFile]:
    r"""Read a question sheet.

    Parameters
    ----------
    data : bytes or OpenedFile
        The file: text table, workbook or OpenDocument spreadsheet.
    name : str
        Its name, for messages only.
    known_topics : collection of str, optional
        Topics of the class; a question on another topic is then a problem. None: every topic is taken.
    choices : mapping
        What the teacher has decided where the file was doubtful; see ``problem.Choices``.

    Returns
    -------
    Reading of QuestionsFile
        The good rows, and every problem. Nothing about the file's content raises.

    Notes
    -----
    The kind follows from the row unless a column says it: choice if there are wrong options; number if the answer is
    one, with or without unit; formula if it stands between dollar signs or has variables and operators; else text.
    A row with ``values`` is asked with values drawn anew each time; the kind may then be settled by the grading.
    Several wrong options or further answers stand in columns of their own or in one cell with ``|``, ``;`` or line
    breaks between them. Where columns hold all options (``A``, ``B`` …, ``Option 1`` …), the answer is a letter, a
    number or one of their texts; see ``options``.

    Examples
    --------
    >>> sheet = "topic,question,answer,wrong options\nDensity,270 g in 100 cm³?,2.7 g/cm³,\nForces,Unit?,N,J|W"
    >>> [(row.kind, row.answer, row.unit) for row in read_questions(sheet.encode(), "q.csv").value.questions]
    [('number', '2.7', 'g/cm³'), ('choice', 'N', None)]
    """
    try:
        return _read(data, name, known_topics, choices)
    except FileRefused as refused:
        return Reading(QuestionsFile(), (refused.problem,), name=name)


def _read(
    data: bytes | OpenedFile, name: str, known_topics: Collection[str] | None, choices: Choices
) -> Reading[QuestionsFile]:
    file = opened(data, name)
    if file.content == "qti":
        return read_qti(file, name, known_topics, choices)
    sheet = read_sheet(file, name, Phrase("wanted.questions"), choices)
    listed = None
    if not any(len(matches(row, FIELDS)) > 1 for row in sheet.rows[:TITLE_ROWS]):
        lines = file.lines(choices.get("encoding"))
        listed = question_list(lines, sheet, name, sorted(known_topics or ()), choices)
    sheet, headings = listed or (sheet, understand(sheet, FIELDS, name))
    # No column of a question sheet holds days, so the date for examples in messages is of no account.
    entries = Entries(sheet, headings, date.min, problems=[*sheet.notes, *headings.problems], choices=choices)
    if not entries.count:
        raise FileRefused(problem("rows_none", name=name))
    known = None if known_topics is None else {fold(topic): topic for topic in known_topics}
    comma = _decimal_comma(entries)
    keys = settle_keys(entries, choices)
    answers = [entry.peek("answer") for entry in entries]
    found: dict[tuple[str, str], QuestionRow] = {}
    for entry in entries:
        row = _read_row(entry, known, comma, keys, answers)
        if row is None:
            continue
        twin = found.setdefault((fold(row.topic), fold(row.prompt)), row)
        if twin is not row:
            entry.fail(problem("row_twice", found=row.prompt, other=twin.row))
    questions = QuestionsFile(tuple(found.values()))
    return Reading(questions, entries.sorted_problems(), entries.count, name, sheet.kind, headings.uses)


def _decimal_comma(entries: Entries) -> bool:
    """Whether some answer of the sheet can only mean a decimal comma: then 1,234 does too."""
    answers = [cell for entry in entries if isinstance(cell := entry.cell("answer"), str)]
    return any(re.match(r"[+-]?\d+,(?!\d{3}(?!\d))\d+", answer) for answer in answers)


def _read_row(
    entry: SheetRow, known: dict[str, str] | None, comma: bool, keys: str | None, answers: Sequence[str]
) -> QuestionRow | None:
    """Read one question; None (and problems) if anything is wrong with it."""
    entry.refuse_extra_cells()
    if entry.failed:
        return None
    topic = _topic(entry, known)
    prompt = entry.text("question", Phrase("wanted.question"))
    answer = entry.text("answer", Phrase("wanted.answer"))
    wrong = _wrong_options(entry)
    unit, tolerance_text = entry.text("unit"), entry.text("tolerance")
    explanation, picture = entry.text("explanation"), entry.text("picture")
    kind = _named_kind(entry)
    drawn = _drawn(entry, named=kind is not None)
    errors = [part for cell in entry.texts("typical errors") for part in _split(cell)]
    steps = tuple(_split_lines(entry.text("steps") or ""))
    accepted = [part for cell in entry.texts("also accepted") for part in _split(cell)]
    if entry.failed or topic is None or prompt is None or answer is None:
        return None
    chosen = choose(entry, answer, keys)
    if chosen is None:
        return None
    answer, wrong = chosen[0], [*chosen[1], *wrong]
    if not wrong and not accepted and drawn is None and kind in (None, "choice"):
        answer, wrong = _true_or_false(entry, answer, answers)
    if not chosen[1] and drawn is None:
        check_bare_key(entry, answer, prompt, wrong)
    first, *more = several(answer) if not wrong else [answer]
    key = look_at(first, unit)
    if drawn is not None:
        kind = kind or ("choice" if wrong else "number")
        key = Key("text", first, unit)
        if kind == "choice":
            _check_options(entry, first, wrong)
        else:
            wrong, errors = [], [*wrong, *errors]
    else:
        kind = kind or ("choice" if wrong else key.kind)
        key = _fit(entry, key, kind, first, wrong, unit, comma)
    if kind == "choice":
        wrong, errors = [*wrong, *errors], []
    why = _why_wrong(entry, len(wrong) if kind == "choice" else len(errors))
    tolerance = _tolerance(entry, tolerance_text, kind)
    if entry.failed:
        return None
    return QuestionRow(
        row=entry.number,
        topic=topic,
        prompt=prompt,
        kind=kind,
        answer=key.answer,
        alternatives=tuple(dict.fromkeys([*more, *accepted])) if kind != "choice" else (),
        wrong_options=tuple(wrong) if kind == "choice" else (),
        tolerance=tolerance,
        unit=key.unit if kind == "number" or drawn is not None else None,
        explanation=explanation,
        picture=picture,
        typical_errors=tuple(errors),
        why_wrong=why,
        steps=steps,
        drawn=drawn,
        right_place=chosen[2] if kind == "choice" else 0,
    )


def _true_or_false(entry: SheetRow, answer: str, answers: Sequence[str]) -> tuple[str, list[str]]:
    """Give a question that is true or false its two options; any other answer stays as it is."""
    named = plain_heading(entry.peek("kind")) in TRUE_OR_FALSE
    letters = by_letter(answer) if named else None
    if letters is not None:
        return letters[0], [letters[1]]
    other = opposite(answer, answers, named=named)
    return answer, [] if other is None else [other]


def _drawn(entry: SheetRow, *, named: bool) -> DrawnCells | None:
    """Read what is drawn; None where nothing is, and then nothing may depend on it."""
    values, where, rounding = (entry.text(name) or "" for name in ("values", "where", "rounding"))
    if values:
        return DrawnCells(values, where, rounding, named)
    for name, written in (("where", where), ("rounding", rounding)):
        if written:
            entry.fail(problem("drawn_idle", found=written), name)
    return None


def _split_lines(cell: str) -> list[str]:
    """Cut a cell into its lines; one that has none, where bars stand between blanks."""
    parts = cell.splitlines() if "\n" in cell else re.split(rf" \| {_OUTSIDE}", cell)
    return [part.strip() for part in parts if part.strip()]


def _why_wrong(entry: SheetRow, wrong: int) -> tuple[str, ...]:
    """Read what is said to each wrong answer, in their order; a place between two bars may be empty."""
    columns = entry.columns("why wrong")
    cells = [entry.text_at(column, "why wrong") or "" for column in columns]
    if len(columns) > 1:
        said = [" ".join(cell.split()) for cell in cells]
    else:
        said = [" ".join(part.split()) for cell in cells for part in re.split(rf"[|\n]{_OUTSIDE}", cell)]
    while said and not said[-1]:
        said.pop()
    if len(said) > wrong:
        entry.fail(problem("why_many", found=said[-1], size=len(said), limit=wrong), "why wrong")
    return tuple(said)


def _topic(entry: SheetRow, known: dict[str, str] | None) -> str | None:
    """Read the topic, in the spelling of the class if its topics are known."""
    written = entry.text("topic", Phrase("wanted.the_topic"))
    if written is None or known is None:
        return written
    topic = known.get(fold(written))
    if topic is None:
        entry.fail(
            problem("question_topic", found=written, hint=did_you_mean(written, list(known.values()))),
            "topic",
        )
    return topic


def _named_kind(entry: SheetRow) -> QuestionKind | None:
    """Read the kind column, if there is one and it says something."""
    written = entry.text("kind")
    if written is None:
        return None
    plain = plain_heading(written)
    kind = "choice" if plain in TRUE_OR_FALSE else KINDS.get(plain)
    if kind is None:
        entry.fail(problem("question_kind", found=written, hint=did_you_mean(written, list(KINDS))), "kind")
    return kind


def _split(cell: str) -> list[str]:
    return [part.strip() for part in re.split(rf"[|;\n]{_OUTSIDE}", cell) if part.strip()]


def _wrong_options(entry: SheetRow) -> list[str]:
    """Read all wrong options of a row, noting a cell that may have been meant as several."""
    cells = entry.texts("wrong options")
    options = [part for cell in cells for part in _split(cell)]
    if len(cells) == 1 and len(options) == 1 and ", " in options[0]:
        entry.fail(problem("options_one", found=options[0]), "wrong options")
    if len(options) > limits.WRONG_OPTIONS:
        entry.fail(problem("options_many", size=len(options), limit=limits.WRONG_OPTIONS), "wrong options")
    return options


def _fit(
    entry: SheetRow,
    key: Key,
    kind: QuestionKind,
    answer: str,
    wrong: list[str],
    unit: str | None,
    comma: bool,
) -> Key:
    """Check that the answer fits the kind, and give the key to store."""
    if kind == "choice":
        _check_options(entry, answer, wrong)
        return replace(key, answer=answer)
    if kind == "number":
        return _number_key(entry, key, answer, unit, comma)
    if unit is not None:
        entry.fail(problem("unit_idle", found=unit), "unit")
    if kind == "formula":
        return replace(key, answer=answer.strip("$").strip())
    return replace(key, answer=answer)


def _number_key(entry: SheetRow, key: Key, answer: str, unit: str | None, comma: bool) -> Key:
    """Check the number of a key; a comma before three digits must be settled by the rest of the sheet."""
    if key.kind != "number":
        entry.fail(problem("answer_number", found=answer), "answer")
        return key
    if unit is not None and key.unit is not None and fold(unit) != fold(key.unit):
        entry.fail(problem("unit_twice", found=answer, other=unit), "answer")
    both = two_ways(key.answer)
    if both and not comma:
        entry.fail(problem("number_two_ways", found=key.answer, first=both[0], second=both[1]), "answer")
    return replace(key, answer=both[1]) if both and comma else key


def _check_options(entry: SheetRow, answer: str, wrong: list[str]) -> None:
    """Refuse a choice without wrong options, or with one that equals the answer or another one."""
    if not wrong:
        entry.fail(problem("options_none"), "wrong options")
    seen: dict[str, str | Phrase] = {fold(answer): Phrase("other.answer")}
    for option in wrong:
        if fold(option) in seen:
            entry.fail(problem("options_same", found=option, other=seen[fold(option)]), "wrong options")
        seen.setdefault(fold(option), "another wrong option")


def _tolerance(entry: SheetRow, written: str | None, kind: QuestionKind) -> Tolerance | None:
    """Read the tolerance of a number question; elsewhere it is noted and not used."""
    if written is None:
        return None
    if kind != "number":
        entry.fail(problem("tolerance_idle", found=written), "tolerance")
        return None
    tolerance = read_tolerance(written)
    if tolerance is None:
        entry.fail(problem("tolerance_unread", found=written), "tolerance")
    return tolerance
