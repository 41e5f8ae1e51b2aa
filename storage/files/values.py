"""What the readers of uploaded files give back: plain values and every problem found.

These types are the contract between the file readers and everyone else. They hold no bytes, no library
objects and no database rows, and they compare by value.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, time
from typing import Generic, Literal, TypeVar

from storage.files.problem import Problem
from storage.values import HolidayInfo, QuizKind

QuestionKind = Literal["choice", "number", "text", "formula"]
FileKind = Literal["csv", "xlsx", "xls", "ods", "odt", "ics", "docx", "html", "pdf", "qti", "unknown"]


@dataclass(frozen=True)
class LessonRow:
    """A lesson: one topic on one day. Times are local to the class.

    ``row`` is its row in the file; of one that is stored already, the number that storage knows it by. The same holds
    for quizzes and holidays.
    """

    row: int
    topic: str
    day: date
    start: time | None = None
    end: time | None = None
    homework: str | None = None


@dataclass(frozen=True)
class QuizRow:
    """A quiz or exam; ``topics`` is None when it covers those taught since the last one.

    It is no `storage.values.QuizInfo`: its topics are words or not named at all, and its time may be missing.
    """

    row: int
    name: str
    day: date
    start: time | None = None
    topics: tuple[str, ...] | None = None
    kind: QuizKind = "quiz"


@dataclass(frozen=True)
class HolidayRow:
    """Days without school, both ends included.

    It is no `storage.values.HolidayInfo`: its number says where it stands in the file, for problems and differences.
    """

    row: int
    first_day: date
    last_day: date
    name: str


@dataclass(frozen=True)
class KnownSchoolDays:
    """On which days a class has school, as far as that is known besides a file.

    Attributes
    ----------
    weekdays : frozenset of int
        Weekdays with school, Monday 0; every one where nothing is known.
    holidays : tuple of HolidayInfo
        Days without school that stay whatever the file says.
    """

    weekdays: frozenset[int] = frozenset(range(7))
    holidays: tuple[HolidayInfo, ...] = ()


@dataclass(frozen=True)
class TimetableFile:
    """A timetable: the rows that could be read, in the order of the file, or what is stored."""

    lessons: tuple[LessonRow, ...] = ()
    quizzes: tuple[QuizRow, ...] = ()
    holidays: tuple[HolidayRow, ...] = ()

    def __len__(self) -> int:
        return len(self.lessons) + len(self.quizzes) + len(self.holidays)


@dataclass(frozen=True)
class Tolerance:
    """How far a number may be off: an amount in the answer's unit, or a share of the answer (0.05 = 5 %)."""

    amount: float
    relative: bool = False


@dataclass(frozen=True)
class DrawnCells:
    """What a question has whose values are drawn anew for every student: read, not yet tried.

    Attributes
    ----------
    values, where : str
        What is drawn, and the conditions.
    rounding : str
        How the answer is written.
    kind_named : bool
        Whether the sheet says the kind, or it follows from the row.
    """

    values: str
    where: str = ""
    rounding: str = ""
    kind_named: bool = False


@dataclass(frozen=True)
class QuestionRow:
    """A self-check question with its key, as written by the teacher (grading checks the key again).

    Attributes
    ----------
    typical_errors : tuple of str
        Wrong answers to what is no choice.
    why_wrong : tuple of str
        What to say to each wrong option, else to each typical error; "" for nothing. Never more than there are.
    steps : tuple of str
        The worked solution.
    right_place : int
        Place of the right option of a choice among all of them, as the file has them; 0 where it has none.
    """

    row: int
    topic: str
    prompt: str
    kind: QuestionKind
    answer: str
    alternatives: tuple[str, ...] = ()
    wrong_options: tuple[str, ...] = ()
    tolerance: Tolerance | None = None
    unit: str | None = None
    explanation: str | None = None
    picture: str | None = None
    typical_errors: tuple[str, ...] = ()
    why_wrong: tuple[str, ...] = ()
    steps: tuple[str, ...] = ()
    drawn: DrawnCells | None = None
    right_place: int = 0


@dataclass(frozen=True)
class QuestionsFile:
    """The rows of a question sheet that could be read, in the order of the file."""

    questions: tuple[QuestionRow, ...] = ()

    def __len__(self) -> int:
        return len(self.questions)


@dataclass(frozen=True)
class RosterRow:
    """A student's name, and the alias the class shall see instead, if any."""

    row: int
    name: str
    alias: str | None = None


@dataclass(frozen=True)
class RosterFile:
    """The students of a class list that could be read."""

    students: tuple[RosterRow, ...] = ()

    def __len__(self) -> int:
        return len(self.students)


@dataclass(frozen=True)
class ScoreRow:
    """Points of one student in one quiz, for the whole quiz (``topic`` None) or one topic of it."""

    row: int
    student: str
    quiz: str
    topic: str | None
    score: float
    out_of: float


@dataclass(frozen=True)
class ScoresFile:
    """The quiz scores that could be read."""

    scores: tuple[ScoreRow, ...] = ()

    def __len__(self) -> int:
        return len(self.scores)


@dataclass(frozen=True)
class TypedAnswer:
    """What somebody typed as the answer to a question; `topic` is empty where the file names none."""

    row: int
    question: str
    answer: str
    topic: str = ""


@dataclass(frozen=True)
class TypedAnswersFile:
    """The typed answers that could be read, in the order of the file."""

    answers: tuple[TypedAnswer, ...] = ()

    def __len__(self) -> int:
        return len(self.answers)


T = TypeVar("T", bound=TimetableFile | QuestionsFile | RosterFile | ScoresFile | TypedAnswersFile)


@dataclass(frozen=True)
class ColumnUse:
    """How a column was understood: letter, heading in the file, and the field it fills (None: not read)."""

    letter: str
    heading: str
    field: str | None


@dataclass(frozen=True)
class Reading(Generic[T]):
    """What reading a file gave: the good rows and every problem.

    Attributes
    ----------
    value : TimetableFile, QuestionsFile, RosterFile, ScoresFile or TypedAnswersFile
        The rows that can be used as they are. Empty if the file as a whole was refused.
    problems : tuple of Problem
        Everything found, in the order of the file; notes included.
    rows_read : int
        Rows with anything in them, below the headings (in a calendar: events).
    name : str
        Name of the file, for messages only (never used as a path).
    kind : {'csv', 'xlsx', 'xls', 'ods', 'odt', 'ics', 'docx', 'html', 'pdf', 'qti', 'unknown'}
        What the content turned out to be.
    columns : tuple of ColumnUse
        How each column was understood; empty for a calendar.
    """

    value: T
    problems: tuple[Problem, ...] = ()
    rows_read: int = 0
    name: str = ""
    kind: FileKind = "unknown"
    columns: tuple[ColumnUse, ...] = ()

    @property
    def refused(self) -> bool:
        """Whether nothing of the file can be used."""
        return any(one.level == "file" for one in self.problems)

    @property
    def usable(self) -> bool:
        """Whether there are good rows that the teacher may choose to store."""
        return not self.refused and len(self.value) > 0

    @property
    def clean(self) -> bool:
        """Whether the file can be stored as it is: usable, and at most notes."""
        return self.usable and not self.faults and not self.questions

    @property
    def faults(self) -> tuple[Problem, ...]:
        """Problems that cost the file or a row."""
        return tuple(one for one in self.problems if one.level in ("file", "row"))

    @property
    def questions(self) -> tuple[Problem, ...]:
        """Doubts that the teacher can settle by a choice; see ``Problem.options``."""
        return tuple(one for one in self.problems if one.level == "question")

    @property
    def notes(self) -> tuple[Problem, ...]:
        """Remarks on how something was understood; nothing is lost."""
        return tuple(one for one in self.problems if one.level == "note")

    @property
    def rows_with_problems(self) -> tuple[int, ...]:
        """Rows that need the teacher, each once, in order."""
        rows = {one.row for one in self.faults if one.row is not None}
        return tuple(sorted(rows | {row for one in self.questions for row in one.rows}))
