"""What a file holds and what a teacher has to decide about it, before anything is stored.

``holdfast import --check --json`` prints it for scripts. That form is read by programs outside and does not change.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

import click

from bot.service.teacher import upload_reading, uploads
from bot.service.teacher.upload_reading import ANY_QUIZ, PreparedUpload
from bot.talk.teacher.effects import ListLine, Preview
from bot.words import Words
from bot.words.problems import label, sentence
from storage.base.database import Session
from storage.files.problem import Choices
from storage.files.truth import is_true_or_false
from storage.files.values import QuestionRow, QuestionsFile, RosterFile, ScoresFile, TimetableFile

Severity = Literal["error", "note"]

QUIZ, RENAMED = "quiz", "renamed"
"""What is asked about a file and a class together; everything else is asked about the file alone."""


@dataclass(frozen=True)
class FoundProblem:
    """A problem of a file: row and column as the spreadsheet shows them, a sentence, and whether rows are lost."""

    row: int | None
    column: str | None
    text: str
    severity: Severity


@dataclass(frozen=True)
class Decision:
    """Something that is never guessed, and the answers to it: (what about, what to choose, how it is shown)."""

    text: str
    options: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True)
class FileCheck:
    """A file held against a class.

    Attributes
    ----------
    rows : tuple of mapping
        The rows that can be stored, in the order of the file, as plain values.
    asks : tuple of Decision
        What the teacher has to decide first.
    problems : tuple of FoundProblem
        Everything else that was found.
    preview : Preview
        What storing it would change.
    """

    kind: str
    name: str
    rows: tuple[Mapping[str, Any], ...]
    asks: tuple[Decision, ...]
    problems: tuple[FoundProblem, ...]
    preview: Preview

    @property
    def ready(self) -> bool:
        """Whether it can be stored as it is, without a decision and without a row left out."""
        return bool(self.rows) and not self.asks and not any(one.severity == "error" for one in self.problems)

    def as_data(self, *, stored: bool = False) -> dict[str, Any]:
        """Return it as plain values for JSON."""
        return {
            "kind": self.kind,
            "file": self.name,
            "stored": stored,
            "rows": [dict(one) for one in self.rows],
            "asks": [
                {
                    "ask": one.text,
                    "options": [f"{about}={chosen} ({shown})" for about, chosen, shown in one.options],
                }
                for one in self.asks
            ],
            "problems": [
                {"row": one.row, "column": one.column, "text": one.text, "severity": one.severity}
                for one in self.problems
            ],
        }


def check(
    session: Session,
    class_id: int,
    prepared: PreparedUpload,
    now: datetime,
    words: Words,
    decided: Choices,
) -> FileCheck:
    """Hold a file that was read against its class; nothing is written.

    Parameters
    ----------
    session : Session
        An open transaction; it may be one that only reads.
    class_id : int
        The class that the file is for.
    prepared : PreparedUpload
        The file as it was read.
    now : datetime
        The present moment.
    words : Words
        In which language to say what was found.
    decided : mapping of str to str
        What the teacher has decided about file and class: `QUIZ` is a quiz's id, `RENAMED` is ``yes`` or ``no``.

    Raises
    ------
    click.BadParameter
        A decision that is none.
    NotFound
        The quiz is none of the class.
    """
    chosen = settled(session, class_id, prepared, now, decided)
    preview = uploads.outlook(session, class_id, prepared, now, **chosen)
    return FileCheck(
        prepared.kind.value,
        prepared.name,
        tuple(rows_of(prepared)) if prepared.usable else (),
        (*_doubts(prepared, words), *_class_doubts(preview, words, decided)),
        (*_problems(prepared, words), *_unmatched(preview, words)),
        preview,
    )


def settled(
    session: Session, class_id: int, prepared: PreparedUpload, now: datetime, decided: Choices
) -> dict[str, Any]:
    """Return what was decided about file and class as `uploads.outlook` takes it."""
    chosen: dict[str, Any] = {}
    if QUIZ in decided:
        if not decided[QUIZ].isdigit():
            raise click.BadParameter("write quiz= and the number that is shown.", param_hint="--choose")
        chosen["quiz_id"] = int(decided[QUIZ])
    if RENAMED in decided:
        if decided[RENAMED] not in ("yes", "no"):
            raise click.BadParameter(f"write {RENAMED}=yes or {RENAMED}=no.", param_hint="--choose")
        if decided[RENAMED] == "no":
            first = uploads.outlook(session, class_id, prepared, now)
            guesses = (one.values for one in first.lines if one.key == "guessed")
            chosen["not_renamed"] = [(one["before"], one["after"]) for one in guesses]
    return chosen


# ---------------------------------------------------------------- what is doubtful


def _doubts(prepared: PreparedUpload, words: Words) -> Iterator[Decision]:
    """Yield what the file alone leaves open."""
    for one in prepared.reading.questions if prepared.reading else ():
        if one.options:
            options = tuple((option.about, option.chosen, label(option, words)) for option in one.options)
            yield Decision(sentence(one, words), options)


def _class_doubts(preview: Preview, words: Words, decided: Choices) -> Iterator[Decision]:
    """Yield what only the class leaves open: which quiz, and whether a topic was renamed."""
    if preview.quizzes:
        options = tuple((QUIZ, str(quiz_id), shown) for quiz_id, shown in preview.quizzes)
        yield Decision(words.text("teacher.which_quiz"), options)
    if preview.doubtful and RENAMED not in decided:
        guesses = [_said(one, words) for one in preview.lines if one.key == "guessed"]
        answers = ((RENAMED, "yes", "the same topic"), (RENAMED, "no", "two topics"))
        yield Decision("; ".join(guesses), answers)


def _problems(prepared: PreparedUpload, words: Words) -> Iterator[FoundProblem]:
    """Yield what the file alone has; a doubt that can be decided is none of them."""
    if prepared.reading is None:
        return
    for one in prepared.reading.problems:
        if one.level == "question" and one.options:
            continue
        severity: Severity = "note" if upload_reading.is_mere_note(one) else "error"
        yield FoundProblem(one.row, one.column, sentence(one, words), severity)
    letters = {use.field: use.letter for use in prepared.reading.columns if use.field}
    for one_row in prepared.refused_rows:
        column = letters.get(one_row.column, one_row.column)
        yield FoundProblem(one_row.row, column, one_row.sentence, "error")
    if isinstance(prepared.reading.value, QuestionsFile):
        for question in prepared.reading.value.questions:
            if question.picture:
                text = words.text("file.picture", row=question.row, picture=question.picture)
                yield FoundProblem(question.row, letters.get("picture"), text, "error")


def _unmatched(preview: Preview, words: Words) -> Iterator[FoundProblem]:
    """Yield the rows whose student or topic the class does not have: nothing is stored of them."""
    for one in preview.unmatched:
        text = f"{_said(one, words)}. Nothing of this row can be stored."
        yield FoundProblem(one.values.get("row"), None, text, "error")


def _said(line: ListLine, words: Words) -> str:
    return words.text(f"teacher.line.{line.key}", **line.values)


# ---------------------------------------------------------------- the rows


def rows_of(prepared: PreparedUpload) -> Sequence[Mapping[str, Any]]:
    """Return the rows of a usable file as plain values, in the order of the file."""
    assert prepared.reading is not None  # noqa: S101 - a usable file was read
    value = prepared.reading.value
    refused = {one.row for one in prepared.refused_rows}
    return _ROWS[type(value)](value, refused)


def _timetable_rows(file: TimetableFile, _refused: set[int]) -> list[Mapping[str, Any]]:
    rows: list[tuple[int, Mapping[str, Any]]] = [
        *(
            (
                one.row,
                {
                    "type": "lesson",
                    "day": one.day.isoformat(),
                    "start": None if one.start is None else f"{one.start:%H:%M}",
                    "topic": one.topic,
                },
            )
            for one in file.lessons
        ),
        *(
            (one.row, {"type": "quiz", "day": one.day.isoformat(), "name": one.name, "kind": one.kind})
            for one in file.quizzes
        ),
        *(
            (
                one.row,
                {
                    "type": "holiday",
                    "first": one.first_day.isoformat(),
                    "last": one.last_day.isoformat(),
                    "name": one.name,
                },
            )
            for one in file.holidays
        ),
    ]
    return [row for _, row in sorted(rows, key=lambda one: one[0])]


def _question_rows(file: QuestionsFile, refused: set[int]) -> list[Mapping[str, Any]]:
    return [
        {
            "topic": one.topic,
            "question": one.prompt,
            "kind": _kind(one),
            "answers": [one.answer, *one.alternatives],
            "wrong": list(one.wrong_options),
            "unit": one.unit,
        }
        for one in file.questions
        if one.row not in refused
    ]


def _kind(row: QuestionRow) -> str:
    """Name the kind of a question; a choice between true and false has a name of its own here."""
    return "truefalse" if is_true_or_false([row.answer, *row.wrong_options]) else row.kind


def _roster_rows(file: RosterFile, _refused: set[int]) -> list[Mapping[str, Any]]:
    return [{"name": one.alias or one.name} for one in file.students]


def _score_rows(file: ScoresFile, _refused: set[int]) -> list[Mapping[str, Any]]:
    return [
        {
            "student": one.student,
            "quiz": None if one.quiz == ANY_QUIZ else one.quiz,
            "topic": one.topic,
            "score": one.score,
            "out_of": one.out_of,
        }
        for one in file.scores
    ]


_ROWS: Mapping[type, Callable[[Any, set[int]], Sequence[Mapping[str, Any]]]] = {
    TimetableFile: _timetable_rows,
    QuestionsFile: _question_rows,
    RosterFile: _roster_rows,
    ScoresFile: _score_rows,
}
