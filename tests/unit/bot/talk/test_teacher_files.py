"""A teacher sends files: previews, doubts, differences, undo; through the real loop and readers."""

from __future__ import annotations

from typing import Any

from sqlmodel import select

from storage.school import enrolments, timetable
from storage.tables import Blob, Score, Upload, UploadState
from tests.teaching import START, School, Talker

TIMETABLE = b"""date,topic,kind,homework
2026-11-16,Springs,lesson,
2026-11-18,Density,lesson,p. 12
2026-12-02,Moments,lesson,
2026-12-11,Quiz 1,quiz,
2026-12-21,Winter break,holiday,
"""


def stored(school: School) -> tuple[Any, ...]:
    """Everything of the timetable as a teacher would see it."""
    with school.db.begin() as session:
        return (
            [(one.topic, one.day, one.homework) for one in timetable.lessons(session, 1)],
            [(one.name, one.day, one.topics) for one in timetable.quizzes(session, 1)],
            [(one.name, one.first_day) for one in timetable.holidays(session, 1)],
            [(one.name, one.questions) for one in timetable.topics(session, 1, START)],
        )


def test_a_timetable_is_previewed_and_stored_only_on_the_teachers_word(school: School, teacher: Talker):
    said = teacher.sends("physics_timetable.csv", TIMETABLE)
    assert said == (
        "I read 5 rows of physics_timetable.csv: 3 lessons, 1 quiz, 1 holiday.\nNothing is stored yet."
    )
    assert stored(school)[0] == []
    assert teacher.presses("Use it").startswith(
        "Done: 3 lessons, 1 quiz, 1 holiday. Type undo to take it back."
    )
    lessons, quizzes, holidays, topics = stored(school)
    assert [topic for topic, _, _ in lessons] == ["Springs", "Density", "Moments"]
    assert [(name, len(covered)) for name, _, covered in quizzes] == [("Quiz 1", 3)]
    assert len(holidays) == 1
    assert len(topics) == 3


def test_every_problem_is_named_by_row_and_column_and_the_rest_can_be_used(school: School, teacher: Talker):
    bad = TIMETABLE + b"31/11/2026,Levers,lesson,\n2026-12-03,,lesson,\n"
    said = teacher.sends("t.csv", bad, caption="timetable")
    assert 'Row 7, column "date" (A): "31/11/2026" is not a day that exists.' in said
    assert "Row 8" in said
    assert "2 rows need you" in said
    assert teacher.presses("Use the other 5 rows").startswith("Done: 3 lessons")


def test_problems_beyond_twenty_are_counted(teacher: Talker):
    bad = b"date,topic\n" + b"31/11/2026,Levers\n" * 30 + b"2026-12-03,Moments\n"
    said = teacher.sends("t.csv", bad, caption="timetable")
    assert said.count("• Row") == 20
    assert "… and 10 more." in said


def test_a_date_that_can_be_two_days_is_asked_by_buttons_and_read_again(school: School, teacher: Talker):
    teacher.sends("t.csv", b"date,topic\n03/04/2027,Levers\n", caption="timetable")
    assert [one.label for one in teacher.buttons()][:2] == ["3 April", "4 March"]
    teacher.presses("4 March")
    said = teacher.hears(school.work())
    assert "1 lesson" in said
    teacher.presses("Use it")
    assert str(stored(school)[0][0][1]) == "2027-03-04"


def test_cancelling_stores_nothing_and_keeps_no_bytes(school: School, teacher: Talker):
    teacher.sends("timetable.csv", TIMETABLE)
    assert teacher.presses("Cancel") == "Forgotten. Nothing was stored."
    with school.db.begin() as session:
        assert session.exec(select(Blob)).all() == []
        assert [one.state for one in session.exec(select(Upload))] == [UploadState.CANCELLED]
    assert stored(school)[0] == []


def test_a_second_file_is_a_difference_and_undo_takes_it_back_exactly(school: School, teacher: Talker):
    teacher.sends("timetable.csv", TIMETABLE)
    teacher.presses("Use it")
    before = stored(school)
    second = (
        TIMETABLE.replace(b"Springs", b"Springs and forces").replace(
            b"2026-12-02,Moments", b"2026-12-03,Moments"
        )
        + b"2026-12-07,Levers,lesson,\n"
    )
    said = teacher.sends("timetable.csv", second)
    assert "Compared with what I have: 1 moved, 1 renamed, 1 new, nothing dropped." in said
    shown = teacher.presses("Show me")
    assert "Moments: Wed 2 Dec → Thu 3 Dec" in shown
    assert "Springs → Springs and forces" in shown
    teacher.presses("Apply")
    assert [topic for topic, _, _ in stored(school)[0]] == [
        "Springs and forces",
        "Density",
        "Moments",
        "Levers",
    ]
    assert teacher.says("undo") == "Taken back: timetable.csv. Everything is as it was before."
    assert stored(school) == before
    teacher.says("undo")
    assert stored(school) == ([], [], [], [])
    assert teacher.says("undo") == "There is nothing to take back."


def test_the_same_file_twice_changes_nothing(school: School, teacher: Talker):
    teacher.sends("timetable.csv", TIMETABLE)
    teacher.presses("Use it")
    said = teacher.sends("timetable.csv", TIMETABLE)
    assert "That is just what I have. Nothing to change." in said
    assert [one.label for one in teacher.buttons()] == ["Cancel"]
    said = teacher.sends("timetable.csv", TIMETABLE + b"31/11/2026,Levers,lesson,\n")
    assert "1 row needs you" in said
    assert said.endswith("The other rows are just what I have. Send the corrected file.")


def test_a_guessed_rename_can_be_refused(school: School, teacher: Talker):
    teacher.sends("timetable.csv", TIMETABLE)
    teacher.presses("Use it")
    teacher.sends("timetable.csv", TIMETABLE.replace(b"Springs", b"Optics"))
    assert "because of its day" in teacher.presses("Show me")
    said = teacher.presses("They are two topics")
    assert "1 new, 1 dropped" in said
    teacher.presses("Apply")
    assert {name for name, _ in stored(school)[3]} == {"Optics", "Density", "Moments"}


def test_an_upload_can_be_applied_once_only(teacher: Talker):
    teacher.sends("timetable.csv", TIMETABLE)
    use = next(one.action for one in teacher.buttons() if one.label == "Use it")
    teacher.presses("Use it")
    assert teacher.acts(use) == "This file was dealt with already. Send it again to use it once more."


def test_another_teachers_upload_is_out_of_reach(school: School, teacher: Talker):
    teacher.sends("timetable.csv", TIMETABLE)
    use = next(one.action for one in teacher.buttons() if one.label == "Use it")
    stranger = school.teacher("brown", with_class="9A Chemistry")
    assert stranger.acts(use) == "This button belongs to somebody else, so nothing happened."
    forged = use.replace("use:1:", "use:2:")
    assert stranger.acts(forged) == "Only teachers of a class can see or change it."
    assert stored(school)[0] == []


def test_a_question_sheet_shows_kinds_and_refuses_keys_that_cannot_be_graded(school: School, teacher: Talker):
    teacher.sends("timetable.csv", TIMETABLE)
    teacher.presses("Use it")
    sheet = (
        "topic,question,answer,wrong options,unit\n"
        "Density,270 g in 100 cm³?,2.7 g/cm³,,\n"
        "Springs,Unit of force?,newton,joule|watt,\n"
        "Springs,Two options the same?,newton,Newton,\n"
        "Nowhere,What?,this,,\n"
        "Moments,Moment of a force?,$F*d$,,\n"
    )
    said = teacher.sends("questions.csv", sheet.encode())
    assert "1 choice, 1 number, 1 formula, for 3 topics" in said
    assert "2 rows need you" in said
    assert "Row 4" in said
    assert '"Nowhere" is not a topic of this class' in said
    shown = teacher.presses("Show me")
    assert "• Density: 270 g in 100 cm³? → 2.7 g/cm³ (number)" in shown
    assert "• Springs: Unit of force? → newton (choice)" in shown
    assert "3 questions added" in teacher.presses("Apply")
    assert dict(stored(school)[3]) == {"Springs": 1, "Density": 1, "Moments": 1}
    again = sheet.replace("2.7 g/cm³", "2.70 g/cm³").encode()
    assert "1 changed" in teacher.sends("questions.csv", again)
    teacher.presses("Use the other")
    teacher.says("undo")
    teacher.says("undo")
    assert dict(stored(school)[3]) == {"Springs": 0, "Density": 0, "Moments": 0}


def test_a_class_list_adds_names_once(school: School, teacher: Talker):
    said = teacher.sends("class list.csv", b"name\nMira\nTom\nElif\n")
    assert "3 students" in said
    teacher.presses("Use it")
    said = teacher.sends("class list.csv", b"name\nMIRA\nJonas\n")
    assert "1 new" in said
    teacher.presses("Apply")
    with school.db.begin() as session:
        assert [one.name for one in enrolments.roster(session, 1)] == ["Elif", "Jonas", "Mira", "Tom"]
    assert "4 have not joined: Elif, Jonas, Mira, Tom" in teacher.says("students")


def test_scores_find_their_students_and_ask_for_the_quiz(school: School, teacher: Talker):
    teacher.sends("timetable.csv", TIMETABLE)
    teacher.presses("Use it")
    teacher.sends("class list.csv", b"name\nMira\nTom\n")
    teacher.presses("Use it")
    said = teacher.sends("scores.csv", b"student,score,out of\nMira,17,20\nTom,11,20\nNobody,9,20\n")
    assert "Which quiz are these scores of?" in said
    said = teacher.presses("Quiz 1")
    assert "Row 4: no student “Nobody” in this class, or two of that name" in said
    assert "2 scores added" in teacher.presses("Use it")
    with school.db.begin() as session:
        assert sorted(one.reached for one in session.exec(select(Score))) == [11, 17]
    teacher.sends("scores.csv", b"student,quiz,score,out of\nMira,Quiz 1,18,20\n")
    assert "1 score corrected" in teacher.presses("Apply")
    teacher.says("undo")
    teacher.says("undo")
    with school.db.begin() as session:
        assert session.exec(select(Score)).all() == []


def test_the_kind_is_recognised_by_content_and_asked_when_it_cannot_be(school: School, teacher: Talker):
    assert "3 lessons" in teacher.sends("export.csv", TIMETABLE)
    teacher.presses("Use it")
    said = teacher.sends("export.csv", b"a,b\n1,2\n")
    if "What is export.csv?" in said:
        teacher.presses("Timetable")
        said = teacher.hears(school.work())
    assert "I can use" in said


def test_a_file_that_the_chat_no_longer_has_is_said(school: School, teacher: Talker):
    from bot.chat.port import FileSent

    teacher.hears(school.happen("okafor", FileSent("gone", "timetable.csv", "text/csv", 10)))
    said = teacher.hears(school.work())
    assert (
        said
        == "I could not use timetable.csv. Nothing is stored.\n• The file can no longer be fetched. Send it again."
    )


def test_a_file_that_is_too_large_is_refused_before_it_is_fetched(school: School, teacher: Talker):
    from bot.chat.port import FileSent

    said = teacher.hears(school.happen("okafor", FileSent("big", "t.csv", "text/csv", 30 * 1024 * 1024)))
    assert "larger than 20 MB" in said
    assert school.work() == []


def test_what_was_added_by_hand_survives_a_new_timetable(school: School, teacher: Talker):
    teacher.sends("timetable.csv", TIMETABLE)
    teacher.presses("Use it")
    teacher.says("New topic: Optics")
    teacher.says("holiday 8 Dec training day")
    said = teacher.sends("timetable.csv", TIMETABLE + b"2026-12-07,Levers,lesson,\n")
    assert "1 new, nothing dropped" in said
    teacher.presses("Apply")
    lessons, quizzes, holidays, _ = stored(school)
    assert {topic for topic, _, _ in lessons} == {"Springs", "Density", "Moments", "Levers", "Optics"}
    assert [len(covered) for _, _, covered in quizzes] == [5]
    assert len(holidays) == 2


def test_f21_letters_that_can_be_read_in_two_ways_are_asked_about(school: School, teacher: Talker):
    said = teacher.sends("timetable.csv", "topic,date\nKräfte,2026-12-01\n".encode("mac_roman"))
    assert '"Kräfte" / "Krèfte" / "KrŠfte"' in said
    assert "I need to know this first" in said
    teacher.presses("Kräfte")
    assert "1 lesson" in teacher.hears(school.work())
    teacher.presses("Use it")
    assert [name for name, _ in stored(school)[3]] == ["Kräfte"]
