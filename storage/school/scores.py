"""Quiz scores: a file of them becomes rows of students, quizzes and topics that the class has."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session, select

from storage.files.values import ScoreRow
from storage.school.change_journal import Journal
from storage.school.enrolments import fold, roster
from storage.school.timetable import quizzes
from storage.tables import Quiz, Score, StarterResult, Topic


@dataclass(frozen=True)
class ScoreMatch:
    """Which rows of a file fit the class.

    Attributes
    ----------
    rows : tuple of (ScoreRow, int, int, int or None)
        Rows with the ids of enrolment, quiz and topic (None: the whole quiz).
    students, quizzes, topics : tuple of (int, str)
        Row and name of what the class does not have, or has twice.
    """

    rows: tuple[tuple[ScoreRow, int, int, int | None], ...] = ()
    students: tuple[tuple[int, str], ...] = ()
    quizzes: tuple[tuple[int, str], ...] = ()
    topics: tuple[tuple[int, str], ...] = ()


@dataclass(frozen=True)
class ScoreChange:
    """What applying scores came to, in numbers of scores."""

    added: int = 0
    changed: int = 0
    same: int = 0


def match(
    session: Session, class_id: int, rows: Sequence[ScoreRow], *, quiz_id: int | None = None
) -> ScoreMatch:
    """Find the student, quiz and topic of every row.

    A quiz is meant by its name or its day (``2026-12-11``); `quiz_id` says it for rows that name none
    that the class has. A name that
    two students share fits neither: nobody gets somebody else's score.
    """
    students = _once([(fold(who.name), who.id) for who in roster(session, class_id)])
    topics = _once(
        [(fold(t.name), t.id) for t in session.exec(select(Topic).where(Topic.class_id == class_id))]
    )
    known = quizzes(session, class_id)
    tests = _once(
        [(fold(q.name), q.id) for q in known if q.name] + [(q.day.isoformat(), q.id) for q in known]
    )
    good: list[tuple[ScoreRow, int, int, int | None]] = []
    lost: dict[str, list[tuple[int, str]]] = {"students": [], "quizzes": [], "topics": []}
    for row in rows:
        student, quiz = students.get(fold(row.student)), tests.get(fold(row.quiz), quiz_id)
        topic = None if row.topic is None else topics.get(fold(row.topic))
        if student is None:
            lost["students"].append((row.row, row.student))
        elif quiz is None:
            lost["quizzes"].append((row.row, row.quiz))
        elif row.topic is not None and topic is None:
            lost["topics"].append((row.row, row.topic))
        else:
            good.append((row, student, quiz, topic))
    return ScoreMatch(tuple(good), *(tuple(lost[name]) for name in ("students", "quizzes", "topics")))


def compare(session: Session, matched: ScoreMatch) -> ScoreChange:
    """Say what `apply` would do, without doing it."""
    known = _known(session, {quiz for _, _, quiz, _ in matched.rows})
    added = changed = same = 0
    for key, row in _last_of_each(matched).items():
        old = known.get(key)
        if old is None:
            added += 1
        elif (old.reached, old.out_of) == (row.score, row.out_of):
            same += 1
        else:
            changed += 1
    return ScoreChange(added, changed, same)


def apply(journal: Journal, matched: ScoreMatch, now: datetime) -> ScoreChange:
    """Store the scores; a second file corrects the first."""
    change = compare(journal.session, matched)
    known = _known(journal.session, {quiz for _, _, quiz, _ in matched.rows})
    for (student, quiz, topic), row in _last_of_each(matched).items():
        old = known.get((student, quiz, topic))
        if old is not None:
            # Its moment moves with it: a paper of before the correction must not know the new figure.
            if (old.reached, old.out_of) != (row.score, row.out_of):
                journal.change(old, reached=row.score, out_of=row.out_of, at=now)
        else:
            journal.add(
                Score(
                    quiz_id=quiz,
                    enrolment_id=student,
                    topic_id=topic,
                    reached=row.score,
                    out_of=row.out_of,
                    at=now,
                )
            )
    return change


def add_starter(
    session: Session,
    class_id: int,
    questions: Sequence[int],
    right: Sequence[int],
    present: int,
    now: datetime,
) -> None:
    """Keep how many of those present had each question of a starter right."""
    for question_id, count in zip(questions, right, strict=True):
        session.add(
            StarterResult(class_id=class_id, question_id=question_id, asked=present, right=count, at=now)
        )
    session.flush()


def quiz_name(session: Session, quiz_id: int) -> str:
    """Return what a quiz is called; empty when it has no name."""
    quiz = session.get(Quiz, quiz_id)
    return "" if quiz is None else quiz.name


Key = tuple[int, int, int | None]


def _last_of_each(matched: ScoreMatch) -> dict[Key, ScoreRow]:
    return {(student, quiz, topic): row for row, student, quiz, topic in matched.rows}


def _known(session: Session, quiz_ids: set[int]) -> Mapping[Key, Score]:
    found: dict[Key, Score] = {}
    for quiz_id in quiz_ids:
        for row in session.exec(select(Score).where(Score.quiz_id == quiz_id)):
            found[(row.enrolment_id, row.quiz_id, row.topic_id)] = row
    return found


def _once(pairs: Sequence[tuple[str, int | None]]) -> dict[str, int]:
    """Keep the names that stand for exactly one row."""
    seen: dict[str, set[int]] = {}
    for name, number in pairs:
        if number is not None:
            seen.setdefault(name, set()).add(number)
    return {name: next(iter(ids)) for name, ids in seen.items() if len(ids) == 1}
