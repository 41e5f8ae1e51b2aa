"""What a teacher answers once shows the choice then, and a second press cannot do something else."""

from __future__ import annotations

import pytest

from storage.school import channels, classes, enrolments, people, timetable
from storage.school.change_journal import Journal
from tests.teaching import START, School, Talker

TIMETABLE = b"date,topic,kind\n2026-11-16,Springs,lesson\n2026-11-18,Density,lesson\n2026-12-11,Quiz 1,quiz\n"
DOUBTFUL = b"date,topic,kind\n03/11/2026,Springs,lesson\n04/11/2026,Density,lesson\n"


def teach(school: School, *topics: str) -> None:
    with school.db.begin() as session:
        group = classes.get(session, 1)
        for topic in topics:
            timetable.teach(Journal(session), group, topic, START)


def settled(teacher: Talker) -> list[str]:
    """Return what the menus show that were settled last: their last line."""
    return [message.text.plain.rsplit("\n", 1)[-1] for message in teacher.settled]


def test_the_questions_on_the_way_to_a_class_are_answered_once(school: School):
    teacher = school.teacher(with_class="")
    teacher.says("create 10B Physics")
    teacher.presses("Leave it out")
    assert settled(teacher) == ["→ Leave it out"]
    teacher.says("Ms Okafor")
    teacher.says("Springfield")  # no zone's city: what was offered stays
    assert settled(teacher) == []
    teacher.says("London")
    assert settled(teacher) == ["→ Europe/London"]


def test_a_typed_subject_is_shown_where_it_was_asked_for(school: School):
    teacher = school.teacher(with_class="")
    teacher.says("create 10B Physics")
    teacher.says("Physics")
    assert settled(teacher) == ["→ Physics"]


def test_a_class_that_was_kept_is_not_ended_by_the_button_beside(school: School, teacher: Talker):
    teacher.says("close")
    teacher.presses("Keep")
    assert settled(teacher) == ["→ Keep"]


def test_a_student_who_was_kept_is_not_removed_by_the_button_beside(school: School, teacher: Talker):
    with school.db.begin() as session:
        person = people.meet(session, "terminal", "mira", "@mira", START).person_id
        enrolments.join(session, 1, person, "Mira", START)
    teacher.says("students Mira")
    teacher.presses("Remove from the class")
    teacher.presses("Keep")
    assert settled(teacher) == ["→ Keep"]


def test_what_was_read_is_used_or_dropped_once_and_its_problems_stay_readable(
    school: School, teacher: Talker
):
    teacher.sends("t.csv", TIMETABLE + b"2026-12-03,,lesson\n", caption="timetable")
    teacher.presses("Use the other 3 rows")
    (message,) = teacher.settled
    assert "Row 5" in message.text.plain
    assert message.text.plain.endswith("→ Use the other 3 rows")
    assert not message.buttons


def test_the_list_of_changes_takes_over_from_the_preview(school: School, teacher: Talker):
    teacher.sends("t.csv", TIMETABLE, caption="timetable")
    teacher.presses("Use it")
    teacher.sends("t.csv", TIMETABLE.replace(b"Springs", b"Coils"), caption="timetable")
    teacher.presses("Show me")
    assert settled(teacher) == ["→ Show me"]
    assert [one.label for one in teacher.buttons()] == ["They are two topics", "Apply", "Cancel"]
    teacher.presses("They are two topics")
    (message,) = teacher.last
    assert message.replaces == message.key  # it stands where the list stood
    teacher.presses("Apply")
    assert settled(teacher) == ["→ Apply"]


def test_two_files_can_wait_for_their_word_at_once(school: School, teacher: Talker):
    teacher.sends("t.csv", TIMETABLE, caption="timetable")
    first = next(one.action for one in teacher.buttons() if one.label == "Use it")
    teacher.sends("names.csv", b"name\nMira\nJonas\n", caption="class list")
    teacher.presses("Use it")
    assert len(settled(teacher)) == 1
    teacher.acts(first)
    assert settled(teacher) == ["→ Use it"]


def test_an_order_of_day_and_month_is_chosen_and_what_comes_of_it_stands_in_the_same_place(
    school: School, teacher: Talker
):
    teacher.sends("t.csv", DOUBTFUL, caption="timetable")
    (asked,) = teacher.last
    label = teacher.buttons()[0].label
    teacher.presses(label)
    assert settled(teacher) == [f"→ {label}"]
    teacher.hears(school.work())
    (read,) = teacher.last
    assert read.replaces == asked.key
    teacher.presses("Use it")
    assert settled(teacher) == ["→ Use it"]


def test_a_topic_post_is_confirmed_once_and_can_still_be_taken_back(school: School, teacher: Talker):
    teacher.says("New topic: Pressure")
    teacher.presses("Change")
    assert settled(teacher) == ["→ Change"]
    assert teacher.presses("Not a topic").startswith("Taken back.")


def test_a_topic_post_of_ones_own_can_be_confirmed_by_typing(school: School, teacher: Talker):
    teacher.says("New topic: Pressure\nWhat is it? / force per area")
    assert "Pressure" in teacher.says("looks right")
    assert settled(teacher) == ["→ Looks right"]


def test_a_doubtful_post_is_settled_once(school: School, teacher: Talker):
    with school.db.begin() as session:
        channels.bind(session, 1, "terminal", "#class", START, title="10B")
    teacher.posts("new topic Hooke's law")
    teacher.presses("It is a topic")
    assert settled(teacher) == ["→ It is a topic"]


def test_a_question_goes_to_one_topic_and_no_second_press_asks_for_more(school: School, teacher: Talker):
    teach(school, "Springs", "Density")
    teacher.says("What is the unit of force? / newton")
    teacher.presses("Springs")
    assert settled(teacher) == ["→ Springs"]


def test_a_day_that_could_be_two_is_chosen_once(school: School, teacher: Talker):
    teacher.sends("t.csv", TIMETABLE, caption="timetable")
    teacher.presses("Use it")
    teacher.says("quiz")
    teacher.presses("Move the one")
    teacher.says("03/04/2027")
    label = teacher.buttons()[0].label
    teacher.presses(label)
    assert settled(teacher) == [f"→ {label}"]


def test_a_code_that_stops_the_one_before_takes_its_place(school: School, teacher: Talker):
    teacher.says("code")
    (before,) = teacher.last
    teacher.presses("New code")
    (after,) = teacher.last
    assert (before.replaces, after.replaces, after.key) == ("", before.key, before.key)
    teacher.says("code")  # one more code, and the one before is still good
    assert teacher.last[0].replaces == ""


# ---------------------------------------------------------------- what would read badly, or be untrue


def test_stopping_after_questions_were_stored_does_not_say_that_nothing_was(school: School, teacher: Talker):
    teach(school, "Springs")
    teacher.says("add Springs")
    teacher.says("What is the unit of force? / newton")
    assert teacher.says("cancel") == "Springs has 1 question now."
    assert teacher.says("cancel") == "There is nothing to stop."


def test_a_day_off_and_days_off_are_told_apart(school: School, teacher: Talker):
    assert teacher.says("holiday 8 Dec").startswith("No questions on Tue 8 Dec.")
    assert teacher.says("holiday 21 Dec - 3 Jan").startswith("No questions from Mon 21 Dec to Sun 3 Jan.")
    teacher.says("holiday")
    assert teacher.presses("Take away holiday, Tue 8 Dec").startswith("Tue 8 Dec is a school day again.")


def test_where_one_of_several_names_is_unknown_nobody_is_noted_and_that_is_said(
    school: School, teacher: Talker
):
    with school.db.begin() as session:
        person = people.meet(session, "terminal", "mira", "@mira", START).person_id
        enrolments.join(session, 1, person, "Mira", START)
    teach(school, "Springs")
    assert teacher.says("absent Mira, Zoe").startswith("Nobody was noted. I do not know who is meant by Zoe")


def test_a_code_that_stops_the_ones_before_says_so(school: School, teacher: Talker):
    assert "are stopped" not in teacher.says("code")
    assert teacher.presses("New code").endswith("All earlier codes of this class are stopped.")


@pytest.mark.parametrize(
    ("typed", "understood"),
    [
        ("What is v? / v = s / t", "a formula: v = s / t"),
        ("What is v? / v = s/t", "a formula: v = s/t"),
        ("What is v? / v = s t / v = t s", "a choice; right: v = s t"),
        ("What moves? / matter / mass", "a choice; right: matter"),
    ],
)
def test_a_slash_within_a_formula_parts_no_options(
    school: School, teacher: Talker, typed: str, understood: str
):
    teach(school, "Speed")
    teacher.says("add Speed")
    assert understood in teacher.says(typed)


def test_a_teacher_is_told_in_their_own_language_what_their_post_in_the_class_led_to(
    school: School, teacher: Talker
):
    with school.db.begin() as session:
        channels.bind(session, 1, "terminal", "#class", START, title="10B")
    teacher.says("language de")
    ((where, text),) = teacher.posts("New topic: Pressure")
    assert (where, text.split(":")[0]) == ("@okafor", "Notiert für 10B Physics")
    assert teacher.last[0].language == "de"
    ((_, text),) = teacher.posts("new topic Hooke's law")
    assert text.startswith("In 10B Physics schrieben Sie über")
    teacher.says("share")
    assert (
        teacher.hears(school.work()).startswith("In dieser Klasse") or "unter 5" in teacher.last[0].text.plain
    )
