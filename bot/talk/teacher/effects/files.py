"""Files that teachers send."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from bot.talk.core import Effect
from bot.talk.teacher.effects.base import TeacherResult
from bot.teaching.offers import TimetableDose


@dataclass(frozen=True, slots=True)
class ReadFile(Effect):
    """Fetch and read a document; comes back as `FileRead`, `FileUnknown` or `FileFailed`.

    `kind` is empty when the content has to tell. `key` names the message that says it is being read.
    """

    class_id: int
    handle: str
    name: str
    media_type: str
    kind: str
    key: str


@dataclass(frozen=True, slots=True)
class Reread(Effect):
    """Look at a pending upload again: as another kind, with a doubt settled, for a quiz, without renames.

    `choice` is what the doubt is about and the reading chosen: ``("days", "day-first")``.
    """

    upload_id: int
    kind: str = ""
    choice: tuple[str, str] | None = None
    quiz_id: int | None = None
    not_renamed: bool = False


@dataclass(frozen=True, slots=True)
class UseUpload(Effect):
    """Apply a pending upload."""

    upload_id: int


@dataclass(frozen=True, slots=True)
class DropUpload(Effect):
    """Forget a pending upload."""

    upload_id: int


@dataclass(frozen=True, slots=True)
class ShowChanges(Effect):
    """List what a pending upload would change."""

    upload_id: int


@dataclass(frozen=True, slots=True)
class Undo(Effect):
    """Take back what was applied last in a class."""

    class_id: int


@dataclass(frozen=True, slots=True)
class ListLine:
    """A line of a list: the text ``teacher.line.KEY`` with its values (days as dates)."""

    key: str
    values: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Preview:
    """What was read from a file, before anything is stored.

    Attributes
    ----------
    counts : mapping
        How many lessons, quizzes, holidays, questions by kind, students or scores.
    problems : tuple of str
        Every problem as a sentence with row and column.
    rows_with_problems : int
        Rows that need the teacher.
    options : tuple of (str, str, str)
        The readings of what is doubtful: label, what it is about, and the reading.
    quizzes : tuple of (int, str)
        Which quiz the scores may be of, when the file does not tell.
    usable : bool
        Whether there are rows that can be stored.
    changes : mapping or None
        Numbers of the difference to what the class has; None for a first upload.
    lines : tuple of ListLine
        The difference row by row.
    unmatched : tuple of ListLine
        Rows whose student, quiz or topic the class does not have.
    doubtful : bool
        Whether a renamed topic is a guess that the teacher may refuse.
    examples : tuple of str
        Questions with drawn values as students may get them, with their answers.
    unexplained : int
        Wrong options and typical errors that no explanation is given for.
    """

    upload_id: int
    kind: str
    name: str
    rows_read: int
    good_rows: int
    counts: Mapping[str, int]
    problems: tuple[str, ...] = ()
    rows_with_problems: int = 0
    options: tuple[tuple[str, str, str], ...] = ()
    quizzes: tuple[tuple[int, str], ...] = ()
    usable: bool = True
    changes: Mapping[str, int] | None = None
    lines: tuple[ListLine, ...] = ()
    unmatched: tuple[ListLine, ...] = ()
    doubtful: bool = False
    examples: tuple[str, ...] = ()
    unexplained: int = 0


@dataclass(frozen=True, slots=True)
class FileRead(TeacherResult):
    """A file was read; `key` is that of the message to replace."""

    key: str
    preview: Preview


@dataclass(frozen=True, slots=True)
class FileUnknown(TeacherResult):
    """A file was kept, but it may be of several kinds."""

    key: str
    upload_id: int
    name: str


@dataclass(frozen=True, slots=True)
class FileFailed(TeacherResult):
    """A file could not be fetched or read at all; `why` are sentences for the teacher."""

    key: str
    name: str
    why: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class UploadApplied(TeacherResult):
    """An upload is in force.

    Attributes
    ----------
    without_questions, in_bank : int
        Topics that have no questions yet, and topics that the bank has more for; of a timetable only.
    dose : TimetableDose or None
        What a timetable needs; None where there is nothing to say.
    """

    kind: str
    name: str
    counts: Mapping[str, int]
    without_questions: int = 0
    dose: TimetableDose | None = None
    class_id: int = 0
    in_bank: int = 0


@dataclass(frozen=True, slots=True)
class ChangesShown(TeacherResult):
    """The difference that a pending timetable makes, or the questions of a sheet, line by line."""

    upload_id: int
    kind: str
    lines: tuple[ListLine, ...]
    doubtful: bool = False


@dataclass(frozen=True, slots=True)
class Undone(TeacherResult):
    """What was taken back: its name, or None when there was nothing."""

    name: str | None
