"""A person's evening over all classes, on every database."""

from __future__ import annotations

import threading
from datetime import timedelta

from sqlmodel import Session, col, select

from bot.service.asking import nudges as sending
from bot.service.engine.context import AppContext
from storage.asked import evenings, nudges
from storage.asked.nudges import PlannedQuestion
from storage.base.database import Database, connect
from storage.school import classes, enrolments, people, timetable
from storage.school.change_journal import Journal
from storage.tables import Enrolment, Nudge, NudgeState, OutboxItem, Question, Review, ReviewState
from tests.contracts.storage_school import NOW

DAY = timedelta(days=1)
TODAY = NOW.date()
SPAN = (NOW - timedelta(hours=12), NOW + timedelta(hours=12))


def school(session: Session, count: int = 3) -> tuple[int, list[int]]:
    """Put Mira into some classes with two topics each, and plan a nudge for each; return her and the nudges."""
    teacher = people.meet(session, "terminal", "okafor", "okafor", NOW)
    person = people.meet(session, "terminal", "mira", "mira", NOW).person_id
    planned = []
    for number in range(count):
        group = classes.create(
            session,
            name=f"Class {number}",
            zone="UTC",
            teacher_id=teacher.person_id,
            teacher_name="Ms Okafor",
            now=NOW,
        )
        student = enrolments.join(session, group.id or 0, person, "Mira", NOW - DAY)
        wanted = []
        for place in range(2):
            topic = timetable.teach(Journal(session), group, f"Topic {place}", NOW - 2 * DAY).topic.id or 0
            session.add(
                Question(
                    topic_id=topic,
                    kind="text",
                    prompt="What?",
                    answer={"kind": "text", "accepted": ["a"]},
                    chance=0.1,
                    created_at=NOW,
                )
            )
            wanted.append(PlannedQuestion(topic, 0.5, {"gain": 0.1 * number + 0.01 * place}))
        session.flush()
        nudge_id = nudges.plan(session, student.id or 0, TODAY, NOW, NOW + DAY, wanted, NOW)
        planned.append(nudge_id or 0)
    return person, planned


def test_f04_what_a_person_wants_is_the_last_that_they_chose_else_the_earliest_of_their_classes(db: Database):
    with db.begin() as session:
        person, _ = school(session)
        rows = list(session.exec(select(Enrolment).order_by(col(Enrolment.id))))
        classes.change_rules(session, rows[1].class_id, nudge_minute=16 * 60)
        assert evenings.wishes(session, [person])[person] == evenings.Wishes(16 * 60, "UTC")
        enrolments.set_times(session, rows[0].id or 0, nudge_minute=17 * 60, zone="Asia/Kolkata")
        enrolments.set_times(session, rows[2].id or 0, quiet_from=19 * 60, quiet_until=7 * 60)
        expected = evenings.Wishes(17 * 60, "Asia/Kolkata", 19 * 60, 7 * 60)
        assert evenings.wishes(session, [person, 999_999]) == {person: expected}
        enrolments.leave(session, rows[0].id or 0, NOW)
        assert evenings.wishes(session, [person])[person].minute == 16 * 60


def test_f04_one_nudge_takes_in_the_others_and_what_was_not_chosen_goes(db: Database):
    with db.begin() as session:
        person, (first, second, third) = school(session)
        host = nudges.lock(session, first)
        assert host is not None
        evenings.hold(session, first)
        others = [nudge for nudge, _, _ in evenings.planned_with(session, host, person)]
        assert [nudge.id for nudge in others] == [second, third]
        assert evenings.questions_of_day(session, person, TODAY, SPAN) == 6
        assert evenings.questions_of_day(session, person, TODAY, SPAN, settled=True) == 0
        found = evenings.candidates(session, [first, second, third])
        kept = evenings.fair(found, 4, {})
        evenings.gather(session, host, others, kept)
        rows = list(session.exec(select(Review).order_by(col(Review.position))))
        assert [row.id for row in rows] == [one.review_id for one in kept]
        assert [(row.nudge_id, row.position) for row in rows] == [(first, place) for place in (1, 2, 3, 4)]
        assert len({row.enrolment_id for row in rows}) == 3
        nudges.sent(session, host, NOW, NOW + DAY)
        assert evenings.nudges_of_day(session, person, TODAY) == 1
        assert evenings.nudges_allowed(session, person) == 1
        assert evenings.questions_of_day(session, person, TODAY, SPAN, settled=True) == 4
        assert not evenings.planned_with(session, host, person)
        assert len(evenings.members(session, host)) == 3


def test_f04_who_ends_in_one_class_hands_the_questions_of_the_others_over(db: Database):
    with db.begin() as session:
        person, (first, second, third) = school(session)
        host = nudges.lock(session, first)
        assert host is not None
        others = [nudge for nudge, _, _ in evenings.planned_with(session, host, person)]
        evenings.gather(session, host, others, evenings.candidates(session, [first, second, third]))
        nudges.sent(session, host, NOW, NOW + DAY)
        evenings.stop(session, host.enrolment_id, NOW)
        states = {row.id: row.state for row in session.exec(select(Nudge))}
        assert states == {first: NudgeState.EXPIRED, second: NudgeState.SENT, third: NudgeState.DONE}
        waiting = [row for row in session.exec(select(Review)) if row.state is ReviewState.PLANNED]
        assert {row.nudge_id for row in waiting} == {second}
        assert len(waiting) == 4


def test_f04_workers_that_send_at_once_make_one_nudge(shared_url: str):
    database = connect(shared_url)
    with database.begin() as session:
        _, planned = school(session, 4)
    sent: list[bool] = []

    def work(nudge_id: int) -> None:
        with database.begin() as session:
            sent.append(sending.send_one(session, AppContext(), nudge_id, NOW))

    threads = [threading.Thread(target=work, args=(nudge_id,)) for nudge_id in planned]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(sent) == [False, False, False, True]
    with database.begin() as session:
        assert len(session.exec(select(OutboxItem).where(col(OutboxItem.nudge_id).is_not(None))).all()) == 1
        (nudge_id,) = set(session.exec(select(Review.nudge_id)))
        assert len(session.exec(select(Review).where(Review.nudge_id == nudge_id)).all()) == 8
    database.close()
