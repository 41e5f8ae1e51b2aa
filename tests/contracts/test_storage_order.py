"""In which order a student gets the questions of a topic, on every database."""

from __future__ import annotations

from collections import Counter
from datetime import timedelta
from itertools import pairwise

from scipy import stats
from sqlmodel import Session, col, select

from storage.asked import nudge_questions, nudges, reviews
from storage.asked.nudges import PlannedQuestion
from storage.base.database import Database
from storage.school import classes, enrolments, people, timetable
from storage.school.change_journal import Journal
from storage.tables import Enrolment, Question, Review, ReviewState, Topic
from tests.contracts.storage_school import NOW

DAY = timedelta(days=1)
QUESTIONS = 4
TOPICS = 5
STUDENTS = 24


def school(session: Session, students: int = STUDENTS, topics: int = TOPICS) -> None:
    """Make a class whose topics have four questions each."""
    teacher = people.meet(session, "terminal", "okafor", "okafor", NOW)
    group = classes.create(
        session, name="10B", zone="UTC", teacher_id=teacher.person_id, teacher_name="Ms Okafor", now=NOW
    )
    for number in range(students):
        person = people.meet(session, "terminal", f"student{number}", f"student{number}", NOW).person_id
        enrolments.join(session, group.id or 0, person, f"Student {number}", NOW)
    for number in range(topics):
        topic = timetable.teach(Journal(session), group, f"Topic {number}", NOW - DAY).topic
        for place in range(QUESTIONS):
            session.add(
                Question(
                    topic_id=topic.id or 0,
                    kind="text",
                    prompt=f"{place}?",
                    answer={},
                    chance=0.1,
                    created_at=NOW,
                )
            )
        session.flush()


def ask(session: Session, times: int) -> dict[tuple[int, int], list[int]]:
    """Ask every student about every topic some times; return the questions by student and topic."""
    students = [row.id or 0 for row in session.exec(select(Enrolment).order_by(col(Enrolment.id)))]
    topics = [row.id or 0 for row in session.exec(select(Topic).order_by(col(Topic.id)))]
    asked: dict[tuple[int, int], list[int]] = {}
    for time in range(times):
        now = NOW + time * DAY
        for student in students:
            wanted = [PlannedQuestion(topic) for topic in topics]
            nudge_id = nudges.plan(session, student, now.date(), now, now + DAY, wanted, now)
            assert nudge_id is not None
            for line, topic in zip(nudge_questions.lines(session, nudge_id), topics, strict=True):
                assert line.to_ask is not None
                reviews.show(session, line.review_id, line.to_ask, [], now)
                asked.setdefault((student, topic), []).append(line.to_ask)
            for row in session.exec(select(Review).where(Review.nudge_id == nudge_id)):
                row.state = ReviewState.ANSWERED
            session.flush()
    return asked


def test_f36_each_student_gets_the_questions_of_a_topic_in_an_order_of_their_own(db: Database):
    with db.begin() as session:
        school(session)
        asked = ask(session, QUESTIONS)
    orders = {pair: tuple(sorted(found).index(one) for one in found) for pair, found in asked.items()}
    assert all(sorted(order) == list(range(QUESTIONS)) for order in orders.values())  # each once, then again
    for time in range(QUESTIONS):  # every question is as often the first, second, … as any other
        counts = Counter(order[time] for order in orders.values())
        chance = stats.chisquare([counts[place] for place in range(QUESTIONS)]).pvalue
        assert chance > 1e-6, counts  # not nearer: ids differ from run to run
    assert len(set(orders.values())) >= 20  # of the 24 orders there are
    of_one = {order for (student, _), order in orders.items() if student == next(iter(orders))[0]}
    assert len(of_one) > 1  # nor are the topics of one student all in the same order


def test_f36_the_order_of_a_student_stays_the_same_after_a_restart(db: Database):
    with db.begin() as session:
        school(session, students=6, topics=2)
        asked = ask(session, QUESTIONS)
    for time in range(QUESTIONS, 2 * QUESTIONS):
        with db.begin() as session:
            for (student, topic), order in asked.items():
                day = (NOW + time * DAY + topic * 100 * DAY).date()
                wanted = [PlannedQuestion(topic)]
                nudge_id = nudges.plan(session, student, day, NOW + time * DAY, NOW + 99 * DAY, wanted, NOW)
                (line,) = nudge_questions.lines(session, nudge_id or 0)
                (again,) = nudge_questions.lines(session, nudge_id or 0)
                assert line.to_ask == again.to_ask == order[time - QUESTIONS]
                reviews.show(session, line.review_id, line.to_ask or 0, [], NOW + time * DAY)
                session.get_one(Review, line.review_id).state = ReviewState.ANSWERED


def test_f36_no_question_comes_twice_in_a_row_where_there_is_another(db: Database):
    with db.begin() as session:
        school(session, students=4, topics=2)
        asked = ask(session, 3 * QUESTIONS)
    assert all(one != other for order in asked.values() for one, other in pairwise(order))
