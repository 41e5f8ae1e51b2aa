"""A teacher sets up and keeps a class: codes, rules, students, calendar; through the real loop."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from sqlmodel import select

from bot.words import words
from storage.asked import homework
from storage.school import classes, codes, enrolments, people, timetable
from storage.school.change_journal import Journal
from storage.tables import Absence, CodeKind, Due, EnrolmentState, HomeworkReport, OutboxItem
from storage.values import ConsentRule
from tests.teaching import START, School, Talker


def students(school: School, *names: str) -> list[int]:
    with school.db.begin() as session:
        return [
            enrolments.join(
                session,
                1,
                people.meet(session, "terminal", name, f"@{name}", START).person_id,
                name,
                START,
            ).id
            or 0
            for name in names
        ]


def lesson(
    school: School, topic: str, day: str = "2026-11-25T08:00:00+00:00", *, task: str | None = None
) -> int:
    with school.db.begin() as session:
        group = classes.get(session, 1)
        taught = timetable.teach(Journal(session), group, topic, datetime.fromisoformat(day), homework=task)
        return taught.lesson.id or 0


def planned(school: School) -> int:
    """How many looks at the class's plan stand to be done within minutes."""
    with school.db.begin() as session:
        found = session.exec(select(Due).where(Due.kind == "plan_class")).all()
        return sum(1 for one in found if one.due_at <= school.clock.now() + timedelta(minutes=2))


# ---------------------------------------------------------------- making a class


def test_a_class_is_made_in_four_short_questions_and_shows_its_code(school: School):
    teacher = school.teacher(with_class="")
    assert teacher.says("hello") == "You have no class yet. Make one first."
    assert "What is the class called?" in teacher.presses("Make a class")
    assert "which subject" in teacher.says("10B Physics")
    teacher.says("physics")
    teacher.says("Ms Okafor")
    said = teacher.says("berlin")
    assert said.startswith("10B Physics is ready.")
    assert "to join, students open https://chat.example/" in said
    with school.db.begin() as session:
        (made,) = classes.of_teacher(session, teacher.person_id)
        assert (made.name, made.subject, made.zone) == ("10B Physics", "physics", "Europe/Berlin")
        assert [one.name for one in classes.teachers(session, made.id or 0)] == ["Ms Okafor"]
        picture = session.exec(select(OutboxItem).where(OutboxItem.blob_name == "join.png")).one()
        assert picture.blob_alt.startswith("https://chat.example/")


def test_a_command_leads_out_of_any_question(school: School):
    teacher = school.teacher(with_class="")
    teacher.says("create")
    assert teacher.says("cancel") == "Stopped. Nothing was stored."
    teacher.says("create 9A Chemistry")
    teacher.says("chemistry")
    teacher.says("Mr Brown")
    assert teacher.says("Atlantis").startswith("I know no time zone “Atlantis”.")
    assert "Which of these?" in teacher.says("Argentina")
    teacher.presses("America/Argentina/Cordoba")
    assert teacher.says("class").startswith("You are at 9A Chemistry.")


def test_nobody_makes_a_class_without_a_teachers_code(school: School, teacher: Talker):
    from bot.service.engine.effects import Speaker, Work, carry_out
    from bot.talk.teacher.effects import CreateClass, Refused

    with school.db.begin() as session:
        nobody = people.meet(session, "terminal", "mallory", "@mallory", START).person_id
        work = Work(
            session,
            START,
            Speaker("terminal", "mallory", "@mallory"),
            nobody,
            school.app_context,
            words("en"),
        )
        (result,) = carry_out(work, CreateClass("X", "", "UTC", "M"))
    assert isinstance(result, Refused)


def test_a_new_code_can_stop_the_ones_before(school: School, teacher: Talker):
    first = teacher.says("code").split("send me the code ")[1][:11]
    second = teacher.presses("New code").split("send me the code ")[1][:11]
    with school.db.begin() as session:
        good = [
            codes.look(session, text, platform="terminal", user="m", now=START).code is not None
            for text in (first, second)
        ]
    assert good == [False, True]


def test_a_second_teacher_comes_in_by_a_code_that_works_once(school: School, teacher: Talker):
    from bot.service.engine.effects import Speaker, Work
    from bot.service.teacher.code_effects import accept

    text = teacher.says("invite").split("one colleague: ")[1][:10]
    with school.db.begin() as session:
        looked = codes.redeem(
            session, text, platform="terminal", user="brown", now=START, kinds=(CodeKind.TEACHER,)
        )
        assert looked.code is not None
        work = Work(
            session, START, Speaker("terminal", "brown", "@brown"), None, school.app_context, words("en")
        )
        accept(work, looked.code, "Mr Brown")
        again = codes.redeem(session, text, platform="terminal", user="green", now=START)
        assert again.code is None
        assert [one.name for one in classes.teachers(session, 1)] == ["Ms Okafor", "Mr Brown"]


def test_a_teacher_of_two_classes_changes_between_them(school: School, teacher: Talker):
    with school.db.begin() as session:
        classes.create(
            session,
            name="9A Chemistry",
            zone="Europe/London",
            teacher_id=teacher.person_id,
            teacher_name="Ms Okafor",
            now=START,
        )
    assert "Now at 9A Chemistry" in teacher.says("class 9A")
    teacher.says("New topic: Acids")
    with school.db.begin() as session:
        assert [one.name for one in timetable.topics(session, 2, START)] == ["Acids"]
        assert timetable.topics(session, 1, START) == []
    teacher.says("class")
    teacher.presses("10B Physics")
    assert teacher.says("topics").startswith("There is no topic yet.")


def test_a_button_of_another_teachers_class_does_nothing(school: School, teacher: Talker):
    lesson(school, "Density")
    stranger = school.teacher("brown", with_class="9A Chemistry")
    for action in (
        "teacher:missed:1:1",
        "teacher:remove:1:1",
        "teacher:pull:1:report",
        "teacher:questions:1:1",
        "teacher:rule:1:nudge",
        "teacher:nosuch:1",
        "teacher:",
        "teacher:use:1:999999999999999999999",
    ):
        assert stranger.acts(action) == "This button belongs to somebody else, so nothing happened."


# ---------------------------------------------------------------- rules


def test_rules_are_shown_together_and_changed_one_by_one(school: School, teacher: Talker):
    assert "Questions at 18:00, 3 at a time, 1 × a day" in teacher.says("rules")
    assert "At what time" in teacher.presses("Time of questions")
    assert "Questions at 19:00" in teacher.says("19:00")
    assert "Lesson hours: Monday 08:00–08:45" in teacher.says("rules lessons Mon 8:00-8:45")
    assert "Permission of the school needed: yes" in teacher.says("rules permission yes")
    with school.db.begin() as session:
        assert classes.get(session, 1).consent is ConsentRule.SCHOOL
    assert planned(school) == 1


@pytest.mark.parametrize(
    ("text", "answer"),
    [
        ("rules questions 11", "1 to 10 questions at a time are possible"),
        ("rules nudge 22:00", "22:00 lies in the quiet hours, 20:00 to 07:30."),
        ("rules nudges 3", "Questions can come 1 to 2 times a day."),
    ],
)
def test_no_rule_lifts_what_protects_students(school: School, teacher: Talker, text: str, answer: str):
    assert answer in teacher.says(text)
    with school.db.begin() as session:
        group = classes.get(session, 1)
        assert (group.questions_per_nudge, group.nudge_minute, group.nudges_per_day) == (3, 1080, 1)


def test_ten_questions_a_day_are_the_most(school: School, teacher: Talker):
    teacher.says("rules questions 6")
    assert "at most 10 are allowed" in teacher.says("rules nudges 2")


# ---------------------------------------------------------------- students


def test_permission_is_noted_for_one_or_for_all_who_wait(school: School, teacher: Talker):
    teacher.says("rules permission yes")
    students(school, "Mira", "Tom", "Elif")
    assert "3 wait for permission: Elif, Mira, Tom" in teacher.says("students")
    assert "3 students wait" in teacher.says("permit")
    teacher.presses("Tom")
    assert "Noted for 2 students: Elif, Mira" in (teacher.says("permit") and teacher.presses("All 2"))
    assert teacher.says("permit") == "Nobody waits for permission."
    with school.db.begin() as session:
        assert {one.state for one in enrolments.roster(session, 1)} == {EnrolmentState.ACTIVE}


def test_parents_can_give_their_permission_by_a_code(school: School, teacher: Talker):
    teacher.says("rules permission yes")
    students(school, "Mira")
    assert "waits for the school’s permission" in teacher.says("students Mira")
    code = teacher.presses("Code for the parents").split("parents: ")[1][:10]
    parent = Talker(school, "parent", 0)
    parent.says(code)
    with school.db.begin() as session:
        assert [one.state for one in enrolments.roster(session, 1)] == [EnrolmentState.ACTIVE]


def test_a_teachers_code_makes_somebody_a_teacher_who_is_asked_for_the_first_class(school: School):
    with school.db.begin() as session:
        text = codes.issue(session, CodeKind.TEACHER, now=START, uses=1).text
    newcomer = Talker(school, "brown", 0)
    assert newcomer.says(text).startswith("Welcome. You can make classes here now.")
    assert newcomer.last[0].menu
    assert "which subject" in newcomer.says("9A Chemistry")


def test_help_fits_the_role(school: School, teacher: Talker):
    said = teacher.says("help")
    assert "report" in said
    assert "progress" not in said
    assert "erase" in said


def test_a_student_can_be_renamed_and_removed_after_a_question(school: School, teacher: Talker):
    students(school, "Mira")
    assert teacher.says("students mira") == "Mira is asked questions."
    teacher.presses("Another name")
    assert teacher.says("Mira K.") == "It is Mira K. now."
    teacher.says("students Mira")
    assert "Remove Mira K. from the class?" in teacher.presses("Remove from the class")
    assert teacher.presses("Remove") == "Mira K. is no longer in the class."
    assert teacher.says("students") == "Nobody has joined yet. code shows how."


def test_a_whole_name_means_that_student_whoever_else_begins_so(school: School, teacher: Talker):
    students(school, "Tom", "Tomas", "Ann O'Neill")
    lesson(school, "Density")
    assert teacher.says("students tom") == "Tom is asked questions."
    assert teacher.says("students Toma") == "Tomas is asked questions."
    assert teacher.says("students  Ann  O’Neill") == "Ann O'Neill is asked questions."
    assert "I do not know who is meant by To" in teacher.says("students To")
    assert "Noted: Tom, Ann O'Neill missed" in teacher.says("absent Tom, Ann O’Neill")


# ---------------------------------------------------------------- the calendar


def test_absence_is_noted_by_name_and_by_button(school: School, teacher: Talker):
    mira, tom = students(school, "Mira", "Tom")
    lesson(school, "Density")
    assert "Noted: Tom, Mira missed Density on Wed 25 Nov." in teacher.says("absent tom and Mira")
    with school.db.begin() as session:
        assert {one.enrolment_id for one in session.exec(select(Absence))} == {mira, tom}
    teacher.says("absent")
    assert "2 students missed it" in teacher.presses("Wed 25 Nov: Density")
    assert "1 student missed it" in teacher.presses("✗ Tom")
    with school.db.begin() as session:
        assert {one.enrolment_id for one in session.exec(select(Absence))} == {mira}
    assert "I do not know who is meant by Nobody" in teacher.says("absent Nobody")


def test_the_homework_list_is_corrected_by_the_teachers_word(school: School, teacher: Talker):
    (mira,) = students(school, "Mira")
    task = lesson(school, "Density", task="p. 12")
    with school.db.begin() as session:
        person = enrolments.get(session, mira).person_id
        homework.report(session, person, task, True, START)
    assert teacher.says("homework").startswith("Density: 1 of 1 did the homework.")
    assert teacher.presses("✓ Mira").startswith("Density: 0 of 1 did the homework.")
    with school.db.begin() as session:
        (row,) = session.exec(select(HomeworkReport)).all()
        assert (row.done, row.by_teacher) == (False, True)
        assert not homework.report(session, person, task, True, START)


def test_a_holiday_is_added_with_its_name_and_taken_away(school: School, teacher: Talker):
    assert teacher.says("holiday 21 Dec - 3 Jan winter break") == (
        "No questions from Mon 21 Dec to Sun 3 Jan. Reviews follow."
    )
    assert teacher.says("holiday 21 Dec - 3 Jan") == "I have that holiday already."
    assert "I could not read days" in teacher.says("holiday sometime")
    teacher.says("cancel")
    teacher.says("holiday")
    assert "school days again" in teacher.presses("Take away winter break")
    assert teacher.says("undo") == "Taken back: no holiday from Mon 21 Dec. Everything is as it was before."
    with school.db.begin() as session:
        assert [one.name for one in timetable.holidays(session, 1)] == ["winter break"]


def test_a_quiz_is_moved_and_a_doubtful_day_is_asked(school: School, teacher: Talker):
    teacher.says("New topic: Density\nquiz: 11 Dec")
    assert "Fri 11 Dec: quiz, 1 topic" in teacher.says("quiz")
    teacher.presses("Move the one on Fri 11 Dec")
    assert "Which of these days?" in teacher.says("12/1/2027")
    assert "could not read" in teacher.says("sometime")
    assert "is past" in teacher.says("yesterday")
    assert teacher.says("14 Dec") == "The quiz is on Mon 14 Dec now. Reviews follow."
    assert teacher.says("quiz 14 Dec") == "The quiz is on Mon 14 Dec already."
    assert teacher.says("quiz yesterday") == "Tue 24 Nov is past. Which day ahead?"
    assert teacher.says("14 Dec") == "The quiz is on Mon 14 Dec already."
    teacher.says("undo")
    with school.db.begin() as session:
        assert [str(one.day) for one in timetable.quizzes(session, 1)] == ["2026-12-11"]


def test_plans_follow_every_change_of_the_calendar(school: School, teacher: Talker):
    for text in ("New topic: Density", "holiday 8 Dec", "undo"):
        with school.db.begin() as session:
            for row in session.exec(select(Due).where(Due.kind == "plan_class")):
                session.delete(row)
        teacher.says(text)
        assert planned(school) == 1, text


# ---------------------------------------------------------------- by itself


def test_topics_without_questions_are_reminded_of_on_the_next_school_day_at_15(
    school: School, teacher: Talker
):
    assert "I will remind you on Thursday at 15:00." in teacher.says("New topic: Density")
    assert school.work(until=datetime(2026, 11, 26, 14, 59, tzinfo=UTC)) == []
    said = teacher.hears(school.work(until=datetime(2026, 11, 26, 15, 0, tzinfo=UTC)))
    assert said.startswith("Density has no questions yet, so nobody in 10B Physics is asked about it.")
    assert "Send the questions for Density" in teacher.presses("Density")
    assert teacher.hears(school.work(until=datetime(2026, 11, 27, 15, 0, tzinfo=UTC))) == ""


def test_topics_that_got_questions_are_not_reminded_of(school: School, teacher: Talker):
    teacher.says("New topic: Density")
    teacher.says("add Density")
    teacher.says("Density of water? / 1 g/cm³")
    assert teacher.hears(school.work(until=datetime(2026, 11, 26, 15, 0, tzinfo=UTC))) == ""


def test_a_reminder_of_a_day_that_is_over_is_not_sent(school: School, teacher: Talker):
    teacher.says("New topic: Density")
    assert teacher.hears(school.work(until=datetime(2026, 11, 27, 14, 0, tzinfo=UTC))) == ""


def test_the_weekly_report_comes_by_itself_at_the_classs_hour(school: School, teacher: Talker):
    teacher.says("rules report Thu 16:00")
    assert school.work(until=datetime(2026, 11, 26, 15, 59, tzinfo=UTC)) == []
    said = teacher.hears(school.work(until=datetime(2026, 11, 26, 16, 0, tzinfo=UTC)))
    assert "10B Physics · week 48" in said
    assert [one.label for one in teacher.buttons()] == ["Workbook", "Forecast", "Starter"]
    assert teacher.hears(school.work(until=datetime(2026, 11, 27, 16, 0, tzinfo=UTC))) == ""
    said = teacher.hears(school.work(until=datetime(2026, 12, 3, 16, 0, tzinfo=UTC)))
    assert "week 49" in said
