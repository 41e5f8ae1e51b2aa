"""What everybody has who is stored here, in whatever role: language, data, moving, erasing."""

from __future__ import annotations

import json
from typing import Any

import pytest
from sqlmodel import select

from bot.talk.account import ERASING
from storage.school import classes, codes, people
from storage.tables import Blob, CodeKind, Enrolment, OutboxItem, Person, SchoolClass, Staff, Teaching
from tests.dialogues import MONDAY, add_class, at, join, stage, verify_dialogue
from tests.teaching import School, Talker


def stored(school: School, table: type[Any]) -> list[Any]:
    with school.db.begin() as session:
        return list(session.exec(select(table)).all())


def add_colleague(school: School, user: str = "brown") -> Talker:
    """Let a colleague teach the first class too."""
    with school.db.begin() as session:
        person = people.meet(session, "terminal", user, f"@{user}", school.clock.now()).person_id
        classes.add_teacher(session, 1, person, "Mr Brown", school.clock.now())
    return Talker(school, user, person)


# ---------------------------------------------------------------- a teacher


def test_a_teacher_gets_everything_stored_about_them_as_files(school: School, teacher: Talker):
    assert teacher.says("data") == ""
    assert "Everything stored about you" in teacher.hears(school.work())
    readable, whole = (blob.data.decode() for blob in stored(school, Blob))
    data = json.loads(whole if whole.startswith("{") else readable)
    assert data["teaching"][0]["class"] == "10B Physics"
    assert data["staff"]
    assert "Classes that you teach" in (readable if whole.startswith("{") else whole)


def test_a_teacher_goes_on_in_another_chat_with_their_classes(school: School, teacher: Talker):
    code = teacher.says("move").split("join ")[1].split()[0]
    elsewhere = Talker(school, "okafor-elsewhere", 0)
    assert "Everything of yours came along" in elsewhere.says(f"join {code}")
    assert "10B Physics" in elsewhere.says("class")
    assert elsewhere.last[0].menu is None or elsewhere.last[0].menu
    assert "opens nothing" in Talker(school, "third", 0).says(f"join {code}")


def test_two_teachers_of_one_class_are_not_made_one(school: School, teacher: Talker):
    colleague = add_colleague(school)
    code = teacher.says("move").split("join ")[1].split()[0]
    assert "same class on both" in colleague.says(f"join {code}")
    assert len(stored(school, Teaching)) == 2


def test_the_only_teacher_of_a_class_is_told_what_comes_first_and_nothing_is_erased(
    school: School, teacher: Talker
):
    said = teacher.says("erase")
    for part in ("only teacher of 10B Physics", "nothing was erased", "invite", "close"):
        assert part in said
    assert teacher.buttons() == []
    assert len(stored(school, Teaching)) == 1


def test_a_teacher_with_a_colleague_is_erased_and_the_class_goes_on(school: School, teacher: Talker):
    add_colleague(school)
    said = teacher.says("erase")
    for part in ("your place as a teacher", "10B Physics goes on", "no new classes", "cannot be undone"):
        assert part in said
    assert teacher.presses("Keep it") == "All right, nothing changes."
    teacher.says("erase")
    assert teacher.presses("Erase everything") == "Erased. Nothing about you is stored any more."
    assert teacher.last[0].menu == ()
    assert [row.name for row in stored(school, Teaching)] == ["Mr Brown"]
    assert stored(school, Staff) == []
    assert teacher.says("data") == "Nothing is stored about you here."
    assert teacher.says("erase") == "Nothing is stored about you here."


def test_a_class_that_lost_its_other_teacher_meanwhile_keeps_the_last_one(school: School, teacher: Talker):
    colleague = add_colleague(school)
    teacher.says("erase")
    with school.db.begin() as session:
        classes.remove_teacher(session, 1, colleague.person_id)
    assert "only teacher of 10B Physics" in teacher.presses("Erase everything")
    assert len(stored(school, Teaching)) == 1


def test_a_teacher_ends_the_class_and_can_be_erased_then(school: School, teacher: Talker):
    code = teacher.says("code").split("code ")[1][:10]
    assert "End 10B Physics?" in teacher.says("close")
    assert teacher.presses("Keep") == "All right, nothing changes."
    assert stored(school, SchoolClass)[0].closed_at is None
    teacher.says("close")
    assert teacher.presses("End the class") == "10B Physics has ended."
    assert stored(school, SchoolClass)[0].closed_at is not None
    assert "opens nothing" in Talker(school, "mira", 0).says(f"join {code}")
    assert "You have no class yet" in teacher.says("report")
    teacher.says("erase")
    assert teacher.presses("Erase everything").startswith("Erased.")
    assert stored(school, Teaching) == []


def test_only_a_teacher_of_the_class_ends_it(school: School, teacher: Talker):
    stranger = school.teacher("brown", with_class="9A Biology")
    stranger.acts("teacher:close:1")
    assert [row.closed_at for row in stored(school, SchoolClass)] == [None, None]


def test_a_sentence_that_a_teacher_was_asked_for_may_begin_with_one_of_these_words(
    school: School, teacher: Talker
):
    teacher.says("create 9A")
    assert "What do your students call you?" in teacher.says("Language and literature")
    teacher.says("cancel")
    teacher.says("topic")
    assert "Noted for 10B Physics: Language of maps" in teacher.says("Language of maps")


def test_what_was_asked_of_a_teacher_stays_asked(school: School, teacher: Talker):
    teacher.says("create 9A")
    teacher.says("data")
    teacher.hears(school.work())
    assert "What do your students call you?" in teacher.says("Chemistry")


def test_a_file_is_a_file_also_while_a_language_is_asked_for(school: School, teacher: Talker):
    assert teacher.says("language") == "Which language?"
    said = teacher.sends("timetable.csv", b"date,topic\n2026-12-01,Springs\n")
    assert "I read 1 row" in said


def test_a_teacher_chooses_the_language_and_it_is_kept(school: School, teacher: Talker):
    teacher.says("language")
    teacher.presses("English")
    assert stored(school, Person)[0].language == "en"
    assert teacher.last[0].menu
    assert "I speak" in teacher.says("language Klingon")
    assert "did not understand" in teacher.says("Klingon")


# ---------------------------------------------------------------- somebody without a class


def test_who_has_left_every_class_can_still_take_and_erase_what_is_stored():
    here = stage(at(MONDAY, 8))
    group = add_class(here)
    join(here, group, "mira")
    verify_dialogue(
        here,
        "mira",
        [
            ("leave", "Your answers stay until you type erase."),
            ("[Leave 10B Physics]", "You have left 10B Physics."),
            ("help", "erase removes it"),
            ("data", ""),
        ],
    )
    assert "Everything stored about you" in here.work()[0].text
    verify_dialogue(here, "mira", [("erase", "cannot be undone"), ("[Erase everything]", "Erased.")])
    assert here.run(lambda session: session.exec(select(Enrolment)).all()) == []


def test_a_stranger_is_told_that_nothing_is_stored_and_nothing_becomes_stored():
    here = stage(at(MONDAY, 8))
    verify_dialogue(
        here,
        "mira",
        [
            ("data", "Nothing is stored about you here."),
            ("erase", "Nothing is stored about you here."),
            ("move", "Nothing is stored about you here."),
            ("language", "I follow the language of your chat application."),
            ("help", "To join your class"),
        ],
    )
    assert "erase" not in here.of("mira")[-1].text
    (said,) = here.press_action("mira", "account:language:en")
    assert "I follow the language" in said.text
    assert here.run(lambda session: session.exec(select(Person)).all()) == []


@pytest.mark.parametrize("action", ["account:", "account:erase:yes", "account:language:xx", "account:x:1"])
def test_a_forged_button_changes_nothing(action: str):
    here = stage(at(MONDAY, 8))
    join(here, add_class(here), "mira")
    here.press_action("mira", action)
    kept = here.run(lambda session: [row.language for row in session.exec(select(Person))])
    assert set(kept) == {""}


def test_words_typed_while_erasing_is_asked_erase_nothing():
    here = stage(at(MONDAY, 8))
    join(here, add_class(here), "mira")
    verify_dialogue(here, "mira", [("erase", "cannot be undone"), ("well then", "I did not understand that")])
    assert here.run(lambda session: session.exec(select(Enrolment)).all())
    assert ERASING == "account.erasing"


def test_asking_for_the_data_twice_brings_them_once(school: School, teacher: Talker):
    teacher.says("data")
    teacher.says("data")
    school.work()
    assert len([row for row in stored(school, OutboxItem) if row.blob]) == 2


def test_a_wrong_move_code_is_no_way_in():
    here = stage(at(MONDAY, 8))
    join(here, add_class(here), "mira")
    issued = here.run(lambda s: codes.issue(s, CodeKind.MOVE, now=here.now, person_id=1, uses=1).text)
    wrong = issued[:-1] + ("2" if issued[-1] != "2" else "3")
    (said,) = here.say("jonas", f"join {wrong}")
    assert "opens nothing" in said.text
