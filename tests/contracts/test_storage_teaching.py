"""Timetables, questions, scores, channels and uploads: applied as a difference, taken back exactly."""

from __future__ import annotations

from datetime import date, time, timedelta
from typing import Any

import pytest
import sqlalchemy as sa
from sqlmodel import Session, SQLModel, select

from storage.base import blobs
from storage.base.database import Database
from storage.base.errors import InvalidValue, NotFound
from storage.files.values import HolidayRow, LessonRow, QuizRow, ScoreRow, TimetableFile
from storage.school import channels, enrolments, questions, scores, timetable, timetable_change, uploads
from storage.school.change_journal import Journal
from storage.school.questions import QuestionDraft
from storage.tables import (
    Absence,
    Answer,
    Enrolment,
    Holiday,
    Lesson,
    Nudge,
    Question,
    Quiz,
    QuizTopic,
    Review,
    SchoolClass,
    Topic,
    UploadKind,
    UploadState,
    Verdict,
)
from tests.contracts.storage_school import NOW, later, school_class, student

MONDAY = date(2026, 9, 7)


def day(number: int) -> date:
    return MONDAY + timedelta(days=number)


def lesson(topic: str, number: int, **more: Any) -> LessonRow:
    return LessonRow(2, topic, day(number), **more)


FIRST = TimetableFile(
    lessons=(lesson("Springs", 0), lesson("Density", 2, start=time(9)), lesson("Moments", 7)),
    quizzes=(QuizRow(5, "Quiz 1", day(11)),),
    holidays=(HolidayRow(6, day(40), day(45), "half-term"),),
)


def use(session: Session, group: SchoolClass, file: TimetableFile, **more: Any) -> Journal:
    journal = Journal(session)
    timetable_change.apply(journal, group, timetable_change.change(session, group, file, **more), NOW)
    return journal


def seen(session: Session, group: SchoolClass) -> tuple[Any, ...]:
    """Everything of a timetable that anybody can see."""
    class_id = group.id or 0
    names = {one.id: one.name for one in timetable.topics(session, class_id, NOW)}
    return (
        [
            (one.topic, one.starts_at, one.ends_at, one.homework)
            for one in timetable.lessons(session, class_id)
        ],
        [
            (one.name, one.kind, one.at, sorted(names[topic] for topic in one.topics))
            for one in timetable.quizzes(session, class_id)
        ],
        [(one.name, one.first_day, one.last_day) for one in timetable.holidays(session, class_id)],
        sorted(names.values()),
        [(one.topic, one.prompt, one.answer) for one in questions.of_class(session, class_id)],
    )


def draft(topic: str, prompt: str, answer: str = "x", **more: Any) -> QuestionDraft:
    return QuestionDraft(
        topic, "text", prompt, {"kind": "text", "answers": [answer], "wrong": [], "typos": True}, **more
    )


# ---------------------------------------------------------------- timetables


def test_a_first_timetable_is_stored_with_local_times_and_covered_topics(db: Database):
    with db.begin() as session:
        group = school_class(session)
        use(session, group, FIRST)
        found = timetable.lessons(session, group.id or 0)
        assert [one.day for one in found] == [day(0), day(2), day(7)]
        assert found[1].starts_at.isoformat() == "2026-09-09T08:00:00+00:00"  # 09:00 in London's summer
        (quiz,) = timetable.quizzes(session, group.id or 0)
        assert len(quiz.topics) == 3
        assert timetable.topics(session, group.id or 0, NOW)[0].quiz_at == quiz.at


def test_the_same_timetable_again_changes_no_row(db: Database):
    with db.begin() as session:
        group = school_class(session)
        use(session, group, FIRST)
        assert timetable_change.change(session, group, FIRST).difference.nothing
        assert len(use(session, group, FIRST)) == 0


@pytest.mark.parametrize(
    "second",
    [
        TimetableFile(),
        TimetableFile(lessons=(lesson("Springs", 1), lesson("Density", 2, start=time(10), homework="p. 3"))),
        TimetableFile(lessons=(lesson("Hooke's law", 0), lesson("Density", 2), lesson("Levers", 9))),
        # Two names change places.
        TimetableFile(lessons=(lesson("Density", 0), lesson("Springs", 2), lesson("Moments", 7))),
        TimetableFile(
            lessons=FIRST.lessons,
            quizzes=(
                QuizRow(5, "Quiz 1", day(12), topics=("Springs",)),
                QuizRow(6, "Exam", day(60), kind="exam"),
            ),
            holidays=(HolidayRow(6, day(41), day(45), "autumn"), HolidayRow(7, day(80), day(80), "inset")),
        ),
    ],
)
def test_any_second_timetable_is_taken_back_exactly(db: Database, second: TimetableFile):
    with db.begin() as session:
        group = school_class(session)
        use(session, group, FIRST)
        questions.apply(
            Journal(session), group.id or 0, [draft("Springs", "What?"), draft("Moments", "How?")], NOW
        )
        before = seen(session, group)
        upload = uploads.store(session, group.id or 0, UploadKind.TIMETABLE, "t.csv", {"x": 1}, NOW)
        journal = use(session, group, second)
        uploads.applied(session, upload, journal, NOW)
        assert {one[0] for one in seen(session, group)[0]} == {one.topic for one in second.lessons}
        assert uploads.undo(session, upload, later(days=1))
        assert seen(session, group) == before
        assert not uploads.undo(session, upload, later(days=1))


def test_a_renamed_topic_keeps_its_questions(db: Database):
    with db.begin() as session:
        group = school_class(session)
        use(session, group, FIRST)
        questions.apply(Journal(session), group.id or 0, [draft("Springs", "What?")], NOW)
        renamed = TimetableFile(
            lessons=(lesson("Springs in use", 0), *FIRST.lessons[1:]), quizzes=FIRST.quizzes
        )
        use(session, group, renamed)
        assert [one.topic for one in questions.of_class(session, group.id or 0)] == ["Springs in use"]


def test_a_topic_that_questions_were_sent_for_before_its_lesson_is_the_same_topic(db: Database):
    with db.begin() as session:
        group = school_class(session)
        questions.apply(Journal(session), group.id or 0, [draft("springs", "What?")], NOW)
        use(session, group, FIRST)
        assert len(session.exec(select(Topic)).all()) == 3
        timetable.teach(Journal(session), group, "Hooke's law", NOW)
        questions.apply(Journal(session), group.id or 0, [draft("Hooke’s  law", "Which?")], NOW)
        assert len(session.exec(select(Topic)).all()) == 4
        assert timetable.topics(session, group.id or 0, NOW)[0].questions == 1


def test_a_rename_onto_a_topic_without_lessons_brings_its_questions_together(db: Database):
    with db.begin() as session:
        group = school_class(session)
        use(session, group, FIRST)
        questions.apply(
            Journal(session), group.id or 0, [draft("Springs", "What?"), draft("Springs law", "Which?")], NOW
        )
        before = seen(session, group)
        journal = use(session, group, TimetableFile(lessons=(lesson("Springs law", 0), *FIRST.lessons[1:])))
        found = questions.of_class(session, group.id or 0)
        assert {(one.topic, one.prompt) for one in found} == {
            ("Springs law", "What?"),
            ("Springs law", "Which?"),
        }
        upload = uploads.record(journal, group.id or 0, UploadKind.TIMETABLE, "t.csv", NOW)
        uploads.undo(session, upload, NOW)
        assert seen(session, group) == before


def test_a_lesson_at_noon_is_told_from_one_without_a_time(db: Database):
    file = TimetableFile(lessons=(lesson("Springs", 0), lesson("Density", 0, start=time(12))))
    with db.begin() as session:
        group = school_class(session)
        use(session, group, file)
        known = {one.topic: one.start for one in timetable_change.known(session, group).lessons}
        assert known == {"Springs": None, "Density": time(12)}


def test_a_topic_taught_by_hand_joins_the_next_quiz_and_survives_a_new_file(db: Database):
    with db.begin() as session:
        group = school_class(session)
        use(session, group, FIRST)
        journal = Journal(session)
        taught = timetable.teach(journal, group, "Optics", later(days=7), homework="p. 1")
        uploads.record(journal, group.id or 0, UploadKind.TIMETABLE, "topic Optics", NOW)
        assert taught.quiz is not None
        assert taught.quiz.name == "Quiz 1"
        assert not taught.was_planned
        use(session, group, FIRST)
        assert "Optics" in [one.topic for one in timetable.lessons(session, group.id or 0)]
        assert [len(one.topics) for one in timetable.quizzes(session, group.id or 0)] == [4]


def test_a_topic_taught_on_its_planned_day_is_the_planned_lesson(db: Database):
    with db.begin() as session:
        group = school_class(session)
        use(session, group, FIRST)
        at = timetable.moment(day(0), time(15), "Europe/London")
        taught = timetable.teach(Journal(session), group, "springs", at, homework="p. 4")
        assert taught.was_planned
        assert len(timetable.lessons(session, group.id or 0)) == 3
        assert timetable.lessons(session, group.id or 0)[0].homework == "p. 4"


def test_rows_of_another_class_are_not_found(db: Database):
    with db.begin() as session:
        mine, other = school_class(session), school_class(session, "9A", "brown")
        use(session, mine, FIRST)
        (quiz,) = timetable.quizzes(session, mine.id or 0)
        first = timetable.lessons(session, mine.id or 0)[0]
        holiday = timetable.holidays(session, mine.id or 0)[0]
        journal, theirs = Journal(session), other.id or 0
        with pytest.raises(NotFound):
            timetable.move_quiz(journal, theirs, quiz.id, day(20))
        with pytest.raises(NotFound):
            timetable.drop_holiday(journal, theirs, holiday.id)
        with pytest.raises(NotFound):
            timetable.lesson_of(session, theirs, first.id)
        with pytest.raises(NotFound):
            timetable.rename_topic(journal, theirs, first.topic_id, "X")
        with pytest.raises(NotFound):
            timetable.set_absent(journal, theirs, first.id, 1, True)
        assert len(journal) == 0


def test_a_holiday_has_to_end_after_it_begins_and_is_no_year(db: Database):
    with db.begin() as session:
        class_id = school_class(session).id or 0
        journal = Journal(session)
        with pytest.raises(InvalidValue, match="holiday_order"):
            timetable.add_holiday(journal, class_id, day(2), day(1), "")
        with pytest.raises(InvalidValue, match="holiday_long, most=120"):
            timetable.add_holiday(journal, class_id, day(0), day(200), "")
        assert timetable.add_holiday(journal, class_id, day(0), day(5), "x")
        assert not timetable.add_holiday(journal, class_id, day(1), day(2), "y")


def test_a_topics_new_name_must_be_free(db: Database):
    with db.begin() as session:
        group = school_class(session)
        use(session, group, FIRST)
        first = timetable.topics(session, group.id or 0, NOW)[0]
        with pytest.raises(InvalidValue, match="topic_taken, name=density"):
            timetable.rename_topic(Journal(session), group.id or 0, first.id, "density")
        assert timetable.rename_topic(Journal(session), group.id or 0, first.id, "SPRINGS").name == "SPRINGS"


def test_a_whole_school_year_is_applied_with_few_queries(db: Database):
    year = TimetableFile(lessons=tuple(lesson(f"Topic {number}", number) for number in range(200)))
    sheet = [draft(f"topic {number % 200}", f"Question {number}?") for number in range(800)]
    said: list[str] = []
    with db.begin() as session:
        group = school_class(session)
        db.before_statement = said.append
        use(session, group, year)
        questions.apply(Journal(session), group.id or 0, sheet, NOW)
        db.before_statement = None
        assert len(timetable.topics(session, group.id or 0, NOW)) == 200
    # One query per lesson, topic or question would be more than a thousand.
    assert sum(1 for statement in said if statement.startswith("SELECT")) < 40


# ---------------------------------------------------------------- questions


def answer(session: Session, who: Enrolment, question: Question) -> None:
    nudge = Nudge(enrolment_id=who.id or 0, day=MONDAY, due_at=NOW, expires_at=NOW)
    session.add(nudge)
    session.flush()
    review = Review(
        nudge_id=nudge.id or 0,
        enrolment_id=who.id or 0,
        topic_id=question.topic_id,
        question_id=question.id,
        position=1,
        planned_at=NOW,
    )
    session.add(review)
    session.flush()
    session.add(
        Answer(
            review_id=review.id or 0,
            enrolment_id=who.id or 0,
            topic_id=question.topic_id,
            question_id=question.id or 0,
            verdict=Verdict.RIGHT,
            chance=0.0,
            on_time=True,
            at=NOW,
        )
    )
    session.flush()


def test_a_sheet_sent_again_is_a_difference_and_never_a_duplicate(db: Database):
    with db.begin() as session:
        class_id = school_class(session).id or 0
        sheet = [draft("Springs", "What?"), draft("Density", "How much?")]
        assert questions.apply(Journal(session), class_id, sheet, NOW).added == 2
        again = [draft("springs", "what?"), draft("Density", "How much?", "y"), draft("Density", "Why?")]
        change = questions.apply(Journal(session), class_id, again, NOW)
        assert (change.added, change.changed, change.same) == (1, 1, 1)
        assert len(questions.of_class(session, class_id)) == 3


def test_an_answered_question_is_replaced_and_an_unanswered_one_changed(db: Database):
    with db.begin() as session:
        group = school_class(session)
        class_id = group.id or 0
        questions.apply(
            Journal(session), class_id, [draft("Springs", "What?"), draft("Springs", "Why?")], NOW
        )
        first, second = (questions.row(session, one.id) for one in questions.of_class(session, class_id))
        answer(session, student(session, group, "Mira"), first)
        new = questions.replace(Journal(session), first, draft("Springs", "What?", "better"), NOW)
        same = questions.replace(Journal(session), second, draft("Springs", "Why?", "better"), NOW)
        assert new.id != first.id
        assert first.retired_at == NOW
        assert same.id == second.id
        assert [one.answers for one in questions.of_class(session, class_id)] == [0, 0]


def test_a_question_of_another_class_cannot_be_retired(db: Database):
    with db.begin() as session:
        mine, other = school_class(session), school_class(session, "9A", "brown")
        questions.apply(Journal(session), mine.id or 0, [draft("Springs", "What?")], NOW)
        (one,) = questions.of_class(session, mine.id or 0)
        with pytest.raises(NotFound):
            questions.retire(Journal(session), other.id or 0, one.id, NOW)


# ---------------------------------------------------------------- scores


def test_scores_go_to_the_one_student_of_that_name(db: Database):
    with db.begin() as session:
        group = school_class(session)
        class_id = group.id or 0
        use(session, group, FIRST)
        for name in ("Mira", "Tom"):
            student(session, group, name)
        enrolments.add_to_roster(session, class_id, ["Ada B"], NOW)
        enrolments.rename(session, enrolments.roster(session, class_id)[2].id or 0, "Mira")
        rows = [
            ScoreRow(2, "mira", "Quiz 1", None, 17, 20),
            ScoreRow(3, "Ada B", "quiz 1", None, 11, 20),
            ScoreRow(4, "Ada B", day(11).isoformat(), "density", 3, 5),
            ScoreRow(5, "Ada B", "Quiz 9", None, 3, 5),
            ScoreRow(6, "Ada B", "Quiz 1", "Optics", 3, 5),
        ]
        found = scores.match(session, class_id, rows)
        assert [row.row for row, *_ in found.rows] == [3, 4]
        assert found.students == ((2, "mira"),)  # two are called Mira: nobody gets it
        assert found.quizzes == ((5, "Quiz 9"),)
        assert found.topics == ((6, "Optics"),)
        assert scores.apply(Journal(session), found, NOW).added == 2
        assert scores.apply(Journal(session), found, NOW).same == 2


# ---------------------------------------------------------------- channels


def test_a_place_belongs_to_one_class(db: Database):
    with db.begin() as session:
        first, second = school_class(session), school_class(session, "9A", "brown")
        channels.bind(session, first.id or 0, "telegram", "-100", NOW, title="10B")
        channels.bind(session, second.id or 0, "telegram", "-100", NOW)
        bound = channels.find(session, "telegram", "-100")
        assert bound is not None
        assert bound.class_id == second.id
        assert channels.of_class(session, first.id or 0) == []
        assert channels.find(session, "matrix", "-100") is None


def test_a_lost_place_comes_back_with_its_class(db: Database):
    with db.begin() as session:
        class_id = school_class(session).id or 0
        row = channels.bind(session, class_id, "telegram", "-100", NOW)
        assert channels.allow(session, "telegram", "-100", False) is not None
        assert channels.lost(session, "telegram", "-100", NOW) is not None
        assert channels.find(session, "telegram", "-100") is None
        assert channels.back(session, "telegram", "-100") is not None
        assert [one.can_write for one in channels.of_class(session, class_id)] == [True]
        moved = channels.move(session, "telegram", "-100", "-200")
        assert moved is not None
        assert moved.address == "-200"
        assert channels.lost(session, "telegram", "-200", NOW) is not None
        assert channels.move(session, "telegram", "-200", "-300") is not None
        assert channels.find(session, "telegram", "-300") is not None, "who moved is there"
        assert channels.unbind(session, class_id, row.id or 0)
        assert not channels.unbind(session, class_id, row.id or 0)


# ---------------------------------------------------------------- the journal


def test_undo_keeps_what_was_changed_later_elsewhere(db: Database):
    with db.begin() as session:
        group = school_class(session)
        journal = use(session, group, FIRST)
        upload = uploads.record(journal, group.id or 0, UploadKind.TIMETABLE, "t.csv", NOW)
        second = Journal(session)
        timetable.add_holiday(second, group.id or 0, day(90), day(91), "later")
        uploads.undo(session, upload, NOW)
        assert [one.name for one in timetable.holidays(session, group.id or 0)] == ["later"]


def test_undo_of_a_roster_leaves_those_who_joined_meanwhile(db: Database):
    with db.begin() as session:
        group = school_class(session)
        journal = Journal(session)
        for name in ("Mira", "Tom"):
            journal.add(Enrolment(class_id=group.id or 0, name=name, joined_at=NOW))
        upload = uploads.record(journal, group.id or 0, UploadKind.ROSTER, "list.csv", NOW)
        joined = enrolments.roster(session, group.id or 0)[0]
        joined.person_id = student(session, school_class(session, "9A", "brown"), "Mira").person_id
        session.add(joined)
        uploads.undo(session, upload, NOW)
        assert [one.name for one in enrolments.roster(session, group.id or 0)] == ["Mira"]


def test_undo_of_a_roster_only_marks_a_name_that_something_stands_under(db: Database):
    with db.begin() as session:
        group = school_class(session)
        use(session, group, FIRST)
        journal = Journal(session)
        for name in ("Mira", "Tom"):
            journal.add(Enrolment(class_id=group.id or 0, name=name, joined_at=NOW))
        upload = uploads.record(journal, group.id or 0, UploadKind.ROSTER, "list.csv", NOW)
        mira = enrolments.roster(session, group.id or 0)[0]
        first = timetable.lessons(session, group.id or 0)[0]
        timetable.set_absent(Journal(session), group.id or 0, first.id, mira.id or 0, True)
        uploads.undo(session, upload, NOW)
        assert enrolments.roster(session, group.id or 0) == []
        assert [one.name for one in enrolments.roster(session, group.id or 0, left=True)] == ["Mira"]


def test_undo_does_not_bring_back_what_belonged_to_an_erased_student(db: Database):
    with db.begin() as session:
        group = school_class(session)
        use(session, group, FIRST)
        who = student(session, group, "Mira")
        first = timetable.lessons(session, group.id or 0)[0]
        timetable.set_absent(Journal(session), group.id or 0, first.id, who.id or 0, True)
        journal = Journal(session)
        timetable.set_absent(journal, group.id or 0, first.id, who.id or 0, False)
        upload = uploads.record(journal, group.id or 0, UploadKind.TIMETABLE, "absence", NOW)
        session.delete(who)
        session.flush()
        uploads.undo(session, upload, NOW)
        assert session.exec(select(Absence)).all() == []


def test_undo_lets_answered_questions_and_taught_lessons_disappear_without_losing_answers(db: Database):
    with db.begin() as session:
        group = school_class(session)
        journal = Journal(session)
        questions.apply(journal, group.id or 0, [draft("Springs", "What?")], NOW)
        upload = uploads.record(journal, group.id or 0, UploadKind.QUESTIONS, "q.csv", NOW)
        (one,) = questions.of_class(session, group.id or 0)
        answer(session, student(session, group, "Mira"), questions.row(session, one.id))
        uploads.undo(session, upload, NOW)
        assert questions.of_class(session, group.id or 0) == []
        assert len(session.exec(select(Answer)).all()) == 1


def test_the_last_upload_comes_first_and_the_one_before_next(db: Database):
    with db.begin() as session:
        class_id = school_class(session).id or 0
        for number in range(3):
            journal = Journal(session)
            timetable.add_holiday(journal, class_id, day(number * 10), day(number * 10), f"day {number}")
            uploads.record(journal, class_id, UploadKind.TIMETABLE, f"day {number}", NOW)
        for number in (2, 1, 0):
            upload = uploads.last_applied(session, class_id)
            assert upload is not None
            assert upload.file_name == f"day {number}"
            uploads.undo(session, upload, NOW)
        assert uploads.last_applied(session, class_id) is None
        assert timetable.holidays(session, class_id) == []


def test_a_pending_upload_changes_nothing_and_can_be_forgotten(db: Database):
    with db.begin() as session:
        class_id = school_class(session).id or 0
        upload = uploads.store(session, class_id, UploadKind.ROSTER, "x" * 300, {"file": 1}, NOW)
        assert len(upload.file_name) <= 120
        uploads.cancel(session, upload)
        assert (upload.state, upload.content) == (UploadState.CANCELLED, {})
        assert not uploads.undo(session, upload, NOW)
        with pytest.raises(NotFound):
            uploads.get(session, 999)


def test_bytes_go_when_nobody_needs_them(db: Database):
    with db.begin() as session:
        class_id = school_class(session).id or 0
        digest = blobs.keep(session, b"bytes", "text/csv", NOW)
        assert blobs.get(session, digest) == b"bytes"
        assert blobs.media_type(session, digest) == "text/csv"
        upload = uploads.store(session, class_id, UploadKind.ROSTER, "r.csv", {"blob": digest}, NOW)
        assert not blobs.forget(session, digest)
        uploads.cancel(session, upload)
        assert blobs.forget(session, digest)
        assert blobs.get(session, digest) is None
        assert not blobs.forget(session, "")


def test_every_table_with_a_moment_of_dropping_is_never_deleted_by_an_undo():
    from storage.school.change_journal import _MARKS, _TABLES

    marked = {
        name
        for name, table in _TABLES.items()
        if any(column.key in _MARKS for column in sa.inspect(table).columns)
    }
    assert marked == {"lesson", "quiz", "topic", "question"}
    assert all(issubclass(table, SQLModel) for table in _TABLES.values())
    assert {Holiday, Lesson, Quiz, QuizTopic, Question, Topic} <= set(_TABLES.values())
