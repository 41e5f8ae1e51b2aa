"""A paper of a moment that is past: to the byte the one that was made then, whatever came since."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner
from sqlmodel import Session, col, select

from bot.cli.group import holdfast
from bot.evidence.load import read
from bot.evidence.past import as_fitted_then
from bot.grading.keys import TextKey, to_dict
from bot.teaching.memories import build
from storage.asked import nudges
from storage.base.database import Database, connect
from storage.files.values import ScoreRow
from storage.history import class_history
from storage.history.class_history import GivenLesson, Happening, Scored
from storage.privacy import erasure
from storage.school import enrolments, scores
from storage.school.change_journal import Journal
from storage.tables import (
    Answer,
    Enrolment,
    HomeworkReport,
    Lesson,
    Nudge,
    NudgeState,
    Person,
    Question,
    Quiz,
    Review,
    ReviewState,
    Score,
    StarterResult,
    Topic,
    Verdict,
)
from tests.taught import NOW, QUIZ, WRITTEN, fill

HOUR = timedelta(hours=1)
DAY = timedelta(days=1)

PAPERS = (
    ("report", "--week", "2026-W49"),
    ("report", "--week", "2026-W48"),
    ("forecast",),
    ("starter",),
    ("quality",),
    ("comparison",),
    ("illustration",),
    ("letters", "--html"),
    ("progress", "--student", "Amira"),
    ("progress", "--student", "Elif"),
)


@pytest.fixture
def school(sqlite_template: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Database]:
    """A class of six as of `NOW`: the evening's nudges are out, nobody has answered them yet."""
    path = tmp_path / "school.db"
    shutil.copy(sqlite_template, path)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("HOLDFAST_DATABASE_URL", f"sqlite:///{path}")
    monkeypatch.setenv("HOLDFAST_DATA_DIR", str(tmp_path / "data"))
    database = connect(f"sqlite:///{path}")
    with database.begin() as session:
        fill(session)
        for student in range(1, 7):
            _nudge(session, student, NOW - HOUR, number=2)
            last = select(Answer.at).where(Answer.enrolment_id == student).order_by(col(Answer.at).desc())
            session.get_one(Enrolment, student).last_answer_at = session.exec(last).first()
        session.get_one(Lesson, 1).homework = "Page 12"
        session.add(HomeworkReport(lesson_id=1, enrolment_id=1, done=True, at=NOW - DAY))
        session.add(StarterResult(class_id=1, question_id=1, asked=6, right=4, at=NOW - DAY))
    yield database
    database.close()


def _nudge(session: Session, student: int, at: datetime, number: int = 1) -> None:
    row = Nudge(
        enrolment_id=student, day=at.date(), number=number, state=NudgeState.STARTED, due_at=at,
        sent_at=at, expires_at=at + 2 * DAY,
    )  # fmt: skip
    session.add(row)
    session.flush()
    for position, topic in ((1, 1), (2, 2)):
        shown = position == 1
        session.add(
            Review(
                nudge_id=row.id or 0, enrolment_id=student, topic_id=topic, position=position, predicted=0.6,
                state=ReviewState.OPEN if shown else ReviewState.PLANNED, planned_at=at,
                question_id=2 * topic if shown else None, asked_at=at if shown else None,
            )
        )  # fmt: skip
    session.flush()


def _papers(folder: str) -> dict[str, bytes]:
    """Make every paper as of `NOW`; return the bytes of each."""
    moment = f"{NOW:%Y-%m-%dT%H:%M}"
    for place, words in enumerate(PAPERS):
        out = f"{folder}/{place}"
        result = CliRunner().invoke(
            holdfast, [*words, "--class", "10b", "--out", out, "--as-of", moment], catch_exceptions=False
        )
        assert result.exit_code == 0, (words, result.output)
    root = Path(folder)
    return {str(path.relative_to(root)): path.read_bytes() for path in root.rglob("*") if path.is_file()}


def _later_answers(session: Session) -> None:
    """What was open is answered or goes by; new questions are asked and answered."""
    for review in session.exec(select(Review).where(Review.state == ReviewState.OPEN)):
        review.state, review.closed_at = ReviewState.ANSWERED, NOW + HOUR
        session.add(
            Answer(
                review_id=review.id or 0, enrolment_id=review.enrolment_id, topic_id=review.topic_id,
                question_id=review.question_id or 0, verdict=Verdict.RIGHT, option=0, chance=1 / 3,
                on_time=True, at=NOW + HOUR, taken_s=9.0,
            )
        )  # fmt: skip
    for review in session.exec(select(Review).where(Review.state == ReviewState.PLANNED)):
        review.question_id, review.asked_at = 3, NOW + HOUR
    session.flush()
    for row in session.exec(select(Nudge).where(Nudge.state == NudgeState.STARTED)).all():
        nudges.close(session, row.id or 0, NudgeState.EXPIRED, NOW + 2 * HOUR)
    for student in range(1, 7):
        _nudge(session, student, NOW + DAY)
        session.get_one(Enrolment, student).last_answer_at = NOW + DAY


def _later_scores(session: Session) -> None:
    coming = session.exec(select(Quiz.id).where(Quiz.at == QUIZ)).one()
    for student in range(1, 7):
        session.add(Score(quiz_id=coming or 0, enrolment_id=student, reached=1, out_of=4, at=NOW + 8 * DAY))
    session.add(Score(quiz_id=1, enrolment_id=1, topic_id=3, reached=0, out_of=4, at=NOW + DAY))
    session.add(StarterResult(class_id=1, question_id=5, asked=6, right=0, at=NOW + 3 * DAY))
    for student in range(1, 7):
        if student != 1:
            session.add(HomeworkReport(lesson_id=1, enrolment_id=student, done=True, at=NOW + DAY))


def _later_people(session: Session) -> None:
    """One leaves, one pauses after a further nudge, one joins from outside."""
    enrolments.leave(session, 2, NOW + DAY)
    enrolments.pause(session, 3)
    person = Person(created_at=NOW + DAY)
    session.add(person)
    session.flush()
    enrolments.join(session, 1, person.id or 0, "Zoë", NOW + DAY)


def _later_timetable(session: Session) -> None:
    """A topic, a lesson and a date are dropped; a question is retired, others are added."""
    session.get_one(Topic, 3).dropped_at = NOW + DAY
    session.get_one(Lesson, 2).dropped_at = NOW + DAY
    session.get_one(Quiz, 2).dropped_at = NOW + DAY
    session.get_one(Question, 1).retired_at = NOW + DAY
    key = to_dict(TextKey(("new",)))
    session.add(Question(topic_id=1, kind="text", prompt="New?", answer=key, created_at=NOW + DAY))
    session.flush()


CHANGES = {
    "answers": (_later_answers,),
    "scores": (_later_scores,),
    "people": (_later_answers, _later_people),
    "timetable": (_later_timetable,),
    "everything": (_later_answers, _later_scores, _later_people, _later_timetable),
}


@pytest.mark.parametrize("changes", CHANGES.values(), ids=CHANGES)
def test_f26_a_paper_of_a_past_moment_is_the_one_made_then_to_the_byte(
    school: Database, changes: tuple[Callable[[Session], None], ...]
) -> None:
    then = _papers("then")
    with school.begin() as session:
        for change in changes:
            change(session)
    later = _papers("later")
    assert sorted(later) == sorted(then)
    assert [name for name in then if then[name] != later[name]] == []


def test_f26_the_story_has_nothing_that_came_later(school: Database) -> None:
    with school.begin() as session:
        for change in (_later_answers, _later_scores, _later_people):
            change(session)
        told = class_history.of_class(session, 1, NOW)
    assert told.students == (1, 2, 3, 4, 5, 6)
    later: list[Happening] = [one for one in told.happenings if one.at > NOW]
    assert later == []
    assert {one.at for one in told.happenings if isinstance(one, Scored)} == {WRITTEN}
    assert max(one.at for one in told.happenings if isinstance(one, GivenLesson)) <= NOW


def test_f26_a_fit_made_later_is_not_used_but_made_anew_from_what_was_known(school: Database) -> None:
    with school.begin() as session:
        known = build(class_history.of_class(session, 1, NOW)).parameters.to_dict()
        told = {**known, "slip": 0.29}
        class_history.keep_fit(session, 1, told, 200, NOW + DAY)
        then = as_fitted_then(read(session, 1, NOW))
        after = as_fitted_then(read(session, 1, NOW + 2 * DAY))
    assert after.story.parameters == told
    assert then.story.parameters is not None
    assert then.story.parameters["slip"] != 0.29
    assert then.story.fitted_at is not None
    assert then.story.fitted_at < NOW
    with school.begin() as session:
        _later_answers(session)
        _later_scores(session)
        again = as_fitted_then(read(session, 1, NOW))
    assert again.story.parameters == then.story.parameters


def test_f26_before_there_were_answers_enough_there_was_no_fit(school: Database) -> None:
    early = NOW - 30 * DAY
    with school.begin() as session:
        class_history.keep_fit(
            session, 1, build(class_history.of_class(session, 1, NOW)).parameters.to_dict(), 200, NOW
        )
        assert as_fitted_then(read(session, 1, early)).story.parameters is None


def test_f26_a_corrected_score_is_none_of_before_its_correction(school: Database) -> None:
    with school.begin() as session:
        row = session.exec(select(Score).where(Score.quiz_id == 1, Score.enrolment_id == 1)).first()
        assert row is not None
        assert row.topic_id is not None
        name = session.get_one(Topic, row.topic_id).name
        corrected = ScoreRow(1, "Amira", "Forces 1", name, 3.5, 4.0)
        matched = scores.match(session, 1, [corrected])
        assert matched.rows
        scores.apply(Journal(session), matched, NOW + DAY)
        before = read(session, 1, NOW).scores[1]
        after = read(session, 1, NOW + DAY).scores[1]
    assert len(after) == len(before) + 1


def test_f26_who_was_erased_is_gone_from_the_past_too(school: Database) -> None:
    with school.begin() as session:
        person = session.get_one(Enrolment, 4).person_id
        erasure.erase_person(session, person or 0, NOW + DAY)
        found = read(session, 1, NOW)
    assert [row.name for row in found.rows.students] == ["Amira", "Ben", "Cora", "Elif", "Farid"]
    assert {row.student_id for row in found.asked} == {1, 2, 3, 5, 6}
