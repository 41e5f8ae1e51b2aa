"""Nudges over days: when they go out, when they do not, and never twice."""

from __future__ import annotations

import asyncio
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from functools import cache
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from sqlmodel import col, select

from bot.chat.port import ButtonPressed, PresenceChanged
from bot.clock import HandClock
from bot.service.asking import nudges as sending
from bot.service.asking import planning
from bot.service.engine import loop
from bot.service.engine.due_work import WorkContext
from storage.asked import nudge_questions, nudges
from storage.base.database import Session, connect
from storage.school import classes, enrolments, timetable
from storage.school.change_journal import Journal
from storage.tables import (
    Answer,
    Enrolment,
    Nudge,
    NudgeState,
    OutboxItem,
    OutboxState,
    Question,
    Quiz,
    QuizKind,
    QuizTopic,
    Review,
    ReviewState,
    Topic,
)
from tests.dialogues import CHOICE, MONDAY, Frozen, Stage, add_class, at, join, stage, teach

DAY = timedelta(days=1)


def rows(school: Stage, table: Any) -> Any:
    return school.run(lambda session: list(session.exec(select(table).order_by(col(table.id)))))


@cache
def _school(rules: tuple[tuple[str, Any], ...] = (), students: int = 1, topics: int = 4) -> Frozen:
    school = stage(at(MONDAY - 3 * DAY, 12))
    group = add_class(school, **dict(rules))
    for number in range(topics):
        teach(school, group, f"Topic {number}", at(MONDAY - (7 + number) * DAY, 10), [CHOICE, CHOICE])
    for number in range(students):
        join(school, group, f"student{number}")
    school.now = at(MONDAY, 7)
    return school.freeze()


def a_school(students: int = 1, topics: int = 4, **rules: Any) -> Stage:
    """Return a school on Monday morning at seven; its students want their questions at 18:00."""
    return _school(tuple(rules.items()), students, topics).thaw()


def nudges_sent(said: list[Any]) -> list[Any]:
    return [one for one in said if one.nudge_id is not None]


def answer_all(school: Stage, user: str) -> None:
    if "Start" in school.of(user)[-1].labels:
        school.press(user, "Start")
    while school.of(user)[-1].labels[-2:] == ["Not sure", "Later"]:
        school.press(user, "10 cm")


# ---------------------------------------------------------------- once a day


def test_one_nudge_a_day_at_the_students_time_on_school_days_only():
    school = a_school()
    sent = []
    for day in range(7):
        sent += nudges_sent(school.go_to(at(MONDAY + day * DAY, 20)))
        answer_all(school, "student0")
    times = [one.at for one in sent]
    assert len(times) >= 3
    assert set(times) <= {at(MONDAY + day * DAY, 18) for day in range(5)}
    assert len(set(times)) == len(times)


def test_a_tick_more_or_less_sends_nothing_twice():
    school = a_school()
    school.go_to(at(MONDAY, 18))
    for _ in range(3):
        assert not school.work()
    assert len(rows(school, Nudge)) == 1


def test_planning_again_after_the_nudge_went_out_changes_nothing():
    school = a_school()
    school.go_to(at(MONDAY, 18, 10))
    before = [(r.id, r.topic_id, r.state) for r in rows(school, Review)]
    school.run(lambda s: planning.look_again(s, 1, school.now))
    assert not nudges_sent(school.go_to(at(MONDAY, 19, 30)))
    assert [(r.id, r.topic_id, r.state) for r in rows(school, Review)] == before


def test_two_days_off_become_one_nudge():
    school = a_school()
    school.go_to(at(MONDAY, 17, 50))
    sent = nudges_sent(school.jump(at(MONDAY + 2 * DAY, 18, 40)))
    sent += nudges_sent(school.go_to(at(MONDAY + 2 * DAY, 23)))
    assert [one.at for one in sent] == [at(MONDAY + 2 * DAY, 18, 40)]


def test_two_days_off_that_end_at_night_send_nothing_until_the_next_evening():
    school = a_school()
    school.go_to(at(MONDAY, 17, 50))
    assert not school.jump(at(MONDAY + 2 * DAY, 22))
    sent = nudges_sent(school.go_to(at(MONDAY + 3 * DAY, 20)))
    assert [one.at for one in sent] == [at(MONDAY + 3 * DAY, 18)]


def test_an_unanswered_nudge_is_over_when_the_next_one_comes_and_its_question_is_closed():
    school = a_school()
    school.go_to(at(MONDAY, 18))
    school.press("student0", "Start")
    pick = school.button("student0", "10 cm").action
    (sent,) = nudges_sent(school.go_to(at(MONDAY + DAY, 18, 20)))  # minutes ago it would count
    assert sent.at == at(MONDAY + DAY, 18)
    first, second = rows(school, Nudge)
    assert (first.state, second.state) == (NudgeState.EXPIRED, NudgeState.SENT)
    (said,) = school.press_action("student0", pick)
    assert said.text.endswith(" — closed. Its topic comes back another day.")
    assert not rows(school, Answer)


def test_a_late_answer_counts_and_is_marked_late():
    school = a_school()
    school.go_to(at(MONDAY, 18))
    school.press("student0", "Start")
    school.press("student0", "10 cm")
    school.go_to(at(MONDAY + DAY, 9))
    school.press("student0", "10 cm")
    assert [answer.on_time for answer in rows(school, Answer)] == [True, False]


@pytest.mark.parametrize(
    ("said", "counted"),
    [
        (at(MONDAY, 23, 50), at(MONDAY, 23, 50)),
        (at(MONDAY, 12), at(MONDAY, 18)),
        (at(MONDAY + 2 * DAY, 9), at(MONDAY + DAY, 0, 10)),
    ],
    ids=["when it was said", "not before the question", "not in the future"],
)
def test_l1_an_answer_counts_at_the_time_at_which_it_was_given(said: datetime, counted: datetime):
    """It was said before midnight and reached us after it: the platform was away."""
    school = a_school()
    school.go_to(at(MONDAY, 18))
    school.press("student0", "Start")
    content = ButtonPressed(school.button("student0", "10 cm").action)
    school.go_to(at(MONDAY + DAY, 0, 10))
    late = replace(school.incoming("student0", content), at=said)
    school.run(lambda session: loop.handle(session, school.app_context, late, school.now))
    (answer,) = rows(school, Answer)
    assert answer.at == counted
    assert answer.on_time == (counted < at(MONDAY + DAY, 0))
    assert answer.taken_s == (counted - at(MONDAY, 18)).total_seconds()


# ---------------------------------------------------------------- at most


def test_at_most_one_open_question_per_student_and_topic_and_no_topic_twice_a_day():
    school = a_school(topics=6, nudges_per_day=2, questions_per_nudge=3)
    for day in range(3):
        for hour in range(8, 20):
            school.go_to(at(MONDAY + day * DAY, hour))
            if hour % 3 == 0:
                school.say("student0", "next")
                school.work()
            if hour % 4 == 0 and "Not sure" in school.of("student0")[-1].labels:
                school.press("student0", "10 cm")
            waiting = [
                r.topic_id for r in rows(school, Review) if r.state in (ReviewState.PLANNED, ReviewState.OPEN)
            ]
            assert len(waiting) == len(set(waiting))
            assert sum(r.state is ReviewState.OPEN for r in rows(school, Review)) <= 1
        days = {n.id: n.day for n in rows(school, Nudge)}
        answered = [
            (r.topic_id, days[r.nudge_id]) for r in rows(school, Review) if r.state is ReviewState.ANSWERED
        ]
        assert len(answered) == len(set(answered))


def test_a_class_can_have_two_nudges_a_day_some_hours_apart():
    school = a_school(nudges_per_day=2, questions_per_nudge=2)
    sent = nudges_sent(school.go_to(at(MONDAY, 20)))
    assert [one.at for one in sent] == [at(MONDAY, 15), at(MONDAY, 18)]


def test_never_more_than_ten_questions_a_day_whatever_the_class_wants():
    school = a_school(topics=20, nudges_per_day=2, questions_per_nudge=5)
    for hour in range(8, 21):
        school.go_to(at(MONDAY, hour))
        answer_all(school, "student0")
        school.say("student0", "next")
        school.work()
        answer_all(school, "student0")
    assert len(rows(school, Answer)) == 10


def test_the_allowance_of_a_term_is_kept():
    school = a_school(topics=8, term_allowance=4)
    for day in range(5):
        school.go_to(at(MONDAY + day * DAY, 19))
        answer_all(school, "student0")
    assert len(rows(school, Answer)) <= 4


def asked_in_a_week(*, exam: bool, **rules: Any) -> int:
    school = a_school(topics=6, **rules)
    if exam:
        school.run(plan_exam)
    for day in range(5):
        school.go_to(at(MONDAY + day * DAY, 19))
        answer_all(school, "student0")
    return len(rows(school, Review))


def plan_exam(session: Session) -> None:
    exam = Quiz(class_id=1, kind=QuizKind.EXAM, at=at(MONDAY + 8 * DAY, 10))
    session.add(exam)
    session.flush()
    for topic in session.exec(select(Topic)).all():
        session.add(QuizTopic(quiz_id=exam.id or 0, topic_id=topic.id or 0))


def test_a_class_with_a_target_is_asked_as_few_as_reach_it():
    few, more, all_of_it = (asked_in_a_week(exam=True, target=target) for target in (60, 90, None))
    assert 0 < few < more <= all_of_it


def test_without_a_date_that_counts_a_target_keeps_nobody_from_being_asked():
    assert asked_in_a_week(exam=False, target=60) == asked_in_a_week(exam=False)


# ---------------------------------------------------------------- not now


def test_nothing_goes_out_on_a_holiday():
    school = a_school()
    school.run(lambda s: timetable.add_holiday(Journal(s), 1, MONDAY, MONDAY + 2 * DAY, "Break"))
    sent = nudges_sent(school.go_to(at(MONDAY + 3 * DAY, 19)))
    assert [one.at for one in sent] == [at(MONDAY + 3 * DAY, 18)]


def test_a_holiday_set_after_planning_stops_the_nudge():
    school = a_school()
    school.go_to(at(MONDAY, 17, 50))
    assert rows(school, Nudge)[0].state is NudgeState.PLANNED
    school.run(lambda s: timetable.add_holiday(Journal(s), 1, MONDAY, MONDAY, "Snow"))
    assert not school.go_to(at(MONDAY, 23))
    assert rows(school, Nudge)[0].state is NudgeState.EXPIRED


def test_a_lesson_that_is_being_held_puts_the_nudge_off_to_its_end():
    school = a_school()
    teach_at = at(MONDAY, 17, 30)
    school.run(lambda s: timetable.teach(Journal(s), classes.get(s, 1), "Topic 0", teach_at).lesson)
    school.go_to(at(MONDAY, 18, 10))
    assert not nudges_sent(school.of("student0"))
    sent = nudges_sent(school.go_to(at(MONDAY, 18, 30)))
    assert [one.at for one in sent] == [at(MONDAY, 18, 15)]


def test_weekly_lesson_hours_put_the_nudge_off():
    school = a_school()
    school.run(lambda s: classes.change_rules(s, 1, lesson_hours=[[0, 17 * 60 + 30, 18 * 60 + 40]]))
    sent = nudges_sent(school.go_to(at(MONDAY, 20)))
    assert [one.at for one in sent] == [at(MONDAY, 18, 40)]


def test_students_all_over_the_world_are_asked_at_their_own_six_o_clock_across_a_clock_change():
    friday = date(2026, 10, 23)  # Britain's clocks go back on the 25th; the United States' a week later
    school = stage(at(friday, 0))
    group = add_class(school)
    for number in range(6):
        teach(school, group, f"Topic {number}", at(friday - (3 + number) * DAY, 10))
    zones = ("Europe/London", "America/New_York", "Asia/Kolkata", "Pacific/Auckland", "America/Sao_Paulo")
    for number, zone in enumerate(zones):
        join(school, group, f"student{number}")
        school.say(f"student{number}", f"zone {zone}")
    sent = nudges_sent(school.go_to(at(friday + 4 * DAY, 0)))
    seen = {
        zone: [one.at.astimezone(ZoneInfo(zone)) for one in sent if one.address == f"chat-student{n}"]
        for n, zone in enumerate(zones)
    }
    for zone, moments in seen.items():
        assert moments, zone
        assert {(moment.hour, moment.minute) for moment in moments} == {(18, 0)}, zone
        assert all(moment.weekday() < 5 for moment in moments), zone
        assert len({moment.date() for moment in moments}) == len(moments), zone


def test_a_message_that_could_not_leave_before_quiet_hours_is_to_be_dropped():
    school = a_school()
    (sent,) = nudges_sent(school.go_to(at(MONDAY, 18, 5)))
    assert sent.not_after == at(MONDAY, 20)


@pytest.mark.parametrize("state", ["paused", "left", "blocked", "closed"])
def test_who_is_gone_between_planning_and_sending_gets_nothing(state):
    school = a_school()
    school.go_to(at(MONDAY, 17, 50))
    match state:
        case "paused":
            school.run(lambda s: enrolments.pause(s, 1))
        case "left":
            school.run(lambda s: enrolments.leave(s, 1, school.now))
        case "blocked":
            school.event("student0", PresenceChanged("blocked"))
        case "closed":
            school.run(lambda s: classes.close(s, 1, school.now))
    assert not school.go_to(at(MONDAY, 20))
    assert rows(school, Nudge)[0].state is NudgeState.EXPIRED


def test_a_topic_whose_last_question_was_retired_is_dropped_before_sending():
    school = a_school(topics=1)
    school.go_to(at(MONDAY, 17, 50))

    def retire(session: Any) -> None:
        for question in session.exec(select(Question)):
            question.retired_at = school.now

    school.run(retire)
    assert not school.go_to(at(MONDAY, 20))
    assert rows(school, Review)[0].state is ReviewState.EXPIRED
    assert rows(school, Nudge)[0].sent_at is None


def test_a_class_without_questions_is_not_nudged_and_keeps_its_next_look():
    school = stage(at(MONDAY, 7))
    group = add_class(school)
    teach(school, group, "Density", at(MONDAY - DAY, 10), [])
    join(school, group, "student0")
    assert not nudges_sent(school.go_to(at(MONDAY + DAY, 20)))
    teach(school, group, "Moments", at(MONDAY, 10))
    assert len(nudges_sent(school.go_to(at(MONDAY + 2 * DAY, 20)))) == 1


def test_somebody_answering_is_not_interrupted():
    school = a_school()
    school.go_to(at(MONDAY, 17, 55))
    school.say("student0", "next")
    assert "Not sure" in school.of("student0")[-1].labels
    other = add_class(school, "9A Biology")
    teach(school, other, "Cells", at(MONDAY - 4 * DAY, 10))
    join(school, other, "student0")
    assert not nudges_sent(school.go_to(at(MONDAY, 18, 5)))
    (sent,) = nudges_sent(school.go_to(at(MONDAY, 18, 30)))
    assert sent.text.startswith("9A Biology: ")
    assert sent.at == at(MONDAY, 18, 10)  # a quarter of an hour after the question was shown


# ---------------------------------------------------------------- silence


def test_a_week_of_silence_brings_one_message_and_then_none_until_the_student_writes():
    school = a_school()
    said = school.go_to(at(MONDAY + 20 * DAY, 20))
    asked = [one for one in said if "not heard from you for a week" in one.text]
    assert len(asked) == 1
    assert asked[0].labels == ["Keep going", "Pause until …", "Leave"]
    assert said[-1] is asked[0]
    assert asked[0].at == at(MONDAY + 7 * DAY, 18)
    school.press("student0", "Keep going")
    sent = nudges_sent(school.go_to(at(MONDAY + 21 * DAY, 19)))
    assert [one.at for one in sent] == [at(MONDAY + 21 * DAY, 18)]


def test_a_week_of_holidays_is_no_silence():
    school = a_school()
    school.go_to(at(MONDAY, 18, 5))
    answer_all(school, "student0")
    school.run(lambda s: timetable.add_holiday(Journal(s), 1, MONDAY + DAY, MONDAY + 10 * DAY, "Break"))
    said = school.go_to(at(MONDAY + 11 * DAY, 19))
    assert [one.labels[0] for one in said] == ["Start"]


# ---------------------------------------------------------------- arrival, faults


def test_a_nudge_that_never_arrived_is_not_held_against_the_student():
    school = a_school()
    school.go_to(at(MONDAY, 18, 5))

    def drop(session: Any) -> None:
        item = session.exec(select(OutboxItem).where(OutboxItem.nudge_id == 1)).one()
        item.state = OutboxState.DROPPED

    school.run(drop)
    school.go_to(at(MONDAY + DAY, 18, 5))
    first = rows(school, Nudge)[0]
    assert (first.state, first.sent_at) == (NudgeState.EXPIRED, None)


def test_a_nudge_that_fails_does_not_hold_up_the_others(monkeypatch, caplog):
    school = a_school(students=3)
    school.go_to(at(MONDAY, 17, 50))
    real = sending.send_one

    def fails_for_the_first(session, app_context, nudge_id, now):
        if nudge_id == 1:
            raise RuntimeError("Mira wrote 2.7")
        return real(session, app_context, nudge_id, now)

    monkeypatch.setattr(sending, "send_one", fails_for_the_first)
    assert len(nudges_sent(school.go_to(at(MONDAY, 18)))) == 2
    assert "Nudge 1 failed, ref" in caplog.text
    assert "Mira" not in caplog.text
    monkeypatch.setattr(sending, "send_one", real)
    assert len(nudges_sent(school.go_to(at(MONDAY, 18, 20)))) == 1


def test_a_worker_that_dies_after_any_statement_sends_every_nudge_once(sqlite_url):
    database = connect(sqlite_url)
    school = a_school(students=2)
    school.go_to(at(MONDAY, 17, 50))
    school.now = at(MONDAY, 18)
    frozen, deaths = school.freeze(), 0
    for after in range(1, 400, 3):
        school = frozen.thaw(database)
        if not _dies(school, after):
            break
        deaths += 1
        sent = nudges_sent(school.work())
        everything = nudges_sent(school.of("student0")) + nudges_sent(school.of("student1"))
        assert len(everything) == 2, after
        assert len({one.nudge_id for one in everything}) == 2
        assert len(sent) <= 2
    assert deaths > 10
    database.close()


class Death(BaseException):
    """The process is gone: nothing of ours can catch it."""


def _dies(school: Stage, after: int) -> bool:
    left = [after]

    def count(_statement: str) -> None:
        left[0] -= 1
        if left[0] == 0:
            raise Death

    work_context = WorkContext(school.db, school.app_context, HandClock(school.now))
    school.db.before_statement = count
    try:
        asyncio.run(sending.send_nudges(work_context))
    except Death:
        return True
    finally:
        school.db.before_statement = None
    school.collect()
    return False


# ---------------------------------------------------------------- storage


def test_a_nudge_of_a_day_cannot_be_planned_twice():
    school = a_school()
    now = datetime(2026, 11, 30, 12, tzinfo=UTC)

    def plan(session: Any) -> int | None:
        return nudges.plan(session, 1, MONDAY, now, now + DAY, [nudges.PlannedQuestion(1)], now)

    assert school.run(plan) is not None
    assert school.run(plan) is None
    assert len(rows(school, Review)) == 1


def test_the_question_not_asked_for_longest_comes_first():
    school = a_school(topics=1)
    asked = []
    for day in range(0, 12):
        school.go_to(at(MONDAY + day * DAY, 19))
        answer_all(school, "student0")
        asked = [r.question_id for r in rows(school, Review) if r.state is ReviewState.ANSWERED]
        if len(asked) >= 2:
            break
    first = asked[0]
    assert sorted(asked) == [1, 2]

    def coming(session: Any) -> list[int | None]:
        again = [nudges.PlannedQuestion(1)]
        day, now = school.now.date(), school.now
        nudge_id = nudges.plan(session, 1, day, now, now + DAY, again, now, number=9)
        return [line.to_ask for line in nudge_questions.lines(session, nudge_id or 0)]

    assert school.run(coming) == [first]


def test_an_answer_moves_the_students_last_answer():
    school = a_school()
    school.go_to(at(MONDAY, 18, 5))
    answer_all(school, "student0")
    assert rows(school, Enrolment)[0].last_answer_at == school.now
