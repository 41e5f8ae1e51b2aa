"""The invented school of the demo: one class, its term, its questions, its teacher.

Everything in it is made up. It is loaded through the same readers and the same functions as a teacher's files.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.resources import files

from bot.service.teacher import upload_reading, uploads
from storage.base.database import Database, Session
from storage.files.questions import read_questions
from storage.files.roster import read_roster
from storage.files.values import QuestionRow
from storage.school import classes, codes, people, timetable
from storage.tables import CodeKind, UploadKind

ZONE = "Europe/London"
CLASS = "9C Physics"
SCHOOL = "Tarn Bridge School"
TEACHER = "teacher"
TEACHER_NAME = "Mr Halloran"
PLATFORM = "terminal"

OPENS = datetime(2026, 9, 4, 15, 0, tzinfo=UTC)
"""The Friday before term: the class is set up and the students join."""

FILES: Sequence[tuple[UploadKind, str]] = (
    (UploadKind.TIMETABLE, "timetable.csv"),
    (UploadKind.QUESTIONS, "questions.csv"),
    (UploadKind.ROSTER, "roster.csv"),
)


@dataclass(frozen=True)
class DemoSchool:
    """What the invented people know.

    Attributes
    ----------
    lessons : tuple of (datetime, str)
        When which topic is taught, in order.
    quizzes : tuple of (datetime, str, tuple of str)
        When which quiz is written, and its topics.
    sheet : mapping of str to QuestionRow
        Questions by their text: what a student would find in the exercise book.
    """

    class_id: int
    code: str
    students: tuple[str, ...]
    lessons: tuple[tuple[datetime, str], ...]
    quizzes: tuple[tuple[datetime, str, tuple[str, ...]], ...]
    sheet: Mapping[str, QuestionRow]

    @property
    def topics(self) -> tuple[str, ...]:
        """Topics in the order in which they are taught."""
        return tuple(dict.fromkeys(topic for _, topic in self.lessons))


def content(name: str) -> bytes:
    """Return one of the demo's files."""
    return files("bot.demo").joinpath(name).read_bytes()


def open_school(db: Database, now: datetime) -> DemoSchool:
    """Set the school up in an empty database, or find it in one that was played before."""
    with db.begin() as session:
        known = classes.open_classes(session)
        class_id = known[0].id if known else _create(session, now)
    assert class_id is not None  # noqa: S101 - it came from the database
    if not known:
        for kind, name in FILES:
            _load(db, class_id, kind, name, now)
    with db.begin() as session:
        code = codes.issue(session, CodeKind.CLASS, now=now, class_id=class_id).text
        lessons = timetable.lessons(session, class_id)
        quizzes = timetable.quizzes(session, class_id)
        topics = {topic.id: topic.name for topic in timetable.topics(session, class_id, now)}
    return DemoSchool(
        class_id,
        code,
        tuple(row.name for row in read_roster(content("roster.csv"), "roster.csv").value.students),
        tuple((lesson.starts_at, topics[lesson.topic_id]) for lesson in lessons),
        tuple((quiz.at, quiz.name, tuple(topics[one] for one in quiz.topics)) for quiz in quizzes),
        {
            row.prompt: row
            for row in read_questions(content("questions.csv"), "questions.csv").value.questions
        },
    )


def _create(session: Session, now: datetime) -> int | None:
    teacher = people.meet(session, PLATFORM, TEACHER, TEACHER, now).person_id
    people.make_staff(session, teacher, TEACHER_NAME, now)
    school_class = classes.create(
        session,
        name=CLASS,
        zone=ZONE,
        teacher_id=teacher,
        teacher_name=TEACHER_NAME,
        now=now,
        subject="Physics",
        # The school is open on five days, as by default. This class is asked on three of them, two questions each:
        # less than its timetable needs, as its papers say, because a term at the default takes half as long again.
        questions_per_nudge=2,
        school_weekdays=[0, 2, 4],
        lesson_hours=[[0, 615, 675], [2, 615, 675], [4, 615, 675]],
    )
    return school_class.id


def _load(db: Database, class_id: int, kind: UploadKind, name: str, now: datetime) -> None:
    with db.begin() as session:
        known = upload_reading.known_class(session, class_id, now)
    prepared = upload_reading.prepare(kind, content(name), name, known)
    if not prepared.usable or prepared.content["good_rows"] < prepared.content["rows_read"]:
        raise ValueError(f"The demo's own {name} has problems: {'; '.join(prepared.problems)}")
    with db.begin() as session:
        uploads.apply(session, uploads.store(session, class_id, prepared, now), now)
