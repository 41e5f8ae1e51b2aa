"""What the teacher's conversations ask for, and what comes of it: data only.

Every effect that touches a class names it; the service refuses it for anybody who does not teach that class
(`Refused`). Effects that take long write due work and come back later.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any, ClassVar

from bot.chat.port import Attachment, Rich
from bot.talk.core import Effect, Result


class TeacherResult(Result):
    """A result that the teacher's private conversation takes."""

    __slots__ = ()
    conversation: ClassVar[str] = "teacher"


@dataclass(frozen=True, slots=True)
class Refused(TeacherResult):
    """Something was not done; `why` is a sentence that says what is wrong and what to do.

    `teacher_id` is told in private, when it was said in a class place; None for whoever the step answers.
    """

    why: str
    teacher_id: int | None = None


# ---------------------------------------------------------------- classes and codes


@dataclass(frozen=True, slots=True)
class Welcomed(TeacherResult):
    """A teacher's code was good. `class_name` is set when it was for one class."""

    class_id: int | None = None
    class_name: str = ""


@dataclass(frozen=True, slots=True)
class CreateClass(Effect):
    """Make a class; the speaker becomes its first teacher."""

    name: str
    subject: str
    zone: str
    teacher: str


@dataclass(frozen=True, slots=True)
class ClassCreated(TeacherResult):
    """A class was made, with a code to join it."""

    class_id: int
    name: str


@dataclass(frozen=True, slots=True)
class ShowCode(Effect):
    """Make a code to join a class; `only` takes all earlier ones back."""

    class_id: int
    only: bool = False


@dataclass(frozen=True, slots=True)
class CodeShown(TeacherResult):
    """A code to join a class, its link if the chat has links, and a QR picture of the link or the code."""

    class_id: int
    class_name: str
    code: str
    link: str
    picture: Attachment


@dataclass(frozen=True, slots=True)
class Invite(Effect):
    """Make a single-use code that makes somebody a teacher of a class."""

    class_id: int


@dataclass(frozen=True, slots=True)
class Invited(TeacherResult):
    """The single-use code for another teacher."""

    class_name: str
    code: str


@dataclass(frozen=True, slots=True)
class AskChannelCode(Effect):
    """Make a code that binds the place in which a teacher posts it to a class."""

    class_id: int


@dataclass(frozen=True, slots=True)
class ChannelCode(TeacherResult):
    """The code to post in the channel or group."""

    class_name: str
    code: str


@dataclass(frozen=True, slots=True)
class Unbind(Effect):
    """Let a place no longer belong to a class."""

    class_id: int
    channel_id: int


@dataclass(frozen=True, slots=True)
class Done(TeacherResult):
    """Something small was done. `key` names the text that says so, `values` fill it."""

    key: str
    values: Mapping[str, Any] = field(default_factory=dict)


# ---------------------------------------------------------------- files


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
    """Look at a pending upload again: as another kind, with day and month settled, for a quiz, without renames."""

    upload_id: int
    kind: str = ""
    day_first: bool | None = None
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
class Line:
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
    options : tuple of (str, bool)
        The two readings of doubtful dates: label and whether the day comes first.
    quizzes : tuple of (int, str)
        Which quiz the scores may be of, when the file does not tell.
    usable : bool
        Whether there are rows that can be stored.
    changes : mapping or None
        Numbers of the difference to what the class has; None for a first upload.
    lines : tuple of Line
        The difference row by row.
    unmatched : tuple of Line
        Rows whose student, quiz or topic the class does not have.
    doubtful : bool
        Whether a renamed topic is a guess that the teacher may refuse.
    """

    upload_id: int
    kind: str
    name: str
    rows_read: int
    good_rows: int
    counts: Mapping[str, int]
    problems: tuple[str, ...] = ()
    rows_with_problems: int = 0
    options: tuple[tuple[str, bool], ...] = ()
    quizzes: tuple[tuple[int, str], ...] = ()
    usable: bool = True
    changes: Mapping[str, int] | None = None
    lines: tuple[Line, ...] = ()
    unmatched: tuple[Line, ...] = ()
    doubtful: bool = False


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
    """An upload is in force."""

    kind: str
    name: str
    counts: Mapping[str, int]
    without_questions: int = 0


@dataclass(frozen=True, slots=True)
class ChangesShown(TeacherResult):
    """The difference that a pending timetable makes, or the questions of a sheet, line by line."""

    upload_id: int
    kind: str
    lines: tuple[Line, ...]
    doubtful: bool = False


@dataclass(frozen=True, slots=True)
class Undone(TeacherResult):
    """What was taken back: its name, or None when there was nothing."""

    name: str | None


# ---------------------------------------------------------------- topics


@dataclass(frozen=True, slots=True)
class NoteTopic(Effect):
    """Start a topic, as a topic post says. `questions` are drafts as `bot.talk.teacher.drafts` makes them."""

    class_id: int
    topic: str
    homework: str | None = None
    quiz_day: date | None = None
    questions: tuple[Mapping[str, Any], ...] = ()
    notes: tuple[str, ...] = ()
    choices: tuple[date, ...] = ()
    from_place: bool = False


@dataclass(frozen=True, slots=True)
class TopicNoted(TeacherResult):
    """A topic was started. Told to its teacher in private, wherever it was said.

    Attributes
    ----------
    upload_id : int
        What takes it back.
    teacher_id : int or None
        Who is told; None for whoever the step answers.
    quiz_day : date or None
        The quiz that it will be in.
    asked_from : date or None
        The day on which the first checks go out, when there are questions.
    remind_day : date or None
        When the teacher is reminded of missing questions.
    notes : tuple of str
        Lines that were not understood.
    choices : tuple of date
        Both readings of a quiz date.
    """

    upload_id: int
    class_id: int
    class_name: str
    topic_id: int
    topic: str
    day: date
    quiz_day: date | None
    questions: int
    homework: str
    was_planned: bool
    asked_from: date | None = None
    remind_day: date | None = None
    notes: tuple[str, ...] = ()
    choices: tuple[date, ...] = ()
    teacher_id: int | None = None


@dataclass(frozen=True, slots=True)
class KeepPost(Effect):
    """Keep a message that may be a topic post, and ask its teacher in private."""

    class_id: int
    text: str


@dataclass(frozen=True, slots=True)
class PostKept(TeacherResult):
    """A doubtful topic post waits for the teacher's word."""

    upload_id: int
    class_id: int
    class_name: str
    text: str
    topic: str
    teacher_id: int | None


@dataclass(frozen=True, slots=True)
class SettlePost(Effect):
    """Take a kept message as the topic post that it was after all."""

    upload_id: int


@dataclass(frozen=True, slots=True)
class PostSettled(TeacherResult):
    """The text of a kept message, to be taken as a topic post of a class."""

    class_id: int
    text: str


@dataclass(frozen=True, slots=True)
class TakeBack(Effect):
    """Take an applied change back by its id (a topic post that was none)."""

    upload_id: int


@dataclass(frozen=True, slots=True)
class RenameTopic(Effect):
    """Give a topic another name."""

    class_id: int
    topic_id: int
    name: str


@dataclass(frozen=True, slots=True)
class SetHomeworkText(Effect):
    """Set or clear the homework of a lesson."""

    class_id: int
    lesson_id: int
    text: str


# ---------------------------------------------------------------- questions


@dataclass(frozen=True, slots=True)
class AddQuestion(Effect):
    """Add a question to a topic. `draft` is as `bot.talk.teacher.drafts` makes it."""

    class_id: int
    topic_id: int
    draft: Mapping[str, Any]
    replaces: int | None = None


@dataclass(frozen=True, slots=True)
class AddPicture(Effect):
    """Fetch a picture and add it with a question; comes back as `QuestionAdded` or `Refused`."""

    class_id: int
    topic_id: int
    draft: Mapping[str, Any]
    handle: str


@dataclass(frozen=True, slots=True)
class QuestionAdded(TeacherResult):
    """A question is in use. `shown` says how it was understood; `new` is False when it replaced one."""

    class_id: int
    topic_id: int
    topic: str
    question_id: int
    shown: str
    number: int
    new: bool = True


@dataclass(frozen=True, slots=True)
class ListQuestions(Effect):
    """Look up the questions of a topic."""

    class_id: int
    topic_id: int


@dataclass(frozen=True, slots=True)
class QuestionLine:
    """A question as it is listed."""

    id: int
    prompt: str
    answer: str
    kind: str
    picture: bool
    answers: int


@dataclass(frozen=True, slots=True)
class QuestionsListed(TeacherResult):
    """The questions of a topic."""

    class_id: int
    topic_id: int
    topic: str
    questions: tuple[QuestionLine, ...]


@dataclass(frozen=True, slots=True)
class RetireQuestion(Effect):
    """Stop asking a question."""

    class_id: int
    question_id: int


@dataclass(frozen=True, slots=True)
class FindQuestion(Effect):
    """Look up one question to edit it."""

    class_id: int
    question_id: int


@dataclass(frozen=True, slots=True)
class QuestionFound(TeacherResult):
    """A question to edit, as the line that would make it."""

    class_id: int
    topic_id: int
    topic: str
    question_id: int
    line: str


# ---------------------------------------------------------------- calendar and students


@dataclass(frozen=True, slots=True)
class MarkAbsent(Effect):
    """Note that a student missed a lesson, or that they were there after all."""

    class_id: int
    lesson_id: int
    enrolment_id: int
    absent: bool


@dataclass(frozen=True, slots=True)
class ListHomework(Effect):
    """Look up who did the homework of a lesson."""

    class_id: int
    lesson_id: int


@dataclass(frozen=True, slots=True)
class HomeworkListed(TeacherResult):
    """Students with whether they did the homework (None: nobody said), each with an id."""

    class_id: int
    lesson_id: int
    topic: str
    lines: tuple[tuple[int, str, bool | None], ...]


@dataclass(frozen=True, slots=True)
class SetHomework(Effect):
    """The teacher's word on one student's homework."""

    class_id: int
    lesson_id: int
    enrolment_id: int
    done: bool


@dataclass(frozen=True, slots=True)
class AddHoliday(Effect):
    """Add days without school."""

    class_id: int
    first: date
    last: date
    name: str


@dataclass(frozen=True, slots=True)
class DropHoliday(Effect):
    """Take a holiday away."""

    class_id: int
    holiday_id: int


@dataclass(frozen=True, slots=True)
class MoveQuiz(Effect):
    """Put a quiz on another day."""

    class_id: int
    quiz_id: int
    day: date


@dataclass(frozen=True, slots=True)
class ChangeRules(Effect):
    """Change rules of a class: columns of the class by name."""

    class_id: int
    changes: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class RulesChanged(TeacherResult):
    """The rules are changed; the conversation shows them as they are now."""

    class_id: int


@dataclass(frozen=True, slots=True)
class Permit(Effect):
    """Note the school's permission for a student, or for all who wait."""

    class_id: int
    enrolment_id: int | None


@dataclass(frozen=True, slots=True)
class PermissionCode(Effect):
    """Make a code with which a student's parents give their permission."""

    class_id: int
    enrolment_id: int


@dataclass(frozen=True, slots=True)
class RemoveStudent(Effect):
    """Take a student out of a class."""

    class_id: int
    enrolment_id: int


@dataclass(frozen=True, slots=True)
class RenameStudent(Effect):
    """Call a student something else in a class."""

    class_id: int
    enrolment_id: int
    name: str


# ---------------------------------------------------------------- evidence


@dataclass(frozen=True, slots=True)
class Pull(Effect):
    """Work out something to look at: a kind of `PULLS`; comes back as `Pulled`."""

    class_id: int
    what: str
    options: Mapping[str, Any] = field(default_factory=dict)


PULLS = (
    "report",
    "workbook",
    "forecast",
    "starter",
    "quality",
    "illustration",
    "letters",
    "export",
    "comparison",
    "summary",
)
"""What a teacher can pull."""


@dataclass(frozen=True, slots=True)
class Piece:
    """One message of something pulled: a text and at most one picture or document."""

    text: Rich
    attachment: Attachment | None = None


@dataclass(frozen=True, slots=True)
class Pulled(TeacherResult):
    """What was pulled. `note` is set instead when there is nothing to show, and says why.

    `asked` are the questions of a starter: the teacher can say afterwards how many had each right.
    """

    class_id: int
    class_name: str
    what: str
    pieces: tuple[Piece, ...] = ()
    note: str = ""
    asked: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class CountStarter(Effect):
    """How many had each question of a starter right, as the teacher typed it."""

    class_id: int
    questions: tuple[int, ...]
    text: str


@dataclass(frozen=True, slots=True)
class Share(Effect):
    """Post an aggregated summary to a channel of the class."""

    class_id: int
    channel_id: int
