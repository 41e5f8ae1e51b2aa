"""One nudge for a person and evening, over all classes; what was promised comes; what is answered counts."""

from __future__ import annotations

from collections import Counter, defaultdict
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any

import pytest
from sqlmodel import col, select

from bot.service.asking import nudges as sending
from bot.service.asking import planning
from bot.teaching.memories import Memories
from storage.asked import answers, evenings, nudge_questions, nudges, reviews
from storage.asked.evenings import Candidate
from storage.privacy import erasure
from storage.school import classes, enrolments
from storage.tables import (
    Answer,
    Enrolment,
    Lesson,
    Nudge,
    NudgeState,
    OutboxItem,
    Review,
    ReviewState,
    Verdict,
)
from storage.values import QUESTIONS_A_DAY_AT_MOST
from tests.dialogues import (
    CHOICE,
    MONDAY,
    TEXT,
    Group,
    Said,
    Stage,
    add_class,
    add_quiz,
    at,
    join,
    stage,
    teach,
)

DAY = timedelta(days=1)
NAMES = ("10B Physics", "10B Biology", "10B Chemistry", "10B History", "10B Music")


def rows(school: Stage, table: Any) -> Any:
    return school.run(lambda session: list(session.exec(select(table).order_by(col(table.id)))))


def nudges_sent(said: list[Said]) -> list[Said]:
    return [one for one in said if one.nudge_id is not None]


def classes_of_mira(
    count: int, *, topics: int = 6, hours: tuple[str, ...] = ("18:00",), **rules: Any
) -> tuple[Stage, list[Group]]:
    """Return a Monday morning on which Mira is in some classes, and what she chose in each."""
    school = stage(at(MONDAY - 3 * DAY, 12))
    groups = []
    for number in range(count):
        group = add_class(school, NAMES[number], f"Teacher {number}", **rules)
        for topic in range(topics):
            teach(
                school,
                group,
                f"{NAMES[number]} {topic}",
                at(MONDAY - (4 + topic) * DAY, 10),
                [CHOICE, CHOICE],
            )
        join(school, group, "mira", hours[number % len(hours)])
        groups.append(group)
    school.now = at(MONDAY, 7)
    return school, groups


def answer_all(school: Stage) -> None:
    if "Start" in school.of("mira")[-1].labels:
        school.press("mira", "Start")
    while school.of("mira")[-1].labels[-2:] == ["Not sure", "Later"]:
        school.press("mira", "10 cm")


def asked_by_class(school: Stage) -> Counter[int]:
    """Return how many questions of each class have an answer."""
    of = {row.id: row.class_id for row in rows(school, Enrolment)}
    return Counter(of[row.enrolment_id] for row in rows(school, Answer))


# ---------------------------------------------------------------- 4: per person


@pytest.mark.parametrize("count", [1, 2, 3, 4, 5])
def test_f04_any_number_of_classes_make_one_nudge_with_the_questions_of_all(count):
    school, groups = classes_of_mira(count)
    (sent,) = nudges_sent(school.go_to(at(MONDAY, 23)))
    assert sent.at == at(MONDAY, 18)
    expected = min(3 * count, QUESTIONS_A_DAY_AT_MOST)
    assert f"{expected} quick self-checks" in sent.text
    assert all(name in sent.text for name in NAMES[:count]) is (count > 1)
    answer_all(school)
    assert len(rows(school, Answer)) == expected
    assert set(asked_by_class(school)) == {group.id for group in groups}


def test_f04_four_classes_make_one_nudge_a_day_and_at_most_ten_questions():
    school, groups = classes_of_mira(4, topics=12)
    for day in range(5):
        (sent,) = nudges_sent(school.go_to(at(MONDAY + day * DAY, 18)))
        assert sent.at == at(MONDAY + day * DAY, 18)
        answer_all(school)
        assert not nudges_sent(school.go_to(at(MONDAY + day * DAY, 23)))
        school.say("mira", "next")
        school.work()
        shown = Counter(row.asked_at.date() for row in rows(school, Review) if row.asked_at is not None)
        assert max(shown.values()) == QUESTIONS_A_DAY_AT_MOST
    assert set(asked_by_class(school)) == {group.id for group in groups}


def test_f04_the_questions_come_best_first_over_all_classes_and_name_their_class():
    school, groups = classes_of_mira(3)
    school.go_to(at(MONDAY, 18))
    asked = [row for row in rows(school, Review) if row.position]
    assert len({row.nudge_id for row in asked}) == 1
    assert [row.position for row in sorted(asked, key=lambda row: -row.reason["gain"])] == list(range(1, 10))
    school.press("mira", "Start")
    of = {row.id: row.class_id for row in rows(school, Enrolment)}
    names = {group.id: name for group, name in zip(groups, NAMES, strict=False)}
    for row in sorted(asked, key=lambda row: row.position):
        head = school.of("mira")[-1].text.splitlines()[0]
        assert f"{row.position} of 9 · {names[of[row.enrolment_id]]} · " in head
        school.press("mira", "10 cm")


def test_f04_classes_with_different_hours_make_one_nudge_at_the_time_chosen_last():
    school, groups = classes_of_mira(3, hours=("16:00", "19:00", "17:30"))
    (sent,) = nudges_sent(school.go_to(at(MONDAY, 23)))
    assert sent.at == at(MONDAY, 17, 30)
    answer_all(school)
    (asked,) = school.say("mira", "time")
    assert "17:30" in asked.text  # what is said is what holds
    assert set(asked_by_class(school)) == {group.id for group in groups}


def test_f04_classes_whose_default_hours_differ_make_one_nudge_at_the_earliest():
    school, groups = classes_of_mira(2)

    def nothing_chosen(session: Any) -> None:
        for row in session.exec(select(Enrolment)):
            row.nudge_minute = None
        classes.change_rules(session, groups[1].id, nudge_minute=16 * 60)

    school.run(nothing_chosen)
    school.run(planning.look_soon, groups[0].id, school.now)
    school.run(planning.look_soon, groups[1].id, school.now)
    (sent,) = nudges_sent(school.go_to(at(MONDAY, 23)))
    assert sent.at == at(MONDAY, 16)
    answer_all(school)
    assert len(asked_by_class(school)) == 2


def test_f04_a_paused_class_is_left_out_and_the_others_come():
    school, groups = classes_of_mira(3)
    paused = school.run(
        lambda s: s.exec(select(Enrolment.id).where(Enrolment.class_id == groups[0].id)).one()
    )
    school.run(lambda s: enrolments.pause(s, paused))
    (sent,) = nudges_sent(school.go_to(at(MONDAY, 23)))
    assert NAMES[0] not in sent.text
    answer_all(school)
    assert set(asked_by_class(school)) == {groups[1].id, groups[2].id}


def test_f04_a_lesson_of_one_class_puts_off_the_nudge_of_all():
    school, groups = classes_of_mira(2)
    school.run(lambda s: s.add(Lesson(class_id=groups[1].id, topic_id=7, starts_at=at(MONDAY, 17, 30))))
    (sent,) = nudges_sent(school.go_to(at(MONDAY, 23)))
    assert sent.at == at(MONDAY, 18, 15)
    answer_all(school)
    assert len(asked_by_class(school)) == 2


def test_f04_weekly_lesson_hours_of_one_class_put_off_the_nudge_of_all():
    school, groups = classes_of_mira(2)
    hours = [[0, 17 * 60 + 30, 18 * 60 + 40]]
    school.run(lambda s: classes.change_rules(s, groups[1].id, lesson_hours=hours))
    (sent,) = nudges_sent(school.go_to(at(MONDAY, 23)))
    assert sent.at == at(MONDAY, 18, 40)
    answer_all(school)
    assert len(asked_by_class(school)) == 2


def test_f04_a_class_on_holiday_does_not_hold_up_the_others():
    from storage.school import timetable
    from storage.school.change_journal import Journal

    school, groups = classes_of_mira(2)
    school.run(lambda s: timetable.add_holiday(Journal(s), groups[1].id, MONDAY, MONDAY, "Trip"))
    (sent,) = nudges_sent(school.go_to(at(MONDAY, 23)))
    assert sent.at == at(MONDAY, 18)
    answer_all(school)
    assert set(asked_by_class(school)) == {groups[0].id}


def test_f04_where_a_class_allows_two_nudges_a_person_gets_two_and_still_ten_questions():
    school, groups = classes_of_mira(4, topics=12)
    school.run(lambda s: classes.change_rules(s, groups[0].id, nudges_per_day=2))
    school.run(planning.look_soon, groups[0].id, school.now)
    sent = nudges_sent(school.go_to(at(MONDAY, 16)))
    answer_all(school)
    sent += nudges_sent(school.go_to(at(MONDAY, 23)))
    answer_all(school)
    assert [one.at for one in sent] == [at(MONDAY, 15), at(MONDAY, 18)]
    assert len(rows(school, Answer)) == QUESTIONS_A_DAY_AT_MOST
    assert set(asked_by_class(school)) == {group.id for group in groups}


def test_f04_what_is_planned_after_the_days_nudge_waits_for_another_day():
    school, _groups = classes_of_mira(2)
    school.go_to(at(MONDAY, 18, 5))
    answer_all(school)
    third = add_class(school, NAMES[2], "Teacher 2")
    teach(school, third, "Late", at(MONDAY - 4 * DAY, 10), [CHOICE])
    join(school, third, "mira", "18:30")
    assert not nudges_sent(school.go_to(at(MONDAY, 23)))
    (sent,) = nudges_sent(school.go_to(at(MONDAY + DAY, 23)))
    assert sent.at == at(MONDAY + DAY, 18, 30)
    assert NAMES[2] in sent.text


def test_f04_next_before_the_evening_begins_one_nudge_of_all_classes_and_the_cap_holds():
    school, _groups = classes_of_mira(5, topics=6)
    school.go_to(at(MONDAY, 17, 50))
    school.say("mira", "next")
    answer_all(school)
    assert len(rows(school, Answer)) == QUESTIONS_A_DAY_AT_MOST
    assert len(asked_by_class(school)) == 5
    assert not nudges_sent(school.go_to(at(MONDAY, 23)))
    school.say("mira", "next")
    school.work()
    assert len([row for row in rows(school, Review) if row.asked_at is not None]) == QUESTIONS_A_DAY_AT_MOST


def test_f04_leaving_one_class_keeps_the_questions_of_the_others():
    school, _groups = classes_of_mira(3)
    school.go_to(at(MONDAY, 18, 5))
    (host,) = [row for row in rows(school, Nudge) if row.state is NudgeState.SENT]
    school.run(evenings.stop, host.enrolment_id, school.now)
    school.run(lambda s: enrolments.leave(s, host.enrolment_id, school.now))
    school.say("mira", "next")
    answer_all(school)
    given = rows(school, Answer)
    assert len(given) == 6
    assert host.enrolment_id not in {row.enrolment_id for row in given}
    assert not [row for row in rows(school, Review) if row.state in (ReviewState.PLANNED, ReviewState.OPEN)]


@pytest.mark.parametrize("what", ["enrolment", "class"])
def test_f04_erasing_one_class_of_a_person_keeps_the_answers_of_the_others(what):
    school, _groups = classes_of_mira(3)
    school.go_to(at(MONDAY, 18, 5))
    answer_all(school)
    (host,) = [row for row in rows(school, Nudge) if row.state is NudgeState.DONE and row.sent_at is not None]
    of = {row.id: row.class_id for row in rows(school, Enrolment)}
    if what == "class":
        school.run(erasure.erase_class, of[host.enrolment_id], school.now)
    else:
        school.run(erasure.erase_enrolment, host.enrolment_id, school.now)
    assert len(rows(school, Answer)) == 6
    assert {row.enrolment_id for row in rows(school, Review)} == set(of) - {host.enrolment_id}


def test_f04_silence_is_noted_once_for_all_classes():
    school, _ = classes_of_mira(3)
    said = school.go_to(at(MONDAY + 20 * DAY, 20))
    (asked,) = [one for one in said if "not heard from you for a week" in one.text]
    assert said[-1] is asked
    assert all(name in asked.text for name in NAMES[:3])


def test_f04_a_quiz_of_one_of_several_classes_is_named_with_its_class():
    school, groups = classes_of_mira(2)
    topic = school.run(
        lambda s: s.exec(select(Lesson.topic_id).where(Lesson.class_id == groups[1].id)).first()
    )
    add_quiz(school, groups[1], at(MONDAY + DAY, 10), [topic], "Cells quiz")
    (sent,) = nudges_sent(school.go_to(at(MONDAY, 18)))
    assert "Tomorrow is Cells quiz in 10B Biology; " in sent.text


def test_f04_no_subject_is_left_out_for_ever_even_where_there_are_more_than_questions():
    """Twelve classes, ten questions, gains that never change: each is asked at least every second evening."""
    found = [Candidate(number, number, number, 1.0 / (1 + number)) for number in range(12)]
    asked_at: dict[int, datetime] = {}
    seen: dict[int, list[int]] = defaultdict(list)
    for evening in range(10):
        for one in evenings.fair(found, QUESTIONS_A_DAY_AT_MOST, asked_at):
            asked_at[one.enrolment_id] = at(MONDAY + evening * DAY, 18)
            seen[one.enrolment_id].append(evening)
    assert set(seen) == set(range(12))
    assert max(later - earlier for days in seen.values() for earlier, later in pairwise(days)) <= 2


# ---------------------------------------------------------------- 5: what is promised


def test_f05_who_joins_on_the_morning_of_a_lesson_day_gets_what_was_promised():
    school = stage(at(MONDAY, 8))
    group = add_class(school)
    noon = at(MONDAY, 12) + timedelta(microseconds=1)  # no time was given
    teach(school, group, "Density", noon, [CHOICE, CHOICE])
    users = [f"student{number}" for number in range(9)]
    for user in users:
        join(school, group, user)
        assert "Next questions: today at 18:00." in school.of(user)[-1].text
    school.go_to(at(MONDAY, 18, 5))
    for user in users:
        assert len(nudges_sent(school.of(user))) == 1, user


def test_f05_who_is_asked_before_school_does_not_fix_the_day_of_the_others():
    school = stage(at(MONDAY - 3 * DAY, 12))
    group = add_class(school)
    teach(school, group, "Springs", at(MONDAY - 4 * DAY, 10), [CHOICE])
    join(school, group, "early", "07:40")
    join(school, group, "late", "18:00")
    topic = teach(school, group, "Density", at(MONDAY, 10), [CHOICE])
    school.go_to(at(MONDAY, 18, 5))
    late = school.run(lambda s: s.exec(select(Enrolment.id).where(Enrolment.name == "Late")).one())
    today = [row for row in rows(school, Review) if row.enrolment_id == late]
    assert topic in {row.topic_id for row in today}


@pytest.mark.parametrize("taught", [None, MONDAY + 3 * DAY])
def test_f05_nothing_is_promised_for_a_day_that_has_nothing_to_ask(taught):
    school = stage(at(MONDAY, 8))
    group = add_class(school)
    if taught is not None:
        teach(school, group, "Density", at(taught, 10), [CHOICE])
    join(school, group, "mira")
    said = school.of("mira")[-1].text
    assert "today" not in said
    assert ("Next questions: at 18:00, as soon as there are some." in said) is (taught is None)
    assert ("Next questions: Thu 3 Dec at 18:00." in said) is (taught is not None), said


# ---------------------------------------------------------------- 6: left unanswered


def test_f06_what_was_left_unanswered_is_asked_the_next_evening():
    school = stage(at(MONDAY - 3 * DAY, 12))
    group = add_class(school)
    for number in range(3):
        teach(school, group, f"Topic {number}", at(MONDAY - (4 + number) * DAY, 10), [CHOICE, CHOICE])
    for number in range(9):
        join(school, group, f"student{number}")
    school.now = at(MONDAY, 7)
    school.go_to(at(MONDAY, 18))
    for number in range(1, 9):
        school.press(f"student{number}", "Start")
        for _ in range(number % 3):
            school.press(f"student{number}", "10 cm")
    said = nudges_sent(school.go_to(at(MONDAY + DAY, 18)))
    assert {one.address for one in said if one.at.date() == MONDAY + DAY} == {
        f"chat-student{number}" for number in range(9)
    }


def test_f06_a_question_answered_late_is_not_asked_again_that_evening():
    """The answer may come after the evening was planned: the topic is looked at again when the nudge goes out."""
    school = stage(at(MONDAY - 3 * DAY, 12))
    group = add_class(school)
    teach(school, group, "Topic", at(MONDAY - 4 * DAY, 10), [CHOICE, CHOICE])
    join(school, group, "mira")
    school.now = at(MONDAY, 7)
    school.go_to(at(MONDAY, 18))
    school.press("mira", "Start")
    school.go_to(at(MONDAY + DAY, 17, 50))
    assert len(rows(school, Review)) == 2  # planned again
    school.press("mira", "10 cm")
    assert not nudges_sent(school.go_to(at(MONDAY + DAY, 23)))
    assert len(rows(school, Answer)) == 1


# ---------------------------------------------------------------- 9: in the middle of it


def one_class(*keys: Any) -> Stage:
    school = stage(at(MONDAY - 3 * DAY, 12))
    group = add_class(school)
    for number in range(5):
        teach(school, group, f"Topic {number}", at(MONDAY - (4 + number) * DAY, 10), keys or (CHOICE, CHOICE))
    join(school, group, "mira")
    school.now = at(MONDAY, 7)
    return school


def test_f09_the_days_nudge_waits_for_who_is_just_answering():
    school = one_class()
    school.go_to(at(MONDAY, 18))
    school.go_to(at(MONDAY + DAY, 17, 55))
    school.press("mira", "Start")
    assert not nudges_sent(school.go_to(at(MONDAY + DAY, 18, 5)))
    school.press("mira", "10 cm")
    assert len(rows(school, Answer)) == 1
    (sent,) = nudges_sent(school.go_to(at(MONDAY + DAY, 19)))
    assert sent.at == at(MONDAY + DAY, 18, 20)  # a quarter of an hour after the last question was shown


def test_f09_where_the_day_leaves_no_time_to_wait_the_question_being_answered_stays_open():
    school = one_class()
    school.say("mira", "time 19:55")
    school.go_to(at(MONDAY, 19, 55))
    school.go_to(at(MONDAY + DAY, 19, 54))
    school.press("mira", "Start")
    (sent,) = nudges_sent(school.go_to(at(MONDAY + DAY, 19, 56)))
    assert sent.at == at(MONDAY + DAY, 19, 55)
    school.press("mira", "10 cm")
    assert [row.verdict for row in rows(school, Answer)] == [Verdict.RIGHT]
    waiting = [row for row in rows(school, Review) if row.state in (ReviewState.PLANNED, ReviewState.OPEN)]
    assert {row.nudge_id for row in waiting} == {sent.nudge_id}
    answered = {row.topic_id for row in rows(school, Review) if row.state is ReviewState.ANSWERED}
    assert not answered & {row.topic_id for row in waiting}


@pytest.mark.parametrize(("minutes", "counts"), [(10, True), (16, False)])
@pytest.mark.parametrize("typed", [False, True])
def test_f09_an_answer_to_a_question_closed_minutes_ago_counts(minutes, counts, typed):
    school = one_class(TEXT, TEXT) if typed else one_class()
    school.go_to(at(MONDAY, 18))
    school.press("mira", "Start")
    option = "" if typed else school.button("mira", "10 cm").action
    (sent,) = nudges_sent(school.go_to(at(MONDAY + DAY, 18)))
    school.go_to(at(MONDAY + DAY, 18, minutes))
    said = school.say("mira", "photosynthesis") if typed else school.press_action("mira", option)
    assert [row.verdict for row in rows(school, Answer)] == ([Verdict.RIGHT] if counts else [])
    assert any("✓ Right" in one.text for one in said) is counts
    school.press("mira", "Start")
    (opened,) = [row for row in rows(school, Review) if row.state is ReviewState.OPEN]
    assert opened.nudge_id == sent.nudge_id
    for _ in range(3):  # the topic that was answered late stands in the new nudge too: it is passed over
        if typed:
            school.say("mira", "photosynthesis")
        elif "Not sure" in school.of("mira")[-1].labels:
            school.press("mira", "10 cm")
    given = Counter(row.topic_id for row in rows(school, Answer))
    assert len(given) == 3
    assert set(given.values()) == {1}


def test_f09_a_declined_question_stays_closed():
    school = one_class()
    school.go_to(at(MONDAY, 18))
    not_today = school.button("mira", "Not today").action
    school.press("mira", "Start")
    option = school.button("mira", "10 cm").action
    school.press_action("mira", not_today)
    school.press_action("mira", option)
    assert not rows(school, Answer)


# ---------------------------------------------------------------- 35: checks that nothing watched


def test_f35_a_nudge_that_is_not_planned_any_more_is_never_sent():
    school = one_class()
    school.go_to(at(MONDAY, 17, 50))
    (planned,) = rows(school, Nudge)
    for state in set(NudgeState) - {NudgeState.PLANNED}:
        school.run(nudges.set_state, planned.id, state)
        assert not school.run(sending.send_one, school.app_context, planned.id, at(MONDAY, 18))
    school.run(nudges.set_state, planned.id, NudgeState.PLANNED)
    assert not school.run(sending.send_one, school.app_context, planned.id, at(MONDAY, 17, 59))
    assert school.run(sending.send_one, school.app_context, planned.id, at(MONDAY, 18))
    assert not school.run(sending.send_one, school.app_context, planned.id, at(MONDAY, 18))
    assert (
        len(school.run(lambda s: s.exec(select(OutboxItem).where(OutboxItem.nudge_id == planned.id)).all()))
        == 1
    )


@pytest.mark.parametrize("state", [one for one in ReviewState if one is not ReviewState.OPEN])
def test_f35_an_answer_is_recorded_to_an_open_question_only(state):
    school = one_class()
    school.go_to(at(MONDAY, 18))
    school.press("mira", "Start")
    (opened,) = [row for row in rows(school, Review) if row.state is ReviewState.OPEN]

    def give(session: Any) -> bool:
        session.get_one(Review, opened.id).state = state
        session.flush()
        person = session.exec(select(Enrolment.person_id)).one()
        review = reviews.of_student(session, opened.id, person)
        return answers.record(
            session, review, Verdict.RIGHT, school.now, given="10 cm", option=0, chance=0.25, on_time=True
        )

    assert school.run(give) is False
    assert not rows(school, Answer)


def test_f35_a_topic_answered_today_is_not_planned_again_today():
    school = one_class()
    school.go_to(at(MONDAY, 18))
    answer_all(school)
    done = {row.topic_id for row in rows(school, Answer)}
    assert len(done) == 3
    day = school.run(lambda s: planning.look(s, 1, school.now, only=1))
    assert {pair[1] for pair in day.waiting} == done
    chosen = planning.choose(Memories(), day, school.now)
    assert {one.topic_id for one in chosen[1]} == {1, 2, 3, 4, 5} - done


def test_f35_a_topic_answered_since_it_was_planned_is_dropped_from_the_nudge():
    school = one_class()
    school.go_to(at(MONDAY, 17, 50))
    (nudge,) = rows(school, Nudge)
    planned = [row for row in rows(school, Review) if row.nudge_id == nudge.id]

    def answered_elsewhere(session: Any) -> None:
        asked = [nudges.PlannedQuestion(planned[0].topic_id)]
        now = school.now
        other = nudges.plan(session, 1, MONDAY, now, now + DAY, asked, now, number=11, asked_for=True)
        (line,) = nudge_questions.lines(session, other or 0)
        reviews.show(session, line.review_id, line.to_ask or 0, [], now)
        person = session.exec(select(Enrolment.person_id)).one()
        review = reviews.of_student(session, line.review_id, person)
        assert answers.record(
            session, review, Verdict.RIGHT, now, given="", option=0, chance=0.25, on_time=True
        )
        nudges.close(session, other or 0, NudgeState.DONE, now)

    school.run(answered_elsewhere)
    (sent,) = nudges_sent(school.go_to(at(MONDAY, 18)))
    assert "2 quick self-checks" in sent.text
    answer_all(school)
    assert Counter(row.topic_id for row in rows(school, Answer))[planned[0].topic_id] == 1


def test_f35_ten_a_day_hold_whatever_stands_in_the_rules():
    """A rule that lets more than ten through, past the check of the rules, still asks ten."""
    school = stage(at(MONDAY - 3 * DAY, 12))
    group = add_class(school)
    for number in range(16):
        teach(school, group, f"Topic {number}", at(MONDAY - (4 + number) * DAY, 10), [CHOICE])
    join(school, group, "mira")

    def lift(session: Any) -> None:
        row = classes.get(session, group.id)
        row.nudges_per_day, row.questions_per_nudge = 2, 9

    school.run(lift)
    school.now = at(MONDAY, 7)
    school.go_to(at(MONDAY, 14, 50))
    day = school.run(planning.look, group.id, school.now)
    assert [seat.cap for seat in day.student_days] == [QUESTIONS_A_DAY_AT_MOST]
    assert len(rows(school, Review)) <= QUESTIONS_A_DAY_AT_MOST
    school.go_to(at(MONDAY, 18, 5))
    answer_all(school)
    for _ in range(3):
        school.say("mira", "next")
        school.work()
        answer_all(school)
    assert len(rows(school, Answer)) == QUESTIONS_A_DAY_AT_MOST
    seat = school.run(lambda s: planning.look(s, group.id, school.now, only=1)).student_days[0]
    assert seat.cap == 0
