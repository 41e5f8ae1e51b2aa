"""Nudges, questions asked, answers, homework: each once, on every database."""

from __future__ import annotations

import threading
from dataclasses import dataclass
from datetime import timedelta

import pytest
from sqlmodel import Session, select

from storage.asked import answers, homework, nudge_questions, nudges, reviews
from storage.asked.nudges import PlannedQuestion
from storage.asked.reviews import InHand
from storage.base.database import Database, connect
from storage.base.errors import NotAllowed
from storage.history import class_history
from storage.school import classes, enrolments, people, timetable
from storage.school.change_journal import Journal
from storage.tables import NudgeState, Question, Review, ReviewState, Verdict
from tests.contracts.storage_school import NOW

DAY = timedelta(days=1)
TODAY = NOW.date()


@dataclass(frozen=True)
class School:
    """Ids of a class with one student, one topic and its two questions."""

    class_id: int
    person: int
    student: int
    topic: int
    questions: tuple[int, ...]


def school(session: Session) -> School:
    """Make a class with a student and a topic with two questions, taught yesterday with homework."""
    teacher = people.meet(session, "terminal", "okafor", "okafor", NOW)
    group = classes.create(
        session, name="10B", zone="UTC", teacher_id=teacher.person_id, teacher_name="Ms Okafor", now=NOW
    )
    person = people.meet(session, "terminal", "mira", "mira", NOW).person_id
    student = enrolments.join(session, group.id or 0, person, "Mira", NOW)
    taught = timetable.teach(Journal(session), group, "Density", NOW - DAY, homework="p. 12")
    topic = taught.topic.id or 0
    questions = [
        Question(topic_id=topic, kind="text", prompt=f"{number}?", answer={}, chance=0.1, created_at=NOW)
        for number in range(2)
    ]
    for question in questions:
        session.add(question)
        session.flush()
    return School(group.id or 0, person, student.id or 0, topic, tuple(one.id or 0 for one in questions))


def planned(session: Session, made: School, *, number: int = 1) -> int | None:
    """Plan a nudge with one question."""
    questions = [PlannedQuestion(made.topic, 0.5, {"gain": 0.1})]
    return nudges.plan(session, made.student, TODAY, NOW, NOW + DAY, questions, NOW, number=number)


def opened(session: Session, made: School) -> Review:
    """Plan a nudge and show its question."""
    nudge_id = planned(session, made)
    assert nudge_id is not None
    (line,) = nudge_questions.lines(session, nudge_id)
    assert line.to_ask is not None
    reviews.show(session, line.review_id, line.to_ask, [], NOW)
    return session.get_one(Review, line.review_id)


def in_hand(session: Session, made: School, review: Review) -> InHand:
    return reviews.of_student(session, review.id or 0, made.person)


def give(session: Session, review: InHand, verdict: Verdict = Verdict.RIGHT) -> bool:
    return answers.record(session, review, verdict, NOW, given="a", option=None, chance=0.1, on_time=True)


def of_nudge(session: Session, nudge_id: int) -> list[Review]:
    return list(session.exec(select(Review).where(Review.nudge_id == nudge_id)))


def test_a_nudge_of_a_day_is_planned_once_with_its_questions(db: Database):
    with db.begin() as session:
        made = school(session)
        nudge_id = planned(session, made)
        assert nudge_id is not None
        assert planned(session, made) is None
        assert planned(session, made, number=2) is not None
        assert [row.number for row in nudges.of_day(session, made.student, TODAY)] == [1, 2]
        assert [row.reason for row in of_nudge(session, nudge_id)] == [{"gain": 0.1}]


def test_two_workers_that_plan_at_once_make_one_nudge(shared_url: str):
    database = connect(shared_url)
    with database.begin() as session:
        made = school(session)
    found: list[int | None] = []

    def work() -> None:
        with database.begin() as session:
            found.append(planned(session, made))

    threads = [threading.Thread(target=work) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len([one for one in found if one is not None]) == 1
    with database.begin() as session:
        assert len(of_nudge(session, next(one for one in found if one is not None))) == 1
    database.close()


def test_an_answer_counts_once_however_many_workers_take_it(shared_url: str):
    database = connect(shared_url)
    with database.begin() as session:
        made = school(session)
        review_id = opened(session, made).id or 0
    counted: list[bool] = []

    def work(verdict: Verdict) -> None:
        with database.begin() as session:
            counted.append(give(session, reviews.of_student(session, review_id, made.person), verdict))

    threads = [threading.Thread(target=work, args=(verdict,)) for verdict in [*Verdict, *Verdict]]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert counted.count(True) == 1
    with database.begin() as session:
        assert len(answers.of_student(session, made.student)) == 1
    database.close()


def test_an_answer_closes_its_question_and_a_second_one_changes_nothing(db: Database):
    with db.begin() as session:
        made = school(session)
        review = opened(session, made)
        first = in_hand(session, made, review)
        assert give(session, first)
        assert not give(session, first, Verdict.WRONG)
        assert not give(session, in_hand(session, made, review), Verdict.WRONG)
        (line,) = answers.of_student(session, made.student)
        assert (line.topic, line.verdict) == ("Density", Verdict.RIGHT)
        (answered,) = nudge_questions.lines(session, review.nudge_id)
        assert (answered.state, answered.verdict) == (ReviewState.ANSWERED, Verdict.RIGHT)


def test_only_the_student_reaches_their_review_and_nudge(db: Database):
    with db.begin() as session:
        made = school(session)
        review = opened(session, made)
        own = in_hand(session, made, review)
        assert (own.id, own.state, own.day, own.nudge_state) == (
            review.id,
            ReviewState.OPEN,
            TODAY,
            NudgeState.PLANNED,
        )
        assert nudges.of_student(session, review.nudge_id, made.person).id == review.nudge_id
        for stranger in (made.person - 1, None):
            with pytest.raises(NotAllowed):
                reviews.of_student(session, review.id or 0, stranger)
            with pytest.raises(NotAllowed):
                nudges.of_student(session, review.nudge_id, stranger)


def test_what_was_planned_and_never_sent_can_be_planned_anew_but_what_was_sent_stays(db: Database):
    with db.begin() as session:
        made = school(session)
        planned(session, made)
        assert nudges.settled(session, made.class_id, TODAY) == set()
        assert nudges.drop_planned(session, [made.student]) == 1
        nudge_id = planned(session, made)
        nudge = nudges.lock(session, nudge_id or 0)
        assert nudge is not None
        nudges.sent(session, nudge, NOW, NOW + DAY)
        assert nudges.drop_planned(session, [made.student]) == 0
        assert nudges.settled(session, made.class_id, TODAY) == {(made.student, TODAY, 1)}
        assert reviews.waiting(session, made.class_id) == {(made.student, made.topic): TODAY}


def test_what_is_due_and_what_is_over_is_found_in_order(db: Database):
    with db.begin() as session:
        made = school(session)
        nudge_id = planned(session, made)
        assert nudges.due(session, NOW - DAY) == []
        assert [row.id for row in nudges.due(session, NOW)] == [nudge_id]
        assert (nudges.next_at(session), nudges.next_end(session)) == (NOW, NOW + DAY)
        assert nudges.over(session, NOW) == []
        (late,) = nudges.over(session, NOW + DAY)
        nudges.close(session, late.id or 0, NudgeState.EXPIRED, NOW + DAY)
        assert nudges.next_at(session) is None
        assert [row.state for row in of_nudge(session, nudge_id or 0)] == [ReviewState.EXPIRED]


def test_the_question_not_asked_for_longest_comes_first(db: Database):
    with db.begin() as session:
        made = school(session)
        review = opened(session, made)
        first = review.question_id or 0
        (other,) = set(made.questions) - {first}
        nudge_id = planned(session, made, number=2) or 0
        assert [line.to_ask for line in nudge_questions.lines(session, nudge_id)] == [other]
        session.get_one(Question, other).retired_at = NOW
        session.flush()
        assert [line.to_ask for line in nudge_questions.lines(session, nudge_id)] == [first]
        session.get_one(Question, first).retired_at = NOW
        session.flush()
        assert [line.to_ask for line in nudge_questions.lines(session, nudge_id)] == [None]


DRAWN = {
    "seed": "1", "values": {"s": "60"}, "prompt": "60 m?", "answer": {"kind": "text"},
    "explanation": "", "feedback": None,
}  # fmt: skip


def test_a_question_with_drawn_values_is_remembered_as_it_was_asked(db: Database):
    with db.begin() as session:
        made = school(session)
        review = opened(session, made)
        assert review.question_id is not None
        reviews.show(session, review.id or 0, review.question_id, [], NOW, DRAWN)
    with db.begin() as session:
        # The teacher may change the question while it is open.
        session.get_one(Question, review.question_id).prompt = "{s} metres?"
    with db.begin() as session:
        asked = reviews.open_one(session, [made.student])
        assert asked is not None
        assert (asked.prompt, asked.answer) == ("60 m?", {"kind": "text"})
        assert reviews.drawn_before(session, made.student, review.question_id) == [DRAWN]
        (line,) = nudge_questions.lines(session, review.nudge_id)
        assert line.drawn == DRAWN


@pytest.mark.parametrize(
    ("verdict", "template", "parallel"),
    [
        (Verdict.WRONG, {"values": "s = 1..9"}, True),
        (Verdict.UNSURE, {"values": "s = 1..9"}, True),
        (Verdict.RIGHT, {"values": "s = 1..9"}, False),
        (Verdict.WRONG, None, False),
    ],
)
def test_a_missed_question_with_drawn_values_comes_back_before_others(
    db: Database, verdict: Verdict, template: dict[str, str] | None, parallel: bool
):
    with db.begin() as session:
        made = school(session)
        for number in made.questions:
            session.get_one(Question, number).template = template
        first = opened(session, made)
        assert give(session, in_hand(session, made, first), verdict)
        again = planned(session, made, number=2)
        assert again is not None
    with db.begin() as session:
        session.get_one(Review, first.id).closed_at = NOW - DAY  # so that the topic was not met since
        (line,) = nudge_questions.lines(session, again)
        assert (line.to_ask == first.question_id) is parallel
        assert line.template == template


def test_homework_is_asked_until_it_is_reported_and_the_teachers_word_stands(db: Database):
    with db.begin() as session:
        made = school(session)
        (set_one,) = homework.unreported(session, made.student, NOW - 2 * DAY, NOW)
        assert (set_one.topic, set_one.text) == ("Density", "p. 12")
        assert homework.unreported(session, made.student, NOW, NOW + DAY) == []
        assert homework.report(session, made.person, set_one.lesson_id, False, NOW)
        assert homework.report(session, made.person, set_one.lesson_id, True, NOW)
        assert homework.unreported(session, made.student, NOW - 2 * DAY, NOW) == []
        timetable.set_homework(session, made.class_id, set_one.lesson_id, made.student, False, NOW)
        assert not homework.report(session, made.person, set_one.lesson_id, True, NOW)
        with pytest.raises(NotAllowed):
            homework.report(session, made.person - 1, set_one.lesson_id, True, NOW)


def test_a_missed_lesson_sets_no_homework(db: Database):
    with db.begin() as session:
        made = school(session)
        (lesson,) = timetable.lessons(session, made.class_id)
        timetable.set_absent(Journal(session), made.class_id, lesson.id, made.student, True)
        assert homework.unreported(session, made.student, NOW - 2 * DAY, NOW) == []


def test_the_story_of_a_class_holds_lessons_answers_silence_and_homework(db: Database):
    with db.begin() as session:
        made = school(session)
        review = opened(session, made)
        first = review.question_id
        give(session, in_hand(session, made, review))
        second = nudges.lock(session, planned(session, made, number=2) or 0)
        assert second is not None
        nudges.sent(session, second, NOW, NOW)
        nudges.close(session, second.id or 0, NudgeState.EXPIRED, NOW + DAY)
        (lesson,) = timetable.lessons(session, made.class_id)
        homework.report(session, made.person, lesson.id, True, NOW)
        told = class_history.of_class(session, made.class_id, NOW + DAY)
        assert told.students == (made.student,)
        assert told.topics == (made.topic,)
        assert set(told.happenings) == {
            class_history.GivenLesson(made.topic, NOW - DAY),
            class_history.Practised(made.student, made.topic, NOW),
            class_history.Reviewed(made.student, made.topic, NOW, "right", 0.1, first),
            class_history.Reviewed(made.student, made.topic, NOW + DAY, ""),
        }
        assert class_history.answers_of(told) == 1


def test_a_fit_is_kept_and_serves_other_classes_as_what_to_expect(db: Database):
    with db.begin() as session:
        made = school(session)
        class_history.keep_fit(session, made.class_id, {"slip": 0.1}, 12, NOW)
        class_history.keep_fit(session, made.class_id, {"slip": 0.2}, 20, NOW)
        assert class_history.of_class(session, made.class_id, NOW).parameters == {"slip": 0.2}
        assert class_history.fits_of_others(session, made.class_id, NOW) == []
        assert class_history.fits_of_others(session, made.class_id + 1, NOW) == [{"slip": 0.2}]
