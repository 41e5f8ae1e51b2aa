"""Joining, as dialogues on the real service."""

from __future__ import annotations

from typing import Any

import pytest
from sqlmodel import select

from bot.chat.port import ButtonPressed, TextSaid
from bot.talk.joining import looks_like_code
from storage.queue import conversations
from storage.school import classes, codes, enrolments, people
from storage.tables import CodeKind, Contact, Dialogue, Enrolment, EnrolmentState
from storage.values import ConsentRule
from tests.dialogues import MONDAY, Stage, add_class, at, enrolment, join, stage, teach, verify_dialogue


@pytest.fixture
def school() -> Stage:
    return stage(at(MONDAY, 12))


def rows(school: Stage, table: Any) -> Any:
    return school.run(lambda session: list(session.exec(select(table))))


def test_a_student_joins_with_a_code_agrees_names_themself_and_picks_a_time(school):
    group = add_class(school)
    teach(school, group, "Density", at(MONDAY, 10))
    verify_dialogue(
        school,
        "mira",
        [
            ("hello", "type join and the code"),
            (f"join {group.code}", "review helper for 10B Physics, run by Ms Okafor"),
            ("[Tell me more]", "Not stored: your phone number"),
            ("[I agree]", "What should I call you?"),
            ("Mira", "Good to have you, Mira. When do you want your questions?"),
            ("[18:00]", "Next questions: today at 18:00"),
        ],
    )
    student = school.run(enrolments.get, enrolment(school, "mira", group))
    assert (student.name, student.nudge_minute, student.state) == ("Mira", 18 * 60, EnrolmentState.ACTIVE)
    assert student.consented_at == school.now


def test_the_invitation_says_in_few_words_what_is_stored_who_sees_it_and_how_to_leave(school):
    group = add_class(school)
    (said,) = school.say("mira", f"join {group.code}")
    for part in (
        "the name you choose, your answers and their times",
        "can see them",
        "leave",
        "erase",
        "permission",
    ):
        assert part in said.text
    assert said.labels == ["I agree", "Tell me more", "No thanks"]
    assert "!" not in said.text


@pytest.mark.parametrize(
    "shape", ["join {}", "JOIN {}", "/join {}", "/start {}", "start {}", "{}", "/start@our_bot {}"]
)
def test_a_code_is_taken_however_it_is_typed_or_linked(school, shape):
    group = add_class(school)
    (said,) = school.say("mira", shape.format(group.code))
    assert "10B Physics" in said.text


def test_a_code_may_be_typed_in_small_letters_with_blanks_and_hyphens(school):
    group = add_class(school)
    typed = f"{group.code[:4].lower()} {group.code[4:7].lower()}-{group.code[7:].lower()}"
    (said,) = school.say("mira", typed)
    assert "10B Physics" in said.text


def test_a_word_of_ten_letters_with_look_alikes_is_no_code():
    assert not looks_like_code("allotropic")
    assert looks_like_code("7K2M-PQRS-TU")


def test_nothing_about_a_person_is_stored_before_they_agree(school):
    group = add_class(school)
    before = len(rows(school, Contact))
    school.event("mira", TextSaid(f"join {group.code}"), name="Mira Novak")
    assert len(rows(school, Contact)) == before
    assert not rows(school, Enrolment)
    (row,) = [row for row in rows(school, Dialogue) if row.user == "mira"]
    assert "Mira" not in str(row.data)


def test_no_thanks_leaves_nothing_behind(school):
    group = add_class(school)
    verify_dialogue(
        school, "mira", [(f"join {group.code}", "10B"), ("[No thanks]", "Nothing about you is stored")]
    )
    assert not [row for row in rows(school, Dialogue) if row.user == "mira"]


def test_other_words_instead_of_agreeing_ask_again(school):
    group = add_class(school)
    school.say("mira", f"join {group.code}")
    (said,) = school.say("mira", "what is this")
    assert said.text == "Please choose one."
    assert said.labels == ["I agree", "Tell me more", "No thanks"]


def test_asking_for_help_before_agreeing_tells_more(school):
    group = add_class(school)
    school.say("mira", f"join {group.code}")
    (said,) = school.say("mira", "help")
    assert "Not stored: your phone number" in said.text
    assert said.labels == ["I agree", "No thanks"]


def test_agreeing_can_be_typed(school):
    group = add_class(school)
    verify_dialogue(school, "mira", [(f"join {group.code}", "10B"), ("yes", "What should I call you?")])


def test_the_platforms_name_is_offered_and_stored_only_when_taken(school):
    group = add_class(school)
    school.say("mira", f"join {group.code}")
    action = school.button("mira", "I agree").action
    (said,) = school.event("mira", ButtonPressed(action), name="Mira Novak")
    assert said.labels == ["Mira"]
    assert "Mira" not in said.message.all_buttons[0].action
    (said,) = school.event("mira", ButtonPressed(said.message.all_buttons[0].action), name="Mira Novak")
    assert "Good to have you, Mira." in said.text


@pytest.mark.parametrize("name", ["", "   ", "1234", "x" * 41, "😀"])
def test_a_name_that_is_none_is_asked_for_again(school, name):
    group = add_class(school)
    verify_dialogue(
        school,
        "mira",
        [(f"join {group.code}", "10B"), ("[I agree]", "call you"), (name or " ", "Please type a name")],
    )


def test_a_name_on_the_class_list_is_matched_after_asking(school):
    group = add_class(school)
    school.run(lambda s: enrolments.add_to_roster(s, group.id, ["Mira Novak", "Jonas Weber"], school.now))
    school.say("mira", f"join {group.code}")
    school.press("mira", "I agree")
    (said,) = school.say("mira", "mira")
    assert said.labels == ["Mira Novak", "None of these"]
    assert "Jonas" not in said.text + str(said.labels)
    school.press("mira", "Mira Novak")
    assert len(rows(school, Enrolment)) == 2


def test_a_whole_name_on_the_class_list_is_taken_at_once(school):
    group = add_class(school)
    school.run(lambda s: enrolments.add_to_roster(s, group.id, ["Mira Novak"], school.now))
    verify_dialogue(
        school,
        "mira",
        [(f"join {group.code}", "10B"), ("[I agree]", "call you"), ("mira  novak", "When do you want")],
    )
    assert len(rows(school, Enrolment)) == 1


def test_a_name_on_the_list_that_somebody_took_meanwhile_is_refused_kindly(school):
    group = add_class(school)
    school.run(lambda s: enrolments.add_to_roster(s, group.id, ["Mira Novak"], school.now))
    for user in ("mira", "other"):
        school.say(user, f"join {group.code}")
        school.press(user, "I agree")
        school.say(user, "mira")
    school.press("mira", "Mira Novak")
    (said,) = school.press("other", "Mira Novak")
    assert "taken already" in said.text
    assert "What should I call you?" in said.text


def test_where_the_school_has_to_permit_the_student_waits_and_is_told(school):
    group = add_class(school, consent=ConsentRule.SCHOOL)
    verify_dialogue(
        school,
        "mira",
        [
            (f"join {group.code}", "Your school asks for a parent’s permission"),
            ("[I agree]", "call you"),
            ("Mira", "Questions start once your teacher has noted the permission"),
            ("[18:00]", "once the permission is noted"),
            ("next", "permission is still missing"),
        ],
    )
    student = school.run(enrolments.get, enrolment(school, "mira", group))
    assert student.state is EnrolmentState.WAITING


def test_a_permission_code_starts_the_student_and_tells_them(school):
    group = add_class(school, consent=ConsentRule.SCHOOL)
    student_id = join(school, group, "mira")
    code = school.run(
        lambda s: codes.issue(s, CodeKind.PERMISSION, now=school.now, enrolment_id=student_id, uses=1).text
    )
    said = {one.address: one.text for one in school.say("parent", f"join {code}")}
    assert said["chat-parent"] == "Noted: Mira may take part in 10B Physics."
    assert "The permission for 10B Physics is there" in said["chat-mira"]
    assert school.run(enrolments.get, student_id).state is EnrolmentState.ACTIVE


@pytest.mark.parametrize("typed", ["7pm", "19:00", "19.00", "1900", "19"])
def test_a_time_can_be_typed_as_people_do(school, typed):
    group = add_class(school)
    student_id = join(school, group, "mira", typed)
    assert school.run(enrolments.get, student_id).nudge_minute == 19 * 60


def test_a_time_in_quiet_hours_is_refused_with_the_hours(school):
    group = add_class(school)
    school.say("mira", f"join {group.code}")
    school.press("mira", "I agree")
    school.say("mira", "Mira")
    (said,) = school.say("mira", "22:00")
    assert "quiet hours, 20:00 to 07:30" in said.text
    verify_dialogue(school, "mira", [("half past", "I could not read a time"), ("17:15", "Done.")])


def test_offered_times_are_never_in_the_quiet_hours_of_the_class(school):
    group = add_class(school, quiet_from=17 * 60, quiet_until=8 * 60, nudge_minute=16 * 60)
    school.say("mira", f"join {group.code}")
    school.press("mira", "I agree")
    (said,) = school.say("mira", "Mira")
    assert said.labels == ["16:00", "16:30", "Another time"]


def test_somebody_who_joins_after_their_time_starts_on_the_next_school_day(school):
    school.now = at(MONDAY, 18, 30)
    group = add_class(school)
    teach(school, group, "Density", at(MONDAY, 10))
    join(school, group, "mira", "18:00")
    assert "Next questions: tomorrow at 18:00" in school.of("mira")[-1].text


def test_the_done_message_brings_the_command_menu_of_a_student(school):
    group = add_class(school)
    join(school, group, "mira")
    menu = school.of("mira")[-1].message.menu
    assert menu is not None
    words = [entry.command for entry in menu]
    assert "next" in words
    assert "report" not in words


def test_a_wrong_code_says_what_to_do_and_five_of_them_have_to_wait(school):
    for _ in range(5):
        (said,) = school.say("mira", "join 2222222222")
        assert "opens nothing" in said.text
    (said,) = school.say("mira", "join 2222222222")
    assert "try again in an hour" in said.text


def test_joining_twice_changes_nothing(school):
    group = add_class(school)
    join(school, group, "mira")
    (said,) = school.say("mira", f"join {group.code}")
    assert "already" in said.text
    assert len(rows(school, Enrolment)) == 1


def test_a_class_that_has_ended_lets_nobody_in(school):
    group = add_class(school)
    school.run(lambda session: classes.close(session, group.id, school.now))
    (said,) = school.say("mira", f"join {group.code}")
    assert "opens nothing" in said.text


def test_a_student_moves_to_another_chat_with_a_code_and_keeps_their_history(school):
    group = add_class(school)
    student_id = join(school, group, "mira")
    (said,) = school.say("mira", "move")
    code = said.text.split("join ")[1].split()[0]
    (said,) = school.say("mira-elsewhere", f"join {code}")
    assert "Everything of yours came along" in said.text
    person = school.run(enrolments.get, student_id).person_id
    contact = school.run(lambda s: people.reachable(s, person))
    assert contact is not None
    assert contact.address == "chat-mira-elsewhere"
    (said,) = school.say("third", f"join {code}")
    assert "opens nothing" in said.text


def test_a_move_between_two_accounts_in_one_class_is_refused_and_nothing_is_mixed(school):
    group = add_class(school)
    join(school, group, "mira")
    join(school, group, "jonas")
    (said,) = school.say("mira", "move")
    code = said.text.split("join ")[1].split()[0]
    (said,) = school.say("jonas", f"join {code}")
    assert "same class on both" in said.text
    assert enrolment(school, "mira", group) != enrolment(school, "jonas", group)


def test_an_old_button_of_joining_does_nothing(school):
    group = add_class(school)
    join(school, group, "mira")
    (said,) = school.press_action("mira", "joining:agree")
    assert "does nothing now" in said.text
    assert school.run(lambda s: conversations.load(s, "terminal", "mira"))[0] == "idle"


def test_a_forged_roster_id_of_another_class_lets_nobody_in(school):
    ours, theirs = add_class(school), add_class(school, "9A Biology")
    other = school.run(lambda s: enrolments.add_to_roster(s, theirs.id, ["Elif"], school.now))[0].id
    school.run(lambda s: enrolments.add_to_roster(s, ours.id, ["Mira Novak"], school.now))
    school.say("mira", f"join {ours.code}")
    school.press("mira", "I agree")
    school.say("mira", "mira")
    (said,) = school.press_action("mira", f"joining:roster:{other}")
    assert "taken already" in said.text


# ---------------------------------------------------------------- menus that were answered


def shown(school: Stage, user: str) -> list[tuple[str, list[str]]]:
    """Return the last line of everything on somebody's screen, with what can be pressed there."""
    return [(said.text.rsplit("\n", 1)[-1], said.labels) for said in school.screen(user)]


def test_what_was_answered_shows_the_choice_and_can_be_pressed_no_more(school):
    group = add_class(school)
    school.run(lambda s: enrolments.add_to_roster(s, group.id, ["Mira Novak"], school.now))
    school.say("mira", f"join {group.code}")
    for label in ("Tell me more", "I agree"):
        school.press("mira", label)
    school.say("mira", "mira")
    for label in ("Mira Novak", "19:30"):
        school.press("mira", label)
    assert shown(school, "mira")[:5] == [
        ("→ Tell me more", []),
        ("→ I agree", []),
        ("What should I call you? A first name is enough.", []),
        ("→ Mira Novak", []),
        ("→ 19:30", []),
    ]
    first = school.screen("mira")[0].text
    assert first.startswith("Hello. This is the review helper for 10B Physics")  # what was agreed to stays


@pytest.mark.parametrize(
    ("typed", "kept"), [("yes", "→ I agree"), ("agree", "→ I agree"), ("no", "→ No thanks")]
)
def test_a_typed_choice_takes_the_buttons_away_too(school, typed, kept):
    group = add_class(school)
    school.say("mira", f"join {group.code}")
    school.say("mira", typed)
    assert shown(school, "mira")[0] == (kept, [])


def test_another_name_and_another_time_than_offered_take_the_buttons_away(school):
    group = add_class(school)
    school.say("mira", f"join {group.code}")
    school.event("mira", ButtonPressed("joining:agree"), name="Mira Novak")
    school.event("mira", TextSaid("Mimi"), name="Mira Novak")
    school.say("mira", "17:15")
    assert shown(school, "mira")[1:3] == [("→ Mimi", []), ("→ 17:15", [])]


def test_what_is_asked_again_is_answered_below_and_nowhere_else(school):
    group = add_class(school)
    school.say("mira", f"join {group.code}")
    school.say("mira", "what is this")
    assert [labels for _, labels in shown(school, "mira")] == [[], ["I agree", "Tell me more", "No thanks"]]


def test_a_time_that_is_refused_keeps_the_menu_until_there_is_one(school):
    group = add_class(school)
    school.say("mira", f"join {group.code}")
    school.say("mira", "yes")
    school.say("mira", "Mira")
    school.say("mira", "22:00")
    assert "18:00" in school.screen("mira")[2].labels
    school.press("mira", "18:00")
    assert shown(school, "mira")[2] == ("→ 18:00", [])


def test_a_time_can_be_chosen_after_asking_for_help(school):
    group = add_class(school)
    school.say("mira", f"join {group.code}")
    school.say("mira", "yes")
    school.say("mira", "Mira")
    school.say("mira", "help")
    (said,) = school.press("mira", "19:30")
    assert said.text.startswith("Done. Next questions: at 19:30, as soon as there are some.")
    (said,) = school.press_action("mira", "joining:time:999:1080")
    assert "does nothing now" in said.text


def test_an_old_button_of_joining_goes_away_without_a_choice(school):
    group = add_class(school)
    school.say("mira", f"join {group.code}")
    school.say("mira", "join 2222222222")  # and with it the invitation is over
    assert shown(school, "mira")[0][1] != []
    (said,) = school.press("mira", "I agree")
    assert "does nothing now" in said.text
    assert shown(school, "mira")[0][1] == []
    assert "→" not in school.screen("mira")[0].text


def test_nothing_of_an_answered_menu_is_remembered(school):
    group = add_class(school)
    join(school, group, "mira")
    assert not [row for row in rows(school, Dialogue) if row.user == "mira"]


@pytest.mark.parametrize("typed", ["Ada", "ADA", " ada "])
def test_a_name_typed_like_the_suggestion_is_kept_as_it_was_typed(school, typed):
    group = add_class(school)
    school.say("ada", f"join {group.code}")
    (said,) = school.event("ada", ButtonPressed("joining:agree"), name="ada")
    assert said.labels == ["ada"]
    school.event("ada", TextSaid(typed), name="ada")
    assert school.run(enrolments.get, enrolment(school, "ada", group)).name == typed.strip()
